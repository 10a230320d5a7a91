"""Scans saved as text: line ends made one, words counted, numbers read at the speed of numpy."""

import re
import warnings

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints

_MARK = b"\xef\xbb\xbf"  # the byte order mark of UTF-8, which some editors put in front
_OTHER_MARKS = (b"\xff\xfe", b"\xfe\xff")
NO_CORNER = -(2**62)
_SHOWN = 30  # letters of a word in a message


def plain(data: bytes, name: str) -> bytes:
    """The text with every line ended by a newline alone, and no byte order mark.

    Raises InputError where it is UTF-16 text, or no text.
    """
    if data.startswith(_OTHER_MARKS):
        raise InputError(f"{name}: the file is UTF-16 text; save it as plain text (UTF-8)")
    if b"\0" in data:
        raise InputError(f"{name}: the file holds binary data, not text; save the scan again")
    data = data.removeprefix(_MARK)
    return data.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if b"\r" in data else data


def numbers(text: bytes, name: str, what: str) -> Floats:
    """All numbers of ``text``, separated by white space. Raises InputError at any other word."""
    text = text.strip()
    if not text:
        return np.empty(0)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", DeprecationWarning)  # older numpy only warns
            return np.fromstring(text, np.float64, sep=" ")
    except (ValueError, DeprecationWarning):
        raise InputError(
            f"{name}: {what} holds something that is not a number{_first_word(text)}"
        ) from None


def _first_word(text: bytes) -> str:
    for found in re.finditer(rb"\S+", text):
        try:
            float(found[0])
        except ValueError:
            shown = found[0][:_SHOWN].decode("ascii", "replace")
            return f' ("{"".join(c if c.isprintable() else "?" for c in shown)}")'
    return ""


def row_lengths(text: bytes) -> Ints:
    """How many words each line holds, (n,); lines without any are left out."""
    letters = np.frombuffer(text, np.uint8)
    gap = letters <= ord(" ")
    starts = np.flatnonzero(~gap[1:] & gap[:-1]) + 1
    if len(gap) and not gap[0]:
        starts = np.concatenate([[0], starts])
    line = np.searchsorted(np.flatnonzero(letters == ord("\n")), starts)
    return np.asarray(np.unique(line, return_counts=True)[1], np.int64)


def whole(values: Floats) -> Ints:
    """Corner numbers as int64; a value that is no whole number becomes NO_CORNER."""
    with np.errstate(invalid="ignore"):
        good = (values == np.round(values)) & (np.abs(values) < 2.0**53)
        return np.where(good, values, NO_CORNER).astype(np.int64)
