"""Regular and semiregular solids as tier files, parted at the girdle by a band; closed forms.

A solid with corners all round its middle section is parted there, and the girdle's band put between
its halves. So its volume is the solid's and, added to it, the section's area times the band.
The solids' volumes are classical (Euclid, Elements XIII; Archimedes after Pappus).
"""

import numpy as np
import pytest

from optimizer.design import build_body, load_design
from optimizer.design.cutter import cutting_faults

BAND = 0.02
PARAMETERS = """
[parameters]
length_to_width = {{ default = {long}, low = {long}, high = {long} }}
crown = {{ default = {angle}, low = {angle}, high = {angle} }}
pavilion = {{ default = {angle}, low = {angle}, high = {angle} }}
girdle = {{ default = 0.02, low = 0.02, high = 0.02 }}
"""


def tier(name, side, settings, angle, cut_to):
    lines = [f'name = "{name}"', f'side = "{side}"', f"settings = {list(settings)}"]
    lines += [] if angle is None else [f"angle = {angle}"]
    return "\n".join(["[[tiers]]", *lines, f"cut_to = {cut_to}"]) + "\n"


def built(tmp_path, gear, parameters, tiers, finished=""):
    head = f'title = "A solid"\nsummary = "A solid."\ngear = {gear}\n{finished}\n'
    outline = '[outline]\ndescription = "straight sides"\nshape = "straight"\n'
    path = tmp_path / "solid.toml"
    path.write_text("\n".join([head, outline, parameters, *tiers]), encoding="utf-8")
    design = load_design(path)
    assert cutting_faults(design) == []
    return build_body(design)


def test_octahedron(tmp_path):
    """Edge 1, its square section level: width 1, faces at arctan √2; volume √2/3."""
    angle = float(np.degrees(np.arctan(np.sqrt(2.0))))
    faces = (0, 24, 48, 72)
    to_point = '["the centre point", "the girdle line"]'
    at = '{{ of = "{side}", at = 0 }}'
    body = built(
        tmp_path, 96, PARAMETERS.format(long=1.0, angle=angle),
        [
            tier("girdle side", "girdle", (24, 72), 90, '"the width"'),
            tier("girdle end", "girdle", (0, 48), 90, '"the length"'),
            tier("below", "pavilion", faces, at.format(side="pavilion"), to_point),
            tier("above", "crown", faces, at.format(side="crown"), to_point),
        ],
        '[finished]\nturns = 4\nmirror = true\nbottom = "point"\n',
    )  # fmt: skip
    assert body.unit_volume == pytest.approx(np.sqrt(2.0) / 3.0 + BAND, rel=1e-12)
    edges = np.linalg.norm(body.vertices[:, None] - body.vertices[None], axis=2)
    assert np.isclose(edges, 1.0).sum() >= 16  # 8 slanting edges, both ways


def test_cuboctahedron_on_a_triangle(tmp_path):
    """Its hexagon level: three squares and three triangles above and below; volume 5√2/3·a³."""
    edge = 1.0 / np.sqrt(3.0)  # the hexagon is 1 wide between its sides
    square = float(np.degrees(np.arctan(np.sqrt(2.0))))  # triangle top to square face
    triangle = float(np.degrees(np.arccos(1.0 / 3.0)))  # 70.53 degrees between triangles
    tip = 2.0 * edge
    parameters = PARAMETERS.format(long=tip, angle=square) + (
        "table = { default = 0.5, low = 0.5, high = 0.5 }\n"  # the height of a triangle
    )
    one, two = (8, 40, 72), (24, 56, 88)
    body = built(
        tmp_path, 96, parameters,
        [
            tier("girdle side", "girdle", (24, 72), 90, '"the width"'),
            tier("girdle end", "girdle", (8, 40, 56, 88), 90, '"the tip"'),
            tier("square below", "pavilion", one, '{ of = "pavilion" }', '"the girdle line"'),
            tier("triangle below", "pavilion", two, triangle, '"the girdle line"'),
            tier("foot", "pavilion", (8,), 0, f'"the slope of square below, {FOOT} percent in"'),
            tier("square above", "crown", two, '{ of = "crown" }', '"the girdle line"'),
            tier("triangle above", "crown", one, triangle, '"the girdle line"'),
            tier("table", "crown", (0,), 0, '"the table share"'),
        ],
        '[finished]\nturns = 3\nbottom = "flat"\n',
    )  # fmt: skip
    section = 1.5 * np.sqrt(3.0) * edge**2
    whole = 5.0 * np.sqrt(2.0) / 3.0 * edge**3 + section * BAND
    assert body.unit_volume == pytest.approx(whole, rel=1e-12)
    assert len(body.normals) == 14 + 6


# How far a square leans in, of half the width: from the hexagon's inner radius to the triangle's.
FOOT = repr(200.0 / 3.0)
