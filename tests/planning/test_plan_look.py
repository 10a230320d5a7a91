"""Orders that ask for a look: met by a trace of another kind, or refused and said why."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of
from placed_stones import placement_of

from optimizer.audit.look import look_is_met
from optimizer.design import build_body, load_design
from optimizer.errors import AuditError, InputError
from optimizer.mesh import Plane
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.crystal import with_cleavage_clearance
from optimizer.offers.heaviest import best_of
from optimizer.offers.placement_cache import PlacementCache
from optimizer.offers.relaxations import OrderKey, relaxations
from optimizer.offers.wanted_look import LookTarget, look_about, look_shortfall, with_zone
from optimizer.optics.angles import light_by_turn
from optimizer.optics.boundary_forms import forms_of
from optimizer.optics.eye import frame_of, lattice
from optimizer.optics.face import coloured, everywhere, face_of, incoming_light
from optimizer.optics.figures import light_figures, zone_figures
from optimizer.optics.lights import LIGHTS
from optimizer.optics.look_map import normal_of
from optimizer.optics.paths import refracting_body
from optimizer.optics.refraction import index_at
from optimizer.optics.shading import bands
from optimizer.optics.zone_dyes import zone_dyes
from optimizer.order import LookDemand, Order, Workshop, ZoneDemand
from optimizer.placement.ground import Ground
from optimizer.placement.rotations import turn
from optimizer.placement.search import QUIET
from optimizer.placement.zone_view import view_zone
from optimizer.plan import make_plan
from optimizer.planning.nearest_order import HALVINGS
from optimizer.report import summary
from optimizer.report.document import plan_file
from optimizer.rough.model import Colour, Zone

pytestmark = pytest.mark.usefixtures("small_search", "coarse_maps")

SPLIT = Zone(
    "split", Plane(np.array([0.8, 0.0, 0.6]), 0.7), Colour("violet", "#8a5cc2"),
    Colour("yellow", "#e8b83a"),
)  # fmt: skip
EVEN = LookDemand("split", "violet", face_percent=(40.0, 60.0), balance_of_ends=0.75)
FIXED = {"crown": 36.0, "pavilion": 42.0}  # so that the search is short
UNSAWN = Workshop(most_cuts=0)  # these tests are not about the saw


@pytest.fixture(scope="module")
def rough():
    return rough_of(shapes.ellipsoid(subdivisions=2), (SPLIT,))


@pytest.fixture(scope="module")
def plan(rough, small_search, coarse_maps):
    order = Order(("long-hexagon",), parameters=FIXED, workshop=UNSAWN, look=EVEN)
    return make_plan(rough, order, effort="quick")


def traced(stone, rough, colour="violet", count=12_000):
    """The figures of a stone by the plain way, in three bands, at unmirrored places."""
    laid = stone.placement
    body, width = laid.body, laid.pose.width
    parts = bands(3)
    places = lattice(*frame_of(body.vertices_at(width), np.eye(3)), count)
    planes = body.normals, body.offsets_at(width)
    bodies = tuple(refracting_body(*planes, index_at(rough.material, b.nm)) for b in parts)
    face = face_of(bodies, parts, places, np.eye(3))
    light = incoming_light(face, LIGHTS["open sky"])
    forms = forms_of(SPLIT.boundary, laid.pose.rotation, laid.pose.translation)
    one, other = zone_dyes(SPLIT, colour)
    whole = [coloured(face, light, everywhere(), dye, dye) for dye in (one, other)]
    return zone_figures(face, coloured(face, light, forms, one, other), *whole), light_figures(face)


def test_the_stone_found_looks_as_ordered(plan, rough):
    zone, _ = traced(plan.stones[0], rough)
    assert 0.39 < zone.share < 0.61
    assert zone.balance_of_ends > 0.73


def test_the_look_told_is_the_look_traced(plan, rough):
    zone, _ = traced(plan.stones[0], rough)
    about, look = plan.stones[0].look_about, plan.stones[0].look
    assert about.figures.share == pytest.approx(zone.share, abs=0.01)
    assert about.figures.ends == pytest.approx(zone.ends, abs=0.02)
    assert about.share[0] < about.figures.share < about.share[1]
    assert about.figures == look.upright.zone
    searched, _ = LookTarget.of(rough, EVEN).figures(plan.stones[0].placement)
    assert vars(look.upright.light) == pytest.approx(vars(searched), rel=1e-9)
    told = plan_file(plan).values()
    assert told["boundary_look"]["face_share"] == about.figures.share
    assert told["boundary_look"] == told["stones"][0]["boundary_look"]
    line = next(line for line in summary(plan) if "of the face shows violet" in line)
    assert f"{100 * about.figures.share:.0f} %" in line


@pytest.fixture(scope="module")
def again(rough, small_search, coarse_maps):
    """The same search anew, by three workers, with all that it laid."""
    asked = Order(("long-hexagon",), FIXED, workshop=UNSAWN, look=EVEN)
    order = with_zone(rough, with_cleavage_clearance(rough, asked))
    cache = PlacementCache(Ground.of(rough.mesh), 0, QUIET)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KERFWISE_WORKERS", "3")
        best = best_of(rough, order, cache, allowed_offers(rough, order)[0], "quick")
    return best, cache


def test_the_same_order_gives_the_same_stone_whatever_the_number_of_workers(plan, again):
    (stone,), ((offer, placement), _) = plan.stones, again
    assert offer.parameters == stone.parameters
    for ours, theirs in zip(vars(placement.pose), vars(stone.placement.pose), strict=True):
        np.testing.assert_array_equal(ours, theirs)


def test_of_all_stones_laid_that_look_so_none_is_heavier(again, rough):
    (_, placement), cache = again
    aim = LookTarget.of(rough, EVEN)
    met = [one.placement.volume_mm3 for one in cache.stones() if aim.met(one.placement)]
    assert placement.volume_mm3 >= max(met)
    assert aim.met(placement)


def test_near_the_stone_the_cubics_are_the_look(again, rough):
    """Against traces of their own: at the stone itself as good as exact, near it closely."""
    _, placement = again[0]
    aim = LookTarget.of(rough, EVEN)
    near = aim.shown(placement, 0.0).near
    rng = np.random.default_rng(1)
    for size, allowed in ((0.0, 1e-9), (0.03, 0.01), (0.08, 0.02)):
        pose = placement.pose
        moved = replace(
            pose,
            rotation=turn(size * rng.normal(size=3)) @ pose.rotation,
            translation=pose.translation + size * rng.normal(size=3),
        )
        view = view_zone(SPLIT, "violet", replace(placement, pose=moved))
        lean = near.across @ normal_of(view.tilt_deg, view.azimuth_deg)
        q = np.array([*lean, view.offset - near.offset])
        figures = aim.zone_figures(replace(placement, pose=moved))
        told = [figures.share, *figures.halves, *figures.ends]
        np.testing.assert_allclose(near.at(q)[0], told, atol=allowed)


def test_the_bound_says_that_it_ignores_the_look(plan):
    assert "the look" in plan.bound.ignores
    assert plan.stones[0].carat <= plan.bound.carat


def test_the_audit_traces_it_anew_and_refuses_what_does_not_look_so(plan, rough):
    stone = plan.stones[0]
    mesh = stone.placement.mesh()
    assert any("looks as ordered" in check for check in plan.audit)
    assert "balance of ends 0." in look_is_met(stone, mesh, rough, EVEN, "the stone")
    stricter = replace(EVEN, face_percent=(70.0, 80.0))
    with pytest.raises(AuditError, match="face_percent"):
        look_is_met(stone, mesh, rough, stricter, "the stone")


def test_a_look_that_nothing_shows_is_named_as_what_rules_it_out(rough, monkeypatch):
    order = Order(
        ("long-hexagon",), parameters=FIXED, workshop=UNSAWN,
        zone=ZoneDemand("split", "violet", None, None, (0.5, 0.6), (-5.0, 5.0), (-5.0, 5.0)),
        look=replace(EVEN, face_percent=(95.0, 100.0), balance_of_ends=None),
    )  # fmt: skip
    looks = [one for one in relaxations(order) if one[0].startswith("the look")]
    said = "the look: 95 to 100 % of the face violet"
    key = OrderKey("look", "face_percent")
    assert looks == [(said, replace(order, look=None), (key,))]
    monkeypatch.setattr(
        "optimizer.planning.relaxation_search.relaxations", lambda _: looks
    )  # the others take long
    monkeypatch.setitem(HALVINGS, "quick", 0)  # test_nearest_order.py is about these
    plan = make_plan(rough, order, effort="quick")
    assert plan.status == "not found"
    assert [one.demand for one in plan.ruled_out_by] == [looks[0][0]]


def test_each_demand_on_the_look_is_loosened_alone():
    order = Order(look=replace(EVEN, window_percent=5.0))
    loose = {one.sentence: one.order for one in relaxations(order) if one.keys[0].table == "look"}
    assert {one.look for one in loose.values()} == {
        replace(EVEN, window_percent=5.0, face_percent=None),
        replace(EVEN, window_percent=5.0, balance_of_ends=None),
        EVEN,
    }
    only = Order(look=LookDemand("a", "b", balance_of_ends=0.5, window_percent=5.0))
    assert LookDemand(window_percent=5.0) in [one.order.look for one in relaxations(only)]


def test_light_is_asked_of_the_angles(rough):
    """Pavilions across the design's range: some return what is asked and some don't."""
    design = load_design("round-brilliant")
    known = design.parameters["pavilion"]
    seen = [
        light_by_turn(build_body(design, {"pavilion": at}), 6.0, rough.material, [(0.0, 0.0)])[0]
        for at in (known.low, known.default, known.high)
    ]
    returns = [one.light_return for one in seen]
    least = 50.0 * (min(returns) + max(returns))
    free = Order(
        ("round-brilliant",), {"crown": 34.0, "pavilion": (known.low, known.high)},
        workshop=UNSAWN, look=LookDemand(light_return_percent=least),
    )  # fmt: skip
    worst = (known.low, known.default, known.high)[int(np.argmin(returns))]
    with pytest.raises(InputError, match="no angles of crown and pavilion give"):
        make_plan(rough, replace(free, parameters={"crown": 34.0, "pavilion": worst}))
    (stone,) = make_plan(rough, free, effort="quick").stones
    assert traced(stone, rough)[1].light_return >= least / 100.0 - 0.01
    (pavilion,) = stone.free
    assert known.low < pavilion.low or pavilion.high < known.high


@pytest.mark.parametrize(
    ("look", "said"),
    [
        (LookDemand(light_return_percent=100.0), "no angles of crown and pavilion give"),
        (LookDemand("side", "violet", face_percent=(1.0, 2.0)), 'names the zone "side"'),
        (LookDemand("split", "green", face_percent=(1.0, 2.0)), 'no colour "green"'),
    ],
)  # fmt: skip
def test_what_can_not_be_is_said_at_once(look, said, rough):
    with pytest.raises(InputError, match=said):
        make_plan(rough, Order(("round-brilliant",), {"crown": 34.0}, look=look), effort="quick")


def piece_and_stone(one, other):
    """A piece whose boundary parts these two colours, and a stone laid by hand across it."""
    zone = replace(SPLIT, towards=Colour("violet", one), away=Colour("yellow", other))
    body = build_body(load_design("long-hexagon"), FIXED)
    return rough_of(shapes.ellipsoid(subdivisions=2), (zone,)), placement_of(body, 13.0)


def test_colours_too_dark_to_tell_apart_promise_no_look_and_crash_nothing():
    rough, stone = piece_and_stone("#4a2f63", "#594433")
    order = with_zone(rough, Order(("long-hexagon",), FIXED, look=EVEN))
    (offer,) = allowed_offers(rough, order)[0]
    cache = PlacementCache(None, 0, QUIET)
    aim = LookTarget.of(rough, EVEN)
    assert aim.narrowed(stone, offer, 0.01, 2, cache) == []
    assert not aim.met(stone)
    assert not aim.zone_figures(stone).distinct
    assert look_about(rough, order, stone) is None
    assert "40 to 60 % of the face violet: the face does not tell" in look_shortfall(
        rough, order, stone
    )


def test_the_audit_refuses_a_look_that_is_not_to_be_told():
    rough, stone = piece_and_stone("#4a2f63", "#594433")
    told = SimpleNamespace(placement=stone)
    anything = LookDemand("split", "violet", face_percent=(0.0, 100.0))
    with pytest.raises(AuditError, match="tells violet from the other colour"):
        look_is_met(told, stone.mesh(), rough, anything, "the stone")


def test_a_look_of_two_colours_that_are_one_is_refused_before_the_search():
    rough, _ = piece_and_stone("#8a5cc2", "#8a5cc2")
    with pytest.raises(InputError, match="look alike in a stone of any size"):
        make_plan(rough, Order(("long-hexagon",), FIXED, look=EVEN), effort="quick")
