"""What a run has to say, in plain words: what is so, and what to do about it."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from buckwright.findings import Finding, Severity
from buckwright.forming.sheets.materials import SheetMaterial
from buckwright.job import Job
from buckwright.make.looking import Looked, Verdict
from buckwright.make.standing import Standing
from buckwright.shape.vents.placing import FOOT, TOO_NEAR
from buckwright.survey.release import COMES_OFF_MM

if TYPE_CHECKING:
    from buckwright.make.shaping import Shaped

__all__ = ["about_buck", "about_look", "about_solid"]

# Male forms: height to width under 1:1 preferred (ThermoPro design guidelines).
_TALL = 1.0
# Sinking is worth a word when it saves this share of the fill or of the sculpt; house rule.
_WORTH_SINKING = 0.2
# A move that nobody sees is not worth a word.
_MOVED_MM = 0.05


def about_look(
    standing: Standing, looked: Looked, job: Job, material: SheetMaterial, *, lift_mm: float = 0.0
) -> list[Finding]:
    """Findings about the sculpt as it is; `lift_mm` is how high it will stand on the base."""
    found = list(standing.findings)
    for entry in standing.entries:
        found += [Finding("note", repair.words) for repair in entry.repairs]
        found += [
            Finding("warn", words, "Look at the repaired places in the pictures.") for words in entry.warnings
        ]
    found += _undercuts(looked, job, material, lift_mm)
    found += _tight(looked, job, material)
    found += _tall(standing)
    return found


def _undercuts(looked: Looked, job: Job, material: SheetMaterial, lift_mm: float) -> list[Finding]:
    regions, releases = looked.undercuts.regions, looked.releases
    if not regions:
        return [
            Finding("note", "Nothing stands in the way of the pull: the part comes straight off the sculpt.")
        ]
    verdicts = [release.verdict for release in releases]
    worst = regions[0]
    locked, flexed = verdicts.count("locked"), verdicts.count("flexes off")
    words = (
        f"The sculpt has {_count(len(regions), 'trapped region')}: {locked} locked, {flexed} flex off, "
        f"{verdicts.count('comes off')} come off. The worst needs {worst.sideways_mm:.1f} mm sideways "
        f"at {_place(worst.centre_mm, lift_mm)}"
    )
    strain = max((release.strain for release in releases), default=0.0)
    bears = f"{material.title} bears {material.strain.low:.1%} ({material.strain.mark})"
    words += f" and up to {strain:.1%} strain; {bears}."
    if job.fill.mode == "full":
        return [
            Finding(
                "note", words, "Draft fill takes care of it; see the buck's pictures for where it was added."
            )
        ]
    severity: Severity = "warn" if locked else "note"
    return [
        Finding(
            severity,
            words,
            "Fill the locked places (fill mode 'locked' or 'full'), tilt the pull or split the form.",
        )
    ]


def _tight(looked: Looked, job: Job, material: SheetMaterial) -> list[Finding]:
    share = looked.states.tight_share
    if share < 0.005:
        return []
    words = (
        f"{share:.0%} of the surface has some draft but less than the wanted {looked.wanted_deg:g} degrees "
        f"({material.title}: {material.male_draft_deg.source})."
    )
    if job.fill.mode != "full":
        advice = "Fill mode 'full' gives those walls their draft."
    elif job.fill.keep_tight:
        advice = "They stay as sculpted; without keep_tight the fill gives them their draft."
    else:
        advice = "The fill gives them their draft; keep_tight would leave them as sculpted."
    return [Finding("note", words, advice)]


def _tall(standing: Standing) -> list[Finding]:
    x, y, z = standing.mesh.size
    ratio = z / max(min(x, y), 1e-9)
    if ratio <= _TALL:
        return []
    words = f"The part is {ratio:.1f} times as tall as it is wide: expect thin walls and webs at its corners."
    return [
        Finding("warn", words, "Sink it deeper, split it, give it more draft or start with thicker sheet.")
    ]


def about_buck(standing: Standing, shaped: "Shaped", again: Verdict, job: Job) -> list[Finding]:
    """Findings about the buck, after a fresh survey of it."""
    found = _still_held(again, shaped)
    found += _fill(standing, shaped)
    found += _air(shaped, job)
    found += _platen(shaped, job)
    found += _offset(standing, shaped.base.foot_z_mm)
    for notes in (
        shaped.base.notes,
        shaped.aired.plan.notes,
        shaped.channels.notes,
        shaped.fixings.notes,
        () if shaped.engraving is None else shaped.engraving.notes,
    ):
        found += _notes(notes)
    return found


def about_solid(watertight: bool, crossings: int) -> list[Finding]:
    """Findings about the buck as its files hold it; none for a sound one."""
    if watertight and not crossings:
        return []
    words = (
        f"{_count(crossings, 'pair')} of faces of the buck cross."
        if watertight
        else "The written buck is not watertight."
    )
    return [Finding("warn", words, "Let the slicer repair it, and look at its layers before printing.")]


def _notes(notes: Iterable[str]) -> list[Finding]:
    return [Finding("note", note[0].upper() + note[1:].rstrip(".") + ".") for note in notes]


def _still_held(again: Verdict, shaped: "Shaped") -> list[Finding]:
    locked = again.locked
    if locked:
        worst = next(r for r, v in zip(again.regions, again.releases) if v.verdict == "locked")
        words = (
            f"The part will lock on this buck in {_count(locked, 'place')}; the worst needs "
            f"{worst.sideways_mm:.1f} mm sideways at {_place(worst.centre_mm, shaped.base.trim_z_mm)}."
        )
        advice = "Use fill mode 'full' or 'locked', tilt the pull, or split the form there."
        if shaped.fill.mode == "full":
            advice = "Make the cells of the fill smaller ([fill] cell_mm), or smooth the sculpt there."
        return [Finding("stop", words, advice)]
    widest = again.widest_mm
    if shaped.fill.mode == "full" and widest > COMES_OFF_MM:
        words = f"After the fill a place is left that needs {widest:.2f} mm sideways."
        return [Finding("warn", words, "Make the cells of the fill smaller ([fill] cell_mm).")]
    return []


def _fill(standing: Standing, shaped: "Shaped") -> list[Finding]:
    added = shaped.fill.added_volume_mm3
    found = []
    if shaped.fill.mode != "none":
        if added > 1.0:
            found.append(Finding("note", f"Draft fill added {added / 1000.0:.1f} cm3."))
        saves = standing.widest_saves_mm3
        if standing.widest_mm > 1.0 and saves > _WORTH_SINKING * max(added, 1.0):
            words = (
                f"The outline is widest {standing.widest_mm:.1f} mm above the foot; sinking the sculpt to "
                f"there saves about {saves / 1000.0:.0f} cm3 of fill."
            )
            found.append(Finding("note", words, "Use --sink widest if the part may end there."))
    return found


def _air(shaped: "Shaped", job: Job) -> list[Finding]:
    aired = shaped.aired
    if aired.pockets is None:
        return [
            Finding("warn", "Vents are switched off.", "Drill the low places by hand, or switch them on.")
        ]
    times = np.array(aired.evacuation_s)
    by_hand = job.vents.at_mm is not None
    found = _placed(shaped) if by_hand else []
    bare = set(np.flatnonzero(~np.isfinite(times)).tolist())
    beside = bare & {pocket for *_, pocket, why in aired.plan.dropped if why == TOO_NEAR}
    if bare - beside:
        place = aired.pockets.pockets[min(bare - beside)].deepest_mm
        lack = "have none of the placed vents" if by_hand else "found no room for a vent"
        words = f"{_count(len(bare - beside), 'pocket')} of air {lack}, the largest at {_place(place)}."
        advice = "Expect soft detail there, or drill by hand; narrower bores may fit."
        if by_hand:
            advice = "Place one there, or let the vents be found: leave at_mm out."
        found.append(Finding("warn", words, advice))
    if beside:
        words = (
            f"{_count(len(beside), 'pocket')} of air beside a larger one got no vent of their own: "
            "the next vent is too near."
        )
        found.append(Finding("note", words))
    slow = np.flatnonzero(np.isfinite(times) & (times > job.vents.target_s))
    if len(slow):
        slowest = f"in {times[slow].max():.1f} s, slower than {job.vents.target_s:g} s"
        words = f"{_count(len(slow), 'pocket')} empty {slowest}."
        found.append(Finding("warn", words, "Allow wider holes, or keep the sheet hot a little longer."))
    vents = len(aired.plan.vents)
    words = f"{_count(len(times), 'pocket')} of air and the foot ring are drained by {_count(vents, 'vent')}."
    found.append(Finding("note", words))
    return found


def _placed(shaped: "Shaped") -> list[Finding]:
    """What became of vents that were placed by hand, where it was not what was asked."""
    plan = shaped.aired.plan
    found = []
    for x, y, z, pocket, why in plan.dropped:
        if pocket != FOOT:
            words = f"The vent placed at {_place((x, y, z))} was not made: {why}."
            found.append(Finding("warn", words, "Move it, or allow narrower bores and thinner walls."))
    for vent in plan.vents:
        if vent.pocket != FOOT and vent.moved_mm > _MOVED_MM:
            words = (
                f"A placed vent moved by {vent.moved_mm:.1f} mm to {_place(vent.top_mm)} to keep its walls."
            )
            found.append(Finding("note", words))
    return found


def _platen(shaped: "Shaped", job: Job) -> list[Finding]:
    """Whether holes of the platen that were named are of use."""
    holes = job.vents.platen_holes_mm
    if not holes or not shaped.aired.plan.vents:
        return []
    if not shaped.channels.holes:
        words = f"None of the {_count(len(holes), 'hole')} of the platen lies where a channel could reach it."
        advice = "The channels lead to the edge of the base. Move the buck or check the places of the holes."
        return [Finding("warn", words, advice)]
    drained = _count(shaped.channels.holes, "hole")
    return [Finding("note", f"The channels lead to {drained} of the platen under the base.")]


def _offset(standing: Standing, lift_mm: float) -> list[Finding]:
    offset = standing.offset
    if offset is None:
        return []
    inwards = f"The buck is offset inwards by {offset.distance_mm:.2f} mm"
    words = f"{inwards} so that the outside of the part holds its size."
    if not offset.places:
        return [Finding("note", words), *_notes(offset.notes)]
    worst = offset.places[0]
    words += (
        f" In {_count(len(offset.places), 'place')} the full offset could not be made; at "
        f"{_place(worst.centre_mm, lift_mm)} it falls short by {worst.shortfall_mm:.2f} mm."
    )
    advice = "Sharp tips and narrow ridges there come out thicker than wanted; round them."
    # Its first note says where the offset fell short, as the words above do.
    return [Finding("warn", words, advice), *_notes(offset.notes[1:])]


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _place(point: tuple[float, ...], lift_mm: float = 0.0) -> str:
    return f"x {point[0]:.0f}, y {point[1]:.0f}, z {point[2] + lift_mm:.0f} mm"
