"""Where a saw cut may run between two groups of stones."""

from collections.abc import Iterator, Sequence

import numpy as np

from optimizer.mesh import Floats, Plane

PARALLEL = 1.0 - 1e-9  # cosine
NamedNormal = tuple[Floats, str]  # a unit normal (3,), and how a cut with it runs


def planes_between(
    below: Floats,
    above: Floats,
    separating: NamedNormal,
    preferred: Sequence[NamedNormal],
    allowance_mm: float,
    spare_mm: float,
) -> Iterator[tuple[tuple[Plane, ...], str]]:
    """Cuts that clear the corners (n, 3) and (m, 3) of both groups by the allowance: first those
    with a preferred normal, the best first, then those with the normal of a plane that is known to
    separate them, which is ``separating``.

    For each normal the equally good planes are given together: one in the middle of the gap; or,
    where more than ``spare_mm`` would be left on both sides, one next to either group, so that
    the material in the gap stays in one lump.
    """
    for normal, run in (*preferred, separating):
        for way in (normal, -normal):
            low, high = float((below @ way).max()), float((above @ way).min())
            slack = high - low - 2.0 * allowance_mm
            if slack < 0.0 and way is not separating[0]:
                continue
            middle = (low + high) / 2.0
            if slack > 2.0 * spare_mm:
                places = (low + allowance_mm, high - allowance_mm)
                yield tuple(Plane(way, place) for place in places), run
            yield (Plane(way, middle),), run


def without_twins(normals: Sequence[NamedNormal]) -> tuple[NamedNormal, ...]:
    """The first of each set of parallel normals."""
    kept: list[NamedNormal] = []
    for normal, run in normals:
        if not kept or np.abs([k @ normal for k, _ in kept]).max() < PARALLEL:
            kept.append((normal, run))
    return tuple(kept)
