"""Compiled: how much of a face shows a colour, for many parallel flat boundaries at once."""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints


class FaceRays(NamedTuple):
    """The n rays of a face that show colour, and the m places where they meet facets.

    Ray i meets ``points[start[i]:end[i]]``. Its share of the first colour is its colour ·
    ``across`` less ``zero``.
    """

    start: Ints  # (n,)
    end: Ints  # (n,)
    points: Floats  # (m, 3) stone frame, mm
    leg: Floats  # (m,) mm from the place before; of a ray's first place: any number
    run: Floats  # (m,) mm from the ray's first place
    light: Floats  # (m,) that comes in at each place
    across: Floats  # (n, 3) from the second colour to the first, over its squared length
    zero: Floats  # (n,) the second colour · across
    quarter: Ints  # (n,) the quarter of the face that the ray belongs to, 0 to 3
    area: Floats  # (n,) of the face that the ray stands for


@compiled(error_model="numpy")
def plane_sums(rays, table, per_mm, normal, offsets, sums):
    """Fill ``sums`` (o, 4): for each plane ``normal``·x = ``offsets`` (o,), rising, and for each
    quarter of the face, the sum of the rays' shares times their areas.

    ``table`` and ``per_mm`` say what colour is left of white light, as in ``shade.shade``; the
    first dye lies on the side to which ``normal`` points. A ray that stays on one side shows one
    colour.
    """
    sums[:] = 0.0
    most_i, most_j = table.shape[0] - 1, table.shape[1] - 1
    height = np.empty((rays.end - rays.start).max() if len(rays.start) else 0)
    for ray in range(len(rays.start)):
        first, here = rays.start[ray], rays.quarter[ray]
        count = rays.end[ray] - first
        red, green, blue = rays.across[ray]
        low, high = np.inf, -np.inf
        for k in range(count):
            p = rays.points[first + k]
            height[k] = p[0] * normal[0] + p[1] * normal[1] + p[2] * normal[2]
            low, high = min(low, height[k]), max(high, height[k])
        for o in range(len(offsets)):
            if offsets[o] >= high:
                break
            if offsets[o] <= low:
                sums[o, here] += rays.area[ray]
                continue
            inside, share, a = 0.0, -rays.zero[ray], height[0] - offsets[o]
            for k in range(1, count):
                b = height[k] - offsets[o]
                if a > 0.0 and b > 0.0:
                    inside += rays.leg[first + k]
                elif a > 0.0:
                    inside += rays.leg[first + k] * a / (a - b)
                elif b > 0.0:
                    inside += rays.leg[first + k] * b / (b - a)
                a = b
                w = rays.light[first + k]
                if w == 0.0:
                    continue
                outside = max(rays.run[first + k] - inside, 0.0)
                x = min(np.sqrt(inside * per_mm), most_i - 1e-9)
                y = min(np.sqrt(outside * per_mm), most_j - 1e-9)
                i, j = int(x), int(y)
                x -= i
                y -= j
                c00, c01, c10, c11 = (1.0 - x) * (1.0 - y), (1.0 - x) * y, x * (1.0 - y), x * y
                p, q, r, s = table[i, j], table[i, j + 1], table[i + 1, j], table[i + 1, j + 1]
                seen = red * (c00 * p[0] + c01 * q[0] + c10 * r[0] + c11 * s[0])
                seen += green * (c00 * p[1] + c01 * q[1] + c10 * r[1] + c11 * s[1])
                seen += blue * (c00 * p[2] + c01 * q[2] + c10 * r[2] + c11 * s[2])
                share += w * seen
            sums[o, here] += rays.area[ray] * min(max(share, 0.0), 1.0)
