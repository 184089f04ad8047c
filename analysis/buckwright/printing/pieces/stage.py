"""The stage that splits the buck for the printer and reckons what the print takes."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.printing.pieces import findings
from buckwright.printing.settings import PrinterSettings, PrintSettings
from buckwright.stage import Figure, Papers, Stage, Told, entry_of

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.mesh.triangles import Mesh
    from buckwright.printing.pieces.planning import Piece, Pieces
    from buckwright.shape.base.building import Blank
    from buckwright.shape.buck.finishing import Buck
    from buckwright.shape.underside.planning import Underside
    from buckwright.shape.vents.fitting import Vented

__all__ = ["PIECES"]


def _plan(
    buck: "Buck",
    blank: "Blank",
    vented: "Vented",
    grooved: "Underside",
    print: PrintSettings,
    printer: PrinterSettings,
    clock: "Clock",
) -> "Pieces":
    import numpy as np

    from buckwright.printing.pieces.planning import plan_pieces

    vents = [vent.beads() for vent in vented.plan.vents]
    with clock.step("fitting the printer"):
        return plan_pieces(
            buck.solid,
            beads=np.concatenate([np.zeros((0, 4)), *vents, grooved.fixings.beads()]),
            detail_above_mm=blank.plan.judged_above_mm if blank.plan is not None else 0.0,
            printed=print,
            printer=printer,
            told=clock.tick,
        )


def _findings(pieces: "Pieces", told: Told) -> "list[Finding]":
    return findings.about_pieces(pieces, told.job.printer)


def _sections(pieces: "Pieces", _told: Told) -> Mapping[str, Any]:
    return {"print": pieces.to_dict()}


def _facts(pieces: "Pieces", told: Told) -> list[str]:
    amounts = pieces.amounts
    least, most = amounts.time_h
    words = f"Print: {amounts.mass_g:.0f} g of {told.job.print.material}, roughly {least:.0f} to {most:.0f} h"
    if not pieces.split:
        return [words]
    count = f"in {counted(len(pieces.pieces), 'piece')} on {counted(pieces.plates, 'plate')}"
    pins = f", {counted(len(pieces.pins), 'loose pin')}" if pieces.pins else ""
    return [f"{words}, {count}{pins}"]


def _stored(pieces: "Pieces") -> "Iterator[tuple[Piece, Mesh]]":
    """Pieces and pins as they lie on their plates."""
    from buckwright.mesh.manifolds import from_manifold
    from buckwright.output.storable import storable

    for piece in (*pieces.pieces, *pieces.pins):
        yield piece, storable(from_manifold(piece.laid()))


def _files(pieces: "Pieces", told: Told) -> dict[str, bytes]:
    from buckwright.output.stl import stl_bytes
    from buckwright.output.threemf import Metadata, threemf_available, threemf_bytes

    if not pieces.split:
        return {}
    files: dict[str, bytes] = {}
    plates: dict[int, dict[str, Mesh]] = {}
    for piece, mesh in _stored(pieces):
        title = f"{told.title} {piece.name}"
        # pins of one width are alike: one file serves them all
        files[f"{piece.stem}.stl"] = stl_bytes(mesh, title=title)
        assert piece.place is not None
        plates.setdefault(piece.place.plate, {})[title] = mesh
    if threemf_available() is None:
        for number, bodies in plates.items():
            title = f"{told.title}, plate {number + 1} of {pieces.plates}"
            files[f"plate_{number + 1}.3mf"] = threemf_bytes(bodies, metadata=Metadata(title=title))
    return files


def _pictures(pieces: "Pieces", told: Told) -> dict[str, bytes]:
    from buckwright.printing.pieces.pictures import draw_pieces

    return draw_pieces(pieces, title=told.title) if pieces.split else {}


def _arrays(pieces: "Pieces", _told: Told) -> Mapping[str, Any]:
    import numpy as np

    from buckwright.mesh.manifolds import from_manifold

    if not pieces.split:
        return {}
    made: dict[str, Any] = {
        "piece_names": np.array([piece.name for piece in pieces.pieces]),
        "split_planes": pieces.planes_mm,
    }
    for piece in pieces.pieces:
        mesh = from_manifold(piece.solid)
        made[f"piece_{piece.name}_vertices"] = np.asarray(mesh.vertices, np.float64)
        made[f"piece_{piece.name}_faces"] = np.asarray(mesh.faces, np.int32)
    return made


PIECES = Stage(
    name="pieces",
    title="fitting the printer",
    gives="pieces",
    needs=("buck", "blank", "vented", "grooved", "print", "printer"),
    run=_plan,
    tables={"print": PrintSettings, "printer": PrinterSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    papers=(Papers(make=_files), Papers(make=_pictures, picture=True)),
    arrays=_arrays,
    figures=(
        Figure(name="print_g", label="Print", unit="g", of=entry_of("print.whole.mass_g"), better="less"),
    ),
)
