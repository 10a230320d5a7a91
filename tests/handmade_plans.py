"""Plans made by hand: one six-sided stone in a known rough, two saw cuts, a colour boundary.

Nothing here searches. Every figure is right by construction or measured by the robust kernel, so
that tests can break one thing at a time.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import shapes
from scipy.spatial import ConvexHull

from optimizer.audit.common import RoughSolid
from optimizer.audit.containment import gap_to_outside
from optimizer.design.model import Body, Design, Outline, Parameter
from optimizer.guidance.model import Distance, Dop, DoppingFlat, Guidance, SawGuide
from optimizer.mesh import Floats, Mesh, Plane, volume
from optimizer.offers.bound import Bound
from optimizer.order import Order, SizeDemand, ZoneDemand
from optimizer.placement.model import Placement, Pose
from optimizer.placement.zone_view import ZoneView
from optimizer.plan_model import Plan, Stone
from optimizer.rough.model import Colour, Rough, Zone
from optimizer.sawing.model import Offcut, Piece, SawCut, SawPlan
from optimizer.sawing.piece_tree import cut_centre
from optimizer.solid import as_solid, saw
from optimizer.trade.materials import Material, load_material

LEAST_GIRDLE_MM = 0.2
PARAMETERS = {"crown": 0.2, "girdle": 0.03}
WIDTH_MM = 8.0
COVERED = {"designs": ["six-sided test stone"], "parameters": {}}  # by a bound


def six_sided_design() -> Design:
    """A six-sided step of two angles; parameters are shares of the width."""
    return Design(
        name="six-sided test stone",
        title="Six-sided test stone",
        summary="for tests",
        gear=96,
        parameters={
            "crown": Parameter("crown", 0.2, 0.1, 0.3),
            "girdle": Parameter("girdle", 0.03, 0.01, 0.1),
        },
        outline=Outline("a long hexagon", "straight"),
        rules=(),
    )


def six_sided_body(crown: float = 0.2, girdle: float = 0.03) -> Body:
    """A long hexagon 1.4 × 1 with a table, a girdle band and a pavilion that ends in a point."""
    outline = np.array([[0.7, 0], [0.4, 0.5], [-0.4, 0.5], [-0.7, 0], [-0.4, -0.5], [0.4, -0.5]])
    half = girdle / 2.0
    corners = [[x, y, z] for x, y in outline for z in (half, -half)]
    corners += [[0.6 * x, 0.6 * y, half + crown] for x, y in outline]
    corners.append([0.0, 0.0, -half - 0.42])
    return body_of(np.array(corners), girdle)


def body_of(corners: Floats, girdle_share: float) -> Body:
    """The convex body of these corners; facets are the hull's triangles by common plane."""
    solid = ConvexHull(corners)
    planes = np.round(solid.equations, 9)
    facets, facet_of_face = np.unique(planes, axis=0, return_inverse=True)
    triangles = corners[solid.simplices]
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    inward = np.einsum("ij,ij->i", across, solid.equations[:, :3]) < 0
    faces = np.where(inward[:, None], solid.simplices[:, ::-1], solid.simplices)
    normals = facets[:, :3] / np.linalg.norm(facets[:, :3], axis=1)[:, None]
    return Body(
        normals=normals,
        offsets=(corners @ normals.T).max(axis=0),
        vertices=corners,
        faces=faces.astype(np.int64),
        facet_of_face=facet_of_face.reshape(-1).astype(np.int64),
        facet_names=tuple(f"facet {k}" for k in range(len(facets))),
        rotations=np.array([np.eye(3), np.diag([-1.0, -1.0, 1.0])]),
        girdle_share=girdle_share,
        least_girdle_mm=LEAST_GIRDLE_MM,
    )


def rebuild(stone: Stone) -> Body:
    """What the design library does for its own designs."""
    return six_sided_body(**stone.parameters)


def quartz() -> Material:
    return load_material("quartz")


def rough_of(mesh: Mesh, zones: tuple[Zone, ...] = ()) -> Rough:
    """A mesh as a rough of quartz with 0.05 mm of scan error."""
    return Rough(
        scan="by-hand.ply",
        mesh=mesh,
        mm_per_unit=1.0,
        watertight_as_read=True,
        repairs=(),
        warnings=(),
        material=quartz(),
        weighed_ct=None,
        scan_error_mm=0.05,
        zones=zones,
        reference_faces=(),
        optic_axis=None,
        volume_mm3=volume(mesh),
    )


