"""The still drawings."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from shapes import box, icosphere

from optimizer.report.drawing import outline, stone_svg, view_drawing
from optimizer.report.scene import scene_of
from optimizer.report.views import all_views, straight_views
from optimizer.solid import as_solid
from optimizer.view.look import View


def area(loops):
    """Shoelace formula; holes run the other way round."""
    return sum(
        0.5 * float(np.sum(p[:, 0] * np.roll(p[:, 1], -1) - p[:, 1] * np.roll(p[:, 0], -1)))
        for p in loops
    )


def test_the_shadow_of_a_ball_is_a_disc():
    view = View("", "", *np.eye(3))
    assert area(outline(as_solid(icosphere(10.0, 4)), view)) == pytest.approx(
        np.pi * 100.0, rel=0.01
    )


def test_the_shadow_of_a_cube_along_its_diagonal_is_a_hexagon():
    """Area √3·a² (the three faces seen, each foreshortened by 1/√3)."""
    out = np.ones(3) / np.sqrt(3.0)
    right = np.array([1.0, -1.0, 0.0]) / np.sqrt(2.0)
    view = View("", "", right, np.cross(out, right), out)
    assert area(outline(as_solid(box((10.0, 10.0, 10.0))), view)) == pytest.approx(
        np.sqrt(3.0) * 100.0, rel=1e-3
    )


def test_views_are_right_handed_and_follow_the_stone(plan):
    for view in all_views(plan):
        frame = np.array([view.right, view.up, view.out])
        assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-12)
        assert np.linalg.det(frame) == pytest.approx(1.0)
    face_up, side, end = straight_views(plan)
    turn = plan.stones[0].placement.pose.rotation
    assert np.array_equal(face_up.out, turn[:, 2])
    assert np.array_equal(side.up, turn[:, 2])
    assert np.array_equal(end.out, turn[:, 0])


def paths(svg):
    """(fill, points (k, 2)) of each path."""
    for path in ElementTree.fromstring(svg).iter("path"):
        fill = re.search(r"fill:([^;]+)", path.get("style", ""))
        yield fill and fill[1], np.array(re.findall(r"-?[\d.]+", path.get("d")), float)


def test_the_stone_is_drawn_in_the_colours_of_its_sides(plan):
    """Seen face up, the boundary is square to the length: violet right of it, yellow left."""
    svg = stone_svg(plan, plan.stones[0], straight_views(plan)[0])
    split = plan.stones[0].placement.pose.rotation[:, 0] @ (
        plan.rough.zones[0].plane.normal * plan.rough.zones[0].plane.offset
    )
    sides = {"left": 0, "right": 0}
    for fill, points in paths(svg):
        if fill is None or not fill.startswith("#"):
            continue
        red, green, blue = bytes.fromhex(fill[1:])
        violet = blue > red
        assert violet != (red > blue), fill
        assert green < max(red, blue)
        across = points[0::2]
        assert (across >= split - 1e-3).all() if violet else (across <= split + 1e-3).all()
        sides["right" if violet else "left"] += 1
    assert min(sides.values()) >= 3


def test_views_are_drawn_to_one_scale(plan):
    drawings = [view_drawing(scene_of(plan), view) for view in straight_views(plan)]
    margin = 2 * 0.06 * float(np.ptp(plan.rough.mesh.vertices, axis=0).max())
    assert [d.wide_mm - margin for d in drawings] == pytest.approx([20.0, 20.0, 10.0])
    assert len({re.search(r">([\d.]+ mm)<", d.svg)[1] for d in drawings}) == 1
    for drawing in drawings:
        ElementTree.fromstring(drawing.svg)


def test_without_a_stone_the_looks_follow_the_scan(plan_without_stone):
    outs = [view.out.tolist() for view in straight_views(plan_without_stone)]
    assert outs == [[0, 0, 1], [0, -1, 0], [1, 0, 0]]


def test_planes_are_drawn_and_named_where_they_are_seen_on_edge(plan):
    """The cut and the boundary are square to the length: lines in the first two looks only."""
    scene = scene_of(plan)
    face_up, side, end = (view_drawing(scene, view).svg for view in straight_views(plan))
    for svg in (face_up, side):
        assert ">cut 1<" in svg
        assert ">split<" in svg
    assert ">cut 1<" not in end
    assert [">dopping flat<" in svg for svg in (face_up, side, end)] == [False, True, True]
