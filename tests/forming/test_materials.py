import dataclasses

import pytest
import tomli_w

from buckwright.errors import JobError
from buckwright.forming.sheets.materials import sheet
from buckwright.forming.sheets.table import load_sheets

AMORPHOUS = {"HIPS", "PETG", "ABS", "PMMA", "PC", "PVC", "PVC_ACRYLIC"}
SEMI_CRYSTALLINE = {"PP", "HDPE", "EVA"}


def row():
    """A whole row, as a file holds it."""
    plain = load_sheets()["ABS"].to_dict()
    del plain["name"]
    return plain


def written(path, rows):
    path.write_text(tomli_w.dumps(rows), encoding="utf-8")
    return path


def test_every_figure_has_a_source_and_a_mark():
    sheets = load_sheets()
    assert set(sheets) == AMORPHOUS | SEMI_CRYSTALLINE
    for material in sheets.values():
        figures = [value for value in material.to_dict().values() if isinstance(value, dict)]
        assert len(figures) == 20
        assert all(figure["source"] and figure["mark"] for figure in figures)


def test_ranges_run_upwards_and_are_ratios():
    for material in load_sheets().values():
        for span in (material.shrinkage, material.strain):
            assert 0.0 < span.low <= span.high <= (0.2 if material.name == "EVA" else 0.08)
        assert material.vent_diameter_mm.low < material.vent_diameter_mm.high


def test_names_are_forgiving():
    assert sheet("pvc/acrylic") is sheet("PVC_ACRYLIC") is sheet(" Pvc-acrylic ")


def test_unknown_name_offers_the_nearest():
    with pytest.raises(JobError, match=r"'HIPPS'\. Did you mean HIPS\? Known: .*HDPE"):
        sheet("HIPPS")
    with pytest.raises(JobError, match=r"no sheet is called 'unobtainium'\. Known"):
        sheet("unobtainium")


def test_table_is_frozen():
    with pytest.raises(TypeError):
        load_sheets()["NEW"] = sheet("ABS")
    with pytest.raises(dataclasses.FrozenInstanceError):
        sheet("ABS").title = "other"


def test_temperatures_rise_from_release_to_the_highest():
    """The order that a sheet-forming table must have, and a part sets before it softens."""
    for name, one in load_sheets().items():
        steps = [
            one.release_c.value,
            one.forming_lowest_c.low,
            one.forming_lowest_c.high,
            one.forming_normal_c.low,
            one.forming_normal_c.middle,
            one.forming_normal_c.high,
            one.forming_highest_c.low,
        ]
        assert steps == sorted(steps), name
        assert steps[0] < steps[1] and steps[2] < steps[4] < steps[6], name
        if name in AMORPHOUS:
            assert one.release_c.value <= one.glass_transition_c.value, name


def test_crystals_melt_and_glasses_do_not():
    for name, one in load_sheets().items():
        assert (one.structure == "semi-crystalline") == (name in SEMI_CRYSTALLINE)
        assert (one.melting_heat_kj_kg.value > 0.0) == (name in SEMI_CRYSTALLINE)


def test_a_table_is_read(tmp_path):
    path = written(tmp_path / "table.toml", {"STIFF": row()})
    assert load_sheets(path)["STIFF"] == dataclasses.replace(sheet("ABS"), name="STIFF")


@pytest.mark.parametrize(
    ("key", "entry", "message"),
    [
        ("structure", "runny", "structure must be one of"),
        ("title", None, "missing title"),
        ("titel", "x", "titel is not known; it has .*title"),
        ("strain", {"low": 0.03, "high": 0.02}, r"SOFT\.strain: 0 < low <= high is expected, got 0.03"),
        ("glass_transition_c", {"value": True}, "value must be a number"),
        ("glass_transition_c", {"value": float("nan")}, "value must be a number"),
        ("density_kg_m3", {"value": -1}, "above 0"),
        ("melting_heat_kj_kg", {"value": -1}, "0 or more"),
        ("cue", {"words": " "}, "words in quotes are expected"),
        ("fume", {"words": "smells", "value": 3}, "value is not known; it has words"),
        ("drying", {"low_h": 3, "high_h": 2, "at_c": 80}, "low_h <= high_h is expected, got 3 and 2"),
        ("release_c", {"value": 130}, "release_c must be below forming_lowest_c .*130 and 127"),
        ("forming_highest_c", {"low": 150, "high": 150}, "forming_normal_c must be below forming_highest_c"),
        ("forming_highest_c", {"low": 900, "high": 900}, "forming_highest_c"),
        ("shrinkage", {"low": 0.5, "high": 1.2}, "0.005 is 0.5 %"),
        ("male_draft_deg", 3, "a table with its source"),
    ],
)
def test_broken_rows_are_refused(tmp_path, key, entry, message):
    known = {"source": "test", "mark": "from memory"}
    changed = row() | {key: entry | known if isinstance(entry, dict) else entry}
    if entry is None:
        del changed[key]
    with pytest.raises(JobError, match=message):
        load_sheets(written(tmp_path / "table.toml", {"SOFT": changed}))


@pytest.mark.parametrize(
    ("origin", "message"),
    [({"mark": "read"}, "source is missing"), ({"source": "x", "mark": "surely"}, "mark must be one of")],
)
def test_a_figure_without_origin_is_refused(tmp_path, origin, message):
    with pytest.raises(JobError, match=message):
        load_sheets(written(tmp_path / "table.toml", {"SOFT": row() | {"release_c": {"value": 80} | origin}}))


@pytest.mark.parametrize(
    ("text", "message"), [("[SOFT", "cannot be read"), ("loose = 1", "a table is expected")]
)
def test_broken_tables_are_refused(tmp_path, text, message):
    (tmp_path / "table.toml").write_text(text)
    with pytest.raises(JobError, match=message):
        load_sheets(tmp_path / "table.toml")


def test_missing_table_is_refused(tmp_path):
    with pytest.raises(JobError, match="cannot be read"):
        load_sheets(tmp_path / "none.toml")
