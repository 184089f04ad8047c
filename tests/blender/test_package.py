"""The builder of the zips: which imports it rewrites, what goes in."""

import email
import hashlib
import io
import re
import sys
import tomllib
import zipfile

import pytest
from packaging.utils import canonicalize_name, parse_wheel_filename
from packaging.version import Version

HERE = {"linux": "linux-x64", "win32": "windows-x64", "darwin": "macos-arm64"}[sys.platform]


@pytest.mark.parametrize(
    ("source", "module", "wanted"),
    [
        ("from buckwright.errors import InputError\n", ("job",), "from .errors import InputError\n"),
        ("from buckwright.mesh.door import x\n", ("pipeline", "run"), "from ..mesh.door import x\n"),
        ("from buckwright import __version__\n", ("output", "report"), "from .. import __version__\n"),
        ("    from buckwright.a import b\n", ("c", "d"), "    from ..a import b\n"),
        ("from buckwright.a import b\n", ("c", "__init__"), "from ..a import b\n"),
        ("x = 'from buckwright.a import b'\n", ("c",), "x = 'from buckwright.a import b'\n"),
    ],
)
def test_imports_become_relative(package, source, module, wanted):
    assert package.relative(source, module) == wanted


def test_an_import_without_a_relative_twin_is_refused(package):
    with pytest.raises(ValueError, match="write 'from buckwright"):
        package.relative("import buckwright.errors\n", ("job",))


def test_no_module_of_the_zip_imports_the_library_by_its_name(build_zip):
    with zipfile.ZipFile(build_zip()) as zipped:
        names = [name for name in zipped.namelist() if name.endswith(".py")]
        texts = {name: zipped.read(name).decode() for name in names}
    assert "library/buckwright/host.py" in texts
    lines = {
        name: [
            line for line in text.splitlines() if line.startswith(("from buckwright", "import buckwright"))
        ]
        for name, text in texts.items()
    }
    assert not {name: found for name, found in lines.items() if found}


def test_what_is_in_the_zip(build_zip, package):
    with zipfile.ZipFile(build_zip()) as zipped:
        names = set(zipped.namelist())
        manifest = tomllib.loads(zipped.read("blender_manifest.toml").decode())
    assert {"LICENSE", "__init__.py", "library/buckwright/forming/sheets/sheets.toml"} <= names
    assert not any(
        "__pycache__" in name or "/cli/" in name or name.endswith((".pyc", "__main__.py")) for name in names
    )
    assert "package.py" not in names
    assert set(manifest["permissions"]) == {"files"}
    assert manifest["platforms"] == [HERE]
    source = tomllib.loads((package.ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert manifest["version"] == source["project"]["version"]


BLENDER_BRINGS = {"numpy", "attrs", "cattrs", "typing-extensions", "bpy"}
ONLY_THE_COMMAND_LINE = {"click", "rich", "pygments", "markdown-it-py"}
NEEDED = {"scipy", "numba", "llvmlite", "manifold3d", "libigl", "trimesh", "matplotlib", "tomli-w", "lib3mf"}

# What Blender 5.2 runs on: glibc 2.28, Windows, macOS 12 on Apple's own processors.
FITTING = {
    "linux-x64": re.compile(r"any|manylinux_2_(\d|1\d|2[0-8])_x86_64|manylinux(1|2010|2014)_x86_64"),
    "windows-x64": re.compile(r"any|win_amd64"),
    "macos-arm64": re.compile(r"any|macosx_(10_\d+_universal2|1[12]_\d+_(arm64|universal2))"),
}


@pytest.fixture(scope="module")
def lock(package):
    """What is locked, by name."""
    text = (package.ROOT / "uv.lock").read_text(encoding="utf-8")
    return {one["name"]: one for one in tomllib.loads(text)["package"]}


def _wheels(entry):
    """File name and sha256 of each wheel of a locked package."""
    return {one["url"].rsplit("/", 1)[1]: one["hash"].removeprefix("sha256:") for one in entry["wheels"]}


def _fits(name, platform):
    _, _, _, tags = parse_wheel_filename(name)
    pythons = [tag for tag in tags if FITTING[platform].fullmatch(tag.platform)]
    return any(
        tag.interpreter in ("cp313", "py3", "py2.py3") or (tag.abi == "abi3" and tag.interpreter <= "cp313")
        for tag in pythons
    )


def test_each_wheel_in_the_whole_zip_is_the_locked_file(build_zip, lock):
    """Read from the zip: the file's name, its bytes, and what the wheel says of itself."""
    names = set()
    with zipfile.ZipFile(build_zip(wheels=True)) as zipped:
        manifest = tomllib.loads(zipped.read("blender_manifest.toml").decode())
        found = [name for name in zipped.namelist() if name.endswith(".whl")]
        assert sorted(manifest["wheels"]) == sorted(f"./{name}" for name in found)
        assert manifest["platforms"] == [HERE]
        for path in found:
            data, file = zipped.read(path), path.rsplit("/", 1)[1]
            with zipfile.ZipFile(io.BytesIO(data)) as wheel:
                inside = [name for name in wheel.namelist() if name.endswith(".dist-info/METADATA")]
                told = email.message_from_bytes(wheel.read(inside[0]))
            name = canonicalize_name(told["Name"])
            assert parse_wheel_filename(file)[:2] == (name, Version(lock[name]["version"]))
            assert Version(told["Version"]) == Version(lock[name]["version"])
            assert _wheels(lock[name])[file] == hashlib.sha256(data).hexdigest()
            assert _fits(file, HERE), file
            names.add(name)
        assert len(names) == len(found), "one wheel of each"
    assert names >= NEEDED
    assert not names & (BLENDER_BRINGS | ONLY_THE_COMMAND_LINE)


@pytest.mark.parametrize("platform", list(FITTING))
def test_whatever_the_child_needs_is_locked_as_a_wheel_that_blender_can_load(package, lock, platform):
    assert all(FITTING[platform].fullmatch(tag) for tag in package.PLATFORMS[platform])
    wanted = dict(line.split("==", 1) for line in package.requirements(platform))
    assert set(wanted) >= NEEDED
    assert not set(wanted) & (BLENDER_BRINGS | ONLY_THE_COMMAND_LINE)
    for name, rest in wanted.items():
        fitting = [code for file, code in _wheels(lock[name]).items() if _fits(file, platform)]
        assert any(code in rest for code in fitting), f"{name} has no wheel for {platform}"
