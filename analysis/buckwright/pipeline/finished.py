"""A finished buck, changed by hand or made elsewhere: checked, and written to files as it is."""

from collections.abc import Callable
from pathlib import Path

from buckwright.clock import Clock, Progress
from buckwright.errors import MeshError
from buckwright.findings import counted
from buckwright.job import Job
from buckwright.mesh.checking import check_mesh
from buckwright.mesh.crossings import find_crossings
from buckwright.mesh.reading import read_sculpt
from buckwright.mesh.triangles import Mesh
from buckwright.output.files import Batch, filled_by, refuse_unwritable
from buckwright.output.stl import stl_bytes
from buckwright.output.storable import storable
from buckwright.output.threemf import Metadata, threemf_available, threemf_bytes

__all__ = ["refuse_unprintable", "write_finished"]

# Files hold single precision: where slivers meet, faces cross by less than this.
_FILE_DEPTH_MM = 1e-3


def write_finished(
    job: Job,
    out: Path,
    *,
    prefix: str = "",
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    gate: Callable[[], None] | None = None,
) -> tuple[Path, ...]:
    """Check a finished buck and write it as STL and 3MF; nothing of it is repaired, turned or scaled.

    Parameters
    ----------
    job : names the mesh as its sculpt, in mm; its title goes into the files
    out : folder for the files; other files in it stay
    prefix : what the names of the files begin with
    progress, cancelled, gate : see `Clock`

    Returns
    -------
    The files that were written.

    Raises
    ------
    MeshError
        It is not one closed surface without crossings; says what is wrong with it.
    OutputError
        The files cannot be written; everything is as it was.
    Cancelled
        The user asked to stop.
    """
    refuse_unwritable(out)
    clock = Clock(progress, cancelled, gate)
    mesh = read_sculpt(job.sculpt_path).mesh
    with clock.step("checking the buck"):
        refuse_unprintable(mesh)
        stored = storable(mesh)
    with clock.step("writing"):
        files = {"buck.stl": stl_bytes(stored, title=job.title)}
        if threemf_available() is None:
            files["buck.3mf"] = threemf_bytes(stored, metadata=Metadata(title=job.title))
        with Batch(out, gate) as batch:
            return tuple(batch.add(f"{prefix}{name}", filled_by(data)) for name, data in files.items())


def refuse_unprintable(mesh: Mesh) -> None:
    """Refuse what a slicer would have to guess at.

    Parameters
    ----------
    mesh : mm; equal corners already welded

    Raises
    ------
    MeshError
        It has open edges, edges of more than two faces, faces that are turned round or cross deeper than
        0.001 mm (the rounding of files), or no volume.
    """
    facts = check_mesh(mesh)
    crossings = find_crossings(mesh, deeper_than_mm=_FILE_DEPTH_MM).count
    wrong = [
        words
        for count, words in (
            (facts.boundary_edges, counted(facts.boundary_edges, "open edge")),
            (facts.nonmanifold_edges, counted(facts.nonmanifold_edges, "edge") + " of more than two faces"),
            (
                facts.inconsistent_edges,
                counted(facts.inconsistent_edges, "edge") + " of a flipped face",
            ),
            (crossings, counted(crossings, "pair") + " of faces that cross"),
        )
        if count
    ]
    if not wrong and mesh.volume_mm3() <= 0.0:
        wrong = ["it is inside out"]
    if wrong:
        raise MeshError(
            f"the edited buck cannot be exported: {', '.join(wrong)}; mend its mesh, or make the buck again"
        )
