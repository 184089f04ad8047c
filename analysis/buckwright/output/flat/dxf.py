"""Flat drawings as DXF (AutoCAD 2000, millimetres), a layer for each thing that is done."""

import io
from collections.abc import Iterator
from contextlib import contextmanager

from buckwright.output.flat.drawing import LAYERS, FlatDrawing

__all__ = ["dxf_bytes"]

# Colour numbers of the standard palette, so that a cutter can tell the layers apart: 7 is black or white.
_COLOURS = {"cut": 7, "score": 5, "engrave": 6, "reference": 8}
_MILLIMETRES = 4


def dxf_bytes(drawing: FlatDrawing) -> bytes:
    """Encode a drawing.

    Parameters
    ----------
    drawing : mm

    Returns
    -------
    bytes : the same for the same drawing
    """
    from ezdxf.document import Drawing
    from ezdxf.enums import TextEntityAlignment

    with _fixed_marks():
        document = Drawing.new("AC1015")
        document.header["$INSUNITS"] = _MILLIMETRES
        document.header["$MEASUREMENT"] = 1
        for name in LAYERS:
            document.layers.add(name, color=_COLOURS[name])
        space = document.modelspace()
        for line in drawing.lines:
            space.add_lwpolyline(line.points.tolist(), close=line.closed, dxfattribs={"layer": line.layer})
        for circle in drawing.circles:
            space.add_circle((circle.x, circle.y), circle.radius_mm, dxfattribs={"layer": circle.layer})
        for words in drawing.words:
            text = space.add_text(words.text, height=words.height_mm, dxfattribs={"layer": words.layer})
            text.set_placement((words.x, words.y), align=TextEntityAlignment.LEFT)
        stream = io.StringIO()
        document.write(stream)
    return stream.getvalue().encode("utf-8")


@contextmanager
def _fixed_marks() -> Iterator[None]:
    """Neither dates nor random numbers in the file."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
