"""The job sheet: everything on one page, nothing fetched, whatever stands in the report is escaped."""

import io
from html.parser import HTMLParser

import pytest
from PIL import Image

from buckwright.output.job_sheet.edge import trim_step, trim_words
from buckwright.output.job_sheet.page import JobWords, job_sheet_html
from buckwright.output.job_sheet.pictures import drawn_part

PNG = b"\x89PNG\r\n\x1a\nnot a picture"
REPORT = {
    "buck": {"size_mm": [120.0, 90.0, 50.0], "volume_mm3": 250_000.0},
    "base": {"style": "plinth", "trim_z_mm": 18.0, "flange_mm": 6.0, "riser_mm": 12.0, "trim_step_mm": 0.6},
    "draft": {"wanted_deg": 3.0},
    "venting": {"vents": 20, "bare": 2, "vents_to_drill": 3},
    "templates": {"trim_line_mm": 421.4},
    "rig": {
        "opening_mm": [201.0, 171.0],
        "gap_mm": [40.0, 41.0],
        "grip_mm": 15.0,
        "blank_mm": [231.0, 201.0],
        "dead_mm": 6.0,
        "reducing_set": {
            "plate_mm": [400.0, 300.0],
            "cut_out_mm": [201.0, 171.0],
            "frame_strips": [{"use": "frame, running through", "length_mm": 231.0, "count": 4}],
            "gasket_strips": [{"use": "gasket, along the width", "length_mm": 225.0, "count": 2}],
            "clamps": 10,
        },
    },
    "cutting": {
        "sheets": 2,
        "per_sheet": 2,
        "stock_mm": [500.0, 300.0],
        "used_share": 0.62,
        "blanks": 3,
        "blank_kg": 0.05,
        "cost_per_part": 1.5,
        "pieces": [
            {"x_mm": 0.0, "y_mm": 0.0, "width_mm": 231.0, "depth_mm": 201.0},
            {"x_mm": 234.0, "y_mm": 0.0, "width_mm": 231.0, "depth_mm": 201.0},
        ],
    },
    "heating": {"works": True, "earliest_s": 61.2, "latest_s": 88.0, "sag_mm": [17.0, 43.0], "hold_s": 9.0},
    "findings": [
        {"severity": "warn", "words": "A web <b>crosses</b> & folds.", "advice": "Make room."},
        {"severity": "note", "words": "Small.", "advice": ""},
    ],
    "files": {"buck.stl": "ab" * 32},
}
WORDS = JobWords(
    title="Wall sconce <cup>",
    number="BW-9",
    story="Forty for Friday",
    sheet="HIPS, 1 mm",
    outcome="the buck is ready to print.",
    answers=(("Releases", "yes"),),
)


class Page(HTMLParser):
    """Tags with their attributes, and all text."""

    def __init__(self):
        super().__init__()
        self.tags, self.words = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self):
        return " ".join(self.words)


def read(words=WORDS, report=REPORT, pictures=None):
    page = Page()
    page.feed(job_sheet_html(words, report, pictures or {}).decode())
    return page


def test_figures_stand_on_it():
    text = read().text
    for words in (
        "Wall sconce <cup> (BW-9)",
        "120.0 x 90.0 x 50.0 mm, 250 cm3",
        "18.0 mm over the platen",
        "20; 2 pockets without one",
        "231 x 201 mm",
        "4 of 231 mm",
        "2 blanks a sheet of 500 x 300 mm (62% used); 2 for 3 blanks",
        "421 mm",
        "1.50",
        "Watch: A web <b>crosses</b> & folds. Make room.",
        "Hot sheet burns",
        "Drill the vents at the dimples.",
        "between 61 and 88 s",
        "17 to 43 mm",
        "within about 9 s",
        "abab",
    ):
        assert words in text


def test_text_of_the_job_makes_no_markup():
    assert not [tag for tag, _ in read().tags if tag in ("cup", "b")]


def test_nothing_is_fetched():
    page = read(pictures={"buck_slant.png": PNG, "other.png": PNG})
    sources = [attrs[name] for _, attrs in page.tags for name in ("src", "href") if name in attrs]
    assert len(sources) == 1 and sources[0].startswith("data:image/png;base64,")
    assert not [tag for tag, _ in page.tags if tag in ("script", "link", "iframe")]
    assert "url(" not in job_sheet_html(WORDS, REPORT, {}).decode()


