"""A small sculpt that comes along: a finial with a collar that locks and four leaves."""

from buckwright.mesh.triangles import Mesh

__all__ = ["finial"]

_PROFILE_MM = (
    (0, 0), (26, 0), (24, 6), (20, 12), (15, 16), (14, 22), (21, 25), (22, 28), (16, 31), (18, 38), (16, 46),
    (10, 53), (4, 58), (0, 60),
)  # fmt: skip


def finial() -> Mesh:
    """Turned from a profile, 60 mm tall, with leaves set on; foot on z = 0.

    Returns
    -------
    Mesh : closed, mm
    """
    from manifold3d import CrossSection, Manifold

    from buckwright.shape.solid import as_mesh

    body = CrossSection([_PROFILE_MM]).revolve(64)
    leaf = Manifold.sphere(6, 24).scale((1.0, 0.45, 1.6)).translate((19, 0, 12))
    for turn in range(4):
        body += leaf.rotate((0, 0, 90 * turn))
    return as_mesh(body)
