"""Free parameters through the whole plan: their ranges, and that the heaviest choice is made."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of

from optimizer import make_plan
from optimizer.audit.demands import choice_is_met
from optimizer.design import build_body, load_design
from optimizer.errors import AuditError, InputError
from optimizer.offers.freedom import free_parameters
from optimizer.offers.heaviest import heaviest
from optimizer.offers.offer import offers
from optimizer.offers.placement_cache import PlacementCache
from optimizer.offers.volume_bound import volume_bound
from optimizer.optics.angles import ClearLight
from optimizer.order import Order, SizeDemand, Workshop
from optimizer.order.file import load_order
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.report import summary
from optimizer.report.document import plan_file
from optimizer.report.words import chosen_line
from optimizer.trade.materials import load_material

pytestmark = pytest.mark.usefixtures("small_quick")

BARE = Workshop(clean_up_mm=0.0, most_cuts=0)
OVAL, ROUND = load_design("oval"), load_design("round-brilliant")
QUICK = {"effort": "quick"}


def order(design="round-brilliant", **asked):
    return Order(**{"designs": (design,), "workshop": BARE, "least_girdle_mm": 0.0, **asked})


def ranges(design, asked, material="quartz"):
    free = free_parameters(design, asked, load_material(material))
    return {f.name: (f.low, f.usual, f.high) for f in free}


# --- ranges -------------------------------------------------------------------------------------


def test_only_the_main_angles_are_free_by_a_degree_about_the_usual():
    assert ranges(OVAL, Order()) == {"crown": (35.0, 36.0, 37.0), "pavilion": (41.5, 42.5, 43.5)}
    assert ranges(OVAL, Order(), "corundum")["pavilion"] == (40.0, 41.0, 42.0)
    # no usual mains known: the design's own, in whole tenths inside the degree
    assert ranges(ROUND, Order(), "fluorite")["pavilion"] == (39.8, 40.75, 41.7)
    # outside the design's range the species' mains say nothing
    assert ranges(load_design("triangle-step"), Order())["pavilion"] == (53.0, 54.0, 55.0)
    # the bevel around a flat base is no main
    assert ranges(load_design("round-rose"), Order())["pavilion"] == (39.0, 40.0, 41.0)


def test_parameters_in_the_order_are_fixed_or_free_as_stated():
    asked = Order(parameters={"crown": 34.0, "pavilion": (40.0, 44.0), "table": (0.5, 0.6)})
    assert ranges(OVAL, asked) == {"pavilion": (40.0, 42.0, 44.0), "table": (0.5, 0.55, 0.6)}


def test_a_girdle_is_free_from_the_least_that_is_ordered():
    asked = Order(parameters={"girdle": (0.01, 0.06)}, least_girdle_percent=3.0)
    assert ranges(OVAL, asked)["girdle"] == (0.03, OVAL.parameters["girdle"].default, 0.06)


def test_the_usual_value_stays_as_it_is_outside_the_range():
    """A fixed size narrows a proportion; the search begins at the end nearest to the usual."""
    size = SizeDemand(width_mm=(5.0, 5.0), length_mm=(7.5, 7.75))
    asked = order("oval", size=size, parameters={"crown": 36.0, "length_to_width": (1.2, 1.6)})
    asked = replace(asked, parameters={**asked.parameters, "pavilion": 42.0})
    ((offer,), _) = offers(rough_of(shapes.box()), asked)
    (free,) = offer.freedom.family.free
    default = OVAL.parameters["length_to_width"].default
    assert (free.low, free.high, free.usual) == (1.5, 1.55, default)
    assert default < 1.5
    assert offer.parameters["length_to_width"] == free.start == 1.5


@pytest.mark.parametrize(
    ("parameters", "said"),
    [
        ({"crown": (20.0, 36.0)}, "crown of 20 to 36 leaves .* between 30 and 42"),
        ({"table": (0.5, 0.9)}, "table of 0.5 to 0.9 leaves .* between 0.45 and 0.65"),
        ({"crwn": (30.0, 36.0)}, 'no parameter "crwn"; did you mean "crown"'),
    ],
)
def test_a_range_outside_the_designs_is_refused(parameters, said):
    rough = rough_of(shapes.box())
    with pytest.raises(InputError, match=said):
        offers(rough, order("oval", parameters=parameters))


def test_the_order_file_takes_numbers_and_ranges(tmp_path):
    path = tmp_path / "order.toml"
    path.write_text("[parameters]\ncrown = 35\npavilion = [41, 43]\ntable = [0.5, 0.5]\n")
    assert load_order(path).parameters == {"crown": 35.0, "pavilion": (41.0, 43.0), "table": 0.5}
    path.write_text("[parameters]\ncrown = [37, 35]\n")
    with pytest.raises(InputError, match=r"crown.*runs backwards: 37 to 35"):
        load_order(path)
    path.write_text("[parameters]\ncrown = [35, 36, 37]\n")
    with pytest.raises(InputError, match=r"crown.*must be a number or \[least, greatest\]"):
        load_order(path)


def test_a_width_and_a_length_narrow_a_free_proportion():
    rough = rough_of(shapes.box((20.0, 14.0, 12.0)))
    asked = order(
        "oval", parameters={"length_to_width": (1.2, 1.6)},
        size=SizeDemand(width_mm=(6.0, 6.0), length_mm=(8.4, 9.0)),
    )  # fmt: skip
    ((offer,), _) = offers(rough, asked)
    free = {f.name: (f.low, f.high) for f in offer.freedom.family.free}
    assert free["length_to_width"] == pytest.approx((1.4, 1.5))


def test_a_width_and_a_length_free_the_proportion():
    shape = OVAL.parameters["length_to_width"]
    asked = order("oval", size=SizeDemand(width_mm=(6.0, 7.5), length_mm=(9.0, 12.0)))
    assert ranges(OVAL, asked)["length_to_width"] == (1.2, shape.default, shape.high)
    held = replace(asked, parameters={"length_to_width": 1.4})
    assert "length_to_width" not in ranges(OVAL, held)


def test_a_width_alone_or_two_fixed_sizes_hold_the_proportion():
    assert "length_to_width" not in ranges(OVAL, order(size=SizeDemand(width_mm=(6.0, 8.0))))
    fixed = SizeDemand(width_mm=(6.0, 6.0), length_mm=(9.0, 9.0))
    ((offer,), _) = offers(rough_of(shapes.box()), order("oval", size=fixed))
    assert offer.parameters["length_to_width"] == 1.5
    assert "length_to_width" not in {f.name for f in offer.freedom.family.free}


def test_a_size_that_no_proportion_meets_is_refused():
    size = SizeDemand(width_mm=(5.0, 6.0), length_mm=(20.0, 21.0))
    with pytest.raises(InputError, match="contradicts itself for oval"):
        offers(rough_of(shapes.box()), order("oval", size=size))


# --- what is chosen -----------------------------------------------------------------------------


TURNED = np.cos(np.pi / 16.0)  # what a girdle of 16 sides needs of a square, once flats face it


def upright_ct(rough, depth_mm, parameters):
    """A round brilliant standing upright in a box of 10 mm, as large as its sides or its depth
    let it, with its girdle's flats to the sides."""
    body = build_body(ROUND, parameters, least_girdle_share=0.02)
    width = min(10.0 / TURNED, (depth_mm - 0.1) / body.depth_at(1.0))
    return body.volume_at(width) * rough.material.sg / 200.0


