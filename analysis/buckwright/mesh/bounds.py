"""What a file may hold at most, so that a hostile or broken one is refused before it fills the memory."""

import stat
from pathlib import Path

from buckwright.errors import MeshError

__all__ = [
    "MOST_BYTES",
    "MOST_FACES",
    "MOST_NUMBER",
    "MOST_TEXT_BYTES",
    "printable",
    "refuse_bomb",
    "refuse_large",
    "refuse_many",
    "refuse_scattered",
    "regular_size",
    "shown",
]

#: Ten million triangles: the forming detail of a metre of buck at 0.3 mm. House rule; so are the next.
MOST_FACES = 10_000_000
#: Ten million triangles of a binary STL.
MOST_BYTES = 512_000_000
#: Text is read with up to thirteen times its size of memory (an STL of points alone).
MOST_TEXT_BYTES = 150_000_000
#: Coordinates beyond are no sculpt in any unit: a thousand kilometres of millimetres.
MOST_NUMBER = 1e9

_SHOWN = 120
_MOST_SCATTERED = 1_000_000  # triangles without shared corners that are still looked through for near ones
_CORNERS_A_FACE = 2.5  # of a surface half, of loose pairs 2, of triangles that share nothing 3
_MOST_PACKED = 150  # times smaller than unpacked: coordinates pack to a fifth, zeros to a thousandth
_SMALL = 16_000_000  # bytes that may be packed as tightly as they like


def printable(words: str) -> str:
    """Words that may hold a name from outside: control codes, which a terminal would obey, become marks."""
    return "".join(letter if letter.isprintable() or letter == "\n" else "\ufffd" for letter in words)


def shown(path: Path | str) -> str:
    """A path for messages, its middle left out where it is very long."""
    text = printable(str(path))
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN // 2]}...{text[-_SHOWN // 2 :]}"


def regular_size(path: Path) -> int:
    """Size of a regular file in bytes; nothing is opened.

    Parameters
    ----------
    path : file to look at

    Returns
    -------
    size, bytes

    Raises
    ------
    MeshError
        Missing, a folder, a pipe or device, or a path that no file can have.
    """
    try:
        held = path.stat()
    except FileNotFoundError as error:
        raise MeshError(f"{shown(path)} does not exist") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise MeshError(f"{shown(path)} cannot be opened ({reason})") from error
    if stat.S_ISDIR(held.st_mode):
        raise MeshError(f"{shown(path)} is a folder; name the sculpt's file")
    if not stat.S_ISREG(held.st_mode):
        raise MeshError(f"{shown(path)} is a pipe or device, not a file; save the sculpt to a file first")
    return held.st_size


def refuse_large(name: str, size: int, most: int) -> None:
    """Refuse more bytes than can be read with a bounded memory."""
    if size > most:
        raise MeshError(
            f"{name} holds {size / 1e6:.0f} MB; at most {most / 1e6:.0f} MB of this format can be read. "
            "Decimate the sculpt, or export a binary STL"
        )


def refuse_many(name: str, faces: int) -> None:
    """Refuse more triangles than can be worked on."""
    if faces > MOST_FACES:
        count = faces if faces < 1_000_000_000 else f"{faces:.0e}"
        raise MeshError(
            f"{name} holds {count} triangles; at most {MOST_FACES} can be read. Decimate the sculpt"
        )


def refuse_scattered(name: str, vertices: int, faces: int) -> None:
    """Refuse very many triangles of which hardly any share a corner: no surface, and dear to find out."""
    if faces > _MOST_SCATTERED and vertices > _CORNERS_A_FACE * faces:
        raise MeshError(
            f"{name} holds {faces} triangles of which hardly any share a corner; "
            "join them (weld or merge by distance) in your sculpting program"
        )


def refuse_bomb(name: str, size: int, packed: int) -> None:
    """Refuse an entry of an archive that is packed more tightly than any sculpt; sizes in bytes."""
    if size > max(_SMALL, _MOST_PACKED * packed):
        raise MeshError(
            f"{name} unpacks {packed / 1e6:.2g} MB to {size / 1e6:.0f} MB, far more than any sculpt; "
            "export it again"
        )
