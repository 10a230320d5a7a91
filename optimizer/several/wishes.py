"""What an order of several stones asks for: each line of its list as designs ready to be laid."""

from dataclasses import replace

from optimizer.errors import InputError
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.crystal import off_cleavage
from optimizer.offers.least_width import workable
from optimizer.offers.offer import Offer
from optimizer.order import Order
from optimizer.order.several import Several, Wanted
from optimizer.rough.model import Rough
from optimizer.several.model import Wish
from optimizer.several.suite import calibrated_offers

ANY = Wanted("stone")  # what an order without a list wants as many of as pay


def wishes(rough: Rough, order: Order) -> tuple[tuple[Wish, ...], tuple[str, ...]]:
    """Every line of the order's list, in its order, and why designs of the library were left out.

    An order without a list has one wish: stones as it says itself. Raises InputError where a
    line can't be met by any design, with the line's name.
    """
    several = order.several or Several()
    found, left_out = [], []
    for wanted in order.wanted or (ANY,):
        try:
            wish, without = _wish(rough, order, wanted, several.most)
        except InputError as error:
            if not order.wanted:
                raise
            raise InputError(f'the wanted "{wanted.name}": {error}') from None
        found.append(wish)
        left_out += [f'"{wanted.name}": {one}' if order.wanted else one for one in without]
    return tuple(found), tuple(left_out)


def _wish(rough: Rough, order: Order, wanted: Wanted, most: int) -> tuple[Wish, tuple[str, ...]]:
    asked = off_cleavage(rough, workable(order.of(wanted)))
    make = calibrated_offers if wanted.calibrated else allowed_offers
    offers, left_out = make(rough, asked)
    pair = wanted.pair_mm is not None
    if pair:
        offers = tuple(map(_one_shape, offers))
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


def _one_shape(offer: Offer) -> Offer:
    """The offer with nothing left free: two stones of it have all angles alike."""
    return replace(offer, freedom=None)
