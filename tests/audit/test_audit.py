"""A plan that is right passes; each thing broken in turn is refused by the check named for it."""

from dataclasses import replace

import handmade_plans
import numpy as np
import pytest
import shapes
from handmade_plans import (
    STONE_TO_SCAN,
    WIDTH_MM,
    empty_plan,
    plane_in_scan,
    rough_of,
    six_sided_body,
    sound_plan,
    stone_in,
)

from optimizer.audit import audit
from optimizer.audit.consistency import guidance_fits, rough_is_weighed
from optimizer.audit.cuts import stones_are_apart
from optimizer.audit.pieces import piece_solids, pieces_add_up, require_closed
from optimizer.design.model import Body
from optimizer.errors import AuditError
from optimizer.mesh import Mesh, Plane
from optimizer.offers.bound import Bound
from optimizer.order import SizeDemand, Workshop
from optimizer.placement.model import Placement, Pose
from optimizer.plan_model import Plan, RuledOut, Stone
from optimizer.sawing.model import SawPlan
from optimizer.solid import as_solid


def checked(plan: Plan) -> tuple[str, ...]:
    return audit(plan, handmade_plans.rebuild)


def refused(plan: Plan, message: str) -> None:
    """The audit raises one line that has ``message`` in it."""
    with pytest.raises(AuditError, match=message) as caught:
        checked(plan)
    assert "\n" not in str(caught.value)
    assert "demanded: " in str(caught.value)


def with_stone(**changes: object) -> Plan:
    plan = sound_plan()
    return replace(plan, stones=(replace(plan.stones[0], **changes),))


def with_placement(**changes: object) -> Plan:
    return with_stone(placement=replace(sound_plan().stones[0].placement, **changes))


def with_pose(**changes: object) -> Plan:
    return with_placement(pose=replace(sound_plan().stones[0].placement.pose, **changes))


def with_body(**changes: object) -> Plan:
    return with_placement(body=replace(six_sided_body(), **changes))


def with_zone(**changes: object) -> Plan:
    order = sound_plan().order
    return replace(sound_plan(), order=replace(order, zone=replace(order.zone, **changes)))


def with_order(**changes: object) -> Plan:
    return replace(sound_plan(), order=replace(sound_plan().order, **changes))


def with_sawing(**changes: object) -> Plan:
    return replace(sound_plan(), sawing=replace(sound_plan().sawing, **changes))


def with_cut(index: int, **changes: object) -> Plan:
    cuts = list(sound_plan().sawing.cuts)
    cuts[index] = replace(cuts[index], **changes)
    return with_sawing(cuts=tuple(cuts))


def with_guidance(**changes: object) -> Plan:
    return handmade_plans.with_guidance(sound_plan(), **changes)


# --- what is right ----------------------------------------------------------------------------


def test_a_good_plan_passes_and_says_what_was_measured():
    told = checked(sound_plan())
    everything = " ".join(told)
    assert len(told) == 18
    assert all(sentence.endswith(".") and not sentence[0].islower() for sentence in told)
    assert f"{sound_plan().stones[0].carat:.6f} ct" in everything
    gap = sound_plan().stones[0].placement.clearance_mm
    assert f"{gap:.6f} mm, with 0.25 mm demanded" in everything


def test_the_clearance_in_a_ball_is_the_closed_form():
    # corners lie at most 5.6 mm out; a ball's mesh lies within its radius, so the gap is under
    # 12 − 5.6 and over that less the sag of a triangle (side a: a²/(6·12) at its middle)
    clearance = sound_plan(5).stones[0].placement.clearance_mm
    assert 6.4 - 0.02 < clearance < 6.4


@pytest.mark.parametrize("kind", ["pebble", "bent", "notched", "slab", "crystal"])
def test_a_stone_in_any_rough_passes_without_cuts(kind):
    places = {"bent": (15.0, 2.0, 0.0), "notched": (0.0, 0.0, -3.0), "crystal": (0.0, 0.0, -4.0)}
    at = np.array(places.get(kind, (0.0, 0.0, 0.0)))
    checked(_uncut(rough_of(shapes.all_rough(1)[kind]), Pose(2.0, np.eye(3), at)))


