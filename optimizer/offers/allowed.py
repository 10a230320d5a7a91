"""The designs that an order allows, with angles at which the light is as ordered."""

from optimizer.errors import InputError
from optimizer.offers.offer import Offer, offers
from optimizer.offers.wanted_light import with_light
from optimizer.offers.wanted_look import with_zone
from optimizer.order import Order
from optimizer.rough.model import Rough


def allowed_offers(rough: Rough, order: Order) -> tuple[tuple[Offer, ...], tuple[str, ...]]:
    """Every design that the order allows, its angles limited to where the light is as ordered; and
    why other designs of the library were left out. Raises InputError where none is left."""
    allowed, left_out = offers(rough, with_zone(rough, order))
    kept: list[Offer] = []
    refused: list[str] = []
    for offer in allowed:
        try:
            kept.append(with_light(rough, order, offer))
        except InputError as error:
            if len(order.designs) == 1 or len(allowed) == len(refused) + 1:
                raise
            refused.append(f"left out: {error}")
    return tuple(kept), (*left_out, *refused)
