"""Where a stone lies in the rough."""

from dataclasses import dataclass

from optimizer.design.model import Body
from optimizer.mesh import Floats, Mesh


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
    """One body laid in the rough."""

    body: Body
    pose: Pose
    clearance_mm: float  # stone to the rough's surface, exact

    def mesh(self) -> Mesh:
        """The stone as a closed solid in the scan frame."""
        solid = self.body.mesh_at(self.pose.width)
        return Mesh(self.pose.to_scan(solid.vertices), solid.faces)