def _uncut(rough, pose: Pose) -> Plan:
    """The stone of ``pose`` in a rough, nothing sawn, nothing asked."""
    plan = sound_plan()
    stone = stone_in(rough, pose)
    lone = handmade_plans.sequential_saw_plan(rough, ())
    order = replace(plan.order, size=SizeDemand(), zone=None)
    return replace(
        plan,
        rough=rough,
        order=order,
        stones=(replace(stone, guidance=handmade_plans.guidance_of(rough, stone, None)),),
        sawing=lone,
        saw_guide=handmade_plans.saw_guide_of(lone),
        bound=None,
    )


# --- the stone as a solid ---------------------------------------------------------------------


def test_improper_rotation():
    refused(with_pose(rotation=STONE_TO_SCAN[0] @ np.diag([1.0, 1.0, -1.0])), "turned, not bent")


def test_rotation_bent_by_1e_11():
    refused(with_pose(rotation=STONE_TO_SCAN[0] * (1.0 + 1e-11)), "turned, not bent")


def test_translation_not_finite():
    refused(with_pose(translation=np.array([0.0, np.nan, 0.0])), "finite pose")


def test_width_not_positive():
    refused(with_pose(width=0.0), "has a width")


def test_mirrored_body():
    body = six_sided_body()
    flip = np.array([-1.0, 1.0, 1.0])
    lopsided = body.vertices + np.array([0.02, 0.0, 0.0]) * (body.vertices[:, 2:] > 0.1)
    refused(with_body(vertices=lopsided * flip, faces=body.faces[:, ::-1]), "rebuilt from its")


def test_body_wound_inward():
    refused(with_body(faces=six_sided_body().faces[:, ::-1]), "wound outward")


def test_body_with_a_triangle_missing():
    refused(with_body(faces=six_sided_body().faces[1:]), "is closed")


def test_body_with_a_dent():
    body = six_sided_body()
    corners = body.vertices.copy()
    corners[-1] = [0.0, 0.0, 0.05]
    refused(with_body(vertices=corners), "is convex")


def test_body_off_by_a_nanometre():
    body = six_sided_body()
    refused(with_body(vertices=body.vertices * (1.0 + 1e-9)), "rebuilt from its")


def test_parameters_of_another_stone():
    refused(with_stone(parameters={"crown": 0.21, "girdle": 0.03}), "rebuilt from its")


def test_parameter_out_of_its_range():
    refused(with_stone(parameters={"crown": 0.31, "girdle": 0.03}), "crown: 0.31 stated")


def test_parameter_unknown_to_the_design():
    refused(with_stone(parameters={"crwn": 0.2}), "crwn is stated")


# --- the stone in the rough -------------------------------------------------------------------


def in_rough(mesh: Mesh, pose: Pose | None = None, clearance_mm: float | None = None) -> Plan:
    """The good stone, uncut, in another rough (in the stone's frame), clearance as if all right."""
    rough = rough_of(shapes.moved(mesh, *STONE_TO_SCAN))
    plan = _uncut(rough, pose or Pose(WIDTH_MM, *STONE_TO_SCAN))
    stone = plan.stones[0]
    stated = 0.25 if clearance_mm is None else clearance_mm
    laid = replace(stone.placement, clearance_mm=stated)
    return replace(plan, stones=(replace(stone, placement=laid),))


def test_a_stone_a_micrometre_past_the_skin():
    length = six_sided_body().vertices_at(WIDTH_MM)[:, 0].max() * 2.0
    just_fits = shapes.box((length + 0.5, 20.0, 20.0))
    checked(in_rough(just_fits))
    shift = STONE_TO_SCAN[1] + STONE_TO_SCAN[0] @ np.array([1.1e-6, 0.0, 0.0])
    refused(in_rough(just_fits, Pose(WIDTH_MM, STONE_TO_SCAN[0], shift)), "keeps the skin")
    nudge = STONE_TO_SCAN[1] + STONE_TO_SCAN[0] @ np.array([0.9e-6, 0.0, 0.0])
    checked(in_rough(just_fits, Pose(WIDTH_MM, STONE_TO_SCAN[0], nudge)))


