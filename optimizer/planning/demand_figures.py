"""The figures that an order's demands limit: what the order allows, what a stone has, and the order
with other limits."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil, floor, inf

from optimizer.guidance.direction import view_direction
from optimizer.mesh import Plane
from optimizer.offers.offer import boundary_of
from optimizer.offers.placement_cache import PlacedOffer
from optimizer.offers.relaxations import GIRDLE_FIELDS, OrderKey
from optimizer.offers.wanted_look import LookTarget
from optimizer.optics.look_demands import light_value, zone_value
from optimizer.order import Order, Range
from optimizer.order.demands import MOST_BALANCE, MOST_DIFFERENCE
from optimizer.placement.model import Placement
from optimizer.placement.zone_view import view_zone
from optimizer.rough.model import Rough

ROUNDING = 1e-7  # of a step


@dataclass(frozen=True)
class FigureKind:
    """How the order file states the limits of a figure."""

    kind: str  # "range" | "at least" | "at most"
    step: float  # to which limits are rounded, outwards
    whole: float | None  # the difference that counts as 1; None: the value ordered


FIGURES: Mapping[OrderKey, FigureKind] = {
    OrderKey(table, key): FigureKind(kind, step, whole)
    for table, key, kind, step, whole in (
        ("size", "width_mm", "range", 0.01, None),
        ("size", "length_mm", "range", 0.01, None),
        ("size", "carat", "range", 0.001, None),
        ("zone", "keep_clear_mm", "at least", 0.01, None),
        ("zone", "share_percent", "range", 0.1, 100.0),
        ("zone", "offset", "range", 0.01, 2.0),
        ("zone", "tilt_deg", "range", 0.1, 90.0),
        ("zone", "azimuth_deg", "range", 0.1, 90.0),
        ("look", "face_percent", "range", 0.1, 100.0),
        ("look", "balance_of_halves", "at least", 0.01, 1.0),
        ("look", "balance_of_ends", "at least", 0.01, 1.0),
        ("look", "difference_of_ends", "at least", 0.01, 1.0),
        ("look", "light_return_percent", "at least", 0.1, 100.0),
        ("look", "window_percent", "at most", 0.1, 100.0),
        ("direction", "axis_to_table_deg", "range", 0.1, 90.0),
        ("direction", "cleavage_clear_deg", "at least", 0.1, 90.0),
        ("girdle", "least_mm", "at least", 0.01, None),
        ("girdle", "least_percent", "at least", 0.1, None),
        ("workshop", "clean_up_mm", "at least", 0.01, None),
    )
}


def limits(order: Order, asked: OrderKey) -> Range:
    """Least and greatest value of a figure that the order allows."""
    value = ordered(order, asked)
    kind = FIGURES[asked].kind
    if kind == "range":
        return value  # type: ignore[return-value]
    return (value, inf) if kind == "at least" else (-inf, value)  # type: ignore[return-value]


def ordered(order: Order, asked: OrderKey) -> float | Range | str | None:
    """The value of a key as the order states it."""
    table, key = asked
    if table == "girdle":
        return float(getattr(order, GIRDLE_FIELDS[key]))
    if asked in FIGURES:
        return getattr(getattr(order, table), key)  # type: ignore[no-any-return]
    return None


def with_limits(order: Order, asked: OrderKey, low: float, high: float) -> Order:
    """The order with other limits for a figure."""
    table, key = asked
    kind = FIGURES[asked].kind
    value: float | Range = (low, high) if kind == "range" else low if kind == "at least" else high
    if table == "girdle":
        return replace(order, **{GIRDLE_FIELDS[key]: value})  # type: ignore[arg-type]
    return replace(order, **{table: replace(getattr(order, table), **{key: value})})


def rounded_out(asked: OrderKey, low: float, high: float) -> Range:
    """Limits in the steps in which an order would state them; what lay inside stays inside."""
    step = FIGURES[asked].step
    low = low if low == -inf else round(floor(low / step + ROUNDING) * step, 9)
    high = high if high == inf else round(ceil(high / step - ROUNDING) * step, 9)
    return low, high


def figure_of(rough: Rough, order: Order, asked: OrderKey, stone: PlacedOffer) -> float | None:
    """The figure of a stone, in the order file's unit; None where it has none."""
    table, key = asked
    body, width = stone.placement.body, stone.placement.pose.width
    if table == "size":
        sizes = {
            "width_mm": width,
            "length_mm": body.length_at(width),
            "carat": stone.placement.volume_mm3 * rough.material.sg / 200.0,
        }
        return sizes[key]
    if table == "girdle":
        thinnest = body.girdle_at(width)
        return thinnest if key == "least_mm" else 100.0 * thinnest / width
    if table == "workshop":
        return stone.placement.clearance_mm - rough.scan_error_mm
    if table == "zone":
        return _zone_figure(rough, order, key, stone.placement)
    if table == "look":
        return _look_figure(rough, order, key, stone.placement)
    return _direction_figure(rough, order, key, stone.placement)


def _zone_figure(rough: Rough, order: Order, key: str, stone: Placement) -> float | None:
    assert order.zone is not None
    if key == "keep_clear_mm":
        boundary = boundary_of(rough, order)
        if not isinstance(boundary, Plane):
            return None
        nearest = (stone.mesh().vertices @ boundary.normal).min() - boundary.offset
        return float(nearest) if nearest >= 0.0 else None
    zone = next(one for one in rough.zones if one.name == order.zone.name)
    value = getattr(view_zone(zone, order.zone.colour, stone), key)
    if value is None or key != "azimuth_deg":
        return value if value is None else float(value)
    middle = sum(limits(order, OrderKey("zone", key))) / 2.0  # ranges may pass ±180
    return float(middle + (value - middle + 180.0) % 360.0 - 180.0)


def _look_figure(rough: Rough, order: Order, key: str, stone: Placement) -> float | None:
    assert order.look is not None
    light, zone = LookTarget.of(rough, order.look).figures(stone)
    if key in ("light_return_percent", "window_percent"):
        return 100.0 * light_value(key, light)
    if zone is None or not zone.distinct:
        return None
    value = zone_value(key, zone)
    if key == "difference_of_ends":
        return min(value, MOST_DIFFERENCE)
    return 100.0 * value if key == "face_percent" else min(value, MOST_BALANCE)


def _direction_figure(rough: Rough, order: Order, key: str, stone: Placement) -> float | None:
    view = view_direction(rough, stone)
    assert view is not None
    assert order.direction is not None
    if key == "cleavage_clear_deg":
        return view.cleavage_deg
    return dict(view.axes_deg)[order.direction.axis]
