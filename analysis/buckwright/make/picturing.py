"""The pictures of a run. Imported only when some are wanted: the drawing library takes seconds to start."""

import numpy as np

from buckwright.forming.forecast.pictures import ForecastScene, draw_forecast
from buckwright.job import Job
from buckwright.make.foretelling import Foretold
from buckwright.make.looking import Looked
from buckwright.make.shaping import Shaped
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.marks import RegionMark, VentMark
from buckwright.shape.buck.pictures import BuckScene, draw_buck
from buckwright.shape.solid import as_mesh, faces_of
from buckwright.survey.face_maps import FaceMaps
from buckwright.survey.pictures import LookScene, draw_look

__all__ = ["buck_pictures", "sculpt_pictures", "sheet_pictures"]

_MOST_WEBS, _MOST_POCKETS = 6, 8


def sculpt_pictures(
    job: Job, mesh: Mesh, maps: FaceMaps, looked: Looked, *, shaped: Shaped | None = None
) -> dict[str, bytes]:
    """Draw the sculpt (on its base where there is one): PNG by file name."""
    lift = 0.0 if shaped is None else shaped.base.foot_z_mm
    regions = tuple(
        RegionMark(
            i + 1,
            np.array(region.centre_mm) + np.array([0.0, 0.0, lift]),
            f"{region.sideways_mm:.1f} mm sideways, {release.verdict}",
        )
        for i, (region, release) in enumerate(zip(looked.undercuts.regions, looked.releases))
    )
    return draw_look(
        LookScene(
            title=job.job.name or job.sculpt_path.stem,
            mesh=mesh,
            maps=maps,
            wanted_draft_deg=looked.wanted_deg,
            regions=regions,
            vents=_vent_marks(shaped),
            trim_z_mm=None if shaped is None else shaped.base.trim_z_mm,
        )
    )


def buck_pictures(job: Job, shaped: Shaped) -> dict[str, bytes]:
    """Draw the buck: PNG by file name."""
    buck = as_mesh(shaped.solid)
    part = np.full(buck.face_count, 2, np.uint8)
    above = buck.centroids()[:, 2] > shaped.base.foot_z_mm
    part[above] = 0
    if shaped.fill_mark >= 0:
        part[faces_of(shaped.solid, shaped.fill_mark)] = 1
    facts = (
        f"Filled: {shaped.fill.added_volume_mm3 / 1000.0:.1f} cm\u00b3",
        f"Buck: {shaped.solid.volume() / 1000.0:.0f} cm\u00b3",
    )
    return draw_buck(
        BuckScene(
            title=job.job.name or job.sculpt_path.stem,
            mesh=buck,
            part=part,
            vents=_vent_marks(shaped),
            trim_z_mm=shaped.base.trim_z_mm,
            facts=facts,
        )
    )


def sheet_pictures(job: Job, foretold: Foretold, buck: Mesh) -> dict[str, bytes]:
    """Draw the forecast on a buck: PNG by file name."""
    run = foretold.forecast
    webs, pockets = run.webs[:_MOST_WEBS], run.pockets[:_MOST_POCKETS]
    words = [(web.where_mm, f"web {web.length_mm:.0f} mm long{_over(web.crosses_trim_line)}") for web in webs]
    words += [
        (pocket.last_touched_mm, f"shuts in {pocket.volume_mm3 / 1000.0:.2f} ml, touched last here")
        for pocket in pockets
    ]
    share = run.thinnest_mm / run.settings.sheet_mm
    return draw_forecast(
        ForecastScene(
            title=job.job.name or job.sculpt_path.stem,
            sheet=Mesh(run.points, run.triangles),
            thickness_mm=run.thickness_mm,
            blank_mm=run.settings.sheet_mm,
            order=np.where(run.contact < 0.0, np.nan, run.contact),
            buck=buck,
            thinnest_mm=np.array(run.thinnest_at_mm),
            least_mm=run.thinnest_mm,
            webs=tuple(np.array(web.ends_mm) for web in webs),
            marks=tuple(RegionMark(i + 1, np.array(at), text) for i, (at, text) in enumerate(words)),
            facts=(
                f"Thinnest {run.thinnest_mm:.2f} mm ({share:.0%}), mean {run.mean_mm:.2f} mm on the buck.",
                "Against measured parts expect about 30 % either way.",
            ),
        )
    )


def _over(crosses: bool | None) -> str:
    return {True: ", over the trim line", False: ", under the trim line", None: ""}[crosses]


def _vent_marks(shaped: Shaped | None) -> tuple[VentMark, ...]:
    vents = () if shaped is None else shaped.aired.plan.vents
    return tuple(VentMark(np.array(vent.top_mm), vent.face.width_mm, i + 1) for i, vent in enumerate(vents))
