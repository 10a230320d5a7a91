"""Walls that bound nothing: flaps that hang on an edge, and open sheets beside a closed body."""

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, Mesh
from optimizer.rough.kernels.windings import winding
from optimizer.rough.model import Repair
from optimizer.rough.repair.budget import BudgetSpentError
from optimizer.rough.repair.crossing import crossing_pairs
from optimizer.rough.repair.edges import Edges, components, edges_of, members_of
from optimizer.rough.repair.holes import find_holes, open_error, too_big
from optimizer.rough.repair.mend import Mended, counted
from optimizer.rough.repair.orient import signed_volumes
from optimizer.rough.repair.words import areas_mm2, longest_mm, percent, place
from optimizer.wording.plain_number import plain

MOST_AREA_SHARE = 0.01  # of the surface that flaps and inner walls may make up
_FEWEST_ROUNDS, _MOST_WORK = 50, 5_000_000  # looks at all triangles; triangles in all of them
_MOST_SHEETS = 20_000  # open bodies
_MOST_LARGE = 20  # of some size, each tried against the piece
_REMOVE = "remove inner or doubled walls in the scan software, or rescan the piece"
FLAT_SHARE = 0.05  # of its length: how thick a flat sheet of any size may be


def drop_flaps(mesh: Mesh, edges: Edges, name: str) -> Mended:
    """Leave out flaps and inner walls on edges at which the surface branches, the smallest first.

    Raises InputError where they are too large a part of the surface, or where one of several walls
    could be left out.
    """
    odd = _odd(edges)
    if not odd.any():
        return Mended(mesh)
    area = areas_mm2(mesh.triangles)
    gone = _flaps(mesh, edges, MOST_AREA_SHARE * float(area.sum()))
    if gone is None:
        raise _branching(mesh, edges, np.flatnonzero(odd), name)
    lost = float(area[gone].sum())
    sentence = (
        f"{counted(int(gone.sum()), 'triangle')} of flaps or inner walls on branching edges left "
        f"out, {plain(lost, 3)} mm² or {percent(lost / float(area.sum()))} of the surface; they "
        "bounded nothing, so the piece keeps its size"
    )
    kept = Mesh(mesh.vertices, mesh.faces[~gone])
    return Mended(kept, (Repair(sentence, mesh.triangles[gone].mean(axis=1), lost),))


