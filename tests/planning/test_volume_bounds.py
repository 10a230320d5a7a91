"""With many designs, only those that decide are bounded closely; the bound over all stays sound."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
import shapes
from handmade_plans import rough_of

from optimizer.offers.allowed import allowed_offers
from optimizer.offers.placement_cache import PlacementCache
from optimizer.order import LookDemand, Order
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.planning import volume_bounds
from optimizer.planning.design_notes import notes_on_designs
from optimizer.planning.run import Run
from optimizer.planning.volume_bounds import volume_bounds_of

pytestmark = pytest.mark.usefixtures("small_search")

FIXED = {"crown": 36.0, "pavilion": 42.0}
NAMES = ("round-brilliant", "oval", "cushion", "pear")
RUN = Run(0, "quick", False, 0.3, Watch(), SimpleNamespace())


@pytest.fixture(scope="module")
def searched(small_search):
    """A piece, four designs, and every one of them searched for."""
    rough = rough_of(shapes.box((9.0, 7.0, 6.0)))
    allowed, _ = allowed_offers(rough, Order(NAMES, FIXED))
    cache = PlacementCache(Ground.of(rough.mesh), 0, Watch())
    return rough, allowed, cache, [cache.best(offer, "quick") for offer in allowed]


def test_the_bound_over_all_designs_is_that_of_bounding_each_closely(searched, monkeypatch):
    _, allowed, cache, found = searched
    best = max(found, key=lambda one: one.placement.volume_mm3)
    bounds = volume_bounds_of(cache.ground, allowed, best, RUN)
    for bound, one in zip(bounds, found, strict=True):
        assert bound.volume_mm3 >= one.placement.volume_mm3
    monkeypatch.setattr(volume_bounds, "FEW", len(NAMES))
    each = volume_bounds_of(cache.ground, allowed, best, RUN)
    most, most_of_each = (max(b.volume_mm3 for b in one) for one in (bounds, each))
    assert most == pytest.approx(most_of_each, rel=0.01)


def test_designs_that_can_not_be_heavier_are_bounded_coarsely(searched, monkeypatch):
    _, allowed, cache, found = searched
    best = max(found, key=lambda one: one.placement.volume_mm3)
    asked, real = [], volume_bounds.volume_bound

    def counted(ground, offer, *, cells, **how):
        asked.append((offer.design.name, cells))
        return real(ground, offer, cells=cells, **how)

    monkeypatch.setattr(volume_bounds, "volume_bound", counted)
    monkeypatch.setattr(volume_bounds, "COARSE_CELLS", 50)
    volume_bounds_of(cache.ground, allowed, best, RUN)
    assert [name for name, cells in asked[: len(NAMES)]] == list(NAMES)
    close = [name for name, _ in asked[len(NAMES) :]]
    assert close[0] == best.offer.design.name
    assert len(close) < len(NAMES)


def test_the_next_designs_are_told_with_their_weights(searched):
    rough, allowed, cache, found = searched
    best, second, *_ = sorted(found, key=lambda one: -one.placement.volume_mm3)
    plan = SimpleNamespace(rough=rough, order=Order(NAMES))
    (note,) = notes_on_designs(plan, cache, allowed, best)
    carat = second.placement.volume_mm3 * rough.material.sg / 200.0
    assert note.startswith(
        f"The next designs by weight: {second.offer.design.title} {carat:.2f} ct"
    )
    assert best.offer.design.title not in note
    assert notes_on_designs(plan, cache, allowed[:1], best) == ()
    stopped = replace(cache, watch=Watch(lambda: True))
    assert notes_on_designs(plan, stopped, allowed, best) == ()
    look = LookDemand(window_percent=5.0)
    asked = SimpleNamespace(rough=rough, order=Order(NAMES, look=look))
    assert notes_on_designs(asked, cache, allowed, best) == ()
