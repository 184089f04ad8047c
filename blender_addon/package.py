"""Build the extension's zips: one for each platform, with wheels of exactly the locked versions.

    python blender_addon/package.py                      # every platform, for Blender's own Python
    python blender_addon/package.py --platform linux-x64 --python 3.13 --python 3.14

Wheels are fetched by pip, hashes checked against uv.lock, and kept in dist/wheels; large ones go in as their
lighter twins (lighter_wheels.py). The library goes in as a sub-package whose imports are made relative, so
that nothing of it becomes a top-level module of Blender.
This file is a tool of the repository; it is not part of the zip.
"""

import argparse
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path

from markdown_it import MarkdownIt

ADDON = Path(__file__).resolve().parent
ROOT = ADDON.parent
LIBRARY = ROOT / "analysis" / "buckwright"
NAME = "buckwright"

PLATFORMS: dict[str, tuple[str, ...]] = {
    "linux-x64": (*(f"manylinux_2_{n}_x86_64" for n in (28, 27, 26, 24, 17)), "manylinux2014_x86_64"),
    "windows-x64": ("win_amd64",),
    "macos-arm64": ("macosx_12_0_arm64", "macosx_12_0_universal2"),
}
"""Blender's platforms that every binary dependency has a wheel for, and pip's tags of them. Missing as of
2026-11: macos-x64 (no llvmlite), windows-arm64 (no libigl, lib3mf), linux-arm64 (no lib3mf)."""

MARKERS = {
    "linux-x64": {"sys_platform": "linux", "platform_machine": "x86_64"},
    "windows-x64": {"sys_platform": "win32", "platform_machine": "AMD64"},
    "macos-arm64": {"sys_platform": "darwin", "platform_machine": "arm64"},
}

LEFT_OUT = frozenset(
    {
        "numpy", "attrs", "typing-extensions", "charset-normalizer",          # Blender brings them
        "click", "rich", "markdown-it-py", "mdurl", "pygments", "tzdata",     # the command line only
        "psutil", "tomlkit",                                                  # many jobs at once only
    }
)  # fmt: skip
"""Dependencies of the library that the child process does without."""

PURE = frozenset({"ezdxf", "fonttools"})
"""Packages of which the wheel in Python alone is taken: what their compiled parts make faster is not used."""

_TOOLS = ("package.py", "lighter_wheels.py")
"""Files beside the extension that are not part of it."""
_COMMAND_LINE = (
    "cli", "entry.py", "__main__.py",
    "many/cluster.py", "many/processes.py", "many/project", "many/room.py", "many/taking.py",
)  # fmt: skip
"""Files and folders of the library that only a terminal needs."""

_PIP = ("run", "--no-project", "--python", sys.executable, "--with", "pip", "python", "-m", "pip")
_FROM = re.compile(r"^(\s*)from buckwright(\.[\w.]+)? import ", re.MULTILINE)
_PLAIN = re.compile(r"^\s*import buckwright\b", re.MULTILINE)


