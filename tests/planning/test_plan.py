"""The whole job in memory: make_plan against stones laid by hand, and what it says without one."""

from dataclasses import replace
from math import floor

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of

from optimizer import load_rough, make_plan
from optimizer.design import build_body, load_design
from optimizer.errors import AuditError, InputError
from optimizer.mesh import Plane
from optimizer.offers.bound import weight_bound
from optimizer.offers.heaviest import heaviest
from optimizer.offers.offer import offers
from optimizer.offers.placement_cache import PlacementCache
from optimizer.offers.volume_bound import volume_bound
from optimizer.offers.width_bound import room_left
from optimizer.order import Order, SizeDemand, Workshop, ZoneDemand
from optimizer.placement import search, tournament
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.plan_model import OrderChange
from optimizer.planning.carat_range import CUT_TO_MM, growth_mm
from optimizer.planning.clock import Clock
from optimizer.report.scene import scene_of
from optimizer.report.sections.certainty import certainty
from optimizer.report.summary import summary
from optimizer.rough.model import Colour, Zone

pytestmark = pytest.mark.usefixtures("small_quick")

BOX_MM = (20.0, 14.0, 12.0)
QUICK = {"effort": "quick"}
USUAL = {"crown": 36.0, "pavilion": 42.0}  # fixed: what the tests reckon by hand is of one body
BARE = Workshop(clean_up_mm=0.0, most_cuts=0)  # no saw: these tests are not about it


def middle_split(mesh):
    zone = Zone(
        "split",
        Plane(np.array([1.0, 0.0, 0.0]), 0.0),
        towards=Colour("violet", "#8a5cc2"),
        away=Colour("yellow", "#e8b83a"),
    )
    return rough_of(mesh, (zone,))


@pytest.fixture(scope="module")
def rough():
    return middle_split(shapes.box(BOX_MM))


def order(**asked) -> Order:
    return Order(**{"designs": ("oval",), "workshop": BARE, "parameters": USUAL, **asked})


@pytest.fixture(scope="module")
def largest(rough, small_quick):
    """The plan that no demand holds."""
    return make_plan(rough, order(), **QUICK)


@pytest.fixture(scope="module")
def six_wide(rough, small_quick):
    return make_plan(rough, order(size=SizeDemand(width_mm=(6.0, 6.0))), **QUICK)


def body():
    return build_body(load_design("oval"), least_girdle_mm=0.2, least_girdle_share=0.02)


def by_hand_mm(width: float, skin: float) -> float:
    """Room that an upright oval of this width, table along the box's least side, has to spare."""
    stone = body()
    extents = np.array([stone.length_at(width), width, stone.depth_at(width)])
    return float((np.array(BOX_MM) - extents).min() / 2.0 - skin)


# --- found --------------------------------------------------------------------------------------


def test_the_largest_stone_is_no_less_than_one_laid_upright_by_hand(rough, largest):
    low, high = 1.0, 20.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if by_hand_mm(middle, 0.05) >= 0.0 else (low, middle)
    (stone,) = largest.stones
    assert largest.status == "found"
    assert stone.width_mm >= low * (1.0 - 1e-6)
    assert stone.placement.clearance_mm >= 0.05 - 1e-9
    assert stone.carat <= stone.bound.carat <= rough.carat
    assert largest.audit


def test_a_fixed_size_lies_where_it_has_most_room(six_wide):
    (stone,) = six_wide.stones
    assert stone.width_mm == 6.0
    assert stone.placement.clearance_mm >= by_hand_mm(6.0, 0.0) * (1.0 - 1e-3)


def test_a_windows_upper_end_is_filled_with_most_room(rough, six_wide):
    free = make_plan(rough, order(size=SizeDemand(width_mm=(5.0, 6.0))), **QUICK)
    assert free.stones[0].width_mm == 6.0
    assert free.stones[0].carat_range == six_wide.stones[0].carat_range
    clearances = [plan.stones[0].placement.clearance_mm for plan in (free, six_wide)]
    assert clearances[0] == pytest.approx(clearances[1], rel=1e-6)