def stone_in(rough: Rough, pose: Pose, body: Body | None = None) -> Stone:
    """A stone at this pose with true figures; its clearance by the kernel (negative: none)."""
    body = body or six_sided_body(**PARAMETERS)
    placement = Placement(body, pose, 0.0)
    mesh = placement.mesh()
    clearance = gap_to_outside(mesh, RoughSolid.of(rough.mesh), 20.0)
    length, width, depth = np.ptp(body.vertices_at(pose.width), axis=0)
    mm3 = volume(mesh)
    carat = mm3 * rough.material.sg / 200.0
    return Stone(
        design=six_sided_design(),
        parameters=dict(PARAMETERS),
        placement=replace(placement, clearance_mm=clearance),
        length_mm=float(length),
        width_mm=float(width),
        depth_mm=float(depth),
        girdle_mm=max(LEAST_GIRDLE_MM, body.girdle_share * pose.width),
        volume_mm3=mm3,
        carat=carat,
        carat_range=(0.97 * carat, 1.03 * carat),
        bound=Bound(2.0 * carat, COVERED, (), ()),
    )


def sequential_saw_plan(rough: Rough, planes: tuple[Plane, ...], kerf_mm: float = 0.4) -> SawPlan:
    """Cuts one after the other through the piece below the last; every cap is kept."""
    pieces, cuts, mesh = [Piece(0, None, None, rough.mesh)], [], rough.mesh
    holder = 0
    for k, plane in enumerate(planes):
        centre = cut_centre(as_solid(mesh), plane)
        mesh, cap = saw(mesh, plane, kerf_mm)
        below, above = len(pieces), len(pieces) + 1
        pieces += [Piece(below, k, "below", mesh), Piece(above, k, "above", cap)]
        cuts.append(
            SawCut(holder, (below,), (above,), plane, centre, kerf_mm, 25.0, "keeps an offcut")
        )
        holder = below
    caps = [piece for piece in pieces if piece.side == "above"]
    return SawPlan(tuple(pieces), tuple(cuts), tuple(_offcut(p, rough) for p in caps), (holder,))


def _offcut(piece: Piece, rough: Rough) -> Offcut:
    mm3 = volume(piece.mesh)
    return Offcut(piece.id, piece.mesh, mm3, mm3 * rough.material.sg / 200.0)


# (rotation, translation) of every stone made here.
STONE_TO_SCAN = shapes.random_motion(np.random.default_rng(7), reach=30.0)
SMOKY, CLEAR = Colour("smoky", "#705040"), Colour("clear", "#f0f0f8")


def plane_in_scan(normal: tuple[float, float, float], offset: float) -> Plane:
    """A plane given in the stone frame, carried to the scan frame."""
    rotation, translation = STONE_TO_SCAN
    n = rotation @ (np.array(normal) / np.linalg.norm(normal))
    return Plane(n, offset + float(n @ translation))


def rough_ball(subdivisions: int = 4) -> Rough:
    """A ball of 12 mm radius about the stone's middle, with a boundary across the stone."""
    zone = Zone("break", plane_in_scan((1.0, 0.1, 0.05), 0.4), SMOKY, CLEAR)
    return rough_of(shapes.moved(shapes.icosphere(12.0, subdivisions), *STONE_TO_SCAN), (zone,))


@cache
def sound_plan(subdivisions: int = 4) -> Plan:
    """A plan that passes every check: one stone in a ball, two cuts, two offcuts."""
    rough = rough_ball(subdivisions)
    stone = stone_in(rough, Pose(WIDTH_MM, *STONE_TO_SCAN))
    top = float(stone.placement.body.vertices_at(WIDTH_MM)[:, 2].max())
    table_cut = plane_in_scan((0.0, 0.0, 1.0), top + 0.7001)
    end_cut = plane_in_scan((-1.0, 0.0, 0.0), stone.length_mm / 2.0 + 0.7001)
    sawing = sequential_saw_plan(rough, (table_cut, end_cut))
    return Plan(
        status="found",
        interrupted=False,
        seed=0,
        effort="quick",
        rough=rough,
        order=order_it_meets(),
        stones=(replace(stone, guidance=guidance_of(rough, stone, table_cut, sawing)),),
        sawing=sawing,
        saw_guide=saw_guide_of(sawing),
        bound=Bound(2.5 * stone.carat, COVERED, (), ()),
        ruled_out_by=(),
        warnings=(),
        audit=(),
        timing_s={},
    )


