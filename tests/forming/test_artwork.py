"""A picture printed on the flat sheet: it comes back on the part, by closed forms and by a second method."""

import io

import numpy as np
import pytest
from matplotlib.tri import LinearTriInterpolator, Triangulation
from PIL import Image
from pypdf import PdfReader

from buckwright.errors import InputError
from buckwright.forming.artwork.carrying import Carried, carried_by
from buckwright.forming.artwork.loading import load_picture
from buckwright.forming.artwork.painting import paint
from buckwright.forming.artwork.pictures import draw_grid_landed, draw_part, grid_lines
from buckwright.forming.artwork.placing import Placed, place_picture
from buckwright.forming.artwork.settings import ArtworkSettings
from buckwright.forming.artwork.sheets import grid_sheet, picture_sheet
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.sheet_grid import disc
from buckwright.output.flat.pdf import pdf_bytes
from buckwright.output.flat.png import png_bytes

RNG = np.random.default_rng(5)
DPI = 254.0  # a tenth of a millimetre
INCH_MM = 25.4


def chequer(squares, pixels=10):
    """Black and white squares, (n, n, 4), white at the upper left."""
    n = np.arange(squares * pixels) // pixels
    grey = np.where((n[:, None] + n) % 2, 0, 255).astype(np.uint8)
    return np.dstack([grey, grey, grey, np.full_like(grey, 255)])


# the map itself -------------------------------------------------------------------------------------------


def two(corners):
    """A rectangle of two triangles from its corners, (2, 3, 2)."""
    corners = np.asarray(corners, float)
    return corners[[[0, 1, 2], [0, 2, 3]]]


def square(width, height):
    return two([(0, 0), (width, 0), (width, height), (0, height)])


def test_the_same_place_in_both_gives_the_same_picture():
    picture = RNG.integers(0, 256, (12, 17, 4), np.uint8)
    picture[..., 3] = 255
    smooth = paint(square(17, 12), square(17, 12), picture, (12, 17))
    # four samples a quarter of a pixel off the middle: what a tent of this width leaves of each pixel
    flat = np.full_like(picture, 255)
    flat[..., :3] = (10, 200, 90)
    assert np.array_equal(paint(square(17, 12), square(17, 12), flat, (12, 17)), flat)
    weights = np.array([0.125, 0.75, 0.125])
    wanted = picture[..., :3].astype(float)
    for axis in (0, 1):
        padded = np.pad(wanted, [(1, 1) if k == axis else (0, 0) for k in range(3)], mode="edge")
        length = wanted.shape[axis]
        wanted = sum(w * np.take(padded, np.arange(length) + n, axis) for n, w in enumerate(weights))
    assert np.abs(smooth[..., :3] - wanted).max() <= 0.5 + 1e-9


def test_a_picture_twice_as_large_and_on_its_head():
    picture = chequer(2, 4)
    source = two([(8, 8), (0, 8), (0, 0), (8, 0)])
    painted = paint(square(16, 16), source, picture, (16, 16))
    wanted = np.kron(picture[::-1, ::-1, 0], np.ones((2, 2)))
    inner = np.r_[1:7, 9:15]  # off the edges between squares
    assert np.array_equal(painted[np.ix_(inner, inner)][..., 0], wanted[np.ix_(inner, inner)])


def test_what_lies_outside_stays_clear():
    painted = paint(square(6, 6), square(6, 6) + 3.0, chequer(2, 3), (8, 8))
    assert (painted[:3, :3, 3] == 255).all()
    assert not painted[3:, :, 3].any() and not painted[:, 3:, 3].any()


def test_a_large_sheet_is_painted_some_rows_at_a_time_without_a_seam(monkeypatch):
    picture = RNG.integers(0, 256, (9, 7, 4), np.uint8)
    slanting = two([(1, 0), (40, 6), (33, 50), (-4, 44)])
    whole = paint(slanting, square(7, 9), picture, (50, 40))
    assert 0.5 < (whole[..., 3] > 0).mean() < 0.9
    monkeypatch.setattr("buckwright.forming.artwork.painting._AT_ONCE", 3 * 40 + 1)
    assert np.array_equal(paint(slanting, square(7, 9), picture, (50, 40)), whole)


