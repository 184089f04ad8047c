"""The forecast: what a sheet in a frame will do on this buck, from its relief."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.errors import InputError
from buckwright.findings import Finding
from buckwright.forming.contact_pockets import ContactPocket, contact_pockets
from buckwright.forming.forecast_words import TRUST, findings_of
from buckwright.forming.ground import Ground, ground_of, overlooked_mm
from buckwright.forming.membrane import Law, Reference, laws, reference
from buckwright.forming.sag import sagged
from buckwright.forming.sheet_grid import SheetGrid, place_in_frame, rectangle, sheet_grid
from buckwright.forming.steps import CLAMPED, FULL, LANDED, PREVIEW, Formed, form_sheet
from buckwright.forming.thickness import at_points, formed_area_mm2, nodal_thickness, thinnest
from buckwright.forming.webs import Web, find_webs
from buckwright.relief.raster import Relief

__all__ = ["Forecast", "Settings", "forecast"]

type Height = Callable[[NDArray[np.float64]], ArrayLike]

_STANDARD_NODES = {"preview": 5_000, "full": 20_000}
_PERCENTILES = (1, 5, 25, 50, 75, 95)
_PIXELS_A_CELL = 8
_START_MM = 1e-3  # of a cell: the sheet starts this much over the highest point
_RADIUS_PULL = 2.0  # pull over modulus and thickness in a fillet stretched twofold: s - s^-3


@dataclass(frozen=True, slots=True)
class Settings:
    """What a forecast was asked.

    Attributes
    ----------
    sheet_mm : thickness before forming
    frame_mm : (2,) width and depth of the frame
    sag_mm : how far the hot sheet hangs
    law : name of the law of the sheet, and the share of the second invariant
    pressure_per_mm : pressure difference over modulus and thickness at the end
    sharpest_radius_mm : the radius that a twofold stretched sheet keeps in a corner at that pressure
    quality : 'preview' or 'full'
    nodes : of the sheet
    cell_mm : side of its triangles
    vents : how many vents were given; None: air leaves everywhere
    """

    sheet_mm: float
    frame_mm: tuple[float, float]
    sag_mm: float
    law: str
    second_share: float
    pressure_per_mm: float
    sharpest_radius_mm: float
    quality: str
    nodes: int
    cell_mm: float
    vents: int | None

    def to_dict(self) -> dict[str, Any]:
        """Plain values for report.json."""
        return {name: getattr(self, name) for name in self.__dataclass_fields__} | {
            "frame_mm": list(self.frame_mm)
        }


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """What the sheet does.

    Attributes
    ----------
    points : (N, 3) float64, mm, the formed sheet; triangles (T, 3) int32
    flat : (N, 2) float64, mm, the same nodes in the flat sheet
    thickness_mm : (N,) float64; the mean of the folds in a web
    contact : (N,) float64, order of contact as a share of the way, 0 to 1; -1 in the frame, nan where the
        sheet never arrives
    gap_mm : (N,) float64, what is left between sheet and buck
    on_buck : (N,) bool
    webs, pockets : the largest first
    thinnest_mm, thinnest_at_mm : the thinnest place on the buck as a mean over neighbouring triangles, (3,)
    percentiles_mm : thickness on the buck by area, at 1, 5, 25, 50, 75 and 95 per cent
    mean_mm : on the buck by area
    areal_draw_ratio : formed area over flat area of the sheet that covers the buck
    volume_error : relative, of the whole sheet
    overlooked_mm : how far the buck stands out between the nodes, at most: what is smaller than a cell
    findings : in plain words
    settings : what was asked
    formed : the run itself
    """

    points: NDArray[np.float64]
    triangles: NDArray[np.int32]
    flat: NDArray[np.float64]
    thickness_mm: NDArray[np.float64]
    contact: NDArray[np.float64]
    gap_mm: NDArray[np.float64]
    on_buck: NDArray[np.bool_]
    webs: tuple[Web, ...]
    pockets: tuple[ContactPocket, ...]
    thinnest_mm: float
    thinnest_at_mm: tuple[float, float, float]
    percentiles_mm: tuple[float, ...]
    mean_mm: float
    areal_draw_ratio: float
    volume_error: float
    overlooked_mm: float
    findings: tuple[Finding, ...]
    settings: Settings
    formed: Formed

    @property
    def trust(self) -> str:
        """How far it can be trusted, in words."""
        return TRUST

    def thickness_at(self, places: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Thickness (M,) at places on the buck (M, 3), and how far the sheet stays off them (M,), mm."""
        return at_points(np.asarray(places, np.float64), self.points, self.triangles, self.thickness_mm)

    def contact_at(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Order of contact (M,) at places on the buck (M, 3), 0 to 1; 1 where the sheet never arrives."""
        order = np.clip(np.where(np.isnan(self.contact), 1.0, self.contact), 0.0, 1.0)
        return at_points(np.asarray(places, np.float64), self.points, self.triangles, order)[0]

    def to_dict(self) -> dict[str, Any]:
        """The section in report.json."""
        names = (f"{p}" for p in _PERCENTILES)
        return {
            "thickness_percentiles_mm": dict(zip(names, self.percentiles_mm, strict=True)),
            "thinnest": {
                "mm": self.thinnest_mm,
                "share": self.thinnest_mm / self.settings.sheet_mm,
                "where_mm": list(self.thinnest_at_mm),
            },
            "mean_mm": self.mean_mm,
            "areal_draw_ratio": self.areal_draw_ratio,
            "volume_error": self.volume_error,
            "pockets": [pocket.to_dict() for pocket in self.pockets],
            "webs": [web.to_dict() for web in self.webs],
            "overlooked_mm": self.overlooked_mm,
            "loads_without_rest": self.formed.forced,
            "stopped": self.formed.stopped,
            "nodes": self.settings.nodes,
            "settings": self.settings.to_dict(),
            "trust": self.trust,
        }


def forecast(
    relief: Relief | Height,
    *,
    frame_mm: tuple[float, float] | ArrayLike,
    sheet_mm: float,
    law: str | Law = "neo-Hookean",
    sag_mm: float = 0.0,
    nodes: int | None = None,
    quality: Literal["preview", "full"] = "full",
    sharpest_radius_mm: float | None = None,
    pressure_pa: float | None = None,
    modulus_pa: float | None = None,
    vents_mm: ArrayLike | None = None,
    foot_mm: float = 0.0,
    trim_mm: float | None = None,
    least_pocket_mm: float | None = None,
    tallest_mm: float | None = None,
    tick: Callable[[float], None] | None = None,
) -> Forecast:
    """Lower a sheet over a buck, empty the space under it, and say what comes of it.

    Parameters
    ----------
    relief : the finished buck seen down the pull; overhangs are closed as the sheet sees them. Platen z = 0.
        A function takes points (N, 2) and gives heights (N,)
    frame_mm : (width, depth) round the middle of the buck, or the outline (P, 2) in the buck's frame
    sheet_mm : thickness before forming, over 0
    law : 'neo-Hookean', 'Mooney-Rivlin' (a tenth on the second invariant), or a Law
    sag_mm : how far the hot sheet hangs in the frame before forming, >= 0
    nodes : of the sheet; 20,000 in full, 5,000 in a preview
    quality : a preview takes twice the step and half the care
    sharpest_radius_mm : of the sheet at full vacuum, its thickness if nothing is known. Not less than half a
        cell, which is as much as the mesh can show
    pressure_pa, modulus_pa : instead of the radius, the pressure difference and the shear modulus of the hot
        sheet: pressure / (modulus x thickness)
    vents_mm : (V, 2+) where air leaves; then what is shut in without a vent bears no pressure and stays
        bridged. None: air leaves everywhere, and `pockets` says where it could not
    foot_mm : ground up to this height lets air out, as the base has vents there
    trim_mm : height of the trim line, for the webs
    least_pocket_mm : gap from which a pocket counts; 0.4 of the sheet, at least 0.3 mm, if not given
    tallest_mm : greatest height that the machine takes
    tick : called at every step with the share done, 0 to 1; may raise to stop

    Returns
    -------
    Forecast

    Raises
    ------
    InputError
        The sheet is not thicker than 0, the frame does not go round the buck, the buck is taller than the
        machine takes, a law is unknown, or a setting is out of range.

    Notes
    -----
    Membrane without bending, without heat, one law; it sticks where it touches (a cold buck freezes the
    sheet), so places touched first come out thicker and the last ones thinner than on a buck where the sheet
    slips. On round and plane cases the error at 20,000 nodes is under 1 % of the thickness; against measured
    parts expect about 30 % (see `trust`).
    """
    _check(sheet_mm, sag_mm, foot_mm, quality)
    radius = sharpest_radius_mm if sharpest_radius_mm is not None else sheet_mm
    least = least_pocket_mm if least_pocket_mm is not None else max(0.3, 0.4 * sheet_mm)
    outline = _outline(relief, frame_mm)
    grid = sheet_grid(outline, nodes=_STANDARD_NODES[quality] if nodes is None else nodes)
    bounds = np.array([outline.min(0), outline.max(0)])
    ground = ground_of(relief, bounds_xy=bounds, pixel_mm=grid.cell_mm / _PIXELS_A_CELL)
    gap_mm = _gap_to_frame(ground, outline, tallest_mm)
    pressure = _pressure(sheet_mm, radius, grid.cell_mm, pressure_pa, modulus_pa)
    chosen = _law(law)
    start, ref = _hung(grid, ground, sag_mm)
    vents = None if vents_mm is None else np.asarray(vents_mm, np.float64).reshape(-1, np.shape(vents_mm)[-1])
    formed = form_sheet(
        grid,
        ref,
        ground,
        start=start,
        frame_to_mm=ground.platen_mm,
        pressure_per_mm=pressure,
        law=chosen,
        care=FULL if quality == "full" else PREVIEW,
        vents_mm=vents,
        tick=tick,
    )
    settings = Settings(
        sheet_mm=float(sheet_mm),
        frame_mm=(float(np.ptp(outline[:, 0])), float(np.ptp(outline[:, 1]))),
        sag_mm=float(sag_mm),
        law=chosen.name,
        second_share=chosen.share,
        pressure_per_mm=pressure,
        sharpest_radius_mm=_RADIUS_PULL / pressure,
        quality=quality,
        nodes=len(grid.nodes),
        cell_mm=grid.cell_mm,
        vents=None if vents is None else len(vents),
    )
    webs = find_webs(formed.points, ref, turned=formed.turned, platen_mm=ground.platen_mm, trim_mm=trim_mm)
    pockets = contact_pockets(
        formed, grid.triangles, ground, least_depth_mm=least, foot_mm=foot_mm, vents_mm=vents
    )
    result = _collected(grid, ref, ground, formed, webs, pockets, settings, foot_mm)
    return replace(result, findings=tuple(findings_of(result, height_mm=ground.top_mm, gap_mm=gap_mm)))


def _check(sheet_mm: float, sag_mm: float, foot_mm: float, quality: str) -> None:
    if not (math.isfinite(sheet_mm) and sheet_mm > 0.0):
        raise InputError(f"the sheet must be thicker than 0 mm, got {sheet_mm}")
    if not (math.isfinite(sag_mm) and sag_mm >= 0.0):
        raise InputError(f"the sag is at least 0 mm, got {sag_mm}")
    if not (math.isfinite(foot_mm) and foot_mm >= 0.0):
        raise InputError(f"the height of the foot is at least 0 mm, got {foot_mm}")
    if quality not in _STANDARD_NODES:
        raise InputError(f"the quality is one of {', '.join(_STANDARD_NODES)}, got {quality!r}")


def _law(law: str | Law) -> Law:
    if isinstance(law, Law):
        return law
    known = laws()
    if law not in known:
        raise InputError(f"no law of the sheet is called {law!r}; known: {', '.join(known)}")
    return known[law]


def _pressure(
    sheet_mm: float, radius_mm: float, cell_mm: float, pressure_pa: float | None, modulus_pa: float | None
) -> float:
    if not radius_mm > 0.0:
        raise InputError(f"the sharpest radius must be over 0 mm, got {radius_mm}")
    if (pressure_pa is None) != (modulus_pa is None):
        raise InputError("give both the pressure difference and the modulus of the hot sheet, or neither")
    if pressure_pa is not None and modulus_pa is not None:
        if not (pressure_pa > 0.0 and modulus_pa > 0.0):
            raise InputError(f"pressure and modulus must be over 0, got {pressure_pa} and {modulus_pa} Pa")
        radius_mm = _RADIUS_PULL * modulus_pa * sheet_mm / pressure_pa
    return _RADIUS_PULL / max(radius_mm, 0.5 * cell_mm)


def _outline(relief: Relief | Height, frame_mm: tuple[float, float] | ArrayLike) -> NDArray[np.float64]:
    frame = np.asarray(frame_mm, np.float64)
    if frame.shape != (2,):
        return frame
    if not (np.isfinite(frame).all() and (frame > 0.0).all()):
        raise InputError(f"the frame must be wider and deeper than 0 mm, got {frame.tolist()}")
    middle = np.zeros(2)
    if isinstance(relief, Relief):
        rows, columns = np.nonzero(np.isfinite(relief.height) & (relief.height > 0.0))
        if len(rows):
            ends = np.array([[columns.min(), rows.min()], [columns.max() + 1, rows.max() + 1]])
            middle = relief.origin + ends.mean(0) * relief.pixel_mm
    return rectangle(*frame) + middle


def _gap_to_frame(ground: Ground, outline: NDArray[np.float64], tallest_mm: float | None) -> float:
    """Least way from buck to frame; refuses a frame that does not go round it."""
    rows, columns = np.nonzero(ground.on_buck)
    if not len(rows):
        raise InputError("there is nothing over the platen to form over: is the buck below z = 0?")
    if tallest_mm is not None and ground.top_mm > tallest_mm:
        raise InputError(
            f"the buck is {ground.top_mm:.1f} mm tall, the machine takes {tallest_mm:.1f} mm: "
            "lower the riser, scale the part or turn it"
        )
    places = ground.origin + (np.stack([columns, rows], axis=1) + 0.5) * ground.pixel_mm
    inside, away = place_in_frame(outline, places)
    if not inside.all():
        size = np.ptp(places, axis=0) + ground.pixel_mm
        frame = np.ptp(outline, axis=0)
        raise InputError(
            f"the frame of {frame[0]:.0f} x {frame[1]:.0f} mm does not go round the buck of "
            f"{size[0]:.0f} x {size[1]:.0f} mm; choose a larger frame, or move or turn the buck"
        )
    return float(away.min()) - 0.5 * ground.pixel_mm


def _hung(grid: SheetGrid, ground: Ground, sag_mm: float) -> tuple[NDArray[np.float64], Reference]:
    """The sheet over the buck before the frame comes down, and what it is without stress."""
    drop = sagged(grid, sag_mm)
    frame = float((ground.at(grid.nodes) + drop).max()) + _START_MM * grid.cell_mm
    # between the nodes a peak may stand higher than at any of them
    frame = max(frame, ground.top_mm + float(drop.min()) + _START_MM * grid.cell_mm)
    start = np.column_stack([grid.nodes, frame - drop])
    flat_area = float(grid.area_mm2.sum())
    return start, reference(start, grid.triangles, flat_area_mm2=flat_area)


def _collected(
    grid: SheetGrid,
    ref: Reference,
    ground: Ground,
    formed: Formed,
    webs: tuple[Web, ...],
    pockets: tuple[ContactPocket, ...],
    settings: Settings,
    foot_mm: float,
) -> Forecast:
    points, triangles = formed.points, grid.triangles
    thickness = settings.sheet_mm * nodal_thickness(points, ref)
    area = formed_area_mm2(points, triangles)
    on_buck = ground.has_buck(points) & (formed.state != CLAMPED)
    covering = on_buck[triangles].all(1) & (points[triangles][:, :, 2].max(1) > foot_mm + 1e-6)
    if not covering.any():
        covering = on_buck[triangles].any(1)
    share = np.zeros(len(points))
    np.add.at(share, triangles[covering].ravel(), np.repeat(area[covering] / 3.0, 3))
    volume = ref.area_mm2 * ref.weight
    thin, where = thinnest(points, triangles, covering, area, volume)
    order = np.argsort(thickness)
    passed = np.cumsum(share[order])
    levels = np.searchsorted(passed, np.array(_PERCENTILES) / 100.0 * passed[-1])
    nodal = np.bincount(triangles.ravel(), np.repeat(area / 3.0, 3), len(points))
    whole = float(settings.sheet_mm * grid.area_mm2.sum())
    return Forecast(
        points=points,
        triangles=triangles,
        flat=grid.nodes,
        thickness_mm=thickness,
        contact=_order(formed),
        gap_mm=np.where(formed.state == LANDED, 0.0, np.maximum(points[:, 2] - ground.at(points), 0.0)),
        on_buck=on_buck,
        webs=webs,
        pockets=pockets,
        thinnest_mm=settings.sheet_mm * thin,
        thinnest_at_mm=where,
        percentiles_mm=tuple(float(thickness[order[min(k, len(order) - 1)]]) for k in levels),
        mean_mm=float(settings.sheet_mm * volume[covering].sum() / area[covering].sum()),
        areal_draw_ratio=float(area[covering].sum() / volume[covering].sum()),
        volume_error=float((nodal * thickness).sum()) / whole - 1.0,
        overlooked_mm=overlooked_mm(points, triangles, ground),
        findings=(),
        settings=settings,
        formed=formed,
    )


def _order(formed: Formed) -> NDArray[np.float64]:
    """Step of contact as a share of all steps; the landing counts, not the seconds."""
    order = formed.touched / max(len(formed.pressure_per_mm), 1)
    order[formed.state == CLAMPED] = -1.0
    order[~np.isfinite(formed.touched)] = np.nan
    return order
