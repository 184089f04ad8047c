"""The builder of the zips: which imports it rewrites, what goes in."""

import tomllib
import zipfile

import pytest


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
        "__pycache__" in name or name.endswith((".pyc", "package.py", "cli.py", "__main__.py"))
        for name in names
    )
    assert set(manifest["permissions"]) == {"files"}
    assert manifest["platforms"] == ["linux-x64"] or len(manifest["platforms"]) == 1
    source = tomllib.loads((package.ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert manifest["version"] == source["project"]["version"]


@pytest.mark.parametrize("platform", ["linux-x64", "windows-x64", "macos-arm64"])
def test_the_child_gets_the_locked_versions_and_no_numpy(package, platform):
    lock = tomllib.loads((package.ROOT / "uv.lock").read_text(encoding="utf-8"))
    locked = {one["name"]: one["version"] for one in lock["package"]}
    wanted = dict(line.split(" --hash")[0].split("==") for line in package.requirements(platform))
    assert {"scipy", "numba", "manifold3d", "libigl", "lib3mf", "tomli-w"} <= set(wanted)
    assert not {"numpy", "click", "rich", "attrs", "cattrs", "bpy"} & set(wanted)
    assert all(locked[name] == version for name, version in wanted.items())
