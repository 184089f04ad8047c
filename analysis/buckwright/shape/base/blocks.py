"""Take-up blocks: drafted round blocks on the flange outside the part's wall, which use up spare sheet."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from buckwright.shape.base.plates import plate_levels
from buckwright.shape.loft import grown, loft

__all__ = ["Block", "block_feet", "block_solid", "skirts"]

_EDGE_SHARE = 0.5
"""Rounding of a block's upper edge over its radius, up to that of the flange; house rule."""
_SEGMENTS = 48
_FLAT_MM = 2.0
"""Flange left round a block beyond the flange's own rounding; house rule."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A block, in the buck's frame.

    Attributes
    ----------
    x_mm, y_mm : its middle
    top_mm : height of its top over the platen
    radius_mm : at its top, before the edge is rounded
    draft_deg : of its wall
    """

    x_mm: float
    y_mm: float
    top_mm: float
    radius_mm: float
    draft_deg: float

    def outline(self, z_mm: float) -> CrossSection:
        """What it covers at a height below its rounding."""
        reach = self.radius_mm + (self.top_mm - z_mm) * float(np.tan(np.deg2rad(self.draft_deg)))
        return CrossSection.circle(reach, _SEGMENTS).translate((self.x_mm, self.y_mm))


def block_solid(block: Block, *, edge_mm: float) -> Manifold:
    """The solid of a block, standing on z = 0.

    Parameters
    ----------
    block : see `Block`
    edge_mm : rounding of its upper edge, at most; a small block gets less

    Returns
    -------
    Manifold : mm

    Raises
    ------
    SolidError
        The block is not higher than the platen.
    """
    slope = float(np.tan(np.deg2rad(block.draft_deg)))
    edge = min(edge_mm, _EDGE_SHARE * block.radius_mm, 0.5 * block.top_mm)
    return loft(plate_levels(block.outline(block.top_mm), block.top_mm, edge, slope))


def block_feet(blocks: Sequence[Block], z_mm: float) -> CrossSection:
    """What blocks cover at the height of the flange.

    Parameters
    ----------
    blocks : any number
    z_mm : the flange's upper side

    Returns
    -------
    CrossSection : mm
    """
    return CrossSection.batch_boolean([block.outline(z_mm) for block in blocks], OpType.Add)


def skirts(
    outline: CrossSection, blocks: Sequence[Block], *, flange_mm: float, edge_mm: float
) -> CrossSection:
    """Flange that blocks need round them, joined to what stands on it already.

    Parameters
    ----------
    outline : CrossSection, mm, of the part at its foot
    blocks : at least one
    flange_mm : height of the flange's upper side
    edge_mm : radius of the flange's rounded edge

    Returns
    -------
    CrossSection : mm
    """
    corners = np.concatenate(outline.to_polygons())
    pieces = []
    for block in blocks:
        pad = grown(block.outline(flange_mm), edge_mm + _FLAT_MM)
        away = corners - (block.x_mm, block.y_mm)
        near = away[np.hypot(*away.T).argmin()]
        pieces.append(CrossSection.batch_hull([pad, pad.translate((float(near[0]), float(near[1])))]))
    return CrossSection.batch_boolean(pieces, OpType.Add)
