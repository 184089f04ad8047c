"""The stage that finds pockets: where the sheet traps air on its way down."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.stage import ColorMap, Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.shape.base.building import Blank
    from buckwright.survey.pockets.find_pockets import Pockets

__all__ = ["POCKETS"]

_PIXELS = 768


def _find(
    blank: "Blank", enabled: bool, min_pocket_mm: float | None, thickness_mm: float, clock: "Clock"
) -> "Pockets | None":
    """None where no vents are wanted."""
    from buckwright.relief.raster import relief_of
    from buckwright.survey.pockets.find_pockets import find_pockets, least_pocket_depth_mm

    if not enabled or blank.plan is None:
        return None
    with clock.step("finding pockets of air"):
        return find_pockets(
            relief_of(blank.mesh, pixel_mm=float(blank.mesh.size[:2].max()) / _PIXELS),
            min_depth_mm=min_pocket_mm or least_pocket_depth_mm(thickness_mm),
            sharpest_radius_mm=max(thickness_mm, 0.25),
            foot_mm=blank.plan.flange_z_mm,
            tick=clock.tick,
        )


def _sections(pockets: "Pockets", _told: Told) -> Mapping[str, Any]:
    return {"pockets": pockets.to_dict()["pockets"]}


def _arrays(pockets: "Pockets", told: Told) -> Mapping[str, Any]:
    """`pocket_mm`: gap under the sheet over a face when its pocket closed; 0 elsewhere and where trapped."""
    import numpy as np

    sources = told.sources()
    gap = np.zeros(len(sources.source), np.float32)
    seen = sources.source >= 0
    seen[seen] = told.results["surveyed"].free_faces[sources.source[seen]]
    gap[seen] = pockets.gap_at(told.stand.places(sources.middles[seen]))
    return {"pocket_mm": gap}


def _automatic(pockets: "Pockets") -> Mapping[str, Any]:
    return {"vents.min_pocket_mm": pockets.min_depth_mm}


POCKETS = Stage(
    name="pockets",
    title="finding pockets of air",
    gives="pockets",
    needs=("blank", "vents.enabled", "vents.min_pocket_mm", "sheet.thickness_mm"),
    run=_find,
    keep=True,
    sections=_sections,
    arrays=_arrays,
    automatic=_automatic,
    maps=(
        ColorMap(
            array="pocket_mm",
            label="Pocket Depth",
            tip="Depth of the pocket a face lies in",
            unit="mm",
            zero_is_free=True,
        ),
    ),
)