def test_pictures_and_boxes_are_named():
    page = read(pictures={"buck_slant.png": PNG})
    assert [attrs["alt"] for tag, attrs in page.tags if tag == "img"] == ["The buck"]
    assert sum(tag == "input" for tag, _ in page.tags) == sum(tag == "label" for tag, _ in page.tags) > 10
    assert [attrs["lang"] for tag, attrs in page.tags if tag == "html"] == ["en"]


def test_blanks_are_drawn_to_scale():
    boxes = [attrs for tag, attrs in read().tags if tag == "rect"]
    assert [(box["width"], box["height"]) for box in boxes] == [
        ("500", "300"),
        ("231", "201"),
        ("231", "201"),
    ]
    assert [(box["x"], box["y"]) for box in boxes[1:]] == [("0", "99"), ("234", "99")]


@pytest.mark.parametrize("missing", list(REPORT))
def test_what_is_not_known_is_left_out(missing):
    report = {name: section for name, section in REPORT.items() if name != missing}
    page = read(report=report)
    assert "Cautions" in page.text and "None" not in page.text.replace("None.", "")


def test_same_report_same_bytes():
    assert job_sheet_html(WORDS, REPORT, {}) == job_sheet_html(WORDS, REPORT, {})


def test_a_heater_that_does_not_serve_gives_no_time():
    report = REPORT | {"heating": REPORT["heating"] | {"works": False, "hold_s": None, "sag_mm": None}}
    text = read(report=report).text
    assert "Expect" not in text and "within about" not in text and "begun to sag" in text


def test_cue_drying_hold_and_finish_are_those_of_the_sheet():
    """Words of the sheet's own table in the order of work; none of drying where it takes up no water."""
    cue = {"words": "Milky sheet turns clear as it melts."}
    drying = {"low_h": 2.0, "high_h": 24.0, "at_c": 125.0}
    own = {"cue": cue, "drying": drying, "cool_s": 12.4, "finishing": {"words": "Nothing holds on it."}}
    text = read(report=REPORT | {"heating": REPORT["heating"] | own}).text
    order = ("2 to 24 h at 125 °C", "Clamp the sheet", cue["words"], "about 12 s", "Nothing holds", "Deburr")
    places = [text.index(words) for words in order]
    assert places == sorted(places) and "begun to sag" not in text
    rarely = own | {"drying": {"low_h": 0.0, "high_h": 4.0, "at_c": 60.0}}
    text = read(report=REPORT | {"heating": rarely}).text
    assert "If bubbles show, dry the sheet: up to 4 h at 60 °C." in text
    never = own | {"drying": {"low_h": 0.0, "high_h": 0.0, "at_c": 80.0}}
    assert "dry the sheet" not in read(report=REPORT | {"heating": never}).text


@pytest.mark.parametrize(("pips", "told"), [([{"at_mm": [1, 2, 3]}], True), ([], False)])
def test_a_printed_sheet_is_pinned_by_its_marks(pips, told):
    text = read(report=REPORT | {"artwork": {"side": "under", "pips": pips}}).text
    assert "Print the under side of the sheet at 100 %, and pin it in the frame by the marks" in text
    assert ("each cross must lie on its pip" in text) == told


def test_the_machine_answers_with_its_figures():
    from buckwright.output.job_sheet.machine import machine_rows

    fit = {"most_mm": 120.0, "height_mm": 61.25, "dead_mm": 6.0, "sag_room_mm": 60.0, "sag_mm": 46.2}
    vacuum = {"box_l": 2.0, "under_sheet_l": 1.4, "shared_kpa": None, "evacuate_s": 0.52}
    vacuum |= {"target_kpa": 86.4, "force_n": 212.4}
    holes = {"to_mask": 12, "count": 187, "mask_plate": False, "vents_reaching": 9, "vents": 10}
    rows = dict(machine_rows({"machine": {"title": "Box", "fit": fit, "vacuum": vacuum, "holes": holes}}))
    assert rows["Height"] == "61.2 mm, 6.0 mm of it dead height; the machine takes 120 mm"
    assert rows["Vacuum"] == "3.4 l of air in box and under the sheet; 0.5 s down to 86 kPa"
    assert rows["Holes of the platen"] == "12 of 187 to mask; 9 of 10 vents reach an open one"
    tank = vacuum | {"shared_kpa": 13.757, "tank_s": 42.4}
    rows = dict(machine_rows({"machine": {"title": "Box", "fit": fit, "vacuum": tank, "holes": None}}))
    assert rows["Vacuum"].endswith("shared with the tank 13.8 kPa, the tank ready again after 42 s")
    assert machine_rows({}) == []


