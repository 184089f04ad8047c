"""What panels tell of a result: its facts, findings and trapped regions, and what it was made from."""

import json
import tomllib
from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..bridge.library import COMMANDS, SEVERITIES, percent
from ..bridge.units import mm_per_unit
from . import automatic, hand_marks, results, setup_choices
from .placement import Placement
from .plain_words import spoken
from .running import Result
from .workshop_words import bench_lines

__all__ = ["forget_origins", "write"]

_VERDICTS = {"locked": "LOCKED", "flexes off": "FLEXES", "comes off": "COMES"}
_BY_HAND = {
    "own_vents": ("vents", "at_mm"),
    "own_blocks": ("take_up", "at_mm"),
    "own_outline": ("base", "outline_mm"),
    "own_planes": ("printer", "planes_mm"),
}
_ORIGINS = ("found_from", "buck_from", "sheet_from")


def write(scene: bpy.types.Scene, result: Result, frame: NDArray[np.float64], *, made: bool) -> None:
    """Keep what a result tells.

    Parameters
    ----------
    frame : (4, 4) from the sculpt's coordinates to the buck's, mm
    made : whether there is a buck
    """
    kept = results.of(scene)
    # A look after a make leaves the buck where it is; the panel says which of both is newer.
    kept.made = "MAKE" if made or kept.made == "MAKE" else result.command.upper()
    if COMMANDS[result.command].judged_by:
        kept.releases = result.releases
    placement = Placement(frame, np.zeros(3), mm_per_unit(scene))
    facts = _facts(scene, result, placement)
    kept.facts = json.dumps(facts)  # compares with the sculpt and job of the last run
    kept.fingerprint = result.sculpt.fingerprint()
    fresh = {"look": ("found_from",), "forecast": ("found_from", "sheet_from")}
    for name in fresh.get(result.command, _ORIGINS):
        _put_origin(scene, getattr(kept, name), result)
    by_number = {one.session_uid: one for one in scene.objects}
    kept.sculpts.clear()
    for number in result.objects:
        kept.sculpts.add().object = by_number.get(number)
    _record_findings(kept, result, placement)
    setup_choices.record(scene, result.report, result.arrays.get("setup_images"))
    kept.regions.clear()
    kept.region_index = 0
    for number, entry in enumerate(result.report.get("undercuts") or ()):
        _record_region(kept.regions.add(), number, entry, placement)


def forget_origins(scene: bpy.types.Scene) -> None:
    """Nothing was made from anything."""
    for name in _ORIGINS:
        _put_origin(scene, getattr(results.of(scene), name))


def _record_findings(kept: Any, result: Result, placement: Placement) -> None:
    """What was found, the worst first; the notes of the snapshot are of no kind that the library explains."""
    kept.findings.clear()
    notes = [{"severity": "warn", "words": f"{note}."} for note in result.sculpt.notes]
    found = [*notes, *result.report.get("findings", ())]
    for entry in sorted(found, key=lambda one: SEVERITIES.index(one["severity"])):
        finding = kept.findings.add()
        finding.slug, finding.setting = entry.get("slug") or "", entry.get("setting") or ""
        finding.severity = entry["severity"].upper()
        finding.words, finding.advice = spoken(entry["words"]), spoken(entry.get("advice") or "")
        if entry.get("at_mm") is not None:
            finding.has_place, finding.place = True, _on_sculpt(entry["at_mm"], placement)


def _record_region(region: Any, number: int, entry: dict[str, Any], placement: Placement) -> None:
    release = entry.get("release") or {}
    region.name = f"Region {number + 1}"
    region.number = number
    region.verdict = _VERDICTS.get(release.get("verdict", ""), "LOCKED")
    region.depth_mm, region.sideways_mm = entry.get("depth_mm") or 0.0, entry.get("sideways_mm") or 0.0
    region.strain = release.get("strain") or 0.0
    region.area_mm2 = entry.get("area_mm2") or 0.0
    region.centre = _on_sculpt(entry["centre_mm"], placement)


def _put_origin(scene: bpy.types.Scene, origin: Any, result: Result | None = None) -> None:
    """Note what a result was made from; without one, nothing."""
    origin.command = result.command if result is not None else ""
    origin.job = result.job if result is not None else ""
    origin.stamp = result.stamp if result is not None else ""
    origin.texture = result.texture if result is not None else ""
    for name in ("vents", "blocks", "outline", "planes"):
        setattr(origin, name, hand_marks.signature(scene, name) if result is not None else "")


