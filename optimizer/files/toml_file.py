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
        reason = " ".join(str(error).split())
    except ValueError as error:  # ours, or Python's for numbers with thousands of digits
        reason = "a number has thousands of digits" if "digits" in str(error) else str(error)
    raise InputError(f"{path}: is not a valid TOML file: {reason}")


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
