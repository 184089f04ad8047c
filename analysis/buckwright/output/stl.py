"""Binary STL in millimetres."""

import struct

import numpy as np

from buckwright.mesh.triangles import Mesh
from buckwright.output.canvas.normals import unit_normals
from buckwright.output.storable import storable

__all__ = ["stl_bytes"]

_HEADER_BYTES = 80
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("unused", "<u2")])


def stl_bytes(mesh: Mesh, *, title: str = "") -> bytes:
    """Encode as binary STL; the same mesh always gives the same bytes.

    Parameters
    ----------
    mesh : triangles, mm
    title : goes into the header after the unit; letters outside ASCII become '?'

    Returns
    -------
    bytes : 84 + 50 F, little-endian

    Raises
    ------
    OutputError
        The mesh cannot be rounded to what files hold (see `storable.storable`).

    Notes
    -----
    STL has no unit; the header says mm and never begins with 'solid', by which readers recognise the text
    form. A plain numpy record: trimesh's exporter takes twice as long and leaves the header blank.

    Examples
    --------
    >>> data = stl_bytes(Mesh.from_arrays([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0, 1, 2)]), title="sample")
    >>> len(data), data[:80].rstrip()
    (134, b'unit mm; buckwright; sample')
    """
    rounded = storable(mesh)
    words = f"unit mm; buckwright; {title}" if title else "unit mm; buckwright"
    header = words.encode("ascii", "replace")[:_HEADER_BYTES].ljust(_HEADER_BYTES)
    records = np.zeros(rounded.face_count, _RECORD)
    records["normal"] = unit_normals(rounded)
    records["corners"] = rounded.vertices.astype("<f4")[rounded.faces]
    return header + struct.pack("<I", len(records)) + records.tobytes()
