"""The names that an order uses, checked before the scan is read."""

from collections.abc import Iterator, Mapping

from optimizer.design import library, load_design
from optimizer.errors import InputError, nearest
from optimizer.offers.freedom import fixed_parameters, free_parameters
from optimizer.order import Order, ZoneDemand
from optimizer.rough.rough_file.facts import Facts


def refuse_unknown_names(order: Order, facts: Facts) -> None:
    """Raise InputError where the order, or a line of its list, names an unknown zone, colour,
    design or parameter, or gives a parameter a value out of its range."""
    if not order.wanted:
        _refuse_of_one(order, facts)
    for wanted in order.wanted:
        try:
            _refuse_of_one(order.of(wanted), facts)
        except InputError as error:
            raise InputError(f'the wanted "{wanted.name}": {error}') from None


def _refuse_of_one(order: Order, facts: Facts) -> None:
    for asked in _zones(order):
        refuse_unknown_zone(asked, facts.zones, facts.scan.name)
    for name in order.designs:
        design = load_design(name)
        fixed_parameters(
            design, order, free_parameters(design, order, facts.material), facts.material
        )
    if not order.designs:
        refuse_unknown_parameters(order)


def _zones(order: Order) -> Iterator[ZoneDemand]:
    if order.zone is not None:
        yield order.zone
    if order.look is not None and order.look.zone is not None and order.look.colour is not None:
        yield ZoneDemand(order.look.zone, order.look.colour)


def refuse_unknown_zone(asked: ZoneDemand, known: Mapping[str, tuple[str, str]], scan: str) -> None:
    """Raise InputError where ``known``, the zones with their two colours each, lacks the zone or
    the colour asked for."""
    if asked.name not in known:
        raise InputError(
            f'the order names the zone "{asked.name}", which {scan} has not (see [[zones]] in its '
            f"rough file); {nearest(asked.name, known)}"
        )
    if asked.colour not in known[asked.name]:
        raise InputError(
            f'the zone "{asked.name}" has no colour "{asked.colour}"; '
            f"{nearest(asked.colour, known[asked.name])}"
        )


def refuse_unknown_parameters(order: Order) -> None:
    """Raise InputError where the order has a parameter that no design of the library has."""
    known = {parameter for name in library() for parameter in load_design(name).parameters}
    for name in order.parameters:
        if name not in known:
            hint = nearest(name, known)
            raise InputError(f'no design of the library has a parameter "{name}"; {hint}')
