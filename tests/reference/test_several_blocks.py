"""How many bricks a bar gives, against its length.

By calculation: k stones side by side, k - 1 cuts between them and the skin at both ends take
k·stone + (k - 1)·2·allowance + 2·skin. The bar is only a hair wider and deeper than one brick, so
that no stone lies across, and tilted ones take more length, not less.
"""

from dataclasses import replace

import pytest
import shapes
from divisions import BESIDE, SKIN, in_order, offer_of, site_of
from laid_stones import rough_of
from solids import body_of

from optimizer.placement.search import QUIET
from optimizer.rough.flats import with_flats
from optimizer.several.divide import Search, divide

BRICK = body_of(shapes.box((1.25, 1.0, 0.75)))
WIDTH = 4.0
LENGTH, DEPTH = 1.25 * WIDTH, 0.75 * WIDTH
HAIR = 0.01


def divided(count, share, least):
    """A bar of ``share`` of the length that ``count`` bricks take, sawn into as many as there
    may be, and the site."""
    length = share * (count * LENGTH + (count - 1) * 2.0 * BESIDE + 2.0 * SKIN)
    across = (WIDTH + 2.0 * SKIN + HAIR, DEPTH + 2.0 * SKIN + HAIR)
    mesh = shapes.box((length, *across))
    site = site_of(mesh, offer_of(BRICK, WIDTH, WIDTH))
    site = replace(site, wishes=(replace(site.wishes[0], least=least),))
    rough = with_flats(rough_of(mesh))
    found = divide(Search(rough, site, most=9, effort="quick", seed=0, watch=QUIET))
    if found is not None:
        in_order(site, mesh, found.best)
    return found


@pytest.mark.parametrize("count", [2, 3, 4])
def test_a_bar_longer_by_a_thousandth_gives_all(count):
    assert len(divided(count, 1.001, least=count).best.stones) == count


@pytest.mark.parametrize("count", [2, 3, 4])
def test_a_bar_shorter_by_a_thousandth_gives_one_less(count):
    found = divided(count, 0.999, least=count - 1)
    assert len(found.best.stones) == count - 1


@pytest.mark.parametrize("count", [2, 3, 4])
def test_a_demand_that_a_bar_is_too_short_for_is_not_met(count):
    assert divided(count, 0.999, least=count) is None
