"""The surface as it travels in the page: read back by another reader, and how far it lies off."""

import base64
import zlib

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from shapes import icosphere, pebble

from optimizer.marking import surface_data as module
from optimizer.marking.surface_data import surface_data
from optimizer.mesh import Mesh
from optimizer.rough.open3d_door import open3d
from optimizer.view.packing import box_middle


def steps(text, columns):
    planes = np.frombuffer(zlib.decompress(base64.b64decode(text)), np.uint8).reshape(4, -1)
    return np.cumsum(planes.T.copy().view("<i4").reshape(-1, columns).astype(np.int64), axis=0)


def read_back(mesh):
    middle = box_middle(mesh.vertices)
    packed = surface_data(mesh, None, middle)
    points = middle + packed.data["step_mm"] * steps(packed.data["points"], 3)
    return Mesh(points, steps(packed.data["corners"], 1).reshape(-1, 3)), packed.off_mm


@given(st.integers(0, 1000), st.floats(0.5, 400.0), st.floats(-1e5, 1e5))
def test_every_triangle_is_there_within_a_thousandth(seed, radius, shift):
    mesh = pebble(seed, radius, 2)
    mesh = Mesh(mesh.vertices + shift, mesh.faces)
    back, off = read_back(mesh)
    assert np.array_equal(back.faces, mesh.faces)
    moved = np.linalg.norm(back.vertices - mesh.vertices, axis=1).max()
    assert moved <= off + 1e-9
    assert off < 0.001


def test_a_heavy_scan_is_lightened_by_no_more_than_is_told(monkeypatch):
    """Against open3d's distances, from points spread over the lighter surface."""
    monkeypatch.setattr(module, "MOST_TRIANGLES", 2_000)
    mesh = icosphere(10.0, 5)
    back, off = read_back(mesh)
    assert len(back.faces) <= 2_000
    rng = np.random.default_rng(0)
    share = rng.dirichlet([1, 1, 1], len(back.faces))
    places = np.vstack([np.einsum("ij,ijk->ik", share, back.triangles), back.vertices])
    o3d = open3d()
    full = o3d.t.geometry.RaycastingScene()
    full.add_triangles(mesh.vertices.astype(np.float32), mesh.faces.astype(np.uint32))
    away = full.compute_distance(o3d.core.Tensor(places.astype(np.float32))).numpy()
    assert 0.0 < away.max() <= off < 1.5


def test_colours_go_with_their_corners():
    mesh = icosphere(5.0, 1)
    colours = np.arange(3 * len(mesh.vertices), dtype=np.uint8).reshape(-1, 3)
    packed = surface_data(mesh, colours, np.zeros(3)).data["colours"]
    kept = np.frombuffer(zlib.decompress(base64.b64decode(packed)), np.uint8)
    assert kept.tolist() == colours.ravel().tolist()


def test_a_scan_packs_to_a_few_bytes_a_triangle():
    mesh = icosphere(10.0, 6)
    packed = surface_data(mesh, None, np.zeros(3)).data
    size = len(packed["points"]) + len(packed["corners"])
    assert size < 12 * len(mesh.faces)
