"""Blender as a module, with the extension installed from a zip that is built for the session.

The zip of most tests carries no wheels: the child then takes what this environment has, in the locked
versions. `test_lifecycle.py` installs the whole zip, as a user has it.
"""

import importlib.util
import os
import shutil
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MODULE = "bl_ext.user_default.buckwright"

# Blender reads it once, when it is imported.
_PROFILE = tempfile.mkdtemp(prefix="buckwright-profile-")
os.environ["BLENDER_USER_RESOURCES"] = _PROFILE


def pytest_unconfigure():
    shutil.rmtree(_PROFILE, ignore_errors=True)


def _load(name, path):
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@contextmanager
def _alone(folder):
    """One worker at a time builds."""
    lock = folder / "building"
    for _ in range(1200):
        try:
            lock.mkdir()
            break
        except FileExistsError:
            time.sleep(0.1)
    try:
        yield
    finally:
        lock.rmdir()


@pytest.fixture(scope="session")
def package():
    """The script that builds the zips."""
    return _load("buckwright_package", ROOT / "blender_addon" / "package.py")


@pytest.fixture(scope="session")
def build_zip(package, tmp_path_factory):
    """Builder of zips for this platform; built once for all workers."""
    platforms = {"linux": "linux-x64", "win32": "windows-x64", "darwin": "macos-arm64"}
    python = f"{sys.version_info.major}.{sys.version_info.minor}"
    shared = tmp_path_factory.getbasetemp()
    shared = shared.parent if os.environ.get("PYTEST_XDIST_WORKER") else shared

    def build(*, version=None, wheels=False):
        folder = shared / f"zips-{version or 'present'}-{'whole' if wheels else 'bare'}"
        folder.mkdir(exist_ok=True)
        with _alone(folder):
            made = list(folder.glob("*.zip"))
            return (
                made[0]
                if made
                else package.build(platforms[sys.platform], [python], folder, version=version, wheels=wheels)
            )

    return build


@pytest.fixture(scope="session")
def addon(build_zip):
    """The extension's package, installed and switched on; its modules are attributes."""
    import bpy

    bpy.ops.extensions.package_install_files(
        filepath=str(build_zip()), repo="user_default", enable_on_install=True
    )
    assert MODULE in bpy.context.preferences.addons
    return sys.modules[MODULE]


@pytest.fixture
def scene(addon):
    """An empty scene of a new file."""
    import bpy

    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    return bpy.context.scene


@pytest.fixture
def solid(scene):
    """Maker of sculpts: a frustum of 40 mm by 15 mm with 15 degrees of draft, whatever the unit scale."""
    import bpy

    def make(name="Sculpt", *, draft_mm=4.0, at_mm=(0.0, 0.0, 0.0), sides=24):
        unit = 0.001 / float(f"{bpy.context.scene.unit_settings.scale_length:.7g}")
        bpy.ops.mesh.primitive_cone_add(
            vertices=sides,
            radius1=20.0 * unit,
            radius2=(20.0 - draft_mm) * unit,
            depth=15.0 * unit,
            location=[v * unit for v in (at_mm[0], at_mm[1], at_mm[2] + 7.5)],
        )
        one = bpy.context.object
        one.name = name
        return one

    return make


@pytest.fixture
def quick(scene, solid):
    """A frustum and settings that keep a run short."""
    own = scene.buckwright
    own.pull.direction = "Z"
    own.underside.fixing = "NONE"
    own.underside.engrave = False
    own.forecast.nodes = 2000
    solid()
    return own


@pytest.fixture
def fast(scene):
    """Settings that keep a run short."""
    own = scene.buckwright
    own.pull.direction = "Z"
    own.base.sink_to, own.base.sink_mm = "AMOUNT", 0.0
    own.underside.fixing = "NONE"
    own.underside.engrave = False
    own.forecast.quality = "OFF"
    return own
