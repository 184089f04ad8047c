"""The stage that draws what is printed on the flat sheet."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buckwright.forming.artwork import findings
from buckwright.forming.artwork.settings import ArtworkSettings
from buckwright.stage import Papers, Stage, Told

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.artwork.carrying import Carried
    from buckwright.forming.artwork.placing import Placed
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.output.flat.drawing import FlatDrawing
    from buckwright.pose.posing import Posed
    from buckwright.shape.base.building import Blank
    from buckwright.workshop.rig.planning import RigPlan

__all__ = ["ARTWORK", "Artwork"]


@dataclass(frozen=True, slots=True, eq=False)
class Artwork:
    """What is printed.

    Attributes
    ----------
    carried : the sheet, flat and formed
    settings : the table [artwork]
    blank_mm : width and depth of the sheet
    trim : where the trim line lies in the flat sheet, (N, 2) each, around the middle of the opening, mm
    placed : where the picture lies on the part; None without a picture, or where it lies by texture
    pixels : (rows, columns, 4) uint8, the picture on the flat sheet, seen from above; None without one
    pips : (N, 3) float64, mm, register pips on the buck; None where none were asked for
    """

    carried: "Carried"
    settings: ArtworkSettings
    blank_mm: tuple[float, float]
    trim: "tuple[NDArray[np.float64], ...]"
    placed: "Placed | None"
    pixels: "NDArray[np.uint8] | None"
    pips: "NDArray[np.float64] | None" = None

    @property
    def moves(self) -> str:
        """How far the print moves, in words."""
        return findings.moves_words(self.carried.farthest_mm, self.carried.mean_mm)

    @property
    def pips_in_sheet(self) -> "NDArray[np.float64]":
        """Where the pips lie in the flat sheet, (N, 2), around the middle of the opening, mm."""
        import numpy as np

        return np.zeros((0, 2)) if self.pips is None else self.carried.flat_at(self.pips)


def _draw(
    source: Any,
    posed: "Posed",
    blank: "Blank",
    formed: "BuckForecast | None",
    rigged: "RigPlan | None",
    artwork: ArtworkSettings,
    pip_mm: float,
    clock: "Clock",
) -> Artwork | None:
    """None where nothing is printed, or without a forecast, which alone knows where the sheet goes."""
    import numpy as np

    from buckwright.errors import InputError
    from buckwright.forming.artwork.carrying import carried_by
    from buckwright.forming.artwork.registering import register_on
    from buckwright.forming.forecast.stage import levels_of
    from buckwright.output.flat.png import image_size

    if not (artwork.file or artwork.grid) or formed is None or rigged is None or blank.plan is None:
        return None
    if blank.plan.over:
        raise InputError(
            "a print cannot be carried into a female mould: leave out artwork.file and artwork.grid, or make "
            "a male one"
        )
    image_size(np.array(rigged.blank_mm), artwork.dots_per_inch)
    with clock.step("drawing the artwork"):
        carried = carried_by(formed.forecast, foot_mm=levels_of(blank).foot_mm)
        rings = [np.asarray(ring) for ring in blank.plan.part.to_polygons()]
        heights = [np.full((len(ring), 1), blank.plan.trim_z_mm) for ring in rings]
        trim = tuple(carried.flat_at(np.hstack([ring, z])) for ring, z in zip(rings, heights))
        if artwork.by == "uv" and artwork.file:
            placed, pixels = None, _by_texture(source, posed, blank, carried, artwork)
        else:
            placed, pixels = _picture(posed, carried, artwork)
    pips = None
    if artwork.register and pip_mm > 0.0:
        pips = register_on(blank.plan)
    return Artwork(carried, artwork, rigged.blank_mm, trim, placed, pixels, pips)


def _picture(posed: "Posed", carried: "Carried", artwork: ArtworkSettings) -> tuple[Any, Any]:
    """Where the picture lies, and its pixels on the flat sheet; None without one."""
    import numpy as np

    from buckwright.forming.artwork.loading import load_picture
    from buckwright.forming.artwork.placing import place_picture
    from buckwright.output.flat.png import image_size

    if not artwork.file:
        return None, None
    picture = load_picture(Path(artwork.file))
    rows, columns = picture.shape[:2]
    placed = place_picture((columns, rows), posed.mesh.bounds[:, :2], artwork, shrinkage=posed.shrinkage)
    width, height = image_size(np.array(carried.opening_mm), artwork.dots_per_inch)
    return placed, carried.onto_flat(picture, placed, (height, width))


def _by_texture(
    source: Any, posed: "Posed", blank: "Blank", carried: "Carried", artwork: ArtworkSettings
) -> Any:
    """The picture's pixels on the flat sheet, by the texture coordinates of the sculpt."""
    import numpy as np

    from buckwright.errors import InputError
    from buckwright.forming.artwork.loading import load_picture
    from buckwright.forming.artwork.texturing import TextureMap, paint_by_texture
    from buckwright.output.flat.png import image_size

    mesh, uv = posed.sculpt.mesh, source.texture()
    if uv is None or len(uv) != mesh.face_count:
        raise InputError(
            "the sculpt has no texture coordinates to lay a picture by: use an OBJ with vt lines, in Blender "
            "an object with a UV map, or artwork.by = 'pull'"
        )
    assert blank.plan is not None
    matrix = posed.matrix
    places = blank.plan.stand.places(mesh.vertices @ matrix[:3, :3].T + matrix[:3, 3])
    width, height = image_size(np.array(carried.opening_mm), artwork.dots_per_inch)
    texture = TextureMap(places, mesh.faces.astype(np.int64), uv)
    return paint_by_texture(carried, load_picture(Path(artwork.file)), texture, (height, width))