def test_the_figures_are_the_bodys_own(rough):
    plan = make_plan(rough, order(size=SizeDemand(carat=(2.0, 2.0))), **QUICK)
    (stone,) = plan.stones
    assert stone.carat == pytest.approx(2.0, rel=1e-9)
    mesh = shapes.as_solid(stone.placement.mesh())
    assert mesh.volume() == pytest.approx(stone.volume_mm3, rel=1e-9)
    local = (stone.placement.mesh().vertices - stone.placement.pose.translation) @ (
        stone.placement.pose.rotation
    )
    extents = np.ptp(local, axis=0)
    assert extents == pytest.approx([stone.length_mm, stone.width_mm, stone.depth_mm], rel=1e-9)


def test_the_weights_range_holds_the_species_range_and_the_scans_error(rough, largest):
    material = rough.material
    (stone,) = largest.stones
    low, high = stone.carat_range
    assert low == pytest.approx(stone.volume_mm3 * material.sg_range[0] / 200.0)
    wider = stone.width_mm + growth_mm(body(), stone.width_mm, rough.scan_error_mm)
    assert high == pytest.approx(body().volume_at(wider) * material.sg_range[1] / 200.0)
    assert low <= stone.carat < high


def test_a_stone_of_one_size_varies_by_its_density_and_by_the_hands(rough, six_wide):
    (stone,) = six_wide.stones
    widths = (stone.width_mm - CUT_TO_MM, stone.width_mm + CUT_TO_MM)
    ends = zip(widths, rough.material.sg_range, strict=True)
    of_both = [body().volume_at(width) * sg / 200.0 for width, sg in ends]
    assert stone.carat_range == pytest.approx(of_both)
    line = next(line for line in summary(six_wide) if line.startswith("Stone 1:"))
    assert "ct within 0.05 mm of that width and the error of density)" in line
    assert "hands may cut the width 0.05 mm off" in certainty(scene_of(six_wide))


def test_a_piece_that_its_weight_denies_is_not_planned(rough):
    with pytest.raises(InputError, match=r"ct weighed.*take weighed_ct out"):
        make_plan(replace(rough, weighed_ct=0.8 * rough.carat), order(), **QUICK)


def test_the_heaviest_of_several_designs_wins(rough, largest):
    names = ("round-brilliant", "oval", "cushion")
    others = [make_plan(rough, order(designs=(name,)), **QUICK) for name in names if name != "oval"]
    best = max((plan.stones[0] for plan in (largest, *others)), key=lambda stone: stone.carat)
    (stone,) = make_plan(rough, order(designs=names), **QUICK).stones
    assert stone.design.name == best.design.name
    assert stone.carat == pytest.approx(best.carat, rel=1e-9)


def test_the_same_seed_gives_the_same_plan(rough, largest):
    again = make_plan(rough, order(), seed=0, **QUICK)
    for a, b in zip(largest.stones, again.stones, strict=True):
        np.testing.assert_array_equal(a.placement.pose.rotation, b.placement.pose.rotation)
        np.testing.assert_array_equal(a.placement.pose.translation, b.placement.pose.translation)
        assert a.width_mm == b.width_mm


def test_designs_left_out_are_among_the_warnings(rough):
    asked = Order(parameters={"length_to_width": 1.5, **USUAL}, workshop=BARE)
    plan = make_plan(rough, asked, **QUICK)
    assert any("left out: round-brilliant" in text for text in plan.warnings)
    assert "round-brilliant" not in plan.bound.covers["designs"]


@pytest.mark.parametrize("colour", ["violet", "yellow"])
def test_a_boundary_kept_clear_of_from_either_side(colour, rough):
    zone = ZoneDemand("split", colour, keep_clear_mm=0.25)
    (stone,) = make_plan(rough, order(zone=zone), **QUICK).stones
    x = stone.placement.mesh().vertices[:, 0] * (1.0 if colour == "violet" else -1.0)
    assert x.min() >= 0.25 - 1e-6


def test_demands_on_the_boundary_hold_in_the_mesh(rough):
    zone = ZoneDemand(
        "split", "violet", tilt_deg=(-5, 5), azimuth_deg=(170, 190), offset=(0.2, 0.3)
    )
    (stone,) = make_plan(rough, order(zone=zone), **QUICK).stones
    normal = stone.placement.pose.rotation.T @ np.array([1.0, 0.0, 0.0])
    assert abs(np.degrees(np.arcsin(normal[2]))) <= 5.0 + 1e-6
    assert abs(np.degrees(np.arctan2(normal[1], -normal[0]))) <= 10.0 + 1e-6
    x = stone.placement.mesh().vertices[:, 0]
    offset = (0.0 - (x.max() + x.min()) / 2.0) / (np.ptp(x) / 2.0)
    assert 0.2 - 1e-6 <= offset <= 0.3 + 1e-6