def order_it_meets() -> Order:
    """An order with every kind of demand, all of which ``sound_plan``'s stone meets."""
    return Order(
        designs=("six-sided test stone",),
        parameters={"crown": 0.2},
        size=SizeDemand(width_mm=(7.5, 8.5), length_mm=(11.0, 11.5), carat=(2.0, 8.0)),
        zone=ZoneDemand(
            "break",
            "smoky",
            share_percent=(40.0, 48.0),
            offset=(0.0, 0.2),
            tilt_deg=(0.0, 5.0),
            azimuth_deg=(-10.0, 10.0),
        ),
    )


def expected_zone_view(rough: Rough, stone: Stone) -> ZoneView:
    """The boundary seen from the stone, by the closed forms of the conventions."""
    plane = rough.zones[0].plane
    mesh = stone.placement.mesh()
    n = STONE_TO_SCAN[0].T @ plane.normal
    heights = mesh.vertices @ plane.normal
    middle, half = (heights.max() + heights.min()) / 2.0, np.ptp(heights) / 2.0
    kept = shapes.as_solid(mesh).trim_by_plane(tuple(plane.normal), plane.offset)
    return ZoneView(
        zone="break",
        colour="smoky",
        tilt_deg=float(np.degrees(np.arcsin(n[2]))),
        azimuth_deg=float(np.degrees(np.arctan2(n[1], n[0]))),
        offset=float((plane.offset - middle) / half),
        share_percent=100.0 * kept.volume() / volume(mesh),
    )


def guidance_of(
    rough: Rough, stone: Stone, table_cut: Plane | None, sawing: SawPlan | None = None
) -> Guidance:
    """The flat that ``table_cut`` leaves, or one ground half a millimetre above the table."""
    axis = stone.placement.pose.rotation[:, 2]
    top = float((stone.placement.mesh().vertices @ axis).max())
    flat = Plane(axis, table_cut.offset - 0.2) if table_cut else Plane(axis, top + 0.5)
    sawn_by = 0 if table_cut else None
    text = "The face above the table."
    sawing = sawing or sequential_saw_plan(rough, ())
    sawn_ct = volume(sawing.pieces[sawing.stone_pieces[0]].mesh) * rough.material.sg / 200.0
    return Guidance(
        flat=DoppingFlat(
            plane=flat,
            above_table_mm=flat.offset - top,
            sawn_by=sawn_by,
            depth_to_grind_mm=0.0,
            area_mm2=50.0,
            centre=STONE_TO_SCAN[1] + (flat.offset - axis @ STONE_TO_SCAN[1]) * axis,
            circle_mm=8.0,
            text=text,
        ),
        dop=Dop(4.0, 6.0, "Any dop of 4 to 6 mm."),
        marks=(),
        zone=expected_zone_view(rough, stone) if rough.zones else None,
        tiers=(),
        gear=96,
        ladder=(("rough", rough.carat), ("sawn", sawn_ct), ("finished", stone.carat)),
        cautions=(),
    )


def with_guidance(plan: Plan, **changes: object) -> Plan:
    """The plan, its first stone's guidance changed."""
    first, *others = plan.stones
    assert first.guidance is not None
    guided = replace(first, guidance=replace(first.guidance, **changes))
    return replace(plan, stones=(guided, *others))


def saw_guide_of(sawing: SawPlan) -> SawGuide:
    """One caliper distance for each cut, and no marks."""
    return SawGuide((), tuple((_distance(cut),) for cut in sawing.cuts))


def _distance(cut: SawCut) -> Distance:
    foot = cut.plane.normal * cut.plane.offset
    end = foot + 3.0 * cut.plane.normal
    return Distance("mark P", "the sawn face", foot, end, 3.0, "Measure along the surface.")


def empty_plan(status: str) -> Plan:
    """``sound_plan`` without its stone."""
    plan = sound_plan()
    return replace(
        plan,
        status=status,
        stones=(),
        sawing=SawPlan((Piece(0, None, None, plan.rough.mesh),), (), (), ()),
        saw_guide=None,
        bound=None,
    )
