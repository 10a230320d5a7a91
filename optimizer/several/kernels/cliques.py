"""Compiled: cliques that cover all edges of a graph."""

import numpy as np

from optimizer.compiled import compiled


@compiled
def covering(near):
    """The vertices of all cliques, one clique after another (n,), and where each ends (c,)."""
    k = near.shape[0]
    uncovered = near.copy()
    members, ends = [0 for _ in range(0)], [0 for _ in range(0)]
    for v in range(k):
        for u in range(v + 1, k):
            if not uncovered[v, u]:
                continue
            clique = [v, u]
            common = near[v] & near[u]
            gain = uncovered[v].astype(np.int64) + uncovered[u].astype(np.int64)
            while True:
                best, most = -1, -1
                for w in range(k):
                    if common[w] and gain[w] > most:
                        best, most = w, gain[w]
                if best < 0:
                    break
                clique.append(best)
                for w in range(k):
                    common[w] = common[w] and near[best, w]
                    gain[w] += uncovered[best, w]
            for a in clique:
                for b in clique:
                    uncovered[a, b] = False
            members.extend(sorted(clique))
            ends.append(len(members))
    return np.array(members, np.int64), np.array(ends, np.int64)
