"""An upper bound by sections: what the stones' sections in parallel planes take of the piece's.

Take a plane E across the piece. The saw cuts that part the stones part their sections in E as well,
each cut going right through its part; so every stone that E meets has a convex polygon of its own.
A straight cut through a convex polygon adds at most four sides in all. So if E's section of the
piece has m sides, the polygons of n stones have at most m + 4·(n − 1) sides. A polygon with k sides
round an ellipse has at least k·tan(π/k)/π times its area: an affine map makes a circle of the
ellipse, and for the circle this is an old theorem (L. Fejes Tóth, Lagerungen in der Ebene, chapter
I). So for any price p >= 0 on a side, the sum over the stones of

    least over k of  k·tan(π/k)/π · ellipse + p·(k − 4)

is at most the section's area + p·(m − 4). The ellipse may be any that lies in the stone's section,
or in the section of the stone with a clearance all round, since no cut comes nearer to a stone than
half a kerf and its allowances. The piece's section is that of its hull, less the skin, with the
same clearance. Weighted means over several planes hold as well.

A stone that reaches further elsewhere than in E keeps its section away from the piece's upright
walls, by the ``overhang``. Where all ellipses are made so small that each keeps that distance, the
section of the piece may be made smaller by it.

What a stone takes depends on its direction and height. The least over all of them is found by
branch and bound over cells of directions, and over steps of heights, in which the size of the
ellipses is concave.
"""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.several.dilated import DilatedBody
from optimizer.several.section_room import SectionRoom
from optimizer.several.stone_sections import DirectionCells, Sections

SIDES = np.arange(3, 13)
FACTORS = SIDES * np.tan(np.pi / SIDES)  # a polygon's area for an inscribed circle of radius 1
OTHERS = FACTORS[1] - FACTORS[2]  # a side's price at which four sides are best
TRIANGLE = FACTORS[0] - FACTORS[1]  # the same where the piece has fewer
FLATTEST, SAMPLES = 3, 9  # halvings of directions, and heights, to see how a body lies flat
SHARE = 0.8  # of a body's overhang: in other places it has less
STEPS = 3  # of a stone's height in the piece
LEVELS = 8  # of halvings of a cell of directions: down to a third of a degree
CELLS = 1500  # of directions at most
CLOSE = 0.985  # a cell with so much of the least that was found is not divided


@dataclass(frozen=True)
class Measure:
    """Planes across the piece at ``heights`` (m,) mm above its floor with ``weights`` (m,), the
    ``price`` of a side in mm², and the ``overhang`` in mm."""

    heights: Floats
    weights: Floats
    price: float
    overhang: float

    def whole(self, room: SectionRoom) -> float:
        """What there is for all stones together, mm²."""
        each = [
            cheapest(room.polygons(height, self.overhang), self.price) for height in self.heights
        ]
        return float(self.weights @ each)


def reference(body: DilatedBody, room: SectionRoom) -> list[Measure]:
    """Measures that suit a body lying flat in the middle of the piece: the section half-way up, a
    side's price by the body's own section there, without overhang and with the body's."""
    directions = _even_directions()
    along = directions @ body.stone.T
    flat = int(np.argmin(np.ptp(along, axis=1)))
    low, high = along[flat].min(), along[flat].max()
    sections = Sections.of(body, directions[flat][None], np.zeros(1), 0.0)
    heights = np.append(np.linspace(low, high, SAMPLES), 0.5 * (low + high))
    sizes = np.maximum(sections.sizes(heights[None])[0], 0.0)
    half = room.height / 2.0
    sides = room.polygons(half, 0.0)
    if not sides:
        return []
    price = (TRIANGLE if sides[0][0] < 4 else OTHERS) * sizes[-1] ** 2
    further = SHARE * float(sizes.max() - sizes[-1]) * float(sections.least_axes[0])
    overhangs = (0.0, further) if further > 0.0 else (0.0,)
    return [Measure(np.array([half]), np.ones(1), price, o) for o in overhangs]


def may_miss(body: DilatedBody, room: SectionRoom) -> bool:
    """Whether a stone may lie so low in the piece that the plane half-way up misses it, with its
    clearance; judged by a set of directions."""
    flattest = float(np.ptp(_even_directions() @ body.stone.T, axis=1).min())
    return flattest + room.clearance < room.height / 2.0


