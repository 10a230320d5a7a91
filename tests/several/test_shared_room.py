"""Bounds by what stones share, against divisions that are known to be possible."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import shapes
from placed_stones import rough_of
from scipy.optimize import linprog
from scipy.spatial import ConvexHull, HalfspaceIntersection

from optimizer.design import build_body, load_design
from optimizer.offers.offer import offers
from optimizer.order import Order, SizeDemand, Workshop
from optimizer.placement.containers import Planes
from optimizer.placement.ground import Ground
from optimizer.several import sections, shared_room
from optimizer.several.best_choice import best_worths
from optimizer.several.dilated import ConvexMeasures, DilatedBody
from optimizer.several.instance import Instance
from optimizer.several.least_width import least_width
from optimizer.several.model import Wish, allowance_mm
from optimizer.several.plan_bounds import plan_weight_bound, single_stone_bounds
from optimizer.several.section_room import SectionRoom, polygons_about
from optimizer.several.sections import Measure, least_area, least_take
from optimizer.several.worth import Worth

SHOP = Workshop()
ANGLES = {"crown": 34.5, "pavilion": 41.0}
CLEAR, SKIN = allowance_mm(SHOP), 0.25  # of rough scanned within 0.05 mm


def test_the_best_choice_is_that_of_trying_all():
    rng = np.random.default_rng(3)
    for _ in range(5):
        wishes, worths = rng.integers(0, 2, 6), rng.uniform(1.0, 5.0, 6)
        takes = rng.uniform(0.15, 0.6, 6)
        counts, most = (2, 1), 3
        found = best_worths(wishes, worths, takes, counts, most)
        for n in range(1, most + 1):
            tried = [
                sum(worths[list(choice)])
                for choice in product(range(6), repeat=n)
                if sum(takes[list(choice)]) <= 1.0
                and all(np.sum(wishes[list(choice)] == w) <= counts[w] for w in (0, 1))
            ]
            assert found[n] >= max(tried, default=-np.inf)
            loose = best_worths(wishes, worths, takes * (1.0 - 0.01), counts, most)
            assert found[n] <= loose[n]


def test_steiners_formula_for_a_block_and_a_point():
    block = ConvexMeasures.of(shapes.box((5.0, 4.0, 3.0)).vertices)
    r = 0.7
    rounded = 60.0 + 94.0 * r + np.pi * 12.0 * r**2 + 4.0 / 3.0 * np.pi * r**3
    assert block.dilated(r) == pytest.approx(rounded, rel=1e-9)
    assert ConvexMeasures.of(np.zeros((1, 3))).dilated(r) == pytest.approx(4 / 3 * np.pi * r**3)


def test_an_inscribed_body_lies_in_the_stone_with_its_clearance():
    stone = build_body(load_design("pear")).vertices_at(5.0)
    body = DilatedBody.of(stone, CLEAR)
    ways = np.random.default_rng(0).normal(size=(500, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    reach = (ways @ body.stone.T).max(axis=1) + CLEAR
    assert np.all((ways @ body.corners.T).max(axis=1) <= reach + 1e-9)
    assert np.all(body.corners @ body.normals.T <= body.offsets + 1e-4)


def test_polygons_about_a_polygon_hold_it_and_have_ever_fewer_sides():
    corners = np.random.default_rng(1).normal(size=(40, 2))
    corners = corners[ConvexHull(corners).vertices]
    found = polygons_about(corners)
    assert found[0] == (len(corners), pytest.approx(ConvexHull(corners).volume))
    assert [n for n, _ in found] == list(range(len(corners), len(corners) - len(found), -1))
    assert np.all(np.diff([area for _, area in found]) > 0.0)


def test_a_square_is_the_least_polygon_of_four_sides_about_a_circle():
    assert least_area(np.array([1.0]), 0.4)[0] == pytest.approx(4.0)
    assert least_area(np.array([1.0]), 0.0)[0] == pytest.approx(np.pi, rel=0.03)


@pytest.mark.parametrize("overhang", [0.0, 0.3])
def test_no_stone_takes_less_of_a_section(overhang):
    """Random stones in a plate, their ellipses by scipy's linear programs."""
    design, height = build_body(load_design("round-brilliant"), ANGLES), 3.25
    body = DilatedBody.of(design.vertices_at(5.0), CLEAR)
    plate = SectionRoom(
        Planes(np.eye(3), np.ones(3)), CLEAR, np.array([0.0, 0.0, 1.0]), 0.0, height
    )
    measure = Measure(np.array([height / 2.0]), np.ones(1), 3.0, overhang)
    least = least_take(body, len(design.rotations), plate, measure)
    rng, taken = np.random.default_rng(5), []
    while len(taken) < 8:
        way = np.array([0.0, 0.0, rng.choice([-1.0, 1.0])]) + 0.01 * rng.normal(size=3)
        way /= np.linalg.norm(way)
        along = body.stone @ way
        if np.ptp(along) <= height:
            at = rng.uniform(-along.min(), height - along.max())
            size = _largest_disc(body, way, height / 2.0 - at)
            if overhang:
                sizes = [_largest_disc(body, way, z) for z in np.linspace(-0.6, 0.9, 7)]
                size = min(size, max(sizes) - overhang)
            taken.append(float(least_area(np.array([size]), 3.0)[0]))
    assert least <= min(taken) * (1.0 + 1e-9)
    assert least >= 0.85 * min(taken)


