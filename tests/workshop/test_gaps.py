"""Gap against waste: what is told of each opening, and which is chosen."""

import csv
import io
from xml.etree import ElementTree

import pytest

from buckwright.output.job_sheet.gap_plot import gap_plot, gap_rows
from buckwright.workshop.cutting.settings import StockSettings
from buckwright.workshop.gaps.weighing import csv_bytes, read_forecast, weigh

#: A dome of 220 mm: both blanks of the lamp shade, and a third between them.
THIN = {25.0: 0.30, 35.0: 0.40, 45.0: 0.41}


def formed(gap, thin=None, web=0.0, base=220.0):
    return read_forecast(
        {
            "gap_mm": gap,
            "thin_mm": THIN[gap] if thin is None else thin,
            "mean_mm": 0.5,
            "web_length_mm": web,
            "frame_width_mm": base + 2.0 * gap,
            "frame_depth_mm": base + 2.0 * gap,
        }
    )


def rows(**changed):
    stock = StockSettings(parts=10, spare_share=0.0, price=24.0, **changed)
    return weigh([formed(gap) for gap in (45.0, 25.0, 35.0)], stock, grip_mm=15.0)


def test_the_lamp_shade_shows_both_blanks_with_their_thinning():
    """340 x 340 (grip 15, gap 45) gives 3 and uses 47 %, 300 x 300 gives 8 and uses 97 %: by hand."""
    narrow, _, wide = rows().rows
    assert (narrow.blank_mm, narrow.per_sheet) == ((300.0, 300.0), 8)
    assert narrow.used_share == pytest.approx(0.967, abs=1e-3)
    assert (wide.blank_mm, wide.per_sheet) == ((340.0, 340.0), 3)
    assert wide.used_share == pytest.approx(0.466, abs=1e-3)
    assert (narrow.sheets, wide.sheets) == (2, 4)
    assert (narrow.cost_per_part, wide.cost_per_part) == (3.0, 8.0)
    assert (narrow.thin_mm, wide.thin_mm) == (0.30, 0.41)


def test_thin_walls_are_not_bought_with_sheet():
    told = rows()
    assert told.rows[told.chosen].gap_mm == 35.0  # as thick as the best within 5 %, and no more sheet
    assert "0.40 mm" in told.reason and "0.41 mm" in told.reason


def test_webs_count_unless_no_opening_is_free_of_them():
    thick = [formed(25.0, 0.4), formed(35.0, 0.4, web=40.0)]
    assert weigh(thick, StockSettings(), grip_mm=15.0).chosen == 0
    against = [formed(25.0, 0.2), formed(35.0, 0.4, web=40.0)]
    told = weigh(against, StockSettings(), grip_mm=15.0)
    assert told.chosen == 1 and "webs are 40 mm longer" in told.reason


def test_no_choice_where_nothing_goes_on_the_stock():
    told = rows(stock_mm=(200.0, 200.0))
    assert told.chosen is None and "larger stock" in told.reason
    assert [row.sheets for row in told.rows] == [0, 0, 0]
    assert gap_plot(told.to_dict())


def test_the_table_reads_back():
    told = rows()
    table = list(csv.DictReader(io.StringIO(csv_bytes(told).decode())))
    assert [float(row["gap_mm"]) for row in table] == [25.0, 35.0, 45.0]
    assert [row["chosen"] for row in table] == ["0", "1", "0"]
    assert [int(row["per_sheet"]) for row in table] == [row.per_sheet for row in told.rows]
    heads, words = gap_rows(told.to_dict())
    assert all(len(row) == len(heads) for row in words) and words[1][0] == "35 (choose)"


def test_the_plot_has_a_mark_for_each_opening_at_its_height():
    told = rows().to_dict()
    drawing = ElementTree.fromstring(gap_plot(told))
    circles = [
        (float(one.get("cx")), float(one.get("cy")))
        for one in drawing.iter("{http://www.w3.org/2000/svg}circle")
    ]
    assert len(circles) == 4 * 3
    thin = circles[:3]
    assert [x for x, _ in thin] == [70.0, 270.0, 470.0]
    foot, height = 140.0, 110.0
    most = max(row["mean_mm"] for row in told["rows"])
    for (_, y), row in zip(thin, told["rows"], strict=True):
        assert y == pytest.approx(foot - height * row["thin_mm"] / most, abs=0.1)
    assert gap_plot({"rows": told["rows"][:1], "chosen": 0}) == ""
