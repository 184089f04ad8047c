"""Flat drawings as SVG 1.1 in millimetres, a group for each thing that is done."""

from xml.etree import ElementTree

import numpy as np

from buckwright.output.flat.drawing import LAYERS, FlatDrawing, Layer

__all__ = ["svg_bytes"]

_MARGIN_MM = 5.0
_COLOURS: dict[Layer, str] = {
    "cut": "#000000",
    "score": "#0000ff",
    "engrave": "#b000b0",
    "reference": "#8a8a8a",
}
_HAIR_MM = "0.1"


def svg_bytes(drawing: FlatDrawing) -> bytes:
    """Encode a drawing; one unit of its view box is one millimetre, y points down as SVG wants it.

    Parameters
    ----------
    drawing : mm

    Returns
    -------
    bytes : the same for the same drawing
    """
    low, high = drawing.bounds
    low, high = low - _MARGIN_MM, high + _MARGIN_MM
    width, depth = (float(side) for side in high - low)
    root = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "version": "1.1",
            "width": f"{_text(width)}mm",
            "height": f"{_text(depth)}mm",
            "viewBox": f"0 0 {_text(width)} {_text(depth)}",
        },
    )
    ElementTree.SubElement(root, "title").text = drawing.title
    flip = np.array([1.0, -1.0])
    corner = np.array([low[0], high[1]])
    for layer in LAYERS:
        group = ElementTree.SubElement(root, "g", {"id": layer, "fill": "none", "stroke": _COLOURS[layer]})
        group.set("stroke-width", _HAIR_MM)
        for line in (line for line in drawing.lines if line.layer == layer):
            points = (line.points - corner) * flip
            words = " ".join(f"{_text(x)},{_text(y)}" for x, y in points.tolist())
            ElementTree.SubElement(group, "polygon" if line.closed else "polyline", {"points": words})
        for circle in (circle for circle in drawing.circles if circle.layer == layer):
            x, y = ((np.array([circle.x, circle.y]) - corner) * flip).tolist()
            place = {"cx": _text(x), "cy": _text(y), "r": _text(circle.radius_mm)}
            ElementTree.SubElement(group, "circle", place)
        for entry in (entry for entry in drawing.words if entry.layer == layer):
            x, y = ((np.array([entry.x, entry.y]) - corner) * flip).tolist()
            style = {"font-family": "sans-serif", "font-size": _text(entry.height_mm * 1.4)}
            style |= {"fill": _COLOURS[layer], "stroke": "none"}
            ElementTree.SubElement(group, "text", {"x": _text(x), "y": _text(y)} | style).text = entry.text
    ElementTree.indent(root)
    data: bytes = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
    return data + b"\n"


def _text(number: float) -> str:
    """A number to a tenth of a micrometre, without needless zeros."""
    return f"{number:.4f}".rstrip("0").rstrip(".")
