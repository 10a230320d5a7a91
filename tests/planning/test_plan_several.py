"""The whole job for several stones: what each plan must hold, measured anew from its corners."""

import json
import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import shapes
import trimesh
from handmade_plans import rough_of
from scipy.spatial import ConvexHull

from optimizer import make_plan
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.offers.least_width import SMALLEST_MM
from optimizer.order import Order, SizeDemand, Workshop, ZoneDemand
from optimizer.order.several import Price, Several, Wanted
from optimizer.placement import search
from optimizer.placement.search import Watch
from optimizer.plan_model import OrderChange, Plan, Stone
from optimizer.report import write_plan
from optimizer.report.document import plan_file
from optimizer.report.summary import summary
from optimizer.rough.model import Colour, Zone
from optimizer.sawing.model import SawCut
from optimizer.several import divide, pool

pytestmark = pytest.mark.usefixtures("small_quick")

BOX_MM = (22.0, 8.0, 7.0)
SHOP = Workshop(clean_up_mm=0.1, saw_error_mm=0.1, most_cuts=0)
ALLOWANCE = 0.2 + 0.1 + 0.1  # half the kerf, the saw's error, clean up
SKIN = 0.05 + 0.1
KNOWN = {"designs": ("round-brilliant",), "parameters": {"crown": 35.0, "pavilion": 41.0}}
SPLIT = Zone(
    "split",
    Plane(np.array([0.0, 0.0, 1.0]), 0.0),
    towards=Colour("violet", "#8a5cc2"),
    away=Colour("yellow", "#e8b83a"),
)
PRICE, HEAVY, CUT = 40.0, 90.0, 5.0  # per carat, from half a carat on, of a cut
ROUGH = replace(rough_of(shapes.box(BOX_MM), (SPLIT,)), scan_error_mm=0.05)


def planned(*wanted: Wanted, most=4, effort="quick", watch: Watch | None = None, **said) -> Plan:
    asked = {**KNOWN, "workshop": SHOP, "several": Several(most), "wanted": wanted, **said}
    return make_plan(ROUGH, Order(**asked), effort=effort, watch=watch)


@pytest.fixture(scope="module")
def listed(small_quick) -> Plan:
    """A stone of one size laid first, two that match with the boundary across, and a small one in
    a usual size, judged by money."""
    across = ZoneDemand("split", "violet", tilt_deg=(60.0, 90.0))
    return planned(
        Wanted("ring", size=SizeDemand(width_mm=(6.5, 6.5)), count=(1, 1), first=True),
        Wanted("ears", size=SizeDemand((4.0, 5.5)), count=(2, 2), pair_mm=0.1, zone=across),
        Wanted("small", count=(0, 1), calibrated=True, size=SizeDemand((3.0, 3.5))),
        several=Several(4, "money", CUT, "crowns"),
        prices=(Price(((0.0, PRICE), (0.5, HEAVY))),),
    )


