"""Write a sculpt in the format that its name says, in its own unit, whole or not at all."""

import zipfile
from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray

from sculpting.clay import Faces

__all__ = ["write"]

CONTENT_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
    "</Types>"
)
RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
MODEL = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<model unit="millimeter" xml:lang="en-US" '
    'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>'
    '<object id="1" type="model">'
    "<mesh><vertices>{}</vertices><triangles>{}</triangles></mesh></object></resources>"
    '<build><item objectid="1"/></build></model>'
)


def write(
    path: Path, vertices: NDArray[np.float64], faces: Faces, *, unit_mm: float, readable: bool = False
) -> None:
    """Write .stl (`readable`: as text), .ply, .obj or .3mf; the same bytes for the same mesh.

    Parameters
    ----------
    vertices : (V, 3) mm
    faces : (F, 3)
    unit_mm : length of the file's unit, mm; a 3MF file is always written in millimetres
    """
    kind = path.suffix.lstrip(".")
    beside = path.with_name(f"{path.stem}.part.{kind}")
    try:
        if kind == "3mf":
            _write_3mf(beside, vertices, faces)
        else:
            mesh = trimesh.Trimesh(vertices / unit_mm, faces, process=False)
            options = {"include_normals": False, "digits": 6} if kind == "obj" else {}
            data = mesh.export(file_type="stl_ascii" if kind == "stl" and readable else kind, **options)
            beside.write_bytes(data.encode() if isinstance(data, str) else data)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def _write_3mf(path: Path, vertices: NDArray[np.float64], faces: Faces) -> None:
    """Plain 3MF core; the libraries at hand put a new UUID into every file, which changes its bytes."""
    points = "".join(f'<vertex x="{x:.5f}" y="{y:.5f}" z="{z:.5f}"/>' for x, y, z in vertices.tolist())
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces.tolist())
    with zipfile.ZipFile(path, "w") as package:
        for name, text in (
            ("[Content_Types].xml", CONTENT_TYPES),
            ("_rels/.rels", RELATIONS),
            ("3D/3dmodel.model", MODEL.format(points, triangles)),
        ):
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            package.writestr(entry, text, zipfile.ZIP_DEFLATED, 4)
