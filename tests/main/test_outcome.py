"""What the summary leads with: one verdict that does not call a buck ready beside open warnings."""

import html

import pytest

import buckwright.api as bw
from buckwright.pipeline.commands import COMMANDS, outcome_of
from buckwright.stages import finding_kinds

MAKE = COMMANDS["make"]


def test_ready_only_where_nothing_is_open():
    ready = "the buck is ready to print."
    assert outcome_of(MAKE, released=True, findings=[]) == ready
    assert outcome_of(MAKE, released=True, findings=[("vents", "note")]) == ready


@pytest.mark.parametrize(
    ("findings", "words"),
    [
        ([("weakest-spot", "warn"), ("vents", "note")], "1 open warning: the weakest spot."),
        ([("machine-fit", "stop"), ("web", "warn")], "2 open warnings: does not fit the machine; a web."),
        (
            [("overdrawn", "warn"), *[("web", "warn")] * 2],
            "3 open warnings: the sheet tears or bridges; a web.",
        ),
        (
            [("overdrawn", "warn"), ("weakest-spot", "warn"), ("web", "warn")],
            "3 open warnings, first: the sheet tears or bridges; the weakest spot.",
        ),
    ],
)
def test_open_warnings_belong_to_the_verdict(findings, words):
    assert outcome_of(MAKE, released=True, findings=findings) == f"the buck can be printed, with {words}"


def test_a_part_that_locks_and_other_commands_keep_their_words():
    found = [("part-locks", "stop"), ("weakest-spot", "warn")]
    assert "cannot come off" in outcome_of(MAKE, released=False, findings=found)
    assert outcome_of(COMMANDS["look"], released=True, findings=found).startswith("survey finished")


def test_summary_and_job_sheet_lead_with_the_same_verdict(sculpt_file, tmp_path):
    made = bw.make(
        sculpt_file("cone"),
        sculpt={"unit": "mm"},
        pull={"direction": "z"},
        forecast={"quality": "off"},
        machine={"heater_zones": "1 0.8"},
        heating={"heater": "oven"},
    )
    said = made.summary.outcome
    warned = [one for one in made.findings if one.severity != "note"]
    assert [one.slug for one in warned] == ["oven-without-zones"]
    assert finding_kinds()[warned[0].slug].title.lower() in said.lower()
    made.save(tmp_path / "cone", pictures=False)
    page = html.unescape((tmp_path / "cone" / "job_sheet.html").read_text(encoding="utf-8"))
    assert said in page and "ready to print" not in page
