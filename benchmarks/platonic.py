"""The largest copy of one Platonic solid in another: all 20 pairs against published edges."""

from functools import partial
from itertools import product

import numpy as np

from benchmarks.tables import Table, load, timed, write_page
from optimizer import largest_copy
from optimizer.mesh import Floats

INTRO = """\
`largest_copy` of a unit-edge solid in a unit-edge container, compiled code warm, against the
greatest edge as published: H. T. Croft, On maximal regular polyhedra inscribed in a regular
polyhedron, Proc. London Math. Soc. (3) 41 (1980) 279-296, proves 14; M. Firsching, Computing
maximal copies of polytopes contained in a polytope, arXiv 1407.0683, the six marked *."""

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


def fit_all() -> Table:
    """Fit every pair: errors and times."""
    import trimesh

    corners = solids()
    containers = {name: trimesh.convex.convex_hull(points) for name, points in corners.items()}
    largest_copy(corners["cube"], containers["octahedron"])  # compiled code is loaded here
    rows, total, worst = [], 0.0, 0.0
    for (inner, outer), edge in EDGES.items():
        fit, seconds = timed(partial(largest_copy, corners[inner], containers[outer]))
        error = fit.scale / edge - 1.0
        name = f"{inner} in {outer}" + ("*" if (inner, outer) in BY_FIRSCHING else "")
        rows.append([name, f"{edge:.12f}", f"{error:+.1e}", f"{seconds:.2f}"])
        total, worst = total + seconds, max(worst, abs(error))
    note = f"Largest error {worst:.1e}; all 20 in {total:.1f} s."
    return Table("All 20 pairs", ("pair", "edge", "relative error", "seconds"), rows, note)


def main() -> None:
    """Fit every pair and write the page."""
    before = load()
    write_page("platonic", INTRO, [fit_all()], before)


if __name__ == "__main__":
    main()
