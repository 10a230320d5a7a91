"""The girdle law against bodies rebuilt in mm by other means.

At width s the band is max(p·s, g). Rebuilt here (1) as a design whose girdle parameter is that
share, and (2) from the planes in mm by scipy's half-space intersection and convex hull.
"""

import numpy as np
import pytest
from design_places import SAMPLE
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull, HalfspaceIntersection

from optimizer.design import build_body, load_design

WIDTH = st.floats(3.0, 20.0)
LEAST = st.floats(0.1, 0.5)
PLACE = st.floats(0.0, 1.0)  # in the declared range of the girdle's share


@pytest.mark.parametrize("name", SAMPLE)
@settings(max_examples=10)
@given(width=WIDTH, least=LEAST, place=PLACE)
def test_body_equals_its_rebuild_in_mm(name, width, least, place):
    design = load_design(name)
    thinnest, thickest = design.parameters["girdle"].low, design.parameters["girdle"].high
    share = min(thinnest + place * (thickest - thinnest), thickest)
    body = build_body(design, {"girdle": share}, least_girdle_mm=least)
    band = max(share * width, least)
    rebuilt = build_body(design, least_girdle_share=band / width, parameters={"girdle": thinnest})
    mesh = body.mesh_at(width)

    assert body.girdle_at(width) == pytest.approx(band, rel=1e-12)
    far = np.linalg.norm(mesh.vertices[:, None] - width * rebuilt.vertices[None], axis=2)
    assert far.min(axis=1).max() < 1e-12 * width
    assert body.offsets_at(width) == pytest.approx(width * rebuilt.offsets, rel=1e-12)

    halves = np.column_stack([body.normals, -body.offsets_at(width)])
    hull = ConvexHull(HalfspaceIntersection(halves, np.zeros(3)).intersections)
    assert body.volume_at(width) == pytest.approx(hull.volume, rel=1e-11)
    low, high = hull.min_bound, hull.max_bound
    extents = [body.length_at(width), width, body.depth_at(width)]
    assert extents == pytest.approx(list(high - low), rel=1e-11)
    assert body.outline_area * width**2 == pytest.approx(
        ConvexHull(hull.points[:, :2]).volume, rel=1e-11
    )


@pytest.mark.parametrize("name", SAMPLE)
@settings(max_examples=10)
@given(narrow=WIDTH, more=st.floats(1e-3, 5.0), least=LEAST)
def test_bodies_are_nested_in_width(name, narrow, more, least):
    body = build_body(load_design(name), least_girdle_mm=least)
    corners = body.vertices_at(narrow)
    assert (corners @ body.normals.T < body.offsets_at(narrow + more)).all()


@pytest.mark.parametrize("least", [0.0, 0.2, 0.5])
def test_width_for_volume_undoes_volume_at(least):
    body = build_body(load_design("oval"), least_girdle_mm=least)
    for width in np.geomspace(1.0, 60.0, 40):
        assert body.width_for_volume(body.volume_at(width)) == pytest.approx(width, rel=1e-11)


def test_band_where_share_and_mm_meet():
    body = build_body(load_design("oval"), {"girdle": 0.025}, least_girdle_mm=0.2)
    assert body.extra_girdle_mm(8.0) == pytest.approx(0.0, abs=1e-15)
    assert body.girdle_at(8.0) == pytest.approx(0.2)
    assert body.girdle_at(4.0) == pytest.approx(0.2)
    assert body.girdle_at(16.0) == pytest.approx(0.4)
