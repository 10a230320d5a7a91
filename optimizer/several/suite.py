"""Stones in calibrated sizes: an offer for each usual size of a design's outline."""

from dataclasses import replace

from optimizer.design import calibrated_designs, designs_to_choose_from, load_design
from optimizer.errors import InputError
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.offer import Offer
from optimizer.order import Order, Range, SizeDemand
from optimizer.rough.model import Rough
from optimizer.trade.calibrated import CalibratedSize
from optimizer.wording.plain_number import plain


def calibrated_offers(rough: Rough, order: Order) -> tuple[tuple[Offer, ...], tuple[str, ...]]:
    """An offer for every usual size of every design that the order allows, fixed in width and
    length; and why designs of the library were left out.

    Raises InputError where a design that the order names has no size that meets the order, or no
    design of the library has one.
    """
    found: list[Offer] = []
    refused: list[str] = []
    for design in order.designs or designs_to_choose_from():
        try:
            found += _sized(rough, replace(order, designs=(design,)))
        except InputError as error:
            if len(order.designs) == 1:
                raise
            refused.append(str(error))
    if not found:
        of = "that the order names" if order.designs else "of the library"
        raise InputError(f"no design {of} can meet the order; for one, {refused[0]}")
    return tuple(found), tuple(f"left out: {reason}" for reason in refused)


def _sized(rough: Rough, order: Order) -> list[Offer]:
    """Offers of the order's one design, in each of its sizes that meets the order."""
    design = load_design(order.designs[0])
    name, outline = design.name, design.outline.calibrated
    if outline is None:
        known = ", ".join(calibrated_designs())
        raise InputError(f"{name} has no calibrated sizes; these have: {known}")
    found: list[Offer] = []
    refused = f"none lies in its size, {_text(outline.sizes)} are usual"
    for size in filter(lambda one: _is_asked(order.size, one), outline.sizes):
        fixed = SizeDemand(_exactly(size.width_mm), _exactly(size.length_mm), order.size.carat)
        try:
            found += allowed_offers(rough, replace(order, size=fixed))[0]
        except InputError as error:
            refused = str(error)
    if not found:
        raise InputError(f"no calibrated size of {name} meets the order: {refused}")
    return found


def _is_asked(asked: SizeDemand, size: CalibratedSize) -> bool:
    ends = ((asked.width_mm, size.width_mm), (asked.length_mm, size.length_mm))
    return all(end is None or end[0] <= value <= end[1] for end, value in ends)


def _exactly(value: float) -> Range:
    return value, value


def _text(sizes: tuple[CalibratedSize, ...]) -> str:
    return f"{_size(sizes[0])} to {_size(sizes[-1])}"


def _size(size: CalibratedSize) -> str:
    return f"{plain(size.width_mm)} × {plain(size.length_mm)} mm"
