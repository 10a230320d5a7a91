"""Compiled: how much of a face shows a colour, for many parallel flat boundaries at once."""

import numpy as np
from numba import njit


@njit(cache=True, nogil=True, error_model="numpy")
def plane_sums(start, end, points, leg, whole, curves, quarter, area, normal, offsets, sums):
    """Fill ``sums`` (o, 4) with the rays' shares, times the ``area`` (n,) that each stands for,
    added up over each quarter of the face, for each plane ``normal``·x = ``offsets`` (o,), rising.

    Ray i meets places ``start[i]`` to ``end[i]`` (n,) of ``points`` (m, 3): ``leg`` (m,) mm after
    the one before, ``whole`` (m,) mm from the first. What place k brings to its ray's share is the
    polynomial ``curves[k]`` (m, 7) in x, the part of ``whole[k]`` on the side to which ``normal``
    points. ``quarter`` (n,) says which of the four a ray belongs to. A ray that stays on one side
    shows one colour.
    """
    sums[:] = 0.0
    height = np.empty((end - start).max())
    for ray in range(len(start)):
        first, count, here = start[ray], end[ray] - start[ray], quarter[ray]
        low, high = np.inf, -np.inf
        for k in range(count):
            p = points[first + k]
            height[k] = p[0] * normal[0] + p[1] * normal[1] + p[2] * normal[2]
            low, high = min(low, height[k]), max(high, height[k])
        for o in range(len(offsets)):
            if offsets[o] >= high:
                break
            if offsets[o] <= low:
                sums[o, here] += area[ray]
                continue
            run, share, a = 0.0, 0.0, height[0] - offsets[o]
            for k in range(1, count):
                b = height[k] - offsets[o]
                if a > 0.0 and b > 0.0:
                    run += leg[first + k]
                elif a > 0.0:
                    run += leg[first + k] * a / (a - b)
                elif b > 0.0:
                    run += leg[first + k] * b / (b - a)
                a = b
                c = curves[first + k]
                if c[1] != 0.0:  # light comes in here
                    x = run / whole[first + k]
                    high_part = c[3] + x * (c[4] + x * (c[5] + x * c[6]))
                    share += c[0] + x * (c[1] + x * (c[2] + x * high_part))
            sums[o, here] += area[ray] * min(max(share, 0.0), 1.0)
