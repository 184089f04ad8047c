"""The wheels of the zips: they are those that are locked, or their lighter twins, and do not weigh too much.

Those of other platforms are looked at where they have been fetched (`make extension`).
"""

import ast
import base64
import csv
import email
import hashlib
import io
import re
import sys
import tomllib
import zipfile

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name, parse_wheel_filename
from packaging.version import Version

HERE = {"linux": "linux-x64", "win32": "windows-x64", "darwin": "macos-arm64"}[sys.platform]
PYTHON = f"{sys.version_info.major}.{sys.version_info.minor}"
MOST_BYTES = 120e6
"""A zip is not to weigh more."""

BLENDER_BRINGS = {"numpy", "attrs", "cattrs", "typing-extensions", "charset-normalizer", "bpy"}
NOT_MISSED = {"psutil"}
"""The child does without where it cannot be imported."""
ONLY_THE_COMMAND_LINE = {"click", "rich", "pygments", "markdown-it-py"}
NEEDED = {
    "scipy",
    "numba",
    "llvmlite",
    "manifold3d",
    "libigl",
    "pythoncdt",
    "trimesh",
    "matplotlib",
    "tomli-w",
    "lib3mf",
    "ezdxf",
    "reportlab",
}

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


@pytest.fixture(scope="module")
def wheels(package, build_zip):
    """Wheels of a platform that would go into its zip; those of others must have been fetched."""

    def found(platform):
        folder = package.ROOT / "dist" / "wheels" / f"{platform}-{PYTHON}"
        stamp = folder / "complete.txt"
        marked = "\n".join([PYTHON, *package.requirements(platform)])
        if platform != HERE and not (stamp.is_file() and stamp.read_text(encoding="utf-8") == marked):
            pytest.skip(f"the wheels of {platform} were not fetched")
        return package.fetch_wheels(platform, [PYTHON], folder)

    return found


@pytest.fixture(scope="module")
def lighter(package):
    """The module that makes wheels lighter."""
    sys.path.insert(0, str(package.ROOT))
    try:
        from blender_addon import lighter_wheels
    finally:
        sys.path.remove(str(package.ROOT))
    return lighter_wheels


def _told(wheel):
    """What a wheel says of itself."""
    inside = next(name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))
    return email.message_from_bytes(wheel.read(inside))


def test_each_wheel_in_the_whole_zip_is_one_of_the_locked_versions(build_zip, wheels, lock):
    """Read from the zip: the file's name, its bytes, and what the wheel says of itself."""
    names, given = set(), {path.name: path for path in wheels(HERE)}
    with zipfile.ZipFile(build_zip(wheels=True)) as zipped:
        manifest = tomllib.loads(zipped.read("blender_manifest.toml").decode())
        found = [name for name in zipped.namelist() if name.endswith(".whl")]
        assert sorted(manifest["wheels"]) == sorted(f"./{name}" for name in found)
        assert manifest["platforms"] == [HERE]
        for path in found:
            data, file = zipped.read(path), path.rsplit("/", 1)[1]
            assert data == given[file].read_bytes()
            with zipfile.ZipFile(io.BytesIO(data)) as wheel:
                told = _told(wheel)
            name = canonicalize_name(told["Name"])
            assert parse_wheel_filename(file)[:2] == (name, Version(lock[name]["version"]))
            assert Version(told["Version"]) == Version(lock[name]["version"])
            names.add(name)
        assert len(names) == len(found), "one wheel of each"
    assert names >= NEEDED
    assert not names & (BLENDER_BRINGS | ONLY_THE_COMMAND_LINE)


@pytest.mark.parametrize("platform", list(FITTING))
def test_a_wheel_is_the_locked_file_or_its_twin_without_what_only_developers_need(
    wheels, lighter, lock, platform
):
    for path in wheels(platform):
        name = path.name.split("-")[0]
        whole = path if name not in lighter.LIGHTER else _whole(path, lighter.BUILD)
        code = hashlib.sha256(whole.read_bytes()).hexdigest()
        assert _wheels(lock[canonicalize_name(name)])[whole.name] == code
        assert _fits(path.name, platform), path.name
        if path != whole:
            _expect_twin(path, whole)


def _whole(twin, build):
    name, version, tag, *tags = twin.name.split("-")
    assert tag == build
    return twin.parents[1] / "-".join([name, version, *tags])


