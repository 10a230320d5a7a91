"""One design as an order asks for it: its body, the range of its width, and its demands."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from optimizer.design import designs_to_choose_from, full_parameters, load_design
from optimizer.design.family import Family, Free
from optimizer.design.model import Body, Design
from optimizer.errors import InputError
from optimizer.mesh import Floats, Plane
from optimizer.offers.colour_side import colour_room
from optimizer.offers.crystal import direction_of
from optimizer.offers.freedom import PROPORTION, fixed_parameters, free_parameters, ratio_range
from optimizer.offers.known_names import refuse_unknown_parameters, refuse_unknown_zone
from optimizer.optics.angles import ClearLight
from optimizer.order import Order, Range, SizeDemand, ZoneDemand
from optimizer.placement.colour_room import ColourRoom
from optimizer.placement.direction import Direction
from optimizer.placement.place import Want
from optimizer.placement.shaping import Freedom, SizeLimits
from optimizer.rough.model import Rough, Zone
from optimizer.wording.plain_number import plain

LEAST_WIDTH_MM = 0.1  # a narrower stone can be neither cut nor seen (common practice, no source)
# Of the width: with a thicker girdle a stone is a bead (common practice, no source).
MOST_GIRDLE_SHARE = 0.3
ROUNDING = 1e-8  # relative: difference by rounding of a width and a length that agree


@dataclass(frozen=True)
class Offer:
    """One design that the order allows, with its parameters set, and what is asked of it."""

    design: Design
    parameters: Mapping[str, float]  # of all; free ones at their usual value until chosen
    want: Want  # the body at these parameters
    freedom: Freedom | None = None  # None: no parameter is free
    usual_light: ClearLight | None = None  # at the usual angles, where angles are free by default
    usual_mm3: float | None = None  # volume with the usual parameters, once others are chosen


def offers(rough: Rough, order: Order) -> tuple[tuple[Offer, ...], tuple[str, ...]]:
    """Every design that the order allows, and why others of the library were left out.

    The one design that an order names must be able to meet it. Where the order names several, or
    none, those that cannot meet it are left out. Raises InputError where names, parameters or sizes
    don't fit, or no design is left.
    """
    boundary, direction = boundary_of(rough, order), direction_of(rough, order)
    designs = [load_design(name) for name in order.designs or designs_to_choose_from()]
    if len(designs) == 1:
        return (_offer(rough, order, designs[0], boundary, direction),), ()
    made, refused = [], []
    for design in designs:
        try:
            made.append(_offer(rough, order, design, boundary, direction))
        except InputError as error:
            refused.append(str(error))
    if not made:
        refuse_unknown_parameters(order)
        # The reason of a design that has all the parameters ordered is the more helpful one.
        helpful = min(refused, key=lambda reason: "has no parameter" in reason)
        of = "that the order names" if order.designs else "of the library"
        raise InputError(f"no design {of} can meet the order; for one, {helpful}")
    return tuple(made), tuple(f"left out: {reason}" for reason in refused)


def _offer(
    rough: Rough,
    order: Order,
    design: Design,
    boundary: Plane | ColourRoom | None,
    direction: Direction | None,
) -> Offer:
    material, size = rough.material, order.size
    free = free_parameters(design, order, material)
    fixed = fixed_parameters(design, order, free, material)
    if PROPORTION not in order.parameters and all(f.name != PROPORTION for f in free):
        fixed.update(_proportion_for_size(design, size))
    free = tuple(_within_size(f, size) for f in free)
    fixed.update({f.name: f.low for f in free if f.low == f.high})
    free = tuple(f for f in free if f.low < f.high)
    share = order.least_girdle_percent / 100.0
    family = Family(design, fixed, free, order.least_girdle_mm, share)
    body = family.exact(family.usual)
    given = {**family.parameters(family.usual), "girdle": body.girdle_share}
    parameters = full_parameters(design, given)  # the order's girdle, too, within its range
    window = width_window(design, body, size, material.sg)
    skin = rough.scan_error_mm + order.workshop.clean_up_mm
    if isinstance(boundary, ColourRoom):
        want = Want(body, window, skin, None, None, rough.flaws, direction, boundary)
    else:
        want = Want(body, window, skin, order.zone, boundary, rough.flaws, direction)
    if not free:
        return Offer(design, parameters, want)
    limits = _size_limits(body, size, material.sg)
    freedom = Freedom(family, lambda b: width_range(b, size, material.sg), limits)
    return Offer(design, parameters, want, freedom)


def _proportion_for_size(design: Design, size: SizeDemand) -> dict[str, float]:
    """A value of length_to_width that meets a width and a length ordered together, where the
    design's own proportion does not meet both."""
    shape, asked = design.parameters.get(PROPORTION), ratio_range(size)
    if shape is None or asked is None or asked[0] <= shape.default <= asked[1]:
        return {}
    low, high = max(asked[0], shape.low), min(asked[1], shape.high)
    return {shape.name: 0.5 * (low + high)} if low <= high else {}


