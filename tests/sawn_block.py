"""A plan's folder to saw by: a block of quartz with one stone, cut twice, made by hand."""

from dataclasses import replace

import numpy as np
import shapes
from handmade_plans import guidance_of, rough_of, sequential_saw_plan, stone_in

from optimizer.guidance.model import Distance, SawGuide
from optimizer.mesh import Plane
from optimizer.order import Order
from optimizer.placement.model import Pose
from optimizer.plan_model import Plan
from optimizer.rough.model import Colour, ReferenceFace, Zone

SIDES = (30.0, 12.0, 10.0)  # of the block, about the origin
FIRST, SECOND = 2.0, -12.5  # where x the two cuts run; the stone lies between
KERF = 0.4
HALF_LENGTH = 0.7 * 8.0  # of the stone, 8 mm wide, its middle at x = −6
X, Y, Z = np.eye(3)


def block_plan() -> Plan:
    """One stone in a block, parted from its right end and then from its left."""
    faces = (
        ReferenceFace("left", Plane(-X, 15.0)),
        ReferenceFace("right", Plane(X, 15.0)),
        ReferenceFace("base", Plane(-Z, 5.0)),
        ReferenceFace("front", Plane(-Y, 6.0)),
    )
    split = Zone("split", Plane(X, -6.0), Colour("violet", "#8a5cc2"), Colour("yellow", "#e8b83a"))
    rough = replace(rough_of(shapes.box(SIDES), (split,)), reference_faces=faces, scan="block.ply")
    stone = stone_in(rough, Pose(8.0, np.eye(3), np.array([-6.0, 0.0, 0.0])))
    sawing = sequential_saw_plan(rough, (Plane(X, FIRST), Plane(-X, -SECOND)), KERF)
    stone = replace(stone, guidance=replace(guidance_of(rough, stone, None, sawing), zone=None))
    ends = {letter: np.array([FIRST, y, z]) for letter, y, z in
            (("A", -6.0, -5.0), ("B", 6.0, -5.0), ("C", 0.0, 5.0))}  # fmt: skip
    readings = [
        Distance("face left", f"point {k} on the line of cut 1", end * [0, 1, 1] - 15.0 * X, end,
                 17.0, "Stand it on its left.") for k, end in ends.items()
    ]  # fmt: skip
    along = Distance(
        "face front", "point C on the line of cut 1", np.array([FIRST, -6.0, 5.0]), ends["C"], 6.0,
        "Along the cut.",
    )  # fmt: skip
    thick = Distance(
        "the sawn face of cut 1", "the point farthest from it", np.array([1.8, 6.0, 5.0]),
        np.array([-15.0, 6.0, 5.0]), 16.8, "When it is done.",
    )  # fmt: skip
    guide = SawGuide((), ((*readings, along, thick), ()))
    return Plan(
        status="found", interrupted=False, seed=0, effort="quick", rough=rough,
        order=Order(designs=(stone.design.name,)), stones=(stone,), sawing=sawing,
        saw_guide=guide, bound=None, ruled_out_by=(), warnings=(), audit=("checked by hand",),
        timing_s={"total": 1.0},
    )  # fmt: skip
