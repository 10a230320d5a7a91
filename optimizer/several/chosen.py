"""Sets of candidates that saw cuts can separate, the most worth first."""

from collections.abc import Collection, Iterator, Sequence

from optimizer.mesh import Floats
from optimizer.several.instance import Search
from optimizer.several.model import Division, PlacedStone, allowance_mm
from optimizer.several.selection import ChosenSet, Selection
from optimizer.several.separation import separate


def separable_sets(
    search: Search,
    selection: Selection,
    excluded: Collection[int],
    *,
    rounds: int,
    locked: int,
    work: float,
) -> Iterator[tuple[ChosenSet, Division]]:
    """At most ``rounds`` sets without ``excluded`` candidates, each with the cuts between its
    stones. Each is chosen without the first half of those before. The sets end once ``locked`` of
    those chosen can't be sawn apart, or there is none with all that the wishes need. ``work`` is
    that of each choice."""
    apart = 2.0 * allowance_mm(search.instance.workshop)
    barred, made = [frozenset([k]) for k in excluded], 0
    while made < rounds and locked and not search.watch.stop():
        choice = selection.best(barred, work=work, stop=search.watch.stop)
        if choice is None or not choice.chosen:
            return
        stones = tuple(selection.pool[i].stone for i in choice.chosen)
        corners = [s.placement.mesh().vertices for s in stones]
        separation = separate(corners, apart, list(_preferred_normals(search, stones)))
        if separation.cut_tree is None:
            locked -= 1
            barred.append(frozenset(choice.chosen[i] for i in separation.locked))
            continue
        made += 1
        yield choice, Division(stones, separation.cut_tree)
        barred.append(frozenset(choice.chosen[: (len(stones) + 1) // 2]))


def _preferred_normals(search: Search, stones: Sequence[PlacedStone]) -> Iterator[Floats]:
    """Normals that make a cut easy to set up: the rough's flats, then the stones' tables."""
    for face in search.rough.reference_faces:
        yield face.plane.normal
    for stone in stones:
        yield stone.placement.pose.rotation[:, 2]
