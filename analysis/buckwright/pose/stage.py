"""The stages that bring the sculpt into the pull frame: reading, setups, pull, pose."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.forming.sheets.settings import SheetSettings
from buckwright.pose import findings
from buckwright.pose.body.findings import GROWN, about_growth
from buckwright.pose.settings import FitSettings, JobSettings, PullSettings, SculptSettings
from buckwright.pose.size.settings import SizeSettings
from buckwright.stage import Figure, Papers, Stage, Told, entry_of
from buckwright.survey.settings import DraftSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.pose.aiming import Aim, Offer
    from buckwright.pose.body.placing import Room
    from buckwright.pose.entering import EnteredSculpt
    from buckwright.pose.posing import Posed
    from buckwright.pose.setups.proxy import Proxy

__all__ = ["POSE", "PROXY", "PULL", "SCULPT", "SETUPS"]


def _enter(source: Any, sculpt: SculptSettings, size: SizeSettings, clock: "Clock") -> "EnteredSculpt":
    from buckwright.pose.entering import enter_sculpt

    with clock.step("reading the sculpt"):
        given = source.read()
    return enter_sculpt(given, sculpt, clock, size)


def _offer(
    entered: "EnteredSculpt",
    direction: str | tuple[float, float, float],
    about: tuple[float, float, float],
    cone_deg: float,
    directions: int,
    sink_mm: float | str,
    material: str,
    draft: DraftSettings,
    form: str,
    clock: "Clock",
) -> "Offer":
    from buckwright.pose.aiming import offer
    from buckwright.survey.stage import wanted_deg

    with clock.step("finding the pull"):
        return offer(
            entered.entered.mesh,
            direction=direction,
            about=about,
            cone_deg=cone_deg,
            directions=directions,
            sink_mm=sink_mm,
            draft_deg=wanted_deg(draft, SheetSettings(material=material), form),
            clock=clock,
        )


def _simplify(entered: "EnteredSculpt", clock: "Clock") -> "Proxy":
    from buckwright.pose.setups.proxy import proxy_of

    with clock.step("simplifying the sculpt"):
        return proxy_of(entered.entered.mesh)


def _aim(offered: "Offer", setup: int, sink_mm: float | str, clock: "Clock") -> "Aim":
    from buckwright.pose.aiming import aim

    with clock.step("taking a setup"):
        return aim(offered, setup, sink_mm)


def _setups(aim: "Aim", _told: Told) -> Mapping[str, Any]:
    entries = [
        {"number": number, "taken": number == aim.taken} | setup.to_dict()
        for number, setup in enumerate(aim.setups, 1)
    ]
    return {"setups": entries} if entries else {}


def _pull_findings(aim: "Aim", _told: Told) -> "list[Finding]":
    return findings.about_setups(aim)


def _pull_facts(aim: "Aim", _told: Told) -> list[str]:
    if not aim.taken or len(aim.setups) < 2:
        return []
    setup = aim.setups[aim.taken - 1]
    where = findings.way_words(setup.direction)
    return [f"Setup {aim.taken} of {len(aim.setups)}: pulled along {where}, {setup.note}"]


def _setup_pictures(aim: "Aim", told: Told) -> Mapping[str, bytes]:
    from buckwright.pose.setups.pictures import draw_setups

    if len(aim.setups) < 2:
        return {}
    return draw_setups(told.results["offered"].shape, aim.setups, title=told.title, taken=aim.taken)


def _setup_images(offered: "Offer", _told: Told) -> Mapping[str, Any]:
    """`setup_images` (setups, rows, columns, 4) uint8: from above and, below that, from the side."""
    return {"setup_images": offered.images} if len(offered.setups) > 1 else {}


def _pose(
    entered: "EnteredSculpt",
    aim: "Aim",
    sheet: SheetSettings,
    fit: FitSettings,
    sink_mm: float | str,
    room: "Room | None",
    mirror: str,
    form: str,
    clock: "Clock",
) -> "Posed":
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.pose.posing import pose

    return pose(
        entered,
        aim,
        material=material_of(sheet.material),
        sheet_mm=sheet.thickness_mm,
        sink_mm=sink_mm,
        fit=fit,
        room=room,
        clock=clock,
        mirror=mirror,
        form=form,
    )


def _findings(posed: "Posed", told: Told) -> "list[Finding]":
    filled = told.get("filled")
    found = findings.about_pose(
        posed,
        stand=told.stand,
        added_mm3=None
        if filled is None or filled.figures.mode == "none"
        else filled.figures.added_volume_mm3,
    )
    if posed.growth is not None:
        found += about_growth(posed.growth, true=1.0 - posed.shrinkage)
    return found


def _sections(posed: "Posed", told: Told) -> Mapping[str, Any]:
    from buckwright.pose.entering import heights

    raised = heights(posed.sculpt.mesh, told.job.sculpt.height_factor)
    return {
        "input": posed.input_dict(),
        "frame": {"matrix": told.stand.matrix() @ posed.matrix @ raised},
        "pull": {
            "direction": posed.direction,
            "sink_mm": posed.sunk_mm,
            "cut_volume_mm3": posed.sunk_mm3,
            "widest_mm": posed.widest_mm,
            "widest_cuts_share": posed.widest_cuts_mm3 / (posed.mesh.volume_mm3() + posed.sunk_mm3),
        },
    }


def _cut_off_cm3(report: Mapping[str, Any]) -> float | None:
    volume = entry_of("pull.cut_volume_mm3")(report)
    return None if volume is None else volume / 1000.0


def _facts(posed: "Posed", told: Told) -> list[str]:
    if told.get("blank") is not None:
        return []
    x, y, z = posed.mesh.size
    size = f"{x:.1f} x {y:.1f} x {z:.1f} mm including shrinkage allowance"
    return [f"Sculpt {size}, {posed.mesh.face_count:,} faces"]


def _arrays(posed: "Posed", told: Told) -> Mapping[str, Any]:
    """`frame` takes coordinates of the file to the frame of the buck; `turned_over` where that is female.

    A height factor is left out of it, so that what is placed by it keeps its shape.
    """
    import numpy as np

    frame = told.stand.matrix() @ posed.matrix
    turned = {"turned_over": np.bool_(True)} if told.stand.over else {}
    return {"frame": frame, "repaired": np.bool_(told.sources().remeshed), **turned}


def _automatic(posed: "Posed") -> Mapping[str, Any]:
    """What followed from the file, the sheet and the shape."""
    width, depth, height = (float(side) for side in posed.size * posed.scale)
    return {
        "sculpt.unit": posed.sculpt.unit_in_file or "mm",
        "sculpt.width_mm": width,
        "sculpt.depth_mm": depth,
        "sculpt.height_mm": height,
        "fit.shrinkage": posed.shrinkage,
    } | ({} if posed.formed_thickness_mm is None else {"fit.formed_thickness_mm": posed.formed_thickness_mm})


SCULPT = Stage(
    name="sculpt",
    title="reading the sculpt",
    gives="entered",
    needs=("source", "sculpt", "size"),
    run=_enter,
    tables={"job": JobSettings, "sculpt": SculptSettings, "size": SizeSettings},
)
PROXY = Stage(
    name="proxy",
    title="simplifying the sculpt",
    gives="proxied",
    needs=("entered",),
    run=_simplify,
    beside=True,
    lazy=True,
)
SETUPS = Stage(
    name="setups",
    title="finding the pull",
    gives="offered",
    needs=(
        "entered",
        "pull.direction",
        "pull.about",
        "pull.cone_deg",
        "pull.directions",
        "base.sink_mm",
        "sheet.material",
        "draft",
        "mould.form",
    ),
    run=_offer,
    tables={"sheet": SheetSettings, "pull": PullSettings},
    keep=True,
    arrays=_setup_images,
)
PULL = Stage(
    name="pull",
    title="taking a setup",
    gives="aim",
    needs=("offered", "pull.setup", "base.sink_mm"),
    run=_aim,
    by_value=True,
    kinds=findings.PULL_KINDS,
    findings=_pull_findings,
    sections=_setups,
    facts=_pull_facts,
    papers=(Papers(make=_setup_pictures, picture=True, after=("offered",)),),
)
POSE = Stage(
    name="pose",
    title="making it solid",
    gives="posed",
    needs=("entered", "aim", "sheet", "fit", "base.sink_mm", "sculpt.mirror", "mould.form", "room"),
    run=_pose,
    tables={"fit": FitSettings},
    keep=True,
    kinds=(*findings.KINDS, GROWN),
    findings=_findings,
    sections=_sections,
    facts=_facts,
    arrays=_arrays,
    automatic=_automatic,
    figures=(
        Figure(
            name="cut_off_cm3", label="Cut Off Below", unit="cm3", of=_cut_off_cm3, better="less", digits=1
        ),
    ),
)
