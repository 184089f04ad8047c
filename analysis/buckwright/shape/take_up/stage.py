"""The stages that try take-up blocks, and hand to the base those that are worth their place."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.forming.forecast.settings import ForecastSettings
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.mould.settings import MouldSettings
from buckwright.shape.take_up import findings
from buckwright.shape.take_up.settings import TakeUpSettings
from buckwright.stage import Figure, Stage, Told, entry_of

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.forming.forecast.buck_forecast import Quality
    from buckwright.forming.zones.zoned import Zoned
    from buckwright.pose.posing import Posed
    from buckwright.shape.base.blocks import Block
    from buckwright.shape.base.building import Blank
    from buckwright.shape.fill.filled import Filled
    from buckwright.shape.take_up.taken_up import TakenUp
    from buckwright.survey.surveying import Surveyed

__all__ = ["BLOCKS", "TAKE_UP"]


def _take_up(
    posed: "Posed",
    surveyed: "Surveyed",
    filled: "Filled",
    base: BaseSettings,
    mould: MouldSettings,
    thickness_mm: float,
    channel_depth_mm: float,
    reducing: bool,
    mask_mm: float,
    gasket_mm: float,
    gasket_squeeze: float,
    forecast: ForecastSettings,
    plenum_kpa: float | None,
    profile: str | None,
    shape: str | None,
    zoned: "Zoned | None",
    take_up: TakeUpSettings,
    clock: "Clock",
) -> "TakenUp":
    from functools import partial

    import attrs
    import numpy as np

    from buckwright.clock import Clock as Unheard
    from buckwright.forming.forecast.buck_forecast import form_on
    from buckwright.forming.forecast.over_trim import folds_over, over_mm
    from buckwright.forming.forecast.stage import in_its_frame, levels_of, under_zones
    from buckwright.forming.forecast.thresholds import LEAST_WEB_MM
    from buckwright.shape.base.stage import build
    from buckwright.shape.take_up.seeking import Fold
    from buckwright.shape.take_up.taken_up import as_given, as_sought
    from buckwright.shape.take_up.trying import Trying
    from buckwright.shape.vents.settings import PLENUM_KPA

    def blank_on(chosen: BaseSettings, blocks: "tuple[Block, ...]") -> "Blank":
        return build(
            posed=posed,
            surveyed=surveyed,
            filled=filled,
            base=chosen,
            mould=mould,
            thickness_mm=thickness_mm,
            channel_depth_mm=channel_depth_mm,
            reducing=reducing,
            mask_mm=mask_mm,
            gasket_mm=gasket_mm,
            gasket_squeeze=gasket_squeeze,
            blocks=blocks,
            clock=Unheard(),
        )

    def folds_on(blank: "Blank", quality: "Quality") -> list[Fold]:
        levels = levels_of(blank)
        assert levels.trim_mm is not None
        framed = in_its_frame(blank, forecast, profile=profile, shape=shape, reducing=reducing)
        run = form_on(
            blank.mesh,
            levels,
            under_zones(framed, zoned),
            sheet_mm=thickness_mm,
            plenum_kpa=PLENUM_KPA if plenum_kpa is None else plenum_kpa,
            quality=quality,
            tick=clock.ask,
        )
        return [
            Fold(
                x_mm=web.where_mm[0],
                y_mm=web.where_mm[1],
                length_mm=web.length_mm,
                over_mm=over_mm(web, levels.trim_mm),
            )
            for web in folds_over(run, levels.trim_mm)
        ]

    asked: Quality | None = None
    if forecast.quality != "off" and forecast.model == "membrane":
        asked = "fine" if forecast.quality == "fine" else "preview"

    def trying_on(chosen: BaseSettings) -> Trying:
        return Trying(
            partial(blank_on, chosen),
            folds_on,
            asked,
            least_web_mm=LEAST_WEB_MM,
            told=clock.tick,
            raised=lambda riser_mm: trying_on(attrs.evolve(base, riser_mm=riser_mm)),
        )

    trying = trying_on(base)
    with clock.step("trying take-up blocks"):
        if take_up.at_mm is None:
            return as_sought(take_up, trying, flange=base.style == "flange" and mould.form == "male")
        tops = np.array(take_up.at_mm, np.float64).reshape(-1, 4)
        return as_given(posed.placed(tops[:, :3]), tops[:, 3], take_up, trying)


def _findings(taken: "TakenUp", told: Told) -> "list[Finding]":
    return findings.about_take_up(taken, trim_mm=told.results["blank"].plan.trim_z_mm)


def _sections(taken: "TakenUp", told: Told) -> Mapping[str, Any]:
    return {"take_up": taken.to_dict() | {"at_mm": _in_sculpt(taken, told)}}


def _in_sculpt(taken: "TakenUp", told: Told) -> list[list[float]]:
    """Tops of the blocks as a job takes them: in the sculpt's own coordinates, and their radius."""
    import numpy as np

    posed, lift = told.results["posed"], told.results["blank"].plan.foot_z_mm
    tops = np.array([[one.x_mm, one.y_mm, one.top_mm - lift] for one in taken.blocks]).reshape(-1, 3)
    back = (tops - posed.matrix[:3, 3]) @ np.linalg.inv(posed.matrix[:3, :3]).T * posed.scale
    radii = [one.radius_mm for one in taken.blocks]
    return [[*place, radius] for place, radius in zip(back.tolist(), radii, strict=True)]


def _facts(taken: "TakenUp", _told: Told) -> list[str]:
    if not taken.blocks:
        return []
    words = f"{counted(len(taken.blocks), 'take-up block')} on the flange"
    if taken.before_mm is None:
        return [words]
    return [
        f"{words}: webs over the trim line {taken.after_mm:.0f} mm long, without {taken.before_mm:.0f} mm"
    ]


def _arrays(taken: "TakenUp", _told: Told) -> Mapping[str, Any]:
    """Tops of the blocks in the buck's frame and their radius, (B, 4)."""
    import numpy as np

    rows = [[one.x_mm, one.y_mm, one.top_mm, one.radius_mm] for one in taken.blocks]
    return {"blocks": np.array(rows, np.float64).reshape(-1, 4)}


TAKE_UP = Stage(
    name="take_up",
    title="trying take-up blocks",
    gives="taken_up",
    needs=(
        "posed",
        "surveyed",
        "filled",
        "base",
        "mould",
        "sheet.thickness_mm",
        "vents.channel_depth_mm",
        "rig.reducing",
        "rig.mask_mm",
        "rig.gasket_mm",
        "rig.gasket_squeeze",
        "forecast",
        "vents.plenum_kpa",
        "machine.profile",
        "machine.shape",
        "zoned",
        "take_up",
    ),
    run=_take_up,
    tables={"take_up": TakeUpSettings},
    wanted=lambda tables: bool(tables["take_up"].enabled or tables["take_up"].at_mm is not None),
    keep=True,
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    facts=_facts,
    arrays=_arrays,
    figures=(
        Figure(
            name="webs_over_trim_mm",
            label="Folds over the Trim Line",
            unit="mm",
            of=entry_of("take_up.web_length_mm"),
            better="less",
        ),
    ),
)


def _blocks(taken_up: "TakenUp | None", clock: "Clock") -> "tuple[Block, ...]":
    clock.ask()
    return () if taken_up is None else taken_up.blocks


BLOCKS = Stage(
    name="blocks",
    title="taking over take-up blocks",
    gives="blocks",
    needs=("taken_up",),
    run=_blocks,
    by_value=True,
)
"""What the base takes of it: as long as the blocks stay the same, so does everything that is made after."""
