"""Flat drawings at 1:1 and the files that hold them: DXF, SVG and tiled PDF. Knows no buck."""
