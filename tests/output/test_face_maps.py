"""look.ply read back: colours and fields."""

import io

import numpy as np
import pytest
import trimesh

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.palette import STATE_COLOURS
from buckwright.survey.face_maps import FaceMaps, look_bytes


def fields_of(data: bytes) -> np.ndarray:
    read = trimesh.load(io.BytesIO(data), file_type="ply", process=False)
    return read.metadata["_ply_raw"]["face"]["data"]


def test_fields_read_back(sculpt: Mesh, maps: FaceMaps) -> None:
    fields = fields_of(look_bytes(sculpt, maps))
    assert (fields["state"] == maps.state).all()
    assert (fields["region"] == maps.region).all()
    for name in ("draft_deg", "depth_mm", "sideways_mm"):
        assert np.allclose(fields[name], getattr(maps, name), rtol=1e-6, atol=1e-6)


def test_face_colours_tell_the_state(sculpt: Mesh, maps: FaceMaps) -> None:
    fields = fields_of(look_bytes(sculpt, maps))
    colours = np.stack([fields[name] for name in ("red", "green", "blue")], 1)
    expected = np.round(np.array(STATE_COLOURS) * 255)[maps.state]
    assert (colours == expected).all()


def test_geometry_and_vertex_colours(sculpt: Mesh, maps: FaceMaps) -> None:
    read = trimesh.load(io.BytesIO(look_bytes(sculpt, maps)), file_type="ply", process=False)
    assert (read.faces == sculpt.faces).all()
    assert np.allclose(read.vertices, sculpt.vertices, atol=1e-5)
    worst = np.round(np.array(STATE_COLOURS[2]) * 255)
    touched = np.unique(sculpt.faces[maps.state == 2])
    assert (read.visual.vertex_colors[touched, :3] == worst).all()
    top = int(sculpt.vertices[:, 2].argmax())
    assert (read.visual.vertex_colors[top, :3] == np.round(np.array(STATE_COLOURS[0]) * 255)).all()


def test_same_bytes_again(sculpt: Mesh, maps: FaceMaps) -> None:
    assert look_bytes(sculpt, maps) == look_bytes(sculpt, maps)


def test_arrays_that_do_not_belong_are_refused(sculpt: Mesh, maps: FaceMaps) -> None:
    with pytest.raises(ValueError, match="faces"):
        look_bytes(sculpt.submesh(np.arange(10)), maps)
    with pytest.raises(ValueError, match="shape"):
        FaceMaps(maps.state[:5], maps.draft_deg, maps.depth_mm, maps.sideways_mm, maps.region)
    with pytest.raises(ValueError, match="states"):
        FaceMaps(maps.state + 1, maps.draft_deg, maps.depth_mm, maps.sideways_mm, maps.region)
