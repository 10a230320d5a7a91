"""The names that an order uses, checked before the scan is read."""

from collections.abc import Iterator, Mapping
from pathlib import Path

from optimizer.design import Design, library, load_design
from optimizer.errors import InputError, nearest
from optimizer.offers.freedom import fixed_parameters, free_parameters
from optimizer.order import Order, ZoneDemand
from optimizer.rough.rough_file.facts import Facts
from optimizer.trade.materials import Material


def refuse_unknown_names(order: Order, facts: Facts, file: Path | None = None) -> None:
    """Raise InputError, prefixed by the order's ``file``, where the order, or a line of its list,
    names an unknown zone, colour, design or parameter, or gives a parameter a value out of its
    range."""
    try:
        _refuse_of_all(order, facts)
    except InputError as error:
        raise InputError(f"{file}: {error}" if file else str(error)) from None


def _refuse_of_all(order: Order, facts: Facts) -> None:
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
        _refuse_parameters(load_design(name), order, facts.material)
    if not order.designs:
        refuse_unknown_parameters(order)


def _refuse_parameters(design: Design, order: Order, material: Material) -> None:
    try:
        fixed_parameters(design, order, free_parameters(design, order, material), material)
    except InputError as error:
        raise InputError(f"[parameters] {error}") from None


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
