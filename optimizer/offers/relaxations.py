"""The order without one of its demands, or the rough without one of its flaws: each may be what
rules a stone out."""

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

from optimizer.design import designs_to_choose_from
from optimizer.offers.freedom import PROPORTION, asked_text, ratio_range
from optimizer.optics.look_demands import colour_demands, light_demands
from optimizer.order import Order
from optimizer.rough.model import Rough
from optimizer.wording.plain_number import plain

# The fields of an Order that the keys of its girdle table set.
GIRDLE_FIELDS = {"least_mm": "least_girdle_mm", "least_percent": "least_girdle_percent"}


class OrderKey(NamedTuple):
    """A demand by its place in the order file; an empty table stands for the file's head."""

    table: str
    key: str


class RelaxedOrder(NamedTuple):
    """An order without some of its demands; ``sentence`` names what is left out."""

    sentence: str
    order: Order
    keys: tuple[OrderKey, ...]


def relaxations(order: Order) -> list[RelaxedOrder]:
    """Each demand of the order as a sentence, with the order without this one demand.

    The greatest size of a range is kept: it never stands in the way of a smaller stone.
    """
    return [
        RelaxedOrder(sentence, without(order, key), (key,)) for key, sentence in _demands(order)
    ]


def without_least_sizes(order: Order) -> RelaxedOrder | None:
    """The order without the least sizes that it states, where there are several. A width and a
    length that were both fixed keep their proportion."""
    sizes = list(_sizes(order))
    if len(sizes) < 2:
        return None
    relaxed = without_all(order, [key for key, _ in sizes])
    ratios = ratio_range(order.size)
    if ratios is not None and ratios[0] == ratios[1] and PROPORTION not in order.parameters:
        relaxed = replace(relaxed, parameters={**order.parameters, PROPORTION: ratios[0]})
    sentence = " and ".join(sentence.removeprefix("the size: ") for _, sentence in sizes)
    return RelaxedOrder(f"the size: {sentence}", relaxed, tuple(key for key, _ in sizes))


def without_all(order: Order, keys: list[OrderKey]) -> Order:
    """The order without several of its demands."""
    for key in keys:
        order = without(order, key)
    return order


def without(order: Order, asked: OrderKey) -> Order:
    """The order without one of its demands."""
    table, key = asked
    if table == "size":
        size = replace(order.size, **{key: (0.0, getattr(order.size, key)[1])})
        return replace(order, size=size)
    if table == "look":
        return _without_look(order, key)
    if table == "girdle":
        field = GIRDLE_FIELDS[key]
        default = 0.0 if key == "least_mm" else Order.least_girdle_percent
        return replace(order, **{field: default})  # type: ignore[arg-type]
    if table == "parameters":
        return replace(order, parameters={})
    if key == "design":
        return replace(order, designs=(), parameters={})
    return replace(order, **{table: replace(getattr(order, table), **{key: None})})


def without_each_flaw(rough: Rough) -> list[tuple[str, Rough]]:
    """Each flaw as a sentence, with the rough without this one flaw."""
    flaws = rough.flaws
    return [
        (f'the flaw "{flaw.name}"', replace(rough, flaws=(*flaws[:k], *flaws[k + 1 :])))
        for k, flaw in enumerate(flaws)
    ]


def _without_look(order: Order, key: str) -> Order:
    assert order.look is not None
    look = replace(order.look, **{key: None})
    if not look.of_colour:
        look = replace(look, zone=None, colour=None)
    return replace(order, look=look if look.of_colour or look.of_light else None)


def _demands(order: Order) -> Iterator[tuple[OrderKey, str]]:
    """Each demand on a stone, with a sentence."""
    yield from _sizes(order)
    if order.zone is not None:
        for key, text in order.zone.sentences().items():
            yield OrderKey("zone", key), text
    if order.look is not None:
        for one in (*colour_demands(order.look), *light_demands(order.look)):
            yield OrderKey("look", one.key), f"the look: {one.words}"
    yield from _directions(order)
    yield from _girdle(order)
    yield from _design(order)


def _sizes(order: Order) -> Iterator[tuple[OrderKey, str]]:
    for key, unit in (("width_mm", "mm wide"), ("length_mm", "mm long"), ("carat", "ct")):
        window = getattr(order.size, key)
        if window is not None and window[0] > 0.0:
            how = "exactly" if window[0] == window[1] else "at least"
            yield OrderKey("size", key), f"the size: {how} {plain(window[0])} {unit}"


def _directions(order: Order) -> Iterator[tuple[OrderKey, str]]:
    asked = order.direction
    if asked is not None and asked.axis_to_table_deg is not None:
        low, high = asked.axis_to_table_deg
        text = f"the {asked.axis}: {plain(low)} to {plain(high)}° to the table"
        yield OrderKey("direction", "axis_to_table_deg"), text
    if asked is not None and asked.cleavage_clear_deg:
        text = f"no facet within {plain(asked.cleavage_clear_deg)}° of a cleavage plane"
        yield OrderKey("direction", "cleavage_clear_deg"), text


def _girdle(order: Order) -> Iterator[tuple[OrderKey, str]]:
    if order.least_girdle_mm > 0.0:
        text = f"the girdle: at least {plain(order.least_girdle_mm)} mm"
        yield OrderKey("girdle", "least_mm"), text
    if order.least_girdle_percent > Order.least_girdle_percent:
        text = f"the girdle: at least {plain(order.least_girdle_percent)} % of the width"
        yield OrderKey("girdle", "least_percent"), text


def _design(order: Order) -> Iterator[tuple[OrderKey, str]]:
    if order.parameters:
        values = ", ".join(f"{name} {asked_text(v)}" for name, v in order.parameters.items())
        yield OrderKey("parameters", ""), f"the parameters: {values}"
    if order.designs and set(designs_to_choose_from()) - set(order.designs):
        yield OrderKey("", "design"), "the design: " + " or ".join(order.design_names)
