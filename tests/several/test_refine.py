"""Joint refinement against closed forms, plain checks and its own guarantees."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from divisions import (
    BESIDE,
    SG,
    SKIN,
    assert_feasible,
    instance_of,
    moved_division,
    offer_of,
    row,
    shaken,
    stone_at,
    widths,
)
from handmade_plans import six_sided_body
from solids import body_of

from optimizer.audit.common import RoughSolid
from optimizer.audit.containment import inside_the_rough
from optimizer.mesh import Plane
from optimizer.order import ZoneDemand
from optimizer.order.several import Price
from optimizer.placement.search import QUIET
from optimizer.rough.model import Flaw
from optimizer.several.cut_tree import cell_walls, cuts_of
from optimizer.several.pairs import unpaired
from optimizer.several.refine import refine
from optimizer.several.worth import Worth
from optimizer.solid import as_solid

CUBE = body_of(shapes.box((1.0, 1.0, 1.0)))
EDGE = 5.0
ROUNDED = 1.0 - 1e-12
ACROSS = np.array([1.0, 0.0, 0.0])


def bar(length, across=EDGE):
    """A box with room for ``length`` of stones and kerfs along x, and ``across`` along y and z."""
    return shapes.box((length + 2.0 * SKIN, across + 2.0 * SKIN, across + 2.0 * SKIN))


def beside_one_another(edges, offers, wish=lambda k: k):
    """Cubes of these edges along x about the middle, with a cut between each two."""
    length = sum(edges) + 2.0 * BESIDE * (len(edges) - 1)
    stones, cuts, left = [], [], -length / 2.0
    for k, (edge, offer) in enumerate(zip(edges, offers, strict=True)):
        stones.append(stone_at(offer, 0.8 * edge, (left + edge / 2.0, 0, 0), wish=wish(k)))
        left += edge + 2.0 * BESIDE
        cuts.append(Plane(ACROSS, left - BESIDE))
    return row(stones, cuts[:-1])


def cubes_in_a_row(count, low=0.1):
    """A box that holds exactly ``count`` cubes of EDGE side by side, and a division of smaller
    cubes in it."""
    mesh, offer = bar(count * EDGE + 2.0 * BESIDE * (count - 1)), offer_of(CUBE, low)
    division = beside_one_another([EDGE] * count, [offer] * count, wish=lambda k: 0)
    return mesh, instance_of(mesh, offer), division


@pytest.mark.parametrize(("count", "seed"), [(1, 3), (2, 0), (3, 1), (4, 2)])
def test_cubes_fill_the_box_made_for_them(count, seed):
    mesh, instance, division = cubes_in_a_row(count)
    refined = refine(instance, shaken(division, seed, 0.3, 0.06), effort="thorough", watch=QUIET)
    assert widths(refined) == pytest.approx([EDGE] * count, abs=1e-6)
    assert_feasible(instance, mesh, refined)


def test_slightly_larger_cubes_do_not_fit():
    _, instance, division = cubes_in_a_row(3, low=1.0001 * EDGE)
    assert refine(instance, shaken(division, 0, 0.3, 0.06), effort="normal", watch=QUIET) is None


def test_cubes_of_exactly_the_size_asked_fit():
    mesh, instance, division = cubes_in_a_row(3, low=EDGE)
    refined = refine(instance, shaken(division, 0, 0.3, 0.06), effort="thorough", watch=QUIET)
    assert widths(refined) == pytest.approx([EDGE] * 3, abs=1e-6)
    assert_feasible(instance, mesh, refined)


def priced(*per_carat):
    """Offers of cubes, one for each price, and the worth with these prices."""
    offers = []
    for k in range(len(per_carat)):
        plain = offer_of(CUBE)
        offers.append(replace(plain, design=replace(plain.design, name=f"design {k}")))
    prices = tuple(
        Price(steps, design=offer.design.name)
        for steps, offer in zip(per_carat, offers, strict=True)
    )
    return offers, Worth("money", prices)


@pytest.mark.parametrize(("paid", "edges"), [((1.0, 3.0), (4.0, 6.0)), ((3.0, 1.0), (6.0, 4.0))])
def test_the_better_paid_of_two_has_all_the_room_it_can_use(paid, edges):
    """Ten mm for two cubes, each at most six wide: a sum of volumes is greatest at an end of the
    range, and from the middle the ascent goes towards the better paid cube."""
    offers, worth = priced(*(((0.0, p),) for p in paid))
    mesh = bar(10.0 + 2.0 * BESIDE, across=6.0)
    instance = instance_of(mesh, *offers, worth=worth)
    division = beside_one_another((5.0, 5.0), offers)
    refined = refine(instance, shaken(division, 0, 0.05, 0.02), effort="thorough", watch=QUIET)
    assert widths(refined) == pytest.approx(edges, abs=1e-6)
    assert_feasible(instance, mesh, refined)


def test_a_stone_stays_above_the_break_of_its_price():
    """As above, but the stone that would shrink loses its price below a weight."""
    light = 4.5**3 * SG / 200.0
    offers, worth = priced(((0.0, 0.1), (light, 1.0)), ((0.0, 3.0),))
    mesh = bar(10.0 + 2.0 * BESIDE, across=6.0)
    instance = instance_of(mesh, *offers, worth=worth)
    division = beside_one_another((5.0, 5.0), offers)
    wide = replace(
        division,
        stones=tuple(stone_at(s.offer, 5.0, s.placement.pose.translation, wish=s.wish)
                     for s in division.stones),
    )  # fmt: skip
    refined = refine(instance, wide, effort="thorough", watch=QUIET)
    assert widths(refined) == pytest.approx((4.5, 5.5), abs=1e-6)
    assert instance.worth_at(refined.stones[0], widths(refined)[0]) >= light
    assert_feasible(instance, mesh, refined)


@pytest.mark.parametrize("apart", [0.0, 0.5])
def test_a_pair_stays_a_pair(apart):
    mesh, offer = bar(10.0 + 2.0 * BESIDE, across=6.0), offer_of(CUBE)
    instance = instance_of(mesh, offer, pair_mm=apart)
    division = beside_one_another((4.9, 5.1), [offer] * 2, wish=lambda k: 0)
    refined = refine(instance, division, effort="thorough", watch=QUIET)
    assert widths(refined) == pytest.approx((5.0 - apart / 2.0, 5.0 + apart / 2.0), abs=1e-6)
    assert_feasible(instance, mesh, refined)


def test_two_equal_balls_lie_along_the_diagonal_of_a_cube():
    """Centres of two balls of radius r lie in a cube of side S − 2r, so they are no farther apart
    than √3·(S − 2r); they must be 2r and what the saw takes apart. A ball's facets leave each
    stone between the ball inside it and the one about it."""
    ball = body_of(shapes.icosphere(0.5, 2))
    within = float(2.0 * ball.offsets.min())
    side = 12.0
    mesh, offer = shapes.box((side + 2.0 * SKIN,) * 3), offer_of(ball)
    instance = instance_of(mesh, offer, pair_mm=0.0)
    stones = [stone_at(offer, 4.0, (x, 0.3 * x, 0.2 * x)) for x in (-3.0, 3.0)]
    division = row(stones, [Plane(ACROSS, 0.0)])
    refined = refine(instance, division, effort="thorough", watch=QUIET)
    radius = (np.sqrt(3.0) * side - 2.0 * BESIDE) / (2.0 + 2.0 * np.sqrt(3.0))
    one, other = widths(refined)
    assert one == pytest.approx(other, abs=1e-9)
    assert radius - 1e-6 <= one / 2.0 <= radius / within
    assert_feasible(instance, mesh, refined)


@pytest.mark.parametrize("seed", range(3))
def test_never_worth_less_and_always_feasible(seed):
    mesh = shapes.random_polytope(seed, corners=40, radius=12.0)
    offer = offer_of(six_sided_body())
    instance = instance_of(mesh, offer)
    stones = [stone_at(offer, 4.0, (x, 0, 0)) for x in (-4.0, 4.0)]
    division = refine(
        instance, row(stones, [Plane(ACROSS, 0.0)]), effort="quick", watch=QUIET, locked=[0]
    )
    assert_feasible(instance, mesh, division)
    refined = refine(instance, division, effort="quick", watch=QUIET)
    assert_feasible(instance, mesh, refined)
    assert instance.division_worth(refined) >= instance.division_worth(division) * ROUNDED
    tried = refine(instance, refined, effort="quick", watch=QUIET, tries=2)
    assert_feasible(instance, mesh, tried)
    assert instance.division_worth(tried) >= instance.division_worth(refined) * ROUNDED
    again = refine(instance, division, effort="quick", watch=QUIET)
    assert widths(again) == widths(refined)
    assert all(
        np.array_equal(a.normal, b.normal) and a.offset == b.offset
        for a, b in zip(cuts_of(again.cut_tree), cuts_of(refined.cut_tree), strict=True)
    )


def test_a_locked_cut_only_shifts():
    mesh, instance, division = cubes_in_a_row(3)
    division = shaken(division, 4, 0.2, 0.04)
    refined = refine(instance, division, effort="normal", watch=QUIET, locked=[1])
    before, after = cuts_of(division.cut_tree), cuts_of(refined.cut_tree)
    assert after[1].normal == pytest.approx(before[1].normal, abs=1e-14)
    assert after[0].normal != pytest.approx(before[0].normal, abs=1e-3)
    assert_feasible(instance, mesh, refined)


def test_it_does_not_matter_where_the_piece_lies():
    rng = np.random.default_rng(5)
    mesh, instance, division = cubes_in_a_row(3)
    turn, shift = shapes.random_motion(rng)
    there = moved_division(shaken(division, 0, 0.3, 0.06), turn, shift)
    elsewhere = shapes.moved(mesh, turn, shift)
    instance = instance_of(elsewhere, instance.wishes[0].offers[0])
    refined = refine(instance, there, effort="thorough", watch=QUIET)
    assert widths(refined) == pytest.approx([EDGE] * 3, abs=1e-6)
    assert_feasible(instance, elsewhere, refined)


def test_a_stone_outside_the_rough_is_refused():
    _, instance, division = cubes_in_a_row(2)
    far = stone_at(division.stones[1].offer, 1.0, (60.0, 0.0, 0.0))
    assert (
        refine(
            instance,
            replace(division, stones=(division.stones[0], far)),
            effort="quick",
            watch=QUIET,
        )
        is None
    )


def test_one_stone_takes_the_room_of_both_where_no_constraint_stops_it():
    """Twelve mm in a row for two cubes: a sum of cubes is greatest where one is as small as it
    may be."""
    mesh, offer = bar(12.0 + 2.0 * BESIDE, across=11.8), offer_of(CUBE, 0.5)
    instance = instance_of(mesh, offer)
    division = beside_one_another((6.0, 6.0), [offer] * 2, wish=lambda k: 0)
    refined = refine(instance, shaken(division, 1, 0.2, 0.02), effort="thorough", watch=QUIET)
    assert sorted(widths(refined)) == pytest.approx([0.5, 11.5], abs=1e-6)
    assert_feasible(instance, mesh, refined)


def test_pairs_at_the_limit_of_their_tolerance_still_count():
    mesh, offer = bar(10.0 + 2.0 * BESIDE, across=6.0), offer_of(CUBE)
    for apart in (0.0, 0.1, 0.3, 0.7):
        instance = instance_of(mesh, offer, pair_mm=apart)
        division = beside_one_another((4.9, 5.1), [offer] * 2, wish=lambda k: 0)
        refined = refine(instance, division, effort="normal", watch=QUIET)
        assert unpaired(refined.stones, instance.wishes) == ()


def test_every_demand_on_one_stone_holds_for_each():
    """In a dented piece with a flaw and a colour boundary, by the audit's own kernel."""
    mesh = shapes.dented(4, radius=12.0, subdivisions=3)
    flaw = Flaw("f", np.array([[-5.0, 3.0, 0.0]]), None, 0.0, 0.3, 0.2)
    boundary = Plane(np.array([0.0, 0.0, 1.0]), -4.0)
    plain = offer_of(six_sided_body(), low=1.0)
    zone = ZoneDemand("z", "violet", keep_clear_mm=0.4)
    offer = replace(plain, want=replace(plain.want, flaws=(flaw,), zone=zone, boundary=boundary))
    instance = instance_of(mesh, offer)
    stones = [stone_at(offer, 2.0, (x, -0.2 * x, 1.0)) for x in (-4.0, 4.0)]
    refined = refine(
        instance, row(stones, [Plane(ACROSS, 0.0)]), effort="normal", watch=QUIET, tries=1
    )
    assert min(widths(refined)) > 2.0
    solid = RoughSolid.of(mesh)
    walls = dict(cell_walls(refined.cut_tree, BESIDE))
    for number, stone in enumerate(refined.stones):
        placed = stone.placement.mesh()
        inside_the_rough(placed, solid, SKIN, stone.placement.clearance_mm, "the stone")
        assert (placed.vertices @ boundary.normal).min() >= boundary.offset + 0.4 - 1e-7
        (wall,) = walls[number]
        assert (placed.vertices @ wall.normal).max() <= wall.offset + 1e-7
        ball = as_solid(shapes.moved(shapes.icosphere(1e-3, 1), np.eye(3), flaw.ends[0]))
        assert as_solid(placed).min_gap(ball, 2.0) >= 0.5 - 1.001e-3