def _within_size(free: Free, size: SizeDemand) -> Free:
    """A free proportion, inside the range that the width and length ordered allow."""
    asked = ratio_range(size) if free.name == PROPORTION else None
    if asked is None:
        return free
    low, high = max(asked[0], free.low), min(asked[1], free.high)
    if low > high:
        return free  # width_window raises the error
    return replace(free, low=low, high=high)


def with_free_values(offer: Offer, values: Floats, body: Body) -> Offer:
    """The offer with values chosen for its free parameters, and the body that they give."""
    assert offer.freedom is not None
    chosen = {**offer.freedom.family.parameters(values), "girdle": body.girdle_share}
    want = replace(offer.want, body=body, width_mm=offer.freedom.window(body))
    return replace(offer, parameters=chosen, want=want)


def width_window(design: Design, body: Body, size: SizeDemand, sg: float) -> Range:
    """The range of widths in mm, from ``least_width`` on, that meets the sizes ordered.

    Raises InputError where no width does.
    """
    ratio = body.length_at(1.0)
    low, high = width_range(body, size, sg)
    if low <= high:
        return low, high
    if LEAST_WIDTH_MM <= high < least_width(body):
        raise InputError(
            f"the girdle must be {plain(body.least_girdle_mm)} mm thick at least (least_mm in "
            f"[girdle]) and {design.name} at most {plain(high, 4)} mm wide: none of more than "
            f"{plain(100.0 * MOST_GIRDLE_SHARE)} % of the width is planned; ask for a thinner one "
            "or a larger stone"
        )
    if high < LEAST_WIDTH_MM:
        raise InputError(
            f"the order's [size] asks for {_narrowest(body, size, sg)} {plain(high, 4)} mm for "
            f"{design.name}; no stone under {plain(LEAST_WIDTH_MM)} mm is planned"
        )
    asked = {key: window for key, window in vars(size).items() if window is not None}
    raise InputError(
        f"the order's [size] contradicts itself for {design.name}, whose length_to_width is "
        f"{plain(ratio)}: {' and '.join(asked)} ask for a width of at least {plain(low, 4)} mm and "
        f"at most {plain(high, 4)} mm; drop one demand"
    )


def width_range(body: Body, size: SizeDemand, sg: float) -> Range:
    """Least and greatest width in mm that meet the sizes ordered. Where no width does, the least
    exceeds the greatest."""
    windows = [(least_width(body), float("inf")), *_windows(body, size, sg).values()]
    low, high = max(w[0] for w in windows), min(w[1] for w in windows)
    if high < low <= high * (1.0 + ROUNDING):  # one fixed size, stated twice
        return high, high
    return low, high


def _windows(body: Body, size: SizeDemand, sg: float) -> dict[str, Range]:
    """The range of widths in mm that each size ordered allows, by its key."""
    ratio = body.length_at(1.0)
    windows = {}
    if size.width_mm:
        windows["width_mm"] = size.width_mm
    if size.length_mm:
        windows["length_mm"] = (size.length_mm[0] / ratio, size.length_mm[1] / ratio)
    if size.carat:
        low, high = (body.width_for_volume(200.0 * ct / sg) if ct else 0.0 for ct in size.carat)
        windows["carat"] = (low, high)
    return windows


def _size_limits(body: Body, size: SizeDemand, sg: float) -> SizeLimits:
    """The sizes ordered as ``width_range`` has them, for all bodies with one least girdle."""
    anything = 0.0, float("inf")
    width, length = size.width_mm or anything, size.length_mm or anything
    low, high = size.carat or anything
    width = max(width[0], least_width(body)), width[1]
    return SizeLimits(width, length, (200.0 * low / sg, 200.0 * high / sg))


def _narrowest(body: Body, size: SizeDemand, sg: float) -> str:
    """The size ordered that limits the width most, as the order has it."""
    windows = _windows(body, size, sg)
    key = min(windows, key=lambda name: windows[name][1])
    asked = "" if key == "width_mm" else f"{key} = {plain(getattr(size, key)[1])} at most, so for "
    return f"{asked}a width of at most"


def least_width(body: Body) -> float:
    """The least width in mm at which a stone can be cut and its girdle is not too thick."""
    return max(LEAST_WIDTH_MM, body.least_girdle_mm / MOST_GIRDLE_SHARE)


def boundary_of(rough: Rough, order: Order) -> Plane | ColourRoom | None:
    """The boundary of the zone that the order names, scan frame. A flat boundary is a plane with
    its normal towards the ordered colour.

    Raises InputError where the rough has no such zone or colour, or the order asks what this kind
    of boundary has not.
    """
    if order.zone is None:
        return None
    zone = _ordered_zone(rough, order.zone)
    if not isinstance(zone.boundary, Plane):
        return colour_room(zone, order.zone, rough.mesh.vertices)
    return zone.boundary if order.zone.colour == zone.towards.name else zone.boundary.flipped()


def _ordered_zone(rough: Rough, asked: ZoneDemand) -> Zone:
    colours = {zone.name: (zone.away.name, zone.towards.name) for zone in rough.zones}
    refuse_unknown_zone(asked, colours, rough.scan)
    return next(zone for zone in rough.zones if zone.name == asked.name)
