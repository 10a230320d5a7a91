"""A small plan made by hand: a box of rough, a thirteen-facet stone, one cut, one offcut kept."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import ConvexHull
from shapes import box, random_rotation

from optimizer import solid
from optimizer.design.model import Body, Design, Outline, Parameter
from optimizer.guidance.model import (
    DirectionView,
    Distance,
    Dop,
    DoppingFlat,
    Guidance,
    Mark,
    SawGuide,
    TierRow,
)
from optimizer.marking import picture
from optimizer.mesh import Floats, Mesh, Plane, volume
from optimizer.offers.bound import Bound
from optimizer.order import Order, SizeDemand, ZoneDemand
from optimizer.placement.model import (
    SURFACE,
    ActiveConstraint,
    ActiveConstraints,
    Contact,
    Placement,
    Pose,
)
from optimizer.placement.zone_view import ZoneView
from optimizer.plan_model import NearestOrder, OrderChange, Plan, RuledOut, Stone
from optimizer.rough.model import Colour, ReferenceFace, Repair, Rough, Zone
from optimizer.sawing.model import Offcut, Piece, SawCut, SawPlan
from optimizer.sawing.piece_tree import cut_centre
from optimizer.trade.materials import load_material

ROTATION = random_rotation(np.random.default_rng(7))
SHIFT = np.array([31.0, -12.0, 48.0])
SIZE = (20.0, 10.0, 9.0)
WIDTH = 6.0
KERF = 0.4


def to_scan(*point: float) -> Floats:
    """A point of the box's own frame in the scan frame."""
    return ROTATION @ np.array(point, float) + SHIFT


def plane_at(normal: tuple[float, float, float], offset: float) -> Plane:
    """The plane normal·x = offset of the box's own frame, in the scan frame."""
    return Plane.through(to_scan(*(offset * np.array(normal))), ROTATION @ np.array(normal, float))


def hand_made_body() -> Body:
    """A cut like a shed's roof: table, four crown, four girdle and four pavilion facets."""
    corners = [(x, y, z) for x in (-0.75, 0.75) for y in (-0.5, 0.5) for z in (-0.02, 0.02)]
    corners += [(x, y, 0.2) for x in (-0.45, 0.45) for y in (-0.3, 0.3)]
    corners += [(-0.3, 0.0, -0.36), (0.3, 0.0, -0.36)]
    points = np.array(corners)
    hull = ConvexHull(points)
    normals, owner = np.unique(hull.equations.round(9), axis=0, return_inverse=True)
    inward = np.einsum(
        "ij,ij->i",
        np.cross(
            points[hull.simplices[:, 1]] - points[hull.simplices[:, 0]],
            points[hull.simplices[:, 2]] - points[hull.simplices[:, 0]],
        ),
        hull.equations[:, :3],
    )
    faces = np.where(inward[:, None] < 0, hull.simplices[:, ::-1], hull.simplices)
    return Body(
        normals=normals[:, :3],
        offsets=-normals[:, 3],
        vertices=points,
        faces=faces.astype(np.int64),
        facet_of_face=owner.ravel().astype(np.int64),
        facet_names=tuple(f"facet {k}" for k in range(len(normals))),
        rotations=np.eye(3)[None],
        girdle_share=0.04,
        least_girdle_mm=0.2,
    )


def hand_made_rough() -> Rough:
    plain = box(SIZE)
    mesh = Mesh(plain.vertices @ ROTATION.T + SHIFT, plain.faces)
    zone = Zone(
        "split",
        plane_at((1.0, 0.0, 0.0), -4.5),
        Colour("violet", "#8a5cc2"),
        Colour("yellow", "#e8b83a"),
    )
    return Rough(
        scan="box.ply",
        mesh=mesh,
        mm_per_unit=1.0,
        watertight_as_read=True,
        repairs=(Repair("3 corners lay twice in the file and were joined"),),
        warnings=(),
        material=load_material("quartz"),
        weighed_ct=23.8,
        scan_error_mm=0.05,
        zones=(zone,),
        reference_faces=(
            ReferenceFace("base", plane_at((0.0, 0.0, -1.0), 4.5)),
            ReferenceFace("far end", plane_at((1.0, 0.0, 0.0), 10.0)),
        ),
        optic_axis=ROTATION[:, 0],
        volume_mm3=float(np.prod(SIZE)),
    )


def hand_made_stone() -> Stone:
    body = hand_made_body()
    pose = Pose(WIDTH, ROTATION, to_scan(-4.0, 0.2, 0.4))
    cubic = volume(body.mesh_at(WIDTH))
    carat = cubic * load_material("quartz").sg / 200.0
    parameters = {"table": 0.6, "crown": 40.0}
    design = Design(
        name="roof",
        title="Roof <cut>",
        summary="A plain shape for tests",
        gear=96,
        parameters={name: Parameter(name, v, v, v) for name, v in parameters.items()},
        outline=Outline("a rectangle", "straight"),
        rules=(),
    )
    return Stone(
        design=design,
        parameters=parameters,
        placement=Placement(body, pose, 1.4567891),
        length_mm=9.0,
        width_mm=WIDTH,
        depth_mm=0.56 * WIDTH,
        girdle_mm=0.24,
        volume_mm3=cubic,
        carat=carat,
        carat_range=(carat - 0.05, carat + 0.05),
        bound=Bound(carat * 1.25, {"designs": ["roof"], "parameters": {}}, ("window",), ("zone",)),
        held=hand_made_holding(),
    )


