"""The half-space machine on solids whose corners and polygons are known."""

import numpy as np
import pytest

from optimizer.design.intersect import areas, intersect, is_closed, triangles

AXES = np.vstack([np.eye(3), -np.eye(3)])
OCTANTS = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3.0)


def test_box_has_its_eight_corners_exactly():
    solid = intersect(AXES, np.array([1.0, 2.0, 3.0, 1.0, 2.0, 4.0]))
    found = {tuple(corner) for corner in np.round(solid.corners, 15).tolist()}
    assert found == {(x, y, z) for x in (-1, 1) for y in (-2, 2) for z in (-4, 3)}
    assert [len(p) for p in solid.polygons] == [4] * 6
    assert areas(solid)[2] == pytest.approx(8.0, rel=1e-14)
    assert is_closed(solid)


def test_four_planes_through_one_corner_make_one_meet():
    solid = intersect(OCTANTS, np.full(8, 1.0 / np.sqrt(3.0)))
    assert len(solid.corners) == 6
    assert np.abs(np.sort(np.abs(solid.corners), axis=1) - [0, 0, 1]).max() < 1e-15
    assert [len(p) for p in solid.polygons] == [3] * 8


def test_polygons_run_counter_clockwise_from_outside():
    solid = intersect(AXES, np.arange(1.0, 7.0))
    faces, facet = triangles(solid)
    corners = solid.corners[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert len(faces) == 12
    assert (np.einsum("ij,ij->i", normals, AXES[facet]) > 0).all()


def test_a_plane_that_misses_keeps_its_place_with_nothing_left():
    normals = np.vstack([AXES, OCTANTS[-1]])
    solid = intersect(normals, np.append(np.ones(6), 5.0))
    assert len(solid.polygons) == 7
    assert areas(solid)[6] == 0.0
    assert is_closed(solid)


def test_two_corners_closer_than_a_meet_are_one():
    # a truncation of a cube's corner far below any lap's reach must not tear the mesh
    normals = np.vstack([AXES, np.ones(3) / np.sqrt(3.0)])
    solid = intersect(normals, np.append(np.ones(6), np.sqrt(3.0) - 1e-10))
    assert len(solid.corners) == 8
    assert is_closed(solid)


def test_open_to_one_side_is_not_closed():
    slab = np.vstack([AXES[:5], [0.0, 0.6, 0.8]])  # nothing below
    assert not is_closed(intersect(slab, np.ones(6)))
