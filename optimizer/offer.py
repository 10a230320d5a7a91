"""A design as the order wants it: its body, the window of its width, and the zone it must meet."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from optimizer.design import build_body, full_parameters, library, load_design
from optimizer.design.model import Body, Design
from optimizer.errors import InputError, nearest
from optimizer.mesh import Plane
from optimizer.order import Order, Range, SizeDemand
from optimizer.placement.place import Want
from optimizer.rough.model import Rough


@dataclass(frozen=True)
class Offer:
    """One design that the order allows, with its parameters set, and what is asked of it."""

    design: Design
    parameters: Mapping[str, float]  # full; the girdle as it is, not as the design has it
    want: Want


def offers(rough: Rough, order: Order) -> tuple[Offer, ...]:
    """Every design that the order allows. Raises InputError where names or sizes don't fit."""
    boundary = boundary_of(rough, order)
    designs = [load_design(name) for name in order.designs or library()]
    made, refused = [], []
    for design in designs:
        try:
            made.append(_offer(rough, order, design, boundary))
        except InputError as error:
            if len(designs) == 1 or order.designs:
                raise
            refused.append(str(error))
    if not made:
        raise InputError(refused[0])
    return tuple(made)


def _offer(rough: Rough, order: Order, design: Design, boundary: Plane | None) -> Offer:
    body = build_body(
        design,
        order.parameters,
        least_girdle_mm=order.least_girdle_mm,
        least_girdle_share=order.least_girdle_percent / 100.0,
    )
    parameters = {**full_parameters(design, order.parameters), "girdle": body.girdle_share}
    window = width_window(design.name, body, order.size, rough.material.sg)
    skin = rough.scan_error_mm + order.workshop.clean_up_mm
    return Offer(design, parameters, Want(body, window, skin, order.zone, boundary))


def width_window(name: str, body: Body, size: SizeDemand, sg: float) -> Range:
    """The widths in mm that meet the sizes ordered. Raises InputError where none does."""
    ratio = body.length_at(1.0)
    windows = [(0.0, float("inf"))]
    if size.width_mm:
        windows.append(size.width_mm)
    if size.length_mm:
        windows.append((size.length_mm[0] / ratio, size.length_mm[1] / ratio))
    if size.carat:
        low, high = (body.width_for_volume(200.0 * ct / sg) if ct else 0.0 for ct in size.carat)
        windows.append((low, high))
    low, high = max(w[0] for w in windows), min(w[1] for w in windows)
    if low > high:
        raise InputError(
            f"the order's [size] contradicts itself for {name} (length_to_width {ratio:g}): it "
            f"asks for a width of at least {low:.4g} mm and at most {high:.4g} mm; drop one demand"
        )
    return low, high


def boundary_of(rough: Rough, order: Order) -> Plane | None:
    """The ordered zone's plane in the scan frame, its normal towards the ordered colour.

    Raises InputError where the rough has no such zone or colour.
    """
    if order.zone is None:
        return None
    zones = {zone.name: zone for zone in rough.zones}
    if order.zone.name not in zones:
        hint = nearest(order.zone.name, zones)
        raise InputError(
            f'the order names the zone "{order.zone.name}", which {rough.scan} has not; {hint}'
        )
    zone = zones[order.zone.name]
    sides = {zone.away.name: zone.plane.flipped(), zone.towards.name: zone.plane}
    if order.zone.colour not in sides:
        raise InputError(
            f'the zone "{zone.name}" has no colour "{order.zone.colour}"; '
            f"{nearest(order.zone.colour, sides)}"
        )
    return sides[order.zone.colour]


def relaxations(order: Order, anything: tuple[str, ...]) -> list[tuple[str, Order]]:
    """Each demand of the order as a sentence, with the order that lacks this one alone.

    ``anything`` names the designs to try where the order's own are let go.
    """
    found: list[tuple[str, Order]] = []
    size, zone = order.size, order.zone
    for key, unit in (("width_mm", "mm wide"), ("length_mm", "mm long"), ("carat", "ct")):
        window = getattr(size, key)
        if window is not None and window[0] > 0.0:
            text = f"the size: at least {window[0]:g} {unit}"
            loose = replace(size, **{key: (0.0, window[1])})
            found.append((text, replace(order, size=loose)))
    if zone is not None:
        for key, text in _zone_sentences(order).items():
            loose_zone = replace(zone, **{key: None})  # type: ignore[arg-type]
            found.append((text, replace(order, zone=loose_zone)))
    if order.least_girdle_mm > 0.0:
        text = f"the girdle: at least {order.least_girdle_mm:g} mm"
        found.append((text, replace(order, least_girdle_mm=0.0)))
    if order.designs and set(anything) - set(order.designs):
        text = "the design: " + " or ".join(order.designs)
        found.append((text, replace(order, designs=anything, parameters={})))
    return found


def _zone_sentences(order: Order) -> dict[str, str]:
    zone = order.zone
    assert zone is not None
    name = f'the boundary "{zone.name}"'
    texts = {
        "keep_clear_mm": lambda v: f"{name} not crossed, {v:g} mm clear",
        "share_percent": lambda v: f"{name}: {v[0]:g} to {v[1]:g} % {zone.colour}",
        "offset": lambda v: f"{name}: offset {v[0]:g} to {v[1]:g}",
        "tilt_deg": lambda v: f"{name}: tilt {v[0]:g} to {v[1]:g}°",
        "azimuth_deg": lambda v: f"{name}: azimuth {v[0]:g} to {v[1]:g}°",
    }
    values = {key: getattr(zone, key) for key in texts}
    return {key: texts[key](value) for key, value in values.items() if value is not None}
