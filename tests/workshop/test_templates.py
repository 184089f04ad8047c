"""Templates read back by other people's readers: lengths are true in all three kinds of files."""

import io
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
from ezdxf import recover
from pypdf import PdfReader
from pypdf.generic import ContentStream

from buckwright.output.flat.drawing import Circle, FlatDrawing, Line, Words, bar, box, rounded_box
from buckwright.output.flat.dxf import dxf_bytes
from buckwright.output.flat.pdf import PAGES, pdf_bytes, tiling_of
from buckwright.output.flat.svg import svg_bytes
from buckwright.workshop.machine.figures import MachineFigures
from buckwright.workshop.machine.planning import plan_fit
from buckwright.workshop.machine.platen import hole_grid, sort_holes
from buckwright.workshop.rig.planning import plan_rig
from buckwright.workshop.templates import drawings

SVG = "{http://www.w3.org/2000/svg}"
MM = 72.0 / 25.4

RIG = plan_rig(
    base_mm=(120.0, 90.0),
    height_mm=50.0,
    opening_mm=(200.0, 170.0),
    grip_mm=15.0,
    reducing=True,
    platen_mm=(400.0, 300.0),
    dead_mm=6.0,
    gasket_width_mm=10.0,
)
BASE = [np.array([(-60.0, -45.0), (60.0, -45.0), (60.0, 45.0), (-60.0, 45.0)])]

HOLES = sort_holes(
    hole_grid((400.0, 300.0), round_one=False, pitch_mm=40.0, hole_mm=3.0),
    3.0,
    opening_mm=RIG.opening_mm,
    round_one=False,
    base=BASE,
)
FIT = plan_fit(
    MachineFigures(),
    base=BASE,
    base_mm=(120.0, 90.0),
    height_mm=50.0,
    platen_mm=(400.0, 300.0),
    frame_mm=None,
    opening_mm=RIG.opening_mm,
    most_mm=None,
    dead_mm=6.0,
    blank_mm=RIG.blank_mm,
    sag_share=0.2,
)


def square():
    words = (Words("engrave", -40.0, 0.0, 5.0, "a square of 100 mm & more"),)
    return FlatDrawing(
        name="square",
        title="Square",
        lines=(box("cut", 100.0, 100.0, x=30.0, y=-20.0),),
        circles=(Circle("score", 30.0, -20.0, 12.5),),
        words=words,
    )


def all_drawings():
    return [
        drawings.blank_drawing(RIG, BASE, corner_mm=10.0),
        drawings.mask_plate(RIG, BASE, corner_mm=10.0, gasket_width_mm=10.0),
        drawings.clamp_frame(RIG, corner_mm=10.0),
        drawings.platen_holes(HOLES, FIT, BASE, RIG.opening_mm),
        drawings.base_board(BASE, np.array([(-40.0, 10.0), (40.0, -10.0)]), 2.5),
        drawings.edge_strip(651.2, width_mm=20.0),
    ]


def dxf_of(drawing):
    document, auditor = recover.read(io.BytesIO(dxf_bytes(drawing)))
    assert not auditor.has_errors and not auditor.has_fixes
    return document


def points_of(polyline):
    return np.array([point[:2] for point in polyline.get_points()])


@pytest.mark.parametrize("drawing", all_drawings(), ids=lambda one: one.name)
def test_dxf_holds_every_length(drawing):
    document = dxf_of(drawing)
    assert document.header["$INSUNITS"] == ezdxf.units.MM
    read = [
        (line.dxf.layer, Line("cut", points_of(line), line.closed).length_mm)
        for line in document.modelspace().query("LWPOLYLINE")
    ]
    assert [layer for layer, _ in read] == [line.layer for line in drawing.lines]
    np.testing.assert_allclose(
        [length for _, length in read], [one.length_mm for one in drawing.lines], atol=0.01
    )
    assert len(document.modelspace().query("TEXT")) == len(drawing.words)


@pytest.mark.parametrize("drawing", all_drawings(), ids=lambda one: one.name)
def test_svg_holds_every_length(drawing):
    root = ElementTree.fromstring(svg_bytes(drawing))
    width, depth = (float(root.get(side).removesuffix("mm")) for side in ("width", "height"))
    assert root.get("viewBox") == f"0 0 {root.get('width')[:-2]} {root.get('height')[:-2]}"
    np.testing.assert_allclose((width, depth), np.ptp(drawing.bounds, axis=0) + 10.0, atol=0.01)
    read = []
    for kind, closed in (("polygon", True), ("polyline", False)):
        for one in root.iter(f"{SVG}{kind}"):
            points = np.array([pair.split(",") for pair in one.get("points").split()], float)
            assert points.min() >= 0.0 and (points <= (width, depth)).all()
            read.append(Line("cut", points, closed).length_mm)
    np.testing.assert_allclose(sorted(read), sorted(one.length_mm for one in drawing.lines), atol=0.01)


def strokes(page):
    """Ends of all straight strokes of a page, mm, with whatever matrix is in force."""
    found, before, now, start = [], [], np.eye(3), None
    for operands, operator in ContentStream(page.get_contents(), None).operations:
        numbers = [float(value) for value in operands if isinstance(value, int | float)]
        if operator == b"q":
            before.append(now)
        elif operator == b"Q":
            now = before.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = numbers
            now = np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]]) @ now
        elif operator in (b"m", b"l"):
            point = (np.array([*numbers, 1.0]) @ now)[:2] / MM
            if operator == b"l":
                found.append((start, point))
            start = point
    return found


