"""A buck of another job in the same pull, and how it is named."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import JobError
from buckwright.mesh.manifolds import to_manifold
from buckwright.mesh.triangles import Mesh

__all__ = ["MADE", "Neighbour", "made_file", "named_bucks", "neighbour_of"]

MADE = "buck.stl"
"""What a folder holds in which a buck was made."""

_MOST_COPIES = 200

type Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Neighbour:
    """A buck of another job.

    Attributes
    ----------
    name : what it is called
    copies : how many of it are wanted
    mesh : standing on z = 0, the middle of its base at x = y = 0, mm
    outlines : of its base on the platen, (N, 2) each
    foot_mm, trim_mm : heights over the platen up to which there is no part, and of the trim line
    screws_mm : (K, 2) places of its screws
    """

    name: str
    copies: int
    mesh: Mesh
    outlines: tuple[Points, ...]
    foot_mm: float
    trim_mm: float | None
    screws_mm: Points

    @property
    def volume_mm3(self) -> float:
        """Of the solid."""
        solid = to_manifold(self.mesh)
        return 0.0 if solid is None else float(solid.volume())

    @property
    def base_mm2(self) -> float:
        """Area of its base."""
        return sum(_area(ring) for ring in self.outlines)

    @property
    def base_mm(self) -> tuple[float, float]:
        """Width and depth of its base."""
        ends = np.concatenate(self.outlines)
        width, depth = (float(side) for side in np.ptp(ends, axis=0))
        return width, depth


def named_bucks(words: str) -> tuple[tuple[Path, int], ...]:
    """Files and how many of each.

    Parameters
    ----------
    words : files parted by semicolons, each with its count behind a colon if it is more than one

    Returns
    -------
    tuple of file and count

    Raises
    ------
    JobError
        A count cannot be read.

    Examples
    --------
    >>> [(file.name, count) for file, count in named_bucks("tray/job.toml: 2; lid.stl")]
    [('job.toml', 2), ('lid.stl', 1)]
    """
    found = []
    for entry in (part.strip() for part in words.split(";")):
        if not entry:
            continue
        name, colon, count = entry.rpartition(":")
        # of a drive's letter the colon stands before a slash
        name, count = (name, count) if colon and not count.startswith(("/", "\\")) else (entry, "1")
        if not name.strip() or not count.strip().isdecimal() or not 1 <= int(count) <= _MOST_COPIES:
            raise JobError(
                f"group.others: {entry!r} is no file with a count from 1 to {_MOST_COPIES}; write "
                "tray/buck.stl: 2; lid/buck.stl"
            )
        found.append((Path(name.strip()), int(count)))
    return tuple(found)


def made_file(path: Path) -> Path:
    """The file of a buck that is named: of a folder in which a buck was made, that buck."""
    return path / MADE if path.is_dir() else path


def neighbour_of(name: str, copies: int, mesh: Mesh, **levels: Any) -> Neighbour:
    """A neighbour from a buck as it stands.

    Parameters
    ----------
    name, copies : see there
    mesh : of the buck, anywhere in its frame, mm, pull +Z
    levels : `foot_mm`, `trim_mm` and `screws_mm` as there, in the mesh's frame

    Raises
    ------
    JobError
        It is no closed solid.
    """
    solid = to_manifold(mesh)
    if solid is None or solid.is_empty():
        raise JobError(f"group.others: {name} is no closed solid; make a buck of it first")
    low = float(mesh.vertices[:, 2].min())
    rings = [np.asarray(ring, np.float64) for ring in solid.project().to_polygons()]
    rings = [ring for ring in rings if _area(ring) > 0.0]
    ends = np.concatenate(rings)
    middle = (ends.min(axis=0) + ends.max(axis=0)) / 2.0
    trim, screws = levels.get("trim_mm"), np.asarray(levels.get("screws_mm", ()), np.float64).reshape(-1, 2)
    return Neighbour(
        name=name,
        copies=copies,
        mesh=Mesh(mesh.vertices - [*middle, low], mesh.faces),
        outlines=tuple(ring - middle for ring in rings),
        foot_mm=max(float(levels.get("foot_mm", 0.0)) - low, 0.0),
        trim_mm=None if trim is None else float(trim) - low,
        screws_mm=screws - middle,
    )


def _area(ring: Points) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2.0
