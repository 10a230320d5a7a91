"""Every design over its whole range, judged by general-purpose solid libraries.

trimesh says closed, wound outward and how large; manifold3d says solid, and how large.
"""

import itertools

import numpy as np
import pytest
import trimesh
from design_places import SAMPLE, between
from scipy.spatial import ConvexHull

from optimizer.design import build_body, library, load_design, tiers
from optimizer.mesh import Mesh
from optimizer.solid import as_solid


def check_solid(body):
    mesh = trimesh.Trimesh(body.vertices, body.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    assert mesh.euler_number == 2
    assert mesh.volume == pytest.approx(body.unit_volume, rel=1e-12)
    assert as_solid(Mesh(body.vertices, body.faces)).volume() == pytest.approx(
        body.unit_volume, rel=1e-12
    )
    hull = ConvexHull(body.vertices)
    assert hull.volume == pytest.approx(body.unit_volume, rel=1e-12)
    assert len(hull.vertices) == len(body.vertices)  # every corner is a true one


def check_facets(body):
    """Planes, corners and triangles tell one story."""
    slack = body.offsets - body.vertices @ body.normals.T
    assert slack.min() > -1e-14
    corners = body.vertices[body.faces]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert (np.einsum("ij,ij->i", cross, body.normals[body.facet_of_face]) > 0).all()
    on = np.einsum("ijk,ik->ij", corners, body.normals[body.facet_of_face])
    assert np.abs(on - body.offsets[body.facet_of_face][:, None]).max() < 1e-14
    assert set(body.facet_of_face.tolist()) == set(range(len(body.normals)))
    assert np.linalg.norm(body.normals, axis=1) == pytest.approx(1.0, abs=1e-15)
    assert (body.offsets > 0).all()


def check_measures(design, body, values):
    low, high = body.vertices.min(axis=0), body.vertices.max(axis=0)
    assert (low[1], high[1]) == pytest.approx((-0.5, 0.5), abs=1e-12)
    back = design.outline.axis * values["length_to_width"]
    assert (low[0], high[0]) == pytest.approx((-back, values["length_to_width"] - back), abs=1e-12)
    top = body.vertices[np.abs(body.vertices[:, 2] - high[2]) < 1e-12]
    assert np.ptp(top[:, 1]) == pytest.approx(values.get("table", 0.0), abs=1e-12)
    for facet in np.flatnonzero(body.normals[:, 2] == 0.0):
        band = np.unique(body.faces[body.facet_of_face == facet])
        heights = np.sort(body.vertices[band, 2])
        level = values["girdle"] / 2.0
        assert heights == pytest.approx([-level, -level, level, level], abs=1e-14)


@pytest.mark.parametrize("name", library())
def test_the_whole_box_gives_whole_stones(name):
    design = load_design(name)
    names = build_body(design).facet_names
    for values in between(design, 3, 6 if name in SAMPLE else 1):
        body = build_body(design, values)
        assert body.facet_names == names
        check_solid(body)
        check_facets(body)
        check_measures(design, body, values)


@pytest.mark.parametrize("name", SAMPLE)
def test_rotation_group_is_what_brute_force_finds(name):
    """Each turn of the gear, corner by corner (the program tries planes)."""
    design = load_design(name)
    body = build_body(design)
    found = []
    for step in range(design.gear):
        c, s = np.cos(2 * np.pi * step / design.gear), np.sin(2 * np.pi * step / design.gear)
        turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
        moved = body.vertices @ turn.T
        far = np.linalg.norm(moved[:, None] - body.vertices[None], axis=2).min(axis=1)
        if far.max() < 1e-9:
            found.append(turn)
    assert (body.rotations[0] == np.eye(3)).all()
    assert body.rotations == pytest.approx(np.array(found), abs=1e-12)
    gram = np.einsum("qij,qkj->qik", body.rotations, body.rotations)
    assert gram == pytest.approx(np.broadcast_to(np.eye(3), gram.shape), abs=1e-15)
    assert np.linalg.det(body.rotations) == pytest.approx(1.0, abs=1e-14)


def test_known_symmetries():
    known = {
        "round-brilliant": 8,
        "oval": 2,
        "long-hexagon": 2,
        "cut-corner-rectangle": 2,
        "cushion": 2,
        "pear": 1,
        "square-step": 4,
        "hexagon-step": 6,
        "octagon-step": 8,
        "round-step": 16,
        "round-rose": 6,
        "rhomb-step": 2,
        "triangle-step": 3,
        "pentagon-step": 5,
    }
    assert {name: len(build_body(load_design(name)).rotations) for name in known} == known
    square = build_body(load_design("cushion"), {"length_to_width": 1.0})
    assert len(square.rotations) == 4


def test_the_pear_points_along_plus_x():
    body = build_body(load_design("pear"))
    half = body.length_at(1.0) / 2.0
    near_tip = body.vertices[body.vertices[:, 0] > half - 0.2]
    near_head = body.vertices[body.vertices[:, 0] < -half + 0.2]
    assert np.ptp(near_tip[:, 1]) < 0.7 * np.ptp(near_head[:, 1])


@pytest.mark.parametrize("name", library())
def test_every_girdle_facet_has_its_break_above_and_below(name):
    rows = tiers(load_design(name), {})
    girdle = {s for row in rows if row.side == "girdle" for s in row.settings}
    for side in ("crown", "pavilion"):
        breaks = [row for row in rows if row.side == side and row.cut_to.startswith("the girdle l")]
        assert set(itertools.chain.from_iterable(row.settings for row in breaks)) == girdle
