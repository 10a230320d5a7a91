"""The largest copy of one Platonic solid in another: found and proved, against published edges."""

from functools import partial
from itertools import product
from typing import Any

import numpy as np

from benchmarks.tables import Table, on_one_core, timed, write_page
from optimizer import largest_copy
from optimizer.mesh import Floats
from optimizer.placement.bound import widest
from optimizer.placement.containers import hull_planes
from optimizer.placement.copy import convex_body
from optimizer.placement.proof import ProofTask, prove

PROVED = 1e-6  # relative, in scale
SHORT = 1e-3  # how far below the best a scale is tried that must not be called best
CELLS = 50_000  # that such a try may look at
INTRO = """\
`largest_copy` of a unit-edge solid in a unit-edge container, compiled code warm, against the
greatest edge as published: H. T. Croft, On maximal regular polyhedra inscribed in a regular
polyhedron, Proc. London Math. Soc. (3) 41 (1980) 279-296, proves 14; M. Firsching, Computing
maximal copies of polytopes contained in a polytope, arXiv 1407.0683, the six marked *. Goals: all
20 to 1e-9 in under 3 s on one core; all 20 proved to 1e-6 in scale in under 60 s."""

PHI = (1.0 + 5.0**0.5) / 2.0

# Edge of the inner solid in a container of edge 1: (inner, container) -> length. Closed forms
# where they are short, else the root of Firsching's polynomial.
EDGES = {
    ("cube", "tetrahedron"): 1.0 / (1.0 + 2.0 * 3.0**0.5 / 3.0 + 6.0**0.5 / 2.0),
    ("octahedron", "tetrahedron"): 0.5,
    ("dodecahedron", "tetrahedron"): 0.1626315802186129,
    ("icosahedron", "tetrahedron"): (3.0 * 2.0**0.5 - 10.0**0.5) / 4.0,
    ("tetrahedron", "cube"): 2.0**0.5,
    ("octahedron", "cube"): 3.0 * 2.0**0.5 / 4.0,
    ("dodecahedron", "cube"): (3.0 * 2.0**0.5 - 7.0 + (55.0 - 30.0 * 2.0**0.5) ** 0.5) / 2.0,
    ("icosahedron", "cube"): 1.0 / PHI,
    ("tetrahedron", "octahedron"): 1.0,
    ("cube", "octahedron"): 2.0 - 2.0**0.5,
    ("dodecahedron", "octahedron"): (25.0 * 2.0**0.5 - 9.0 * 10.0**0.5) / 22.0,
    ("icosahedron", "octahedron"): (3.0 * 2.0**0.5 - 10.0**0.5) / 2.0,
    ("tetrahedron", "dodecahedron"): PHI * 2.0**0.5,
    ("cube", "dodecahedron"): PHI,
    ("octahedron", "dodecahedron"): PHI**2 / 2.0**0.5,
    ("icosahedron", "dodecahedron"): PHI**2 / 2.0,
    ("tetrahedron", "icosahedron"): 1.3474428503311956,
    ("cube", "icosahedron"): (5.0 + 7.0 * 5.0**0.5) / 22.0,
    ("octahedron", "icosahedron"): (1.0 + 0.5**0.5 + (7.5 - 5.0 * 2.0**0.5) ** 0.5) / 2.0,
    ("dodecahedron", "icosahedron"): (15.0 - 5.0**0.5) / 22.0,
}
BY_FIRSCHING = {
    ("dodecahedron", "tetrahedron"),
    ("dodecahedron", "octahedron"),
    ("icosahedron", "dodecahedron"),
    ("tetrahedron", "icosahedron"),
    ("cube", "icosahedron"),
    ("dodecahedron", "icosahedron"),
}


def solids() -> dict[str, Floats]:
    """Corners of the five solids with edge 1, (n, 3) each."""
    cube = np.array(list(product((-0.5, 0.5), repeat=3)))
    return {
        "tetrahedron": np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]]) / 8.0**0.5,
        "cube": cube,
        "octahedron": np.vstack([np.eye(3), -np.eye(3)]) / 2.0**0.5,
        "dodecahedron": np.vstack([2.0 * cube, _on_three_planes(1.0 / PHI)]) * PHI / 2.0,
        "icosahedron": _on_three_planes(1.0) / 2.0,
    }


