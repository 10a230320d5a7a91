"""Negative numbers in sentences, which have a true minus sign."""

MINUS = "\N{MINUS SIGN}"


def with_minus(number: str) -> str:
    """``number``, as Python writes it, with a true minus sign in place of its hyphen.

    >>> with_minus("-0.5")
    '−0.5'
    """
    return number.replace("-", MINUS)
