"""Where a stone lies in the rough, and the constraints that are active there."""

from dataclasses import dataclass

from optimizer.design.model import Body
from optimizer.mesh import Floats, Mesh

# Kinds of ActiveConstraint.
SURFACE, FLAW, BOUNDARY, DEMAND, SIZE = "surface", "flaw", "boundary", "demand", "size"


@dataclass(frozen=True)
class Pose:
    """x_scan = ``translation`` + ``rotation``·x_stone, for a stone of ``width`` mm."""

    width: float
    rotation: Floats  # (3, 3) proper orthonormal, stone to scan
    translation: Floats  # (3,) mm

    def to_scan(self, points: Floats) -> Floats:
        """Points (n, 3) from the stone frame to the scan frame."""
        return points @ self.rotation.T + self.translation


@dataclass(frozen=True)
class Placement:
    """One body placed in the rough."""

    body: Body
    pose: Pose
    clearance_mm: float  # stone to the rough's surface, exact

    @property
    def volume_mm3(self) -> float:
        """Of the finished stone."""
        return self.body.volume_at(self.pose.width)

    def mesh(self) -> Mesh:
        """The stone as a closed solid in the scan frame."""
        solid = self.body.mesh_at(self.pose.width)
        return Mesh(self.pose.to_scan(solid.vertices), solid.faces)


@dataclass(frozen=True)
class Contact:
    """A point where the stone is held, scan frame.

    ``point`` lies on what holds it (on the stone where that is a boundary), ``on_stone`` on the
    stone, nearest to it; ``facets`` are those that meet there.
    """

    point: Floats  # (3,)
    on_stone: Floats  # (3,)
    facets: tuple[int, ...]
    worth: float  # per mm that the point gives way, straight from the stone


@dataclass(frozen=True)
class ActiveConstraint:
    """One place of the surface, or one flaw, boundary or demand, that limits the stone."""

    kind: str  # SURFACE | FLAW | BOUNDARY | DEMAND | SIZE
    name: str  # of flaw or boundary; the demand in plain words; "" for a place of the surface
    contacts: tuple[Contact, ...]  # most worth first; none for a demand or a size
    worth: float  # per ``unit``; 0 where the stone touches it, and others limit the stone
    unit: str  # "mm" | "°" | "%", of the volume | "", of a boundary's offset | as shown.Bound
    step: float  # in that unit: how far it was relaxed when the stone was placed again
    gain: float | None  # of that step; None: not tried


@dataclass(frozen=True)
class ActiveConstraints:
    """All that limits one stone, the greatest gain first.

    A worth is the gain for each unit by which a constraint is relaxed, at the placement itself; a
    gain is that of a whole step, for which the stone was placed again. Both are carats where the
    heaviest stone was sought, and mm of clearance where a stone of fixed size was placed with the
    greatest clearance.
    """

    by_clearance: bool  # worths and gains are mm of clearance, not carats
    radius_mm: float  # the surface this near to a place's first contact was relaxed with it
    left_over: float  # share of the forces that nothing balances: 0 at a sharp local best
    constraints: tuple[ActiveConstraint, ...]
