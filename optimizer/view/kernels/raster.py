"""Which triangle is seen at each pixel of a picture: compiled, for a million triangles."""

import numpy as np

from optimizer.compiled import compiled


@compiled
def cover(spots, depths, faces, nearest, owner):
    """Set ``owner`` (rows, columns) to the triangle nearest to the eye at each pixel's middle.

    ``spots`` (n, 2) are the corners in pixels (column, row), ``depths`` (n,) grow towards the eye;
    ``nearest`` (rows, columns) holds the depths so far, -inf at first, and ``owner`` -1. Triangles
    that face away (counter-clockwise with rows running down) are left out.
    """
    rows, columns = nearest.shape
    for f in range(len(faces)):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay = spots[a, 0], spots[a, 1]
        ux, uy = spots[b, 0] - ax, spots[b, 1] - ay
        vx, vy = spots[c, 0] - ax, spots[c, 1] - ay
        area = ux * vy - uy * vx
        if area >= 0.0:
            continue
        left = max(int(np.ceil(ax + min(0.0, ux, vx) - 0.5)), 0)
        right = min(int(np.floor(ax + max(0.0, ux, vx) - 0.5)), columns - 1)
        top = max(int(np.ceil(ay + min(0.0, uy, vy) - 0.5)), 0)
        bottom = min(int(np.floor(ay + max(0.0, uy, vy) - 0.5)), rows - 1)
        for row in range(top, bottom + 1):
            y = row + 0.5 - ay
            for column in range(left, right + 1):
                x = column + 0.5 - ax
                s = (x * vy - y * vx) / area
                t = (ux * y - uy * x) / area
                if s < 0.0 or t < 0.0 or s + t > 1.0:
                    continue
                depth = depths[a] + s * (depths[b] - depths[a]) + t * (depths[c] - depths[a])
                if depth > nearest[row, column]:
                    nearest[row, column] = depth
                    owner[row, column] = f
