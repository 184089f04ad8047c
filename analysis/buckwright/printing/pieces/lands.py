"""Joints of a hollow buck: solid on both sides, so that glue holds and pins find their place."""

from collections.abc import Sequence

from manifold3d import CrossSection, Manifold, OpType

from buckwright.printing.pieces.axes import from_axis, section
from buckwright.printing.pieces.joints import PIN_WALL_MM, Joint, Pin, depth_at_pin
from buckwright.shape.underside.free_area import free_area

__all__ = ["filled", "hollowed_again"]

_THICK_MM = 4.0
"""On each side: as thick as the usual wall of a hollow buck."""
_FREE_MM = 2.5
"""Under a land the air passes along the platen, as high as a channel: house rule."""
_CRUMB_MM3 = 5.0
_AIR_MM, _LEAST_AIR_MM = 6.0, 2.0
"""Holes through a level land, and what prints open for certain: house rules, as what counts as a crumb."""
_SEGMENTS = 24
_PIXEL_MM = 0.5
_BEYOND_MM = 0.1


def filled(solid: Manifold, cells: Manifold) -> Manifold:
    """The buck with its cavity full, but for vents and fixings.

    Parameters
    ----------
    solid : hollow, standing on z = 0, mm
    cells : its cavity; may reach below the platen

    Returns
    -------
    Manifold
    """
    return solid + cells.trim_by_plane((0.0, 0.0, 1.0), 0.0)


def hollowed_again(bodies: Sequence[Manifold], cells: Manifold, joints: Sequence[Joint]) -> list[Manifold]:
    """Take the cavity out of the pieces, but leave their joints solid.

    Parameters
    ----------
    bodies : pieces of the filled buck, mm
    cells : the cavity
    joints : between the pieces, with their pins

    Returns
    -------
    list of Manifold

    Notes
    -----
    A land has the thickness of a wall on both sides, and a boss around each pin. An upright one ends above
    the platen, so that air passes under it from cell to cell; a level one has a hole over each cell, and is
    left out over cells that are too small for a hole: no cell is ever shut.
    """
    lands = [part for joint in joints for part in _land(cells, joint)]
    if lands:
        cells = cells - Manifold.batch_boolean(lands, OpType.Add)
    return [_without_voids(body - cells) for body in bodies]


def _without_voids(body: Manifold) -> Manifold:
    """What a boss shuts in under the roof of a cell is filled, and crumbs are dropped."""
    return Manifold.batch_boolean(
        [part for part in body.decompose() if part.volume() > _CRUMB_MM3], OpType.Add
    )


def _land(cells: Manifold, joint: Joint) -> list[Manifold]:
    face = joint.face
    bosses = [(_boss(pin), depth_at_pin(pin.hole_mm)) for pin in joint.pins]
    if joint.axis == 2:
        over = section(cells, 2, joint.at_mm) ^ face
        face = face - _openings(over - CrossSection.batch_boolean([one for one, _ in bosses], OpType.Add))
    flat = [(face, _THICK_MM), *bosses]
    lands = [
        from_axis(one.extrude(2.0 * deep).translate((0.0, 0.0, joint.at_mm - deep)), joint.axis)
        for one, deep in flat
    ]
    return lands if joint.axis == 2 else [one.trim_by_plane((0.0, 0.0, 1.0), _FREE_MM) for one in lands]


def _boss(pin: Pin) -> CrossSection:
    around = CrossSection.circle(pin.hole_mm / 2.0 + PIN_WALL_MM, 2 * _SEGMENTS)
    return around.translate((pin.u_mm, pin.v_mm))


def _openings(over: CrossSection) -> CrossSection:
    """What of the cells stays open through a level land."""
    opened = []
    for cell in over.decompose():
        ground = free_area(cell, pixel_mm=_PIXEL_MM)
        x, y, clear_mm = ground.peak(ground.clearance_mm())
        wide = min(2.0 * clear_mm, _AIR_MM)
        hole = CrossSection.circle(wide / 2.0, _SEGMENTS).translate((x, y))
        opened.append(hole if wide >= _LEAST_AIR_MM else cell.offset(_BEYOND_MM))
    return CrossSection.batch_boolean(opened, OpType.Add) if opened else CrossSection()
