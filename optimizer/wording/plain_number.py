"""Numbers as people write them: no powers of ten."""

from decimal import Decimal

_GROUPED = 10_000  # from here on digits are grouped in threes; four digits read well without
_MOST_DIGITS = 15  # before or behind the point; beyond that, a power of ten reads better


def plain(value: float, digits: int = 6) -> str:
    """``value`` rounded to so many significant digits.

    >>> plain(1e6), plain(961.4, 2), plain(0.00001234, 2)
    ('1,000,000', '960', '0.000012')
    """
    rounded = Decimal(f"{value:.{digits}g}")
    if not rounded.is_finite() or abs(rounded.adjusted()) > _MOST_DIGITS:
        return f"{value:.{digits}g}"
    return f"{rounded:,f}" if abs(rounded) >= _GROUPED else f"{rounded:f}"
