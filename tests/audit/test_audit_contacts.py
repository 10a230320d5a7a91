"""Stated contacts: true ones pass, and each kind of untruth is found."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapes
from handmade_plans import PARAMETERS, rough_of, six_sided_body, stone_in

from optimizer.audit.contacts import contacts_are_real, distance_to_mesh
from optimizer.errors import AuditError
from optimizer.placement.active_constraints import what_holds
from optimizer.placement.ground import Ground
from optimizer.placement.place import Want, place
from optimizer.placement.search import Watch
from optimizer.rough.model import Flaw

SKIN = 0.25


@cache
def held_stone(flaw=False, fixed=False):
    rough = rough_of(shapes.pebble(1, radius=6.0))
    body = six_sided_body(**PARAMETERS)
    if flaw:
        middle = held_stone()[1].placement.pose.translation
        rough = replace(rough, flaws=(Flaw("needle", middle[None], None, 0.0, 0.1, 0.4),))
    width = (4.0, 4.0) if fixed else (0.1, np.inf)
    want = Want(body, width, SKIN, flaws=rough.flaws)
    site = Ground.of(rough.mesh)
    placement = place(site, want, effort="quick", seed=0, watch=Watch())
    held = what_holds(site, want, placement, ct_per_mm3=0.013, watch=Watch())
    stone = replace(stone_in(rough, placement.pose, body), placement=placement, held=held)
    return rough, stone


def check(rough, stone):
    return contacts_are_real(stone, stone.placement.mesh(), rough, SKIN, "stone 1")


def with_first(stone, **changes):
    holds = stone.held.constraints
    first = replace(holds[0].contacts[0], **changes)
    hold = replace(holds[0], contacts=(first, *holds[0].contacts[1:]))
    return replace(stone, held=replace(stone.held, constraints=(hold, *holds[1:])))


@pytest.mark.parametrize("kind", [{}, {"flaw": True}, {"fixed": True}])
def test_what_the_search_states_is_true(kind):
    rough, stone = held_stone(**kind)
    said = check(rough, stone)
    assert f"held at {sum(len(h.contacts) for h in stone.held.constraints)} point" in said


def test_without_contacts_nothing_is_said():
    rough, stone = held_stone()
    assert check(rough, replace(stone, held=None)) is None


def test_a_point_off_the_surface_is_found():
    rough, stone = held_stone()
    point = stone.held.constraints[0].contacts[0].point
    away = (point - stone.placement.pose.translation) * 0.001
    with pytest.raises(AuditError, match="off what holds the stone"):
        check(rough, with_first(stone, point=point + away))


def test_a_point_elsewhere_on_the_surface_is_found():
    rough, stone = held_stone()
    corners = rough.mesh.vertices
    far = corners[np.argmax(np.linalg.norm(corners - stone.placement.pose.translation, axis=1))]
    with pytest.raises(AuditError, match="distance to the stone"):
        check(rough, with_first(stone, point=far))


def test_a_wrong_end_on_the_stone_is_found():
    rough, stone = held_stone()
    here = stone.held.constraints[0].contacts[0].on_stone
    with pytest.raises(AuditError, match="its end on the stone"):
        check(rough, with_first(stone, on_stone=here + 0.01))


def test_a_wrong_facet_is_found():
    rough, stone = held_stone()
    body, met = stone.placement.body, stone.held.constraints[0].contacts[0].facets
    wrong = next(k for k in range(len(body.normals)) if k not in met)
    with pytest.raises(AuditError, match="the facets named"):
        check(rough, with_first(stone, facets=(wrong,)))


def test_distance_to_a_mesh_against_closed_forms():
    box = shapes.box((2.0, 2.0, 2.0))
    for point, wanted in (
        ([0.2, 0.1, 1.7], 0.7),
        ([0.2, 0.1, 0.6], 0.4),
        ([2.0, 2.0, 0.3], 2**0.5),
        ([2.0, 3.0, 3.0], 3.0),
        ([0.3, 0.3, 1.0], 0.0),
    ):
        assert distance_to_mesh(np.array(point), box) == pytest.approx(wanted, abs=1e-12)
