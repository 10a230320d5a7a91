"""Text that is safe to show on a terminal: without control characters or endless lines."""

import unicodedata

MOST_LETTERS = 1000  # of a line: our longest caution has about 440
_LEFT_OUT = " ... "
_CATEGORIES = ("Cc", "Cs", "Zl", "Zp")  # control characters, surrogates, ends of lines, paragraphs
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def is_visible(letter: str) -> bool:
    """Whether a letter is no control character and doesn't change the direction of the text."""
    return unicodedata.category(letter) not in _CATEGORIES and letter not in _TURNING


def visible(line: str, most: int = MOST_LETTERS) -> str:
    """``line`` with invisible letters escaped, and with its middle left out where it is very long.

    >>> visible("a\\x1b[2J")
    'a\\\\x1b[2J'
    """
    line = "".join(letter if is_visible(letter) else _escaped(letter) for letter in line)
    if len(line) <= most:
        return line
    half = (most - len(_LEFT_OUT)) // 2
    return line[:half] + _LEFT_OUT + line[-half:]


def _escaped(letter: str) -> str:
    return f"\\x{ord(letter):02x}" if ord(letter) < 256 else f"\\u{ord(letter):04x}"
