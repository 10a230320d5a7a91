"""The order without one of its demands, or the rough without one of its flaws: each may be what
rules a stone out."""

from collections.abc import Iterator
from dataclasses import replace

from optimizer.design import library
from optimizer.offers.freedom import asked_text
from optimizer.optics.look_demands import colour_demands, light_demands
from optimizer.order import Order
from optimizer.rough.model import Rough
from optimizer.wording.plain_number import plain


def relaxations(order: Order) -> list[tuple[str, Order]]:
    """Each demand of the order as a sentence, with the order without this one demand.

    The greatest size of a range is kept: it never stands in the way of a smaller stone.
    """
    return [
        *_without_sizes(order), *_without_zone_demands(order), *_without_looks(order),
        *_without_directions(order), *_without_girdle(order), *_without_design(order),
    ]  # fmt: skip


def without_each_flaw(rough: Rough) -> list[tuple[str, Rough]]:
    """Each flaw as a sentence, with the rough without this one flaw."""
    flaws = rough.flaws
    return [
        (f'the flaw "{flaw.name}"', replace(rough, flaws=(*flaws[:k], *flaws[k + 1 :])))
        for k, flaw in enumerate(flaws)
    ]


def _without_sizes(order: Order) -> Iterator[tuple[str, Order]]:
    for key, unit in (("width_mm", "mm wide"), ("length_mm", "mm long"), ("carat", "ct")):
        window = getattr(order.size, key)
        if window is not None and window[0] > 0.0:
            how = "exactly" if window[0] == window[1] else "at least"
            relaxed = replace(order.size, **{key: (0.0, window[1])})
            yield f"the size: {how} {plain(window[0])} {unit}", replace(order, size=relaxed)


def _without_zone_demands(order: Order) -> Iterator[tuple[str, Order]]:
    if order.zone is not None:
        for key, text in order.zone.sentences().items():
            relaxed = replace(order.zone, **{key: None})  # type: ignore[arg-type]
            yield text, replace(order, zone=relaxed)


def _without_looks(order: Order) -> Iterator[tuple[str, Order]]:
    if order.look is not None:
        for one in (*colour_demands(order.look), *light_demands(order.look)):
            look = replace(order.look, **{one.key: None})
            if not look.of_colour:
                look = replace(look, zone=None, colour=None)
            asks = look.of_colour or look.of_light
            yield f"the look: {one.words}", replace(order, look=look if asks else None)


def _without_directions(order: Order) -> Iterator[tuple[str, Order]]:
    asked = order.direction
    if asked is not None and asked.axis_to_table_deg is not None:
        low, high = asked.axis_to_table_deg
        text = f"the {asked.axis}: {plain(low)} to {plain(high)}° to the table"
        yield text, replace(order, direction=replace(asked, axis_to_table_deg=None))
    if asked is not None and asked.cleavage_clear_deg:
        text = f"no facet within {plain(asked.cleavage_clear_deg)}° of a cleavage plane"
        yield text, replace(order, direction=replace(asked, cleavage_clear_deg=None))


def _without_girdle(order: Order) -> Iterator[tuple[str, Order]]:
    if order.least_girdle_mm > 0.0:
        text = f"the girdle: at least {plain(order.least_girdle_mm)} mm"
        yield text, replace(order, least_girdle_mm=0.0)
    if order.least_girdle_percent > Order.least_girdle_percent:
        text = f"the girdle: at least {plain(order.least_girdle_percent)} % of the width"
        yield text, replace(order, least_girdle_percent=Order.least_girdle_percent)


def _without_design(order: Order) -> Iterator[tuple[str, Order]]:
    if order.parameters:
        values = ", ".join(f"{name} {asked_text(v)}" for name, v in order.parameters.items())
        yield f"the parameters: {values}", replace(order, parameters={})
    if order.designs and set(library()) - set(order.designs):
        text = "the design: " + " or ".join(order.design_names)
        yield text, replace(order, designs=(), parameters={})