@pytest.mark.parametrize("paper", PAGES)
@pytest.mark.parametrize("drawing", all_drawings(), ids=lambda one: one.name)
def test_pdf_holds_every_length(drawing, paper):
    """Every page draws all of it and shows its own part, so each holds the whole of every line."""
    wanted = [np.linalg.norm(np.diff(line.points, axis=0), axis=1) for line in drawing.lines]
    wanted = np.concatenate(wanted)
    for page in PdfReader(io.BytesIO(pdf_bytes([drawing], page=paper, title="x"))).pages:
        drawn = [float(np.linalg.norm(b - a)) for a, b in strokes(page)][: len(wanted)]
        np.testing.assert_allclose(drawn, wanted, atol=0.01)


def test_a_square_of_100_mm_is_100_mm_in_all_three():
    drawing = square()
    (line,) = dxf_of(drawing).modelspace().query("LWPOLYLINE")
    np.testing.assert_allclose(np.ptp(points_of(line), axis=0), 100.0, atol=0.01)
    polygon = next(ElementTree.fromstring(svg_bytes(drawing)).iter(f"{SVG}polygon"))
    corners = np.array([pair.split(",") for pair in polygon.get("points").split()], float)
    np.testing.assert_allclose(np.ptp(corners, axis=0), 100.0, atol=0.01)
    (page,) = PdfReader(io.BytesIO(pdf_bytes([drawing], page="A4", title="x"))).pages
    lengths = [np.linalg.norm(b - a) for a, b in strokes(page)]
    # three sides of the square (the fourth closes it) and both bars
    assert sum(abs(length - 100.0) < 0.01 for length in lengths) == 5


@pytest.mark.parametrize("paper", PAGES)
def test_pages_cover_the_drawing_and_say_how(paper):
    drawing = drawings.mask_plate(RIG, BASE, corner_mm=10.0, gasket_width_mm=10.0)
    tiling = tiling_of(np.ptp(drawing.bounds, axis=0), paper)
    width, height = PAGES[paper][::-1] if tiling.turned else PAGES[paper]
    reader = PdfReader(io.BytesIO(pdf_bytes([drawing], page=paper, title="Plate")))
    assert len(reader.pages) == tiling.pages > 1
    for n, page in enumerate(reader.pages, 1):
        np.testing.assert_allclose(page.mediabox[2:], np.array([width, height]) * MM, atol=0.01)
        text = page.extract_text()
        assert "Print at 100 %" in text and f"Page {n} of {tiling.pages}" in text
    covered = np.array(tiling.inside_mm) + (np.array([tiling.columns, tiling.rows]) - 1) * (
        np.array(tiling.inside_mm) - 10.0
    )
    assert (covered >= np.ptp(drawing.bounds, axis=0) - 1e-6).all()


def test_same_drawing_same_bytes():
    for encode in (dxf_bytes, svg_bytes, lambda one: pdf_bytes([one], page="A4", title="x")):
        assert encode(square()) == encode(square())


def test_plate_and_frame_have_one_opening():
    plate = drawings.mask_plate(RIG, BASE, corner_mm=10.0, gasket_width_mm=10.0)
    frame = drawings.clamp_frame(RIG, corner_mm=10.0)
    openings = [[line for line in one.lines if line.layer == "cut"][1].points for one in (plate, frame)]
    np.testing.assert_array_equal(*openings)
    np.testing.assert_allclose(np.ptp(openings[0], axis=0), RIG.opening_mm)


def test_rounded_corners_stay_inside_and_near():
    points = rounded_box("cut", 200.0, 100.0, 20.0).points
    np.testing.assert_allclose(np.ptp(points, axis=0), (200.0, 100.0))
    beyond = np.abs(points) - (80.0, 30.0)
    at_corner = (beyond > 0.0).all(axis=1)
    np.testing.assert_allclose(np.linalg.norm(beyond[at_corner], axis=1), 20.0)
    np.testing.assert_array_equal(rounded_box("cut", 20.0, 10.0, 0.0).points, box("cut", 20.0, 10.0).points)


def test_the_edge_strip_is_as_long_as_the_trim_line_and_its_overlap():
    strip = drawings.edge_strip(160.0, width_mm=20.0)
    assert np.ptp(strip.lines[0].points[:, 0]) == 175.0
    assert [words.text for words in strip.words] == ["50", "100", "150", "overlap"]


def test_a_bar_has_its_length():
    assert bar(1.0, 2.0)[0].length_mm == bar(1.0, 2.0, upright=True)[0].length_mm == 100.0


def test_holes_to_mask_carry_a_cross():
    drawing = drawings.platen_holes(HOLES, FIT, BASE, RIG.opening_mm)
    crosses = [line for line in drawing.lines if line.layer == "engrave" and not line.closed]
    assert len(crosses) == 2 * HOLES.masked.sum() > 0 and len(drawing.circles) == 9 * 7
    middles = {tuple(line.points.mean(axis=0)) for line in crosses}
    assert middles == {tuple(place) for place in HOLES.places_mm[HOLES.masked]}


def test_the_mask_of_a_round_platen_is_round():
    rig = plan_rig(
        base_mm=(60.0, 60.0),
        height_mm=30.0,
        opening_mm=(120.0, 120.0),
        grip_mm=15.0,
        reducing=True,
        platen_mm=(300.0, 300.0),
        dead_mm=6.0,
        gasket_width_mm=10.0,
    )
    plate = drawings.mask_plate(rig, BASE, corner_mm=10.0, gasket_width_mm=10.0, round_plate=True)
    np.testing.assert_allclose(np.linalg.norm(plate.lines[0].points, axis=1), 150.0)
