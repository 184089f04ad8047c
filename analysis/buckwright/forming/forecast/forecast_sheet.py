"""The forecast: what a sheet in a frame will do on this buck, from its relief."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buckwright.forming.forecast.figures import figures_of, order_of_contact
from buckwright.forming.forecast.formed import CLAMPED, FINE, LANDED, PREVIEW, Formed
from buckwright.forming.forecast.heat import colder_c, stiff_from
from buckwright.forming.forecast.heat_map import EVEN
from buckwright.forming.forecast.landing import LandingSurface, landing_surface, overlooked_mm
from buckwright.forming.forecast.membrane import Law, Reference, reference
from buckwright.forming.forecast.part import Part, part_of
from buckwright.forming.forecast.request import (
    RADIUS_PULL,
    STANDARD_NODES,
    Height,
    check_heat,
    check_model,
    check_settings,
    check_slip,
    finest_of,
    gap_to_frame_mm,
    law_of,
    outline_of,
    pixel_of,
    pressure_per_mm,
    vents_of,
)
from buckwright.forming.forecast.result import Forecast, ForecastInputs
from buckwright.forming.forecast.sag import sagged
from buckwright.forming.forecast.sheet_grid import SheetGrid, sheet_grid
from buckwright.forming.forecast.soap_film import press_film
from buckwright.forming.forecast.steps import form_sheet
from buckwright.forming.forecast.thickness import formed_area_mm2, nodal_thickness
from buckwright.forming.forecast.thresholds import LEAST_WEB_MM, SEEN_MM3
from buckwright.forming.forecast.trapped_air import TrappedAir, find_trapped_air
from buckwright.forming.forecast.webs import Web, find_webs
from buckwright.relief.raster import Relief

__all__ = ["forecast_sheet"]

_START_MM = 1e-3  # of a cell: the sheet starts this far above the highest point


def forecast_sheet(
    relief: Relief | Height,
    *,
    frame_mm: tuple[float, float] | ArrayLike,
    sheet_mm: float,
    law: str | Law = "neo-Hookean",
    sag_mm: float = 0.0,
    friction: float | None = None,
    sticks_after: float | None = None,
    rim_colder_c: float = 0.0,
    heat_map: str = EVEN,
    nodes: int | None = None,
    finest_mm: float | None = None,
    quality: Literal["preview", "fine"] = "fine",
    model: Literal["membrane", "geometric"] = "membrane",
    sharpest_radius_mm: float | None = None,
    pressure_pa: float | None = None,
    modulus_pa: float | None = None,
    vents_mm: ArrayLike | None = None,
    platen_mm: float = 0.0,
    foot_mm: float = 0.0,
    trim_mm: float | None = None,
    rim: tuple[NDArray[np.float64], ...] = (),
    least_pocket_mm: float | None = None,
    machine_height_mm: float | None = None,
    begun: Forecast | None = None,
    tick: Callable[[float], None] | None = None,
) -> Forecast:
    """Lower a sheet over a buck, evacuate the space under it, and report the result.

    Parameters
    ----------
    relief : the finished buck seen down the pull; overhangs are closed as the sheet sees them. Platen z = 0.
        A function takes points (N, 2) and gives heights (N,)
    frame_mm : (width, depth) centred on the buck, or the outline (P, 2) in the buck's frame
    sheet_mm : thickness before forming, over 0
    law : 'neo-Hookean', 'Mooney-Rivlin' (a tenth on the second invariant), or a Law
    sag_mm : how far the hot sheet sags in the frame before forming, >= 0
    friction : Coulomb's coefficient between hot sheet and buck, 0 to 2; None: what touches stays where it is.
        Takes four to ten times as long
    sticks_after : share of the frame's way after which a sliding sheet has chilled and sticks, > 0; what the
        air presses on then sticks at once. None: it never does
    rim_colder_c : how much colder the sheet is at its clamp than in the middle, 0 to `request.MOST_COLDER_C`
    heat_map : relative heat over the frame, rows from back to front parted by semicolons; empty: even
    nodes : of the sheet at first; by default 10,000 for 'fine', 2,500 for 'preview'
    finest_mm : what is still free is split as it lands, until its cells are about as long; by default half
        the sharpest radius for 'fine', the radius for 'preview'. Infinite: not at all
    quality : a preview takes longer steps and looser tolerances
    model : 'membrane', or 'geometric': the classical picture of a free sheet of even thickness, without law,
        sag, friction, webs or trapped air, as a second opinion
    pressure_pa, modulus_pa : pressure difference, and shear modulus of the hot sheet; by default those of
        `request.VACUUM_PA` and `request.HOT_MODULUS_PA`, which leave a radius of the sheet's thickness
    sharpest_radius_mm : instead of them, the radius that the sheet keeps in a corner
    vents_mm : (V, 2+) where air leaves; then what is shut in without a vent bears no pressure and stays
        bridged. None: air leaves everywhere, and `trapped_air` says where it could not
    platen_mm : height at which the frame comes to rest, and of the ground round the buck, >= 0: 0, or the
        clamp plane of a reducing set. What lies lower is not formed
    foot_mm : ground up to this height lets air out, as the base has vents there
    trim_mm : height of the trim line, for the webs
    rim : outlines (M, 2) each, mm, of a cavity at its trim line: the part lies below that within them, and
        not above the foot
    least_pocket_mm : gap from which a pocket counts; 0.4 of the sheet, at least 0.3 mm, if not given
    machine_height_mm : greatest height that the machine takes
    begun : a forecast of the same sheet on the same relief that was asked the same but for its vents: the way
        of the sheet until air leaves is taken from it
    tick : called at every step with the share done, 0 to 1; may raise to stop

    Returns
    -------
    Forecast

    Raises
    ------
    InputError
        The sheet is not thicker than 0, the frame does not surround the buck, the buck is taller than the
        machine takes, a law is unknown, or a setting is out of range.

    Notes
    -----
    Membrane without bending, without heat, one law; without `friction` it sticks where it touches (a cold
    buck freezes the sheet), so spots touched first come out thicker and the last ones thinner than on a buck
    where the sheet slips. On round and plane cases the error at 20,000 nodes is under 1 % of the thickness of
    a sheet that sticks; against measured parts expect about 30 % (see `trust`).
    """
    check_settings(sheet_mm, sag_mm, foot_mm, quality)
    check_model(model, sag_mm, vents_mm, friction)
    check_heat(model, rim_colder_c, heat_map)
    check_slip(friction, sticks_after)
    least = least_pocket_mm if least_pocket_mm is not None else max(0.3, 0.4 * sheet_mm)
    outline = outline_of(relief, frame_mm)
    grid = sheet_grid(outline, nodes=STANDARD_NODES[quality] if nodes is None else nodes)
    pressure = pressure_per_mm(sheet_mm, sharpest_radius_mm, pressure_pa, modulus_pa)
    finest = finest_of(finest_mm, RADIUS_PULL / pressure, quality=quality, model=model)
    bounds = np.array([outline.min(0), outline.max(0)])
    pixel = pixel_of(bounds, min(finest, grid.cell_mm))
    ground = landing_surface(relief, bounds_xy=bounds, pixel_mm=pixel, platen_mm=platen_mm)
    gap_mm = gap_to_frame_mm(ground, outline, machine_height_mm)
    chosen = law_of(law)
    vents = vents_of(vents_mm)
    care = FINE if quality == "fine" else PREVIEW
    if model == "geometric":
        formed, ref = press_film(grid, ground, pressure_per_mm=pressure / RADIUS_PULL, tick=tick)
    else:
        colder = colder_c(grid, rim_colder_c=rim_colder_c, heat_map=heat_map)
        start, ref = _hung(grid, ground, sag_mm, stiff_from(colder, grid.triangles))
        formed = form_sheet(
            grid,
            ref,
            ground,
            start=start,
            frame_to_mm=ground.platen_mm,
            pressure_per_mm=pressure,
            law=chosen,
            care=care,
            friction=friction,
            sticks_after_mm=_way_mm(start, ground, sticks_after),
            vents_mm=vents,
            finest_mm=finest,
            begun=None if begun is None else begun.formed,
            tick=tick,
        )
        ref = reference(formed.rest, formed.grid.triangles, flat_area_mm2=float(grid.area_mm2.sum()))
    settings = ForecastInputs(
        sheet_mm=float(sheet_mm),
        frame_mm=(float(np.ptp(outline[:, 0])), float(np.ptp(outline[:, 1]))),
        sag_mm=float(sag_mm),
        friction=None if friction is None else float(friction),
        sticks_after=None if sticks_after is None else float(sticks_after),
        rim_colder_c=float(rim_colder_c),
        heat_map=heat_map,
        law=chosen.name if model == "membrane" else "none",
        second_share=chosen.share,
        pressure_per_mm=pressure,
        sharpest_radius_mm=RADIUS_PULL / pressure,
        quality=quality,
        model=model,
        nodes=len(formed.points),
        first_nodes=len(grid.nodes),
        cell_mm=grid.cell_mm,
        finest_cell_mm=formed.grid.cell_mm,
        vents=None if vents is None else len(vents),
    )
    webs = find_webs(
        formed.points,
        ref,
        turned=formed.turned,
        platen_mm=ground.platen_mm,
        trim_mm=None if rim else trim_mm,
        least_mm=LEAST_WEB_MM,
    )
    air = find_trapped_air(
        formed,
        formed.grid.triangles,
        ground,
        least_depth_mm=least,
        least_mm3=SEEN_MM3,
        foot_mm=max(foot_mm - platen_mm, 0.0),
        vents_mm=vents,
    )
    on_buck = ground.has_buck(formed.points) & (formed.state != CLAMPED)
    foot = max(foot_mm, platen_mm)
    part = part_of(formed, ref, ground, on_buck=on_buck, foot_mm=foot, rim=rim, trim_mm=trim_mm)
    result = _collected(formed.grid, ref, ground, formed, webs, air, settings, part, on_buck)
    return replace(result, height_mm=ground.top_mm, gap_to_frame_mm=gap_mm)


def _way_mm(start: NDArray[np.float64], ground: LandingSurface, share: float | None) -> float:
    """A share of the frame's way, mm; infinite where it is None."""
    return math.inf if share is None else share * (float(start[:, 2].max()) - ground.platen_mm)


