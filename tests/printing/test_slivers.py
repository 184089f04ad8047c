"""What planes shave off lumpy sculpts stays on the piece beside it, and each piece is sound."""

import os

import numpy as np
import pytest
from manifold3d import Manifold, OpType

from buckwright.mesh.checking import check_mesh
from buckwright.mesh.manifolds import from_manifold
from buckwright.printing.pieces.findings import about_pieces
from buckwright.printing.pieces.planning import plan_pieces
from buckwright.printing.pieces.slivers import without_slivers
from buckwright.printing.pieces.splitting import Cut
from buckwright.printing.settings import PrinterSettings, PrintSettings

PLANES = 67 if os.environ.get("BUCKWRIGHT_ALL_SETTINGS") else 3
"""Across each of three sculpts; `make explore` tries two hundred in all."""
_LETTER_MM3 = 90.0
"""More than a letter takes away: 0.6 mm deep, three bars of 20 x 2.5 mm."""


def lumps(seed, *, step_mm=3.0):
    """Balls on a foot, bent into waves from 8 mm above the foot on."""
    rng = np.random.default_rng(seed)
    balls = [
        Manifold.sphere(rng.uniform(6.0, 25.0), 40).translate(
            (*rng.uniform(-45.0, 45.0, 2), rng.uniform(5.0, 35.0))
        )
        for _ in range(12)
    ]
    heap = Manifold.batch_boolean([Manifold.cylinder(10.0, 70.0, 65.0, 64), *balls], OpType.Add)
    heap = heap.trim_by_plane((0.0, 0.0, 1.0), 0.0).refine_to_length(step_mm)
    x, y, z = rng.uniform(0.0, 6.0, 3)

    def waves(at):
        share = np.clip((at[:, 2] - 8.0) / 10.0, 0.0, 1.0)[:, None]
        along = 0.5 * np.sin(at[:, 1] / 4.0 + x), 0.5 * np.sin(at[:, 2] / 5.0 + y)
        return at + share * np.column_stack([*along, 0.6 * np.sin(at[:, 0] / 3.0 + z)])

    bodies = heap.warp_batch(waves).decompose()
    return max(bodies, key=lambda body: body.volume())


def split(solid, planes, **printer):
    return plan_pieces(
        solid,
        beads=np.zeros((0, 4)),
        detail_above_mm=0.0,
        printed=PrintSettings(),
        printer=PrinterSettings(bed_mm=(250.0, 250.0), planes_mm=tuple(planes), **printer),
    )


def random_plane(rng, solid):
    if rng.random() < 0.3:
        return 0.0, 0.0, 1.0, rng.uniform(0.5, solid.bounding_box()[5] - 0.1)
    angle = rng.uniform(0.0, 2.0 * np.pi)
    return np.cos(angle), np.sin(angle), 0.0, rng.uniform(-69.5, 69.5)


def sound(solid):
    facts = check_mesh(from_manifold(solid))
    bad = facts.nonmanifold_edges, facts.inconsistent_edges, facts.inner_faces, facts.crossing_pairs
    return facts.closed and facts.shells == 1 and not any(bad)


@pytest.mark.parametrize("seed", [0, 2, 5])
def test_random_planes_through_lumps_give_sound_pieces_that_are_the_whole(seed):
    solid = lumps(seed)
    assert sound(solid)
    rng = np.random.default_rng(seed)
    for _ in range(PLANES):
        made = split(solid, [random_plane(rng, solid)], joint="none", glue_groove=False)
        bodies = [piece.solid for piece in made.pieces]
        assert all(sound(body) and len(body.decompose()) == 1 for body in bodies)
        alone = [sliver.volume_mm3 for sliver in made.slivers if sliver.fate == "alone"]
        crumbs = [body.volume() for body in bodies if body.volume() < 1000.0 - _LETTER_MM3]
        assert len(crumbs) <= len(alone)
        dropped = sum(sliver.volume_mm3 for sliver in made.slivers if sliver.fate == "dropped")
        lost = solid.volume() - dropped - sum(body.volume() for body in bodies)
        assert -1e-3 < lost < _LETTER_MM3 * len(bodies)
        together = Manifold.batch_boolean(bodies, OpType.Add)
        # skins where solids are rounded, up to 0.001 mm thick, are no material; 0.01 mm as for halves
        skins = (together - solid).decompose()
        assert all(2.0 * skin.volume() <= 0.01 * skin.surface_area() for skin in skins)


