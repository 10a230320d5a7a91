"""The pool of candidates: all lie in the rough as asked, and good sets are among them."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapes
from handmade_plans import six_sided_design
from placed_stones import rough_of
from solids import body_of

from optimizer.offers.offer import Offer, offers
from optimizer.order import Order, SizeDemand, Workshop
from optimizer.placement.ground import Ground
from optimizer.placement.place import Want
from optimizer.placement.search import QUIET, Watch
from optimizer.rough.flats.find import with_flats
from optimizer.several import initial_shapes
from optimizer.several.instance import Instance, Search
from optimizer.several.model import Wish, allowance_mm
from optimizer.several.pool import enlarged, pool, pose_grids
from optimizer.several.selection import Selection
from optimizer.several.shared_work import MANY, share_of
from optimizer.several.worth import Worth
from optimizer.solid import as_solid

pytestmark = pytest.mark.usefixtures("small_quick")

SHOP = Workshop()
APART = 2.0 * allowance_mm(SHOP)
SKIN = 0.25
EDGE = 5.0


def found_in(rough, wishes, watch=QUIET):
    instance = Instance(Ground.of(rough.mesh), wishes, Worth(), rough.material.sg, SHOP)
    search = Search(with_flats(rough), instance, 9, "quick", 0, watch)
    return pool(search, pose_grids(search)).candidates


def chosen_of(found, wishes, most):
    choice = Selection.of(found, wishes, APART, most=most).best()
    return [found[i] for i in choice.chosen]


def cubes(least=0, most=9):
    """Cubes of one fixed size."""
    want = Want(body_of(shapes.box((1.0, 1.0, 1.0))), (EDGE, EDGE), SKIN)
    offer = Offer(six_sided_design(), {}, want)
    return (Wish("cubes", Order(), (offer,), least=least, most=most),)


@pytest.mark.parametrize("count", [1, 4])
@pytest.mark.parametrize("longer", [True, False])
def test_a_bar_holds_as_many_cubes_as_its_length_says(count, longer):
    """By a thousandth longer than ``count`` cubes with their allowances, it holds them; by as much
    shorter, one less."""
    side = EDGE + 2.0 * SKIN + 0.01
    length = (count * EDGE + (count - 1) * APART + 2.0 * SKIN) * (1.001 if longer else 0.999)
    rough, wishes = rough_of(shapes.box((length, side, side))), cubes()
    assert len(chosen_of(found_in(rough, wishes), wishes, 9)) == (count if longer else count - 1)


def test_a_slab_holds_its_square_of_cubes():
    side = 2.0 * EDGE + APART + 2.0 * SKIN + 0.02
    rough, wishes = rough_of(shapes.box((side, side, EDGE + 2.0 * SKIN + 0.01))), cubes()
    assert len(chosen_of(found_in(rough, wishes), wishes, 9)) == 4


def test_a_pair_is_among_the_candidates_though_no_two_climbs_end_alike():
    rough = rough_of(shapes.pebble(3, subdivisions=2))
    ovals = tuple(replace(o, freedom=None) for o in offers(rough, Order(designs=("oval",)))[0])
    wishes = (Wish("pair", Order(), ovals, least=2, most=2, pair_mm=0.02),)
    first, second = (one.stone.placement for one in chosen_of(found_in(rough, wishes), wishes, 2))
    assert abs(first.pose.width - second.pose.width) <= 0.02
    solid = as_solid(rough.mesh)
    stones = [as_solid(one.mesh()) for one in (first, second)]
    assert all((stone - solid).volume() == 0.0 for stone in stones)
    assert stones[0].min_gap(stones[1], 2.0 * APART) >= APART - 1e-6


@cache
def of_pebble():
    rough = rough_of(shapes.pebble(3, subdivisions=2))
    allowed, _ = offers(rough, Order(designs=("oval", "round-brilliant")))
    small, _ = offers(rough, Order(designs=("oval",), size=SizeDemand(width_mm=(4.0, 4.0))))
    wishes = (
        Wish("any", Order(), allowed, least=0, most=4),
        Wish("calibrated", Order(), small, least=1, most=2),
    )
    return rough, wishes, found_in(rough, wishes)


def test_every_candidate_lies_in_the_rough_as_asked():
    rough, wishes, found = of_pebble()
    solid = as_solid(rough.mesh)
    assert {one.stone.wish for one in found} == {0, 1}
    assert len(found) > 10
    for one in found:
        placement = one.stone.placement
        low, high = one.stone.offer.want.width_mm
        stone = as_solid(placement.mesh())
        assert (stone - solid).volume() == 0.0
        assert placement.clearance_mm >= one.stone.offer.want.skin_mm - 1e-6
        assert low <= placement.pose.width <= high
        assert one.stone.offer in wishes[one.stone.wish].offers
        assert one.worth == pytest.approx(stone.volume() * 2.65 / 200.0, rel=1e-9)
    assert [one.worth for one in found] == sorted((one.worth for one in found), reverse=True)


def test_several_stones_are_worth_more_than_the_best_alone():
    _, wishes, found = of_pebble()
    wishes = (wishes[0], replace(wishes[1], least=0))
    chosen = chosen_of(found, wishes, 4)
    assert sum(one.worth for one in chosen) > found[0].worth
    assert len(chosen) > 1


def test_the_same_candidates_whatever_the_number_of_workers(monkeypatch):
    rough, wishes, found = of_pebble()
    monkeypatch.setenv("KERFWISE_WORKERS", "3")
    again = found_in(rough, wishes)
    assert len(again) == len(found)
    for one, other in zip(found, again, strict=True):
        assert one.worth == other.worth
        np.testing.assert_array_equal(
            one.stone.placement.pose.translation, other.stone.placement.pose.translation
        )


def test_a_stop_leaves_what_was_found_and_a_candidate_is_added_only_once():
    rough, wishes, found = of_pebble()
    assert found_in(rough, wishes, Watch(stop=lambda: True)) == ()
    assert enlarged(found[3:], found) == found


def test_the_work_of_trial_cuts_and_of_placing_stones_is_limited(monkeypatch):
    """With next to no work the whole rough alone is cut, and the best stones are placed."""
    rough, wishes, found = of_pebble()
    from optimizer.several import pool as module
    from optimizer.several import trial_cuts

    cut = []
    across = trial_cuts.CutJudge.cuts

    def cuts(judge, piece):
        if id(piece) not in judge.known:
            cut.append(len(piece.walls))
        return across(judge, piece)

    monkeypatch.setattr(trial_cuts.CutJudge, "cuts", cuts)
    small = replace(module.BUDGETS["quick"], trials=1.0, placed=3)
    monkeypatch.setitem(module.BUDGETS, "quick", small)
    few = found_in(rough, wishes)
    assert set(cut) == {0}  # for all designs together, and for each by itself
    assert 0 < len(few) < len(found)


def test_of_very_many_offers_only_the_first_get_initial_shapes(monkeypatch):
    rough = rough_of(shapes.box((9.0, 9.0, 9.0)))
    ovals, _ = offers(rough, Order(designs=("oval",)))
    wishes = tuple(Wish(str(k), Order(), ovals * 5, least=0, most=1) for k in range(8))
    shaped = []
    monkeypatch.setattr(initial_shapes, "place_offer", lambda _, offer, *__: shaped.append(offer))
    assert initial_shapes.with_initial_shapes(None, wishes, 0, QUIET) == wishes
    assert len(shaped) == MANY


def test_very_many_offers_share_the_work_of_a_few():
    shares = [share_of(600, count, 50) for count in (1, MANY, 2 * MANY, 10_000)]
    assert shares == [600, 600, 300, 50]
