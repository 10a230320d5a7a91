"""What stones take of the piece's volume, each with its half of every kerf beside it.

No cut comes nearer to a stone than half a kerf and the allowances, r. So the stones, each with all
places within r of it, have no place in common. They lie in the piece less the skin, again with all
places within r: convex bodies, whose volumes Steiner's formula gives. Where the piece has hollows,
the lesser of r and the skin serves: then every such place lies in the piece itself.
"""

from bisect import bisect_left
from collections.abc import Sequence
from itertools import groupby

import numpy as np

from optimizer.mesh import Floats
from optimizer.several.dilated import ConvexMeasures
from optimizer.several.stone_kinds import SizeClass

ANCHORS = 20  # sizes of a kind for which the hull of a stone is made


def volume_takes(classes: Sequence[SizeClass], clearance: float) -> Floats:
    """The least volume in mm³ of the stones of each class with a clearance all round, (c,).

    The classes of a kind stand together. A body made smaller in proportion lies in the smaller
    stone, whose girdle is no thinner in mm; so between the sizes that are computed, the next
    greater one is scaled down.
    """
    found: list[float] = []
    for _, group in groupby(classes, key=lambda one: id(one.kind)):
        own = list(group)
        wanted = np.unique(np.linspace(0, len(own) - 1, ANCHORS).astype(int))
        anchors = [own[k].low for k in wanted]
        measures = [ConvexMeasures.of(own[k].kind.corners_at(own[k].low)) for k in wanted]
        for one in own:
            k = bisect_left(anchors, one.low)
            scale = one.low / anchors[k] if anchors[k] > 0.0 else 1.0
            found.append(measures[k].dilated(clearance, scale))
    return np.array(found)