# --- not found ----------------------------------------------------------------------------------


def test_a_stone_wider_than_the_piece_is_impossible_and_its_size_is_why(rough, largest):
    plan = make_plan(rough, order(size=SizeDemand(width_mm=(30.0, 40.0))), **QUICK)
    assert (plan.status, plan.stones, plan.saw_guide) == ("impossible", (), None)
    reasons = {reason.demand: reason.stone for reason in plan.ruled_out_by}
    assert list(reasons) == ["the size: at least 30 mm wide"]
    assert next(iter(reasons.values())).carat == pytest.approx(largest.stones[0].carat, rel=1e-9)
    (near,) = plan.nearest_orders
    works = floor(100.0 * largest.stones[0].width_mm) / 100.0
    assert near.changes == (OrderChange("size", "width_mm", (30.0, 40.0), (works, 40.0)),)
    assert any("stone 1 of nearest order 1 keeps the size" in check.lower() for check in plan.audit)
    assert f"found to work: width_mm = [{works}, 40] in [size]" in " ".join(summary(plan))


def test_two_demands_that_only_together_stand_in_the_way_are_both_named(rough):
    """13 mm wide fits the box, and small stones fit half of it, but not both."""
    zone = ZoneDemand("split", "violet", keep_clear_mm=0.1)
    plan = make_plan(rough, order(size=SizeDemand(width_mm=(13.0, 13.0)), zone=zone), **QUICK)
    assert not plan.stones
    demands = " | ".join(reason.demand for reason in plan.ruled_out_by)
    assert "exactly 13 mm wide" in demands
    assert "not crossed, 0.1 mm clear" in demands
    smaller, crossed = plan.nearest_orders
    assert smaller.stones[0].width_mm < 13.0
    assert smaller.changes[0].works[0] == pytest.approx(smaller.stones[0].width_mm)
    assert crossed.changes == (OrderChange("zone", "keep_clear_mm", 0.1, None),)


def test_letting_the_design_go_survives_designs_that_contradict_the_sizes(rough):
    """Letting "oval" go tries the whole library, some of which can't be 36 by 30 at all."""
    size = SizeDemand((30.0, 30.0), (36.0, 36.0))
    plan = make_plan(rough, order(size=size), **QUICK)
    assert plan.status == "impossible"
    assert plan.ruled_out_by == ()
    (near,) = plan.nearest_orders
    works = {change.key: change.works[0] for change in near.changes}
    assert works["length_mm"] / works["width_mm"] == pytest.approx(1.2, abs=2e-3)
    assert (near.stones[0].length_mm, near.stones[0].width_mm) == pytest.approx(
        (works["length_mm"], works["width_mm"])
    )


def test_no_room_is_impossible_whatever_was_asked(rough):
    plan = make_plan(rough, order(workshop=replace(BARE, clean_up_mm=6.0)), **QUICK)
    assert plan.status == "impossible"
    assert any("6.05 mm" in text for text in plan.warnings)
    plan = make_plan(rough, order(zone=ZoneDemand("split", "violet", keep_clear_mm=11.0)), **QUICK)
    assert plan.status == "impossible"
    assert not any("no room" in text for text in plan.warnings)
    assert ["not crossed" in reason.demand for reason in plan.ruled_out_by] == [True]


# --- stopped ------------------------------------------------------------------------------------


def test_stopped_before_there_is_a_stone_there_is_no_plan(rough, monkeypatch):
    """In the preparation, and before the first pose is judged."""
    begun = []
    for name in ("planning.volume_bounds.volume_bound", "plan.audit"):
        monkeypatch.setattr(f"optimizer.{name}", lambda *_, name=name, **__: begun.append(name))
    monkeypatch.setattr(tournament, "tournament", lambda *_: begun.append("tournament"))
    monkeypatch.setattr(tournament, "best_at_turns", lambda *_: begun.append("best_at_turns"))
    asked = Stop(np.inf)
    Ground.of(rough.mesh, asked)
    for after in range(asked.asked + 2):
        with pytest.raises(KeyboardInterrupt):
            make_plan(rough, order(), watch=Watch(Stop(after)), **QUICK)
    assert begun == []