@pytest.fixture(scope="module")
def plain(small_quick) -> Plan:
    """As many as pay, two at most. At normal effort, for its alternatives, with quick's search."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(search.EFFORTS, "normal", search.EFFORTS["quick"])
        for budgets in (divide.BUDGETS, pool.BUDGETS):
            patch.setitem(budgets, "normal", budgets["quick"])
        return planned(most=2, effort="normal")


@pytest.fixture(scope="module")
def quick(small_quick) -> Plan:
    return planned(most=2)


@pytest.fixture(scope="module", params=["listed", "plain"])
def plans(request) -> list[Plan]:
    """A plan and its alternatives."""
    plan = request.getfixturevalue(request.param)
    return [plan, *(other.plan for other in plan.alternatives)]


@pytest.fixture(scope="module")
def folder(plain, tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("plain") / "plan"
    write_plan(plain, out)
    return out


def corners(stone: Stone) -> Floats:
    """Scan frame, by the stated pose alone."""
    pose, at_home = stone.placement.pose, stone.placement.body.vertices_at(stone.width_mm)
    return at_home @ pose.rotation.T + pose.translation


def carat(stone: Stone) -> float:
    return ConvexHull(corners(stone)).volume * 2.65 / 200.0


def width(stone: Stone) -> float:
    return float(np.ptp(corners(stone) @ stone.placement.pose.rotation[:, 1]))


def of_line(plan: Plan, name: str) -> list[Stone]:
    return [stone for stone in plan.stones if stone.wanted == name]


def test_the_list_is_kept(listed):
    assert listed.status == "found"
    assert "of the kinds and counts that the list asks." in " ".join(listed.audit)
    (ring,), (left, right) = of_line(listed, "ring"), of_line(listed, "ears")
    assert width(ring) == pytest.approx(6.5, abs=1e-6)
    assert abs(width(left) - width(right)) <= 0.1 + 1e-6
    for ear in (left, right):
        assert 4.0 - 1e-6 <= width(ear) <= 5.5 + 1e-6
        tilt = np.degrees(np.arcsin(ear.placement.pose.rotation[2, 2]))
        assert 60.0 - 1e-6 <= tilt <= 90.0
    small = of_line(listed, "small")
    assert len(listed.stones) == 3 + len(small) <= 4
    assert all(min(abs(usual - width(one)) for usual in (3.0, 3.5)) < 1e-5 for one in small)


def test_the_money_is_that_of_the_stones_less_that_of_all_cuts(listed):
    paid = [carat(one) * (HEAVY if carat(one) >= 0.5 else PRICE) for one in listed.stones]
    assert [one.money for one in listed.stones] == pytest.approx(paid, rel=1e-9)
    value = sum(paid) - CUT * len(listed.sawing.cuts)
    assert (listed.objective.kind, listed.objective.unit) == ("money", "crowns")
    assert listed.objective.value == pytest.approx(value, rel=1e-9)


def test_another_way_to_saw_is_a_plan_of_its_own_that_was_checked(plain):
    assert len(plain.stones) == 2
    assert [len(other.plan.stones) for other in plain.alternatives] == [1]
    for other in plain.alternatives:
        assert other.plan.audit
        assert other.kind == other.plan.stones_named
        assert other.plan.objective.value == pytest.approx(sum(map(carat, other.plan.stones)))
        assert other.plan.objective.value <= plain.objective.value


def test_stones_lie_deep_enough_in_the_box_and_clear_of_every_cut_on_their_way(plans):
    for plan in plans:
        by_id = {piece.id: piece for piece in plan.sawing.pieces}
        for stone, home in zip(plan.stones, plan.sawing.stone_pieces, strict=True):
            spots, piece = corners(stone), by_id[home]
            assert (np.abs(spots) <= np.array(BOX_MM) / 2.0 - SKIN + 1e-7).all()
            while piece.from_cut is not None:
                cut = plan.sawing.cuts[piece.from_cut]
                away = spots @ cut.plane.normal - cut.plane.offset
                beyond = away if piece.side == "above" else -away
                assert beyond.min() >= ALLOWANCE - 1e-6
                piece = by_id[cut.piece]
        assert len(set(plan.sawing.stone_pieces)) == len(plan.stones)


def test_pieces_and_kerfs_are_the_rough(plans):
    """Pieces of a box are convex; of a kerf the volume is by Simpson's rule over three sections."""
    for plan in plans:
        sawing = plan.sawing
        meshes = {piece.id: piece.mesh for piece in sawing.pieces}
        leaves = set(meshes) - {cut.piece for cut in sawing.cuts}
        assert set(sawing.stone_pieces) <= leaves
        left = sum(ConvexHull(meshes[one].vertices).volume for one in leaves)
        kerfs = sum(kerf_mm3(meshes[cut.piece], cut) for cut in sawing.cuts)
        assert left + kerfs == pytest.approx(np.prod(BOX_MM), rel=1e-3)


def kerf_mm3(mesh: Mesh, cut: SawCut) -> float:
    whole = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)

    def area(shift: float) -> float:
        at = (cut.plane.offset + shift * cut.kerf_mm) * cut.plane.normal
        rim = whole.section(cut.plane.normal, at).vertices
        flat = rim @ np.linalg.svd(rim - rim.mean(axis=0))[2][:2].T
        return float(ConvexHull(flat).volume)

    return cut.kerf_mm * (area(-0.5) + 4.0 * area(0.0) + area(0.5)) / 6.0


def test_the_document_keeps_to_the_schema_and_the_folder_is_complete(plain, folder):
    document = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    schema = files("optimizer.documents").joinpath("plan.schema.json").read_text(encoding="utf-8")
    jsonschema.validate(document, json.loads(schema))
    parts = [document, *document["alternatives"]]
    named = {
        part[key]
        for one in parts
        for kind in ("stones", "pieces", "offcuts")
        for part in one[kind]
        for key in ("mesh", "rough_file", "label")
        if key in part
    }
    assert all((folder / name).is_file() for name in named)
    meshes = [name for name in named if name.startswith("stones/")]
    assert len(meshes) == len(plain.stones)
    for name, stone in zip(sorted(meshes), plain.stones, strict=True):
        assert trimesh.load(folder / name).volume == pytest.approx(stone.volume_mm3, rel=1e-5)
    assert len(document["alternatives"]) == len(plain.alternatives) > 0


# --- as many as pay -------------------------------------------------------------------------------


def test_the_same_input_gives_the_same_plan(quick):
    one, other = plan_file(quick).values(), plan_file(planned(most=2)).values()
    assert {**one, "timing_s": 0} == {**other, "timing_s": 0}
    assert all(width(stone) >= SMALLEST_MM for stone in quick.stones)


def test_a_stop_keeps_the_best_so_far(quick):
    """Stopped once the first stone is laid: that one is the plan, checked as any."""
    laid = []
    watch = Watch(
        lambda: bool(laid),
        lambda stage, done, *_: laid.append(done) if stage == "placing the largest first" else None,
    )
    plan = planned(most=2, watch=watch)
    assert plan.interrupted
    assert (plan.status, len(plan.stones)) == ("found", 1)
    assert plan.audit
    assert 0.0 < plan.objective.value <= quick.objective.value
    assert not quick.interrupted