def _findings(printed: Artwork, _told: Told) -> "list[Finding]":
    pips = None if printed.pips is None else len(printed.pips)
    return findings.about_artwork(printed.carried.folded_share, printed.moves, pips=pips)


def _sections(printed: Artwork, _told: Told) -> Mapping[str, Any]:
    placed = printed.placed
    return {
        "artwork": {
            "side": printed.settings.side,
            "by": printed.settings.by,
            "dots_per_inch": printed.settings.dots_per_inch,
            "opening_mm": printed.carried.opening_mm,
            "blank_mm": printed.blank_mm,
            "farthest_mm": printed.carried.farthest_mm,
            "mean_mm": printed.carried.mean_mm,
            "folded_share": printed.carried.folded_share,
            "pips": _pips(printed),
            "picture": None
            if placed is None
            else {"size_mm": placed.size_mm, "middle_mm": placed.middle_mm, "turn_deg": placed.turn_deg},
        }
    }


def _pips(printed: Artwork) -> list[dict[str, list[float]]]:
    places = () if printed.pips is None else printed.pips
    return [
        {"at_mm": [float(v) for v in at], "in_sheet_mm": [float(v) for v in flat]}
        for at, flat in zip(places, printed.pips_in_sheet)
    ]


def _facts(printed: Artwork, _told: Told) -> list[str]:
    return [f"Print on the flat sheet: {printed.moves}, sideways"]


def _sheets(printed: Artwork) -> "list[FlatDrawing]":
    from buckwright.forming.artwork.sheets import Register, grid_sheet, picture_sheet

    register = Register(printed.pips_in_sheet, f"The print {printed.moves}")
    opening, settings = printed.carried.opening_mm, printed.settings
    mirrored, sheets = settings.side == "under", []
    if printed.pixels is not None:
        sheets.append(
            picture_sheet(
                printed.pixels, opening, printed.blank_mm, printed.trim, mirrored=mirrored, register=register
            )
        )
    if settings.grid:
        sheets.append(
            grid_sheet(
                opening,
                printed.blank_mm,
                printed.trim,
                grid_mm=settings.grid_mm,
                mirrored=mirrored,
                register=register,
            )
        )
    return sheets


def _files(printed: Artwork, told: Told) -> dict[str, bytes]:
    from buckwright.output.flat.pdf import pdf_bytes
    from buckwright.output.flat.png import png_bytes

    files = {}
    for sheet in _sheets(printed):
        page, title = told.job.templates.page, f"{told.title}: {sheet.title}"
        files[f"{sheet.name}.pdf"] = pdf_bytes([sheet], page=page, title=title)
        files[f"{sheet.name}.png"] = png_bytes(sheet, dots_per_inch=printed.settings.dots_per_inch)
    return files


def _pictures(printed: Artwork, told: Told) -> dict[str, bytes]:
    from buckwright.forming.artwork.pictures import draw_grid_landed, draw_part

    carried = printed.carried
    facts = (
        f"The print {printed.moves}, sideways.",
        "Forecast of a sheet that sticks where it touches.",
    )
    pictures = {}
    if printed.settings.grid:
        pictures["grid_landed.png"] = draw_grid_landed(
            told.title, carried, grid_mm=printed.settings.grid_mm, facts=facts
        )
    if printed.pixels is not None:
        pictures["artwork_part.png"] = draw_part(told.title, carried, printed.pixels, facts=facts)
    return pictures


ARTWORK = Stage(
    name="artwork",
    title="drawing what is printed on the flat sheet",
    gives="printed",
    needs=("source", "posed", "blank", "formed", "rigged", "artwork", "edge.pip_mm"),
    run=_draw,
    tables={"artwork": ArtworkSettings},
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    papers=(Papers(make=_files), Papers(make=_pictures, picture=True)),
)