def test_after_a_stop_no_other_design_is_looked_at(rough, monkeypatch):
    designs, pressed, looked = ("oval", "pear", "cushion"), [], []

    def placed(ground, offer, *_):
        looked.append(offer.design.name)
        pressed.append(True)

    monkeypatch.setattr("optimizer.offers.placement_cache.place_offer", placed)
    allowed, _ = offers(rough, order(designs=designs))
    assert heaviest(PlacementCache(None, 0, Watch(lambda: bool(pressed))), allowed, "quick") is None
    assert looked == ["oval"]


def test_stopped_later_the_best_so_far_is_kept_and_audited(rough, largest):
    pressed: list[str] = []
    told: list[str] = []

    def progress(stage: str, done: int, total: int, best: float) -> None:
        told.append(stage)
        if "improving places" in stage:
            pressed.append(stage)

    plan = make_plan(rough, order(), watch=Watch(lambda: bool(pressed), progress), **QUICK)
    assert (plan.status, plan.interrupted) == ("found", True)
    assert plan.audit
    assert all(stage.startswith(("Oval: ", "proving")) for stage in told)
    assert plan.stones[0].carat <= largest.stones[0].carat * (1.0 + 1e-9)


class Stop:
    """Turns true at the nth time that it is asked; counts the asking."""

    def __init__(self, after: float) -> None:
        self.after, self.asked = after, 0

    def __call__(self) -> bool:
        self.asked += 1
        return self.asked > self.after


def test_wherever_a_stop_comes_little_follows_and_the_plan_is_whole(monkeypatch):
    """From the first question to the last: no climb begins after it (two threads may have asked
    just before), and few places are stood at; with a stone the plan is sawn and audited, and says
    what is missing."""
    pebble = rough_of(shapes.pebble(3, 8.0, 2))
    asked = order(workshop=Workshop(keep_offcut_ct=0.5, grind_mm=0.5, most_cuts=2))
    works = {name: getattr(search, name) for name in ("climb", "stand")}
    never = Stop(np.inf)
    whole = make_plan(pebble, asked, watch=Watch(never), **QUICK)
    assert not whole.interrupted
    assert all(whole.saw_guide.distances)
    for after in (20, never.asked - 1):
        stop, begun = Stop(after), {"climb": 0, "stand": 0}

        def counted(name, work, stop=stop, begun=begun):
            def job(*args, **kwargs):
                begun[name] += stop.asked > stop.after
                return work(*args, **kwargs)

            return job

        for name, work in works.items():
            monkeypatch.setattr(search, name, counted(name, work))
        plan = make_plan(pebble, asked, watch=Watch(stop), **QUICK)
        assert plan.interrupted
        assert begun["climb"] <= 2
        assert begun["stand"] <= 4 * search.STOPPED_WITH + 2
        assert plan.audit
        assert len(plan.sawing.cuts) == len(plan.saw_guide.distances)
        missing = any("Stopped early" in warning for warning in plan.warnings)
        assert missing != all(plan.saw_guide.distances)


def test_stopped_while_reasons_are_sought_there_is_no_plan(rough):
    pressed: list[str] = []
    asked = order(designs=("oval", "pear"), size=SizeDemand(width_mm=(30.0, 30.0)))

    def progress(stage: str, done: int, total: int, best: float) -> None:
        if "last hundredths" in stage:  # only a loosened order comes so far
            pressed.append(stage)

    with pytest.raises(KeyboardInterrupt):
        make_plan(rough, asked, watch=Watch(lambda: bool(pressed), progress), **QUICK)


# --- refused ------------------------------------------------------------------------------------


def test_an_unknown_effort_is_refused(rough):
    with pytest.raises(InputError, match='did you mean "quick"'):
        make_plan(rough, order(), effort="quik")


def test_a_stone_that_slipped_is_refused_by_the_audit(rough, monkeypatch):
    def slipped(*arguments):
        best = heaviest(*arguments)
        pose = best.placement.pose
        aside = replace(pose, translation=pose.translation + 0.5)
        return best._replace(placement=replace(best.placement, pose=aside))

    monkeypatch.setattr("optimizer.offers.heaviest.heaviest", slipped)
    with pytest.raises(AuditError):
        make_plan(rough, order(), **QUICK)


# --- the bound ----------------------------------------------------------------------------------


PLAIN = {"hollows": False, "convex": False}


def most(ground, offer):
    return volume_bound(
        ground, offer, found_mm3=0.0, cells=2000, gap=0.01, hollows=False, watch=Watch()
    )


