"""Is the surface one closed body? Open edges, edges of three faces, loose pieces, windings."""

from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, Mesh, volume
from optimizer.rough.mend import counted

_SIZES_SHOWN = 4


@dataclass(frozen=True)
class Edges:
    """Where faces meet: ``twin`` (k, 2) the two faces at each edge, ``same_way`` (k,) whether both
    run along it in the same direction (they should not)."""

    twin: Ints
    same_way: np.ndarray


def place(point: Floats) -> str:
    """A point for a message, to a hundredth of a millimetre."""
    x, y, z = (round(float(v), 2) + 0.0 for v in point)
    return f"({x:g}, {y:g}, {z:g}) mm"


def meeting_edges(mesh: Mesh, name: str) -> Edges:
    """The edges of a closed surface. Raises InputError where one has not exactly two faces."""
    half = mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    key = half.min(axis=1) * len(mesh.vertices) + half.max(axis=1)
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(key[order]) != 0])
    faces_at = np.diff(np.r_[starts, len(order)])
    if (faces_at > 2).any():
        raise _branching(mesh, half[order[starts[faces_at > 2]]], name)
    if (faces_at < 2).any():
        raise _open(mesh, half[order[starts[faces_at < 2]]], name)
    pair = order.reshape(-1, 2)
    return Edges(pair // 3, half[pair[:, 0], 0] == half[pair[:, 1], 0])


def _branching(mesh: Mesh, edges: Ints, name: str) -> InputError:
    middle = mesh.vertices[edges[0]].mean(axis=0)
    return InputError(
        f"{name}: {counted(len(edges), 'edge')} with more than two triangles (the first at "
        f"{place(middle)}); remove the inner or doubled walls in the scan software"
    )


def _open(mesh: Mesh, edges: Ints, name: str) -> InputError:
    ends = mesh.vertices[edges]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    hole = _joined(edges)
    rim = np.bincount(hole, length)
    worst = int(np.argmax(rim))
    middle = ends[hole == worst].reshape(-1, 3).mean(axis=0)
    return InputError(
        f"{name}: the surface is open: {counted(len(edges), 'open edge')} in "
        f"{counted(len(rim), 'hole')}, {length.sum():.2f} mm of rim in all (the longest rim, "
        f"{rim[worst]:.2f} mm, lies about {place(middle)}); close the holes in the scan software"
    )


def _joined(edges: Ints) -> Ints:
    """The number of the connected rim that each edge belongs to."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    used, local = np.unique(edges, return_inverse=True)
    a, b = local.reshape(-1, 2).T
    graph = coo_array((np.ones(len(a), np.int8), (a, b)), shape=(len(used), len(used)))
    return np.asarray(connected_components(graph, directed=False)[1][a], np.int64)


def faces_against(mesh: Mesh, edges: Edges, name: str) -> Ints:
    """The faces to turn so that all agree: the fewer of the two ways.

    Each face stands twice in a graph, as read and turned; neighbours are joined the way round that
    makes them agree. A body then falls into two halves, one the reverse of the other.
    Raises InputError where there are several bodies, or the surface has only one side.
    """
    count = len(mesh.faces)
    bodies = _components(edges.twin, count)
    if bodies.max(initial=0) > 0:
        raise _several(mesh, bodies, name)
    if not edges.same_way.any():
        return np.zeros(0, np.int64)
    a, b = edges.twin.T
    across = np.where(edges.same_way, count, 0)
    doubled = np.vstack(
        [np.column_stack([a, b + across]), np.column_stack([a + count, b + count - across])]
    )
    half = _components(doubled, 2 * count)
    if half[0] == half[count]:
        raise InputError(f"{name}: the surface has only one side; it bounds no solid, rescan it")
    against = half[:count] != half[0]
    return np.flatnonzero(against if 2 * against.sum() <= count else ~against)


def _components(pairs: Ints, count: int) -> Ints:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    ones = np.ones(len(pairs), np.int8)
    graph = coo_array((ones, (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], np.int64)


def _several(mesh: Mesh, bodies: Ints, name: str) -> InputError:
    order = np.argsort(bodies, kind="stable")
    corners = mesh.triangles[order]
    starts = np.flatnonzero(np.r_[True, np.diff(bodies[order]) != 0])
    low = np.minimum.reduceat(corners.min(axis=1), starts)
    high = np.maximum.reduceat(corners.max(axis=1), starts)
    size = (high - low).max(axis=1)
    rank = np.argsort(-size, kind="stable")
    volumes = _signed_volumes(mesh, bodies)
    inside = volumes * volumes[rank[0]] < 0.0
    if inside.any():
        return InputError(
            f"{name}: {counted(int(inside.sum()), 'inner surface')} wound the other way round, as "
            f"around a hollow (the largest with a longest side of {size[inside].max():.2f} mm); "
            "hollows are not planned around yet, so remove them only where the stone is sound there"
        )
    shown = ", ".join(f"{size[i]:.2f}" for i in rank[:_SIZES_SHOWN])
    more = ", ..." if len(rank) > _SIZES_SHOWN else ""
    second = place((low[rank[1]] + high[rank[1]]) / 2.0)
    return InputError(
        f"{name}: {len(rank):,} separate bodies, longest sides {shown}{more} mm (the second lies "
        f"about {second}); keep one and remove the others in the scan software"
    )


def _signed_volumes(mesh: Mesh, bodies: Ints) -> Floats:
    """Volume of each body, negative where its surface is wound inside out."""
    v = mesh.triangles - mesh.vertices.mean(axis=0)
    return np.bincount(bodies, np.einsum("ij,ij->i", v[:, 0], np.cross(v[:, 1], v[:, 2]))) / 6.0


def refuse_flat(mesh: Mesh, name: str) -> None:
    """Raises InputError where the surface encloses next to nothing of its own box."""
    sides = np.ptp(mesh.vertices, axis=0)
    # A billionth of the longest side cubed is far below any solid, far above rounding.
    if abs(volume(mesh)) <= 1e-9 * sides.max() ** 3:
        a, b, c = sides
        raise InputError(
            f"{name}: the surface encloses no volume ({a:.4g} × {b:.4g} × {c:.4g} mm); scan the "
            "piece from all sides"
        )
