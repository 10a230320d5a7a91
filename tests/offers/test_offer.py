"""A design as an order asks for it: its widths, its boundary, and the relaxations of the order."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of
from hypothesis import given
from hypothesis import strategies as st

from optimizer.design import build_body, designs_to_choose_from, load_design
from optimizer.errors import InputError
from optimizer.mesh import Plane
from optimizer.offers import offer as offer_room
from optimizer.offers.offer import boundary_of, least_width, offers, width_range, width_window
from optimizer.offers.relaxations import relaxations
from optimizer.order import DirectionDemand, Order, SizeDemand, Workshop, ZoneDemand
from optimizer.rough.model import Colour, Zone

SG = 2.65
OVAL = load_design("oval")
BODY = build_body(OVAL, least_girdle_mm=0.2)
LEAST = least_width(BODY)
SPLIT = Zone(
    "split",
    Plane(np.array([0.0, 0.6, 0.8]), 1.5),
    towards=Colour("violet", "#8a5cc2"),
    away=Colour("yellow", "#e8b83a"),
)


@pytest.fixture
def rough():
    return rough_of(shapes.box((20.0, 14.0, 12.0)), (SPLIT,))


# --- sizes --------------------------------------------------------------------------------------


def test_without_a_size_every_width_is_allowed():
    assert width_window(OVAL, BODY, SizeDemand(), SG) == (LEAST, np.inf)


def test_a_stone_too_small_to_cut_is_refused():
    with pytest.raises(InputError, match=r"at most 0\.05 mm for oval; no stone under 0\.1 mm"):
        width_window(OVAL, BODY, SizeDemand(width_mm=(0.01, 0.05)), SG)


def test_a_weight_too_small_to_cut_is_told_as_ordered():
    sizes = SizeDemand(width_mm=(0.01, 5.0), carat=(1e-9, 1e-9))
    told = r"\[size\] asks for carat = 0\.000000001 at most, so for a width of at most 0\.000"
    with pytest.raises(InputError, match=told):
        width_window(OVAL, BODY, sizes, SG)


def test_a_length_counts_by_the_designs_proportion():
    low, high = width_window(OVAL, BODY, SizeDemand(length_mm=(6.5, 13.0)), SG)
    assert (BODY.length_at(low), BODY.length_at(high)) == pytest.approx((6.5, 13.0), rel=1e-12)


@given(st.floats(1e-2, 1e3), st.floats(1.0, 10.0))
def test_a_weight_counts_by_the_volume_at_that_width(least_ct, times):
    low, high = width_window(OVAL, BODY, SizeDemand(carat=(least_ct, least_ct * times)), SG)
    weights = [BODY.volume_at(width) * SG / 200.0 for width in (low, high)]
    assert weights == pytest.approx([least_ct, least_ct * times], rel=1e-9)


def test_no_least_weight_is_no_least_width():
    assert width_window(OVAL, BODY, SizeDemand(carat=(0.0, 1.0)), SG)[0] == LEAST


@given(
    *[st.none() | st.tuples(st.floats(1, 9), st.floats(0, 9)).map(lambda e: (e[0], e[0] + e[1]))]
    * 3
)
def test_a_width_in_the_window_meets_every_size_and_one_outside_breaks_one(width, length, carat):
    size = SizeDemand(width, length, carat)
    try:
        low, high = width_window(OVAL, BODY, size, SG)
    except InputError:
        assert not _met(size, np.linspace(0.01, 30.0, 400)).any()
        return
    inside = np.array([low, high]) if np.isfinite(high) else np.array([max(low, 0.1), low + 1.0])
    assert _met(size, inside, slack=1e-7).all()
    outside = np.array([low * (1 - 1e-4), high * (1 + 1e-4)])
    assert not _met(size, outside[np.isfinite(outside) & (outside > LEAST)]).any()


def _met(size: SizeDemand, widths, slack: float = 0.0):
    """Each width against each demand, straight from the body's own figures."""
    figures = {
        "width_mm": widths,
        "length_mm": np.array([BODY.length_at(w) for w in widths]),
        "carat": np.array([BODY.volume_at(w) * SG / 200.0 for w in widths]),
    }
    met = np.full(len(widths), True)
    for key, value in figures.items():
        ends = getattr(size, key)
        if ends is not None:
            met &= (value >= ends[0] * (1 - slack)) & (value <= ends[1] * (1 + slack))
    return met


def test_sizes_that_contradict_each_other_are_refused():
    size = SizeDemand(width_mm=(5.0, 5.0), length_mm=(5.0, 5.0))
    with pytest.raises(
        InputError, match=r"contradicts itself for oval, .*at least 5 mm and at most"
    ):
        width_window(OVAL, BODY, size, SG)


def test_one_size_stated_twice_is_no_contradiction():
    width = 7.123456789
    size = SizeDemand((width, width), (BODY.length_at(width),) * 2)
    low, high = width_window(OVAL, BODY, size, SG)
    assert low == high == pytest.approx(width, rel=1e-8)


# --- offers -------------------------------------------------------------------------------------


