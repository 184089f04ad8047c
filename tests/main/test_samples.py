"""The sample sculpts are what they claim: solid, of their size, repeatable, and as awkward as promised."""

import hashlib
import importlib
import sys
import tomllib
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh

from buckwright.job import read_job

SCENES = Path(__file__).resolve().parents[2] / "sample_scenes"
COARSE = 3.5
# Largest extent along x, y, z in mm as the README's scenes and job files state it.
SIZES = {
    "antler_bust": (148, 130, 217),
    "canopy": (89, 258, 44),
    "heron_mask": (169, 125, 65),
    "lantern_hood": (138, 138, 143),
    "river_terrain": (150, 150, 26),
    "scallop_shade": (131, 116, 34),
    "shoulder_shell": (203, 173, 76),
}
SOLIDS = sorted(set(SIZES) - {"river_terrain"})
UNITS_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
PULLS = {"antler_bust": (0.0, -1.0, 0.0)}


@pytest.fixture(scope="module")
def maker():
    sys.path.insert(0, str(SCENES))
    try:
        yield importlib.import_module("make_samples")
    finally:
        sys.path.remove(str(SCENES))


@pytest.fixture(scope="module")
def made(maker, tmp_path_factory):
    """Coarse variants of every sculpt: name -> (file, vertices in mm, faces) as another reader sees them."""
    folder = tmp_path_factory.mktemp("samples")
    found = {}
    for name in maker.NAMES:
        maker.make(name, coarse=COARSE, into=folder)
        job = tomllib.loads((SCENES / name / "job.toml").read_text())
        path = folder / name / job["sculpt"]["file"]
        mesh = trimesh.load_mesh(path, process=False)
        # Facet files (STL) share no vertices; equal coordinates are the same point.
        points, numbers = np.unique(np.asarray(mesh.vertices), axis=0, return_inverse=True)
        faces = numbers.reshape(-1)[np.asarray(mesh.faces)]
        found[name] = (path, points * UNITS_MM[job["sculpt"]["unit"]], faces)
    return found


def _normals(points, faces):
    a, b, c = np.moveaxis(points[faces], 1, 0)
    return np.cross(b - a, c - a) / 2


def test_every_sculpt_has_a_scene_and_every_scene_a_sculpt(maker):
    scenes = sorted(path.parent.name for path in SCENES.glob("*/job.toml"))
    assert scenes == maker.NAMES == sorted(SIZES)


@pytest.mark.parametrize("name", sorted(SIZES))
def test_job_names_the_file_that_is_made(maker, name):
    job = tomllib.loads((SCENES / name / "job.toml").read_text())
    recipe = importlib.import_module(f"sculpts.{name}")
    assert job["sculpt"]["file"] == recipe.FILE
    assert UNITS_MM[job["sculpt"]["unit"]] == recipe.UNIT_MM
    assert read_job(SCENES / name / "job.toml").job.story == job["job"]["story"] != ""


@pytest.mark.parametrize("name", sorted(SIZES))
def test_size_in_the_stated_unit(made, name):
    _, points, _ = made[name]
    np.testing.assert_allclose(np.ptp(points, axis=0), SIZES[name], atol=4.5)


@pytest.mark.parametrize("name", SOLIDS)
def test_solids_are_one_closed_outward_body(made, name):
    _, points, faces = made[name]
    solid = manifold3d.Manifold(manifold3d.Mesh64(points, faces.astype(np.uint64)))
    assert solid.status() == manifold3d.Error.NoError
    assert len(solid.decompose()) == 1
    assert solid.volume() > 1e5
    area = np.linalg.norm(_normals(points, faces), axis=1)
    assert area.min() > 0


@pytest.mark.parametrize("name", sorted(set(SOLIDS) - {"antler_bust"}))
def test_solids_stand_flat_on_the_ground(made, name):
    _, points, faces = made[name]
    normal = _normals(points, faces)
    ground = np.all(np.abs(points[faces][..., 2]) < 1e-3, axis=1)
    assert points[:, 2].min() > -1e-3
    assert -normal[ground, 2].sum() > 0.3 * np.prod(np.ptp(points[:, :2], axis=0))


