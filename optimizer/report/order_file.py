"""order.toml: the order as planned, every default filled in, ready to be planned again."""

import json
from collections.abc import Mapping
from typing import Any

from optimizer.order import Order, as_table

HEAD = "# The order as it was planned, with every default filled in.\n"


def order_toml(order: Order) -> str:
    """The order as TOML text; what was not asked for is left out."""
    return HEAD + toml(as_table(order))


def toml(table: Mapping[str, Any]) -> str:
    """A mapping of strings, numbers, lists and mappings as TOML; values of None are left out."""
    return _body(table, ())


def _body(table: Mapping[str, Any], path: tuple[str, ...]) -> str:
    """What stands below a table's head: its plain values, then the tables in it."""
    given = {key: value for key, value in table.items() if value is not None}
    plain = {key: value for key, value in given.items() if not _has_heads(value)}
    lines = [f"{_key(key)} = {_value(value)}\n" for key, value in plain.items()]
    inner = [_headed(value, (*path, key)) for key, value in given.items() if key not in plain]
    return "".join(lines + inner)


def _has_heads(value: Any) -> bool:
    """Whether a value is a table or a list of tables."""
    if isinstance(value, list | tuple):
        return bool(value) and all(isinstance(one, Mapping) for one in value)
    return isinstance(value, Mapping)


def _headed(value: Any, path: tuple[str, ...]) -> str:
    """A table below its head, which one of nothing but tables doesn't need, or a list of them."""
    name = ".".join(map(_key, path))
    if not isinstance(value, Mapping):
        return "".join(f"\n[[{name}]]\n{_body(one, path)}" for one in value)
    body = _body(value, path)
    needed = not value or (body and not body.startswith("\n"))
    return (f"\n[{name}]\n" if needed else "") + body


def _key(key: str) -> str:
    bare = key and all(letter.isascii() and (letter.isalnum() or letter in "_-") for letter in key)
    return key if bare else _string(key)


def _value(value: Any) -> str:
    if isinstance(value, str):
        return _string(value)
    if isinstance(value, Mapping):
        inner = (f"{_key(k)} = {_value(v)}" for k, v in value.items() if v is not None)
        return "{" + ", ".join(inner) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    return str(value).lower() if isinstance(value, bool) else repr(value)


def _string(text: str) -> str:
    """A basic string; JSON's escapes are TOML's, but for DEL, which TOML won't have bare."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
