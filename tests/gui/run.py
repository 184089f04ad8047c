"""Build the extension for the window's Blender, install it there and drive it by mouse and keys.

    BUCKWRIGHT_GUI=launcher python tests/gui/run.py [scenario ...]

README.md beside this file says what the launcher must do.
"""

import importlib.util
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import first_sculpts

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
OUT = ROOT / "out" / "gui"


def launcher() -> list[str]:
    """The command that stands in BUCKWRIGHT_GUI."""
    command = shlex.split(os.environ.get("BUCKWRIGHT_GUI", ""))
    if not command:
        raise SystemExit("set BUCKWRIGHT_GUI to a launcher, see tests/gui/README.md")
    return command


def python_of_window() -> str:
    """Version of Python in the window's Blender, such as 3.13."""
    show = "import sys; print('PYTHON', '%d.%d' % sys.version_info[:2])"
    command = [*launcher(), "blender", "-b", "--factory-startup", "--python-expr", show]
    text = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    found = re.search(r"PYTHON (\d+\.\d+)", text)
    if found is None:
        raise SystemExit(f"the launcher started no Blender:\n{text}")
    return found[1]


def build() -> Path:
    """The zip for this window."""
    spec = importlib.util.spec_from_file_location("package", ROOT / "blender_addon" / "package.py")
    assert spec is not None and spec.loader is not None
    package = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(package)
    return Path(package.build("linux-x64", [python_of_window()], OUT / "dist"))


def install(zip_file: Path) -> None:
    """Install as a user does, from disk, and enable."""
    command = [*launcher(), "blender", "--command", "extension", "install-file", "-r", "user_default", "-e"]
    subprocess.run([*command, str(zip_file)], cwd=ROOT, check=True)


def drive(scenario: str, zip_file: Path) -> int:
    """Run one scenario; one of the first minutes in a clean profile, into which it installs the zip."""
    words = {"BUCKWRIGHT_GUI_OUT": OUT, "BUCKWRIGHT_ZIP": zip_file}
    if scenario.startswith("scenario_first_"):
        profile = OUT / "profile"
        shutil.rmtree(profile, ignore_errors=True)
        profile.mkdir()
        words["BLENDER_USER_RESOURCES"] = profile
    listed = " ".join(f"{name}={value}" for name, value in words.items())
    environment = os.environ | {"GUI_ENV": f"{listed} {os.environ.get('GUI_ENV', '')}"}
    command = [*launcher(), "shot", str(HERE / f"{scenario}.py"), str(OUT / f"{scenario}_end.png"), "1"]
    return subprocess.run(command, cwd=ROOT, check=False, env=environment).returncode


def main() -> None:
    """Run what the command line names, or all scenarios."""
    OUT.mkdir(parents=True, exist_ok=True)
    names = sys.argv[1:] or sorted(path.stem for path in HERE.glob("scenario_*.py"))
    first_sculpts.make(OUT / "sculpts")
    zip_file = build()
    install(zip_file)
    failed = [name for name in names if drive(name, zip_file)]
    sys.stdout.write(f"failed: {', '.join(failed)}\n" if failed else "all scenarios passed\n")
    raise SystemExit(bool(failed))


if __name__ == "__main__":
    main()
