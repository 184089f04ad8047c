"""Check what a file really holds before a parser trusts it."""

import struct
from pathlib import Path

from buckwright.errors import MeshError
from buckwright.mesh.bounds import MOST_BYTES, MOST_TEXT_BYTES, refuse_large, regular_size, shown

__all__ = ["FORMATS", "check_content", "is_binary_stl"]

#: Formats that can be read, by file extension.
FORMATS = ("stl", "obj", "ply", "off", "3mf", "glb", "npz")

# Binary STL: 80 bytes of header, a 32-bit count, 50 bytes a triangle (3D Systems, StereoLithography
# Interface Specification, 1989).
_STL_HEADER, _STL_TRIANGLE = 84, 50
_OBJ_WORDS = (b"v", b"vn", b"vt", b"f", b"o", b"g", b"mtllib", b"usemtl", b"s")
_HEAD_BYTES = 4096


def check_content(path: Path) -> str:
    """Name the format of a file and make sure that its content is of that format and complete.

    Parameters
    ----------
    path : file; its extension names the format

    Returns
    -------
    str
        One of `FORMATS`.

    Raises
    ------
    MeshError
        Missing, a folder, a pipe or device, not readable, empty, too large, unknown extension, content of
        another format, STL cut short or with a header that does not match the size of the file.
    """
    kind = path.suffix.lower().lstrip(".")
    size, head, tail = _peek(path)
    if kind not in FORMATS:
        named = f"the extension .{kind}" if kind else "no extension"
        raise MeshError(f"{path.name} has {named}; readable are {', '.join('.' + name for name in FORMATS)}")
    if size == 0:
        raise MeshError(f"{path.name} is empty (0 bytes); export it again")
    held = _kind_of(head, size)
    if held is not None and held != kind:
        raise MeshError(f"{path.name} is named .{kind} but holds {held.upper()}; rename it to .{held}")
    in_text = kind in ("obj", "off") or (kind == "stl" and not _fits_binary_stl(head, size))
    refuse_large(path.name, size, MOST_TEXT_BYTES if in_text else MOST_BYTES)
    if kind == "stl":
        _check_stl(path.name, head, tail, size)
    elif held is None and kind in ("3mf", "glb", "ply", "npz"):
        raise MeshError(f"{path.name} is not a {kind.upper()} file, whatever its name says; export it again")
    return kind


def is_binary_stl(path: Path) -> bool:
    """Whether the size of a file is just what the header of a binary STL says."""
    size, head, _ = _peek(path)
    return _fits_binary_stl(head, size)


def _peek(path: Path) -> tuple[int, bytes, bytes]:
    """Size, first and last bytes of a file."""
    size = regular_size(path)
    try:
        with path.open("rb") as stream:
            head = stream.read(_HEAD_BYTES)
            stream.seek(max(0, size - _HEAD_BYTES))
            return size, head, stream.read(_HEAD_BYTES)
    except OSError as error:
        raise MeshError(f"{shown(path)} cannot be opened ({error.strerror})") from error


def _kind_of(head: bytes, size: int) -> str | None:
    """Format by signature; None where nothing indicates one."""
    if head.startswith(b"PK\x03\x04"):
        return "npz" if _first_entry(head).endswith(b".npy") else "3mf"
    for signature, kind in ((b"glTF", "glb"), (b"ply\n", "ply"), (b"ply\r", "ply")):
        if head.startswith(signature):
            return kind
    if _fits_binary_stl(head, size):
        return "stl"
    return None if b"\0" in head else _kind_of_text(head)


def _first_entry(head: bytes) -> bytes:
    """Name of the first entry of a zip archive (APPNOTE 4.3.7: its length at 26, the name from 30)."""
    if len(head) < 30:
        return b""
    length: int = struct.unpack_from("<H", head, 26)[0]
    return head[30 : 30 + length]


def _kind_of_text(head: bytes) -> str | None:
    """Format by the first words of the lines."""
    lines = [line.split() for line in head.splitlines()]
    words = [line[0] for line in lines if line and not line[0].startswith(b"#")]
    if not words:
        return None
    if words[0].lower() == b"solid":
        return "stl"
    if words[0] in (b"OFF", b"COFF", b"NOFF", b"CNOFF", b"STOFF"):
        return "off"
    # the last line of the peek may be cut in the middle of a word
    return "obj" if all(word in _OBJ_WORDS for word in words[:-1] or words) else None


def _fits_binary_stl(head: bytes, size: int) -> bool:
    """Whether the count in the header agrees with the size of the file."""
    return size >= _STL_HEADER and size == _STL_HEADER + _STL_TRIANGLE * _stl_count(head)


def _stl_count(head: bytes) -> int:
    count: int = struct.unpack_from("<I", head, _STL_HEADER - 4)[0]
    return count


def _check_stl(name: str, head: bytes, tail: bytes, size: int) -> None:
    """Compare an STL with its own header; nothing is allocated on the word of the header."""
    if _fits_binary_stl(head, size):
        if _stl_count(head) == 0:
            raise MeshError(f"{name} holds no triangles; a sculpt must be a triangle mesh")
        return
    if head.lstrip()[:5].lower() == b"solid" and b"\0" not in head[:_STL_HEADER]:
        if b"endsolid" not in tail.lower():
            raise MeshError(
                f"{name} is a text STL that was cut short (no 'endsolid' at its end); export it again"
            )
        return
    if size < _STL_HEADER:
        raise MeshError(
            f"{name} is cut short: {size} bytes, but the header of a binary STL alone has {_STL_HEADER}"
        )
    count, room = _stl_count(head), (size - _STL_HEADER) / _STL_TRIANGLE
    state = "was cut short" if count > room else "has a header that does not match its content"
    raise MeshError(
        f"{name} {state}: the header says {count} triangles, the file has room for {room:.10g}; "
        "export it again"
    )