def _on_sculpt(place_mm: Sequence[float], placement: Placement) -> list[float]:
    """A place in the buck's frame, where it is on the sculpt in the world, Blender units."""
    place = placement.buck_to_sculpt(np.array([place_mm], np.float64))[0] / placement.mm
    return [float(v) for v in place]


def _facts(scene: bpy.types.Scene, result: Result, placement: Placement) -> dict[str, Any]:
    """Figures of a result; of a part of the report that is not there nothing is said."""
    kept, report = results.of(scene), result.report
    same = (kept.found_from.job, kept.fingerprint) == (result.job, result.sculpt.fingerprint())
    made = "buck_vertices" in result.arrays
    before = results.facts(scene)
    facts: dict[str, Any] = {
        "lines": _lines(report, placement, _shrinkage(result)),
        "scale": _scale(placement, _shrinkage(result)),
        "vents": len(results.objects(scene, "VENT")) if made else before.get("vents", 0),
        "planes": len(results.objects(scene, "CUT")) if made else before.get("planes", 0),
        "blocks": len(results.objects(scene, "BLOCK")) if made else before.get("blocks", 0),
        **(_by_hand(result) if made else {name: bool(before.get(name)) for name in _BY_HAND}),
        "automatic": automatic.of_report(scene, report, same=same),
        "workshop": bench_lines(report) if made else before.get("workshop", []),
        "times_s": result.times_s,
        "command": result.command,
    }
    if (draft := report.get("draft")) is not None:
        shares = [draft[f"{state}_share"] for state in ("free", "tight", "trapped")]
        facts |= {"wanted_deg": draft["wanted_deg"], "shares": shares}
    if (pull := report.get("pull")) is not None:
        facts["pull"] = pull["direction"]
    if (sheet := report.get("forecast")) is not None:
        facts["thicker_mm"] = (sheet["thicker_sheet"] or {}).get("sheet_mm")
    return facts


def _scale(placement: Placement, shrinkage: float) -> float:
    """By how much the part is larger than the sculpt as it is drawn."""
    return float(np.cbrt(abs(np.linalg.det(placement.frame[:3, :3])))) * (1.0 - shrinkage)


def _shrinkage(result: Result) -> float:
    """The share that was allowed for: as the job has it, or as the sheet's rule gave it."""
    given = tomllib.loads(result.job).get("fit", {}).get("shrinkage")
    ruled = result.report.get("automatic", {}).get("fit.shrinkage")
    return float((ruled or 0.0) if given is None else given)


def _lines(report: dict[str, Any], placement: Placement, shrinkage: float) -> list[str]:
    """Size and shares of the sculpt, size of the buck, and how large that is drawn."""
    lines = []
    if (sculpt := report.get("input")) is not None:
        lines += _sculpt_lines(sculpt, shrinkage)
    if (draft := report.get("draft")) is not None:
        free, tight, trapped = (draft[f"{state}_share"] for state in ("free", "tight", "trapped"))
        lines.append(f"Free {percent(free)}, tight {percent(tight)}, trapped {percent(trapped)}")
    if (buck := report.get("buck")) is not None:
        volume = buck["volume_mm3"] / 1000.0
        vents = len(report.get("vents") or ())
        lines.append(
            f"Buck {_size(buck['size_mm'])}, {volume:,.0f} cm³, {vents} vent{'' if vents == 1 else 's'}"
        )
    if (drawn := placement.drawn) != 1.0:
        times = f"{drawn:,.3g} times as large" if drawn > 1.0 else f"{1.0 / drawn:,.3g} times as small"
        lines.append(f"Shown at the sculpt's size, {times}; exported at the size above")
    return lines


def _sculpt_lines(sculpt: dict[str, Any], shrinkage: float) -> list[str]:
    """Its size as the part is to have it; and as it is on the buck, where that allows for shrinkage."""
    grown = sculpt["size_mm"]
    true = [(1.0 - shrinkage) * side for side in grown]  # the part shrinks by a share of the buck's size
    lines = [f"Sculpt {_size(true)}, {sculpt['faces']:,} faces"]
    if shrinkage:
        lines.append(f"On the buck {_size(grown)}, including {100.0 * shrinkage:.2g} % for shrinkage")
    return lines


def _size(size_mm: Sequence[float]) -> str:
    return f"{' x '.join(f'{side:.1f}' for side in size_mm)} mm"


def _by_hand(result: Result) -> dict[str, bool]:
    """Whether the job had its vents, blocks and outline from the scene."""
    job = tomllib.loads(result.job)
    return {name: key in job.get(table, {}) for name, (table, key) in _BY_HAND.items()}