def _flaps(mesh: Mesh, edges: Edges, most_mm2: float) -> np.ndarray | None:
    """Which faces (m,) are flaps or inner walls; None where they exceed ``most_mm2``, or none can
    go without leaving a hole."""
    patch = components(edges.joined() // 3, len(mesh.faces))
    size = np.bincount(patch, areas_mm2(mesh.triangles))
    gone, lost, work = np.zeros(len(mesh.faces), bool), 0.0, 0
    while _odd(edges).any():
        flaps = _may_go(edges, patch[~gone], size)
        lost += float(size[flaps].sum())
        if not len(flaps) or lost > most_mm2:
            return None
        gone |= np.isin(patch, flaps)
        edges = edges_of(Mesh(mesh.vertices, mesh.faces[~gone]))
        work += len(mesh.faces)
        if work > max(_MOST_WORK, _FEWEST_ROUNDS * len(mesh.faces)):
            why = "one lies behind another"
            raise BudgetSpentError("leaving out flaps and inner walls", why, _REMOVE)
    return gone


def refuse_branching(mesh: Mesh, edges: Edges, name: str) -> None:
    """Raises InputError where more than two faces meet in an edge and don't merely touch there."""
    odd = _odd(edges)
    if odd.any():
        raise _branching(mesh, edges, np.flatnonzero(odd), name)


def _odd(edges: Edges) -> np.ndarray:
    """Edges of more than two faces at which the surface doesn't merely touch itself."""
    paired = np.zeros(len(edges.sides), bool)
    paired[edges.touching().reshape(-1)] = True
    return np.asarray((edges.count > 2) & ~paired[edges.sides[edges.starts]])


def _may_go(edges: Edges, patch: Ints, size: np.ndarray) -> Ints:
    """The patches on odd edges that can be left out without opening an edge, each the smallest at
    its edges; where there is no such patch, the smallest of all that can be left out."""
    width = len(size)
    at = np.repeat(np.arange(len(edges.count)), edges.count)
    pair, mine = np.unique(at * width + patch[edges.sides // 3], return_counts=True)
    edge, of = np.divmod(pair, width)
    on_odd = _odd(edges)[edge]
    may = np.setdiff1d(of[on_odd], of[edges.count[edge] - mine == 1])
    rank = np.empty(width, np.int64)
    rank[np.lexsort([np.arange(width), size])] = np.arange(width)
    least = np.full(len(edges.count), width)
    np.minimum.at(least, edge[on_odd], rank[of[on_odd]])
    beaten = of[on_odd][rank[of[on_odd]] > least[edge[on_odd]]]
    first = np.setdiff1d(may, beaten)
    return first if len(first) else may[np.argsort(rank[may])][:1]


def _branching(mesh: Mesh, edges: Edges, odd: Ints, name: str) -> InputError:
    side = int(edges.sides[edges.starts[odd[0]]])
    middle = mesh.vertices[edges.ends[side]].mean(axis=0)
    return InputError(
        f"{name}: {counted(len(odd), 'edge')} with more than two triangles (the first at "
        f"{place(middle)}), and which of the walls there belong to the piece isn't certain; "
        f"{_REMOVE} about there"
    )


def drop_sheets(mesh: Mesh, edges: Edges, name: str) -> Mended:
    """Leave out open sheets beside a closed body, such as a patch of the turntable.

    Raises InputError where no body is closed (but for holes that can be filled), or where a sheet
    of some size lies in the piece or passes through it.
    """
    if not (edges.count == 1).any():
        return Mended(mesh)
    body = components(edges.joined() // 3, len(mesh.faces))
    open_bodies = np.unique(body[edges.sides[edges.starts[edges.count == 1]] // 3])
    if len(open_bodies) == int(body.max()) + 1 == 1:
        return Mended(mesh)
    if len(open_bodies) > _MOST_SHEETS:
        raise BudgetSpentError(
            "sorting out what is open",
            f"{len(open_bodies):,} separate sheets",
            "keep the piece alone in the scan software",
        )
    volumes, members = np.abs(signed_volumes(mesh, body)), members_of(body)
    for b in open_bodies:
        part = Mesh(mesh.vertices, mesh.faces[members[b]])
        if too_big(part, find_holes(part, edges_of(part))):
            volumes[b] = -1.0
    piece = int(np.argmax(volumes))
    sheets = [int(b) for b in open_bodies if b != piece]
    if not sheets:
        return Mended(mesh)
    area = np.bincount(body, areas_mm2(mesh.triangles))
    large = [sheet for sheet in sheets if area[sheet] > MOST_AREA_SHARE * area[piece]]
    if (
        volumes[piece] <= 0.0
        or len(large) > _MOST_LARGE
        or not all(_bounds_nothing(mesh, body, piece, sheet) for sheet in large)
    ):
        raise open_error(mesh, find_holes(mesh, edges), name)
    gone = np.isin(body, sheets)
    lost = float(area[sheets].sum())
    sentence = (
        f"{counted(len(sheets), 'open sheet')} beside the piece left out, {plain(lost, 3)} mm²; "
        "it bounded nothing, so the piece keeps its size"
    )
    middles = np.array([mesh.triangles[members[sheet]].mean(axis=(0, 1)) for sheet in sheets])
    return Mended(Mesh(mesh.vertices, mesh.faces[~gone]), (Repair(sentence, middles, lost),))


def _bounds_nothing(mesh: Mesh, body: Ints, piece: int, sheet: int) -> bool:
    """Whether a sheet is flat, lies outside the piece, and doesn't pass through it."""
    corners = mesh.triangles[body == sheet].reshape(-1, 3)
    extent = np.ptp((corners - corners.mean(axis=0)) @ _axes(corners), axis=0)
    both = np.isin(body, (piece, sheet))
    pair = Mesh(mesh.vertices, mesh.faces[both])
    of_sheet = body[both] == sheet
    crossing = of_sheet[crossing_pairs(pair, 1e-9 * longest_mm(mesh))]
    around = winding(mesh.vertices, mesh.faces[body == piece], corners[0])
    return bool(
        extent.min() <= FLAT_SHARE * extent.max()
        and (crossing[:, 0] == crossing[:, 1]).all()
        and abs(around) < 0.5
    )


def _axes(points: Floats) -> Floats:
    """Main axes (3, 3) of points, as columns."""
    return np.asarray(np.linalg.eigh(np.cov(points.T))[1])
