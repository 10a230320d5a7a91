"""Holes in a scanned surface: small ones are filled by the smallest surface over their rim.

Nothing was seen in a hole, so its filling is a guess. Only holes are filled that are small beside
the piece and whose rim is nearly flat, or that are one or two triangles of a coarse mesh; a warning
says how deep the true surface may lie.
"""

from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, Mesh, lengths
from optimizer.rough.kernels.holes import least_areas
from optimizer.rough.model import Repair
from optimizer.rough.repair.edges import Edges
from optimizer.rough.repair.mend import Mended, counted
from optimizer.rough.repair.words import areas_mm2, longest_mm, mm, percent, place
from optimizer.wording.plain_number import plain

WIDEST_SHARE = 0.05  # of the piece's longest side that a filled hole may measure across
MOST_AREA_SHARE = 0.01  # of the surface that all filled holes may make up
_FLATNESS = 0.25  # of a hole's width that its rim may rise from its best plane
_PLAIN_FLATNESS = 0.05  # the same of a rim of four corners that counts as plainly flat
_MOST_CORNERS = 200  # of a rim; the time to fill grows with the cube


@dataclass(frozen=True)
class Hole:
    """A rim as a closed loop of vertices, in the order in which a filling face runs along it."""

    rim: Ints
    across_mm: float
    rise_mm: float  # how far the rim departs from its best plane
    around_mm: float
    middle: Floats
    area_mm2: float  # of the triangles from its first corner to its sides

    @property
    def plain(self) -> bool:
        """Whether all that is missing is one triangle, or two that lie nearly flat: no larger than
        those about it, so that nothing between its corners was left unseen."""
        flat = self.rise_mm <= _PLAIN_FLATNESS * self.across_mm
        return len(self.rim) == 3 or (len(self.rim) == 4 and flat)


def find_holes(mesh: Mesh, edges: Edges) -> list[Hole]:
    """The holes of a surface of one winding, the longest rim first."""
    open_sides = edges.sides[edges.starts[edges.count == 1]]
    if not len(open_sides):
        return []
    holes = [_hole(mesh, np.array(rim)) for rim in _loops(edges.ends[np.sort(open_sides)][:, ::-1])]
    return sorted(holes, key=lambda hole: -hole.around_mm)


def _loops(ends: Ints) -> list[list[int]]:
    """Directed edges (k, 2) as closed loops in which no vertex comes twice."""
    onward: dict[int, list[int]] = {}
    for a, b in ends.tolist():
        onward.setdefault(a, []).append(b)
    loops = []
    for first in list(onward):
        path, number = [first], {first: 0}
        while onward.get(path[-1]):
            ahead = onward[path[-1]].pop()
            if ahead in number:
                start = number[ahead]
                loops.append(path[start:])
                for gone in path[start:]:
                    del number[gone]
                del path[start:]
            number[ahead] = len(path)
            path.append(ahead)
    return loops


def _hole(mesh: Mesh, rim: Ints) -> Hole:
    points = mesh.vertices[rim]
    middle = points.mean(axis=0)
    axes = np.linalg.svd(points - middle)[2]
    across = float(np.ptp((points - middle) @ axes[0]))
    rise = float(np.abs((points - middle) @ axes[2]).max())
    around = float(lengths(np.roll(points, -1, axis=0) - points).sum())
    fan = np.stack(
        [np.broadcast_to(points[0], points.shape), points, np.roll(points, -1, axis=0)], 1
    )
    return Hole(rim, across, rise, around, middle, float(areas_mm2(fan).sum()))


def too_big(mesh: Mesh, holes: list[Hole]) -> list[Hole]:
    """The holes that are too large or too uneven to be filled."""
    widest = WIDEST_SHARE * longest_mm(mesh)
    largest = MOST_AREA_SHARE * float(areas_mm2(mesh.triangles).sum())
    return [
        hole
        for hole in holes
        if (hole.across_mm > widest and not (hole.plain and hole.area_mm2 <= largest))
        or hole.rise_mm > _FLATNESS * hole.across_mm
        or not 3 <= len(hole.rim) <= _MOST_CORNERS
    ]


