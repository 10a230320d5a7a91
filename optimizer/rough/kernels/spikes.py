"""Compiled: the ring of neighbours round each vertex."""

import math

import numpy as np

from optimizer.compiled import compiled


@compiled
def rings(vertices, faces):
    """For each vertex: its shortest edge, the perimeter of the ring of its neighbours, whether it
    stands outside that ring, and the ring's middle."""
    n = len(vertices)
    shortest, around, volume = np.full(n, np.inf), np.zeros(n), np.zeros(n)
    middle, count = np.zeros((n, 3)), np.zeros(n)
    for f in range(len(faces)):
        for k in range(3):
            v, a, b = faces[f, k], faces[f, (k + 1) % 3], faces[f, (k + 2) % 3]
            edge, side = 0.0, 0.0
            for i in range(3):
                edge += (vertices[a, i] - vertices[v, i]) ** 2
                side += (vertices[b, i] - vertices[a, i]) ** 2
                middle[v, i] += vertices[a, i]
            shortest[v] = min(shortest[v], math.sqrt(edge))
            around[v] += math.sqrt(side)
            count[v] += 1.0
    for v in range(n):
        middle[v] /= max(count[v], 1.0)
    for f in range(len(faces)):
        for k in range(3):
            v, a, b = faces[f, k], faces[f, (k + 1) % 3], faces[f, (k + 2) % 3]
            m = middle[v]
            ux, uy, uz = vertices[v, 0] - m[0], vertices[v, 1] - m[1], vertices[v, 2] - m[2]
            px, py, pz = vertices[a, 0] - m[0], vertices[a, 1] - m[1], vertices[a, 2] - m[2]
            qx, qy, qz = vertices[b, 0] - m[0], vertices[b, 1] - m[1], vertices[b, 2] - m[2]
            volume[v] += (
                ux * (py * qz - pz * qy) + uy * (pz * qx - px * qz) + uz * (px * qy - py * qx)
            )
    return shortest, around, volume > 0.0, middle