@pytest.mark.parametrize("share", [1e-2, 1e-4, 1e-6, 1e-9])
def test_a_needle_between_the_corners(share):
    ball = shapes.icosphere(12.0, 4)
    tip = np.array([0.3, 0.2, 0.05])  # within the stone, far from all its corners
    refused(in_rough(shapes.with_needle(ball, 100, tip, share)), "lies in the rough|the skin")


@pytest.mark.parametrize("skin", [0.05, 0.0])
def test_a_needle_right_through_the_stone_is_seen_whatever_the_skin(skin):
    ball = shapes.icosphere(12.0, 4)
    centre = ball.triangles[100].mean(axis=0)
    pricked = shapes.with_needle(ball, 100, -0.9 * centre, 1e-8)
    plan = in_rough(pricked, clearance_mm=skin)
    workshop = replace(plan.order.workshop, clean_up_mm=0.0)
    rough = replace(plan.rough, scan_error_mm=skin)
    refused(replace(plan, rough=rough, order=replace(plan.order, workshop=workshop)), "the skin")


def test_a_needle_that_stops_short_is_no_harm():
    ball = shapes.icosphere(12.0, 4)
    corner = ball.triangles[100].mean(axis=0)
    checked(in_rough(shapes.with_needle(ball, 100, 0.95 * corner, 1e-6)))


def test_a_stone_that_just_fits_without_skin_passes():
    corners = six_sided_body().vertices_at(WIDTH_MM)
    plan = in_rough(shapes.hull(corners * 1.0), clearance_mm=0.0)
    workshop = replace(plan.order.workshop, clean_up_mm=0.0)
    order = replace(plan.order, workshop=workshop)
    checked(replace(plan, rough=replace(plan.rough, scan_error_mm=0.0), order=order))


def test_a_stone_wholly_outside():
    far = STONE_TO_SCAN[1] + np.array([500.0, 0.0, 0.0])
    refused(
        in_rough(shapes.icosphere(12.0, 3), Pose(WIDTH_MM, STONE_TO_SCAN[0], far)),
        "lies in the rough",
    )


def test_a_stone_inside_a_hollow():
    holed = shapes.hollow(shapes.icosphere(12.0, 3), shapes.icosphere(7.0, 2))
    refused(in_rough(holed), "lies in the rough: 1 of its volume")


def test_a_small_hollow_inside_the_stone():
    holed = shapes.hollow(shapes.icosphere(12.0, 3), shapes.scaled(shapes.icosphere(1.0, 1), 1e-4))
    refused(in_rough(holed), "keeps the skin")


def test_an_edge_that_crosses_a_facet_with_all_corners_inside():
    # the V's line passes 0.05 mm below the table, between its corners
    top = six_sided_body().vertices_at(WIDTH_MM)[:, 2].max()
    grooved = shapes.notched((20.0, 16.0, 16.0), 8.0 - top + 0.05)
    refused(in_rough(grooved), "lies in the rough|keeps the skin")


def test_clearance_overstated():
    true = sound_plan().stones[0].placement.clearance_mm
    refused(with_placement(clearance_mm=true + 2e-6), "stated clearance")
    checked(with_placement(clearance_mm=true + 0.9e-6))
    checked(with_placement(clearance_mm=true - 1e-3))


def test_clearance_stated_under_the_skin_or_not_at_all():
    refused(with_placement(clearance_mm=0.2), "states its clearance")
    refused(with_placement(clearance_mm=float("nan")), "stated clearance|states its clearance")


def test_an_open_rough():
    plan = sound_plan()
    mesh = Mesh(plan.rough.mesh.vertices, plan.rough.mesh.faces[1:])
    refused(replace(plan, rough=replace(plan.rough, mesh=mesh)), "the rough is a closed solid")


# --- figures ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("figure", "name"),
    [
        ("length_mm", "length"),
        ("width_mm", "width"),
        ("depth_mm", "depth"),
        ("girdle_mm", "girdle"),
        ("volume_mm3", "volume"),
        ("carat", "weight"),
    ],
)
def test_a_wrong_figure(figure, name):
    true = getattr(sound_plan().stones[0], figure)
    refused(with_stone(**{figure: true + 2e-6}), f"'s {name}: .* stated, .* measured")


