"""Shapes that a file tells in parts, each with its own place, put together to one scan."""

from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints

# Six times the largest scans that are planned in; together some 1.5 GB at the most.
MOST = 30_000_000
MOST_PARTS = 10_000
# A file may name one shape many times over and so claim far more than it holds. No scan does: a
# piece stands in it once.
MOST_COPIED = 1_000_000


@dataclass(frozen=True)
class ScanPart:
    """Points (n, 3), triangles (m, 3) and colours (n, 3), the last None where there are none."""

    points: Floats
    faces: Ints
    colours: Floats | None = None

    def moved(self, matrix: Floats) -> "ScanPart":
        """Under x -> matrix·x with ``matrix`` (4, 4); one that mirrors turns the winding."""
        with np.errstate(over="ignore", invalid="ignore"):
            points = self.points @ matrix[:3, :3].T + matrix[:3, 3]
            mirrors = np.linalg.det(matrix[:3, :3]) < 0.0
        return ScanPart(points, self.faces[:, ::-1] if mirrors else self.faces, self.colours)


def refuse_too_many(parts: int, count: int, held: int, name: str) -> None:
    """``count`` points and triangles in all ``parts``, of which the file itself holds ``held``."""
    if parts > MOST_PARTS:
        raise InputError(
            f"{name}: the shape is told in {parts:,} parts, more than {MOST_PARTS:,}; save it as "
            "one mesh"
        )
    if count > MOST:
        raise InputError(
            f"{name}: its parts come to {count:,} points and triangles, more than {MOST:,}; save a "
            "scan of fewer triangles"
        )
    if count > held + MOST_COPIED:
        raise InputError(
            f"{name}: its shapes of {held:,} points and triangles are placed so often that they "
            f"come to {count:,}; save the piece alone, once"
        )


def together(parts: list[ScanPart]) -> ScanPart:
    """All parts as one; coloured where each of them is."""
    if not parts:
        return ScanPart(np.empty((0, 3)), np.empty((0, 3), np.int64))
    before = np.cumsum([0, *(len(part.points) for part in parts[:-1])])
    faces = [part.faces + n for part, n in zip(parts, before, strict=True)]
    colours = [part.colours for part in parts if part.colours is not None]
    return ScanPart(
        np.concatenate([part.points for part in parts]),
        np.concatenate(faces),
        np.concatenate(colours) if len(colours) == len(parts) else None,
    )