def test_a_width_and_a_length_set_the_proportion(rough):
    size = SizeDemand(width_mm=(5.0, 5.0), length_mm=(7.0, 7.0))
    ((offer,), _) = offers(rough, Order(designs=("oval",), size=size))
    assert offer.parameters["length_to_width"] == pytest.approx(1.4)
    assert offer.want.width_mm == pytest.approx((5.0, 5.0))
    assert offer.want.body.length_at(5.0) == pytest.approx(7.0, rel=1e-9)


def test_the_designs_own_proportion_stays_where_it_meets_both(rough):
    size = SizeDemand(width_mm=(5.0, 6.0), length_mm=(6.0, 8.0))
    ((offer,), _) = offers(rough, Order(designs=("oval",), size=size))
    assert offer.parameters["length_to_width"] == OVAL.parameters["length_to_width"].default


def test_an_ordered_proportion_is_not_changed_to_meet_the_sizes(rough):
    size = SizeDemand(width_mm=(5.0, 5.0), length_mm=(7.0, 7.0))
    order = Order(designs=("oval",), size=size, parameters={"length_to_width": 1.3})
    with pytest.raises(InputError, match="contradicts itself"):
        offers(rough, order)


def test_the_skin_is_scan_error_plus_clean_up(rough):
    workshop = Workshop(clean_up_mm=0.4)
    ((offer,), _) = offers(rough, Order(designs=("oval",), workshop=workshop))
    assert offer.want.skin_mm == pytest.approx(rough.scan_error_mm + 0.4)


def test_the_girdle_stated_is_the_thicker_of_the_designs_and_the_orders(rough):
    ((thin,), _) = offers(rough, Order(designs=("oval",), least_girdle_percent=0.0))
    assert thin.parameters["girdle"] == OVAL.parameters["girdle"].default
    ((thick,), _) = offers(rough, Order(designs=("oval",), least_girdle_percent=7.0))
    assert thick.parameters["girdle"] == pytest.approx(0.07)
    assert thick.want.body.girdle_at(100.0) == pytest.approx(7.0)
    with pytest.raises(InputError, match=r"oval: girdle is 0\.25; it must lie between"):
        offers(rough, Order(designs=("oval",), least_girdle_percent=25.0))


def test_a_library_design_that_cannot_meet_the_order_is_left_out_and_named(rough):
    allowed, left_out = offers(rough, Order(parameters={"length_to_width": 1.5}))
    names = {offer.design.name for offer in allowed}
    assert "oval" in names
    assert "round-brilliant" not in names
    assert len(allowed) + len(left_out) == len(offer_room.designs_to_choose_from())
    assert any("round-brilliant" in text for text in left_out)
    assert offers(rough, Order())[1] == ()


def test_an_order_without_a_design_may_have_any_that_is_to_be_chosen_from(rough, monkeypatch):
    monkeypatch.setattr(offer_room, "designs_to_choose_from", designs_to_choose_from)
    allowed, left_out = offers(rough, Order())
    assert tuple(offer.design.name for offer in allowed) == designs_to_choose_from()
    assert left_out == ()


def test_the_one_design_that_the_order_names_must_be_able_to_meet_it(rough):
    order = Order(designs=("round-brilliant",), parameters={"length_to_width": 1.5})
    with pytest.raises(InputError, match="round-brilliant: length_to_width"):
        offers(rough, order)


def test_of_several_named_designs_those_that_cannot_meet_the_order_are_left_out(rough):
    order = Order(designs=("oval", "round-brilliant"), parameters={"length_to_width": 1.5})
    made, (left_out,) = offers(rough, order)
    assert [offer.design.name for offer in made] == ["oval"]
    assert left_out.startswith("left out: round-brilliant: length_to_width")
    round_ones = replace(order, designs=("round-brilliant", "round-step"))
    with pytest.raises(InputError, match="no design that the order names can meet the order; for"):
        offers(rough, round_ones)


def test_an_order_that_no_design_can_meet_is_an_error(rough):
    with pytest.raises(InputError, match="no design of the library can meet the order; for one, "):
        offers(rough, Order(parameters={"length_to_width": 99.0}))


def test_a_parameter_that_no_design_has_is_named_as_such(rough):
    said = 'no design of the library has a parameter "lenght_to_width"; did you mean "length_to_'
    with pytest.raises(InputError, match=f"^{said}"):
        offers(rough, Order(parameters={"lenght_to_width": 1.5, "crown": 36.0}))


# --- the boundary -------------------------------------------------------------------------------


def test_the_boundarys_normal_points_to_the_colour_ordered(rough):
    towards = boundary_of(rough, Order(zone=ZoneDemand("split", "violet", offset=(0, 0))))
    np.testing.assert_array_equal(towards.normal, SPLIT.plane.normal)
    away = boundary_of(rough, Order(zone=ZoneDemand("split", "yellow", offset=(0, 0))))
    np.testing.assert_array_equal(away.normal, -SPLIT.plane.normal)
    assert (towards.offset, away.offset) == (1.5, -1.5)
    assert boundary_of(rough, Order()) is None


