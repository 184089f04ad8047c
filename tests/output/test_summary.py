"""Worst first, inside the screen, severity in words."""

import io

import pytest
from rich.console import Console

from buckwright.findings import Finding, worst_first
from buckwright.output.summary import Summary, show_summary, summary_lines

FINDINGS = (
    Finding("vents", "note", "Twelve vents want drilling after printing.", "Use a 0.8 mm drill."),
    Finding("doubtful-size", "warn", "The part is only 4 mm high; is the unit right?", "Set the unit."),
    Finding(
        "part-locks",
        "stop",
        "Region 1 under the beak is locked: 9.4 % strain, 4 % allowed.",
        "Fill it: --fill locked.",
    ),
    Finding("vents", "note", "Nothing needs doing here."),
)

ANSWERS = (("Releases", "yes, straight off the buck."), ("Fits", "no: 310 x 200 mm; platen 300 x 200 mm."))


def text_of(summary: Summary, *, width: int = 80, height: int = 24) -> list[str]:
    return [line for line, _ in summary_lines(summary, width=width, height=height)]


def test_worst_comes_first_and_advice_follows() -> None:
    lines = text_of(Summary("Heron", "done", findings=FINDINGS))
    labels = [
        line.split()[0] for line in lines if line.split()[:1] and line.split()[0] in {"STOP", "WARN", "NOTE"}
    ]
    assert labels == ["STOP", "WARN", "NOTE", "NOTE"]
    assert (
        lines[lines.index(next(line for line in lines if line.startswith("STOP"))) + 1]
        .strip()
        .startswith("-> Fill")
    )


def test_equal_severity_keeps_its_order() -> None:
    assert [f.words for f in worst_first(FINDINGS)][2:] == [FINDINGS[0].words, FINDINGS[3].words]


@pytest.mark.parametrize("width", [30, 47, 80, 110, 300])
def test_lines_fit_the_width(width: int) -> None:
    summary = Summary(
        "Heron " * 12,
        "done",
        (("Releases", "yes " * 30),),
        FINDINGS * 3,
        ("A fact " * 20,),
        ("/a/very/long/path" * 12,),
    )
    assert max(len(line) for line in text_of(summary, width=width)) <= min(width, 110)


@pytest.mark.parametrize("count", [0, 1, 3, 40])
def test_one_screen(count: int) -> None:
    findings = tuple(FINDINGS[i % 4] for i in range(count))
    lines = text_of(Summary("Heron", "done", ANSWERS, findings, ("Buck 20 x 30 x 40 mm",), ("out/buck.stl",)))
    assert len(lines) <= 24


def test_left_out_findings_are_counted() -> None:
    lines = text_of(Summary("Heron", "done", findings=FINDINGS * 10))
    shown = sum(line[:4] in {"STOP", "WARN", "NOTE"} for line in lines)
    left = next(line for line in lines if line.startswith("and "))
    assert int(left.split()[1]) + shown == 40


def test_no_findings_is_said_and_cautions_stay() -> None:
    text = " ".join(text_of(Summary("Heron", "done")))
    assert "Nothing was found" in text
    for word in ("burns", "fumes", "vacuum", "edges", "food", "Local rules"):
        assert word in text


def test_printed_without_colour_the_words_remain() -> None:
    screen = io.StringIO()
    show_summary(
        Summary("Heron", "done", findings=FINDINGS), Console(file=screen, width=60, force_terminal=False)
    )
    printed = screen.getvalue().splitlines()
    assert "\x1b" not in screen.getvalue()
    assert max(map(len, printed)) <= 60
    assert any(line.startswith("STOP") for line in printed)


def test_terminal_gets_no_colours_that_carry_meaning() -> None:
    screen = io.StringIO()
    show_summary(
        Summary("Heron", "done", findings=FINDINGS), Console(file=screen, width=60, force_terminal=True)
    )
    codes = {part.split("m")[0] for part in screen.getvalue().split("\x1b[")[1:]}
    assert codes <= {"0", "1", "1;7", "7"}  # bold, reverse and reset only


def test_bad_findings_are_refused() -> None:
    with pytest.raises(ValueError, match="severity"):
        Finding("vents", "panic", "x")
    with pytest.raises(ValueError, match="words"):
        Finding("vents", "note", "  ")


def test_answers_come_before_everything_else() -> None:
    lines = text_of(Summary("Heron", "done", ANSWERS, FINDINGS, ("A fact.",)))
    assert lines[1].split() == ["Releases", "yes,", "straight", "off", "the", "buck."]
    assert lines[2].startswith("  Fits       no: 310")
    assert lines.index("  A fact.") == 3


def test_serious_findings_that_do_not_fit_are_named() -> None:
    lines = " ".join(text_of(Summary("Heron", "done", ANSWERS, FINDINGS * 10)))
    assert "doubtful-size (1" in lines
    assert "[part-locks]" in lines


def test_facts_give_way_to_the_first_finding() -> None:
    facts = tuple(f"Fact {n}." for n in range(20))
    lines = text_of(Summary("Heron", "done", ANSWERS, FINDINGS, facts))
    assert len(lines) <= 24
    assert not any(line.strip().startswith("Fact") for line in lines)
    assert any(line.startswith("STOP") for line in lines)