@pytest.mark.parametrize(
    ("name", "least_mm2"),
    [
        ("antler_bust", 4000),
        ("canopy", 1500),
        ("heron_mask", 3000),
        ("lantern_hood", 1500),
        ("shoulder_shell", 3000),
    ],
)
def test_undercuts_above_the_ground(made, name, least_mm2):
    """Area that leans under along the pull by more than 5 degrees, the flat foot left out."""
    _, points, faces = made[name]
    normal = _normals(points, faces)
    area = np.linalg.norm(normal, axis=1)
    lean = normal @ np.array(PULLS.get(name, (0.0, 0.0, 1.0))) / area
    foot = np.all(points[faces][..., 2] < 0.5, axis=1)
    assert area[(lean < -np.sin(np.radians(5))) & ~foot].sum() > least_mm2


def test_beak_hangs_over_open_air(made):
    _, points, faces = made["heron_mask"]
    mesh = trimesh.Trimesh(points, faces, process=False)
    hits, _, _ = mesh.ray.intersects_location([[0.0, -55.0, 200.0]], [[0.0, 0.0, -1.0]])
    assert hits[:, 2].min() > 30


def test_drum_of_the_lantern_is_plumb(made):
    _, points, faces = made["lantern_hood"]
    normal = _normals(points, faces)
    area = np.linalg.norm(normal, axis=1)
    wall = np.abs(normal[:, 2]) < np.sin(np.radians(2)) * area
    middle = points[faces].mean(1)
    drum = wall & (middle[:, 2] > 6) & (middle[:, 2] < 32) & (np.hypot(middle[:, 0], middle[:, 1]) > 58)
    assert area[drum].sum() > 3000


def test_terrain_is_open_faces_up_and_meets_its_neighbours(made):
    _, points, faces = made["river_terrain"]
    assert (_normals(points, faces)[:, 2] > 0).all()
    edges = np.sort(np.concatenate([faces[:, :2], faces[:, 1:], faces[:, ::2]]), axis=1)
    _, uses = np.unique(edges, axis=0, return_counts=True)
    side = round(len(points) ** 0.5) - 1
    assert set(uses) == {1, 2}
    assert (uses == 1).sum() == 4 * side
    for axis in (0, 1):
        ends = [points[np.abs(points[:, axis] - at) < 1e-6] for at in (0.0, 150.0)]
        near, far = (end[np.argsort(end[:, 1 - axis])][:, 2] for end in ends)
        np.testing.assert_allclose(near, far, atol=1e-5)


def test_terrain_has_ponds_that_hold_water(made):
    """Fill the grid to the level at which each point overflows; well over the ground is a pond."""
    from scipy.ndimage import grey_erosion

    _, points, _ = made["river_terrain"]
    side = round(len(points) ** 0.5)
    order = np.lexsort((points[:, 0], points[:, 1]))
    ground = points[order, 2].reshape(side, side)
    level = np.full_like(ground, ground.max())
    level[[0, -1]], level[:, [0, -1]] = ground[[0, -1]], ground[:, [0, -1]]
    for _ in range(10 * side):
        lower = np.maximum(ground, grey_erosion(level, size=(3, 3), mode="nearest"))
        if np.array_equal(lower, level):
            break
        level = lower
    depth = level - ground
    assert depth.max() > 2.0
    assert (depth > 1.0).sum() * (150 / (side - 1)) ** 2 > 100


@pytest.mark.parametrize("name", ["heron_mask", "lantern_hood", "river_terrain"])
def test_same_bytes_again(maker, made, tmp_path, name):
    maker.make(name, coarse=COARSE, into=tmp_path)
    first, second = made[name][0], tmp_path / name / made[name][0].name
    assert hashlib.sha256(first.read_bytes()).digest() == hashlib.sha256(second.read_bytes()).digest()
    assert [path.name for path in second.parent.iterdir()] == [first.name]


def test_unknown_name_is_refused_before_anything_is_made(maker, tmp_path, capsys):
    with pytest.raises(SystemExit) as stop:
        maker.main(["canopy", "swan", "--into", str(tmp_path)])
    assert stop.value.code == 2
    assert "swan" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_up_to_date_sculpt_is_left_alone(maker, tmp_path):
    done = tmp_path / "canopy" / "sculpt.stl"
    done.parent.mkdir()
    done.write_text("mine")
    assert "up to date" in maker.make("canopy", into=tmp_path)
    assert done.read_text() == "mine"


def test_rough_sculpt_never_passes_for_up_to_date(maker, tmp_path):
    maker.make("canopy", coarse=6.0, into=tmp_path)
    rough = (tmp_path / "canopy" / "sculpt.stl").stat().st_size
    assert "faces" in maker.make("canopy", into=tmp_path)
    assert (tmp_path / "canopy" / "sculpt.stl").stat().st_size > 10 * rough
