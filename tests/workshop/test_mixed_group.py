"""Bucks of different jobs in one opening: laid apart, refused with numbers that fit, webs between them."""

import itertools

import manifold3d
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buckwright.clock import Clock
from buckwright.errors import JobError
from buckwright.forming.forecast.settings import ForecastSettings
from buckwright.mesh.triangles import Mesh
from buckwright.output.stl import stl_bytes
from buckwright.shape.base.building import build_blank
from buckwright.shape.base.settings import BaseSettings
from buckwright.workshop.group.findings import about_group
from buckwright.workshop.group.formed.between import bridges, lie_between
from buckwright.workshop.group.formed.findings import about_formed
from buckwright.workshop.group.formed.stage import GROUP_FORECAST
from buckwright.workshop.group.mixed import Wanted, plan_mixed
from buckwright.workshop.group.neighbours.neighbour import named_bucks, neighbour_of
from buckwright.workshop.group.neighbours.stage import NEIGHBOURS
from buckwright.workshop.group.planning import beside_outlines, outlines_of

BAR, LID = Wanted("bar", (80.0, 55.0), 4), Wanted("lid", (120.0, 60.0), 2)


def rectangle(size):
    width, depth = size
    return np.array([(-width, -depth), (width, -depth), (width, depth), (-width, depth)]) / 2.0


def stood(plan, *others):
    rings = outlines_of([rectangle(plan.base_mm)], plan.places)
    return rings + beside_outlines(plan, [[rectangle(one.base_mm)] for one in others])


def boxes(rings):
    return [(ring.min(axis=0), ring.max(axis=0)) for ring in rings]


def clear_between(one, other):
    """Clear way between two rectangles along the axes."""
    gaps = np.maximum(one[0] - other[1], other[0] - one[1])
    return float(gaps.max())


@given(
    sizes=st.lists(
        st.tuples(st.floats(20.0, 200.0), st.floats(20.0, 200.0), st.integers(1, 4)), min_size=2, max_size=4
    ),
    opening=st.tuples(st.floats(200.0, 900.0), st.floats(200.0, 900.0)),
    spacing=st.floats(5.0, 80.0),
)
def test_whatever_is_laid_keeps_its_distances(sizes, opening, spacing):
    own, *others = (Wanted(str(n), (w, d), count) for n, (w, d, count) in enumerate(sizes))
    plan = plan_mixed(own, others, spacing_mm=spacing, edge_mm=15.0, opening_mm=opening)
    held = boxes(stood(plan, *others))
    for low, high in held:
        assert (np.maximum(-low, high) <= np.array(opening) / 2.0 - 15.0 + 1e-4).all()
    for one, other in itertools.combinations(held, 2):
        assert clear_between(one, other) >= spacing - 1e-4
    if plan.fits:
        assert len(held) == plan.count == sum(count for *_, count in sizes)
        around = np.array(held)
        assert around[:, 0].min(axis=0) == pytest.approx(-around[:, 1].max(axis=0), abs=1e-4)
    else:
        most = plan.most + sum(one.most for one in plan.beside)
        assert not held and most < plan.count


def test_what_fits_is_told_and_does_fit():
    """Room of 240 x 180 mm: with 30 mm between them four go in, in two rows of two."""
    plan = plan_mixed(BAR, [LID], spacing_mm=30.0, edge_mm=20.0, opening_mm=(280.0, 220.0))
    most = (plan.most, plan.beside[0].most)
    assert not plan.fits and sum(most) == 4
    (found,) = [one for one in about_group(plan, height_mm=20.0) if one.severity == "stop"]
    each = ", ".join(f"{n} of {name}" for n, name in zip(most, ("this one", "lid")) if n)
    assert f"{each} fit" in found.words and each in found.advice
    assert "6 bucks (4 of this one, 2 of lid)" in found.words and found.setting == "group.others"
    # five would need more than the room: (80 + 30) (55 + 30) each at least, and the lids more
    assert 5 * 110.0 * 85.0 > 0.8 * (240.0 + 30.0) * (180.0 + 30.0)


