"""From a division to the joint problem, and back."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.order import Range, Workshop
from optimizer.placement.climb import MET_MM, Problem
from optimizer.placement.containers import Container
from optimizer.placement.flat_rows import FlatSurface
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_width
from optimizer.placement.near import state_of
from optimizer.placement.place import Want, as_placement, demands_of, walls_of
from optimizer.placement.rotations import orthonormal
from optimizer.several.cuts import cuts_of, sides_of, with_cuts
from optimizer.several.joint import Hinge, Joint, Layout, Member
from optimizer.several.model import Division, PlacedStone, Wish, allowance_mm
from optimizer.several.pairing import paired
from optimizer.several.worth import Worth

ABOVE = 1.0 + 1e-9  # a price's break is kept by more than rounding


@dataclass(frozen=True)
class Site:
    """What stays the same whatever the division."""

    ground: Ground
    wishes: tuple[Wish, ...]
    worth: Worth
    sg: float
    workshop: Workshop
    met: Callable[[PlacedStone], bool] = lambda _: (
        True
    )  # whether a stone truly looks as its wish asks

    def value(self, laid: PlacedStone, width: float) -> float:
        """Worth of a stone if it were so wide."""
        carat = laid.placement.body.volume_at(width) * self.sg / 200.0
        return self.worth.of(laid.offer.design, carat)

    def kept(self, laid: PlacedStone) -> float:
        """The least width at which the stone is paid as it is now; 0 where any is."""
        carat = laid.volume_mm3 * self.sg / 200.0
        lightest = self.worth.last_break(laid.offer.design, carat)
        width = laid.placement.body.width_for_volume(lightest * 200.0 / self.sg)
        return width * ABOVE

    def total(self, division: Division) -> float:
        """Worth of all stones, less the cost of the cuts."""
        stones = sum(self.value(s, s.placement.pose.width) for s in division.stones)
        return stones - self.worth.cut * len(cuts_of(division.fork))


def joined(site: Site, division: Division, locked: Collection[int] = ()) -> tuple[Joint, Layout]:
    """The joint problem, and where the division stands in it, its widths as given."""
    ground, sides = site.ground, dict(sides_of(division.fork))
    rough: Container = FlatSurface.like(ground.surface)
    members, states = [], []
    for number, laid in enumerate(division.stones):
        state, want = state_of(ground, laid.placement), wanted(laid)
        planes = None if want.solids else ground.inner
        corners = want.body.vertices_at(state.sigma)
        low, high = want.width_mm
        problem = Problem(
            growing_by_width(want.body, want.skin_mm, low),
            (planes or rough, *walls_of(ground, want)),
            demands_of(ground, want),
            float(np.linalg.norm(corners, axis=1).max()),
            high,
        )
        kept = max(low, min(site.kept(laid), high))
        members.append(Member(problem, low, kept, _value(site, laid), sides[number]))
        states.append(state)
    layout = Layout(tuple(states), tuple(map(ground.plane, cuts_of(division.fork))))
    hinges = tuple(_hinge(members, layout, cut, cut in locked) for cut in range(len(layout.planes)))
    allowance = allowance_mm(site.workshop)
    return Joint(tuple(members), hinges, paired(site.wishes, division.stones), allowance), layout


def wanted(laid: PlacedStone) -> Want:
    """What is asked of the stone by itself, its body as laid; walls are those of its offer."""
    body, offer = laid.placement.body, laid.offer
    window: Range = offer.want.width_mm if offer.freedom is None else offer.freedom.window(body)
    return replace(offer.want, body=body, width_mm=window)


def _value(site: Site, laid: PlacedStone) -> Callable[[float], float]:
    return lambda width: site.value(laid, width)


def _hinge(members: Sequence[Member], at: Layout, cut: int, locked: bool) -> Hinge:
    """In the middle of the cut's stones."""
    beside = [k for k, m in enumerate(members) if any(c == cut for c, _ in m.sides)]
    centres = np.array([at.stones[k].translation for k in beside])
    plane, point = at.planes[cut], centres.mean(axis=0)
    point = point - (plane.normal @ point - plane.offset) * plane.normal
    reach = np.linalg.norm(centres - point, axis=1)
    levers = np.array([members[k].problem.lever for k in beside])
    return Hinge(point, float((reach + levers).max()), locked)


def as_division(site: Site, joint: Joint, division: Division, at: Layout) -> Division:
    """The layout in the scan frame, each stone with its exact clearance."""
    ground = site.ground
    stones = []
    for laid, member, state in zip(division.stones, joint.members, at.stones, strict=True):
        # What a width lacks by MET_MM or less is rounding.
        floors = (f for f in (member.least, member.kept) if 0.0 < f - state.sigma <= MET_MM)
        rotation = np.ascontiguousarray(orthonormal(state.rotation))
        there = replace(state, sigma=max([state.sigma, *floors]), rotation=rotation)
        stones.append(replace(laid, placement=as_placement(ground, wanted(laid), there)))
    planes = [_in_scan(ground, plane) for plane in at.planes]
    return Division(tuple(stones), with_cuts(division.fork, planes))


def _in_scan(ground: Ground, plane: Plane) -> Plane:
    normal: Floats = ground.ground2scan @ plane.normal
    return Plane(normal, float(plane.offset + normal @ ground.origin))
