"""The pictures can be read without help: size, words, colours, marks."""

import io
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image

from buckwright.errors import Cancelled
from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas import drawing
from buckwright.output.canvas.marks import RegionMark, VentMark, trim_outline
from buckwright.output.canvas.page import Page, _round_length, drawable, shortened
from buckwright.output.canvas.palette import STATE_COLOURS
from buckwright.shape.buck import pictures as buck_pictures
from buckwright.shape.buck.pictures import BuckScene, draw_buck
from buckwright.survey.face_maps import FaceMaps
from buckwright.survey.pictures import LookScene, draw_draft, draw_look

VENTS = (
    VentMark(np.array([0.0, -18.0, 54.0]), 0.8, 1),
    VentMark(np.array([0.0, 30.0, 30.0]), 1.2, 2),  # at the back
)


def scene_of(mesh: Mesh, maps: FaceMaps) -> LookScene:
    region = RegionMark(1, np.array([0.0, -26.0, 15.0]), "2827 mm2, 10.0 mm sideways, locked")
    return LookScene("Ball «Größe» $x$", mesh, maps, 10.0, (region,), VENTS, 12.0, foot_vents=3)


@pytest.fixture(scope="module")
def plates() -> dict[str, Page]:
    return {}


@pytest.fixture(scope="module")
def looks(sculpt: Mesh, maps: FaceMaps, plates: dict[str, Page]) -> dict[str, np.ndarray]:
    """Every picture of the look as pixels; the plates are kept to read their words."""
    kept: list[Page] = []
    real = drawing.png_of

    def keeping(plate: Page) -> bytes:
        kept.append(plate)
        return real(plate)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(drawing, "png_of", keeping)
        drawn = draw_look(scene_of(sculpt, maps)) | draw_draft(scene_of(sculpt, maps))
    plates.update(zip(drawn, kept))
    return {name: pixels_of(data) for name, data in drawn.items()}


def pixels_of(data: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(data)) as image:
        return np.asarray(image.convert("RGB")).astype(int)


def words_in(figure: Figure) -> str:
    texts = [text.get_text() for text in figure.texts]
    texts += [text.get_text() for axes in figure.axes for text in axes.texts]
    return " ".join(texts)


def near(pixels: np.ndarray, colour, *, within: float = 6.0) -> np.ndarray:
    """Pixels with the hue of a colour, at whatever brightness the shading left them."""
    reference = np.array(colour) * 255
    scale = (pixels @ reference) / (reference @ reference)
    return (np.abs(pixels - scale[..., None] * reference).max(-1) < within) & (scale > 0.25) & (scale < 1.15)


def test_files_and_size(looks: dict[str, np.ndarray]) -> None:
    assert sorted(looks) == ["look_draft.png", "look_front.png", "look_right.png", "look_top.png"]
    assert {image.shape for image in looks.values()} == {(840, 1120, 3)}


def test_legend_words_and_numbers(looks: dict[str, np.ndarray], plates: dict[str, Page]) -> None:
    for name in ("look_top.png", "look_front.png", "look_right.png"):
        words = words_in(plates[name].figure)
        for expected in (
            "free: ",
            "tight: ",
            "trapped: ",
            "cannot come straight off",
            "10° of draft or more",
        ):
            assert expected in words
        for expected in (
            "Ball «Größe» $x$",
            "60.0 × 60.0 × 60.0 mm",
            "trim line, 12.0 mm",
            "2 vents",
            "3 vents round the foot of the buck",
            "locked",
            "20 mm",
        ):
            assert expected in words
    assert "trapped below" in words_in(plates["look_top.png"].figure)
    assert "wanted" in " ".join(
        t.get_text() for t in plates["look_draft.png"].figure.axes[-1].get_yticklabels()
    )


def test_shares_add_up(
    looks: dict[str, np.ndarray], plates: dict[str, Page], sculpt: Mesh, maps: FaceMaps
) -> None:
    words = words_in(plates["look_front.png"].figure)
    shares = [float(part.split(" %")[0]) for part in words.split(": ")[1:] if " % of the area" in part]
    assert sum(shares) == pytest.approx(100.0, abs=0.2)
    areas = np.linalg.norm(sculpt.area_vectors(), axis=1)
    judged = maps.state < 3
    assert shares[0] == pytest.approx(100 * areas[maps.state == 0].sum() / areas[judged].sum(), abs=0.06)


def test_colours_stand_where_the_states_are(looks: dict[str, np.ndarray]) -> None:
    model = looks["look_front.png"][105:756, 28:777]
    half = len(model) // 2
    free, trapped = near(model, STATE_COLOURS[0]), near(model, STATE_COLOURS[2])
    assert free[:half].sum() > 50_000
    assert trapped[half:].sum() > 50_000
    assert free[half + 20 :].sum() < 2_000
    assert trapped[: half - 20].sum() < 2_000
    assert near(model, STATE_COLOURS[1])[half - 150 : half].sum() > 5_000


def test_trapped_faces_below_are_hatched_from_above(looks: dict[str, np.ndarray]) -> None:
    # The lower half of the ball is hidden below the upper half: no purple, but dark stripes everywhere.
    model = looks["look_top.png"][105:756, 28:777]
    assert near(model, STATE_COLOURS[2]).sum() < 2_000
    middle = model[210:294, 350:434].mean(-1)
    dark = middle < 90
    assert 0.1 < dark.mean() < 0.4


