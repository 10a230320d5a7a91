"""A design as the order wants it: its body, the window of its width, and the zone it must meet."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from optimizer.design import full_parameters, library, load_design
from optimizer.design.family import Family, Free
from optimizer.design.model import Body, Design
from optimizer.errors import InputError
from optimizer.mesh import Plane
from optimizer.offers.colour_side import colour_room
from optimizer.offers.crystal import direction_of
from optimizer.offers.freedom import asked_text, fixed_parameters, free_parameters
from optimizer.offers.known_names import refuse_unknown_parameters, refuse_unknown_zone
from optimizer.optics.look_demands import colour_demands, light_demands
from optimizer.order import Order, Range, SizeDemand, ZoneDemand
from optimizer.placement.colour_room import ColourRoom
from optimizer.placement.direction import Direction
from optimizer.placement.place import Want
from optimizer.placement.shaping import Freedom
from optimizer.rough.model import Rough, Zone
from optimizer.wording.plain_number import plain

LEAST_WIDTH_MM = 0.1  # no stone is planned narrower: no lap and no eye works it (common practice)
MOST_GIRDLE_SHARE = (
    0.3  # of the width: with a thicker band it is a bead (common practice, no source)
)
ROUNDING = 1e-8  # relative: how far a width and a length that agree may differ once divided


@dataclass(frozen=True)
class Offer:
    """One design that the order allows, with its parameters set, and what is asked of it."""

    design: Design
    parameters: Mapping[str, float]  # full; the girdle as it is; the usual value of those free
    want: Want  # the body at these parameters
    freedom: Freedom | None = None  # None: no parameter is free
    usual_mm3: float | None = None  # once parameters are chosen: the stone of the usual ones


def offers(rough: Rough, order: Order) -> tuple[tuple[Offer, ...], tuple[str, ...]]:
    """Every design that the order allows, and why others of the library were left out.

    A design that the order names and that cannot meet it is an error; where the order names none,
    those of the library that cannot meet it are left out. Raises InputError where names,
    parameters or sizes don't fit, or no design is left.
    """
    boundary, direction = boundary_of(rough, order), direction_of(rough, order)
    if order.designs:
        named = [load_design(name) for name in order.designs]
        return tuple(_offer(rough, order, design, boundary, direction) for design in named), ()
    made, refused = [], []
    for name in library():
        try:
            made.append(_offer(rough, order, load_design(name), boundary, direction))
        except InputError as error:
            refused.append(str(error))
    if not made:
        refuse_unknown_parameters(order)
        # A design that has all the parameters ordered tells more than one that hasn't.
        telling = min(refused, key=lambda reason: "has no parameter" in reason)
        raise InputError(f"no design of the library can meet the order; for one, {telling}")
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
    if "length_to_width" not in order.parameters:
        fixed.update(_proportion(design, size))
    free = tuple(_of_size_ordered(f, size) for f in free)
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
    return Offer(design, parameters, want, Freedom(family, lambda b: widths(b, size, material.sg)))


def _proportions(size: SizeDemand) -> Range | None:
    """What a width and a length ordered together leave of length_to_width."""
    if not size.width_mm or not size.length_mm:
        return None
    low = size.length_mm[0] / size.width_mm[1]
    return low, size.length_mm[1] / size.width_mm[0] if size.width_mm[0] else float("inf")


def _proportion(design: Design, size: SizeDemand) -> dict[str, float]:
    """A width and a length ordered together set length_to_width, where the design's own proportion
    would not meet both."""
    shape, asked = design.parameters.get("length_to_width"), _proportions(size)
    if shape is None or asked is None or asked[0] <= shape.default <= asked[1]:
        return {}
    low, high = max(asked[0], shape.low), min(asked[1], shape.high)
    return {shape.name: 0.5 * (low + high)} if low <= high else {}


def _of_size_ordered(free: Free, size: SizeDemand) -> Free:
    """A free proportion, inside what the width and length ordered leave of it."""
    asked = _proportions(size) if free.name == "length_to_width" else None
    if asked is None:
        return free
    low, high = max(asked[0], free.low), min(asked[1], free.high)
    if low > high:
        return free  # width_window says so
    return replace(free, low=low, high=high)


def width_window(design: Design, body: Body, size: SizeDemand, sg: float) -> Range:
    """The widths in mm, none below ``least_width``, that meet the sizes ordered.

    Raises InputError where none does.
    """
    ratio = body.length_at(1.0)
    low, high = widths(body, size, sg)
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
            f"the order's [size] asks for a width of at most {plain(high, 4)} mm for "
            f"{design.name}; no stone under {plain(LEAST_WIDTH_MM)} mm is planned"
        )
    asked = {key: window for key, window in vars(size).items() if window is not None}
    raise InputError(
        f"the order's [size] contradicts itself for {design.name}, whose length_to_width is "
        f"{plain(ratio)}: {' and '.join(asked)} ask for a width of at least {plain(low, 4)} mm and "
        f"at most {plain(high, 4)} mm; drop one demand"
    )


def widths(body: Body, size: SizeDemand, sg: float) -> Range:
    """Least and greatest width in mm that meets the sizes ordered; the least is the greater where
    none does."""
    ratio = body.length_at(1.0)
    windows = [(least_width(body), float("inf"))]
    if size.width_mm:
        windows.append(size.width_mm)
    if size.length_mm:
        windows.append((size.length_mm[0] / ratio, size.length_mm[1] / ratio))
    if size.carat:
        low, high = (body.width_for_volume(200.0 * ct / sg) if ct else 0.0 for ct in size.carat)
        windows.append((low, high))
    low, high = max(w[0] for w in windows), min(w[1] for w in windows)
    if high < low <= high * (1.0 + ROUNDING):  # one fixed size, said twice
        return high, high
    return low, high


def least_width(body: Body) -> float:
    """In mm: what can be held, and how wide a stone of this girdle is at least."""
    return max(LEAST_WIDTH_MM, body.least_girdle_mm / MOST_GIRDLE_SHARE)


def boundary_of(rough: Rough, order: Order) -> Plane | ColourRoom | None:
    """What the order asks of its zone, scan frame: of a flat one the plane, its normal towards the
    ordered colour.

    Raises InputError where the rough has no such zone or colour, or it has not what is asked for.
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