def test_range_of_weight_not_ordered_or_without_the_weight():
    carat = sound_plan().stones[0].carat
    refused(with_stone(carat_range=(carat + 0.1, carat - 0.1)), "range of weight")
    refused(with_stone(carat_range=(carat + 0.1, carat + 0.2)), "range of weight")
    refused(with_stone(carat_range=(carat, float("inf"))), "range of weight")


def test_rough_wrongly_weighed():
    plan = sound_plan()
    wrong = replace(plan.rough, volume_mm3=plan.rough.volume_mm3 * (1 + 1e-8))
    refused(replace(plan, rough=wrong), "the rough's volume")


# --- demands ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "name"),
    [
        (SizeDemand(width_mm=(8.1, 9.0)), "width as ordered"),
        (SizeDemand(length_mm=(10.0, 11.1)), "length as ordered"),
        (SizeDemand(carat=(3.0, 4.0)), "weight as ordered"),
    ],
)
def test_size_window_missed(size, name):
    refused(with_order(size=size), name)


def test_girdle_too_thin_in_mm_or_percent():
    refused(with_order(least_girdle_mm=0.2401), "girdle as ordered")
    refused(with_order(least_girdle_percent=3.001), "girdle as ordered")
    checked(with_order(least_girdle_percent=3.0, least_girdle_mm=0.24))


def test_another_design_or_parameter_than_ordered():
    refused(with_order(designs=("oval",)), "design: six-sided test stone; demanded: one of oval")
    refused(with_order(parameters={"crown": 0.21}), "crown: 0.2 stated; demanded: 0.21")


def test_an_ordered_girdle_gives_way_to_the_thicker_minimum():
    checked(with_order(parameters={"girdle": 0.02}, least_girdle_percent=3.0))
    refused(with_order(parameters={"girdle": 0.02}), "girdle: 0.03 stated; demanded: 0.02")


@pytest.mark.parametrize(
    ("demand", "name"),
    [
        ({"share_percent": (43.8, 60.0)}, "share"),
        ({"offset": (0.08, 1.0)}, "offset"),
        ({"tilt_deg": (-5.0, 2.8)}, "tilt"),
        ({"azimuth_deg": (-10.0, 5.7)}, "azimuth"),
        ({"azimuth_deg": (90.0, 270.0)}, "azimuth"),
        ({"keep_clear_mm": 0.0}, "keeps clear of the boundary"),
        ({"name": "crack"}, "smoky of crack"),
        ({"colour": "green"}, "green of break"),
        ({"colour": "clear"}, "share|offset|azimuth"),
    ],
)
def test_zone_demand_missed(demand, name):
    refused(with_zone(**demand), name)


def test_azimuth_range_runs_across_the_half_turn():
    checked(with_zone(azimuth_deg=(350.0, 370.0)))
    refused(with_zone(azimuth_deg=(10.0, 360.0)), "azimuth")


def test_azimuth_is_free_where_the_boundary_lies_level():
    plan = sound_plan()
    level = replace(plan.rough.zones[0], boundary=plane_in_scan((0.0, 0.001, 1.0), 0.0))
    rough = replace(plan.rough, zones=(level,))
    zone = replace(
        plan.order.zone, share_percent=None, offset=None, tilt_deg=(89.0, 90.0), azimuth_deg=(0, 1)
    )
    order = replace(plan.order, zone=zone)
    told = checked(handmade_plans.with_guidance(replace(plan, rough=rough, order=order), zone=None))
    assert any("azimuth free" in sentence for sentence in told)


def test_boundary_kept_clear_by_the_asked_distance():
    plan = sound_plan()
    beside = replace(plan.rough.zones[0], boundary=plane_in_scan((1.0, 0.0, 0.0), -5.9))
    plan = replace(plan, rough=replace(plan.rough, zones=(beside,)))
    plan = handmade_plans.with_guidance(plan, zone=None)

    def asking(mm: float) -> Plan:
        zone = replace(plan.order.zone, share_percent=None, offset=None, keep_clear_mm=mm)
        return replace(plan, order=replace(plan.order, zone=zone))

    checked(asking(0.3))  # the stone's end lies at −5.6
    refused(asking(0.30001), "keeps clear of the boundary")


