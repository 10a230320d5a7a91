"""Stones at given poses in synthetic rough, for the tests of sawing and guidance."""

from collections.abc import Sequence
from dataclasses import replace

import handmade_plans
import numpy as np
import shapes
from handmade_plans import body_of

from optimizer.design.model import Body
from optimizer.mesh import Floats, Mesh
from optimizer.placement.model import Placement, Pose
from optimizer.rough.model import ReferenceFace, Rough, Zone
from optimizer.sawing.model import SawPlan
from optimizer.solid import as_solid
from optimizer.trade.materials import Material

QUARTZ = Material("quartz", 2.65, (2.65, 2.65), ri=(1.544, 1.553))


def rough_of(mesh: Mesh, zones: Sequence[Zone] = (), faces: Sequence[ReferenceFace] = ()) -> Rough:
    """The mesh as a piece of quartz of a single density, scanned within 0.05 mm."""
    rough = handmade_plans.rough_of(mesh, tuple(zones))
    return replace(rough, scan="piece.ply", material=QUARTZ, reference_faces=tuple(faces))


def placement_of(
    body: Body, width: float, at: Sequence[float] = (0, 0, 0), turn: Floats | None = None
) -> Placement:
    """The body at a pose; its clearance is 0, since sawing and guidance don't use it."""
    rotation = np.eye(3) if turn is None else turn
    return Placement(body, Pose(width, rotation, np.asarray(at, float)), 0.0)


def box_body() -> Body:
    """A box 1.5 × 1 × 0.5 as a stone: its ends are flat, so closed forms are easy."""
    return body_of(shapes.box((1.5, 1.0, 0.5)).vertices, 0.5)


def moved_rough(rough: Rough, turn: Floats, shift: Floats) -> Rough:
    """The bare rough under x -> shift + turn·x."""
    return rough_of(shapes.moved(rough.mesh, turn, shift))


def moved_placement(placement: Placement, turn: Floats, shift: Floats) -> Placement:
    """The stone under the same motion."""
    pose = placement.pose
    return placement_of(
        placement.body, pose.width, shift + turn @ pose.translation, turn @ pose.rotation
    )


def solid_volume(mesh: Mesh) -> float:
    """Volume in mm³ by the robust kernel, 0 for an empty mesh."""
    return float(as_solid(mesh).volume()) if len(mesh.faces) else 0.0


def leaf_ids(plan: SawPlan) -> list[int]:
    """Ids of the pieces that no cut goes through."""
    return [p.id for p in plan.pieces if p.id not in {cut.piece for cut in plan.cuts}]


def kerf_volume(plan: SawPlan, cut_index: int) -> float:
    """What the blade turns to dust: the piece within the kerf, cut out by the robust kernel."""
    cut = plan.cuts[cut_index]
    slab = as_solid(plan.pieces[cut.piece].mesh)
    half, normal = cut.kerf_mm / 2.0, cut.plane.normal
    slab = slab.trim_by_plane(tuple(normal), cut.plane.offset - half)
    return float(slab.trim_by_plane(tuple(-normal), -cut.plane.offset - half).volume())