def _on_three_planes(short: float) -> Floats:
    """(0, ±short, ±φ), and the same with its coordinates turned round, (12, 3)."""
    corners = np.array([(0.0, a, b) for a, b in product((-short, short), (-PHI, PHI))])
    return np.vstack([np.roll(corners, turn, axis=1) for turn in range(3)])


Solids = tuple[Floats, Any]
"""Corners of the inner solid, and the container as a trimesh."""


def all_pairs() -> dict[tuple[str, str], Solids]:
    """Inner solid and container of every pair."""
    import trimesh

    corners = solids()
    outer = {name: trimesh.convex.convex_hull(points) for name, points in corners.items()}
    return {pair: (corners[pair[0]], outer[pair[1]]) for pair in EDGES}


def _name(pair: tuple[str, str]) -> str:
    return " in ".join(pair) + ("*" if pair in BY_FIRSCHING else "")


def found(pairs: dict[tuple[str, str], Solids]) -> Table:
    """Find every pair on one core and on all: errors and times."""
    rows, totals, worst = [], np.zeros(2), 0.0
    for pair, solids_of in pairs.items():
        find = partial(largest_copy, *solids_of)
        with on_one_core():
            fit, one = timed(find)
        again, every = timed(find)
        assert again.scale == fit.scale
        error = fit.scale / EDGES[pair] - 1.0
        rows.append(
            [_name(pair), f"{EDGES[pair]:.12f}", f"{error:+.1e}", f"{one:.2f}", f"{every:.2f}"]
        )
        totals, worst = totals + np.array([one, every]), max(worst, abs(error))
    columns = ("pair", "edge", "relative error", "s on one core", "s on all cores")
    note = (
        f"Largest error {worst:.1e}; all 20 in {totals[0]:.1f} s on one core, {totals[1]:.1f} s on "
        "all."
    )
    return Table("Found", columns, rows, note)


def proofs(pairs: dict[tuple[str, str], Solids]) -> Table:
    """Prove every pair: what the bound leaves, what it says of the published edge, and times."""
    rows, total, confirmed = [], 0.0, 0
    for pair, solids_of in pairs.items():
        fit, seconds = timed(partial(largest_copy, *solids_of, prove=True, gap=PROVED))
        edge, rounding = EDGES[pair], 1e-12
        gap = fit.bound / fit.scale - 1.0
        holds = fit.scale * (1.0 - rounding) <= edge <= fit.bound * (1.0 + rounding)
        yes = holds and gap <= 1.01 * PROVED
        rows.append([_name(pair), f"{gap:.1e}", "yes" if yes else "no", f"{seconds:.2f}"])
        total, confirmed = total + seconds, confirmed + yes
    columns = (
        "pair",
        "bound / found − 1",
        "published edge confirmed to 1e-6",
        "s, search and proof",
    )
    note = (
        f"The published edge lies between what is found and what is proved in {confirmed} of 20; "
        f"all 20 in {total:.1f} s on all cores."
    )
    return Table("Found and proved", columns, rows, note)


def short_of_the_best(pairs: dict[tuple[str, str], Solids]) -> Table:
    """Tell the proof of a scale a little short of the best: it must never call that the best."""
    from scipy.spatial import ConvexHull

    rows, wrong = [], 0
    for pair, (corners, container) in pairs.items():
        body, room = convex_body(corners)[0], hull_planes(ConvexHull(container.vertices))
        task = ProofTask(EDGES[pair] * (1.0 - SHORT), widest(body, room), SHORT / 2.0, CELLS)
        proof = prove(body.vertices, body.rotations, room, task)
        wrong += proof.closed or proof.bound < EDGES[pair] * (1.0 - 1e-12)
        above = proof.bound / EDGES[pair] - 1.0
        rows.append(
            [_name(pair), "yes" if proof.closed else "no", f"{above:.1e}", f"{proof.cells:,}"]
        )
    columns = ("pair", "called best", "bound / edge − 1", "cells looked at")
    note = f"Called best, or bounded below the best, wrongly: {wrong} of 20."
    return Table(f"Told of a scale {100.0 * SHORT:g} % short of the best", columns, rows, note)


def main() -> None:
    """Find and prove every pair and write the page."""
    pairs = all_pairs()
    largest_copy(*pairs["cube", "octahedron"], prove=True)  # compiled code is loaded here
    write_page("platonic", INTRO, [found(pairs), proofs(pairs), short_of_the_best(pairs)])


if __name__ == "__main__":
    main()