# --- cuts and pieces ------------------------------------------------------------------------------


def test_a_cut_that_grazes_the_stone():
    plan = sound_plan()
    top = six_sided_body().vertices_at(WIDTH_MM)[:, 2].max()
    for gap, verdict in ((0.6999, "cut 1 is clear of stone 1"), (-0.5, "cut 1 is clear of")):
        grazing = plane_in_scan((0.0, 0.0, 1.0), float(top) + gap)
        sawing = handmade_plans.sequential_saw_plan(plan.rough, (grazing,))
        refused(replace(plan, sawing=sawing), verdict)


def test_another_kerf_than_the_workshop_has():
    refused(with_order(workshop=Workshop(kerf_mm=0.5)), "the kerf of cut 1")


def test_a_cut_moved_after_its_pieces_were_made():
    plane = sound_plan().sawing.cuts[0].plane
    refused(with_cut(0, plane=replace(plane, offset=plane.offset + 0.01)), "pieces below cut 1")


def test_a_normal_that_is_not_of_unit_length():
    plane = sound_plan().sawing.cuts[1].plane
    longer = replace(plane, normal=plane.normal * 1.001, offset=plane.offset * 1.001)
    refused(with_cut(1, plane=longer), "pieces (below|above) cut 2")
    barely = replace(plane, normal=plane.normal * (1 + 1e-8), offset=plane.offset * (1 + 1e-8))
    refused(with_cut(1, plane=barely), "the normal of cut 2")


def test_a_cut_deeper_than_the_saw_reaches_or_less_than_it_must():
    refused(with_order(workshop=Workshop(saw_reach_mm=24.0)), "the depth of cut 1")
    refused(with_cut(0, depth_mm=10.0), "the depth of cut 1")


def test_more_cuts_than_the_workshop_makes():
    refused(
        with_order(workshop=Workshop(most_cuts=1)),
        "number of cuts for stone 1 alone or its group: 2",
    )


def test_a_piece_left_out():
    refused(with_sawing(pieces=sound_plan().sawing.pieces[:-1]), "pieces are those that the cuts")


def test_a_piece_twice():
    pieces = sound_plan().sawing.pieces
    refused(with_sawing(pieces=(*pieces, pieces[-1])), "the pieces' ids")


def test_a_piece_left_out_of_piece_and_cut_alike():
    saw = sound_plan().sawing
    cuts = (replace(saw.cuts[0], above=()), saw.cuts[1])
    pieces = tuple(p for p in saw.pieces if p.id != 2)
    offcuts = tuple(o for o in saw.offcuts if o.piece != 2)
    refused(with_sawing(cuts=cuts, pieces=pieces, offcuts=offcuts), "pieces above cut 1")


def test_a_piece_on_the_wrong_side():
    saw = sound_plan().sawing
    swapped = [
        replace(p, mesh=saw.pieces[3 - p.id].mesh) if p.id in (1, 2) else p for p in saw.pieces
    ]
    refused(with_sawing(pieces=tuple(swapped)), "pieces below cut 1")


def test_two_halves_of_a_ball_exchanged():
    """Their volumes are the same: only where they lie tells them apart."""
    rough = sound_plan().rough
    saw = handmade_plans.sequential_saw_plan(rough, (plane_in_scan((1.0, 0.0, 0.0), 0.0),))
    whole, below, above = saw.pieces
    swapped = (whole, replace(below, mesh=above.mesh), replace(above, mesh=below.mesh))
    solids = piece_solids(saw, as_solid(rough.mesh), rough.mesh)
    assert "add up to the rough" in pieces_add_up(saw, solids)
    with pytest.raises(AuditError, match="piece 1 lies below its cut: it reaches 12"):
        pieces_add_up(replace(saw, pieces=swapped), solids)


def test_a_piece_moved_beside_its_place():
    saw = sound_plan().sawing
    cap = saw.pieces[2]
    across = STONE_TO_SCAN[0] @ np.array([0.5, 0.0, 0.0])
    pieces = list(saw.pieces)
    pieces[2] = replace(cap, mesh=shapes.moved(cap.mesh, np.eye(3), across))
    refused(with_sawing(pieces=tuple(pieces)), "part of the piece it was cut from")


