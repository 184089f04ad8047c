"""The stage that halves a sculpt."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.findings import counted
from buckwright.forming.sheets.settings import SheetSettings
from buckwright.pose.body.settings import BodySettings
from buckwright.pose.halves import findings
from buckwright.pose.halves.settings import HalvesSettings
from buckwright.pose.size.settings import SizeSettings
from buckwright.stage import Answer, Papers, Stage, Told
from buckwright.survey.settings import DraftSettings

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.findings import Finding
    from buckwright.pose.aiming import Aim
    from buckwright.pose.entering import EnteredSculpt
    from buckwright.pose.halves.planning import Halves
    from buckwright.pose.halves.proposing import Proposal, Tried
    from buckwright.pose.posing import Posed
    from buckwright.pose.setups.proxy import Proxy
    from buckwright.survey.surveying import Surveyed

__all__ = ["HALVES", "PLANES", "PROPOSAL"]


def _halve(
    entered: "EnteredSculpt",
    halves: HalvesSettings,
    sheet: SheetSettings,
    draft: DraftSettings,
    clock: "Clock",
) -> "Halves":
    from buckwright.forming.sheets.materials import sheet as material_of
    from buckwright.pose.halves.planning import halve
    from buckwright.survey.stage import wanted_deg

    return halve(
        entered,
        halves,
        material=material_of(sheet.material),
        sheet_mm=sheet.thickness_mm,
        draft_deg=wanted_deg(draft, sheet),
        clock=clock,
    )


def _findings(parted: "Halves", _told: Told) -> "list[Finding]":
    return findings.about_halves(parted)


def _sections(parted: "Halves", _told: Told) -> Mapping[str, Any]:
    return {"halves": parted.to_dict()}


def _answers(parted: "Halves", _told: Told) -> list[Answer]:
    locked = [surveyed.release.locked for surveyed in parted.surveys]
    if any(locked):
        words = " and ".join(
            f"half {name} locks in {counted(count, 'place')}"
            for name, count in zip(findings.NAMES, locked, strict=True)
            if count
        )
        return [Answer("Releases", f"not as cut: {words} before fill.")]
    widest = max(surveyed.release.widest_mm for surveyed in parted.surveys)
    how = f"with up to {widest:.1f} mm of sideways flex" if widest > 0.0 else "straight off"
    return [Answer("Releases", f"both halves, {how}.")]


def _facts(parted: "Halves", _told: Told) -> list[str]:
    plane, seam = parted.plane, parted.seam
    across = ", ".join(f"{round(part, 3) + 0.0:.3f}" for part in plane.normal)
    offset = round(plane.offset_mm, 1) + 0.0
    sizes = " and ".join(
        " x ".join(f"{side:.0f}" for side in half.mesh.size.tolist()) for half in parted.halves
    )
    return [
        f"Plane {parted.taken} of {len(parted.planes)}: across ({across}) at {offset:.1f} mm",
        f"Halves {sizes} mm, seam {seam.length_mm:.0f} mm",
        "Next: make a buck of each half, from its own job file",
    ]


def _files(parted: "Halves", told: Told) -> dict[str, bytes]:
    from buckwright.output.stl import stl_bytes
    from buckwright.output.storable import storable

    files: dict[str, bytes] = {}
    for name, half in zip(findings.NAMES, parted.halves, strict=True):
        stem = f"half_{name.lower()}"
        files[f"{stem}.stl"] = stl_bytes(storable(half.mesh), title=f"{told.title} half {name}")
        files[f"{stem}.toml"] = _job_file(told, name, f"{stem}.stl")
    return files


def _job_file(told: Told, name: str, sculpt: str) -> bytes:
    """The job of one half: as that of the whole, with what belongs to the whole sculpt left out."""
    from buckwright.job.files import commented_job
    from buckwright.settings import settings_of

    whole = told.job if told.asked is None else told.asked
    placed = {
        table: {key: None for key, setting in settings_of(type(values)).items() if setting.kind == "places"}
        for table, values in whole.tables.items()
    }
    job = whole.evolved(**{table: keys for table, keys in placed.items() if keys})
    sized = {"width_mm": None, "depth_mm": None, "height_mm": None, "height_factor": 1.0}
    # a mirror image keeps the pull, whatever the axis; that of the whole may run along the pull of a half
    mirror = "none" if whole.sculpt.mirror == "none" else "x"
    job = job.evolved(
        job={"name": f"{told.title} half {name}"},
        sculpt={"file": sculpt, "unit": "mm", "mirror": mirror, **sized},
        pull={"direction": "z", "setup": 1},
        base={"sink_mm": 0.0},
        halves=HalvesSettings(),
        size=SizeSettings(),
        body=BodySettings(),
        artwork={"file": ""},
        group={"others": ""},
    )
    return commented_job(job).encode("utf-8")


def _pictures(parted: "Halves", told: Told) -> dict[str, bytes]:
    from buckwright.pose.halves.pictures import draw_halves

    return draw_halves(parted.shape, parted.planes, title=told.title, taken=parted.taken)


def _arrays(parted: "Halves", _told: Told) -> Mapping[str, Any]:
    """`half_A_vertices` (N, 3) mm in the half's frame, `half_A_faces`, `half_A_matrix` (4, 4), and B.

    `plane_images` (planes, rows, columns, 4) uint8: both halves from two sides.
    """
    import numpy as np

    made: dict[str, Any] = {"plane_images": parted.images}
    for name, half in zip(findings.NAMES, parted.halves, strict=True):
        made[f"half_{name}_vertices"] = np.asarray(half.mesh.vertices, np.float64)
        made[f"half_{name}_faces"] = np.asarray(half.mesh.faces, np.int32)
        made[f"half_{name}_matrix"] = half.matrix
    return made


HALVES = Stage(
    name="halves",
    title="cutting in two",
    gives="parted",
    needs=("entered", "halves", "sheet", "draft"),
    run=_halve,
    tables={"halves": HalvesSettings},
    wanted=lambda tables: bool(tables["halves"].seek),
    kinds=findings.KINDS,
    findings=_findings,
    sections=_sections,
    answers=_answers,
    facts=_facts,
    papers=(Papers(make=_files), Papers(make=_pictures, picture=True)),
    arrays=_arrays,
)


def _try(
    entered: "EnteredSculpt",
    proxied: "Proxy",
    aim: "Aim",
    sheet: SheetSettings,
    draft: DraftSettings,
    form: str,
    clock: "Clock",
) -> "Tried":
    from buckwright.pose.halves.proposing import try_planes
    from buckwright.survey.stage import wanted_deg

    return try_planes(
        entered.entered.mesh, proxied, aim, draft_deg=wanted_deg(draft, sheet, form), clock=clock
    )


def _propose(
    entered: "EnteredSculpt",
    proxied: "Proxy",
    aim: "Aim",
    posed: "Posed",
    surveyed: "Surveyed",
    planes_tried: "Tried",
    clock: "Clock",
) -> "Proposal | None":
    """None where nothing locks."""
    from buckwright.pose.halves.proposing import propose

    return propose(entered.entered.mesh, proxied, aim, posed.mesh, surveyed, planes_tried, clock=clock)


def _proposals(proposed: "Proposal", told: Told) -> "list[Finding]":
    return findings.about_proposal(proposed, stand=told.stand)


def _proposal_section(proposed: "Proposal", _told: Told) -> Mapping[str, Any]:
    return {"proposal": proposed.to_dict()}


PLANES = Stage(
    name="planes",
    title="looking at halves",
    gives="planes_tried",
    needs=("entered", "proxied", "aim", "sheet", "draft", "mould.form"),
    run=_try,
    beside=True,
    lazy=True,
)
PROPOSAL = Stage(
    name="proposal",
    title="proposing halves",
    gives="proposed",
    needs=("entered", "proxied", "aim", "posed", "surveyed", "planes_tried"),
    run=_propose,
    wanted=lambda tables: bool(tables["halves"].propose),
    beside=True,
    keep=True,
    kinds=findings.PROPOSALS,
    findings=_proposals,
    sections=_proposal_section,
)
