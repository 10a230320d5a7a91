"""One stone of a division laid anew in its own cell."""

from dataclasses import replace

from optimizer.laying import lay
from optimizer.order import Range
from optimizer.placement.search import Watch
from optimizer.several.joined import Site, paired
from optimizer.several.model import Division, Laid, allowance_mm, walls_beside


def regrown(
    site: Site, division: Division, number: int, *, effort: str, seed: int, watch: Watch
) -> Division:
    """The division with stone ``number`` searched anew between the cuts beside it, by every offer
    of its wish, where that is worth more; its width stays as near to its pair's as asked."""
    there = division.stones[number]
    walls = dict(walls_beside(division.fork, allowance_mm(site.workshop)))[number]
    best, worth = there, site.value(there, there.placement.pose.width)
    for offer in site.wishes[there.wish].offers:
        own = offer.want
        window = _near_its_pair(site, division, number, own.width_mm)
        want = replace(own, width_mm=window, walls=(*own.walls, *walls))
        told = lay(site.ground, replace(offer, want=want), effort, seed, watch)
        if told is None:
            continue
        chosen, placement = told
        kept = replace(chosen.want, width_mm=own.width_mm, walls=own.walls)
        new = Laid(there.wish, replace(chosen, want=kept), placement)
        value = site.value(new, placement.pose.width)
        if value > worth:
            best, worth = new, value
    stones = (*division.stones[:number], best, *division.stones[number + 1 :])
    return replace(division, stones=stones)


def _near_its_pair(site: Site, division: Division, number: int, window: Range) -> Range:
    for one, other, apart in paired(site.wishes, division.stones):
        if number in (one, other):
            width = division.stones[one + other - number].placement.pose.width
            return max(window[0], width - apart), min(window[1], width + apart)
    return window