def open_error(mesh: Mesh, holes: list[Hole], name: str) -> InputError:
    """Why a surface with these holes is refused, and what to rescan."""
    edges = counted(sum(len(hole.rim) for hole in holes), "open edge")
    around = sum(hole.around_mm for hole in holes)
    worst = (too_big(mesh, holes) or holes)[0]
    widest = WIDEST_SHARE * longest_mm(mesh)
    if worst.across_mm > widest:
        what = f"is wider than the {mm(widest)} that can be filled; rescan it from there"
    else:
        what = "isn't flat enough to be filled; rescan it from there"
    return InputError(
        f"{name}: the surface is open: {edges} in {counted(len(holes), 'hole')}, {around:.2f} mm "
        f"of rim in all (the longest rim, {holes[0].around_mm:.2f} mm, lies about "
        f"{place(holes[0].middle)}). The hole about {place(worst.middle)}, {mm(worst.across_mm)} "
        f"across, {what}, turning the piece over where its base was hidden"
    )


def fill(mesh: Mesh, edges: Edges, name: str) -> Mended:
    """The surface with its holes filled. Raises InputError where they are too big or too many."""
    holes = find_holes(mesh, edges)
    if not holes:
        return Mended(mesh)
    if too_big(mesh, holes):
        raise open_error(mesh, holes, name)
    patches: list[Ints] = []
    tips: list[Floats] = []
    for hole in holes:
        patch = _smallest(mesh, edges, hole.rim)
        if patch is None:
            tip = np.full(len(hole.rim), len(mesh.vertices) + len(tips))
            patch = np.column_stack([hole.rim, np.roll(hole.rim, -1), tip])
            tips.append(hole.middle)
        patches.append(patch)
    filled = Mesh(np.vstack([mesh.vertices, *tips]), np.vstack([mesh.faces, *patches]))
    area = float(areas_mm2(filled.triangles[len(mesh.faces) :]).sum())
    share = area / float(areas_mm2(mesh.triangles).sum())
    if share > MOST_AREA_SHARE:
        raise InputError(
            f"{name}: {counted(len(holes), 'hole')} make up {percent(share)} of the surface, more "
            f"than the {percent(MOST_AREA_SHARE)} that can be filled (the longest rim lies about "
            f"{place(holes[0].middle)}); rescan the piece"
        )
    widest = max(holes, key=lambda hole: hole.across_mm)
    deep = widest.across_mm / 2.0  # the depth of a half ball (common practice, no source)
    sentence = (
        f"{counted(len(holes), 'hole')} filled, {plain(area, 3)} mm² or {percent(share)} of the "
        f"surface, the widest {mm(widest.across_mm)} across about "
        f"{place(widest.middle)}{_of_plain(mesh, holes)}"
    )
    doubt = (
        f"nothing was seen where {counted(len(holes), 'hole')} got filled: the surface may lie "
        f"{mm(deep)} deeper there (the widest about {place(widest.middle)}); a plan warns "
        "where its stone comes near"
    )
    middles = np.array([hole.middle for hole in holes])
    return Mended(filled, (Repair(sentence, middles, area, deep, "a hole was filled"),), (doubt,))


def _of_plain(mesh: Mesh, holes: list[Hole]) -> str:
    """What is said of holes that are filled though they are wide."""
    most = WIDEST_SHARE * longest_mm(mesh)
    wide = sum(hole.across_mm > most for hole in holes)
    if not wide:
        return ""
    return f"; wider than {mm(most)}, but of one or two triangles alone and so plainly flat: {wide}"


def _smallest(mesh: Mesh, edges: Edges, rim: Ints) -> Ints | None:
    """The triangles (k, 3) over a rim with the least area in all (Barequet and Sharir 1995), none
    of whose inner edges is an edge of the surface already; None where there are none such."""
    n = len(rim)
    low, high = np.minimum(rim[:, None], rim), np.maximum(rim[:, None], rim)
    key = low * len(mesh.vertices) + high
    taken = edges.key[np.searchsorted(edges.key, key).clip(max=len(edges.key) - 1)] == key
    cost, split = least_areas(mesh.vertices[rim], taken)
    if not np.isfinite(cost):
        return None
    faces, waiting = [], [(0, n - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first > 1:
            middle = int(split[first, last])
            faces.append((first, middle, last))
            waiting += [(first, middle), (middle, last)]
    return np.asarray(rim[np.array(faces)])
