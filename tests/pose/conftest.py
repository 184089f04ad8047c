"""Sculpts of the kinds that makers bring, from a few solids each; what has a front looks along -y."""

from collections.abc import Callable

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold

from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_mesh


def ball(radius, at, sides=32):
    return Manifold.sphere(radius, sides).translate(at)


def bar(one, other, radius, other_radius, sides=24):
    return Manifold.batch_hull([ball(radius, one, sides), ball(other_radius, other, sides)])


def egg(radii, at=(0, 0, 0), sides=40):
    return Manifold.sphere(1.0, sides).scale(radii).translate(at)


def cube():
    return Manifold.cube((60, 60, 60), True)


def wedge():
    """A ramp of 60 x 50 mm, 30 mm high; its slope is its largest face."""
    foot = [[0, 0, 0], [60, 0, 0], [60, 50, 0], [0, 50, 0]]
    return Manifold.hull_points(np.array([*foot, [0, 0, 30], [0, 50, 30]], float))


def cylinder():
    return Manifold.cylinder(80, 25, 25, 96)


def annulus():
    return Manifold.cylinder(12, 45, 45, 96) - Manifold.cylinder(12, 28, 28, 96)


def cut_box():
    """A box of 80 x 50 x 40 mm cut off below at a slant; its top is its only whole broad face."""
    slant = np.array((-0.45, 0.25, 1.0))
    return Manifold.cube((80, 50, 40), True).trim_by_plane(tuple(slant / np.linalg.norm(slant)), -12)


def head():
    """A head with nose, brow, lips, chin, eyes and ears, on a neck."""
    nose = Manifold.batch_hull(
        [
            ball(4, (0, -44, 22), 20),
            ball(6, (0, -54, 2), 20),
            ball(5, (-7, -46, 0), 20),
            ball(5, (7, -46, 0), 20),
        ]
    )
    face = nose + bar((-22, -42, 26), (22, -42, 26), 5, 5) + bar((-10, -46, -16), (10, -46, -16), 4, 4)
    face += ball(9, (0, -40, -34), 24) + ball(6, (-15, -41, 16), 24) + ball(6, (15, -41, 16), 24)
    ears = egg((5, 9, 15), (-39, 2, 2), 24) + egg((5, 9, 15), (39, 2, 2), 24)
    skull = egg((38, 46, 55), sides=64) + Manifold.cylinder(40, 22, 22, 48).translate((0, 8, -80))
    return skull + face + ears - ball(4, (-15, -49, 16), 16) - ball(4, (15, -49, 16), 16)


def bust():
    """The head on shoulders that end in a flat foot."""
    shoulders = egg((85, 36, 45), (0, 10, -115), 64).trim_by_plane((0, 0, 1), -125)
    return head() + Manifold.cylinder(60, 20, 24, 48).translate((0, 8, -110)) + shoulders


def animal():
    """A beast on four feet that looks along +x; y = 0 is its plane of symmetry."""
    legs = Manifold()
    for x in (-38, 38):
        for y in (-13, 13):
            legs += bar((x, y, 60), (x, y, 6), 10, 6)
    body = egg((60, 24, 26), (0, 0, 70), 48) + legs.trim_by_plane((0, 0, 1), 2)
    neck = bar((48, 0, 82), (70, 0, 105), 14, 10) + egg((20, 12, 12), (80, 0, 110), 32)
    snout = bar((90, 0, 106), (102, 0, 102), 8, 6)
    ears = bar((72, 8, 118), (68, 12, 132), 4, 2) + bar((72, -8, 118), (68, -12, 132), 4, 2)
    return body + neck + snout + ears + bar((-56, 0, 80), (-80, 0, 60), 5, 3)


def half_mask():
    """A mask 4 mm thick, hollow behind, with a flat rim."""
    nose = Manifold.batch_hull([ball(5, (0, -36, 25), 20), ball(8, (0, -56, -5), 24)])
    brows = bar((-40, -28, 25), (-8, -38, 20), 6, 5) + bar((40, -28, 25), (8, -38, 20), 6, 5)
    outside = egg((70, 40, 80), sides=96) + nose + brows + bar((-14, -34, -35), (14, -34, -35), 5, 5)
    return (outside - egg((66, 36, 76), sides=96)).trim_by_plane((0, -1, 0), 0)


def crown():
    """Half of a crown as it is modelled for printing: a band of 3 mm cut into points, with studs."""
    band = Manifold.cylinder(70, 80, 80, 96) - Manifold.cylinder(70, 77, 77, 96)
    for turn in range(0, 181, 30):
        notch = Manifold.extrude(CrossSection([[(-12, 75), (0, 35), (12, 75)]]), 100).rotate((90, 0, 0))
        band -= notch.rotate((0, 0, turn - 90))
    for turn in range(15, 180, 30):
        x, y = 80 * np.cos(np.radians(turn)), -80 * np.sin(np.radians(turn))
        band += ball(6, (x, y, 18), 24) - Manifold.cylinder(70, 77, 77, 96)
    return band.trim_by_plane((0, -1, 0), 14)


def relief():
    """Hills on a plate of 120 x 80 mm."""
    hills = egg((30, 20, 14), (-15, 0, 6), 48) + ball(9, (30, 15, 6)) + bar((10, -25, 6), (45, -20, 6), 5, 4)
    return (Manifold.cube((120, 80, 6)).translate((-60, -40, 0)) + hills).trim_by_plane((0, 0, 1), 0)


def tube():
    return Manifold.cylinder(80, 25, 25, 96) - Manifold.cylinder(80, 20, 20, 96)


def mask_scan():
    """The front of a face as a scanner leaves it: one open surface with a ragged rim."""
    face = egg((60, 50, 75), sides=96) + bar((-30, -40, 24), (30, -40, 24), 6, 6)
    face += bar((-12, -46, -30), (12, -46, -30), 5, 5)
    mesh = as_mesh(face + Manifold.batch_hull([ball(5, (0, -46, 20), 20), ball(8, (0, -62, -5), 24)]))
    x, y, z = mesh.centroids().T
    return mesh.submesh(y < -14.0 + 6.0 * np.sin(7.0 * np.arctan2(z, x)))


SCULPTS: dict[str, Callable[[], Manifold | Mesh]] = {
    "cube": cube,
    "wedge": wedge,
    "cylinder": cylinder,
    "annulus": annulus,
    "cut_box": cut_box,
    "bust": bust,
    "animal": animal,
    "head": head,
    "half_mask": half_mask,
    "crown": crown,
    "relief": relief,
    "tube": tube,
    "mask_scan": mask_scan,
}


@pytest.fixture(scope="session")
def sculpt():
    """Maker of sculpts by name: mesh in mm."""

    def made(name: str) -> Mesh:
        solid = SCULPTS[name]()
        return solid if isinstance(solid, Mesh) else as_mesh(solid)

    return made
