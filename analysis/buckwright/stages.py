"""The one list of stages, in the order of work."""

from functools import cache

from buckwright.findings import FindingKind
from buckwright.forming.artwork.stage import ARTWORK
from buckwright.forming.drainage.stage import DRAINAGE
from buckwright.forming.forecast.stage import FORECAST
from buckwright.forming.heating.stage import HEATING
from buckwright.forming.zones.stage import ZONES
from buckwright.pose.body.stage import BODY, ROOM
from buckwright.pose.halves.stage import HALVES, PLANES, PROPOSAL
from buckwright.pose.size.stage import TRY_ON
from buckwright.pose.stage import POSE, PROXY, PULL, SCULPT, SETUPS
from buckwright.printing.pieces.stage import PIECES
from buckwright.printing.strength.stage import STRENGTH
from buckwright.settings import Setting, settings_of
from buckwright.shape.base.stage import BASE
from buckwright.shape.buck.stage import BUCK
from buckwright.shape.fill.stage import FILL
from buckwright.shape.hollow.stage import HOLLOW
from buckwright.shape.porous.stage import POROUS
from buckwright.shape.take_up.stage import BLOCKS, TAKE_UP
from buckwright.shape.underside.stage import UNDERSIDE
from buckwright.shape.vents.stage import VENTS
from buckwright.stage import ColorMap, Figure, Stage, in_order
from buckwright.survey.detail.stage import DETAIL
from buckwright.survey.pockets.stage import POCKETS
from buckwright.survey.stage import SURVEY
from buckwright.survey.verdict.stage import HOLD, VERDICT
from buckwright.workshop.clearance.stage import CLEARANCE
from buckwright.workshop.cutting.stage import CUTTING
from buckwright.workshop.edge.stage import EDGE, HOLES
from buckwright.workshop.gaps.stage import GAPS
from buckwright.workshop.group.formed.stage import GROUP_FORECAST
from buckwright.workshop.group.neighbours.stage import NEIGHBOURS
from buckwright.workshop.group.stage import GROUP
from buckwright.workshop.machine.stage import MACHINE
from buckwright.workshop.rig.stage import RIG
from buckwright.workshop.templates.stage import TEMPLATES

__all__ = [
    "STAGES",
    "all_settings",
    "all_stages",
    "color_maps",
    "figures",
    "finding_kinds",
    "tables",
    "tables_of",
]

STAGES: list[Stage] = [
    SCULPT,
    PROXY,
    SETUPS,
    PULL,
    BODY,
    ROOM,
    POSE,
    HALVES,
    TRY_ON,
    PLANES,
    SURVEY,
    PROPOSAL,
    FILL,
    TAKE_UP,
    BLOCKS,
    BASE,
    HOLD,
    DETAIL,
    POCKETS,
    FORECAST,
    VENTS,
    UNDERSIDE,
    HOLLOW,
    HOLES,
    BUCK,
    POROUS,
    DRAINAGE,
    HEATING,
    ZONES,
    VERDICT,
    PIECES,
    STRENGTH,
    NEIGHBOURS,
    GROUP,
    GROUP_FORECAST,
    RIG,
    MACHINE,
    CUTTING,
    GAPS,
    CLEARANCE,
    EDGE,
    TEMPLATES,
    ARTWORK,
]


def all_stages() -> tuple[Stage, ...]:
    """Every stage, each after those it needs."""
    return _ordered(tuple(STAGES))


@cache
def _ordered(stages: tuple[Stage, ...]) -> tuple[Stage, ...]:
    ordered = in_order(stages)
    owned = {name: table for stage in ordered for name, table in stage.tables.items()}
    known = {"source", *owned, *(stage.gives for stage in ordered)}
    known |= {f"{name}.{key}" for name, table in owned.items() for key in settings_of(table)}
    for stage in ordered:
        for need in stage.needs:
            if need not in known:
                raise ValueError(f"stage {stage.name} needs {need!r}: no stage gives it, no table holds it")
    return ordered


def tables() -> dict[str, type]:
    """Every table of settings by name, in the order of work."""
    return {name: table for stage in all_stages() for name, table in stage.tables.items()}


def tables_of(stages: tuple[Stage, ...]) -> dict[str, Setting]:
    """Settings that some stages read, by 'table.key': what can be changed about their results."""
    known, needs = all_settings(), {need for stage in stages for need in stage.needs}
    return {name: one for name, one in known.items() if name in needs or name.partition(".")[0] in needs}


def all_settings() -> dict[str, Setting]:
    """Every setting by 'table.key'."""
    return {
        f"{table}.{key}": setting
        for table, kind in tables().items()
        for key, setting in settings_of(kind).items()
    }


def finding_kinds() -> dict[str, FindingKind]:
    """Every kind of finding by slug."""
    return {kind.slug: kind for stage in all_stages() for kind in stage.kinds}


def figures() -> tuple[Figure, ...]:
    """Every figure by which runs are compared, in the order of work."""
    return tuple(one for stage in all_stages() for one in stage.figures)


def color_maps() -> dict[str, ColorMap]:
    """Every colour map by the name of its values."""
    return {one.array: one for stage in all_stages() for one in stage.maps}
