"""Mains that are free by default cost the look little, measured anew by other rays."""

from itertools import product

import numpy as np
import pytest
from shapes import box

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.offers import usual_light, wanted_light
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.light_grid import body_of
from optimizer.optics.angles import largest_rectangle, light_over
from optimizer.order import Order, as_table, load_order
from optimizer.rough import load_rough, write_ply

SAMPLING = 0.015  # of two samplings of a face together: 1200 and 2000 places


@pytest.fixture(autouse=True)
def limited_by_light(monkeypatch):
    monkeypatch.setattr(wanted_light, "with_usual_light", usual_light.with_usual_light)


@pytest.fixture(scope="module")
def rough(tmp_path_factory):
    path = tmp_path_factory.mktemp("rough") / "piece.ply"
    mesh = box((30.0, 20.0, 20.0))
    write_ply(path, Mesh(mesh.vertices, mesh.faces))
    return load_rough(path, unit="mm", rough_table={"material": "quartz"})


def mains(offer):
    return {f.name: (f.low, f.high) for f in offer.freedom.family.free}


def test_angles_free_by_default_keep_most_of_the_usual_light(rough):
    """The long hexagon in quartz loses 6 % of the light between a pavilion of 42.5° and 43°."""
    order = Order(designs=("long-hexagon",))
    (offer,), _ = allowed_offers(rough, order)
    family = offer.freedom.family
    assert mains(offer)["pavilion"][1] < 43.0
    for name, usual in (("crown", 36.0), ("pavilion", 42.5)):
        assert mains(offer)[name][0] <= usual <= mains(offer)[name][1]
    corners = [np.array(ends) for ends in mains(offer).values()]
    tried = light_over(body_of(family), 8.0, rough.material, *corners)
    assert tried.light_return.min() > offer.usual_light.light_return - 0.03 - SAMPLING
    assert tried.window.max() < offer.usual_light.window + 0.03 + SAMPLING


def test_the_order_sets_how_much_light_may_be_lost(rough):
    def ranges(percent, **more):
        order = Order(designs=("long-hexagon",), light_loss_percent=percent, **more)
        return mains(allowed_offers(rough, order)[0][0])

    assert ranges(100.0) == {"crown": (35.0, 37.0), "pavilion": (41.5, 43.5)}
    widths = [
        np.prod([high - low for low, high in ranges(percent).values()]) for percent in (3.0, 10.0)
    ]
    assert widths[0] < widths[1]


def test_a_range_that_the_order_states_is_left_alone(rough):
    order = Order(
        designs=("long-hexagon",), parameters={"pavilion": (41.5, 43.5), "crown": (35.0, 37.0)}
    )
    (offer,), _ = allowed_offers(rough, order)
    assert mains(offer) == {"crown": (35.0, 37.0), "pavilion": (41.5, 43.5)}
    assert offer.usual_light is None


def test_the_key_is_read_and_written_and_is_no_demand_by_itself(tmp_path):
    path = tmp_path / "order.toml"
    path.write_text("[look]\nlight_loss_percent = 5\n")
    order = load_order(path)
    assert (order.look, order.light_loss_percent) == (None, 5.0)
    assert as_table(order)["look"] == {"light_loss_percent": 5.0}
    path.write_text("[look]\nlight_loss_percent = 5\nwindow_percent = 9\n")
    assert load_order(path).look.window_percent == 9.0
    path.write_text('[[wanted]]\nname = "a"\nlook = { light_loss_percent = 5 }\n')
    with pytest.raises(InputError, match="one for all stones"):
        load_order(path)


@pytest.mark.parametrize("seed", range(20))
def test_the_largest_rectangle_that_holds_a_place_by_trying_all(seed):
    rng = np.random.default_rng(seed)
    met = rng.random((4, 5)) < 0.7
    place = (int(rng.integers(4)), int(rng.integers(5)))
    sizes = [
        (bottom - top) * (right - left)
        for top, bottom, left, right in product(range(4), range(1, 5), range(5), range(1, 6))
        if top <= place[0] < bottom
        and left <= place[1] < right
        and met[top:bottom, left:right].all()
    ]
    found = largest_rectangle(met, holding=place)
    assert (found is None) == (not sizes)
    if found is not None:
        assert met[found].all()
        assert met[found].size == max(sizes)