def test_the_first_piece_is_not_the_rough():
    saw = sound_plan().sawing
    refused(with_sawing(pieces=saw.pieces[1:]), "the first piece is the rough")
    shrunk = replace(saw.pieces[0], mesh=shapes.scaled(saw.pieces[0].mesh, 0.99999))
    refused(with_sawing(pieces=(shrunk, *saw.pieces[1:])), "piece 0 is the rough")


def test_a_cut_through_a_piece_that_is_gone():
    refused(with_cut(1, piece=0), "cut 2 has a piece to go through")


def test_cuts_in_an_order_that_can_not_be_sawn():
    saw = sound_plan().sawing
    turned = tuple(
        replace(p, from_cut=None if p.from_cut is None else 1 - p.from_cut) for p in saw.pieces
    )
    refused(with_sawing(cuts=saw.cuts[::-1], pieces=turned), "cut 1 has a piece")


def test_a_stone_in_another_piece_than_named():
    saw = sound_plan().sawing
    refused(with_sawing(stone_pieces=(4,), offcuts=()), "stone 1 lies in piece 4")
    refused(with_sawing(stone_pieces=(1,)), "stones and offcuts lie in uncut pieces")
    refused(with_sawing(stone_pieces=(saw.offcuts[0].piece,)), "stones and offcuts lie in uncut")
    refused(with_sawing(stone_pieces=()), "each stone has a piece")


def test_an_offcut_wrongly_weighed_or_of_another_piece():
    one, two = sound_plan().sawing.offcuts
    heavier = replace(one, carat=one.carat * (1 + 1e-8))
    refused(with_sawing(offcuts=(heavier, two)), "offcut from piece 2: weight")
    bigger = replace(one, volume_mm3=one.volume_mm3 * (1 + 1e-8))
    refused(with_sawing(offcuts=(bigger, two)), "offcut from piece 2: volume")
    refused(with_sawing(offcuts=(replace(one, mesh=two.mesh), two)), "piece 2 is that piece")


# --- two stones -----------------------------------------------------------------------------------


def two_stones(apart_mm: float, cut_at_mm: float = 0.0) -> Plan:
    """Two like stones side by side in a box, parted by one cut."""
    plan = sound_plan()
    rough = rough_of(shapes.moved(shapes.box((20.0, 40.0, 20.0)), *STONE_TO_SCAN))
    half = WIDTH_MM / 2.0 + apart_mm / 2.0
    stones = tuple(
        stone_in(
            rough,
            Pose(
                WIDTH_MM,
                STONE_TO_SCAN[0],
                STONE_TO_SCAN[1] + STONE_TO_SCAN[0] @ np.array([0.0, y, 0.0]),
            ),
        )
        for y in (-half, half)
    )
    sawing = handmade_plans.sequential_saw_plan(rough, (plane_in_scan((0.0, 1.0, 0.0), cut_at_mm),))
    sawing = replace(sawing, stone_pieces=(1, 2), offcuts=())
    homes = (replace(sawing, stone_pieces=(piece,)) for piece in sawing.stone_pieces)
    guided = tuple(
        replace(stone, guidance=handmade_plans.guidance_of(rough, stone, None, home))
        for stone, home in zip(stones, homes, strict=True)
    )
    return replace(
        plan,
        rough=rough,
        order=replace(plan.order, zone=None, size=SizeDemand()),
        stones=guided,
        sawing=sawing,
        saw_guide=handmade_plans.saw_guide_of(sawing),
        bound=None,
    )


def test_two_stones_parted_by_one_cut():
    told = checked(two_stones(1.4))
    assert any("1.400000 mm apart, with 1.4 mm demanded" in sentence for sentence in told)


def test_two_stones_too_near_each_other_or_to_the_cut():
    refused(two_stones(1.39), "cut 1 is clear of stone 1")
    refused(two_stones(1.4, cut_at_mm=0.01), "cut 1 is clear of stone 2")
    uncut = two_stones(1.0)
    lone = SawPlan(uncut.sawing.pieces[:1], (), (), (0, 0))
    refused(replace(uncut, sawing=lone), "stones and offcuts lie in uncut pieces, one in each")


