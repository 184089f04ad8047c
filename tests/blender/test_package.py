"""The builder of the zips: which imports it rewrites, what goes in."""

import sys
import tomllib
import zipfile

import pytest

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
    assert not {"package.py", "lighter_wheels.py"} & names
    assert set(manifest["permissions"]) == {"files"}
    assert manifest["platforms"] == [HERE]
    source = tomllib.loads((package.ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert manifest["version"] == source["project"]["version"]
