import dataclasses

import pytest

from buckwright.errors import JobError
from buckwright.forming.sheets.materials import Range, load_sheets, sheet

ROW = """
[SOFT]
title = "a test sheet"
structure = "amorphous"
density_kg_m3 = { value = 1000, source = "test", mark = "from memory" }
glass_transition_c = { value = 50, source = "test", mark = "from memory" }
shrinkage = { low = 0.01, high = 0.02, source = "test", mark = "from memory" }
male_draft_deg = { value = 3, source = "test", mark = "from memory" }
strain = { low = 0.01, high = 0.02, source = "test", mark = "from memory" }
vent_diameter_mm = { low = 0.5, high = 1.0, source = "test", mark = "from memory" }
"""


def test_every_figure_has_a_source_and_a_mark():
    sheets = load_sheets()
    assert set(sheets) == {"HIPS", "PETG", "ABS", "PMMA", "PC", "PVC", "PVC_ACRYLIC", "PP", "HDPE"}
    for material in sheets.values():
        figures = [value for value in material.to_dict().values() if isinstance(value, dict)]
        assert len(figures) == 6
        assert all(figure["source"] and figure["mark"] for figure in figures)


def test_ranges_run_upwards_and_are_ratios():
    for material in load_sheets().values():
        for span in (material.shrinkage, material.strain):
            assert 0.0 < span.low <= span.high < 0.1
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


def test_own_table_is_read(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(ROW)
    assert load_sheets(path)["SOFT"].strain == Range(0.01, 0.02, "test", "from memory")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('structure = "amorphous"', 'structure = "runny"', "structure must be one of"),
        ('title = "a test sheet"\n', "", "missing title"),
        ("low = 0.01, high = 0.02", "low = 0.03, high = 0.02", "0 < low <= high"),
        ("value = 50", "value = true", "value must be a number"),
        ("value = 50", "value = nan", "value must be a number"),
        ('value = 50, source = "test"', "value = 50", "source is missing"),
        ('mark = "from memory"', 'mark = "surely"', "mark must be one of"),
        ("male_draft_deg = {", "male_draft_deg = 3 # {", "a table with its source"),
        ("[SOFT]", "[SOFT", "cannot be read"),
        ("[SOFT]", "loose = 1\n[SOFT]", "a table is expected"),
    ],
)
def test_broken_tables_are_refused(tmp_path, old, new, message):
    assert old in ROW
    path = tmp_path / "own.toml"
    path.write_text(ROW.replace(old, new))
    with pytest.raises(JobError, match=message):
        load_sheets(path)


def test_missing_table_is_refused(tmp_path):
    with pytest.raises(JobError, match="cannot be read"):
        load_sheets(tmp_path / "none.toml")