def test_the_bound_names_what_it_uses_and_what_it_leaves_out(rough):
    def said(asked: Order):
        allowed, _ = offers(rough, asked)
        ground = Ground.of(rough.mesh)
        return weight_bound(rough, allowed, [most(ground, offer) for offer in allowed], **PLAIN)

    plain = said(order(least_girdle_mm=0.0))
    assert "the greatest size ordered" not in plain.uses
    assert "the least girdle" not in plain.uses
    assert plain.ignores == ("hollows of the rough",)
    sized = said(order(size=SizeDemand(width_mm=(0.0, 5.0))))
    assert {"the greatest size ordered", "the least girdle"} <= set(sized.uses)
    assert sized.carat == pytest.approx(body().volume_at(5.0) * rough.material.sg / 200.0)
    zone = ZoneDemand("split", "violet", None, (40, 60), (-1, 1), (-9, 9), (-9, 9))
    crossed = said(order(zone=zone))
    assert crossed.ignores == ("hollows of the rough", "the boundary's share of the volume")
    assert {f"the boundary's {what}" for what in ("offset", "tilt", "azimuth")} <= set(crossed.uses)
    assert crossed.carat < plain.carat
    clear = said(order(zone=ZoneDemand("split", "violet", keep_clear_mm=0.5)))
    assert "the boundary not crossed" in clear.uses
    assert clear.carat < plain.carat


def test_a_bound_over_several_designs_is_the_greatest_of_theirs(rough):
    ground = Ground.of(rough.mesh)
    allowed, _ = offers(rough, order(designs=("oval", "pear")))
    mosts = [most(ground, offer) for offer in allowed]
    each = [
        weight_bound(rough, [o], [m], **PLAIN).carat for o, m in zip(allowed, mosts, strict=True)
    ]
    both = weight_bound(rough, allowed, mosts, **PLAIN)
    assert both.carat == max(each)
    assert both.covers["designs"] == ["oval", "pear"]


def test_room_is_left_until_the_clearance_meets_in_the_middle(rough):
    ground = Ground.of(rough.mesh)
    for clean_up, left in ((5.9, True), (5.96, False)):  # with 0.05 of scan error; half of 12 mm
        workshop = Workshop(clean_up_mm=clean_up)
        ((offer,), _) = offers(rough, order(workshop=workshop))
        assert room_left(ground, offer) is left


def test_a_proof_closes_the_gap_on_convex_rough(rough, largest):
    tight = make_plan(rough, order(), prove=True, gap=0.02, **QUICK)
    (stone,) = tight.stones
    assert stone.carat == largest.stones[0].carat
    assert stone.carat <= tight.bound.carat <= stone.carat * 1.0002
    assert tight.bound.carat < largest.bound.carat


def test_a_piece_far_from_the_origin_is_planned_and_audited_alike(rough, largest):
    """Coordinates of 100 m: the kernel's sums lose digits there unless they are centred."""
    shift = np.array([1e5, -1e5, 1e5])
    moved = replace(
        rough,
        mesh=shapes.moved(rough.mesh, np.eye(3), shift),
        zones=(),
        reference_faces=(),
    )
    away = make_plan(moved, order(), **QUICK)
    assert away.audit
    assert away.stones[0].carat == pytest.approx(largest.stones[0].carat, rel=1e-6)


def test_a_tiny_stone_comes_with_a_warning(rough, largest):
    small = make_plan(rough, order(size=SizeDemand(width_mm=(1.5, 1.5))), **QUICK)
    assert not any("few can hold" in text for text in largest.warnings)
    assert any("only 1.50 mm wide" in text for text in small.warnings)


# --- the clock ----------------------------------------------------------------------------------


def test_the_stages_add_up_to_no_more_than_the_whole(largest):
    total = largest.timing_s["total"]
    stages = {key: value for key, value in largest.timing_s.items() if key != "total"}
    laid = {"sawing and marks", "what holds it", "look", "offcuts"}
    assert {"preparation", "search", "bound", *laid, "audit"} == set(stages)
    assert all(value >= 0.0 for value in stages.values())
    assert sum(stages.values()) <= total
    assert Clock().seconds().keys() == {"total"}


def test_the_public_names_are_the_same_functions():
    import optimizer
    from optimizer.plan import make_plan as inner
    from optimizer.rough import load_rough as reader

    assert optimizer.make_plan is inner
    assert load_rough is reader
    with pytest.raises(AttributeError, match="no attribute 'mak_plan'"):
        _ = optimizer.mak_plan
