"""Ray paths in a body: traced once, then coloured for any boundary and any light."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.optics.kernels.rays import PathBuffers, RefractingBody, trace_rays
from optimizer.running.workers import workers

LEAST = 1e-4  # a ray is followed until less than this share of it is left
MOST = 4000  # meetings of one ray with facets; clear stones of high index reach hundreds
_RAYS = 4096  # in one batch: enough work for a thread, few enough to stop soon
_MEETINGS = 24  # per ray in the buffers of a batch; rays that need more go into the next buffers


@dataclass(frozen=True)
class Paths:
    """Rays from the eye into a convex body, n of them, and the m places where they meet facets.

    Light takes the same path the other way: of the light that comes in against ``leaving``, the
    share ``weight`` reaches the eye. Ray i meets facets at ``points[start[i]:start[i + 1]]``, first
    where it enters; a ray that misses the body meets none.

    mirrored_share      (n,)   share mirrored by the outer surface; 0 where the ray misses
    mirrored_direction  (n, 3) where that share goes; the ray's own direction where it misses
    residual            (n,)   share that was not followed to its end
    start               (n+1,) see above
    points              (m, 3) places, in the frame and unit of the body
    weight              (m,)   share that leaves there; 0 where the ray enters
    leaving             (m, 3) the direction of that share; without meaning where the share is 0
    """

    mirrored_share: Floats
    mirrored_direction: Floats
    residual: Floats
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
        return np.repeat(np.arange(len(self.mirrored_share)), np.diff(self.start))


def refracting_body(normals: Floats, offsets: Floats, index: float) -> RefractingBody:
    """The body {x : normals·x <= offsets}, ``normals`` (f, 3) of length one, of one ``index``."""
    gram = normals @ normals.T
    contiguous = np.ascontiguousarray(normals), np.ascontiguousarray(offsets, float)
    return RefractingBody(*contiguous, gram, float(index))


def trace(
    body: RefractingBody, origins: Floats, directions: Floats,
    *, least: float = LEAST,
) -> Paths:  # fmt: skip
    """The paths of rays from outside the body.

    ``directions`` (n, 3) have length one; ``origins`` (n, 3) are in the frame and unit of the body.
    Snell's law and Fresnel's equations for unpolarised light at every meeting; double refraction
    is left out.
    """
    rays = (np.ascontiguousarray(origins, float), np.ascontiguousarray(directions, float))
    firsts = range(0, max(len(origins), 1), _RAYS)

    def batch(first: int) -> list[Paths]:
        part = slice(first, first + _RAYS)
        return list(_followed(body, rays[0][part], rays[1][part], least))

    if len(firsts) == 1:
        return _joined([paths for first in firsts for paths in batch(first)])
    with workers() as pool:
        return _joined([paths for chunk in pool.map(batch, firsts) for paths in chunk])


def _followed(
    body: RefractingBody, origins: Floats, directions: Floats, least: float
) -> Iterator[Paths]:
    """The paths of all rays, as many at a time as the buffers hold."""
    while True:
        out = _buffers(len(origins))
        done = trace_rays(body, origins, directions, least, MOST, out)
        end = out.start[done]
        yield Paths(
            out.mirrored_share[:done], out.mirrored_direction[:done], out.residual[:done],
            out.start[: done + 1], out.points[:end], out.weight[:end], out.leaving[:end],
        )  # fmt: skip
        if done == len(origins):
            return
        origins, directions = origins[done:], directions[done:]


def _buffers(count: int) -> PathBuffers:
    capacity = count * _MEETINGS + MOST + 1
    return PathBuffers(
        np.empty(count), np.empty((count, 3)), np.empty(count), np.empty(count + 1, np.int64),
        np.empty((capacity, 3)), np.empty(capacity), np.empty((capacity, 3)),
    )  # fmt: skip


def _joined(parts: list[Paths]) -> Paths:
    if len(parts) == 1:
        return parts[0]

    def all_of(name: str) -> Floats:
        return np.concatenate([getattr(part, name) for part in parts])

    shifts = np.cumsum([0, *(len(part.weight) for part in parts)])
    starts = [part.start[:-1] + shift for part, shift in zip(parts, shifts[:-1], strict=True)]
    start = np.concatenate([*starts, shifts[-1:]]).astype(np.int64)
    return Paths(
        all_of("mirrored_share"), all_of("mirrored_direction"), all_of("residual"), start,
        all_of("points"), all_of("weight"), all_of("leaving"),
    )  # fmt: skip