def relaxations(order: Order) -> list[tuple[str, Order]]:
    """Each demand of the order as a sentence, with the order that lacks this one alone.

    Upper ends of sizes are left: a smaller stone is never in their way.
    """
    return [
        *_of_size(order), *_of_zone(order), *_of_look(order), *_of_direction(order),
        *_of_girdle(order), *_of_design(order),
    ]  # fmt: skip


def without_each_flaw(rough: Rough) -> list[tuple[str, Rough]]:
    """Each flaw as a sentence, with the rough that lacks this one alone."""
    flaws = rough.flaws
    return [
        (f'the flaw "{flaw.name}"', replace(rough, flaws=(*flaws[:k], *flaws[k + 1 :])))
        for k, flaw in enumerate(flaws)
    ]


def _of_size(order: Order) -> Iterator[tuple[str, Order]]:
    for key, unit in (("width_mm", "mm wide"), ("length_mm", "mm long"), ("carat", "ct")):
        window = getattr(order.size, key)
        if window is not None and window[0] > 0.0:
            how = "exactly" if window[0] == window[1] else "at least"
            loose = replace(order.size, **{key: (0.0, window[1])})
            yield f"the size: {how} {plain(window[0])} {unit}", replace(order, size=loose)


def _of_zone(order: Order) -> Iterator[tuple[str, Order]]:
    if order.zone is not None:
        for key, text in order.zone.sentences().items():
            loose = replace(order.zone, **{key: None})  # type: ignore[arg-type]
            yield text, replace(order, zone=loose)


def _of_look(order: Order) -> Iterator[tuple[str, Order]]:
    if order.look is not None:
        for one in (*colour_demands(order.look), *light_demands(order.look)):
            look = replace(order.look, **{one.key: None})
            if not look.of_colour:
                look = replace(look, zone=None, colour=None)
            asks = look.of_colour or look.of_light
            yield f"the look: {one.words}", replace(order, look=look if asks else None)


def _of_direction(order: Order) -> Iterator[tuple[str, Order]]:
    asked = order.direction
    if asked is not None and asked.axis_to_table_deg is not None:
        low, high = asked.axis_to_table_deg
        text = f"the {asked.axis}: {plain(low)} to {plain(high)}° to the table"
        yield text, replace(order, direction=replace(asked, axis_to_table_deg=None))
    if asked is not None and asked.cleavage_clear_deg:
        text = f"no facet within {plain(asked.cleavage_clear_deg)}° of a cleavage plane"
        yield text, replace(order, direction=replace(asked, cleavage_clear_deg=None))


def _of_girdle(order: Order) -> Iterator[tuple[str, Order]]:
    if order.least_girdle_mm > 0.0:
        text = f"the girdle: at least {plain(order.least_girdle_mm)} mm"
        yield text, replace(order, least_girdle_mm=0.0)
    if order.least_girdle_percent > Order.least_girdle_percent:
        text = f"the girdle: at least {plain(order.least_girdle_percent)} % of the width"
        yield text, replace(order, least_girdle_percent=Order.least_girdle_percent)


def _of_design(order: Order) -> Iterator[tuple[str, Order]]:
    if order.parameters:
        values = ", ".join(f"{name} {asked_text(v)}" for name, v in order.parameters.items())
        yield f"the parameters: {values}", replace(order, parameters={})
    if order.designs and set(library()) - set(order.designs):
        text = "the design: " + " or ".join(order.design_names)
        yield text, replace(order, designs=(), parameters={})
