"""Make the sample scenes as files of Blender: `make_blends.py [NAME ...] [--coarse FACTOR] [--into FOLDER]`.

Each holds the sculpt, in metres as Blender counts, and the settings of its job.toml, which the extension
shows in its panels. Needs `bpy` (dependency group `blender`); a profile of its own is used, not the user's.
"""

import importlib
import importlib.util
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
PACKAGE = HERE.parent / "blender_addon" / "package.py"
PLATFORMS = {"linux": "linux-x64", "win32": "windows-x64", "darwin": "macos-arm64"}
MM_PER_UNIT = 1000.0


def main(words: list[str] | None = None) -> int:
    """Make what the command line asks for; one line of text a scene."""
    from make_samples import command, parsed

    asked = parsed(command("Make the sample scenes as files of Blender.", gets="NAME/NAME.blend"), words)
    with tempfile.TemporaryDirectory(prefix="buckwright-profile-") as profile:
        os.environ["BLENDER_USER_RESOURCES"] = profile  # read once, when bpy is imported
        _install(Path(profile))
        for name in asked.names:
            print(make(name, coarse=asked.coarse, into=asked.into), flush=True)
    return 0


def make(name: str, *, coarse: float = 1.0, into: Path = HERE) -> str:
    """Write one scene to `into`/name, the extension being switched on; return a line of what was done."""
    import bpy

    recipe = importlib.import_module(f"sculpts.{name}")
    vertices, faces = recipe.sculpt(coarse)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    mesh = bpy.data.meshes.new(_title(name))
    mesh.from_pydata(vertices / MM_PER_UNIT, [], faces)
    mesh.validate()
    one = bpy.data.objects.new(_title(name), mesh)
    bpy.context.scene.collection.objects.link(one)
    bpy.context.view_layer.objects.active = one
    one.select_set(True)
    bpy.ops.buckwright.open_job(filepath=str(HERE / name / "job.toml"))
    path = into / name / f"{name}.blend"
    path.parent.mkdir(parents=True, exist_ok=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True)
    return f"{name}: {path.name}, {len(mesh.polygons)} faces"


def _title(name: str) -> str:
    return name.replace("_", " ").title()


def _install(folder: Path) -> None:
    """The extension without its wheels: for settings nothing else is needed."""
    package: Any = _loaded(PACKAGE)
    python = f"{sys.version_info.major}.{sys.version_info.minor}"
    made = package.build(PLATFORMS[sys.platform], [python], folder / "zip", wheels=False)
    import bpy

    bpy.ops.extensions.package_install_files(filepath=str(made), repo="user_default", enable_on_install=True)


def _loaded(path: Path) -> Any:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


if __name__ == "__main__":
    sys.exit(main())
