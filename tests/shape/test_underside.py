"""Base, vents, channels, fixings and lettering together: one solid on which nothing meets by mistake."""

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold, OpType

from buckwright.relief.columns import Columns
from buckwright.shape.base.base_plan import build_base, plan_base
from buckwright.shape.base.settings import BaseSettings
from buckwright.shape.loft import grown
from buckwright.shape.outline import solid_outline
from buckwright.shape.solid import as_mesh, united
from buckwright.shape.solid_height import solid_height
from buckwright.shape.underside.channels import channel_outline, channel_tools, connected, plan_channels
from buckwright.shape.underside.engraving import engraving_tools, plan_engraving
from buckwright.shape.underside.fixings import FixingRequest, fixing_tools, plan_fixings
from buckwright.shape.vents.drilling import drilled
from buckwright.shape.vents.face_hole import face_hole
from buckwright.shape.vents.foot_ring import ring_points
from buckwright.shape.vents.placing import plan_vents
from buckwright.shape.vents.vent import FOOT


def sculpt():
    """A lumpy dome with three hollows in its face, cut off flat."""
    body = Manifold.sphere(40, 96).scale((1.3, 1.0, 0.9))
    for x, y in ((-16, 8), (16, 8), (0, -18)):
        body -= Manifold.sphere(8, 48).translate((x, y, 36))
    return body.trim_by_plane((0, 0, 1), 0.0)


@pytest.mark.parametrize("style", ["flange", "plinth"])
@pytest.mark.parametrize("opening", ["hole", "dimple", "slot"])
@pytest.mark.parametrize("kind", ["screw", "magnet"])
def test_all_together(style, opening, kind):
    part = sculpt()
    base = plan_base(
        solid_outline(part.slice(0.01)),
        part_height_mm=36,
        sheet_mm=0.75,
        draft_deg=3,
        settings=BaseSettings(style=style, land_mm=12.0),
    )
    blank = united([build_base(base), part.translate((0, 0, base.foot_z_mm))])
    assert blank.genus() == 0
    columns = Columns(as_mesh(blank))
    face = face_hole(sheet_mm=0.75, low_mm=0.5, high_mm=1.0, when_small=opening)
    ring = ring_points(grown(base.foot_ring, face.reach_mm + 0.2))
    spots = np.concatenate([[[-16.0, 8.0], [16.0, 8.0], [0.0, -18.0]], ring])
    vents = plan_vents(
        np.column_stack([spots, np.zeros(len(spots))]),
        [0, 1, 2, *[FOOT] * len(ring)],
        columns,
        face=face,
    )
    assert len(vents.vents) == len(spots)
    bores = CrossSection.batch_boolean(
        [CrossSection.circle(d / 2).translate(tuple(a)) for a, d in zip(vents.axes, vents.bores_mm)],
        OpType.Add,
    )
    fixings = plan_fixings(
        base.underside,
        lambda points: solid_height(columns, points),
        keep_out=bores,
        settings=FixingRequest(fixing=kind),
    )
    assert len(fixings.holes) == 2
    channels = plan_channels(vents.axes, base.underside, bores_mm=vents.bores_mm, keep_out=fixings.circles)
    assert connected(channels).all()
    held = CrossSection.batch_boolean(
        [CrossSection.circle(r).translate((x, y)) for x, y, r in fixings.circles], OpType.Add
    )
    assert (held ^ (channel_outline(channels) + bores)).area() == 0
    cut = channel_outline(channels) + bores + held
    text = plan_engraving("Owl", base.underside, job_number="17", keep_out=cut)
    assert text.lines
    assert (text.outline ^ cut).area() == 0
    extra = (*channel_tools(channels), *fixing_tools(fixings), *engraving_tools(text))
    buck = drilled(blank, vents, extra=extra)
    assert buck.genus() == vents.through
    assert len(buck.decompose()) == 1
    assert 0.9 * blank.volume() < buck.volume() < blank.volume()
