import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection
from pytest import approx

from buckwright.errors import JobError
from buckwright.shape.base.base_plan import build_base, plan_base
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.outline import solid_outline
from buckwright.shape.solid import as_mesh


def clover():
    angle = np.linspace(0, 2 * np.pi, 240, False)
    radius = 35 + 8 * np.sin(3 * angle) + 2 * np.cos(7 * angle)
    return CrossSection([np.column_stack([1.3 * radius * np.cos(angle), radius * np.sin(angle)])])


def plan(outline=None, *, edge_mm=None, channel_mm=2.5, **chosen):
    return plan_base(
        clover() if outline is None else outline,
        part_height_mm=60,
        sheet_mm=0.75,
        draft_deg=3,
        settings=BaseSettings(**chosen),
        channel_mm=channel_mm,
        edge_mm=edge_mm,
    )


def section_at(solid, z):
    return solid.slice(z)


@pytest.mark.parametrize("style", ["flange", "plinth"])
@pytest.mark.parametrize("footprint", ["outline", "rectangle", "circle"])
def test_every_base_is_one_closed_body_with_a_flat_underside(style, footprint):
    made = plan(style=style, footprint=footprint)
    solid = build_base(made)
    assert solid.genus() == 0
    assert len(solid.decompose()) == 1
    mesh = as_mesh(solid)
    assert mesh.bounds[0, 2] == 0.0
    assert mesh.bounds[1, 2] == approx(made.foot_z_mm + 0.02)
    flat = mesh.area_vectors()
    down = flat[:, 2] < -1e-9
    assert np.all(mesh.corners()[down][:, :, 2] == 0.0), "only the underside looks down"
    assert -flat[down, 2].sum() == approx(made.underside.area(), rel=1e-9)


def share_below(mesh, draft_deg):
    """Share of the area, the underside left out, with less draft than that."""
    vectors = mesh.area_vectors()
    areas = np.linalg.norm(vectors, axis=1)
    draft = np.rad2deg(np.arcsin(np.clip(vectors[:, 2] / np.maximum(areas, 1e-12), -1, 1)))
    walls = draft > -1
    return areas[walls & (draft < draft_deg)].sum() / areas[walls].sum()


@pytest.mark.parametrize("style", ["flange", "plinth"])
def test_no_wall_has_less_than_the_wanted_draft(style):
    assert share_below(as_mesh(build_base(plan(style=style))), 2.9) < 1e-4


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 9999), st.sampled_from(["flange", "plinth"]), st.floats(1, 15), st.floats(0.3, 4))
def test_spiky_outlines_with_clefts_still_give_drafted_walls(seed, style, draft, sheet):
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 25))
    radius = rng.uniform(15, 40, 25)
    outline = CrossSection([np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])])
    made = plan_base(
        solid_outline(outline),
        part_height_mm=50,
        sheet_mm=sheet,
        draft_deg=draft,
        settings=BaseSettings(style=style, land_mm=3.0),
    )
    solid = build_base(made)
    assert solid.genus() == 0
    assert len(solid.decompose()) == 1
    assert share_below(as_mesh(solid), draft - 0.1) < 0.005
    assert (made.part - solid.slice(made.foot_z_mm)).area() < 1e-6


def test_the_riser_carries_the_part_and_a_ledge():
    made = plan()
    top = section_at(build_base(made), made.foot_z_mm)
    assert (made.part - top).area() < 1e-6
    ring = top.area() - made.part.area()
    outline = made.part.to_polygons()[0]
    around = np.linalg.norm(np.roll(outline, -1, 0) - outline, axis=1).sum()
    assert ring == approx(0.6 * around, rel=0.02)


def test_the_fillet_is_a_quarter_round_of_its_radius():
    made = plan(CrossSection.circle(40, 400), fillet_mm=4.0, edge_mm=0.0)
    wall = np.deg2rad(3)
    solid = build_base(made)
    tangent = made.flange_z_mm + 4 * (1 - np.sin(wall))
    foot = 40.6 + (made.top_z_mm - tangent) * np.tan(wall) + 4 * np.cos(wall)
    for dz in (0.3, 1.0, 2.0, 3.0):
        radius = np.sqrt(section_at(solid, made.flange_z_mm + dz).area() / np.pi)
        wanted = foot - np.sqrt(16 - (4 - dz) ** 2)
        assert wanted - 0.02 <= radius <= wanted + 0.04, "the chords of a hollow arc lie on its solid side"


