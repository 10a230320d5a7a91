"""Compiled: how much of a face shows a colour, for many parallel flat boundaries at once."""

import numpy as np

from optimizer.compiled import compiled


@compiled(error_model="numpy")
def plane_sums(
    start, end, points, leg, whole, light, way, none, quarter, area, table, per_mm, normal, offsets,
    sums,
):  # fmt: skip
    """Fill ``sums`` (o, 4) with the rays' shares, times the ``area`` (n,) that each stands for,
    added up over each quarter of the face, for each plane ``normal``·x = ``offsets`` (o,), rising.

    Ray i meets places ``start[i]`` to ``end[i]`` (n,) of ``points`` (m, 3): ``leg`` (m,) mm after
    the one before (of the first: anything), ``whole`` (m,) mm from the first. ``light`` (m,) comes
    in at each place, and ``table`` and ``per_mm`` say what colour is left of it, as in
    ``shade.shade``, the dye told first on the side to which ``normal`` points. A ray's
    share is its colour · ``way`` (n, 3) less ``none`` (n,). ``quarter`` (n,) says which of the four
    a ray belongs to. A ray that stays on one side shows one colour.
    """
    sums[:] = 0.0
    most_i, most_j = table.shape[0] - 1, table.shape[1] - 1
    height = np.empty((end - start).max() if len(start) else 0)
    for ray in range(len(start)):
        first, count, here = start[ray], end[ray] - start[ray], quarter[ray]
        red, green, blue = way[ray]
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
            run, share, a = 0.0, -none[ray], height[0] - offsets[o]
            for k in range(1, count):
                b = height[k] - offsets[o]
                if a > 0.0 and b > 0.0:
                    run += leg[first + k]
                elif a > 0.0:
                    run += leg[first + k] * a / (a - b)
                elif b > 0.0:
                    run += leg[first + k] * b / (b - a)
                a = b
                w = light[first + k]
                if w == 0.0:
                    continue
                rest = max(whole[first + k] - run, 0.0)
                x = min(np.sqrt(run * per_mm), most_i - 1e-9)
                y = min(np.sqrt(rest * per_mm), most_j - 1e-9)
                i, j = int(x), int(y)
                x -= i
                y -= j
                c00, c01, c10, c11 = (1.0 - x) * (1.0 - y), (1.0 - x) * y, x * (1.0 - y), x * y
                p, q, r, s = table[i, j], table[i, j + 1], table[i + 1, j], table[i + 1, j + 1]
                seen = red * (c00 * p[0] + c01 * q[0] + c10 * r[0] + c11 * s[0])
                seen += green * (c00 * p[1] + c01 * q[1] + c10 * r[1] + c11 * s[1])
                seen += blue * (c00 * p[2] + c01 * q[2] + c10 * r[2] + c11 * s[2])
                share += w * seen
            sums[o, here] += area[ray] * min(max(share, 0.0), 1.0)
