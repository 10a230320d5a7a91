"""Which stones make a pair, against the report's own view of a boundary."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from optimizer.mesh import Plane
from optimizer.offers.offer import Offer, offers
from optimizer.order import Order, Workshop
from optimizer.order.demands import ZoneDemand
from optimizer.order.several import LookTolerance
from optimizer.placement.model import Placement, Pose
from optimizer.placement.search import Watch
from optimizer.placement.zone_view import view_zone
from optimizer.rough.model import Colour, Zone
from optimizer.several.chosen import separable_sets
from optimizer.several.cut_tree import CutTree
from optimizer.several.incumbents import without_unpaired
from optimizer.several.instance import Search
from optimizer.several.model import Candidate, Division, PlacedStone, Wish
from optimizer.several.pairs import alike, is_pair, unpaired
from optimizer.several.selection import Selection
from optimizer.several.worth import Worth

PLANE = Plane(np.array([0.6, 0.0, 0.8]), 0.3)
ZONE = Zone("split", PLANE, Colour("violet", "#8a5cc2"), Colour("yellow", "#e8b83a"))
ROUGH = replace(rough_of(shapes.box()), zones=(ZONE,))
WITHIN = LookTolerance(tilt_deg=2.0, azimuth_deg=3.0, offset=0.02, mirrored=False)
EITHER = replace(WITHIN, mirrored=True)


def offer_of(design: str, **said: object) -> Offer:
    demand = ZoneDemand("split", "violet", tilt_deg=(-90.0, 90.0))
    (offer,), _ = offers(ROUGH, Order(designs=(design,), **{"zone": demand, **said}))
    return replace(offer, freedom=None)


OVAL, PEAR = offer_of("oval"), offer_of("pear")


def showing(
    offer: Offer, tilt: float, azimuth: float, offset: float, width: float = 6.0
) -> PlacedStone:
    """A stone with the boundary at a tilt, azimuth and offset."""
    lean, turn = np.radians([tilt, azimuth])
    normal = np.array([np.cos(lean) * np.cos(turn), np.cos(lean) * np.sin(turn), np.sin(lean)])
    rotation, _ = Rotation.align_vectors(PLANE.normal[None], normal[None])
    reach = offer.want.body.vertices_at(width) @ normal
    level = (reach.max() + reach.min()) / 2.0 + offset * np.ptp(reach) / 2.0
    translation = (PLANE.offset - level) * PLANE.normal + np.cross(PLANE.normal, [1.0, 2.0, 3.0])
    pose = Pose(width, rotation.as_matrix(), translation)
    return PlacedStone(0, offer, Placement(offer.want.body, pose, 1.0))


def test_the_stones_of_these_tests_show_the_boundary_as_asked():
    view = view_zone(ZONE, "violet", showing(PEAR, 12.0, -70.0, 0.25).placement)
    assert (view.tilt_deg, view.azimuth_deg, view.offset) == pytest.approx((12.0, -70.0, 0.25))


@pytest.mark.parametrize(
    ("other", "is_alike"),
    [
        ((10.0, 20.0, 0.1), True),
        ((11.9, 20.0, 0.1), True),
        ((12.1, 20.0, 0.1), False),
        ((10.0, 22.9, 0.1), True),
        ((10.0, 23.1, 0.1), False),
        ((10.0, 20.0, 0.119), True),
        ((10.0, 20.0, 0.121), False),
        ((-10.0, 20.0, 0.1), False),
        ((10.0, 200.0, 0.1), False),
    ],
)
def test_tilt_azimuth_and_offset_agree_each_within_its_own_tolerance(other, is_alike):
    assert alike(showing(PEAR, 10.0, 20.0, 0.1), showing(PEAR, *other), WITHIN) is is_alike


def test_azimuths_wrap_around():
    assert alike(showing(PEAR, 0.0, 179.0, 0.0), showing(PEAR, 0.0, -179.0, 0.0), WITHIN)


def test_an_oval_turned_by_half_a_turn_is_alike_and_a_pear_is_not():
    assert alike(showing(OVAL, 10.0, 20.0, 0.1), showing(OVAL, 10.0, -160.0, 0.1), WITHIN)
    assert not alike(showing(PEAR, 10.0, 20.0, 0.1), showing(PEAR, 10.0, -160.0, 0.1), WITHIN)


def test_left_and_right_hand_only_where_they_are_allowed():
    for offer, hands in ((PEAR, [-20.0]), (OVAL, [-20.0, 160.0])):
        for azimuth in hands:
            two = showing(offer, 10.0, 20.0, 0.1), showing(offer, 10.0, azimuth, 0.1)
            assert alike(*two, EITHER)
            assert not alike(*two, WITHIN)


def test_upright_boundaries_have_no_azimuth_to_compare():
    assert alike(showing(PEAR, 89.5, 20.0, 0.1), showing(PEAR, 89.5, 100.0, 0.1), WITHIN)
    assert not alike(showing(PEAR, 85.0, 20.0, 0.1), showing(PEAR, 85.0, 100.0, 0.1), WITHIN)


def test_where_the_boundary_crosses_neither_stone_only_the_colour_counts():
    assert alike(showing(PEAR, 10.0, 20.0, 1.3), showing(PEAR, -40.0, 90.0, 2.0), WITHIN)
    assert not alike(showing(PEAR, 10.0, 20.0, 1.3), showing(PEAR, 10.0, 20.0, -1.3), WITHIN)


def test_stones_of_different_shapes_are_not_alike():
    steep = offer_of("pear", parameters={"crown": 37.0})
    here = (10.0, 20.0, 0.1)
    assert not alike(showing(PEAR, *here), showing(steep, *here), WITHIN)
    assert not alike(showing(PEAR, *here), showing(OVAL, *here), WITHIN)
    assert alike(
        showing(PEAR, *here, 6.0), showing(PEAR, *here, 9.0), WITHIN
    )  # widths aren't looked at


def test_without_a_boundary_the_same_shape_is_enough():
    plain = offer_of("pear", zone=None)
    assert alike(showing(plain, 10.0, 20.0, 0.1), showing(plain, -50.0, 90.0, 0.9), WITHIN)


@given(
    tilts=st.tuples(st.floats(-80, 80), st.floats(-4, 4)),
    azimuths=st.tuples(st.floats(-180, 180), st.floats(-6, 6)),
    offsets=st.tuples(st.floats(-0.9, 0.9), st.floats(-0.04, 0.04)),
    offer=st.sampled_from([OVAL, PEAR]),
)
def test_alike_is_symmetric(tilts, azimuths, offsets, offer):
    one = showing(offer, tilts[0], azimuths[0], offsets[0])
    other = showing(offer, sum(tilts), sum(azimuths), sum(offsets))
    assert alike(one, one, WITHIN)
    for within in (WITHIN, EITHER):
        assert alike(one, other, within) == alike(other, one, within)
    if alike(one, other, WITHIN):
        assert alike(one, other, EITHER)


def wish(pair_mm: float | None = 0.1) -> Wish:
    return Wish("pairs", Order(), (PEAR,), 0, 8, pair_mm=pair_mm, alike=WITHIN)


def pears(*told: tuple[float, float]) -> list[PlacedStone]:
    """Stones of these widths, the boundary at these azimuths."""
    return [showing(PEAR, 10.0, azimuth, 0.1, width) for width, azimuth in told]


def test_the_widths_of_a_pair_agree_within_the_tolerance_of_the_wish():
    one, near, far = pears((6.0, 20.0), (6.09, 20.0), (6.11, 20.0))
    assert is_pair(one, near, [wish()])
    assert not is_pair(one, far, [wish()])
    assert not is_pair(one, near, [wish(None)])
    assert not is_pair(one, replace(near, wish=1), [wish(), wish()])


@pytest.mark.parametrize(
    ("stones", "odd"),
    [
        (pears(), ()),
        (pears((6.0, 0.0)), (0,)),
        (pears((6.0, 0.0), (6.05, 1.0)), ()),
        (pears((6.0, 0.0), (6.05, 0.0), (5.95, 0.0), (6.12, 0.0)), ()),
        (pears((6.4, 0.0), (6.05, 0.0), (6.2, 0.0), (6.0, 0.0)), (0, 2)),
        (pears((6.0, 0.0), (6.0, 90.0), (6.0, 1.0), (6.0, 91.0)), ()),
        (pears((6.0, 0.0), (6.0, 90.0), (6.0, 180.0), (6.0, 1.0)), (1, 2)),
        (pears((6.0, 0.0), (6.05, 0.0), (6.09, 0.0)), (2,)),
    ],
)
def test_stones_without_a_partner(stones, odd):
    assert unpaired(stones, [wish()]) == odd
    assert unpaired(stones, [wish(None)]) == ()


def test_a_division_keeps_only_its_pairs():
    cut = Plane(np.array([1.0, 0.0, 0.0]), 0.0)
    stones = pears((6.0, 0.0), (7.0, 0.0), (6.05, 0.0))
    cut_tree = CutTree(cut, CutTree(cut, 0, 1), 2)
    instance = SimpleNamespace(wishes=[wish()])
    kept = without_unpaired(instance, Division(tuple(stones), cut_tree))
    assert kept == Division((stones[0], stones[2]), CutTree(cut, 0, 1))
    assert without_unpaired(instance, kept) is kept
    assert without_unpaired(instance, Division(tuple(stones[:2]), CutTree(cut, 0, 1))) is None
    assert without_unpaired(SimpleNamespace(wishes=[wish(None)]), kept) is kept


def test_where_no_two_candidates_make_a_pair_nothing_is_chosen():
    instance = SimpleNamespace(wishes=(wish(),), workshop=Workshop(), worth=Worth())
    pool = tuple(Candidate(showing, 1.0) for showing in pears((6.0, 0.0), (7.0, 0.0)))
    search = Search(ROUGH, instance, 8, "quick", 0, Watch())
    for found in (pool, ()):
        selection = Selection.of(found, instance.wishes, 1.0, most=8)
        assert not list(separable_sets(search, selection, (), rounds=1, locked=4, work=1.0))