# where the picture lies -----------------------------------------------------------------------------------

BOX = np.array([(-20.0, -10.0), (60.0, 30.0)])


@pytest.mark.parametrize(("turn", "pixel"), [(0.0, 0.8), (90.0, 0.4), (45.0, 120 / np.sqrt(2) / 100)])
def test_a_picture_covers_the_sculpt_unless_told_otherwise(turn, pixel):
    placed = place_picture((100, 100), BOX, ArtworkSettings(file="a", turn_deg=turn), shrinkage=0.01)
    assert placed.pixel_mm == pytest.approx(0.8 if turn != 45.0 else pixel)
    corners = np.array([(x, y) for x in BOX[:, 0] for y in BOX[:, 1]])
    at = placed.pixels_at(corners)
    assert (at > -1e-9).all() and (at < 100 + 1e-9).all()


def test_a_wanted_width_is_that_of_the_cold_part():
    placed = place_picture(
        (200, 100), BOX, ArtworkSettings(file="a", width_mm=50.0, middle_mm=(3.0, -2.0)), shrinkage=0.2
    )
    assert placed.size_mm == pytest.approx((62.5, 31.25))
    assert placed.middle_mm == pytest.approx((20.0 + 3.75, 10.0 - 2.5))
    left_back = np.array([placed.middle_mm[0] - 31.25, placed.middle_mm[1] + 15.625])
    assert placed.pixels_at(left_back) == pytest.approx([0.0, 0.0])


def test_turned_to_the_left():
    placed = Placed((0.0, 0.0), 90.0, 1.0, (10, 10))
    # the right end of the picture comes to lie at the back
    assert placed.pixels_at(np.array([0.0, 4.0])) == pytest.approx([9.0, 5.0])


# round trips ----------------------------------------------------------------------------------------------


def cone(q):
    return np.maximum(25.0 - np.hypot(*q.T), 0.0)


def dome(q):
    return np.sqrt(np.maximum(60.0**2 - (q**2).sum(1), 50.0**2)) - 50.0


def box(q):
    return np.clip((20.0 - np.abs(q).max(1)) / np.tan(np.radians(10.0)), 0.0, 12.0)


def printed(carried, picture, placed, *, mirrored=False):
    """The PNG as it goes to the printer, read back: what lies at places of the flat sheet, mm."""
    shape = tuple(round(side / INCH_MM * DPI) for side in carried.opening_mm[::-1])
    pixels = carried.onto_flat(picture, placed, shape)
    blank = (carried.opening_mm[0] + 30.0, carried.opening_mm[1] + 30.0)
    sheet = picture_sheet(pixels, carried.opening_mm, blank, [], mirrored=mirrored)
    image = Image.open(io.BytesIO(png_bytes(sheet, dots_per_inch=DPI)))
    assert image.info["dpi"] == pytest.approx((DPI, DPI), abs=0.01)
    read = np.asarray(image)

    def at(places):
        column = ((places[..., 0] + blank[0] / 2.0) / INCH_MM * DPI).astype(int)
        row = ((blank[1] / 2.0 - places[..., 1]) / INCH_MM * DPI).astype(int)
        return read[row, column]

    return at