def test_stones_apart_names_the_two():
    meshes = [stone.placement.mesh() for stone in two_stones(1.39).stones]
    with pytest.raises(AuditError, match=r"stones 1 and 2 are apart: 1\.39"):
        stones_are_apart(meshes, Workshop())


# --- statements that must agree ----------------------------------------------------------------


def test_status_and_stones_disagree():
    refused(replace(sound_plan(), status="not found"), "the status fits the stones")
    refused(replace(empty_plan("not found"), status="found"), "the status fits the stones")
    refused(replace(sound_plan(), status="maybe"), 'the status: "maybe"')


def test_a_plan_without_a_stone_is_empty():
    for status in ("not found", "impossible"):
        assert checked(empty_plan(status))
    refused(
        replace(empty_plan("impossible"), sawing=sound_plan().sawing), "without a stone is empty"
    )
    guided = replace(empty_plan("not found"), saw_guide=sound_plan().saw_guide)
    refused(guided, "without a stone is empty")
    bare = replace(sound_plan().stones[0], guidance=None)
    refused(replace(sound_plan(), stones=(bare,)), "each stone has its guidance: 1 without")


def test_the_nearest_stones_are_checked_too():
    def ruled_out(stone: Stone) -> Plan:
        return replace(empty_plan("not found"), ruled_out_by=(RuledOut("the size", stone),))

    good = sound_plan().stones[0]
    assert any("ruled-out stone 1 lies in the rough" in s for s in checked(ruled_out(good)))
    away = Placement(
        good.placement.body, Pose(WIDTH_MM, STONE_TO_SCAN[0], STONE_TO_SCAN[1] + 9.0), 0.3
    )
    refused(ruled_out(replace(good, placement=away)), "ruled-out stone 1 lies in the rough")
    refused(ruled_out(replace(good, carat=9.0)), "ruled-out stone 1's weight")


def test_a_bound_under_the_weight():
    carat = sound_plan().stones[0].carat
    low = Bound(carat * (1 - 1e-8), {}, (), ())
    refused(with_stone(bound=low), "the bound of stone 1")
    refused(replace(sound_plan(), bound=low), "the bound of the plan")
    refused(with_stone(bound=replace(low, carat=float("nan"))), "the bound of stone 1")


def test_stones_heavier_than_the_rough():
    plan = with_stone(carat=sound_plan().rough.carat * 1.01)
    with pytest.raises(AuditError, match="no more than the rough"):
        rough_is_weighed(plan, plan.rough.volume_mm3)


def test_dopping_flat_off():
    flat = sound_plan().stones[0].guidance.flat
    leaning = replace(flat, plane=plane_in_scan((0.0, 1e-6, 1.0), 4.0))
    refused(with_guidance(flat=leaning), "parallel to the table")
    refused(with_guidance(flat=replace(flat, plane=flat.plane.flipped())), "parallel to the table")
    refused(with_guidance(flat=replace(flat, above_table_mm=0.6)), "flat above the table")
    refused(with_guidance(flat=replace(flat, sawn_by=1)), "flat against its cut")
    refused(with_guidance(flat=replace(flat, sawn_by=5)), "flat's cut: cut 6 of 2")


def test_dopping_flat_inside_the_stone():
    flat = sound_plan().stones[0].guidance.flat
    table = flat.plane.offset - flat.above_table_mm
    low = replace(flat, plane=replace(flat.plane, offset=table - 0.1), above_table_mm=-0.1)
    refused(with_guidance(flat=replace(low, sawn_by=None)), "the dopping flat: -0.1 mm above")


def test_dopping_flat_that_its_cut_leaves_at_a_slant():
    plan = sound_plan()
    cut = plan.sawing.cuts[0]
    normal = STONE_TO_SCAN[0] @ np.array([1e-5, 0.0, 1.0])
    middle = plan.stones[0].placement.pose.translation
    above = cut.plane.offset - cut.plane.normal @ middle  # the axis meets the face where it did
    slanted = with_cut(0, plane=Plane(normal, above + normal @ middle))
    with pytest.raises(AuditError, match="lean against its cut"):
        guidance_fits(slanted, plan.stones[0], plan.stones[0].guidance, None, 1.0, "stone 1")


