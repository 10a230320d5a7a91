"""Ray paths in a body: traced once, then coloured for any boundary and any light."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.optics.kernels.rays import trace_rays
from optimizer.placement.workers import workers

LEAST = 1e-4  # a ray is followed until less than this share of it is left
MOST = 4000  # meetings of one ray with facets; clear stones of high index reach hundreds
_RAYS = 4096  # followed in one go: enough for a thread, few enough to stop soon
_ROOM = 24  # meetings a ray that memory is first laid out for


@dataclass(frozen=True)
class Paths:
    """Rays into a convex body, n of them, and the m places where they meet facets.

    Light runs the other way round, which changes nothing: a share of light that comes along
    ``leaving`` reaches the eye. Ray i meets facets at ``points[start[i]:start[i + 1]]``, where it
    enters first; a ray that misses the body meets none.

    first      (n,)   share mirrored by the outer surface; 0 where the ray misses
    mirrored   (n, 3) the way of that share, or the ray's own where it misses
    left       (n,)   share that was not followed to its end
    start      (n+1,) see above
    points     (m, 3) places, in the frame and unit of the body
    weight     (m,)   share that leaves there; 0 where the ray enters
    leaving    (m, 3) the way of that share; without meaning where it is 0
    """

    first: Floats
    mirrored: Floats
    left: Floats
    start: Ints
    points: Floats
    weight: Floats
    leaving: Floats

    @property
    def hit(self) -> np.ndarray:
        """(n,) which rays enter the body."""
        return np.diff(self.start) > 0

    @property
    def ray(self) -> Ints:
        """(m,) the ray that each meeting belongs to."""
        return np.repeat(np.arange(len(self.first)), np.diff(self.start))


def trace(
    normals: Floats,
    offsets: Floats,
    index: float,
    origins: Floats,
    directions: Floats,
    *,
    least: float = LEAST,
    threads: int = 2,
) -> Paths:
    """The paths of rays from outside the convex body {x : normals·x <= offsets}.

    ``normals`` (f, 3) and ``directions`` (n, 3) have length one, ``offsets`` (f,) and ``origins``
    (n, 3) are in one frame and unit; ``index`` is the body's refractive index, outside it is 1.
    Snell's law and Fresnel's equations for unpolarised light at every meeting; double refraction
    is left out. The result does not depend on ``threads``.
    """
    gram = normals @ normals.T
    body = (np.ascontiguousarray(normals), np.ascontiguousarray(offsets, float), gram, float(index))
    rays = (np.ascontiguousarray(origins, float), np.ascontiguousarray(directions, float))
    cuts = range(0, max(len(origins), 1), _RAYS)

    def some(first: int) -> list[Paths]:
        part = slice(first, first + _RAYS)
        return list(_followed(body, rays[0][part], rays[1][part], least))

    if threads == 1 or len(cuts) == 1:
        return _joined([paths for cut in cuts for paths in some(cut)])
    with workers(threads) as pool:
        return _joined([paths for chunk in pool.map(some, cuts) for paths in chunk])


def _followed(
    body: tuple[Floats, Floats, Floats, float], origins: Floats, directions: Floats, least: float
) -> Iterator[Paths]:
    """Paths of as many rays at a time as memory was laid out for."""
    while True:
        count, room = len(origins), len(origins) * _ROOM + MOST + 1
        first, mirrored, left = np.empty(count), np.empty((count, 3)), np.empty(count)
        start = np.empty(count + 1, np.int64)
        points, weight, leaving = np.empty((room, 3)), np.empty(room), np.empty((room, 3))
        done = trace_rays(
            *body, origins, directions, least, MOST,
            first, mirrored, left, start, points, weight, leaving,
        )  # fmt: skip
        end = start[done]
        yield Paths(
            first[:done], mirrored[:done], left[:done], start[: done + 1],
            points[:end], weight[:end], leaving[:end],
        )  # fmt: skip
        if done == count:
            return
        origins, directions = origins[done:], directions[done:]


def _joined(parts: list[Paths]) -> Paths:
    if len(parts) == 1:
        return parts[0]

    def all_of(name: str) -> Floats:
        return np.concatenate([getattr(part, name) for part in parts])

    shifts = np.cumsum([0, *(len(part.weight) for part in parts)])
    starts = [part.start[:-1] + shift for part, shift in zip(parts, shifts[:-1], strict=True)]
    start = np.concatenate([*starts, shifts[-1:]]).astype(np.int64)
    return Paths(
        all_of("first"), all_of("mirrored"), all_of("left"), start,
        all_of("points"), all_of("weight"), all_of("leaving"),
    )  # fmt: skip
