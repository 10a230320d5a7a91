"""Text as a terminal may show it: nothing in it commands the terminal, and no line is endless."""

import unicodedata

MOST_LETTERS = 1000  # of a line: the longest of ours have some 300
_CATEGORIES = ("Cc", "Cs", "Zl", "Zp")  # control characters, surrogates, ends of lines, paragraphs
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def is_visible(letter: str) -> bool:
    """Whether a letter commands no terminal and leaves the direction of others as it is."""
    return unicodedata.category(letter) not in _CATEGORIES and letter not in _TURNING


def visible(line: str) -> str:
    """``line`` with its middle left out where it is very long, and what is not visible escaped.

    >>> visible("a\\x1b[2J")
    'a\\\\x1b[2J'
    """
    if len(line) > MOST_LETTERS:
        half = MOST_LETTERS // 2
        line = f"{line[:half]} ... {line[-half:]}"
    return "".join(letter if is_visible(letter) else _escaped(letter) for letter in line)


def _escaped(letter: str) -> str:
    return f"\\x{ord(letter):02x}" if ord(letter) < 256 else f"\\u{ord(letter):04x}"
