"""Binary STL read back by trimesh and by hand."""

import io
import struct

import numpy as np
import pytest
import trimesh

from buckwright.mesh.triangles import Mesh
from buckwright.output.stl import stl_bytes
from buckwright.output.storable import storable


def test_read_back_by_trimesh(sculpt: Mesh) -> None:
    read = trimesh.load(io.BytesIO(stl_bytes(sculpt)), file_type="stl")
    assert read.is_watertight
    assert read.is_winding_consistent
    assert len(read.faces) == sculpt.face_count
    assert len(read.vertices) == sculpt.vertex_count
    assert read.volume == pytest.approx(storable(sculpt).volume_mm3(), rel=1e-9)
    assert np.allclose(read.bounds, sculpt.bounds, atol=1e-5)


def test_read_back_by_hand(sculpt: Mesh) -> None:
    data = stl_bytes(sculpt, title="Büste")
    assert len(data) == 84 + 50 * sculpt.face_count
    assert not data[:80].lower().startswith(b"solid")
    assert b"mm" in data[:80]
    assert struct.unpack("<I", data[80:84]) == (sculpt.face_count,)
    expected = storable(sculpt).corners()
    for index in (0, 1, 777, sculpt.face_count - 1):
        values = struct.unpack("<12fH", data[84 + 50 * index : 134 + 50 * index])
        assert (np.reshape(values[3:12], (3, 3)) == expected[index]).all()
        across = np.cross(expected[index, 1] - expected[index, 0], expected[index, 2] - expected[index, 0])
        assert np.allclose(values[:3], across / np.linalg.norm(across), atol=1e-6)
        assert values[12] == 0


def test_same_bytes_every_time_and_long_titles(sculpt: Mesh) -> None:
    assert stl_bytes(sculpt, title="x" * 300) == stl_bytes(sculpt, title="x" * 300)
    assert len(stl_bytes(sculpt, title="x" * 300)) == len(stl_bytes(sculpt))


def test_empty_mesh() -> None:
    assert len(stl_bytes(Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), np.int32)))) == 84
