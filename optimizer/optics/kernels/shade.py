"""Compiled: what rays bring, with the light that reaches them along their paths."""

import numpy as np

from optimizer.compiled import compiled


@compiled(error_model="numpy")
def shade(start, incoming, inside, outside, table, per_mm, rays):
    """Fill ``rays`` (n, 3) with the colour of each ray: the sum over the ray's places of the light
    ``incoming`` (m,) there times the colour that is left of white light after ``inside`` (m,) mm in
    one dye and ``outside`` (m,) mm in the other.

    ``table`` (a, b, 3) holds that colour after i²/``per_mm`` mm and j²/``per_mm`` mm. Values
    between the entries are interpolated; lengths beyond the last entry take the last entry.
    """
    most_i, most_j = table.shape[0] - 1, table.shape[1] - 1
    for ray in range(len(start) - 1):
        red, green, blue = 0.0, 0.0, 0.0
        for k in range(start[ray], start[ray + 1]):
            w = incoming[k]
            if w == 0.0:
                continue
            x = min(np.sqrt(inside[k] * per_mm), most_i - 1e-9)
            y = min(np.sqrt(outside[k] * per_mm), most_j - 1e-9)
            i, j = int(x), int(y)
            x -= i
            y -= j
            a, b, c, d = (1.0 - x) * (1.0 - y) * w, (1.0 - x) * y * w, x * (1.0 - y) * w, x * y * w
            p, q, r, s = table[i, j], table[i, j + 1], table[i + 1, j], table[i + 1, j + 1]
            red += a * p[0] + b * q[0] + c * r[0] + d * s[0]
            green += a * p[1] + b * q[1] + c * r[1] + d * s[1]
            blue += a * p[2] + b * q[2] + c * r[2] + d * s[2]
        rays[ray, 0], rays[ray, 1], rays[ray, 2] = red, green, blue