def _largest_disc(body, way, height):
    """The radius of the largest disc in a section, which for a round is near the ellipse."""
    across = np.linalg.svd(way[None])[2][1:]
    rows = body.normals @ across.T
    found = linprog(
        [0.0, 0.0, -1.0],
        A_ub=np.column_stack([rows, np.linalg.norm(rows, axis=1)]),
        b_ub=body.offsets - height * (body.normals @ way),
        bounds=[(None, None)] * 3,
    )
    return found.x[2]


def _halves(planes, rng):
    """Two parts of a convex piece, given by its planes, and parted by a saw cut."""
    corners = HalfspaceIntersection(
        np.column_stack([planes.normals, -planes.offsets]), _inner(planes)
    )
    way = rng.normal(size=3) * [1.0, 1.0, 0.3]
    way /= np.linalg.norm(way)
    along = corners.intersections @ way
    offset = along.min() + rng.uniform(0.4, 0.6) * np.ptp(along)
    return [
        Planes(
            np.vstack([planes.normals, side * way]),
            np.append(planes.offsets, side * offset - CLEAR),
        )
        for side in (1.0, -1.0)
    ]


def _inner(planes):
    found = linprog(
        [0.0, 0.0, 0.0, -1.0],
        A_ub=np.column_stack([planes.normals, np.ones(len(planes.normals))]),
        b_ub=planes.offsets,
        bounds=[(None, None)] * 4,
    )
    return found.x[:3] if found.x[3] > 0.0 else None


def _widest(body, planes, rng):
    """The greatest width of a stone, of some turns, in a convex cell."""
    widths = [0.0]
    for _ in range(8):
        turn = shapes.random_rotation(rng) if rng.random() < 0.5 else _upright(rng)
        reach = (planes.normals @ turn @ body.vertices.T).max(axis=1)
        found = linprog(
            [0.0, 0.0, 0.0, -1.0],
            A_ub=np.column_stack([planes.normals, reach]),
            b_ub=planes.offsets,
            bounds=[(None, None)] * 3 + [(0.0, None)],
        )
        if found.status == 0:
            widths.append(found.x[3])
    return max(widths)


def _upright(rng):
    turn = np.array(
        [
            [c := np.cos(a := rng.uniform(0.0, 6.3)), -np.sin(a), 0.0],
            [np.sin(a), c, 0.0],
            [0, 0, 1.0],
        ]
    )
    return turn if rng.random() < 0.5 else turn @ np.diag([1.0, -1.0, -1.0])


