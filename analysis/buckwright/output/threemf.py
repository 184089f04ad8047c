"""3MF with unit and metadata, through lib3mf."""

import contextlib
import ctypes
import io
import tempfile
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from buckwright.errors import OutputError
from buckwright.mesh.adjacency import is_closed_and_oriented
from buckwright.mesh.triangles import Mesh
from buckwright.output.storable import storable

__all__ = ["Metadata", "threemf_available", "threemf_bytes"]

# Any fixed namespace serves: the numbers only have to differ inside one file and stay the same
# from run to run, so that equal input gives equal bytes.
_NAMES = uuid.uuid5(uuid.NAMESPACE_URL, "buckwright/3mf")


@dataclass(frozen=True, slots=True)
class Metadata:
    """What a 3MF file says about itself; empty entries are left out.

    The names are those that 3MF core 1.4.0 reserves. `creation_date` is never filled in automatically,
    so that the same job gives the same file.
    """

    title: str = "Buck"
    designer: str = ""
    application: str = "Buckwright"
    description: str = ""
    creation_date: str = ""

    def entries(self) -> dict[str, str]:
        """Reserved name and value of every entry that has one.

        Returns
        -------
        dict of str to str

        Examples
        --------
        >>> Metadata(title="Mask").entries()
        {'Title': 'Mask', 'Application': 'Buckwright'}
        """
        pairs = {
            "Title": self.title,
            "Designer": self.designer,
            "Application": self.application,
            "Description": self.description,
            "CreationDate": self.creation_date,
        }
        return {name: value for name, value in pairs.items() if value}


def threemf_available() -> str | None:
    """Why 3MF cannot be written on this machine.

    Returns
    -------
    str or None : the reason in plain words, None if it can be written
    """
    try:
        _library()
    except OutputError as error:
        return str(error)
    return None


def threemf_bytes(mesh: Mesh | Mapping[str, Mesh], *, metadata: Metadata | None = None) -> bytes:
    """Encode as 3MF in millimetres; equal input gives equal bytes.

    Parameters
    ----------
    mesh : closed and outward, mm; coordinates go in as they are, so that they agree with the STL file
        and with report.json. Several bodies by name become objects of their own
    metadata : what the file says about itself

    Returns
    -------
    bytes : a 3MF package

    Raises
    ------
    OutputError
        lib3mf is not available on this platform, or the mesh is not closed.
    """
    library = _library()
    from lib3mf.Lib3MF import ELib3MFException

    words = metadata or Metadata()
    bodies = {words.title: mesh} if isinstance(mesh, Mesh) else mesh
    try:
        return _encode(library, bodies, words)
    except ELib3MFException as error:
        reason = f"3MF was not written: lib3mf refuses the mesh ({error}); use the STL file"
        raise OutputError(reason) from error


def _library() -> Any:
    """The lib3mf wrapper; its own failure message must not reach the standard output."""
    try:
        import lib3mf

        with contextlib.redirect_stdout(io.StringIO()):
            return lib3mf.get_wrapper()
    except Exception as error:
        reason = "3MF is not written: lib3mf has no build for this platform; use the STL file"
        raise OutputError(reason) from error


def _encode(library: Any, bodies: Mapping[str, Mesh], metadata: Metadata) -> bytes:
    from lib3mf import ModelUnit

    model = library.CreateModel()
    model.SetUnit(ModelUnit.MilliMeter)
    model.SetLanguage("und")  # the words are the user's; their language is not known
    for number, (name, mesh) in enumerate(bodies.items()):
        body = model.AddMeshObject()
        body.SetName(name)
        _set_closed_geometry(library, body, mesh)
        item = model.AddBuildItem(body, library.GetIdentityTransform())
        again = str(number) if number else ""
        body.SetUUID(str(uuid.uuid5(_NAMES, f"object{again}")))
        item.SetUUID(str(uuid.uuid5(_NAMES, f"item{again}")))
    model.SetBuildUUID(str(uuid.uuid5(_NAMES, "build")))
    group = model.GetMetaDataGroup()
    for name, value in metadata.entries().items():
        group.AddMetaData("", name, value, "xs:string", True)
    with tempfile.TemporaryDirectory() as folder:
        # WriteToBuffer makes the file twice and copies it byte by byte.
        path = Path(folder) / "buck.3mf"
        model.QueryWriter("3mf").WriteToFile(str(path))
        return path.read_bytes()


def _set_closed_geometry(library: Any, body: Any, mesh: Mesh) -> None:
    """Rounded and welded, or as it is where welding makes an edge of four faces; open meshes are refused.

    An object of the type 'model' must be closed (3MF core 1.4.0).
    """
    for candidate in (storable(mesh), mesh):
        # the library's own question takes three times as long
        if is_closed_and_oriented(candidate.faces):
            _set_geometry(library, body, candidate)
            return
    raise OutputError(
        "3MF was not written: the mesh is not a closed solid with outward faces; use the STL file"
    )


def _set_geometry(library: Any, body: Any, mesh: Mesh) -> None:
    """Pass the arrays as they lie in memory; the wrapper's own method loops in Python."""
    from lib3mf.Lib3MF import Position, Triangle

    points = np.array(mesh.vertices, dtype="<f4", order="C")
    corners = np.array(mesh.faces, dtype="<u4", order="C")
    code = library.lib.lib3mf_meshobject_setgeometry(
        body._handle,
        ctypes.c_uint64(len(points)),
        (Position * len(points)).from_buffer(points),
        ctypes.c_uint64(len(corners)),
        (Triangle * len(corners)).from_buffer(corners),
    )
    library.checkError(body, code)
