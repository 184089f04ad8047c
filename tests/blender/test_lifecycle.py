"""The whole zip as a user has it: installed, switched off and on, updated, used, removed, in a clean profile.

Each test runs Blender in a process of its own, so that nothing is loaded or installed before.
"""

import importlib.util
import json
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

_BEGIN = """
import json, os, sys
from pathlib import Path
import bpy, addon_utils

MODULE = "bl_ext.user_default.buckwright"
HOME = Path(os.environ["BLENDER_USER_RESOURCES"]) / "extensions"
WHEELS = HOME / ".local" / "lib" / f"python3.{sys.version_info.minor}" / "site-packages"

def install(path):
    bpy.ops.extensions.package_install_files(filepath=path, repo="user_default", enable_on_install=True)

def on():
    return MODULE in bpy.context.preferences.addons and hasattr(bpy.types.Scene, "buckwright")
"""


@pytest.fixture
def blender(tmp_path):
    """Run a script in a fresh Blender; what it leaves in `told`."""

    def run(script, **values):
        lines = [_BEGIN, *(f"{name} = {value!r}" for name, value in values.items()), "told = {}"]
        end = 'print("TOLD " + json.dumps(told))'
        code = "\n".join([*lines, textwrap.dedent(script), end])
        profile = {"BLENDER_USER_RESOURCES": str(tmp_path / "profile ü")}
        command = [sys.executable, "-c", code]
        done = subprocess.run(
            command,
            env=os.environ | profile,
            capture_output=True,
            encoding="utf-8",
            check=False,
            cwd=tmp_path,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        assert "Traceback" not in done.stderr, done.stderr
        return json.loads(done.stdout.rsplit("TOLD ", 1)[1])

    return run


def test_off_on_updated_and_removed(blender, build_zip):
    told = blender(
        """
        install(OLD)
        told["installed"] = on()
        told["old"] = str(sys.modules[MODULE + ".bridge.library"].HOST)
        addon_utils.disable(MODULE, default_set=True)
        told["off"] = not hasattr(bpy.types.Scene, "buckwright")
        told["panels off"] = not hasattr(bpy.types, "BUCKWRIGHT_PT_look")
        told["menus"] = "BUCKWRIGHT_MT_object" in dir(bpy.types)
        addon_utils.enable(MODULE, default_set=True)
        told["on"] = on()
        before = sys.modules[MODULE]
        install(NEW)
        told["updated"] = on() and sys.modules[MODULE] is not before
        told["version"] = (HOME / "user_default" / "buckwright" / "blender_manifest.toml").read_text()
        addon_utils._is_first_reset()
        told["warnings"] = addon_utils._extensions_warnings_get()
        told["loud"] = sorted(n for n in sys.modules if n.split(".")[0] in ("scipy", "numba", "buckwright"))
        repos = [repo.module for repo in bpy.context.preferences.extensions.repos]
        bpy.ops.extensions.package_uninstall(repo_index=repos.index("user_default"), pkg_id="buckwright")
        told["gone"] = not on() and not (HOME / "user_default" / "buckwright").exists()
        """,
        OLD=str(build_zip(version="0.0.9")),
        NEW=str(build_zip()),
    )
    assert told.pop("old") and not told.pop("menus")
    assert 'version = "0.1.0"' in told.pop("version")
    assert told.pop("warnings") == {} and told.pop("loud") == []
    assert told and all(told.values()), told


@pytest.mark.parametrize(("broken", "there"), [(False, True), (True, False)])
def test_own_sheets_stand_in_the_list(blender, build_zip, tmp_path, monkeypatch, broken, there):
    own = tmp_path / "own.toml"
    own.write_text(
        '[CORNER_SHOP]\ntitle = "of the shop"\nlike = "PP"\n'
        f'male_draft_deg = {{ value = {"true" if broken else 8}, source = "x", mark = "read" }}',
        encoding="utf-8",
    )
    monkeypatch.setenv("BUCKWRIGHT_SHEETS", str(own))
    told = blender(
        """
        install(ZIP)
        settings = bpy.context.scene.buckwright
        words = [one.identifier for one in settings.sheet.bl_rna.properties["material"].enum_items]
        told["words"] = words
        told["heating"] = sorted(settings.heating.bl_rna.properties.keys())
        told["panel"] = hasattr(bpy.types, "BUCKWRIGHT_PT_heating")
        if "CORNER_SHOP" in words:
            settings.sheet.material, settings.draft.auto_wanted_deg = "CORNER_SHOP", True
            told["draft"] = sys.modules[MODULE + ".scene.wanted_draft"].of_settings(bpy.context.scene)
        """,
        ZIP=str(build_zip()),
    )
    assert {"HIPS", "EVA"} <= set(told["words"])
    assert ("CORNER_SHOP" in told["words"]) == there
    assert told.get("draft") == (8.0 if there else None)
    assert told["panel"] and {"flux_kw_m2", "auto_flux_kw_m2", "sides"} <= set(told["heating"])


def test_the_wheels_of_the_zip_are_all_that_the_child_needs(blender, build_zip, tmp_path):
    """Blender's own Python has three packages of these; everything else has to come from the zip."""
    bare = tmp_path / "of Blender"
    bare.mkdir()
    for name in ("numpy", "attr", "attrs", "typing_extensions"):
        origin = Path(importlib.util.find_spec(name).origin)
        source = origin.parent if origin.name == "__init__.py" else origin
        (bare / source.name).symlink_to(source)
    beside = Path(importlib.util.find_spec("numpy").origin).parent.parent / "numpy.libs"
    if beside.is_dir():
        (bare / "numpy.libs").symlink_to(beside)
    told = blender(
        """
        install(ZIP)
        worker, running = (sys.modules[f"{MODULE}.{n}"] for n in ("bridge.worker", "scene.running"))
        worker.part_folders = lambda: [BARE, str(WHEELS)]
        running.child_python = lambda: [sys._base_executable, "-I"]
        told["wheels"] = sorted(path.name for path in WHEELS.iterdir())
        bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
        bpy.ops.mesh.primitive_cone_add(vertices=12, radius1=0.02, radius2=0.016, depth=0.015)
        bpy.context.scene.buckwright.pull.direction = "Z"
        bpy.context.scene.buckwright.job.name = "Engraved"
        out = Path("results with ä space").absolute()
        bpy.ops.buckwright.export(directory=str(out))
        told["files"] = sorted(path.name for path in out.iterdir())
        addon_utils._is_first_reset()
        told["warnings"] = addon_utils._extensions_warnings_get()
        """,
        ZIP=str(build_zip(wheels=True)),
        BARE=str(bare),
    )
    assert "numpy" not in told["wheels"] and {"scipy", "numba", "igl"} <= set(told["wheels"])
    assert {"Engraved_buck.stl", "Engraved_buck.3mf", "Engraved_report.json"} <= set(told["files"])
    assert any(name.endswith(".png") for name in told["files"])
    assert told["warnings"] == {}
