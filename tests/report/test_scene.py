"""The layers, and scene.glb made from them."""

import io
import re

import numpy as np
import pytest
import trimesh
from shapes import icosphere

from optimizer.mesh import Mesh, Plane, volume
from optimizer.report.edges import facet_edges
from optimizer.report.glb import scene_glb
from optimizer.report.plane_patch import section_patch
from optimizer.report.scene import halves, scene_of
from optimizer.solid import as_solid
from optimizer.view.display_mesh import display_mesh
from optimizer.view.layer import plain


@pytest.fixture(scope="module")
def glb(plan):
    return trimesh.load(io.BytesIO(scene_glb(scene_of(plan).layers)), file_type="glb")


def node(scene, name):
    return scene.geometry[scene.graph[name][1]]


def test_every_thing_to_see_has_a_layer_of_its_own(plan, plan_without_stone):
    keys = [layer.key for layer in scene_of(plan).layers]
    guided = ["flat", "marks", "landmarks", "points", "contacts"]
    assert keys == ["stone-1", "zone-1", "cut-1", *guided, "offcuts", "rough"]
    assert [layer.key for layer in scene_of(plan_without_stone).layers] == ["zone-1", "rough"]
    assert all(re.fullmatch(r"[a-z][a-z0-9-]*", key) for key in keys)


def test_the_glb_is_in_metres_and_lies_over_the_scan(plan, glb):
    rough = node(glb, "rough/1")
    assert rough.volume * 1e9 == pytest.approx(plan.rough.volume_mm3, rel=1e-5)
    low, high = rough.bounds * 1e3
    assert low == pytest.approx(plan.rough.mesh.vertices.min(axis=0), abs=1e-4)
    assert high == pytest.approx(plan.rough.mesh.vertices.max(axis=0), abs=1e-4)


def test_the_stone_in_the_glb_has_its_volume_and_bounds(plan, glb):
    """glTF holds single floats: 1e-5 of a volume, 1e-4 mm of a place."""
    parts = [node(glb, f"stone-1/{k}") for k in (1, 2)]
    assert sum(p.volume for p in parts) * 1e9 == pytest.approx(plan.stones[0].volume_mm3, rel=1e-4)
    corners = np.concatenate([part.vertices for part in parts]) * 1e3
    stone = plan.stones[0].placement.mesh().vertices
    assert corners.min(axis=0) == pytest.approx(stone.min(axis=0), abs=1e-4)
    assert corners.max(axis=0) == pytest.approx(stone.max(axis=0), abs=1e-4)


def test_the_glb_names_each_layer(plan, glb):
    named = {name.split("/")[0] for name in glb.graph.nodes_geometry}
    assert named == {layer.key for layer in scene_of(plan).layers if layer.parts or layer.lines}


def test_each_half_of_the_stone_has_the_colour_of_its_side(plan):
    zone = plan.rough.zones[0]
    mesh = plan.stones[0].placement.mesh()
    parted = halves(mesh, zone)
    assert [colour for _, colour in parted] == ["#8a5cc2", "#e8b83a"]
    towards, away = (half for half, _ in parted)
    assert (towards.vertices @ zone.plane.normal).min() > zone.plane.offset - 1e-9
    assert (away.vertices @ zone.plane.normal).max() < zone.plane.offset + 1e-9
    assert volume(towards) + volume(away) == pytest.approx(volume(mesh), rel=1e-12)


def test_a_stone_clear_of_the_boundary_has_one_colour(plan):
    mesh = plan.stones[0].placement.mesh()
    normal = plan.rough.zones[0].plane.normal
    far = Plane(normal, float((mesh.vertices @ normal).min()) - 1.0)
    zone = type(plan.rough.zones[0])("far", far, *(plan.rough.zones[0].towards,) * 2)
    assert len(halves(mesh, zone)) == 1


def test_facet_edges_are_those_of_the_solid(plan):
    """Euler: 13 facets, 14 corners, so 25 edges; none across a facet."""
    edges = facet_edges(plan.stones[0])
    assert len(edges) == 13 + 14 - 2
    body = plan.stones[0].placement.body
    assert len(body.normals) == 13
    assert len(body.vertices) == 14


def test_a_patch_covers_the_section_and_lies_in_its_plane():
    """A ball of radius 10 cut 6 from its middle shows a disc of radius 8 (Pythagoras)."""
    ball = icosphere(10.0, 4)
    normal = np.array([2.0, -1.0, 2.0]) / 3.0
    patch = section_patch(as_solid(ball), Plane(normal, 6.0))
    assert patch is not None
    assert patch.vertices @ normal == pytest.approx(np.full(len(patch.vertices), 6.0))
    reach = np.linalg.norm(patch.vertices - 6.0 * normal, axis=1)
    assert reach.min() > 8.0
    assert reach.max() < 8.0 * 1.1


def test_no_patch_where_the_plane_misses():
    assert (
        section_patch(as_solid(icosphere(10.0, 2)), Plane(np.array([0.0, 0.0, 1.0]), 11.0)) is None
    )


def test_a_dense_scan_is_thinned_for_show_only():
    ball = icosphere(10.0, 6)  # 81,920 triangles
    light = display_mesh(plain(ball, "#102030"), 20_000)
    assert 10_000 < len(light.mesh.faces) <= 20_000
    assert volume(light.mesh) == pytest.approx(volume(ball), rel=0.01)
    assert np.linalg.norm(light.mesh.vertices, axis=1).max() <= 10.0 + 1e-9
    assert light.colours.shape == (len(light.mesh.vertices), 3)
    assert (light.colours == [16, 32, 48]).all()
    assert light.mesh.faces.max() < len(light.mesh.vertices)


def test_a_light_mesh_is_shown_as_it_is():
    part = plain(icosphere(10.0, 2), "#102030")
    assert display_mesh(part) is part


def test_the_rough_shows_both_colours(plan):
    rough = scene_of(plan).layers[-1].parts[0]
    zone = plan.rough.zones[0]
    towards = rough.mesh.vertices @ zone.plane.normal >= zone.plane.offset
    assert isinstance(rough.mesh, Mesh)
    assert (rough.colours[towards] == [0x8A, 0x5C, 0xC2]).all()
    assert (rough.colours[~towards] == [0xE8, 0xB8, 0x3A]).all()