@pytest.fixture(scope="module")
def deep():
    """A box as deep as a brilliant of 42.17° is at its full width."""
    body = build_body(ROUND, {"crown": 34.5, "pavilion": 42.17}, least_girdle_share=0.02)
    return rough_of(shapes.box((10.1, 10.1, body.depth_at(10.0 / TURNED) + 0.1)))


def test_the_best_pavilion_fills_depth_and_width_at_once(deep):
    """Steeper loses width to the depth, flatter leaves depth unused: both bind at 42.17°, and the
    better setting beside it is chosen."""
    asked = order(parameters={"crown": 34.5, "pavilion": (41.0, 44.0)})
    (stone,) = make_plan(deep, asked, **QUICK).stones
    depth = float(np.ptp(deep.mesh.vertices[:, 2]))
    grid = np.round(np.arange(41.0, 44.01, 0.1), 1)
    weights = [upright_ct(deep, depth, {"crown": 34.5, "pavilion": p}) for p in grid]
    assert stone.parameters["pavilion"] == pytest.approx(grid[int(np.argmax(weights))])
    assert stone.carat == pytest.approx(max(weights), rel=1e-6)
    assert stone.usual_carat == pytest.approx(weights[0], rel=1e-6)  # 40.75 is nearest to 41


@pytest.mark.parametrize(("depth_mm", "end"), [(30.0, 1), (5.0, 0)])
def test_a_tall_piece_takes_steep_mains_and_a_flat_one_shallow_ones(depth_mm, end):
    rough = rough_of(shapes.box((10.1, 10.1, depth_mm)))
    plan = make_plan(rough, order(), **QUICK)
    (stone,) = plan.stones
    chosen = {f.name: (f.low, f.high)[end] for f in stone.free}
    assert {k: stone.parameters[k] for k in chosen} == chosen
    assert stone.carat >= upright_ct(rough, depth_mm, chosen) * (1.0 - 1e-9)
    assert stone.carat > stone.usual_carat
    assert stone.carat <= plan.bound.carat


def test_a_proportion_free_over_the_designs_whole_range_grows_into_a_long_piece():
    """The box has room for an oval 1.7 times as long as wide; the design allows 1.6."""
    rough = rough_of(shapes.box((17.1, 10.1, 30.0)))
    asked = order("oval", parameters={"length_to_width": (1.15, 1.6)})
    ((offer,), _) = offers(rough, asked)
    chosen, placement = heaviest(
        PlacementCache(Ground.of(rough.mesh), 0, Watch()), [offer], "quick"
    )
    assert chosen.parameters["length_to_width"] == 1.6
    assert placement.body.volume_at(placement.pose.width) > 1.15 * chosen.usual_mm3