def bumpy():
    """A block of 120 x 60 x 30 mm with a bump on its top and one on its side."""
    block = Manifold.cube((120.0, 60.0, 30.0)).translate((-60.0, -30.0, 0.0))
    top = Manifold.sphere(10.0, 48).translate((20.0, 0.0, 30.0))
    side = Manifold.sphere(6.0, 48).translate((60.0, 5.0, 12.0))
    return block + top + side


@pytest.mark.parametrize(
    ("plane", "place"),
    [((0.0, 0.0, 1.0, 39.0), (20.0, 0.0, 39.5)), ((1.0, 0.0, 0.0, 65.0), (65.5, 5.0, 12.0))],
)
def test_a_plane_that_only_shaves_a_bump_cuts_nothing(plane, place):
    made = split(bumpy(), [plane])
    assert not made.split and not made.cuts and not made.joints
    assert made.pieces[0].solid.volume() == pytest.approx(bumpy().volume(), rel=1e-9)
    (sliver,) = made.slivers
    assert sliver.fate == "joined" and sliver.at_mm == pytest.approx(place, abs=0.5)
    (found,) = [
        one for one in about_pieces(made, PrinterSettings(bed_mm=(250.0, 250.0))) if "sliver" in one.slug
    ]
    assert found.severity == "note" and found.at_mm == sliver.at_mm


def test_a_piece_with_a_sliver_beyond_its_plane_is_joined_to_its_neighbour_as_others_are():
    """An arm on the one half reaches half a millimetre over the plane, above the other half."""
    post = Manifold.cube((4.0, 4.0, 9.0)).translate((-8.0, -20.0, 29.0))
    arm = Manifold.cube((8.5, 4.0, 4.0)).translate((-8.0, -20.0, 34.0))
    made = split(bumpy() + post + arm, [(1.0, 0.0, 0.0, 0.0)])
    plain = split(bumpy(), [(1.0, 0.0, 0.0, 0.0)])
    (sliver,) = made.slivers
    assert sliver.fate == "joined" and sliver.volume_mm3 == pytest.approx(8.0)
    (joint,), (usual,) = made.joints, plain.joints
    assert joint.area_mm2 == pytest.approx(usual.area_mm2) and len(joint.pins) == 2
    assert len(made.pieces) == 2 and all(sound(piece.solid) for piece in made.pieces)


def test_a_sliver_that_fits_nowhere_is_told_and_a_crumb_is_left_out():
    block = Manifold.cube((40.0, 40.0, 40.0))
    crumb = Manifold.cube((0.5, 0.5, 0.5)).translate((10.0, 10.0, 40.0))
    chip = Manifold.cube((8.0, 8.0, 8.0)).translate((20.0, 20.0, 40.0))
    bodies, slivers = without_slivers([block, crumb, chip], [Cut(2, 40.0, np.inf)], fits=lambda _body: False)
    assert sorted(round(body.volume()) for body in bodies) == [512, 64_000]
    assert sorted(sliver.fate for sliver in slivers) == ["alone", "dropped"]
    bodies, slivers = without_slivers([block, crumb, chip], [Cut(2, 40.0, np.inf)], fits=lambda _body: True)
    assert [round(body.volume(), 3) for body in bodies] == [64_512.125]


def test_what_hangs_below_a_level_plane_does_not_lift_the_piece_above():
    above = Manifold.cube((40.0, 40.0, 40.0))
    hanging = Manifold.cube((8.0, 8.0, 8.0)).translate((20.0, 20.0, -8.0))
    bodies, slivers = without_slivers([above, hanging], [Cut(2, 0.0, np.inf)], fits=lambda _body: True)
    assert len(bodies) == 2 and [sliver.fate for sliver in slivers] == ["alone"]


def test_a_thin_slab_between_two_planes_stays_on_its_neighbour():
    made = split(bumpy(), [(1.0, 0.0, 0.0, 0.0), (1.0, 0.0, 0.0, 0.8)], joint="none")
    assert len(made.pieces) == 2 and len(made.cuts) == 1
    (sliver,) = made.slivers
    assert sliver.volume_mm3 == pytest.approx(0.8 * 60.0 * 30.0, rel=1e-3)