@pytest.mark.parametrize("size", [(22.0, 12.0, 4.5), (24.0, 6.5, 5.0), (16.0, 14.0, 12.0)])
def test_no_random_division_passes_the_bound(size, monkeypatch):
    """Random saw cuts through a plate, a bar and a block, and in each cell the widest stone."""
    monkeypatch.setattr(sections, "CELLS", 200)
    monkeypatch.setattr(shared_room, "SECTION_CLASSES", 3)
    rough = rough_of(shapes.box(size))
    rng, body = np.random.default_rng(7), build_body(load_design("round-brilliant"), ANGLES)
    best = []
    for _ in range(2):
        normals = np.vstack([np.eye(3), -np.eye(3)])
        cells = [Planes(normals, np.tile(np.array(size) / 2.0 - SKIN, 2))]
        for _ in range(2):
            cells = [part for cell in cells for part in _halves(cell, rng)]
            cells = [cell for cell in cells if _inner(cell) is not None]
        widths = np.array([_widest(body, cell, rng) for cell in cells])
        best.append(widths[widths > 2.0])
    low, high = min(w.min() for w in best), max(w.max() for w in best)
    order = Order(designs=("round-brilliant",), size=SizeDemand((low * 0.999, high * 1.001)))
    offer = replace(offers(rough, order)[0][0], freedom=None)
    offer = replace(offer, want=replace(offer.want, body=body, skin_mm=SKIN))
    wish = Wish("stones", order, (offer,), least=0, most=12)
    instance = Instance(Ground.of(rough.mesh), (wish,), Worth(), 2.65, SHOP)
    bound, _ = plan_weight_bound(instance, rough, 12, single_stone_bounds(instance))
    found = max(sum(body.volume_at(w) for w in widths) for widths in best) * 2.65 / 200.0
    assert found <= bound.carat


def test_as_many_rounds_as_just_fit_in_a_bar_are_allowed_and_no_more():
    body = build_body(load_design("round-brilliant"), ANGLES)
    width, depth = 5.0, body.depth_at(5.0)
    for count in (2, 4):
        length = count * width + 2.0 * (count - 1) * CLEAR + 2.0 * SKIN
        mesh = shapes.box((length * 1.003, width + 2.0 * SKIN + 0.02, depth + 2.0 * SKIN + 0.02))
        rough = rough_of(mesh)
        order = Order(designs=("round-brilliant",), size=SizeDemand((width, width)))
        offer = replace(offers(rough, order)[0][0], freedom=None)
        offer = replace(offer, want=replace(offer.want, body=body, skin_mm=SKIN))
        wish = Wish("stones", order, (offer,), least=0, most=12)
        instance = Instance(Ground.of(mesh), (wish,), Worth(), 2.65, SHOP)
        bound, _ = plan_weight_bound(instance, rough, 12, single_stone_bounds(instance))
        assert bound.carat == pytest.approx(count * body.volume_at(width) * 2.65 / 200.0, rel=1e-6)


def test_no_direction_has_less_than_the_least_width():
    body = build_body(load_design("pear"))
    corners = body.vertices_at(6.0)
    ways = np.random.default_rng(2).normal(size=(4000, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    least = least_width(corners, len(body.rotations))
    assert 0.97 * body.depth_at(6.0) <= least <= np.ptp(ways @ corners.T, axis=1).min()
    assert least_width(shapes.box((5.0, 4.0, 3.0)).vertices, 2) == pytest.approx(3.0, rel=3e-3)


def test_stones_are_no_thicker_than_the_piece():
    """A large plate holds no stone deeper than it is thick."""
    rough = rough_of(shapes.box((60.0, 60.0, 4.0)))
    offer = replace(offers(rough, Order(designs=("round-brilliant",)))[0][0], freedom=None)
    wish = Wish("stones", Order(), (offer,), least=0, most=3)
    instance = Instance(Ground.of(rough.mesh), (wish,), Worth(), 2.65, SHOP)
    bound, because = plan_weight_bound(instance, rough, 3, single_stone_bounds(instance))
    body, thick = offer.want.body, 4.0 - 2.0 * offer.want.skin_mm
    widest = max(w for w in np.linspace(1.0, 12.0, 1101) if body.depth_at(w) <= thick)
    assert because == shared_room.BY_THICKNESS
    assert bound.carat == pytest.approx(3.0 * body.volume_at(widest) * 2.65 / 200.0, rel=0.02)