_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>Buckwright</title>
<style>
body { max-width: 50em; margin: 2em auto; padding: 0 1em; font: 1em/1.5 sans-serif; }
td, th { padding: 0.3em 0.6em; text-align: left; vertical-align: top; border-bottom: 1px solid #bbb; }
pre { padding: 0.6em; background: #eee; color: #222; overflow: auto; }
</style>
</head>
"""


def uv() -> str:
    """The uv of the machine, or the one that `make` has fetched."""
    return os.environ.get("UV") or shutil.which("uv") or str(ROOT / ".tools" / "bin" / "uv")


def requirements(platform: str) -> list[str]:
    """Locked requirements of the child on a platform: `name==version --hash=...`, one a package."""
    from packaging.requirements import Requirement

    command = [
        uv(),
        "export",
        "--python",  # else uv may fetch one only to resolve with it
        sys.executable,
        "--locked",
        "--no-default-groups",
        "--no-emit-project",
        "--format",
        "requirements.txt",
        "-q",
    ]
    text = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    lines = re.sub(r"\\\n\s*", " ", text).splitlines()
    kept = []
    for line in lines:
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        spec, _, hashes = line.partition(" --hash")
        wanted = Requirement(spec)
        if wanted.marker is not None and not wanted.marker.evaluate(MARKERS[platform]):
            continue
        if wanted.name not in LEFT_OUT:
            kept.append(f"{wanted.name}{wanted.specifier} --hash{hashes}")
    return kept


def fetch_wheels(platform: str, pythons: Sequence[str], folder: Path) -> list[Path]:
    """Wheels for a platform, fetched into a folder unless they are there; those of other versions go.

    Returns
    -------
    Those that go into the zip: where there is a lighter twin, that one, from the sub-folder `lighter`.
    """
    wanted = requirements(platform)
    stamp = folder / "complete.txt"
    marked = "\n".join([*pythons, *wanted])
    if not stamp.is_file() or stamp.read_text(encoding="utf-8") != marked:
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        pure = [line for line in wanted if line.split("==")[0] in PURE]
        _download(["--platform", "any", "--implementation", "py"], pure, folder)
        others = [line for line in wanted if line not in pure]
        for python in pythons:
            tags = [part for tag in PLATFORMS[platform] for part in ("--platform", tag)]
            _download([*tags, "--implementation", "cp", "--python-version", python], others, folder)
        stamp.write_text(marked, encoding="utf-8")
    return [_lighter(wheel) for wheel in sorted(folder.glob("*.whl"))]


def _lighter(wheel: Path) -> Path:
    """The twin of a wheel that goes into the zip, made where it is not there; the wheel itself has none."""
    if str(ROOT) not in sys.path:
        sys.path.insert(0, str(ROOT))
    from blender_addon.lighter_wheels import LIGHTER, lighten

    if wheel.name.split("-")[0] not in LIGHTER:
        return wheel
    folder = wheel.parent / "lighter"
    folder.mkdir(exist_ok=True)
    return lighten(wheel, folder)


def _download(tags: Sequence[str], wanted: Sequence[str], folder: Path) -> None:
    options = [
        "--only-binary=:all:",
        "--no-deps",
        "--require-hashes",
        "--quiet",
        "--disable-pip-version-check",
    ]
    listed = folder / "requirements.txt"
    listed.write_text("\n".join(wanted) + "\n", encoding="utf-8")
    command = [uv(), *_PIP, "download", *options, *tags, "-d", str(folder), "-r", str(listed)]
    subprocess.run(command, cwd=ROOT, check=True)
    listed.unlink()


def relative(source: str, module: Sequence[str]) -> str:
    """Turn `from buckwright.x import y` into the relative import that means the same.

    Parameters
    ----------
    source : text of a module
    module : its place in the package, ("mesh", "door") for buckwright/mesh/door.py; the package itself
        (`__init__`) counts as its last part

    Raises
    ------
    ValueError
        The source has an absolute import of another form, which has no relative twin.
    """
    if _PLAIN.search(source):
        raise ValueError(f"{'.'.join(module)}: write 'from buckwright... import ...'")
    dots = "." * len(module)
    return _FROM.sub(lambda found: f"{found[1]}from {dots}{(found[2] or '')[1:]} import ", source)


def _is_of_the_command_line(inside: Path) -> bool:
    """Whether a path within the library is needed by a terminal only."""
    return any(inside.parts[: len(Path(name).parts)] == Path(name).parts for name in _COMMAND_LINE)


def copy_library(target: Path) -> None:
    """Copy the library with relative imports, without its command line."""
    for path in sorted(LIBRARY.rglob("*")):
        inside = path.relative_to(LIBRARY)
        if path.is_dir() or "__pycache__" in inside.parts or _is_of_the_command_line(inside):
            continue
        (target / inside).parent.mkdir(parents=True, exist_ok=True)
        if path.suffix == ".py":
            text = relative(path.read_text(encoding="utf-8"), inside.with_suffix("").parts)
            (target / inside).write_text(text, encoding="utf-8", newline="\n")
        else:
            shutil.copyfile(path, target / inside)
    (target.parent / "__init__.py").write_text(
        '"""What the extension carries with it."""\n', encoding="utf-8"
    )


def help_page(text: str) -> str:
    """The part of the README that is about the extension, as a page for a browser.

    Pictures and links lead out of the zip: the words of a link stay.
    """
    part = text[text.index("\n## In Blender") : text.index("\n## More")]
    part = re.sub(r"^!\[.*\)\n", "", part, flags=re.MULTILINE)
    part = re.sub(r"\[([^]]+)\]\([^)]+\)", r"\1", part)
    body = MarkdownIt("commonmark").enable("table").render(part)
    return f"{_PAGE}<body>\n<h1>Buckwright</h1>\n{body}</body>\n</html>\n"


def stage(target: Path, platform: str, wheels: Sequence[Path], *, version: str | None = None) -> None:
    """Lay out the folder that becomes the zip."""
    shutil.rmtree(target, ignore_errors=True)
    leave = shutil.ignore_patterns("__pycache__", *_TOOLS, "wheels", "*.zip")
    shutil.copytree(ADDON, target, ignore=leave)
    copy_library(target / "library" / NAME)
    shutil.copyfile(ROOT / "LICENSE", target / "LICENSE")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (target / "help.html").write_text(help_page(readme), encoding="utf-8", newline="\n")
    manifest = (ADDON / "blender_manifest.toml").read_text(encoding="utf-8")
    manifest = manifest.split("\n", 1)[1]  # the comment is for readers of the repository
    if version is not None:
        manifest = re.sub(r'^version = ".*"$', f'version = "{version}"', manifest, flags=re.MULTILINE)
    added = [f'platforms = ["{platform}"]']
    if wheels:
        (target / "wheels").mkdir()
        for wheel in wheels:
            _link_or_copy(wheel, target / "wheels" / wheel.name)
        listed = "".join(f'    "./wheels/{wheel.name}",\n' for wheel in wheels)
        added.append(f"wheels = [\n{listed}]")
    head, mark, rest = manifest.partition("\n[permissions]")
    text = "\n".join([head.rstrip(), *added, "", mark.lstrip() + rest])
    tomllib.loads(text)
    (target / "blender_manifest.toml").write_text(text, encoding="utf-8", newline="\n")


def _link_or_copy(source: Path, target: Path) -> None:
    try:
        os.link(source, target)
    except OSError:
        shutil.copyfile(source, target)


def blender_tool() -> Path:
    """Blender's own builder and validator of extensions, as the module `bpy` brings it."""
    found = importlib.util.find_spec("bpy")
    if found is None or not found.submodule_search_locations:
        raise SystemExit("the module bpy is missing: uv sync --group blender")
    home = Path(next(iter(found.submodule_search_locations)))
    tools = sorted(home.glob("*/scripts/addons_core/bl_pkg/cli/blender_ext.py"))
    return tools[-1]


def build(
    platform: str, pythons: Sequence[str], out: Path, *, version: str | None = None, wheels: bool = True
) -> Path:
    """Build and validate the zip of one platform.

    Returns
    -------
    The zip, `buckwright-<version>-<platform>.zip`.

    Raises
    ------
    subprocess.CalledProcessError
        A wheel could not be fetched, or Blender's tool refuses the extension.
    """
    found = (
        fetch_wheels(platform, pythons, ROOT / "dist" / "wheels" / f"{platform}-{'-'.join(pythons)}")
        if wheels
        else []
    )
    out.mkdir(parents=True, exist_ok=True)
    folder = out / f".stage-{platform}"
    stage(folder, platform, found, version=version)
    number = tomllib.loads((folder / "blender_manifest.toml").read_text(encoding="utf-8"))["version"]
    target = out / f"{NAME}-{number}-{platform}.zip"
    try:
        _blender_ext("build", "--source-dir", folder, "--output-filepath", target)
        _blender_ext("validate", target)
    finally:
        shutil.rmtree(folder)
    return target


def _blender_ext(*arguments: object) -> None:
    command = [sys.executable, str(blender_tool()), *map(str, arguments)]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    if done.returncode:
        sys.stderr.write(done.stdout + done.stderr)
        raise subprocess.CalledProcessError(done.returncode, command)


def main() -> None:
    """Build what the command line asks for."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--platform", action="append", choices=list(PLATFORMS), help="default: all")
    parser.add_argument("--python", action="append", help="version of Python, e.g. 3.13 (default)")
    parser.add_argument("--out", type=Path, default=ROOT / "dist")
    given = parser.parse_args()
    for platform in given.platform or PLATFORMS:
        made = build(platform, given.python or ["3.13"], given.out)
        sys.stdout.write(f"{made}  {made.stat().st_size / 1e6:.0f} MB\n")


if __name__ == "__main__":
    main()
