"""A porous top: with the rest it is the buck again, its wall stays closed, and air gets through it."""

import io

import lib3mf
import numpy as np
import pytest
import trimesh
from manifold3d import CrossSection, Manifold

import buckwright.api as bw
from buckwright.mesh.manifolds import from_manifold
from buckwright.relief.raster import relief_of
from buckwright.shape.porous.findings import about_porous
from buckwright.shape.porous.parting import part_porous, porous_outline
from buckwright.shape.solid import as_mesh

FOOT_MM = 10.0


def hill(steep_deg=20.0):
    """A round table with a flank of that slope, on a board 10 mm high."""
    wide = 30.0 + 12.0 / np.tan(np.radians(steep_deg))
    flank = Manifold.cylinder(12.0, wide, 30.0, 96).translate((0.0, 0.0, FOOT_MM))
    return Manifold.cylinder(FOOT_MM, wide, wide, 96) + flank, CrossSection.circle(wide, 96)


def outline_of(body, part, *, wall_mm=3.0, steepest_deg=45.0):
    relief = relief_of(as_mesh(body), pixel_mm=0.25)
    return porous_outline(
        relief, part, trim_mm=FOOT_MM, cavity=False, wall_mm=wall_mm, steepest_deg=steepest_deg
    )


@pytest.mark.parametrize(("flank_deg", "radius_mm"), [(20.0, None), (60.0, 30.0)])
def test_what_is_flat_enough_is_porous_up_to_the_closed_wall(flank_deg, radius_mm):
    body, part = hill(flank_deg)
    wide = float(part.bounds()[2])
    wanted = wide - 3.0 if radius_mm is None else radius_mm
    found = outline_of(body, part)
    assert found.area() == pytest.approx(np.pi * wanted**2, rel=0.05)
    assert (found - part.offset(-3.0 + 0.01)).area() < 1e-6
    reach = np.hypot(*np.concatenate(found.to_polygons()).T)
    assert wanted - 1.0 <= reach.min() and reach.max() <= wanted + 0.01


def test_in_a_female_mould_the_bottom_of_the_cavity_is_porous_and_not_its_land():
    block = Manifold.cube((100.0, 100.0, 30.0), center=True).translate((0.0, 0.0, 15.0))
    mould = block - Manifold.cylinder(30.0, 30.0, 30.0, 96).translate((0.0, 0.0, 8.0))
    found = porous_outline(
        relief_of(as_mesh(mould), pixel_mm=0.25),
        CrossSection.circle(30.0, 96),
        trim_mm=26.0,
        cavity=True,
        wall_mm=3.0,
        steepest_deg=45.0,
    )
    assert found.area() == pytest.approx(np.pi * 27.0**2, rel=0.02)
    parted = part_porous(mould, found)
    assert parted.porous.bounding_box()[5] == pytest.approx(8.0)


def test_both_bodies_are_the_buck():
    body, part = hill()
    drilled = body - Manifold.cylinder(60.0, 1.0, 1.0, 24).translate((12.0, 3.0, -1.0))
    parted = part_porous(drilled, outline_of(body, part))
    assert parted.closed.volume() + parted.porous.volume() == pytest.approx(drilled.volume(), rel=1e-9)
    whole = parted.closed + parted.porous
    assert (whole - drilled).volume() + (drilled - whole).volume() < 1e-6 * drilled.volume()
    assert (parted.closed ^ parted.porous).volume() < 1e-9 * drilled.volume()
    assert parted.closed.status() == parted.porous.status()


def test_air_gets_from_the_surface_to_the_platen():
    body, part = hill()
    porous = part_porous(body, outline_of(body, part)).porous
    low, high = porous.bounding_box()[2], porous.bounding_box()[5]
    assert (low, high) == (0.0, pytest.approx(FOOT_MM + 12.0))
    # open beneath as far as above
    assert porous.slice(0.1).area() == pytest.approx(porous.project().area(), rel=1e-6)


@pytest.mark.parametrize(("wall_mm", "flank_deg"), [(70.0, 20.0), (31.0, 80.0)])
def test_no_room_is_told(wall_mm, flank_deg):
    body, part = hill(flank_deg)
    outline = outline_of(body, part, wall_mm=wall_mm)
    assert outline.is_empty() and part_porous(body, outline) is None
    (found,) = about_porous(open_mm2=None, infill_share=0.2, split=False)
    assert found.slug == "no-porous-top" and found.setting == "porous.wall_mm"


def test_the_3mf_holds_two_bodies_by_name(tmp_path):
    mesh = from_manifold(hill()[0].trim_by_plane((0.0, 0.0, 1.0), FOOT_MM))
    made = bw.make(
        (mesh.vertices, mesh.faces),
        sculpt={"unit": "mm"},
        pull={"direction": "z"},
        forecast={"quality": "off"},
        porous={"enabled": True},
        underside={"engrave": False, "fixing": "none"},
    )
    made.save(tmp_path)
    data = (tmp_path / "buck.3mf").read_bytes()
    bodies = trimesh.load(io.BytesIO(data), file_type="3mf").geometry
    assert len(bodies) == 2 and all(one.is_watertight for one in bodies.values())
    (porous,) = (name for name in bodies if name.endswith(", porous"))
    whole = made.report["buck"]["volume_mm3"]
    assert sum(one.volume for one in bodies.values()) == pytest.approx(whole, rel=1e-5)
    assert bodies[porous].volume == pytest.approx(made.report["porous"]["volume_mm3"], rel=1e-5)
    model = lib3mf.get_wrapper().CreateModel()
    model.QueryReader("3mf").ReadFromFile(str(tmp_path / "buck.3mf"))
    objects, names = model.GetMeshObjects(), []
    while objects.MoveNext():
        one = objects.GetCurrentMeshObject()
        assert one.IsManifoldAndOriented()
        names.append(one.GetName())
    assert names == [porous.removesuffix(", porous"), porous]
    assert any(one["slug"] == "porous-top" for one in made.report["findings"])
    # the STL stays whole
    assert trimesh.load(tmp_path / "buck.stl").volume == pytest.approx(whole, rel=1e-5)
