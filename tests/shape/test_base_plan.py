import inspect

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection
from pytest import approx

from buckwright.errors import JobError
from buckwright.shape.base.base_plan import OVERLAP_MM, build_base, plan_base
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.outline import solid_outline
from buckwright.shape.solid import as_mesh
from buckwright.shape.underside.channels import plan_channels
from buckwright.shape.vents.settings import VentSettings


def clover():
    angle = np.linspace(0, 2 * np.pi, 240, False)
    radius = 35 + 8 * np.sin(3 * angle) + 2 * np.cos(7 * angle)
    return CrossSection([np.column_stack([1.3 * radius * np.cos(angle), radius * np.sin(angle)])])


def plan(outline=None, *, edge_mm=None, channel_mm=2.5, dead_mm=0.0, **chosen):
    return plan_base(
        clover() if outline is None else outline,
        part_height_mm=60,
        sheet_mm=0.75,
        draft_deg=3,
        settings=BaseSettings(**chosen),
        channel_mm=channel_mm,
        edge_mm=edge_mm,
        dead_mm=dead_mm,
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


# Worked by hand from the rules in `plan_base`, for a part of so many mm under a sheet of so many mm:
# fillet = sheet + 1.5 (a male form's radius is the sheet + 1..2 mm: Bridgewood's guide), edge the greater of
# 1.5 and 1.5 sheets, riser the greatest of 12, fillet + 4 sheets + 4 and 8 % of the height, flange the
# greatest of 5, channel + 2 and 5 % of the height + 2 sheets + 1, land 10 % of the height from 10 to 25.
@pytest.mark.parametrize(
    ("sheet", "height", "fillet", "edge", "riser", "flange", "land"),
    [
        (0.5, 20, 2.0, 1.5, 12.0, 5.0, 10.0),  # the least of everything
        (1.0, 100, 2.5, 1.5, 12.0, 8.0, 10.0),  # flange 5 + 2 + 1
        (3.0, 20, 4.5, 4.5, 20.5, 8.0, 10.0),  # riser 4.5 + 12 + 4, flange 1 + 6 + 1
        (2.0, 160, 3.5, 3.0, 15.5, 13.0, 16.0),  # riser 3.5 + 8 + 4, flange 8 + 4 + 1
        (0.5, 250, 2.0, 1.5, 20.0, 14.5, 25.0),  # riser 8 % of 250, flange 12.5 + 1 + 1
        (1.5, 400, 3.0, 2.25, 32.0, 24.0, 25.0),  # land no more than 25, flange 20 + 3 + 1
    ],
)
def test_what_is_not_set_follows_the_stated_rules(sheet, height, fillet, edge, riser, flange, land):
    made = plan_base(clover(), part_height_mm=height, sheet_mm=sheet, draft_deg=3)
    assert made.fillet_mm == approx(fillet)
    assert made.edge_mm == approx(edge)
    assert made.riser_mm == approx(riser)
    assert made.flange_mm == approx(flange)
    assert made.land_mm == approx(land)
    assert made.foot_z_mm == made.trim_z_mm == approx(flange + riser)
    assert made.notes == ()


@pytest.mark.parametrize(("sheet", "height"), [(0.5, 20), (1.0, 100), (2.0, 160), (3.0, 300)])
def test_the_solid_has_the_measures_of_its_plan(sheet, height):
    made = plan_base(
        CrossSection.circle(40, 400), part_height_mm=height, sheet_mm=sheet, draft_deg=3, edge_mm=0.0
    )
    solid = build_base(made)

    def radius(z):
        return np.sqrt(section_at(solid, z).area() / np.pi)

    ring = np.sqrt(made.foot_ring.area() / np.pi)
    assert radius(made.flange_mm + 0.01) == approx(ring, abs=0.3), "the fillet runs out level"
    assert radius(made.flange_mm - 0.01) - ring == approx(made.land_mm, abs=0.02)
    assert radius(made.flange_mm + made.riser_mm) == approx(40.6, abs=0.02)
    assert as_mesh(solid).bounds[1, 2] == approx(made.flange_mm + made.riser_mm + OVERLAP_MM)


@pytest.mark.parametrize(("channel", "flange"), [(2.5, 5.0), (3.0, 5.0), (4.0, 6.0), (7.5, 9.5)])
def test_two_millimetres_stay_over_a_channel(channel, flange):
    made = plan_base(clover(), part_height_mm=20, sheet_mm=0.5, draft_deg=3, channel_mm=channel)
    assert made.flange_mm == approx(flange)
    plan(flange_mm=channel + 2.0, channel_mm=channel)
    with pytest.raises(JobError, match="cannot hold channels"):
        plan(flange_mm=channel + 1.99, channel_mm=channel)


@pytest.mark.parametrize(("wanted", "built"), [(0.0, 0.5), (0.4, 0.5), (0.7, 0.7), (6.0, 6.0)])
def test_walls_that_may_stand_upright_still_get_half_a_degree(wanted, built):
    made = plan_base(CrossSection.circle(40, 400), part_height_mm=60, sheet_mm=0.75, draft_deg=wanted)
    assert made.draft_deg == built
    solid = build_base(made)
    low, high = made.flange_mm + 3, made.foot_z_mm
    flare = np.diff([np.sqrt(section_at(solid, z).area() / np.pi) for z in (high, low)])[0]
    assert np.rad2deg(np.arctan2(flare, high - low)) == approx(built, abs=0.01)


@pytest.mark.parametrize(("chosen", "radius"), [({}, 10.0), ({"corner_mm": 4.0}, 4.0)])
def test_a_rectangular_footprint_has_round_corners(chosen, radius):
    made = plan(CrossSection.circle(40, 400), footprint="rectangle", edge_mm=0.0, **chosen)
    grown = radius + made.flange_mm * np.tan(np.deg2rad(3))  # the walls of the plate spread it
    wide, long, _ = made.size_mm
    assert made.underside.area() == approx(wide * long - (4 - np.pi) * grown**2, abs=0.5)


def test_left_alone_the_flange_holds_the_channels_that_are_cut_into_it():
    channel = inspect.signature(plan_channels).parameters["depth_mm"].default
    assert inspect.signature(plan_base).parameters["channel_mm"].default == channel
    assert VentSettings().channel_depth_mm == channel


def test_a_thin_plate_gets_a_smaller_rounding_and_says_so():
    made = plan(edge_mm=3.5, flange_mm=5.0)
    assert made.edge_mm == approx(3.0), "three fifths of the plate"
    assert "edge rounding 3.5 mm reduced to 3.0 mm" in made.notes[0]


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


def test_what_the_sheet_does_not_reach_is_added_to_the_riser():
    usual = plan()
    for dead in (0.0, usual.flange_mm - 0.1):
        assert plan(dead_mm=dead).riser_mm == usual.riser_mm
    raised = plan(dead_mm=usual.flange_mm + 9.0)
    assert raised.riser_mm == approx(usual.riser_mm + 9.0)
    assert raised.trim_z_mm - (usual.flange_mm + 9.0) == approx(usual.riser_mm)
    assert plan(dead_mm=50.0, riser_mm=14.0).riser_mm == 14.0
