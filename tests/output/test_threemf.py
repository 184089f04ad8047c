"""3MF read back by lib3mf and by trimesh."""

import builtins
import io
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh

from buckwright.errors import OutputError
from buckwright.mesh.triangles import Mesh
from buckwright.output.storable import storable
from buckwright.output.threemf import Metadata, threemf_available, threemf_bytes

ABOUT = Metadata(title="Büste <1> & Co", designer="Ødegård", description="for 0.75 mm HIPS")
needs_lib3mf = pytest.mark.skipif(threemf_available() is not None, reason=str(threemf_available()))


@needs_lib3mf
def test_read_back_by_lib3mf(sculpt: Mesh, tmp_path: Path) -> None:
    import lib3mf

    path = tmp_path / "buck.3mf"
    path.write_bytes(threemf_bytes(sculpt, metadata=ABOUT))
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    assert reader.GetWarningCount() == 0
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    group = model.GetMetaDataGroup()
    entries = [group.GetMetaData(i) for i in range(group.GetMetaDataCount())]
    assert {entry.GetName(): entry.GetValue() for entry in entries} == {
        "Title": ABOUT.title,
        "Designer": ABOUT.designer,
        "Application": "Buckwright",
        "Description": ABOUT.description,
    }
    bodies = model.GetMeshObjects()
    assert bodies.MoveNext()
    body = bodies.GetCurrentMeshObject()
    assert not bodies.MoveNext()
    assert body.IsManifoldAndOriented()
    assert (body.GetTriangleCount(), body.GetVertexCount()) == (sculpt.face_count, sculpt.vertex_count)


@needs_lib3mf
def test_read_back_by_trimesh(sculpt: Mesh) -> None:
    read = trimesh.load(io.BytesIO(threemf_bytes(sculpt)), file_type="3mf", force="mesh")
    assert read.units in {"mm", "millimeter", "millimeters"}
    assert read.is_watertight
    assert len(read.faces) == sculpt.face_count
    assert read.volume == pytest.approx(storable(sculpt).volume_mm3(), rel=1e-6)
    assert np.allclose(read.bounds, sculpt.bounds, atol=1e-5)


@needs_lib3mf
def test_same_bytes_every_time(sculpt: Mesh) -> None:
    assert threemf_bytes(sculpt, metadata=ABOUT) == threemf_bytes(sculpt, metadata=ABOUT)


@needs_lib3mf
def test_dates_are_fixed_and_given_date_is_kept(sculpt: Mesh) -> None:
    data = threemf_bytes(sculpt, metadata=Metadata(creation_date="2024-02-29"))
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert {entry.date_time[0] for entry in archive.infolist()} == {1980}
        model = archive.read("3D/3dmodel.model").decode()
    assert 'unit="millimeter"' in model
    assert "2024-02-29" in model
    assert (
        "CreationDate"
        not in zipfile.ZipFile(io.BytesIO(threemf_bytes(sculpt))).read("3D/3dmodel.model").decode()
    )


@needs_lib3mf
def test_open_and_empty_meshes_are_refused_in_words(sculpt: Mesh) -> None:
    nothing = Mesh.from_arrays(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    for mesh in (nothing, sculpt.submesh(np.arange(100))):
        with pytest.raises(OutputError, match="not a closed solid"):
            threemf_bytes(mesh)


def test_missing_library_is_said_in_words(
    sculpt: Mesh, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def without(name: str, *rest, **named):
        if name.startswith("lib3mf"):
            raise ImportError(name)
        return real(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", without)
    assert "use the STL file" in str(threemf_available())
    with pytest.raises(OutputError, match="use the STL file"):
        threemf_bytes(sculpt)
