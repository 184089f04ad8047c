"""The stage that splits the buck for the printer and reckons what the print takes."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted, percent
from buckwright.printing.pieces import findings
from buckwright.printing.settings import PrinterSettings, PrintSettings
from buckwright.stage import Figure, Papers, Stage, Told, entry_of

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.mesh.triangles import Mesh
    from buckwright.printing.amounts import Amounts
    from buckwright.printing.pieces.planning import Piece, Pieces
    from buckwright.shape.base.building import Blank
    from buckwright.shape.buck.finishing import Buck
    from buckwright.shape.hollow.cavity import Cavity
    from buckwright.shape.underside.planning import Underside
    from buckwright.shape.vents.fitting import Vented

__all__ = ["PIECES"]


def _plan(
    buck: "Buck",
    blank: "Blank",
    vented: "Vented",
    grooved: "Underside",
    hollowed: "Cavity | None",
    print: PrintSettings,
    printer: PrinterSettings,
    clock: "Clock",
) -> "Pieces":
    from dataclasses import replace

    import numpy as np

    from buckwright.printing.amounts import amounts_of
    from buckwright.printing.pieces.lands import filled
    from buckwright.printing.pieces.planning import plan_pieces
    from buckwright.shape.underside.channels import channel_outline
    from buckwright.shape.underside.free_area import free_area

    vents = [vent.beads() for vent in vented.plan.vents]
    ground = free_area(channel_outline(grooved.channels), pixel_mm=1.0)
    with clock.step("fitting the printer"):
        pieces = plan_pieces(
            buck.solid,
            beads=np.concatenate([np.zeros((0, 4)), *vents, grooved.fixings.beads()]),
            grooves=ground.centres()[ground.free],
            cells=hollowed.solid if hollowed is not None and hollowed.spacing_mm else None,
            detail_above_mm=blank.plan.judged_above_mm if blank.plan is not None else 0.0,
            printed=print,
            printer=printer,
            told=clock.tick,
        )
        if hollowed is None:
            return pieces
        whole = amounts_of(filled(buck.solid, hollowed.solid), print, printer)
        return replace(pieces, saved=whole.less(amounts_of(buck.solid, print, printer)))


def _findings(pieces: "Pieces", told: Told) -> "list[Finding]":
    return findings.about_pieces(pieces, told.job.printer, cast=told.job.hollow.kind == "cast")


def _sections(pieces: "Pieces", _told: Told) -> Mapping[str, Any]:
    return {"print": pieces.to_dict()}


def _facts(pieces: "Pieces", told: Told) -> list[str]:
    amounts = pieces.amounts
    least, most = amounts.time_h
    words = (
        f"Print: {amounts.mass_g:.0f} g of {told.job.print.material}, {amounts.filament_m:.0f} m of filament"
        f", roughly {least:.0f} to {most:.0f} h"
    )
    bed = (
        f"First layer {amounts.first_layer_mm2 / 100.0:.0f} cm\u00b2, overhangs flatter than 45 degrees "
        f"{amounts.overhang_mm2 / 100.0:.0f} cm\u00b2"
    )
    more = [bed] if pieces.saved is None else [bed, _saved(pieces.saved, told.job.print.infill_share)]
    if not pieces.split:
        return [words, *more]
    count = f"in {counted(len(pieces.pieces), 'piece')} on {counted(pieces.plates, 'plate')}"
    pins = f", {counted(len(pieces.pins), 'loose pin')}" if pieces.pins else ""
    return [f"{words}, {count}{pins}", *more]


def _saved(saved: "Amounts", infill_share: float) -> str:
    word = "less" if saved.mass_g >= 0.0 else "more"
    least, most = sorted(abs(hours) for hours in saved.time_h)
    return (
        f"Hollow: {abs(saved.mass_g):.0f} g and roughly {least:.1f} to {most:.1f} h {word} than full, with "
        f"{percent(infill_share)} infill"
    )


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
    needs=("buck", "blank", "vented", "grooved", "hollowed", "print", "printer"),
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