def test_the_edge_and_its_holes_are_told():
    edge = {"trim_line_mm": 651.4, "outside_mm": 654.6, "from": "forecast", "rises_mm": 0.0, "gauge_mm": 17.8}
    report = REPORT | {"edge": edge | {"profile_size_mm": [180.0, 140.0, 8.6]}}
    text = read(report=report).text
    assert "651 mm, on the forecast sheet" in text and "670 mm with 15 mm of overlap" in text
    assert "edge.stl, 180 x 140 x 9 mm" in text and "Drill" not in text.replace("Drill the vents", "")
    holes = [{"kind": kind} for kind in ("rivet", "rivet", "slot")]
    text = read(report=report | {"holes": holes}).text
    assert "Drill 2 rivet holes, 1 strap slot at the pips" in text and "drill both ends" in text


def test_several_bucks_stand_beside_one_at_a_time():
    from buckwright.output.job_sheet.group import group_rows

    one = {"per_pull": 1, "blank_mm": [250.0, 220.0], "pulls": 40, "sheets": 4, "hours": 2.04}
    six = {"per_pull": 6, "blank_mm": [457.5, 575.0], "pulls": 7, "sheets": 0, "hours": None}
    group = {"copies": 6, "fits": True, "most": 6, "spacing_mm": 87.5, "edge_mm": 50.0, "ways": [one, six]}
    rows = dict(group_rows({"group": group}))
    assert rows["Bucks in one pull"] == "6 fit; 87.5 mm apart, 50 mm to the frame"
    assert rows["1 in one pull"] == "blank 250 x 220 mm, 40 pulls, 4 stock sheets, 2.0 h"
    assert rows["6 in one pull"] == "blank 458 x 575 mm, 7 pulls, larger stock needed"
    scrap = dict(group_rows({"group": group | {"ways": [one | {"sheet_m2_per_part": 0.055}]}}))
    assert scrap["1 in one pull"].endswith("4 stock sheets, 550 cm2 of sheet a part, 2.0 h")
    refused = group | {"copies": 9, "fits": False, "ways": [one]}
    assert "9 do not fit: 6 would" in dict(group_rows({"group": refused}))["Bucks in one pull"]
    assert group_rows({}) == []


def test_bucks_of_other_jobs_and_what_stands_between_are_told():
    from buckwright.output.job_sheet.group import group_rows

    lid = {"name": "lid", "copies": 2, "most": 1}
    group = {"copies": 3, "fits": True, "most": 3, "spacing_mm": 90.0, "edge_mm": 26.0, "ways": []}
    group |= {"others": [lid]}
    formed = {"webs_between": [{}, {}], "between": [{"lowest_mm": 21.4}, {"lowest_mm": 0.0}]}
    rows = dict(group_rows({"group": group, "group_forecast": formed}))
    assert rows["Bucks in one pull"] == "3 of this one, 2 of lid fit; 90 mm apart, 26 mm to the frame"
    assert rows["Between the bucks"].startswith("2 webs; the sheet comes down to 21 mm over the platen")
    refused = group | {"fits": False, "most": 2}
    words = dict(group_rows({"group": refused}))["Bucks in one pull"]
    assert words.startswith("3 of this one, 2 of lid do not fit: 2 of this one, 1 of lid would")


def test_heater_zones_and_openings_are_told():
    from buckwright.output.job_sheet.edge import edge_rows
    from buckwright.output.job_sheet.machine import machine_rows

    zones = {"after_s": 41.6, "mean_c": [[133.2, 149.0], [138.0, 151.4]]}
    (row,) = machine_rows({"heater_zones": zones})
    assert row == ("Heater zones", "°C of the sheet from back to front after 42 s: 133 149; 138 151")
    opening = {"trim_line_mm": 116.3, "outside_mm": 115.5, "gauge_mm": 3.0}
    edge = {"trim_line_mm": 651.4, "outside_mm": 654.6, "from": "wall", "gauge_mm": 17.8, "rises_mm": 0.0}
    rows = dict(edge_rows({"edge": edge | {"profile_size_mm": None, "openings": [opening]}}))
    assert rows["Opening 1, cut out"] == "trim line 116 mm, 3.0 mm over its floor; border strip 130 mm"


