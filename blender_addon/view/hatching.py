"""Hatching over trapped faces, so that colour is never the only sign: stripes of one width on the screen.

The stripes belong to the pixels, not to the mesh: they are as wide and as far apart on a coarse mesh as on a
fine one, at every size of the sculpt, and nothing of them can sink into a face.
"""

from functools import cache
from typing import Any

import gpu
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from .overlay_gpu import CHALK, INK, LIFT_MARKS, LineBatch, Nearer, State, vertex_batch

__all__ = ["PERIOD", "draw_hatching", "hatched"]

PERIOD = 9.0
"""From stripe to stripe, across them, in pixels at an interface scale of 1: a judgement."""
_CHALK_WIDE, _INK_WIDE = 1.3, 0.9
"""Width of a stripe and of each of its edges, in the same pixels."""

_VERTEX = """
void main()
{
  spot = pos;
  gl_Position = ModelViewProjectionMatrix * vec4(pos, 1.0);
}
"""
_FRAGMENT = """
vec3 of_target(vec3 paint)
{
  vec3 linear = mix(pow((paint + 0.055) / 1.055, vec3(2.4)), paint / 12.92, lessThan(paint, vec3(0.04045)));
  return srgbTarget ? linear : paint;
}

void main()
{
  for (int k = 0; k < 6; k++) {
    if (dot(cut.planes[k], vec4(spot, 1.0)) < 0.0) {
      discard;
    }
  }
  float across = (gl_FragCoord.x + gl_FragCoord.y) * 0.70710678;
  float off = abs(mod(across, stripe.x) - 0.5 * stripe.x);
  float edge = stripe.y + stripe.z;
  float cover = 1.0 - smoothstep(edge - 0.5, edge + 0.5, off);
  if (cover <= 0.0) {
    discard;
  }
  vec3 paint = mix(CHALK, INK, smoothstep(stripe.y - 0.5, stripe.y + 0.5, off));
  fragColor = vec4(of_target(paint), cover);
}
"""
_UNCUT = (0.0, 0.0, 0.0, 1.0)
"""A plane that everything is before."""


def hatched(vertices: NDArray[np.float32], faces: NDArray[np.integer[Any]]) -> LineBatch | None:
    """Triangles (F, 3) over vertices (V, 3) to be hatched; None without any."""
    return vertex_batch("TRIS", vertices.take(faces.reshape(-1), axis=0)) if len(faces) else None


def draw_hatching(batch: LineBatch, matrix: Matrix, region_3d: Any, *, scale: float) -> None:
    """Hatch triangles that face the viewer and that nothing hides; `scale` is that of the interface."""
    with State(depth_mask=False), Nearer(region_3d, LIFT_MARKS), gpu.matrix.push_pop():
        gpu.matrix.multiply_matrix(matrix)
        gpu.state.front_facing_set(matrix.determinant() < 0.0)
        shader = _shader()
        shader.bind()
        shader.uniform_float("stripe", (PERIOD * scale, _CHALK_WIDE * scale / 2.0, _INK_WIDE * scale))
        cut = gpu.types.GPUUniformBuf(_planes(matrix, region_3d))
        shader.uniform_block("cut", cut)
        batch.batch.draw(shader)


def _planes(matrix: Matrix, region_3d: Any) -> NDArray[np.float32]:
    """(6, 4) the planes of the clipping border, in the space of the triangles."""
    if not region_3d.use_clip_planes:
        return np.tile(np.array(_UNCUT, np.float32), (6, 1))
    world = np.array([tuple(plane) for plane in region_3d.clip_planes], np.float64)
    return np.ascontiguousarray(world @ np.array(matrix, np.float64), np.float32)


@cache
def _shader() -> Any:
    info: Any = gpu.types.GPUShaderCreateInfo()
    between: Any = gpu.types.GPUStageInterfaceInfo("buckwright_hatching")
    between.smooth("VEC3", "spot")
    info.push_constant("MAT4", "ModelViewProjectionMatrix")
    info.push_constant("VEC3", "stripe")
    info.push_constant("BOOL", "srgbTarget")  # Blender sets it: whether colours are to be written as light
    info.typedef_source("struct Cut { vec4 planes[6]; };")
    info.uniform_buf(0, "Cut", "cut")
    for name, colour in (("CHALK", CHALK), ("INK", INK)):
        info.define(name, f"vec3({', '.join(map(str, colour[:3]))})")
    info.vertex_in(0, "VEC3", "pos")
    info.vertex_out(between)
    info.fragment_out(0, "VEC4", "fragColor")
    info.vertex_source(_VERTEX)
    info.fragment_source(_FRAGMENT)
    return gpu.shader.create_from_info(info)
