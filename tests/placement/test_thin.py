"""Stones so thin that they slip between points of the surface, and sizes that are true."""

from collections import Counter
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapes
from solids import body_of

from optimizer.mesh import Mesh
from optimizer.placement.ground import Ground, spread
from optimizer.placement.growing import growing_by_width
from optimizer.placement.model import Pose
from optimizer.placement.place import Want, place
from optimizer.placement.search import EFFORTS, Effort, Task, Watch, even_starts, search
from optimizer.placement.shell import shell
from optimizer.solid import as_mesh, as_solid

SMALL = Effort(rotations=150, centres=12, coarse=24, fine=8, rounds=1, final=2, cells=0)
THINNESS = (0.14, 0.1, 0.03)


def step():
    """An L-shaped prism."""
    block = as_solid(shapes.box((10.0, 8.0, 5.0)))
    return as_mesh(block - as_solid(shapes.box((12.0, 10.0, 8.0))).translate((5.0, 4.0, 0.0)))


ROUGH = {"bent": lambda: shapes.bent(rings=5), "step": step}


@cache
def ground(name):
    return Ground.of(ROUGH[name]())


def tablet(thickness):
    return body_of(shapes.box((1.0, 1.0, thickness)))


def needle(thickness):
    return body_of(shapes.box((1.0, thickness, thickness)))


def largest(site, body, watch=None):
    starts = even_starts(SMALL.rotations, body.rotations, 0)
    centres = spread(site.places, site.depths, SMALL.centres)
    task = Task(growing_by_width(body, 0.0, 0.0), (), (), starts, centres, np.inf)
    return search(site, task, SMALL, watch or Watch())[0]


def sticks_out(site, body, state):
    solid = body.mesh_at(state.sigma * (1.0 - 1e-9))
    pose = Pose(state.sigma, state.rotation, state.translation)
    stone = as_solid(Mesh(pose.to_scan(solid.vertices), solid.faces))
    return (stone - as_solid(site.mesh)).volume()


@pytest.mark.parametrize("form", [tablet, needle])
@pytest.mark.parametrize("name", sorted(ROUGH))
def test_a_thinner_stone_is_never_found_smaller_than_the_thicker_that_holds_it(name, form):
    site, before = ground(name), 0.0
    for thickness in THINNESS:
        body = form(thickness)
        found = largest(site, body)
        assert found.sigma >= before * (1.0 - 1e-9)
        assert sticks_out(site, body, found) <= 1e-9
        before = found.sigma


@pytest.mark.parametrize("thickness", [0.5, 0.05])
def test_no_size_is_told_that_is_not_true_and_a_stop_keeps_what_was_told(thickness):
    site, body = ground("bent"), tablet(thickness)
    told = []
    whole = largest(site, body, Watch(progress=lambda *said: told.append(said)))
    widths = [width for *_, width in told]
    assert widths == sorted(widths)
    assert widths[0] > 0.0
    assert widths[-1] <= whole.sigma * (1.0 + 1e-9)
    for stage in dict.fromkeys(stage for stage, *_ in told):
        seen = []

        def tell(now, done, total, width, stage=stage, seen=seen):
            seen.append((now == stage, width))

        watch = Watch(lambda seen=seen: any(there for there, _ in seen), tell)
        kept = largest(site, body, watch)
        assert kept.sigma >= max(width for _, width in seen) * (1.0 - 1e-9)
        assert sticks_out(site, body, kept) <= 1e-9


def test_where_the_stand_ins_are_wrong_of_every_start_the_surface_itself_is_asked():
    """Points in one corner of a step let every stone grow out of it."""
    site = ground("step")
    corner = np.ascontiguousarray(site.coarse[:1])
    blind = replace(site, coarse=corner, fine=corner, spacing=1e-6)
    found = largest(blind, tablet(0.5))
    assert sticks_out(site, tablet(0.5), found) <= 1e-9
    assert found.sigma >= 0.8 * largest(site, tablet(0.5)).sigma


@pytest.mark.parametrize("thickness", [0.6, 0.05])
def test_a_size_that_only_just_fits_is_found(thickness):
    """Its clearance where the search begins is less than nothing."""
    site, body = ground("step"), tablet(thickness)
    width = 0.999 * largest(site, body).sigma
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(EFFORTS, "quick", SMALL)
        want = Want(body, (width, width), 0.0)
        assert place(site, want, effort="quick", seed=0, watch=Watch()) is not None
        want = replace(want, width_mm=(1.01 * width, 1.01 * width))
        assert place(site, want, effort="quick", seed=0, watch=Watch()) is None


def edges(triangles):
    """How much oftener each directed edge occurs than its reverse."""
    count = Counter()
    for triangle in triangles:
        corners = [tuple(corner) for corner in triangle]
        for k in range(3):
            a, b = corners[k], corners[(k + 1) % 3]
            count[min(a, b), max(a, b)] += 1 if a < b else -1
    return count


def test_a_shell_has_no_gaps_and_keeps_the_two_sides_of_a_thin_wall():
    fine = as_mesh(as_solid(shapes.box((20.0, 16.0, 0.4))).refine_to_length(0.3))
    light = shell(fine, 2.0)
    assert len(light) < 0.1 * len(fine.faces)
    assert not any(edges(light).values())
    assert np.ptp(light[..., 2]) == pytest.approx(0.4)
    volume = np.einsum("ij,ij->", light[:, 0], np.cross(light[:, 1], light[:, 2])) / 6.0
    assert volume >= 0.6 * 20.0 * 16.0 * 0.4


def test_the_shell_of_a_surface_that_is_no_finer_is_the_surface():
    mesh = shapes.dented(0, subdivisions=2)
    assert shell(mesh, 0.5) is mesh.triangles