def _hung(
    grid: SheetGrid, ground: LandingSurface, sag_mm: float, stiff: NDArray[np.float64]
) -> tuple[NDArray[np.float64], Reference]:
    """The sheet over the buck before the frame comes down, and its stress-free state."""
    drop = sagged(grid, sag_mm)
    frame = float((ground.at(grid.nodes) + drop).max()) + _START_MM * grid.cell_mm
    # a peak between the nodes may be higher than any of them
    frame = max(frame, ground.top_mm + float(drop.min()) + _START_MM * grid.cell_mm)
    start = np.column_stack([grid.nodes, frame - drop])
    flat_area = float(grid.area_mm2.sum())
    return start, reference(start, grid.triangles, flat_area_mm2=flat_area, stiff=stiff)


def _collected(
    grid: SheetGrid,
    ref: Reference,
    ground: LandingSurface,
    formed: Formed,
    webs: tuple[Web, ...],
    trapped_air: tuple[TrappedAir, ...],
    settings: ForecastInputs,
    part: Part,
    on_buck: NDArray[np.bool_],
) -> Forecast:
    points, triangles = formed.points, grid.triangles
    thickness = settings.sheet_mm * nodal_thickness(points, ref)
    area = formed_area_mm2(points, triangles)
    volume = ref.area_mm2 * ref.weight
    figures = figures_of(
        points, triangles, part, thickness, area, settings.sheet_mm * volume, settings.sheet_mm
    )
    nodal = np.bincount(triangles.ravel(), np.repeat(area / 3.0, 3), len(points))
    whole = float(settings.sheet_mm * grid.area_mm2.sum())
    return Forecast(
        points=points,
        triangles=triangles,
        flat=grid.nodes,
        thickness_mm=thickness,
        contact=order_of_contact(formed),
        gap_mm=np.where(formed.state == LANDED, 0.0, np.maximum(points[:, 2] - ground.at(points), 0.0)),
        on_buck=on_buck,
        webs=webs,
        trapped_air=trapped_air,
        figures=figures,
        cells_mm=formed.grid.cells_mm,
        volume_error=float((nodal * thickness).sum()) / whole - 1.0,
        overlooked_mm=overlooked_mm(points, triangles, ground),
        height_mm=0.0,
        gap_to_frame_mm=0.0,
        settings=settings,
        formed=formed,
    )
