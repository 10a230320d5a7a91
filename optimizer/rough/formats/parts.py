"""Scans that a file holds in several parts, each placed by its own matrix, joined to one."""

from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints

# Six times the largest scans that are planned in, about 1.5 GB in all.
MOST = 30_000_000
MOST_PARTS = 10_000
# A file may use one shape many times and so claim far more than it holds. No scan does so: it holds
# a piece once.
MOST_COPIED = 1_000_000


@dataclass(frozen=True)
class ScanPart:
    """Points (n, 3), triangles (m, 3) and the points' colours (n, 3), None where there are none."""

    points: Floats
    faces: Ints
    colours: Floats | None = None

    def moved(self, matrix: Floats) -> "ScanPart":
        """The part moved by x -> matrix·x with ``matrix`` (4, 4); a mirroring one reverses the
        winding."""
        with np.errstate(over="ignore", invalid="ignore"):
            points = self.points @ matrix[:3, :3].T + matrix[:3, 3]
            mirrors = np.linalg.det(matrix[:3, :3]) < 0.0
        return ScanPart(points, self.faces[:, ::-1] if mirrors else self.faces, self.colours)


def refuse_too_many(parts: int, count: int, held: int, name: str) -> None:
    """Raises InputError for too many ``parts``, or too many points and triangles, ``count`` in all
    parts, of which the file itself holds ``held``."""
    if parts > MOST_PARTS:
        raise InputError(
            f"{name}: the shape is made of {parts:,} parts, more than {MOST_PARTS:,}; save it as "
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
