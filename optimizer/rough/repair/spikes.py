"""Spikes: single points that a scanner set far outside the surface."""

import math

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh, lengths
from optimizer.rough.kernels.spikes import rings
from optimizer.rough.model import Repair
from optimizer.rough.repair.mend import Mended, counted
from optimizer.rough.repair.words import areas_mm2, mm, percent, place
from optimizer.wording.plain_number import plain

SLENDER = 5.0  # a spike's least height over the radius of its foot: 11 degrees about its axis
OUTLYING = 5.0  # its least height over the mesh's usual edge
_FEWEST = 100  # points of a surface that has a usual edge; a drawn pyramid has none


def take_off_spikes(mesh: Mesh) -> Mended:
    """Move the tip of each outward spike of a closed surface to the middle of its foot.

    Pits that are as thin stay: to fill one would make the piece larger than the scan shows.
    """
    if len(mesh.vertices) < _FEWEST:
        return Mended(mesh)
    tips, feet = _spikes(mesh)
    if not len(tips):
        return Mended(mesh)
    vertices = mesh.vertices.copy()
    vertices[tips] = feet
    height = lengths(mesh.vertices[tips] - feet)
    worst = int(np.argmax(height))
    area = areas_mm2(mesh.triangles)
    lost = float(area[np.isin(mesh.faces, tips).any(axis=1)].sum())
    sentence = (
        f"{counted(len(tips), 'spike')} taken off, {plain(lost, 3)} mm² or "
        f"{percent(lost / float(area.sum()))} of the surface, the longest "
        f"{mm(float(height[worst]))} high about {place(feet[worst])}; the piece becomes smaller"
    )
    points = np.vstack([mesh.vertices[tips], feet])
    repair = Repair(sentence, points, lost, float(height.max()))
    return Mended(Mesh(vertices, mesh.faces), (repair,))


def _spikes(mesh: Mesh) -> tuple[Ints, Floats]:
    """(the vertices that are tips of spikes, the middles (k, 3) of their feet)."""
    shortest, around, outward, middle = rings(mesh.vertices, mesh.faces)
    height = lengths(mesh.vertices - middle)
    slender = height > SLENDER / (2.0 * math.pi) * around
    outlying = shortest > OUTLYING * np.median(shortest)
    tips = np.flatnonzero(slender & outlying & outward)
    return tips, middle[tips]
