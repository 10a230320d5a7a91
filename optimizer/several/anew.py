"""Each stone of a division searched anew in its own cell, its free parameters as well."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.offers.offer import Offer
from optimizer.placement.search import Watch
from optimizer.several.greedy import sounded_worth
from optimizer.several.joined import Site
from optimizer.several.model import Division, allowance_mm, walls_beside
from optimizer.several.regrown import regrown
from optimizer.several.soundings import Sounding

PROMISING = 2  # offers, at most, that a stone is searched anew by, besides its own
CLOSE = 0.97  # of its worth: what soundings must show of such an offer in its cell


def searched_anew(
    site: Site,
    soundings: Sequence[Sounding],
    division: Division,
    *,
    count: int,
    seed: int,
    watch: Watch,
) -> Division:
    """The dearest ``count`` stones each searched anew between its cuts, then all of them with the
    shapes that were found best for others. No stone is worth less than it was."""
    shapes: dict[tuple[int, str], Offer] = {}
    order = np.argsort([-site.value(s, s.placement.pose.width) for s in division.stones])
    chosen = [int(number) for number in order[:count]]
    for done, number in enumerate(chosen, 1):
        new = _regrown(_narrowed(site, soundings, division, number), division, number, seed, watch)
        if new is not division:
            laid = new.stones[number]
            shapes[laid.wish, laid.offer.design.name] = replace(laid.offer, freedom=None)
        division = new
        watch.progress("searching each anew", done, len(chosen), 0.0)
    for number in map(int, order if shapes else ()):
        wish = division.stones[number].wish
        own = tuple(offer for (w, _), offer in shapes.items() if w == wish)
        division = _regrown(_with_offers(site, wish, own), division, number, seed, watch)
    return division


def _regrown(site: Site, division: Division, number: int, seed: int, watch: Watch) -> Division:
    """With a stone searched anew; the very same division where that brings nothing."""
    if watch.stop():
        return division
    quiet = Watch(watch.stop)
    new = regrown(site, division, number, effort="glance", seed=seed, watch=quiet)
    return division if site.total(new) <= site.total(division) else new


def _with_offers(site: Site, wish: int, offers: tuple[Offer, ...]) -> Site:
    wishes = list(site.wishes)
    wishes[wish] = replace(wishes[wish], offers=offers)
    return replace(site, wishes=tuple(wishes))


def _narrowed(site: Site, soundings: Sequence[Sounding], division: Division, number: int) -> Site:
    """The site with the offers of a stone's wish that may be as good in its cell."""
    there = division.stones[number]
    walls = dict(walls_beside(division.fork, allowance_mm(site.workshop)))[number]
    best = site.value(there, there.placement.pose.width)
    sounded = {
        sounding.offer.design.name: sounded_worth(site, sounding, walls)
        for sounding in soundings
        if sounding.wish == there.wish
    }
    ranked = sorted(sounded, key=lambda name: -sounded[name])[:PROMISING]
    promising = {name for name in ranked if sounded[name] >= CLOSE * best}
    wish = site.wishes[there.wish]
    offers = tuple(
        offer
        for offer in wish.offers
        if offer.design.name in promising or offer.design.name == there.offer.design.name
    )
    return _with_offers(site, there.wish, offers)