def test_without_an_opening_they_get_the_smallest_one_found():
    plan = plan_mixed(BAR, [LID], spacing_mm=30.0, edge_mm=20.0, opening_mm=None)
    assert plan.fits and not plan.opening_given
    assert plan.opening_mm == pytest.approx([side + 40.0 for side in plan.size_mm], abs=1e-6)
    bases, in_a_row = 4 * 80.0 * 55.0 + 2 * 120.0 * 60.0, (4 * 55.0 + 2 * 60.0 + 5 * 30.0) * 120.0
    assert bases < np.prod(plan.size_mm) <= in_a_row + 1e-3


def test_in_a_round_opening_the_largest_square_counts():
    two = {"spacing_mm": 25.0, "edge_mm": 10.0, "round_one": True}
    one, other = Wanted("a", (40.0, 40.0), 1), Wanted("b", (40.0, 30.0), 1)
    assert plan_mixed(one, [other], opening_mm=(180.0, 180.0), **two).fits
    small = plan_mixed(one, [other], opening_mm=(160.0, 160.0), **two)
    assert not small.fits and small.most + small.beside[0].most == 1


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("", []),
        ("tray/job.toml", [("tray/job.toml", 1)]),
        ("tray/job.toml: 2; lid.stl", [("tray/job.toml", 2), ("lid.stl", 1)]),
        ("C:/bucks/lid.stl:3;", [("C:/bucks/lid.stl", 3)]),
        ("C:/bucks/lid.stl", [("C:/bucks/lid.stl", 1)]),
    ],
)
def test_bucks_are_named_by_file_and_count(words, found):
    assert [(file.as_posix(), count) for file, count in named_bucks(words)] == found


@pytest.mark.parametrize("words", ["lid.stl: 0", "lid.stl: many", ": 2", "lid.stl: 201"])
def test_what_is_no_count_is_refused_in_a_sentence(words):
    with pytest.raises(JobError, match=r"group\.others: .*write tray/buck\.stl: 2"):
        named_bucks(words)


def block(x, width=40.0):
    data = manifold3d.Manifold.cube((width, 30.0, 20.0)).translate((x, 5.0, 3.0)).to_mesh()
    return Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)


def test_a_neighbour_stands_on_the_platen_round_the_middle_of_its_base():
    one = neighbour_of("lid", 2, block(100.0), foot_mm=8.0, trim_mm=9.0, screws_mm=[(120.0, 20.0)])
    assert one.mesh.bounds == pytest.approx(np.array([(-20.0, -15.0, 0.0), (20.0, 15.0, 20.0)]))
    assert one.base_mm == pytest.approx((40.0, 30.0)) and one.base_mm2 == pytest.approx(1200.0)
    assert (one.foot_mm, one.trim_mm) == (5.0, 6.0) and one.screws_mm == pytest.approx(np.zeros((1, 2)))
    assert one.volume_mm3 == pytest.approx(40.0 * 30.0 * 20.0)
    with pytest.raises(JobError, match="no closed solid"):
        neighbour_of("leaf", 1, Mesh.from_arrays([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0, 1, 2)]))


def test_places_between_two_bases_and_how_far_down_the_sheet_comes():
    bases = [rectangle((40.0, 40.0)) + np.array([x, 0.0]) for x in (-40.0, 40.0, 140.0)]
    places = np.array([(0.0, 0.0), (-40.0, 0.0), (90.0, 0.0), (0.0, 70.0), (200.0, 0.0)])
    assert lie_between(places, bases, 45.0).tolist() == [True, False, True, False, False]
    assert not lie_between(places, bases[:1], 45.0).any()
    x, y = (one.ravel() for one in np.meshgrid(np.arange(-60.0, 170.0, 2.0), np.arange(-30.0, 30.0, 2.0)))
    sheet = np.column_stack([x, y, np.where(np.abs(x) < 20.0, 12.0, 0.5)])
    (near,) = bridges(sheet, bases, 45.0)
    assert (near.first, near.second) == (1, 2) and near.apart_mm == pytest.approx(40.0, abs=0.1)
    assert near.lowest_mm == 12.0 and near.at_mm[0] == pytest.approx(0.0, abs=0.1)
    assert [one.lowest_mm for one in bridges(sheet, bases, 70.0)] == [12.0, 0.5]


