"""The line drawing: valid, self-contained, to scale, with the right edges left out."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from design_places import SAMPLE

from optimizer.design import build_body, describe, load_design, picture_svg
from optimizer.design.body import tiers
from optimizer.design.picture import VIEWS, visible_edges

SVG = "{http://www.w3.org/2000/svg}"


def words(picture):
    return [node.text for node in ET.fromstring(picture).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", SAMPLE)
def test_picture_is_one_plain_svg_element_that_needs_nothing_else(name):
    picture = picture_svg(build_body(load_design(name)), width_mm=7.0)
    root = ET.fromstring(picture)
    assert root.tag == f"{SVG}svg"
    kinds = {node.tag.removeprefix(SVG) for node in root.iter()}
    assert kinds == {"svg", "title", "rect", "text", "path", "polygon"}
    # nothing that could clash with, or reach out of, the page that it stands in
    assert not re.search(r"\bid=|href|url\(|<style|<script|class=|nan|inf\b", picture)


def test_sizes_are_in_mm_where_a_width_is_given():
    body = build_body(load_design("long-hexagon"), least_girdle_mm=0.3)
    said = words(picture_svg(body, width_mm=8.0))
    depth = body.depth_at(8.0)
    for text in ("length 12.80 mm", "width 8.00 mm", f"depth {depth:.2f} mm", "girdle 0.30 mm"):
        assert text in said


def test_sizes_are_shares_of_the_width_where_none_is_given():
    said = words(picture_svg(build_body(load_design("oval"))))
    assert "length 1.300 of the width" in said
    assert "girdle 0.025 of the width" in said


def test_index_zero_axes_and_settings_are_marked():
    said = words(picture_svg(build_body(load_design("cut-corner-rectangle"))))
    assert said.count("index 0") == 2
    assert said.count("counts up") == 1  # from above counter-clockwise
    assert said.count("counts down") == 1
    assert said.count("+x length") == 3
    assert said.count("12") == 2  # a girdle facet's setting, from above and from below


def test_views_show_what_the_eye_sees():
    for view in VIEWS:
        assert tuple(np.cross(view.right, view.up)) == view.eye


def test_everything_lies_on_the_sheet():
    for name in SAMPLE:
        picture = picture_svg(build_body(load_design(name)), width_mm=9.0)
        width, height = map(float, re.search(r'viewBox="0 0 (\d+) (\d+)"', picture).groups())
        for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", picture):
            assert 0.0 <= float(x) <= width
            assert 0.0 <= float(y) <= height
        for node in ET.fromstring(picture).iter(f"{SVG}text"):
            if node.get("text-anchor") == "start":  # a letter is about 7 units wide
                assert float(node.get("x")) + 7.0 * len(node.text) <= width


@pytest.mark.parametrize("name", SAMPLE)
def test_hidden_edges_are_left_out_and_no_others(name):
    """From above: the crown's edges, and the girdle's upper line as the rim."""
    body = build_body(load_design(name))
    half = body.girdle_share / 2.0
    inner, rim = visible_edges(body, np.array([0.0, 0.0, 1.0]))
    heights = body.vertices[:, 2]
    assert all(abs(heights[a] - half) < 1e-12 and abs(heights[b] - half) < 1e-12 for a, b in rim)
    girdle = sum(len(row.settings) for row in tiers(load_design(name), {}) if row.side == "girdle")
    assert len(rim) == girdle
    assert all(heights[a] > half - 1e-12 and heights[b] > half - 1e-12 for a, b in inner)
    # Euler: a disc cut into the crown's facets has corners − edges + facets = 1
    corners = {corner for edge in inner + rim for corner in edge}
    crown = int((body.normals[:, 2] > 1e-9).sum())
    assert len(corners) - len(inner + rim) + crown == 1


def test_description_tells_parameters_tiers_and_factor():
    design = load_design("round-brilliant")
    text = "\n".join(describe(design))
    assert "Round brilliant (round-brilliant)" in text
    assert re.search(r"pavilion +40\.75 +38 to 45 +angle of pavilion main", text)
    assert re.search(r"length_to_width +1 +fixed", text)
    for row in tiers(design, {}):
        assert f". {row.name}" in text
        assert (f" {row.angles_deg[0]:.2f}° at " in text) is (row.angles_deg[0] > 0.0)
    assert "40.75° at 0 12 24 36 48 60 72 84" in text
    assert "0.001691 × length × width × depth × SG" in text
    assert all("\n" not in line for line in describe(design))
