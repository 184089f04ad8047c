"""Strip-off strains: closed forms that follow from the definition of hoop strain and from beam theory."""

import pytest

from buckwright.survey.release import flap_strain, ring_strain


@pytest.mark.parametrize(
    ("diameter", "undercut", "strain"),
    # Derived, 2 y / d; the ring of a snap fit as in Bayer, Snap-Fit Joints for Plastics (symbols read there).
    [(50, 0.5, 0.02), (50, 1, 0.04), (100, 2, 0.04), (150, 1, 0.0133), (150, 2, 0.0267)],
)
def test_ring_strain(diameter, undercut, strain):
    assert ring_strain(undercut, diameter) == pytest.approx(strain, abs=5e-5)


def test_flap_strain_against_a_bent_beam():
    # An end-loaded cantilever worked from the load: E 2000 MPa, 10 mm wide, 1.2 mm thick, 40 mm long, 0.5 N.
    modulus, width, thickness, length, load = 2000.0, 10.0, 1.2, 40.0, 0.5
    inertia = width * thickness**3 / 12
    deflection = load * length**3 / (3 * modulus * inertia)
    strain = load * length * (thickness / 2) / (modulus * inertia)
    assert flap_strain(deflection, length, thickness) == pytest.approx(strain, rel=1e-12)
