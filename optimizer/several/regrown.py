"""One stone of a division laid anew in its own cell."""

from collections.abc import Iterable
from dataclasses import replace

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import lay
from optimizer.order import Range
from optimizer.placement.model import Placement
from optimizer.placement.place import Want
from optimizer.placement.search import Watch
from optimizer.several.joined import Site
from optimizer.several.model import Division, PlacedStone, allowance_mm, walls_beside
from optimizer.several.pairing import Pair, paired, still_paired


def regrown(
    site: Site, division: Division, number: int, *, effort: str, seed: int, watch: Watch
) -> Division:
    """The division with stone ``number`` searched anew between the cuts beside it, by every offer
    of its wish, where that is worth more. Pairs stay pairs."""
    walls = dict(walls_beside(division.fork, allowance_mm(site.workshop)))[number]
    pairs = paired(site.wishes, division.stones)
    best = division
    for offer in site.wishes[division.stones[number].wish].offers:
        within = _beside_its_pair(division, number, pairs, offer.want.width_mm)
        want = replace(offer.want, width_mm=within, walls=(*offer.want.walls, *walls))
        told = lay(site.ground, replace(offer, want=want), effort, seed, watch)
        if told is None:
            continue
        new = _with(division, number, *told, offer.want)
        kept = still_paired(site.wishes, new.stones, pairs) and site.met(new.stones[number])
        if site.total(new) > site.total(best) and kept:
            best = new
    return best


def _with(
    division: Division, number: int, chosen: Offer, placement: Placement, own: Want
) -> Division:
    """The division with another stone, of whom no more is asked than before."""
    window = own.width_mm if chosen.freedom is None else chosen.want.width_mm
    want = replace(chosen.want, width_mm=window, walls=own.walls)
    laid = PlacedStone(division.stones[number].wish, replace(chosen, want=want), placement)
    stones = (*division.stones[:number], laid, *division.stones[number + 1 :])
    return replace(division, stones=stones)


def _beside_its_pair(
    division: Division, number: int, pairs: Iterable[Pair], window: Range
) -> Range:
    """The widths of a window that agree with the stone's pair."""
    for one, other, apart in pairs:
        if number in (one, other):
            width = division.stones[one + other - number].placement.pose.width
            return max(window[0], width - apart), min(window[1], width + apart)
    return window