def test_azimuth_stated_where_there_is_none():
    seen = replace(sound_plan().stones[0].guidance.zone, azimuth_deg=None)
    refused(with_guidance(zone=seen), "azimuth as stated: None stated")


@pytest.mark.parametrize("step", ["rough", "sawn", "finished"])
def test_ladder_off(step):
    ladder = dict(sound_plan().stones[0].guidance.ladder)
    wrong = tuple((ladder | {step: ladder[step] * 1.00001}).items())
    refused(with_guidance(ladder=wrong), f"the ladder's {step} weight")
    short = tuple((name, ct) for name, ct in ladder.items() if name != step)
    refused(with_guidance(ladder=short), "the ladder of weights")


def test_a_distance_that_is_not_between_its_points():
    guide = sound_plan().saw_guide
    first, (second,) = guide.distances
    wrong = replace(second, mm=second.mm + 1e-5)
    for distances, message in (
        ((first, (wrong,)), "cut 2, from mark P"),
        ((first,), "distances for each cut: 1 sets; demanded: 2"),
    ):
        refused(replace(sound_plan(), saw_guide=replace(guide, distances=distances)), message)


@pytest.mark.parametrize("figure", ["share_percent", "offset", "tilt_deg", "azimuth_deg"])
def test_zone_view_off(figure):
    seen = sound_plan().stones[0].guidance.zone
    wrong = replace(seen, **{figure: getattr(seen, figure) + 3e-5})
    refused(with_guidance(zone=wrong), "the zone's .* as stated")


def test_body_class_is_the_only_thing_shared():
    """The audit uses nothing of placement but its dataclasses, and nothing of sawing's geometry.

    It follows rays by the same tracer as the plan, which a renderer written elsewhere checks
    (tests/reference/test_optics_renderer.py), but shares nothing of how a boundary was chosen.
    """
    import ast
    from pathlib import Path

    import optimizer.audit as room

    imported = {
        (node.module, name.name)
        for file in Path(room.__file__).parent.glob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module
        for name in node.names
    }
    dataclass_beside_its_maker = ("optimizer.placement.zone_view", "ZoneView")
    used = {module for module, _ in imported - {dataclass_beside_its_maker}}
    stages = ("placement", "sawing", "design", "rough", "guidance", "optics", "report")
    behind = {m for m in used if m.startswith(tuple(f"optimizer.{s}" for s in stages))}
    tracer = {
        "boundary_forms", "eye", "face", "figures", "lights", "look_demands", "paths", "refraction",
        "shading", "zone_dyes",
    }  # fmt: skip
    shared = {m for m in behind if not m.endswith(".model")}
    assert shared == {"optimizer.design", *(f"optimizer.optics.{name}" for name in tracer)}
    assert Body.__module__ == "optimizer.design.model"


# --- pieces that are sawn on -------------------------------------------------------------------


@pytest.mark.parametrize("lack", [0, 1])
def test_a_piece_that_is_sawn_on_must_be_closed(lack):
    ball = sound_plan().rough.mesh
    require_closed(ball, "piece 1")
    doubled = Mesh(ball.vertices, np.vstack([ball.faces, ball.faces[:1]]))
    broken = (Mesh(ball.vertices, ball.faces[1:]), doubled)[lack]
    with pytest.raises(AuditError, match="piece 1 is a closed solid"):
        require_closed(broken, "piece 1")


def test_a_piece_that_is_sawn_on_must_be_wound_outward():
    ball = sound_plan().rough.mesh
    with pytest.raises(AuditError, match="piece 1 is wound outward"):
        require_closed(Mesh(ball.vertices, ball.faces[:, ::-1]), "piece 1")


def test_a_piece_that_is_sawn_on_is_asked():
    """Between the first cut and the last; the kernel is asked only about what is left."""
    saw = sound_plan().sawing
    between = [cut.piece for cut in saw.cuts if cut.piece != 0]
    assert between
    pieces = [
        replace(p, mesh=Mesh(p.mesh.vertices, p.mesh.faces[1:])) if p.id in between else p
        for p in saw.pieces
    ]
    refused(with_sawing(pieces=tuple(pieces)), f"piece {between[0]} is a closed solid")