def _expect_twin(path, whole):
    """Every file is as it was, RECORD lists them all, and nothing is missing that a module could read."""
    with zipfile.ZipFile(path) as light, zipfile.ZipFile(whole) as full:
        kept, all_names = set(light.namelist()), {n for n in full.namelist() if not n.endswith("/")}
        record = next(name for name in kept if name.endswith(".dist-info/RECORD"))
        assert kept <= all_names
        rows = {row[0]: row[1:] for row in csv.reader(light.read(record).decode().splitlines())}
        assert set(rows) == kept and rows.pop(record) == ["", ""]
        for name, (code, size) in rows.items():
            data = light.read(name)
            assert data == full.read(name)
            digest = base64.urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b"=").decode()
            assert (code, int(size)) == (f"sha256={digest}", len(data))
        gone = all_names - kept
        assert gone, "a twin that is no lighter"
        for name in gone:
            assert "/tests/" in name or name.startswith(("include/", "lib", "share/")), name
            assert ".dist-info/" not in name and "licen" not in name.lower(), name


@pytest.mark.parametrize("platform", list(FITTING))
def test_a_zip_is_no_heavier_than_asked_for(build_zip, wheels, platform):
    own = build_zip().stat().st_size
    weight = own + sum(path.stat().st_size for path in wheels(platform))
    assert weight < MOST_BYTES, f"{weight / 1e6:.1f} MB"
    if platform == HERE:
        assert build_zip(wheels=True).stat().st_size < MOST_BYTES


MAGIC = {
    b"\x7fELF": "linux-x64",
    b"MZ": "windows-x64",
    b"\xcf\xfa\xed\xfe": "macos-arm64",
    b"\xca\xfe\xba\xbe": "macos-arm64",
}
"""How machine code begins."""


@pytest.mark.parametrize("platform", list(FITTING))
def test_no_machine_code_of_another_platform_is_in_a_zip(wheels, platform):
    seen = set()
    for path in wheels(platform):
        with zipfile.ZipFile(path) as wheel:
            for name in wheel.namelist():
                with wheel.open(name) as file:
                    begin = file.read(4)
                owner = next((whose for magic, whose in MAGIC.items() if begin.startswith(magic)), None)
                assert owner in (None, platform), f"{path.name}: {name}"
                seen |= {owner}
    assert platform in seen


#: Of the work on many jobs what the zip does without: workers of its own, clusters, sets, job files.
_MANY_ONLY = {"cluster.py", "processes.py", "project", "room.py", "taking.py"}


def _imported(folder):
    """Names of the packages that the modules of a folder import, without what only a terminal needs."""
    names = set()
    for path in folder.rglob("*.py"):
        parts = path.relative_to(folder).parts
        if {"cli", "entry.py", "__main__.py"} & {*parts} or (
            parts[:1] == ("many",) and parts[1] in _MANY_ONLY
        ):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {one.name.split(".")[0] for one in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level:
                names.add(node.module.split(".")[0])
    return names


def _offered(wheel):
    """Names that can be imported once a wheel is unpacked, by the paths in it."""
    names = {
        name.removeprefix(re.match(r"([^/]+\.data/(pure|plat)lib/)?", name)[0]) for name in wheel.namelist()
    }
    tops = {name.split("/")[0] for name in names if name.endswith(("/__init__.py", ".pyd", ".so"))}
    return {top.split(".")[0] for top in tops | {name for name in names if "/" not in name}}


@pytest.mark.parametrize("platform", list(FITTING))
def test_whatever_the_child_imports_is_in_the_zip_or_in_blender(package, wheels, platform):
    offered, wanted = set(), set()
    for path in wheels(platform):
        with zipfile.ZipFile(path) as wheel:
            offered |= _offered(wheel)
            wanted |= {Requirement(line) for line in _told(wheel).get_all("Requires-Dist", ())}
    missing = _imported(package.LIBRARY) - offered - set(sys.stdlib_module_names)
    assert missing <= {"numpy", "attrs", "buckwright"} | ONLY_THE_COMMAND_LINE | NOT_MISSED, missing
    marked = package.MARKERS[platform] | {"extra": "", "python_version": PYTHON}
    names = {canonicalize_name(path.name.split("-")[0]) for path in wheels(platform)}
    needed = {
        canonicalize_name(one.name) for one in wanted if one.marker is None or one.marker.evaluate(marked)
    }
    assert needed - names <= package.LEFT_OUT, needed - names


@pytest.mark.parametrize("platform", list(FITTING))
def test_whatever_the_child_needs_is_locked_as_a_wheel_that_blender_can_load(package, lock, platform):
    assert all(FITTING[platform].fullmatch(tag) for tag in package.PLATFORMS[platform])
    wanted = dict(line.split("==", 1) for line in package.requirements(platform))
    assert set(wanted) >= NEEDED
    assert not set(wanted) & (BLENDER_BRINGS | ONLY_THE_COMMAND_LINE)
    for name, rest in wanted.items():
        fitting = [code for file, code in _wheels(lock[name]).items() if _fits(file, platform)]
        assert any(code in rest for code in fitting), f"{name} has no wheel for {platform}"