def _even_directions() -> Floats:
    cells = DirectionCells.whole()
    for _ in range(FLATTEST):
        cells = cells.quarters(np.full(len(cells.face), True))
    return np.vstack([np.eye(3), cells.directions()])


def cheapest(polygons: tuple[tuple[int, float], ...], price: float) -> float:
    """The least area with ``price`` for each side beyond four, of polygons with so many sides and
    such areas; not below 0, which is what no stone takes."""
    return max(min((area + price * (n - 4.0) for n, area in polygons), default=0.0), 0.0)


def least_take(body: DilatedBody, symmetry: int, room: SectionRoom, measure: Measure) -> float:
    """No stone that holds the body takes less, mm², wherever it lies in the piece; infinity where
    the body fits nowhere. A turn by 360°/``symmetry`` about z maps the body onto itself."""
    cells, least, spent = DirectionCells.whole(), np.inf, 0
    for level in range(LEVELS + 1):
        cells = cells.within(symmetry)
        low, near = _takes(body, room, measure, cells)
        spent += len(low)
        open_ = low < CLOSE * min(near.min(initial=np.inf), least)
        last = level == LEVELS or spent + 4 * open_.sum() > CELLS
        least = min(least, low[~open_ | last].min(initial=np.inf))
        if last or not open_.any():
            break
        cells = cells.quarters(open_)
    return float(least)


def _takes(
    body: DilatedBody, room: SectionRoom, measure: Measure, cells: DirectionCells
) -> tuple[Floats, Floats]:
    """For each cell, what no stone takes less than, and about what one at its middle takes."""
    directions, radii = cells.directions(), cells.radii()
    takes = []
    for turn in (radii, np.zeros(len(radii))):
        first, last = _middles(body, room, directions, turn)
        found = np.full(len(radii), np.inf)
        fits = first <= last
        found[fits] = take(body, measure, directions[fits], turn[fits], first[fits], last[fits])
        takes.append(found)
    return takes[0], takes[1]  # the second is that of a stone which is there


def _middles(
    body: DilatedBody, room: SectionRoom, directions: Floats, radii: Floats
) -> tuple[Floats, Floats]:
    """How high above the floor the middle of a stone lies at least and at most, (n,) each, turned
    from a direction by up to ``radii``: every corner stays in the room, and a corner's height
    changes by the turn of its place alone."""
    along = directions @ body.stone.T
    aside = np.sqrt(np.maximum((body.stone**2).sum(axis=1) - along**2, 0.0))
    cosine, sine = np.cos(radii)[:, None], np.sin(radii)[:, None]
    # A corner at h along the direction and a off it comes to lie between cos·h ± sin·a, or
    # nearer to h.
    highest = np.minimum(along, cosine * along) - sine * aside
    lowest = np.maximum(along, cosine * along) + sine * aside
    return -lowest.min(axis=1), room.height - highest.max(axis=1)


def take(
    body: DilatedBody,
    measure: Measure,
    directions: Floats,
    radii: Floats,
    first: Floats,
    last: Floats,
) -> Floats:
    """What stones along directions (n, 3) take at least, (n,): turned further by up to ``radii``
    (n,), their middle between ``first`` and ``last`` (n,) mm above the floor."""
    sections = Sections.of(body, directions, radii, measure.overhang)
    ends = first[:, None] + np.linspace(0.0, 1.0, STEPS + 1) * (last - first)[:, None]
    total = np.zeros((len(first), STEPS))
    for height, weight in zip(measure.heights, measure.weights, strict=True):
        sizes = np.maximum(sections.sizes(height - ends), 0.0)
        size = np.minimum(sizes[:, :-1], sizes[:, 1:])
        total += weight * least_area(size, measure.price)
    return np.asarray(total.min(axis=1))


def least_area(size: Floats, price: float) -> Floats:
    """The least area of a polygon round an ellipse of the area π·size², with ``price`` for each
    side beyond four."""
    squared = np.asarray(size)[..., None] ** 2
    by_sides = squared * FACTORS + price * (SIDES - 4.0)
    more = squared[..., 0] * np.pi + price * (SIDES[-1] - 3.0)
    return np.asarray(np.minimum(by_sides.min(axis=-1), more))