@pytest.mark.parametrize(
    ("base", "edge", "where", "step"),
    [
        ({}, {}, "the ledge on the wall", "Trim along the ledge, 18.0 mm over the platen"),
        (
            {"trim_step_mm": 0.0},
            {},
            "without a ledge",
            "Mark the trim line 18.0 mm over the platen, as there is",
        ),
        ({"style": "plinth"}, {}, "where the part meets the land", "Trim where the part meets the land"),
        ({"style": "female"}, {}, "12.0 mm under the land", "Trim 12.0 mm under the flat of the rim"),
        (
            {},
            {"rises_mm": 7.5},
            "the ledge on the wall",
            "its upper edge, which rises by up to 7.5 mm: cut below",
        ),
    ],
)
def test_where_the_part_is_cut_fits_the_base(base, edge, where, step):
    base = REPORT["base"] | {"style": "flange"} | base
    assert trim_words(base).endswith(where)
    assert step in trim_step(base, edge)


def test_what_the_print_takes_is_told():
    whole = {"mass_g": 413.2, "filament_m": 138.6, "time_h": [7.93, 22.5]}
    whole |= {"first_layer_mm2": 19_290.0, "overhang_mm2": 2_644.0}
    report = REPORT | {"print": {"whole": whole, "pieces": []}, "strength": {"material": "PLA"}}
    text = read(report=report).text
    assert "about 413 g of PLA, 139 m of filament, 8 to 22 h; first layer 193 cm2, overhang 26 cm2" in text
    saved = {"mass_g": 55.1, "time_h": [1.24, 3.5]}
    printed = {"whole": whole, "pieces": [{}] * 4, "saved_by_hollow": saved}
    text = read(report=report | {"print": printed, "strength": None}).text
    assert "8 to 22 h in 4 pieces;" in text and "55 g and roughly 1.2 to 3.5 h less" in text


def test_a_sheet_of_more_blanks_than_are_needed_is_not_cut_up():
    cut = {"across": True, "at_mm": 231.0, "start_mm": 0.0, "end_mm": 300.0}
    cutting = REPORT["cutting"] | {"cuts": [cut], "per_sheet": 7, "blanks": 2, "sheets": 1}
    words = "turn a whole sheet into 7: stop when you have the 2."
    assert words in read(report=REPORT | {"cutting": cutting}).text
    assert "stop when you have" not in read(report=REPORT | {"cutting": cutting | {"blanks": 7}}).text
    assert "stop when you have" not in read().text  # no cuts are told there


def test_pictures_tell_their_measures_and_paper_gets_the_model_alone():
    picture = Image.new("RGB", (1120, 840), "white")
    picture.paste((30, 60, 90), (200, 300, 500, 450))  # the model in its room
    picture.paste((0, 0, 0), (820, 40, 1100, 200))  # a legend
    file = io.BytesIO()
    picture.save(file, "png")
    page = read(pictures={"buck_front.png": file.getvalue(), "buck_top.png": PNG})
    assert "The buck from the front: 120 x 50 mm high" in page.text
    assert "Down the pull, with the vents: 120 x 90 mm" in page.text
    kinds = [attrs.get("class") for tag, attrs in page.tags if tag == "img"]
    assert kinds == ["screen", "paper", None]  # what is no picture of ours stays as it is
    with Image.open(io.BytesIO(drawn_part(file.getvalue()))) as part:
        assert part.mode == "L" and part.size == (311, 161)
    assert "dash-dotted line is the trim line" in page.text


def test_a_single_blank_is_one():
    report = REPORT | {"cutting": REPORT["cutting"] | {"per_sheet": 1, "blanks": 1, "sheets": 1}}
    words = " ".join(read(report=report).words)
    assert "1 blank a sheet of" in words and "1 for 1 blank, spares" in words
    assert "1 blank on the stock sheet" in words