def test_round_plinth_has_the_volume_of_a_frustum():
    made = plan(
        CrossSection.circle(30, 720), style="plinth", footprint="circle", land_mm=0.0, trim_step_mm=0.6
    )
    height, top = made.top_z_mm, 30.6
    foot = top + height * np.tan(np.deg2rad(3))
    wanted = np.pi * height / 3 * (top**2 + top * foot + foot**2)
    assert build_base(made).volume() == approx(wanted, rel=1e-3)


def test_rules_grow_with_sheet_and_height():
    small = plan_base(clover(), part_height_mm=20, sheet_mm=0.5, draft_deg=3)
    thick = plan_base(clover(), part_height_mm=20, sheet_mm=3, draft_deg=3)
    tall = plan_base(clover(), part_height_mm=250, sheet_mm=0.5, draft_deg=3)
    assert small.riser_mm == 12
    assert thick.riser_mm > small.riser_mm
    assert tall.riser_mm > small.riser_mm
    assert thick.flange_mm > small.flange_mm
    assert thick.fillet_mm == approx(4.5)
    assert 10 <= small.land_mm <= tall.land_mm <= 25


def test_foot_ring_runs_on_the_flange_where_the_fillet_ends():
    made = plan()
    solid = build_base(made)
    line = made.foot_ring.to_polygons()[0]
    beside = section_at(solid, made.flange_z_mm + 0.05)
    assert (beside - made.foot_ring).area() < 1e-3 * beside.area()
    assert (made.foot_ring - section_at(solid, made.flange_z_mm - 0.05)).area() < 1e-6
    assert len(line) > 20


def test_a_plinth_without_land_stands_on_the_platen_and_has_no_ring():
    assert plan(style="plinth", land_mm=0.0).foot_ring is None
    assert plan(style="plinth", land_mm=15.0).foot_ring is not None


def test_too_large_a_base_is_told():
    assert plan(platen_mm=(200.0, 150.0)).notes == ()
    assert "larger than the platen of 90 x 90 mm" in plan(platen_mm=(90.0, 90.0)).notes[0]


def test_a_low_riser_gets_a_smaller_fillet_and_says_so():
    made = plan(riser_mm=2.0, fillet_mm=5.0)
    assert made.fillet_mm == approx(1.6)
    assert "fillet" in made.notes[0]
    assert build_base(made).genus() == 0


@settings(max_examples=8, deadline=None)
@given(st.floats(-180, 180), st.floats(-300, 300))
def test_turning_and_shifting_the_part_turns_and_shifts_the_base(turn, shift):
    still = build_base(plan())
    moved = build_base(plan(clover().rotate(turn).translate((shift, shift / 2))))
    assert moved.volume() == approx(still.volume(), rel=1e-4)


def test_the_same_plan_gives_the_same_triangles():
    first, second = as_mesh(build_base(plan())), as_mesh(build_base(plan()))
    assert np.array_equal(first.vertices, second.vertices)
    assert np.array_equal(first.faces, second.faces)


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        ({"style": "tower"}, "style must be one of flange, plinth"),
        ({"footprint": "star"}, "footprint"),
        ({"riser_mm": -1.0}, "riser_mm"),
        ({"land_mm": float("nan")}, "land_mm"),
        ({"trim_step_mm": -0.1}, "trim_step_mm"),
        ({"flange_mm": 3.0}, "cannot hold channels"),
        ({"platen_mm": (0.0, 20.0)}, "platen_mm"),
    ],
)
def test_bad_settings_are_refused_in_words(bad, words):
    with pytest.raises(JobError, match=words):
        plan(**bad)


@pytest.mark.parametrize("bad", [{"part_height_mm": 0}, {"sheet_mm": 0}, {"draft_deg": 60}, {"sheet_mm": 40}])
def test_bad_numbers_are_refused(bad):
    with pytest.raises(JobError):
        plan_base(clover(), **({"part_height_mm": 60, "sheet_mm": 1, "draft_deg": 3} | bad))
