"""Divisions made by hand for the tests of several stones, and plain checks of any division."""

import numpy as np
from handmade_plans import six_sided_design
from solids import winding_number

from optimizer.design.model import Body
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.offers.offer import Offer
from optimizer.order import Order, Workshop
from optimizer.placement.ground import Ground
from optimizer.placement.model import Placement, Pose
from optimizer.placement.place import Want
from optimizer.placement.rotations import turn
from optimizer.several.cut_tree import CutTree, cell_walls
from optimizer.several.instance import Instance
from optimizer.several.model import Division, PlacedStone, Wish, allowance_mm
from optimizer.several.worth import Worth

SKIN = 0.25
WORKSHOP = Workshop(kerf_mm=0.4, saw_error_mm=0.1, clean_up_mm=0.2)
BESIDE = allowance_mm(WORKSHOP)  # 0.5
SG = 2.65


def offer_of(body: Body, low: float = 0.1, high: float = np.inf) -> Offer:
    """A plain offer; its design is only a name."""
    return Offer(six_sided_design(), {}, Want(body, (low, high), SKIN))


def instance_of(mesh: Mesh, *offers: Offer, worth: Worth | None = None, pair_mm=None) -> Instance:
    """A problem instance with one wish for each offer."""
    wishes = tuple(
        Wish(f"wish {k}", Order(), (offer,), least=0, most=99, pair_mm=pair_mm)
        for k, offer in enumerate(offers)
    )
    return Instance(Ground.of(mesh), wishes, worth or Worth(), SG, WORKSHOP)


def stone_at(
    offer: Offer, width: float, at, rotation: Floats | None = None, wish: int = 0
) -> PlacedStone:
    """A stone placed in the scan frame."""
    rotation = np.eye(3) if rotation is None else rotation
    pose = Pose(width, rotation, np.asarray(at, float))
    return PlacedStone(wish, offer, Placement(offer.want.body, pose, 0.0))


def row(stones: list[PlacedStone], planes: list[Plane]) -> Division:
    """Stones side by side, a cut between each two."""
    cut_tree: CutTree | int = len(stones) - 1
    for k in reversed(range(len(planes))):
        cut_tree = CutTree(planes[k], k, cut_tree)
    return Division(tuple(stones), cut_tree)


def shaken(division: Division, seed: int, mm: float, radians: float) -> Division:
    """Every stone and cut moved and turned a little."""
    rng = np.random.default_rng(seed)

    def shake(stone: PlacedStone) -> PlacedStone:
        pose = stone.placement.pose
        turned = turn(radians * rng.normal(size=3)) @ pose.rotation
        return stone_at(
            stone.offer, pose.width, pose.translation + mm * rng.normal(size=3), turned, stone.wish
        )

    def tilt(cut_tree: CutTree | int) -> CutTree | int:
        if isinstance(cut_tree, int):
            return cut_tree
        normal = cut_tree.plane.normal + radians * rng.normal(size=3)
        through = cut_tree.plane.normal * (cut_tree.plane.offset + mm * rng.normal())
        return CutTree(Plane.through(through, normal), tilt(cut_tree.below), tilt(cut_tree.above))

    return Division(tuple(map(shake, division.stones)), tilt(division.cut_tree))


def widths(division: Division) -> list[float]:
    """The widths of all stones."""
    return [stone.placement.pose.width for stone in division.stones]


def assert_feasible(
    instance: Instance, mesh: Mesh, division: Division, tolerance: float = 1e-7
) -> None:
    """Assert with plain corner arithmetic that a division in a convex rough keeps the skin, the
    allowance of every cut and the widths asked."""
    triangles = mesh.vertices[mesh.faces]
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    walls = dict(cell_walls(division.cut_tree, allowance_mm(instance.workshop)))
    assert sorted(walls) == list(range(len(division.stones)))
    for number, stone in enumerate(division.stones):
        pose, want = stone.placement.pose, stone.offer.want
        corners = pose.to_scan(stone.placement.body.vertices_at(pose.width))
        assert np.allclose(pose.rotation @ pose.rotation.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(pose.rotation) > 0.0
        assert want.width_mm[0] <= pose.width <= want.width_mm[1]
        assert winding_number(triangles, pose.translation) > 0.5
        room = np.einsum("fi,fi->f", normals, triangles[:, 0])[:, None] - normals @ corners.T
        assert room.min() >= want.skin_mm - tolerance
        for wall in walls[number]:
            assert (corners @ wall.normal).max() <= wall.offset + tolerance


def moved_division(division: Division, rotation: Floats, translation: Floats) -> Division:
    """The division under x -> translation + rotation·x."""

    def carried(cut_tree: CutTree | int) -> CutTree | int:
        if isinstance(cut_tree, int):
            return cut_tree
        normal = rotation @ cut_tree.plane.normal
        plane = Plane(normal, cut_tree.plane.offset + float(normal @ translation))
        return CutTree(plane, carried(cut_tree.below), carried(cut_tree.above))

    def moved_stone(stone: PlacedStone) -> PlacedStone:
        pose = stone.placement.pose
        at = translation + rotation @ pose.translation
        return stone_at(stone.offer, pose.width, at, rotation @ pose.rotation, stone.wish)

    return Division(tuple(map(moved_stone, division.stones)), carried(division.cut_tree))
