"""The proven bound of one body: first in the rough's hull, then, if need be, in its hollows too."""

from dataclasses import replace

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.placement.cell_demands import OverCells
from optimizer.placement.containers import Planes
from optimizer.placement.hollow import prove_hollow
from optimizer.placement.hollows import Hollows
from optimizer.placement.proof import Proof, ProofTask, prove
from optimizer.placement.search import QUIET, Watch

HULL_CELLS = 4000  # the hull's proof gets at least so many cells where hollows are given
HULL_SHARE = 200  # or one in so many cells of the budget, if that is more: seconds of minutes
MOST_PLANES = 256  # of the hull, that the hollows' proof uses
MOST_HOLLOW_CELLS = 2_000_000  # the budget there of a proof that the user asks for: minutes
NODE = 2  # a node costs as much work as so many cells


def bound_size(
    body: Body,
    group: Floats,
    hull: Planes,
    hollows: Hollows | None,
    task: ProofTask,
    demands: OverCells | None = None,
    watch: Watch = QUIET,
) -> Proof:
    """Bound the size of any copy of ``body`` that lies within ``hull`` and, where they are given,
    clear of ``hollows``. The arguments are those of ``prove``; the budget is in cells."""
    budget = task.budget
    first = budget if hollows is None else min(budget, max(HULL_CELLS, budget // HULL_SHARE))
    proof = prove(body.vertices, group, hull, replace(task, budget=first), demands, watch)
    if hollows is None or proof.closed or watch.stop():
        return proof
    last = proof.planes[-MOST_PLANES:]
    matter = Planes(np.ascontiguousarray(hull.normals[last]), hull.offsets[last])
    rest = replace(task, most=proof.bound, budget=(budget - proof.cells) // NODE)
    clear = prove_hollow(body, group, matter, hollows, rest, demands, watch)
    return Proof(clear.bound, proof.cells + NODE * clear.nodes, clear.closed, proof.planes)
