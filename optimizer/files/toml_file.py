"""Reading and writing TOML files; files that would take the parser very long are refused."""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from optimizer.errors import InputError
from optimizer.files.reading import SETTINGS, read_file

# The parser's time grows with the square of the number of parts in a key; our keys have at most 5.
_MOST_PARTS = 50
_LONG_KEY = re.compile(
    rf"""(?<![\w-])(?:(?:"[^"\n]*"|'[^'\n]*'|[\w-]+)[ \t]*\.[ \t]*){{{_MOST_PARTS}}}"""
)


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file's content. Raises InputError."""
    try:
        text = read_file(path, SETTINGS).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{path}: is not text in UTF-8; a TOML file is expected") from None
    try:
        if _LONG_KEY.search(text):
            raise ValueError(f"a key has over {_MOST_PARTS} parts")
        return tomllib.loads(text)
    except RecursionError:
        reason = "it is nested too deep"
    except tomllib.TOMLDecodeError as error:
        reason = _in_our_words(str(error))
    except ValueError as error:  # ours, or Python's for numbers with thousands of digits
        reason = "a number has thousands of digits" if "digits" in str(error) else str(error)
    raise InputError(f"{path}: is not a valid TOML file: {reason}")


def _in_our_words(fault: str) -> str:
    """The parser's fault with its line; what the parser says is for programmers."""
    line = re.search(r"\(at line (\d+), column \d+\)$", fault)
    place = f"line {line[1]}" if line else "at the end"
    if twice := re.match(r"Cannot declare \('(.+?)',?\) twice", fault):
        name = twice[1].replace("', '", ".")
        return f"{place}: the table [{name}] is given twice: join the two"
    return f"{place}: {next(said for begins, said in _FAULTS if re.match(begins, fault))}"


# How the faults of Python's parser begin (from 3.11 on), and what they mean.
_FAULTS = (
    (r"Cannot overwrite|Duplicate", "a name is given twice: keep one"),
    (
        r"Cannot",
        "a table is continued that is complete already: give all of its keys in one place",
    ),
    (r"Expected '='", 'a key needs "=" and a value after it'),
    (r"Expected newline", "more follows the value: put each key on a line of its own"),
    (r"Expected '\]", "the head of a table lacks its closing bracket"),
    (r"Unclosed array", "a list lacks its closing bracket ]"),
    (r"Unclosed inline table", "a table in braces lacks its closing brace }"),
    (r"Expected|Unterminated|Illegal character '\\n'", "a text lacks its closing quotation mark"),
    (r"Found invalid|Illegal", "a character that no text may hold: take it out"),
    (
        r"Unescaped|Invalid hex|Escaped",
        "a backslash stands in a text: put the text in single quotes, such as 'C:\\scans'",
    ),
    (r"Invalid date", "a date or time that does not exist"),
    (
        r"Invalid value",
        "a value is missing or can't be read: text stands in quotes, a number has a point and no "
        "comma",
    ),
    (r"", "a line begins with a key, such as width_mm = 8, or with the [head] of a table"),
)


def toml_text(comment: str, table: Mapping[str, Any]) -> str:
    """A TOML text: ``table`` below a line of comment. Values of None are left out, and floats keep
    every digit.

    Values are texts, numbers, truth values, arrays, and lists and mappings of these.
    """
    import tomlkit

    return f"# {comment}\n{tomlkit.dumps(_plain(table))}"


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items() if inner is not None}
    if isinstance(value, np.ndarray):
        return value.tolist()
    return [_plain(inner) for inner in value] if isinstance(value, list | tuple) else value