def test_no_fixed_values_give_a_heavier_stone_than_their_ranges():
    rough = rough_of(shapes.random_polytope(11, 24, 8.0))
    ground = Ground.of(rough.mesh)

    def volume(parameters):
        ((offer,), _) = offers(rough, order("oval", parameters=parameters))
        _, placement = heaviest(PlacementCache(ground, 0, Watch()), [offer], "quick")
        return placement.body.volume_at(placement.pose.width), offer

    free, offer = volume({"crown": (34.0, 36.0), "pavilion": (41.0, 43.0)})
    most = volume_bound(
        ground, offer, found_mm3=free, cells=3000, gap=0.01, hollows=False, watch=Watch()
    )
    for crown, pavilion in ((34.0, 43.0), (36.0, 41.0), (35.2, 42.3)):
        fixed, _ = volume({"crown": crown, "pavilion": pavilion})
        assert fixed <= free * (1.0 + 1e-6)
        assert free <= most.volume_mm3


def test_a_fixed_width_is_filled_with_the_steepest_mains_that_fit(deep):
    size = SizeDemand(width_mm=(10.0, 10.0))
    asked = order(parameters={"crown": 34.5, "pavilion": (41.0, 44.0)}, size=size)
    (stone,) = make_plan(deep, asked, **QUICK).stones
    assert stone.width_mm == pytest.approx(10.0, abs=1e-9)
    room = float(np.ptp(deep.mesh.vertices[:, 2])) - 0.1
    fits = [
        pavilion
        for pavilion in np.round(np.arange(41.0, 44.01, 0.1), 1)
        if build_body(ROUND, {"crown": 34.5, "pavilion": pavilion}).depth_at(10.0) <= room
    ]
    assert 42.2 < max(fits) < 44.0
    assert stone.parameters["pavilion"] == pytest.approx(max(fits))


@pytest.mark.usefixtures("whole_quick")
def test_a_size_out_of_reach_of_every_value_is_proved_impossible(deep):
    asked = order(size=SizeDemand(width_mm=(13.0, 14.0)))
    plan = make_plan(deep, asked, **QUICK)
    assert plan.status == "impossible"


def test_a_proof_over_ranges_closes_in_on_the_stone(deep):
    asked = order(parameters={"crown": 34.5, "pavilion": (41.5, 42.5)})
    tight = make_plan(deep, asked, prove=True, gap=1.0, **QUICK)
    (stone,) = tight.stones
    assert stone.carat <= tight.bound.carat <= 1.01 * stone.carat
    covered = tight.bound.covers["parameters"]["round-brilliant"]
    assert covered["pavilion"] == (41.5, 42.5)
    assert covered["table"] == 0.53


# --- told and audited ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def wide_table(deep):
    return make_plan(deep, order(parameters={"table": 0.55}), **QUICK)


def test_the_plan_states_free_parameters_their_choice_and_gain(wide_table):
    (stone,) = wide_table.stones
    told = plan_file(wide_table).values()["stones"][0]
    assert told["free_parameters"]["crown"] == {"range": [33.5, 35.5], "usual": 34.5, "step": 0.1}
    assert told["usual_carat"] == stone.usual_carat
    line = next(text for text in summary(wide_table) if text.startswith("Chosen for weight"))
    assert f"crown {stone.parameters['crown']:.4g}° (free from 33.5° to 35.5°, usual 34.5°)" in line
    assert f"The choice is worth {stone.carat - stone.usual_carat:.2f} ct" in line
    narrow = replace(stone, free=(replace(stone.free[0], low=34.7), *stone.free[1:]))
    line = chosen_line(narrow)
    assert "(free from 34.7° to 35.5°, usual 34.5°, which lies outside)" in line
    assert "found with the usual values or the ends nearest to them weighs" in line
    assert any("free parameters lie in their ranges" in check for check in wide_table.audit)


def test_the_light_of_the_angles_chosen_is_told_as_a_change(wide_table):
    """Their own figures are told once, where the look is: two samplings told 93 and 94 %."""
    (stone,) = wide_table.stones
    less = replace(stone, own_light=ClearLight(0.93, 0.05), usual_light=ClearLight(0.951, 0.05))
    line = chosen_line(less)
    assert line.endswith(
        " Beside the usual angles, the light return is 2 percentage points less and the window the "
        "same."
    )
    assert "93" not in line


def test_the_audit_refuses_values_that_cannot_be_set(wide_table):
    (stone,) = wide_table.stones
    between = {**stone.parameters, "crown": 34.5123}
    with pytest.raises(AuditError, match="crown can be set"):
        choice_is_met(replace(stone, parameters=between), "stone 1")
    with pytest.raises(AuditError, match="crown"):
        choice_is_met(replace(stone, parameters={**stone.parameters, "crown": 37.0}), "stone 1")
