"""The whole road to a print on the flat sheet: from a job that names a picture to files."""

import numpy as np
import pytest
from PIL import Image

from buckwright.clock import Clock
from buckwright.errors import JobError
from buckwright.forming.artwork.stage import ARTWORK
from buckwright.job import job_from
from buckwright.pipeline.engine import Engine
from buckwright.pipeline.settled import settled
from buckwright.pipeline.store import Store
from buckwright.pipeline.telling import told_of
from buckwright.stages import all_stages


@pytest.fixture(scope="module")
def home(sculpt_file, tmp_path_factory):
    """A folder with a picture, half of it black."""
    folder = tmp_path_factory.mktemp("job")
    pixels = np.full((40, 60, 3), 255, np.uint8)
    pixels[:, :30] = 0
    Image.fromarray(pixels).save(folder / "half.png")
    chequer = (np.indices((200, 200)) // 20).sum(axis=0) % 2
    Image.fromarray((chequer * 255).astype(np.uint8)).save(folder / "chequer.png")
    return folder


def _job(home, sculpt_file, **artwork):
    return job_from(
        {
            "sculpt": {"file": str(sculpt_file("cone"))},
            "pull": {"direction": "z"},
            "base": {"sink_mm": 0.0},
            "fill": {"mode": "none"},
            "forecast": {"quality": "preview", "nodes": 1000},
            "artwork": artwork,
        },
        folder=home,
    )


def _engine(job):
    clock = Clock()
    return Engine(all_stages(), settled(job), clock, Store(None, clock))


def test_files_and_pictures_follow_from_a_job(home, sculpt_file):
    job = _job(home, sculpt_file, file="half.png", grid=True, dots_per_inch=50)
    engine = _engine(job)
    printed = engine.get("printed")
    told = told_of(job, dict(engine.results))
    files = {}
    for papers in ARTWORK.papers:
        files |= papers.make(printed, told)
    assert set(files) == {
        *("artwork_sheet.pdf", "artwork_sheet.png", "grid_sheet.pdf", "grid_sheet.png"),
        *("artwork_part.png", "grid_landed.png"),
    }
    section = ARTWORK.sections(printed, told)["artwork"]
    # the cone is 40 mm across and shrinks by the sheet's share; the picture covers it, 60 x 40 pixels
    assert section["picture"]["size_mm"][1] == pytest.approx(40.0 / (1.0 - 0.005), rel=0.01)
    assert section["picture"]["size_mm"][0] == pytest.approx(1.5 * section["picture"]["size_mm"][1])
    (finding,) = ARTWORK.findings(printed, told)
    assert finding.slug == "artwork-limits"
    # left of the middle black, right of it white, as far as the picture goes
    inked = printed.pixels[..., 3] == 255
    dark = printed.pixels[..., 0] < 128
    middle = printed.pixels.shape[1] // 2
    assert inked.sum() > 500
    assert dark[:, : middle - 1][inked[:, : middle - 1]].all()
    assert not dark[:, middle + 1 :][inked[:, middle + 1 :]].any()
    # the trim line of the cone lies in the sheet as a ring round the middle
    (ring,) = printed.trim
    assert np.ptp(np.hypot(*ring.T)) < 1.5


def test_a_chequered_pattern_comes_back_square_on_the_part(home, sculpt_file):
    """Piece by piece of the formed sheet, to its place in the flat one by weights, not by what painted it."""
    job = _job(home, sculpt_file, file="chequer.png", width_mm=50.0, dots_per_inch=100)
    printed = _engine(job).get("printed")
    sheet = printed.carried
    corners = sheet.formed[sheet.triangles]
    rising = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])[:, 2]
    sure = sheet.triangles[sheet.part & ~sheet.folded & (rising > 0.0)]
    weights = np.random.default_rng(14).dirichlet([1.0, 1.0, 1.0], (len(sure), 40))[..., None]
    formed, flat = ((weights * nodes[sure][:, None]).sum(axis=2) for nodes in (sheet.formed, sheet.flat))
    rows, columns = printed.pixels.shape[:2]
    share = flat / sheet.opening_mm + 0.5
    ink = printed.pixels[((1.0 - share[..., 1]) * rows).astype(int), (share[..., 0] * columns).astype(int), 0]
    square = printed.placed.pixels_at(formed) / 20.0  # of 5 mm
    wanted = np.floor(square).sum(axis=-1) % 2 > 0.0
    away_mm = np.abs(square - np.round(square)).min(axis=-1) * 20.0 * printed.placed.pixel_mm
    differ = (ink > 127) != wanted
    assert differ.size > 5000 and 0.3 < wanted.mean() < 0.7
    assert sheet.farthest_mm > 2.0  # the sheet does move it
    assert away_mm[differ].max(initial=0.0) < 1.0


def test_nothing_is_printed_unless_asked_for(home, sculpt_file):
    assert _engine(_job(home, sculpt_file)).get("printed") is None


def test_a_picture_that_is_missing_is_told_before_the_work(home, sculpt_file):
    with pytest.raises(JobError, match=r"\[artwork\] file: there is no file .*none\.png"):
        _engine(_job(home, sculpt_file, file="none.png"))


def test_a_picture_counts_by_its_content(home, sculpt_file):
    job = _job(home, sculpt_file, file="half.png")
    first = _engine(job).key("printed")
    (home / "copy.png").write_bytes((home / "half.png").read_bytes())
    assert _engine(job.evolved(artwork={"file": "copy.png"})).key("printed") == first
    Image.new("RGB", (3, 2)).save(home / "copy.png")
    assert _engine(job.evolved(artwork={"file": "copy.png"})).key("printed") != first