def hand_made_holding() -> ActiveConstraints:
    """One place of the surface, as a search would state it."""
    contact = Contact(to_scan(0.0, 1.0, 4.5), to_scan(0.0, 1.0, 4.25), (0, 1, 2), 0.7)
    return ActiveConstraints(
        False, 1.5, 1e-11, (ActiveConstraint(SURFACE, "", (contact,), 0.7, "mm", 0.3, 0.206),)
    )


def hand_made_sawing(rough: Rough) -> SawPlan:
    plane = plane_at((1.0, 0.0, 0.0), 2.0)
    below, above = solid.saw(rough.mesh, plane, KERF)
    cubic = volume(above)
    centre = cut_centre(solid.as_solid(rough.mesh), plane)
    return SawPlan(
        pieces=(
            Piece(0, None, None, rough.mesh),
            Piece(1, 0, "below", below),
            Piece(2, 0, "above", above),
        ),
        cuts=(SawCut(0, (1,), (2,), plane, centre, KERF, 9.0, "It frees an end worth keeping."),),
        offcuts=(Offcut(2, above, cubic, cubic * rough.material.sg / 200.0),),
        stone_pieces=(1,),
    )


def hand_made_guidance(rough: Rough, stone: Stone) -> Guidance:
    normal = ROTATION[:, 2]
    top = stone.placement.pose.translation + 0.2 * WIDTH * normal
    flat = DoppingFlat(
        Plane.through(top + 0.8 * normal, normal), 0.8, None, 2.1, 60.0, top, 6.5,
        "Grind a face parallel to the table, 0.80 mm above the finished table.",
    )  # fmt: skip
    loop = np.array([to_scan(-4, -5, -4.5), to_scan(-4, 5, -4.5), to_scan(-4, 5, 4.5)])
    marks = (
        Mark("axis in", to_scan(-4, 0.2, 4.5), None, "Where the stone's axis leaves the top."),
        Mark("width", to_scan(-4, 0, 4.5), ROTATION[:, 1], "The line across the stone.", loop),
    )
    tiers = (
        TierRow(1, "pavilion sides", "pavilion", 41.5, (24, 72), "a centre line"),
        TierRow(2, "girdle", "girdle", 90.0, (0, 24, 48, 72), "the width"),
        TierRow(3, "table", "table", 0.0, (), "60 % of the width"),
    )
    return Guidance(
        flat=flat,
        dop=Dop(3.0, 4.5, "Take a dop of 3 to 4.5 mm."),
        marks=marks,
        zone=ZoneView("split", "violet", 0.0, 0.0, -0.11, 56.0),
        tiers=tiers,
        gear=96,
        ladder=(("rough", rough.carat), ("sawn", 14.0), ("finished", stone.carat)),
        cautions=("Wet cutting, never dry.", "Eye protection."),
        direction=DirectionView((("optic axis", 0.0),), 7.3, "table"),
    )


def hand_made_saw_guide() -> SawGuide:
    mark = Mark("axis out", to_scan(-4, 0.2, -4.5), None, "Where the axis leaves the base.")
    distance = Distance(
        "face far end", "point A on the line of cut 1", to_scan(10, 5, 4.5), to_scan(2, 5, 4.5),
        8.0, "Caliper from the face along the edge.",
    )  # fmt: skip
    return SawGuide((mark,), ((distance,),))


@pytest.fixture(scope="module", autouse=True)
def coarse_pictures() -> Iterator[None]:
    """The check's picture takes the longest of a page; its fine edges are tested elsewhere."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(picture, "_FINER", 1)
        yield


@pytest.fixture(scope="session")
def plan() -> Plan:
    rough, stone = hand_made_rough(), hand_made_stone()
    return Plan(
        status="found",
        interrupted=False,
        seed=0,
        effort="normal",
        rough=rough,
        order=Order(
            designs=("long-hexagon",), zone=ZoneDemand("split", "violet", tilt_deg=(-8, 8))
        ),
        stones=(replace(stone, guidance=hand_made_guidance(rough, stone)),),
        sawing=hand_made_sawing(rough),
        saw_guide=hand_made_saw_guide(),
        bound=stone.bound,
        ruled_out_by=(),
        warnings=("The weighing and the scan differ by 0.2 %.",),
        audit=("stone 1 lies inside the rough",),
        timing_s={"total": 12.5, "search": 11.0},
    )


@pytest.fixture(scope="session")
def plan_without_stone(plan: Plan) -> Plan:
    whole = SawPlan(plan.sawing.pieces[:1], (), (), ())
    return replace(
        plan,
        status="not found",
        order=replace(plan.order, size=SizeDemand(width_mm=(30.0, 30.0))),
        stones=(),
        sawing=whole,
        saw_guide=None,
        bound=Bound(18.0, {"designs": ["roof"], "parameters": {}}, (), ("zone",)),
        ruled_out_by=(RuledOut("width 30 to 30 mm", plan.stones[0]),),
        nearest_orders=(
            NearestOrder(
                (OrderChange("size", "width_mm", (30.0, 30.0), (12.5, 12.5)),), plan.stones
            ),
        ),
    )
