"""Volumes of solids that the base and the drills are made of, against the textbook formulas.

Formulas: any table of solids (e.g. Bronshtein et al., Handbook of Mathematics, chapter 3): cylinder
pi r^2 h, frustum pi h / 3 (R^2 + R r + r^2), cap pi h^2 (3 R - h) / 3.
"""

import numpy as np
import pytest
from manifold3d import CrossSection
from pytest import approx

from buckwright.mesh.triangles import Mesh
from buckwright.shape.loft import grown, loft
from buckwright.shape.solid import as_mesh

SIDES = 512
ROUND = SIDES / (2 * np.pi) * np.sin(2 * np.pi / SIDES)
"""Area of the regular polygon over that of its circle."""


def disc(radius):
    return CrossSection.circle(radius, SIDES)


@pytest.mark.parametrize(("radius", "height"), [(1.0, 1.0), (25.0, 12.0), (3.0, 90.0)])
def test_cylinder(radius, height):
    solid = loft([(height, disc(radius)), (0.0, disc(radius))])
    assert solid.volume() == approx(ROUND * np.pi * radius**2 * height, rel=1e-8)


@pytest.mark.parametrize(("upper", "lower", "height"), [(10, 12, 20), (1, 40, 7), (30, 30.5, 60)])
def test_frustum(upper, lower, height):
    solid = loft([(height, disc(upper)), (0.0, disc(lower))])
    wanted = np.pi * height / 3 * (upper**2 + upper * lower + lower**2)
    assert solid.volume() == approx(ROUND * wanted, rel=1e-8)


def test_cone_with_a_blunt_tip():
    solid = loft([(30.0, disc(0.01)), (0.0, disc(15))])
    assert solid.volume() == approx(ROUND * np.pi * 15**2 * 30 / 3, rel=1e-3)


@pytest.mark.parametrize("height", [5.0, 20.0, 35.0])
def test_cap_from_many_levels(height):
    ball = 40.0
    depth = height * (1 - np.cos(np.linspace(0.02, np.pi / 2, 120)))
    solid = loft([(height - z, disc(np.sqrt(2 * ball * z - z * z))) for z in depth])
    wanted = np.pi * height**2 * (3 * ball - height) / 3
    assert ROUND * wanted * 0.999 <= solid.volume() <= wanted


@pytest.mark.parametrize("draft", [1.0, 3.0, 10.0])
def test_drafted_rounded_plate_by_steiners_formula(draft):
    """Area of a convex outline grown by x is A + P x + pi x^2 (Steiner), integrated over the height."""
    height, plate = 12.0, CrossSection.square((60, 35), True)
    slope = np.tan(np.deg2rad(draft))
    levels = [(height - z, grown(plate, z * slope + 2.0)) for z in np.linspace(0, height, 13)]
    area, around = 60 * 35, 190
    a, b = 2.0, 2.0 + height * slope
    inner = area * height + (around * (b**2 - a**2) / 2 + np.pi * (b**3 - a**3) / 3) / slope
    assert loft(levels).volume() == approx(inner, rel=1e-4)


def test_mesh_volume_agrees_with_the_kernel_far_from_the_origin():
    solid = loft([(9.0, disc(4)), (0.0, disc(6))])
    mesh = as_mesh(solid)
    far = Mesh(mesh.vertices + np.array([5e4, -3e4, 1e4]), mesh.faces)
    assert far.volume_mm3() == approx(solid.volume(), rel=1e-7)
