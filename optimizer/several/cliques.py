"""Sets of stones of which at most one can be cut: stronger, together, than pairs alone."""

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Ints
from optimizer.several.kernels.cliques import covering


def cliques(near: NDArray[np.bool_]) -> list[Ints]:
    """Maximal cliques of the graph ``near`` (k, k), symmetric, that cover each of its edges.

    Greedy: each grows from an edge not covered yet by the neighbour that covers most others.
    """
    members, ends = covering(np.ascontiguousarray(near))
    return np.split(members, ends[:-1]) if len(ends) else []
