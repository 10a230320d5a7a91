"""Solids that are convex but for a hair are searched by a few planes, and certified whole."""

import numpy as np
import pytest
import shapes
from scipy.spatial import HalfspaceIntersection
from solids import body_of

from optimizer.mesh import Mesh
from optimizer.placement import search
from optimizer.placement.containers import Surface
from optimizer.placement.ground import Ground
from optimizer.placement.nearly_convex import HAIR, deepest
from optimizer.placement.place import Want, place
from optimizer.placement.search import EFFORTS, Effort, Watch
from optimizer.solid import as_mesh, as_solid

SMALL = Effort(rotations=120, centres=12, coarse=20, fine=8, rounds=1, final=2, cells=0)
SKIN = 0.2


def in_single_precision(mesh, edge=2.0):
    """Divided, turned, and rounded as a file of single-precision numbers is."""
    fine = as_mesh(as_solid(mesh).refine_to_length(edge))
    turned = shapes.moved(fine, *shapes.random_motion(np.random.default_rng(0)))
    return Mesh(turned.vertices.astype(np.float32).astype(np.float64), turned.faces)


def solid_of(planes):
    """The convex solid of planes about the origin, for the robust kernel."""
    halfspaces = np.column_stack([planes.normals, -planes.offsets])
    return as_solid(shapes.hull(HalfspaceIntersection(halfspaces, np.zeros(3)).intersections))


def laid(ground, body):
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(EFFORTS, "quick", SMALL)
        want = Want(body, (0.0, np.inf), SKIN)
        found = place(ground, want, effort="quick", seed=0, watch=Watch())
    assert found is not None
    assert found.clearance_mm >= SKIN - 1e-12
    return found


@pytest.mark.parametrize("piece", ["box", "polytope"])
def test_a_convex_piece_in_single_precision_lies_between_few_planes(piece, monkeypatch):
    exact = {"box": shapes.box((20.0, 14.0, 10.0)), "polytope": shapes.random_polytope(3, 12)}
    mesh = in_single_precision(exact[piece])
    ground = Ground.of(mesh)
    assert ground.convex
    assert len(ground.hull.offsets) == len(Ground.of(exact[piece]).hull.offsets)
    assert 0.0 < (ground.hull.offsets - ground.inner.offsets).max() < 1e-5
    own = as_solid(ground.mesh)
    assert (solid_of(ground.inner) - own).volume() <= 1e-12
    assert (own - solid_of(ground.hull)).volume() <= 1e-5  # rounding of their corners
    body = body_of(shapes.random_polytope(1, 12, 1.0))
    best = laid(Ground.of(exact[piece]), body)
    monkeypatch.setattr(search, "best_by_points", None)  # by planes alone
    found = laid(ground, body)
    assert found.pose.width >= best.pose.width * (1.0 - 1e-6)
    stone = as_solid(found.mesh())
    assert (stone - as_solid(mesh)).volume() == 0.0


def test_how_deep_a_surface_comes_is_exact_within_triangles_too():
    ground = Ground.of(shapes.dented(2, subdivisions=2))
    rng = np.random.default_rng(0)
    shares = rng.dirichlet(np.ones(3), 60)
    points = np.einsum("sc,tck->tsk", shares, ground.surface.triangles).reshape(-1, 3)
    inside = (ground.hull.offsets - points @ ground.hull.normals.T).min(axis=1)
    depth = deepest(ground.hull, ground.surface)
    assert inside.max() <= depth <= inside.max() + 0.05
    one = Surface.over(np.array([[[-9.0, -9.0, 0.0], [9.0, -9.0, 0.0], [0.0, 9.0, 0.0]]]))
    assert deepest(Ground.of(shapes.box()).hull, one) == pytest.approx(5.0)  # amid the triangle


def test_a_needle_that_takes_no_volume_is_kept_clear_of():
    """By its volume the piece is its hull to the last bit."""
    mesh = shapes.with_needle(shapes.box((20.0, 14.0, 10.0)), 0, np.zeros(3), 1e-7)
    ground = Ground.of(mesh)
    assert ground.inner is None
    assert not ground.convex
    block = body_of(shapes.box((1.8, 1.3, 0.9)))
    whole = laid(Ground.of(shapes.box((20.0, 14.0, 10.0))), block)
    assert laid(ground, block).pose.width < 0.9 * whole.pose.width


@pytest.mark.parametrize(("depth", "hollow"), [(0.5, False), (2.0, True)])
def test_a_pit_deeper_than_a_hair_is_a_hollow(depth, hollow):
    """In tens of thousandths of the longest side, pressed into the middle of a face."""
    mesh = as_mesh(as_solid(shapes.box((20.0, 20.0, 20.0))).refine_to_length(4.0))
    corners = mesh.vertices.copy()
    pit = np.argmin(np.linalg.norm(corners - [0.0, 0.0, 10.0], axis=1))
    corners[pit, 2] -= depth * HAIR * 20.0
    assert (Ground.of(Mesh(corners, mesh.faces)).inner is None) == hollow
