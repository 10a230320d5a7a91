"""Cliques of the conflict graph: sets of stones of which at most one can be cut.

One constraint for a clique gives a stronger relaxation than one for each of its edges.
"""

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Ints
from optimizer.several.kernels.cliques import covering


def clique_cover(conflicts: NDArray[np.bool_]) -> list[Ints]:
    """Maximal cliques of a graph ``conflicts`` (k, k), symmetric, that cover all of its edges.

    Greedy: each clique grows from an edge not covered yet, always by the vertex that covers most
    further edges.
    """
    members, ends = covering(np.ascontiguousarray(conflicts))
    return np.split(members, ends[:-1]) if len(ends) else []