def edges_off_mm(carried, at, reach):
    """How far the edges of squares of 5 mm are off on the part, along rows and columns, in mm."""
    # the map from plan to flat sheet by another library's search and weights
    plan = Triangulation(*carried.formed[:, :2].T, carried.triangles)
    back = [LinearTriInterpolator(plan, carried.flat[:, k]) for k in (0, 1)]
    along, off = np.arange(-reach, reach, 0.05), []
    for middle in np.arange(2.5 - 5.0 * (reach // 5.0), reach, 5.0):
        level = np.full_like(along, middle + 0.8)
        for x, y in ((along, level), (level, along)):
            flat = np.ma.stack([one(x, y) for one in back], axis=-1)
            dark = at(flat.filled(0.0))[:, 0] < 128
            flips = 0.5 * (along[1:] + along[:-1])[dark[1:] != dark[:-1]]
            off.append(flips - np.round(flips / 5.0) * 5.0)
    return np.abs(np.concatenate(off))


@pytest.mark.parametrize(("form", "reach", "moves_mm"), [(cone, 16.0, 2.0), (dome, 20.0, 0.5)])
def test_a_chequered_pattern_comes_back_square(form, reach, moves_mm):
    run = forecast_sheet(form, frame_mm=(100.0, 100.0), sheet_mm=1.0, nodes=1500)
    carried = carried_by(run, foot_mm=0.0)
    assert carried.folded_share == 0.0
    # squares of 5 mm, their edges at 0, 5, 10 ... mm
    placed = Placed((0.0, 0.0), 0.0, 0.5, (160, 160))
    off = edges_off_mm(carried, printed(carried, chequer(16), placed), reach)
    assert len(off) >= 2 * (2 * reach // 5.0 - 1.0) ** 2
    assert off.max() < 0.3  # 1 mm is promised
    # and the sheet does move it
    assert carried.farthest_mm > moves_mm


def test_a_flat_top_is_printed_as_it_is():
    """What the sheet touches first and sticks to is not stretched."""
    run = forecast_sheet(box, frame_mm=(100.0, 100.0), sheet_mm=1.0, nodes=1500)
    carried = carried_by(run, foot_mm=0.0)
    x, y = (v.ravel() for v in np.meshgrid(np.linspace(-16, 16, 9), np.linspace(-16, 16, 9)))
    places = np.column_stack([x, y, np.full_like(x, 12.0)])
    assert np.abs(carried.flat_at(places) - places[:, :2]).max() < 0.2


def test_rings_on_a_cone_lie_where_the_ring_model_has_them(press):
    """Another solver for round sheets says where in the flat sheet a ring of the part lay."""
    slope, scale = np.tan(np.radians(45.0)), 50.0
    top = 25.0 / scale
    rings = press(1.0, 120, lambda r, z: np.minimum((z + r * slope) / np.sqrt(2.0), z + top)).hung(0.01)
    rings.press(lowering=True, until=top)
    rings.z[-1] = -top
    assert rings.balance()
    rings.press(until=30.0)
    run = forecast_sheet(cone, frame_mm=disc(scale), sheet_mm=1.0, nodes=2500)
    carried = carried_by(run, foot_mm=0.0)
    radius = np.array([6.0, 12.0, 18.0, 22.0])
    turn = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    for r in radius:
        places = np.column_stack([r * np.cos(turn), r * np.sin(turn), np.full_like(turn, 25.0 - r)])
        found = np.hypot(*carried.flat_at(places).T)
        exact = np.interp(r, scale * rings.r, scale * rings.R)
        assert np.abs(found - exact).max() < 0.3, r
        assert abs(exact - r) > 0.1


# what goes out --------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def flat():
    """A sheet that stays as it is: two triangles of 60 x 40 mm."""
    corners = np.array([(-30.0, -20.0), (30.0, -20.0), (30.0, 20.0), (-30.0, 20.0)])
    return Carried(
        flat=corners,
        formed=np.column_stack([corners + np.array([5.0, 7.0]), np.full(4, 3.0)]),
        triangles=np.array([[0, 1, 2], [0, 2, 3]], np.int32),
        part=np.ones(2, bool),
        folded=np.zeros(2, bool),
        opening_mm=(60.0, 40.0),
        middle_mm=np.array([5.0, 7.0]),
    )


def test_on_a_sheet_that_stays_flat_all_is_plain(flat):
    assert flat.farthest_mm == pytest.approx(0.0)
    picture = chequer(4, 10)
    placed = Placed((5.0, 7.0), 0.0, 0.5, (40, 40))
    pixels = flat.onto_flat(picture, placed, (80, 120))
    assert np.array_equal(np.argwhere(pixels[..., 3] > 0).min(0), [20, 40])
    assert np.array_equal(np.argwhere(pixels[..., 3] > 0).max(0), [59, 79])
    inner = pixels[20:60, 40:80]
    assert (np.abs(inner[5::10, 5::10, 0].astype(int) - picture[5::10, 5::10, 0]) == 0).all()
    line = grid_lines(flat, 0, 10.0)
    assert line[..., 0] == pytest.approx(15.0)
    assert line[..., 1].min() == pytest.approx(-13.0) and line[..., 1].max() == pytest.approx(27.0)


def test_the_under_side_is_mirrored(flat):
    picture = RNG.integers(0, 256, (40, 60, 4), np.uint8)
    picture[..., 3] = 255
    placed = Placed((5.0, 7.0), 0.0, 1.0, (60, 40))
    upper, under = (printed(flat, picture, placed, mirrored=mirrored) for mirrored in (False, True))
    places = RNG.uniform((-29, -19), (29, 19), (200, 2))
    places = np.floor(places * 10.0) / 10.0 + 0.05
    assert np.array_equal(upper(places), under(places * (-1.0, 1.0)))


def test_the_sheet_carries_its_marks_and_the_bar(flat):
    trim = [np.array([(-10.0, -5.0), (20.0, -5.0), (20.0, 5.0)])]
    sheet = grid_sheet((200.0, 150.0), (230.0, 180.0), trim, grid_mm=10.0, mirrored=True)
    assert np.ptp(sheet.bounds, axis=0) == pytest.approx((230.0, 180.0))
    ends = [np.ptp(line.points, axis=0) for line in sheet.lines]
    assert any(size == pytest.approx((100.0, 0.0)) for size in ends)
    assert any(line.points[0] == pytest.approx((10.0, -5.0)) for line in sheet.lines)
    told = {words.text for words in sheet.words}
    assert any("UNDER" in words and "mirrored" in words for words in told)
    # lines at -100 .. 100 and -70 .. 70
    assert sum(np.isclose(size, (0.0, 150.0)).all() for size in ends) == 21
    assert sum(np.isclose(size, (200.0, 0.0)).all() for size in ends) == 15
    png = Image.open(io.BytesIO(png_bytes(sheet, dots_per_inch=100.0)))
    assert png.size == (round(230 / INCH_MM * 100), round(180 / INCH_MM * 100))


@pytest.mark.parametrize(("blank", "length"), [(160.0, 100.0), (159.0, 50.0), (110.0, 50.0), (109.0, 0.0)])
def test_a_small_blank_carries_a_shorter_bar(blank, length):
    sheet = grid_sheet((blank - 30.0, 60.0), (blank, 90.0), [], grid_mm=70.0, mirrored=False)
    told = {words.text for words in sheet.words if words.text in ("100 mm", "50 mm")}
    assert told == ({f"{length:g} mm"} if length else set())
    low = [line for line in sheet.lines if (line.points[:, 1] == -37.5).all()]  # between opening and blank
    spans = [float(np.ptp(line.points[:, 0])) for line in low if np.ptp(line.points[:, 0]) > 20.0]
    assert spans == ([length] if length else [])


def test_the_pdf_holds_the_picture_at_its_size(flat):
    pixels = chequer(6, 10)
    sheet = picture_sheet(pixels, (60.0, 60.0), (90.0, 90.0), [], mirrored=False)
    data = pdf_bytes([sheet], page="A4", title="artwork")
    assert data == pdf_bytes([sheet], page="A4", title="artwork")
    (page,) = PdfReader(io.BytesIO(data)).pages
    (image,) = page.images
    assert np.array_equal(np.asarray(image.image.convert("RGB")), pixels[..., :3])


def test_pictures_of_the_part_are_drawn(flat):
    grid = draw_grid_landed("part", flat, grid_mm=10.0, facts=("none",))
    part = draw_part("part", flat, chequer(4, 10), facts=())
    for data in (grid, part):
        pixels = np.asarray(Image.open(io.BytesIO(data)).convert("L"))
        assert pixels.shape == (840, 1120)
        assert pixels.std() > 5.0


def test_a_picture_that_cannot_be_read_is_told(tmp_path):
    (tmp_path / "a.png").write_bytes(b"nothing")
    for name, words in (("a.png", "no picture that can be read"), ("b.png", "cannot be read")):
        with pytest.raises(InputError, match=words):
            load_picture(tmp_path / name)
