"""Makes large wheels lighter for the zip, without taking anything from what imports them.

Test suites, headers, static libraries and guides for building against them stay behind. All other files are
kept byte for byte, licences among them; RECORD is written anew from what is left, and a build tag in the name
tells that the wheel is no longer that of the index. A huge file, which llvmlite's compiler is, is packed by
LZMA: machine code then takes a third less. `zipfile`, by which Blender unpacks wheels, reads that with the
module `lzma`, and Blender builds its Python with it on every platform.
This file is a tool of the repository; it is not part of the zip.
"""

import base64
import csv
import hashlib
import io
import re
import zipfile
from pathlib import Path

__all__ = ["LIGHTER", "lighten", "stays"]

LIGHTER = frozenset({"libigl", "llvmlite", "matplotlib", "networkx", "numba", "scipy"})
"""Packages whose wheels become much lighter; those of all others are as the index has them."""
BUILD = "1"
"""Build tag of a lighter wheel."""
_FOR_DEVELOPERS = (
    r"(.*/)?tests/.*",
    r"include/.*",
    r"lib(64)?/(cmake/.*|[^/]+\.(a|lib))",
    r"share/(man/.*|doc/.*\.pdf)",
)
_BEHIND = re.compile("|".join(_FOR_DEVELOPERS))
_LICENCE = re.compile(r"(.*/)?(licen[cs]e|copying|notice)[^/]*", re.IGNORECASE)
_HUGE = 50_000_000
_DATE = (1980, 1, 1, 0, 0, 0)


def stays(name: str) -> bool:
    """Whether a file of a wheel is of use to what imports it, or is a licence."""
    return _BEHIND.fullmatch(name) is None or _LICENCE.fullmatch(name) is not None


def lighten(wheel: Path, folder: Path) -> Path:
    """Write the lighter twin of a wheel into a folder, unless it is there; always the same bytes.

    Returns
    -------
    The twin, named with a build tag.
    """
    name, version, *tags = wheel.stem.split("-")
    target = folder / "-".join([name, version, BUILD, *tags[-3:]])
    target = target.with_name(f"{target.name}.whl")
    if target.is_file() and target.stat().st_mtime >= wheel.stat().st_mtime:
        return target
    beside = target.with_suffix(".part")
    _write(wheel, beside)
    return beside.replace(target)


def _write(wheel: Path, target: Path) -> None:
    with zipfile.ZipFile(wheel) as whole, zipfile.ZipFile(target, "w") as light:
        listed = []
        record = next(one for one in whole.namelist() if one.endswith(".dist-info/RECORD"))
        for member in whole.infolist():
            if member.is_dir() or member.filename == record or not stays(member.filename):
                continue
            data = whole.read(member)
            _add(light, member.filename, data, member.external_attr)
            listed.append((member.filename, _digest(data), len(data)))
        _add(light, record, _record_text([*listed, (record, "", "")]), whole.getinfo(record).external_attr)


def _add(archive: zipfile.ZipFile, name: str, data: bytes, attributes: int) -> None:
    entry = zipfile.ZipInfo(name, _DATE)
    entry.external_attr = attributes
    entry.compress_type = zipfile.ZIP_LZMA if len(data) > _HUGE else zipfile.ZIP_DEFLATED
    archive.writestr(entry, data, compresslevel=9)


def _digest(data: bytes) -> str:
    """The hash of a file as RECORD has it."""
    code = base64.urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b"=").decode()
    return f"sha256={code}"


def _record_text(rows: list[tuple[str, str, int | str]]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()