@pytest.mark.parametrize(
    ("zone", "colour", "said"),
    [
        (
            "splt",
            "violet",
            r'zone "splt", which by-hand\.ply has not .*; did you mean "split"\?',
        ),
        ("split", "violte", r'no colour "violte"; did you mean "violet"\?'),
        ("split", "green", r"known: violet, yellow"),
    ],
)
def test_an_unknown_zone_or_colour_is_refused(zone, colour, said, rough):
    with pytest.raises(InputError, match=said):
        boundary_of(rough, Order(zone=ZoneDemand(zone, colour, offset=(0, 0))))


def test_a_rough_without_zones_says_so():
    with pytest.raises(InputError, match="none is defined"):
        boundary_of(rough_of(shapes.box()), Order(zone=ZoneDemand("a", "b", offset=(0, 0))))


# --- relaxations ----------------------------------------------------------------------------------

FULL = Order(
    designs=("oval",),
    parameters={"crown": 35.0},
    size=SizeDemand((5.0, 6.0), (7.0, 7.0), (1.0, 2.0)),
    least_girdle_mm=0.3,
    least_girdle_percent=4.0,
    zone=ZoneDemand("split", "violet", None, (40, 60), (-0.1, 0.1), (-9, 9), (-8, 8)),
    direction=DirectionDemand("growth axis", (70, 90), 5),
)


def test_each_demand_is_left_out_once_and_alone():
    loosened = relaxations(FULL)
    sentences = [one.sentence for one in loosened]
    assert len(set(sentences)) == len(sentences) == 13
    wanted = [
        replace(FULL, size=replace(FULL.size, width_mm=(0.0, 6.0))),
        replace(FULL, size=replace(FULL.size, length_mm=(0.0, 7.0))),
        replace(FULL, size=replace(FULL.size, carat=(0.0, 2.0))),
        *(
            replace(FULL, zone=replace(FULL.zone, **{key: None}))
            for key in ("share_percent", "offset", "tilt_deg", "azimuth_deg")
        ),
        replace(FULL, direction=DirectionDemand("growth axis", None, 5)),
        replace(FULL, direction=DirectionDemand("growth axis", (70, 90), None)),
        replace(FULL, least_girdle_mm=0.0),
        replace(FULL, least_girdle_percent=Order.least_girdle_percent),
        replace(FULL, parameters={}),
        replace(FULL, designs=(), parameters={}),
    ]
    assert [one.order for one in loosened] == wanted


def test_the_sentences_say_what_was_asked():
    said = " | ".join(one.sentence for one in relaxations(FULL))
    for part in (
        "at least 5 mm wide", "exactly 7 mm long", "at least 1 ct", "40 to 60 % violet",
        "tilt −9 to 9°", "azimuth −8 to 8°", "the growth axis: 70 to 90° to the table",
        "no facet within 5° of a cleavage plane", "at least 0.3 mm", "at least 4 % of the width",
        "crown 35", "the design: oval",
    ):  # fmt: skip
        assert part in said


def test_demands_that_cannot_rule_a_stone_out_are_kept():
    """Greatest sizes, and a girdle no thicker than the default."""
    order = Order(size=SizeDemand(width_mm=(0.0, 6.0)), least_girdle_mm=0.0)
    assert relaxations(order) == []


def test_a_boundary_kept_clear_is_named():
    order = Order(least_girdle_mm=0.0, zone=ZoneDemand("split", "violet", keep_clear_mm=0.5))
    ((sentence, loose, _),) = relaxations(order)
    assert sentence == 'the boundary "split" not crossed, 0.5 mm clear'
    assert loose.zone.keep_clear_mm is None


def test_the_users_own_design_file_is_named_without_its_path():
    said = " ".join(one.sentence for one in relaxations(Order(designs=("/home/me/step.toml",))))
    assert "the design: step" in said
    assert "/home" not in said


def test_a_width_and_a_length_that_agree_give_one_size():
    """A width and a length that agree but for rounding are equal ends, whichever is the less."""
    ratio = BODY.length_at(1.0)
    for width in (3.0, 4.0, 7.0, 11.0):
        size = SizeDemand(width_mm=(width, width), length_mm=(width * ratio, width * ratio))
        low, high = width_range(BODY, size, SG)
        assert low <= high <= low * (1.0 + 1e-8)


# --- girdles ------------------------------------------------------------------------------------


def test_a_girdle_thicker_than_three_tenths_of_the_width_is_refused_before_the_search(rough):
    asked = Order(("oval",), size=SizeDemand(width_mm=(2.0, 3.0)), least_girdle_mm=5.0)
    with pytest.raises(InputError, match=r"be 5 mm thick at least .* oval at most 3 mm wide"):
        offers(rough, asked)
    ((offer,), _) = offers(rough, replace(asked, least_girdle_mm=0.9))
    assert offer.want.width_mm == (3.0, 3.0)
    ((free,), _) = offers(rough, replace(asked, size=SizeDemand()))
    assert free.want.width_mm[0] == pytest.approx(5.0 / 0.3)