def test_what_the_saw_does_not_reach_is_no_plan(quick):
    shallow = replace(SHOP, saw_reach_mm=3.0)
    plan = planned(most=2, workshop=shallow)
    assert len(quick.stones) == 2
    assert all(cut.depth_mm <= 3.0 for cut in plan.sawing.cuts)
    assert len(plan.stones) == 1
    assert any("was given up" in text and "the saw reaches 3 mm" in text for text in plan.warnings)


# --- no plan --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def too_wide(small_quick) -> Plan:
    """A stone that fits, and one that fits in no box so low."""
    return planned(
        Wanted("ring", size=SizeDemand((6.0, 6.0)), count=(1, 1)),
        Wanted("brooch", size=SizeDemand((16.0, 16.0)), count=(1, 1)),
    )


def test_the_kind_of_stone_that_stands_in_the_way_is_named(too_wide):
    assert (too_wide.status, too_wide.stones) == ("not found", ())
    (reason,) = too_wide.ruled_out_by
    assert reason.demand == 'the wanted "brooch": 1 of them'
    assert width(reason.stone) == pytest.approx(6.0, abs=1e-6)
    said = 'The most that the search found: 0 of 1 "brooch", beside all else that is needed.'
    assert said in too_wide.warnings
    told = " ".join(summary(too_wide))
    assert "No plan with all the stones needed was found for this order" in told
    assert f"one stone or more fits: {reason.demand}. The heaviest: Round brilliant, 6.00" in told
    assert 'found to work: without the wanted "brooch"; all else as ordered' in told


def test_too_many_stones_are_told_with_how_many_were_found(small_quick):
    plan = planned(Wanted("ring", size=SizeDemand((6.5, 6.5)), count=(6, 6)), most=6)
    assert [reason.demand for reason in plan.ruled_out_by] == ['the wanted "ring": 6 of them']
    (count,) = re.findall(r'The most that the search found: (\d) of 6 "ring"', plan.warnings[0])
    assert 2 <= int(count) < 6
    changes = {near.changes[0].key: near for near in plan.nearest_orders}
    fewer, smaller = changes["count"], changes["width_mm"]
    assert fewer.changes == (OrderChange("", "count", (6, 6), (int(count),) * 2, "ring"),)
    assert len(fewer.stones) == int(count)
    assert len(smaller.stones) == 6
    least, most = smaller.changes[0].works
    assert least == most < 6.5
    assert [width(stone) for stone in smaller.stones] == pytest.approx([least] * 6, abs=1e-6)
    assert any("Stone 6 of nearest order 1" in check for check in plan.audit)


def test_where_no_stone_fits_the_demand_on_it_is_named(small_quick):
    plan = planned(most=2, size=SizeDemand((16.0, 17.0)))
    (reason,) = plan.ruled_out_by
    assert reason.demand == "the size: at least 16 mm wide"
    assert reason.stone.width_mm < 16.0
    (untried,) = plan.warnings  # quick effort has no work for them
    assert "crown 35, pavilion 41; the design: round-brilliant. More effort" in untried


def test_where_one_of_a_pair_fits_its_demands_are_not_what_stands_in_the_way(small_quick):
    pair = Wanted("ears", size=SizeDemand((6.9, 8.0)), count=(2, 2), pair_mm=0.1)
    asked = {**KNOWN, "workshop": SHOP, "several": Several(2), "wanted": (pair,)}
    rough = replace(rough_of(shapes.box((8.0, 8.0, 7.0))), scan_error_mm=0.05)
    plan = make_plan(rough, Order(**asked), effort="quick")
    assert plan.stones == ()
    assert [one.demand for one in plan.ruled_out_by] == ['the wanted "ears": 2 of them']
    (near,) = plan.nearest_orders
    assert [(change.key, change.works) for change in near.changes] == [
        ("count", (1, 1)),
        ("pair", None),
    ]
    assert len(near.stones) == 1


def test_where_the_clearance_leaves_nothing_no_other_demand_is_looked_into(small_quick):
    plan = planned(most=2, size=SizeDemand((2.0, 3.0)), workshop=replace(SHOP, clean_up_mm=50.0))
    assert (plan.status, plan.ruled_out_by, plan.bound.carat) == ("impossible", (), 0.0)
    assert any("leaves no room in the rough" in text for text in plan.warnings)


def test_each_stone_that_the_boundary_crosses_is_told_what_an_error_of_the_saw_does(listed):
    crossed = [stone.look_about is not None for stone in listed.stones]
    assert any(crossed)
    told = [line for line in summary(listed) if "Put the boundary" in line]
    numbers = [number for number, is_crossed in enumerate(crossed, 1) if is_crossed]
    assert [line.partition(".")[0] for line in told] == [f"Stone {number}" for number in numbers]
    assert all("If marking and sawing put it up to 0.10 mm" in line for line in told)
    written = plan_file(listed).values()
    assert written["boundary_look"] is None
    assert [stone["boundary_look"] is not None for stone in written["stones"]] == crossed
