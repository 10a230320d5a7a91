"""What an order for several stones asks for: each line of its list as a Wish with its offers."""

from dataclasses import replace

from optimizer.errors import InputError
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.crystal import with_cleavage_clearance
from optimizer.offers.least_width import with_least_width
from optimizer.offers.offer import Offer
from optimizer.order import Order
from optimizer.order.several import Several, Wanted
from optimizer.rough.model import Rough
from optimizer.several.model import Wish
from optimizer.several.suite import calibrated_offers

ANY = Wanted("stone")  # for an order without a list: as many stones as pay


def wishes(rough: Rough, order: Order) -> tuple[tuple[Wish, ...], tuple[str, ...]]:
    """A wish for every line of the order's list, and why designs of the library were left out.

    An order without a list has one wish, for stones as the order itself describes them. Raises
    InputError, with the line's name, where no design can meet a line.
    """
    several = order.several or Several()
    found, left_out = [], []
    for wanted in order.wanted or (ANY,):
        try:
            wish, reasons = _wish(rough, order, wanted, several.most)
        except InputError as error:
            if not order.wanted:
                raise
            raise InputError(f'the wanted "{wanted.name}": {error}') from None
        found.append(wish)
        left_out += [f'"{wanted.name}": {one}' if order.wanted else one for one in reasons]
    return tuple(found), tuple(left_out)


def _wish(rough: Rough, order: Order, wanted: Wanted, most: int) -> tuple[Wish, tuple[str, ...]]:
    asked = with_cleavage_clearance(rough, with_least_width(order.of(wanted)))
    make = calibrated_offers if wanted.calibrated else allowed_offers
    offers, left_out = make(rough, asked)
    pair = wanted.pair_mm is not None
    if pair:
        offers = tuple(map(_without_freedom, offers))
    least, count = wanted.count or (0, most)
    count = min(count, most)
    wish = Wish(
        name=wanted.name,
        offers=offers,
        least=least,
        most=count - count % 2 if pair else count,
        pair_mm=wanted.pair_mm,
        first=wanted.first,
        order=asked,
        alike=wanted.alike if pair else None,
    )
    return wish, left_out


def _without_freedom(offer: Offer) -> Offer:
    """The offer without free parameters, so that two of its stones have the same angles."""
    return replace(offer, freedom=None)