def test_hidden_vents_are_crossed(looks: dict[str, np.ndarray], plates: dict[str, Page]) -> None:
    axes = plates["look_front.png"].figure.axes[0]
    crossed = [line for line in axes.lines if line.get_marker() == "x" and line.get_markersize() < 7]
    dotted = [line for line in axes.lines if line.get_marker() == "o" and line.get_markersize() < 6]
    assert [len(line.get_xdata()) for line in crossed] == [1]
    assert crossed[0].get_xydata()[0].tolist() == [0.0, 30.0]
    assert sum(len(line.get_xdata()) for line in dotted) == 1
    assert "hidden from here (1 of them)" in words_in(plates["look_front.png"].figure)


def test_region_number_is_round_where_seen_square_where_hidden(looks, plates: dict[str, Page]) -> None:
    def frame(name: str) -> str:
        (text,) = [text for text in plates[name].figure.axes[0].texts if text.get_text() == "1"]
        return type(text.get_bbox_patch().get_boxstyle()).__name__

    assert frame("look_front.png") == "Circle"
    assert frame("look_top.png") == "Square"


def test_nothing_trapped_is_said(sculpt: Mesh, maps: FaceMaps, monkeypatch: pytest.MonkeyPatch) -> None:
    kept: list[Page] = []
    monkeypatch.setattr(drawing, "png_of", lambda plate: kept.append(plate) or b"")
    free = replace(maps, state=np.zeros_like(maps.state), region=np.full_like(maps.region, -1))
    draw_look(LookScene("Ball", sculpt, free, 3.0))
    words = words_in(kept[0].figure)
    assert f"{sculpt.face_count:,} faces" in words
    told = LookScene("Ball", sculpt, free, 3.0, faces=1234)
    draw_look(told)
    draw_draft(told)
    assert "1,234 faces" in words_in(kept[-1].figure) and "1,234 faces" in words_in(kept[3].figure)
    assert "No trapped regions" in words
    assert "trim line" not in words and "vent" not in words


def test_same_pictures_every_time(sculpt: Mesh, maps: FaceMaps) -> None:
    scene = scene_of(sculpt, maps)
    assert draw_look(scene) == draw_look(scene)
    assert draw_draft(scene) == draw_draft(scene)


def test_progress_is_told_and_stopping_is_heard(sculpt: Mesh, maps: FaceMaps, monkeypatch) -> None:
    monkeypatch.setattr(drawing, "png_of", lambda plate: b"")
    steps: list[float] = []
    draw_look(scene_of(sculpt, maps), tick=steps.append)
    assert steps == pytest.approx([1 / 3, 2 / 3, 1.0])

    def stop(share: float) -> None:
        raise Cancelled("asked to stop")

    with pytest.raises(Cancelled):
        draw_look(scene_of(sculpt, maps), tick=stop)


def test_empty_mesh_is_drawn_without_a_stumble() -> None:
    nothing = Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    none = np.zeros(0)
    maps = FaceMaps(none.astype(np.uint8), none, none, none, none.astype(np.int32))
    scene = LookScene("", nothing, maps, 3.0, (), (), 1.0)
    assert len(draw_look(scene) | draw_draft(scene)) == 4


def test_buck(sculpt: Mesh, monkeypatch: pytest.MonkeyPatch) -> None:
    kept: list[Page] = []
    real = drawing.png_of
    monkeypatch.setattr(drawing, "png_of", lambda plate: kept.append(plate) or real(plate))
    part = (sculpt.centroids()[:, 2] < 30).astype(np.uint8)
    drawn = draw_buck(BuckScene("Ball", sculpt, part, VENTS, 12.0, facts=("Filled: 1.0 cm3",)))
    assert list(drawn) == ["buck_slant.png", "buck_top.png", "buck_front.png", "buck_underside.png"]
    front = pixels_of(drawn["buck_front.png"])[105:756, 28:777]
    half = len(front) // 2
    assert near(front, buck_pictures.ORIGIN_COLOURS[1])[half:].sum() > 50_000
    assert near(front, buck_pictures.ORIGIN_COLOURS[1])[: half - 20].sum() < 2_000
    words = words_in(kept[0].figure)
    for expected in (
        "draft fill",
        "sculpt",
        "base",
        "Filled: 1.0 cm3",
        "trim line",
        "2 vents, 0.8 to 1.2 mm",
    ):
        assert expected in words
    assert "cut in" in words_in(kept[3].figure)  # most of a ball stands off the platen
    with pytest.raises(ValueError, match="part"):
        BuckScene("Ball", sculpt, part[:-1])


def test_trim_outline_of_a_ball_is_a_circle(sculpt: Mesh) -> None:
    (outline,) = trim_outline(sculpt, 12.0)
    radius = np.hypot(outline[:, 0], outline[:, 1])
    assert radius == pytest.approx(np.sqrt(30**2 - 18**2), rel=0.003)  # a chord of the ball, 24 mm
    assert (outline[:, 2] == 12.0).all()
    assert trim_outline(sculpt, 99.0) == []


@pytest.mark.parametrize(
    ("most", "length"), [(99.0, 50.0), (100.0, 100.0), (0.034, 0.02), (7.0, 5.0), (1999.0, 1000.0)]
)
def test_scale_bar_has_a_round_length(most: float, length: float) -> None:
    assert _round_length(most) == pytest.approx(length)


def test_letters_without_a_shape_and_long_names() -> None:
    assert drawable("Größe 漢") == "Größe \u25a1"
    assert shortened("x" * 100, 10) == "x" * 9 + "\u2026"
    assert shortened("short", 10) == "short"
