"""The robust kernel's door: sawing, sections and lumps against closed forms."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.mesh import Mesh, Plane, volume
from optimizer.solid import (
    as_mesh,
    as_solid,
    beyond,
    in_space,
    lumps,
    plane_frame,
    saw,
    section,
    split_by_kerf,
    volume_of,
)

SEEDS = st.integers(0, 10_000)


def shoelace(loop):
    ahead = np.roll(loop, -1, axis=0)
    return float((loop[:, 0] * ahead[:, 1] - loop[:, 1] * ahead[:, 0]).sum() / 2)


def test_a_box_sawn_square_leaves_two_boxes_and_the_kerf():
    below, above = saw(shapes.box((20.0, 10.0, 8.0)), Plane(np.array([1.0, 0, 0]), 3.0), 0.4)
    assert volume(below) == pytest.approx((3.0 - 0.2 + 10.0) * 80.0, rel=1e-12)
    assert volume(above) == pytest.approx((10.0 - 3.2) * 80.0, rel=1e-12)


@given(SEEDS, st.floats(-6, 6), st.floats(0, 1.5))
def test_both_sides_and_the_kerf_add_up_to_the_piece(seed, offset, kerf):
    rng = np.random.default_rng(seed)
    piece = shapes.dented(seed % 7, subdivisions=2)
    plane = Plane(shapes.random_rotation(rng)[:, 0], offset)
    below, above = saw(piece, plane, kerf)
    low, high = offset - kerf / 2, offset + kerf / 2
    dust = volume(beyond(piece, Plane(plane.normal, low))) - volume(above)
    assert volume(below) + dust + volume(above) == pytest.approx(volume(piece), rel=1e-9)
    assert (below.vertices @ plane.normal).max() <= low + 1e-9
    assert (above.vertices @ plane.normal).min() >= high - 1e-9


def test_part_agrees_with_saw():
    piece, plane = shapes.dented(3), Plane.through(np.zeros(3), np.array([1.0, 2, 3]))
    for mesh, solid in zip(
        saw(piece, plane, 0.5), split_by_kerf(as_solid(piece), plane, 0.5), strict=True
    ):
        assert volume(mesh) == pytest.approx(solid.volume(), rel=1e-12)


def test_nothing_lies_beyond_a_plane_that_misses():
    assert len(beyond(shapes.box(), Plane(np.array([0, 0, 1.0]), 6.0)).faces) == 0


def test_an_open_mesh_is_refused():
    box = shapes.box()
    with pytest.raises(InputError, match="not a closed solid"):
        as_solid(Mesh(box.vertices, box.faces[1:]))


def test_a_solid_comes_back_as_the_same_mesh():
    pebble = shapes.pebble(1, subdivisions=2)
    assert volume(as_mesh(as_solid(pebble))) == pytest.approx(volume(pebble), rel=1e-12)


@given(SEEDS)
def test_a_plane_frame_is_right_handed_and_starts_along(seed):
    rng = np.random.default_rng(seed)
    normal, along = shapes.random_rotation(rng)[:, 0], rng.standard_normal(3)
    frame = plane_frame(normal, along)
    assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    assert frame[2] == pytest.approx(normal)
    assert frame[0] @ along > 0
    assert frame[1] @ along == pytest.approx(0.0, abs=1e-12)


def test_a_plane_frame_without_a_way_along_still_closes():
    frame = plane_frame(np.array([0, 0, 1.0]), np.array([0, 0, 2.0]))
    assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-12)


def test_a_hollow_belongs_to_the_lump_around_it():
    small = shapes.moved(shapes.box((4, 6, 2)), np.eye(3), np.array([30.0, 0, 0]))
    hollow = shapes.hollow(shapes.box((10, 10, 10)), shapes.box((4, 6, 2)))
    other = shapes.hollow(small, shapes.moved(shapes.box((1, 1, 1)), np.eye(3), [30.0, 0, 0]))
    both = Mesh(
        np.vstack([hollow.vertices, other.vertices]),
        np.vstack([hollow.faces, other.faces + len(hollow.vertices)]),
    )
    assert [volume_of(lump) for lump in lumps(as_solid(both))] == pytest.approx([952.0, 47.0])


def test_a_section_of_a_hollow_box_has_a_hole():
    solid = as_solid(shapes.hollow(shapes.box((10, 10, 10)), shapes.box((4, 6, 2))))
    loops = section(solid, np.eye(3), 0.3)
    assert sorted(shoelace(loop) for loop in loops) == pytest.approx([-24.0, 100.0])


@given(SEEDS, st.floats(-5, 5))
def test_a_section_lies_in_its_plane_on_the_surface(seed, offset):
    rng = np.random.default_rng(seed)
    box = shapes.box((20.0, 16.0, 14.0))
    normal = shapes.random_rotation(rng)[:, 0]
    frame = plane_frame(normal, np.array([1.0, 0, 0]))
    points = np.vstack([in_space(k, frame, offset) for k in section(as_solid(box), frame, offset)])
    assert points @ normal == pytest.approx(np.full(len(points), offset), abs=1e-9)
    beside = np.max(np.abs(points) - np.array([10.0, 8.0, 7.0]), axis=1)
    assert beside == pytest.approx(np.zeros(len(points)), abs=2e-8)


def test_a_solid_that_is_inside_out_has_no_lumps():
    """As a cut may leave of a surface that crosses itself by less than its numbers resolve."""
    inside_out = shapes.box()
    assert lumps(as_solid(Mesh(inside_out.vertices, inside_out.faces[:, ::-1]))) == []


def test_a_notched_box_falls_into_two_lumps_above_the_notch():
    piece = shapes.notched((20.0, 14.0, 12.0), depth=6.0)
    top = as_solid(beyond(piece, Plane(np.array([0, 0, 1.0]), 2.0)))
    both = lumps(top)
    assert len(both) == 2
    assert sum(lump.volume() for lump in both) == pytest.approx(top.volume(), rel=1e-12)
    assert both[0].volume() == pytest.approx(both[1].volume(), rel=1e-9)


def test_the_rough_is_loaded_once_and_another_mesh_anew():
    mesh = shapes.box((3.0, 2.0, 1.0))
    first = as_solid(mesh)
    assert as_solid(mesh) is first
    copy = Mesh(mesh.vertices.copy(), mesh.faces)
    assert as_solid(copy) is not first
    assert volume_of(first) == pytest.approx(6.0, rel=1e-14)
