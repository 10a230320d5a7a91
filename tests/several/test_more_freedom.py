"""More freedom never gives less: more stones, more effort."""

from functools import cache

import numpy as np
import pytest
import shapes
from placed_stones import rough_of

from optimizer.order import Order, SizeDemand, Workshop
from optimizer.order.several import Several
from optimizer.placement.ground import Ground
from optimizer.placement.search import QUIET
from optimizer.rough.flats.find import with_flats
from optimizer.several.divide import divide
from optimizer.several.instance import Instance, Search
from optimizer.several.wishes import wishes
from optimizer.several.worth import Worth

SHOP = Workshop()
PIECES = {
    "box": lambda: shapes.box((16.0, 11.0, 8.0)),
    "polytope": lambda: shapes.random_polytope(3, corners=12),
    "slab": lambda: shapes.slab(1, length=20.0, thickness=5.0, subdivisions=1),
}
KNOWN = {"crown": 34.5, "pavilion": 41.0}


@cache
def worth_of(piece: str, most: int, effort: str = "quick") -> float:
    rough = with_flats(rough_of(PIECES[piece]()))
    order = Order(
        ("round-brilliant",), KNOWN, SizeDemand((3.0, 7.0)), workshop=SHOP, several=Several(most)
    )
    instance = Instance(
        Ground.of(rough.mesh), wishes(rough, order)[0], Worth(), rough.material.sg, SHOP
    )
    found = divide(Search(rough, instance, most, effort, 0, QUIET))
    return 0.0 if found is None else instance.division_worth(found.best)


@pytest.mark.parametrize("piece", PIECES)
def test_more_stones_never_give_less(piece):
    worths = [worth_of(piece, most) for most in (1, 2, 3)]
    assert worths[0] > 0.0
    assert (np.diff(worths) >= -1e-9).all(), worths


def test_more_effort_never_gives_less():
    assert worth_of("box", 2, "normal") >= worth_of("box", 2) - 1e-9
