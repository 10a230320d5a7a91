"""Compiled: what rays bring through a stone whose colour depends on the crystal's directions."""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats
from optimizer.optics.kernels.split import leg_share


class CrystalColours(NamedTuple):
    """What a crystal takes up, by direction, at w wavelengths.

    ``per_mm`` (2, 3, w) is the absorption per mm inside the boundary and outside it, of light that
    swings along each of ``axes`` (3, 3), unit rows in the stone's frame; ``weights`` (w, 3) turn
    the light that is left into linear sRGB.
    """

    axes: Floats
    per_mm: Floats
    weights: Floats


@compiled(error_model="numpy")
def shade_crystal(start, points, incoming, forms, flat, crystal, rays):
    """Fill ``rays`` (n, 3) with the colour of each ray: the sum over the ray's places of the light
    ``incoming`` (m,) there times the share that the way to the eye leaves of it.

    Where all ``forms`` (k, 10) are positive the stone has the first colours of ``crystal``,
    elsewhere the second; ``flat`` says that all forms are planes. Unpolarised light that runs along
    d swings across d, half each way: its mean absorption is the sum over the axes of
    (1 − (d·axis)²)/2 times the absorption of that axis.
    """
    per_mm, weights = crystal.per_mm, crystal.weights
    waves = per_mm.shape[2]
    depth = np.empty(waves)
    cuts = np.empty(2 * len(forms) + 2)
    for ray in range(len(start) - 1):
        rays[ray, :] = 0.0
        depth[:] = 0.0
        for k in range(start[ray], start[ray + 1]):
            if k > start[ray]:
                p, q = points[k - 1], points[k]
                way = q - p
                length = np.sqrt(way[0] * way[0] + way[1] * way[1] + way[2] * way[2])
                if length > 0.0:
                    share = leg_share(forms, flat, p, q, cuts)
                    for j in range(3):
                        axis = crystal.axes[j]
                        along = (way[0] * axis[0] + way[1] * axis[1] + way[2] * axis[2]) / length
                        run = length * 0.5 * (1.0 - along * along)
                        for w in range(waves):
                            inside, outside = per_mm[0, j, w], per_mm[1, j, w]
                            depth[w] += run * (share * inside + (1.0 - share) * outside)
            if incoming[k] != 0.0:
                for w in range(waves):
                    left = incoming[k] * np.exp(-depth[w])
                    for c in range(3):
                        rays[ray, c] += left * weights[w, c]
