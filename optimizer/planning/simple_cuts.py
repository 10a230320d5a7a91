"""Cuts between the stones that are simple to set up: taken where they cost next to nothing, and
what the plan says of them."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from optimizer.placement.search import Watch
from optimizer.planning.several_notes import worth_text
from optimizer.rough.model import Rough
from optimizer.sawing.easy_normals import run_of
from optimizer.sawing.model import SawPlan
from optimizer.several.divide import SearchResult
from optimizer.several.incumbents import feasible
from optimizer.several.instance import Instance
from optimizer.several.simplified import simplified

NEGLIGIBLE_COST = 0.003  # of the worth: simple cuts are taken at this price; our choice


@dataclass(frozen=True)
class SimpleCuts:
    """What it costs to have all cuts between the stones square or parallel to flats and to one
    another, in words, and whether the plan has them."""

    cost: str | None  # None: the stones don't fit between such cuts
    taken: bool = False


def with_simple_cuts(
    rough: Rough, instance: Instance, result: SearchResult | None, watch: Watch
) -> tuple[SearchResult | None, SimpleCuts | None]:
    """``result`` with simple cuts where these cost next to nothing; and what they cost, None where
    they were not tried."""
    if result is None or watch.stop() or isinstance(result.best.cut_tree, int):
        return result, None
    flats = [face.plane.normal for face in rough.reference_faces]
    simple = simplified(instance, result.best, flats, effort="quick", watch=watch)
    if simple is None or not feasible(instance, simple):
        return result, SimpleCuts(None)
    worth = instance.division_worth(result.best)
    cost = max(worth - instance.division_worth(simple), 0.0)
    said = worth_text(instance, cost) if round(cost, 2) else "nothing"
    if cost > NEGLIGIBLE_COST * worth:
        return result, SimpleCuts(said)
    return replace(result, best=simple), SimpleCuts(said, taken=True)


def simple_cut_notes(simple: SimpleCuts | None, rough: Rough, sawing: SawPlan) -> Iterator[str]:
    """A sentence on what simple cuts cost, as the plan is sawn: a cut that the saw makes at another
    angle, to reach through or to keep its set-up, is named."""
    cuts = _cuts_between_stones(sawing)
    if simple is None or (len(cuts) < 2 and not rough.reference_faces):
        return
    to_what = "to the rough's flats or " if rough.reference_faces else ""
    how = f"the cuts between the stones square or parallel {to_what}to one another"
    if simple.cost is None:
        yield f"With {how}, these stones don't fit."
    elif not simple.taken:
        yield f"To have {how} would cost {simple.cost}."
    else:
        yield f"So planned, {how}{_but_for(cuts, rough, sawing)}: that costs {simple.cost}."


def _but_for(cuts: list[int], rough: Rough, sawing: SawPlan) -> str:
    """The cuts between the stones that run otherwise; without flats the first may run anyhow."""
    free = [
        str(number + 1)
        for number in cuts[0 if rough.reference_faces else 1 :]
        if run_of(
            sawing.cuts[number].plane.normal, rough.reference_faces, sawing.cuts[:number]
        ) is None
    ]  # fmt: skip
    return f" (except cut{'s' * (len(free) > 1)} {' and '.join(free)})" if free else ""


def _cuts_between_stones(sawing: SawPlan) -> list[int]:
    """The indices of the cuts that leave stones on both sides."""
    holding: set[int] = set()
    for home in sawing.stone_pieces:
        piece: int | None = home
        while piece is not None:
            holding.add(piece)
            cut = sawing.pieces[piece].from_cut
            piece = None if cut is None else sawing.cuts[cut].piece
    return [
        number
        for number, cut in enumerate(sawing.cuts)
        if holding.intersection(cut.below) and holding.intersection(cut.above)
    ]