def frustum(low, high, tall):
    return manifold3d.Manifold.cylinder(tall, low, high, 48)


@pytest.fixture(scope="module")
def cup():
    return build_blank(
        frustum(20.0, 16.0, 30.0), None, base=BaseSettings(), sheet_mm=0.75, draft_deg=3.0, channel_mm=2.5
    )


def formed_at(spacing, cup):
    """Two cups and one lower of another job, so far apart."""
    data = frustum(15.0, 12.0, 24.0).to_mesh()
    low = neighbour_of("low", 1, Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts), foot_mm=5.0)
    x0, y0, x1, y1 = cup.plan.underside.bounds()
    own = Wanted("cup", (x1 - x0, y1 - y0), 2)
    plan = plan_mixed(own, [Wanted("low", low.base_mm, 1)], spacing_mm=spacing, edge_mm=25.0, opening_mm=None)
    return GROUP_FORECAST.run(
        blank=cup,
        grouped=plan,
        neighbours=(low,),
        forecast=ForecastSettings(quality="preview", nodes=3_000),
        zoned=None,
        thickness_mm=0.75,
        plenum_kpa=20.0,
        clock=Clock(),
    )


def test_one_forecast_over_all_shows_what_stands_between(cup):
    """Close together the sheet stays up between them, far apart it comes down."""
    near, far = (formed_at(spacing, cup) for spacing in (6.0, 90.0))
    assert len(near.bridges) >= 2 and {one.first for one in near.bridges} == {1, 2}
    assert near.bridges[0].lowest_mm > 5.0 > far.bridges[0].lowest_mm
    top = near.forecast.points[:, 2].max()
    assert top == pytest.approx(cup.mesh.size[2], abs=0.5)
    slugs = {one.slug for one in about_formed(near, far.forecast.figures.weakest_mm)}
    assert "bridges-between-bucks" in slugs or near.trim_mm > near.bridges[0].lowest_mm
    assert {one.slug for one in about_formed(far, None)} <= {"webs-between-bucks"}
    told = near.to_dict()
    assert told["between"][0]["lowest_mm"] == near.bridges[0].lowest_mm
    assert told["nodes"] > 500


def test_a_neighbour_is_made_from_its_job_or_read_as_it_was_made(tmp_path):
    data = frustum(15.0, 12.0, 14.0).to_mesh()
    mesh = Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)
    (tmp_path / "low.stl").write_bytes(stl_bytes(mesh, title="low"))
    job = (
        '[job]\nname = "Low"\n[sculpt]\nfile = "low.stl"\nunit = "mm"\n'
        '[pull]\ndirection = "z"\n[underside]\nfixing = "none"\n'
    )
    (tmp_path / "low.toml").write_text(job)
    (made,) = NEIGHBOURS.run(others=f"{tmp_path / 'low.toml'}: 2", clock=Clock())
    assert (made.name, made.copies) == ("Low", 2)
    assert made.mesh.size[2] == pytest.approx(14.0 + made.trim_mm, abs=0.1)
    assert min(made.base_mm) > 2.0 * (15.0 + 10.0), "its land is 10 mm at least"
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "buck.stl").write_bytes(stl_bytes(made.mesh, title="buck"))
    (folder / "report.json").write_text('{"base": {"trim_z_mm": 17.0, "flange_z_mm": 5.0}}')
    (read,) = NEIGHBOURS.run(others=str(folder), clock=Clock())
    assert (read.name, read.copies, read.trim_mm, read.foot_mm) == ("out", 1, 17.0, 17.0)
    assert read.base_mm == pytest.approx(made.base_mm, abs=1e-3)
    with pytest.raises(JobError, match="there is no file"):
        NEIGHBOURS.run(others=str(tmp_path / "none.toml"), clock=Clock())
