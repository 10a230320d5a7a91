"""More freedom never gives less: more stones, one more design, a thinner kerf, a wider window, more
effort. Searches of little work, since that holds for any."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
import shapes
from placed_stones import rough_of

from optimizer.order import Order, Range, SizeDemand, Workshop
from optimizer.order.several import Several
from optimizer.placement import search
from optimizer.placement.ground import Ground
from optimizer.placement.search import QUIET
from optimizer.rough.flats.find import with_flats
from optimizer.several import pool
from optimizer.several.divide import divide
from optimizer.several.instance import Instance, Search
from optimizer.several.pool import PoolBudget
from optimizer.several.wishes import wishes
from optimizer.several.worth import Worth

PIECES = {
    "box": lambda: shapes.box((13.0, 9.0, 7.0)),
    "polytope": lambda: shapes.random_polytope(3, corners=9, radius=8.0),
}
KNOWN = {"crown": 34.5, "pavilion": 41.0}
EQUAL = -1e-9


@dataclass(frozen=True)
class Asked:
    """What an order leaves free."""

    designs: tuple[str, ...] = ("round-brilliant",)
    most: int = 2
    kerf_mm: float = 0.4
    width_mm: Range = (3.0, 5.0)
    effort: str = "quick"


LESS_AND_MORE = {
    "stones": [Asked(most=1), Asked(most=2), Asked(most=3)],
    "designs": [Asked(), Asked(designs=("round-brilliant", "cushion"))],
    "kerf": [Asked(kerf_mm=0.9), Asked(), Asked(kerf_mm=0.2)],
    "window": [Asked(width_mm=(3.5, 4.5)), Asked(), Asked(width_mm=(2.5, 6.0))],
    "effort": [Asked(), Asked(effort="normal")],
}


@pytest.fixture(autouse=True, scope="module")
def little_work():
    with pytest.MonkeyPatch.context() as patch:
        for effort in ("quick", "normal"):
            patch.setitem(pool.BUDGETS, effort, PoolBudget(30, 120, 5, 2, 1e8, 60))
        patch.setitem(search.EFFORTS, "glance", replace(search.EFFORTS["glance"], coarse=8, fine=3))
        yield


@cache
def worth_of(piece: str, asked: Asked) -> float:
    rough, shop = with_flats(rough_of(PIECES[piece]())), replace(Workshop(), kerf_mm=asked.kerf_mm)
    size = SizeDemand(asked.width_mm)
    order = Order(asked.designs, KNOWN, size, workshop=shop, several=Several(asked.most))
    instance = Instance(
        Ground.of(rough.mesh), wishes(rough, order)[0], Worth(), rough.material.sg, shop
    )
    found = divide(Search(rough, instance, asked.most, asked.effort, 0, QUIET))
    return 0.0 if found is None else instance.division_worth(found.best)


@pytest.mark.parametrize("freedom", LESS_AND_MORE)
@pytest.mark.parametrize("piece", PIECES)
def test_more_freedom_never_gives_less(piece, freedom):
    worths = [worth_of(piece, asked) for asked in LESS_AND_MORE[freedom]]
    assert worths[0] > 0.0
    assert (np.diff(worths) >= EQUAL).all(), worths
