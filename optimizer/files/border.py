"""Checks of a file's content against a declared table, with each fault as one clear line."""

import json
import math
from collections.abc import Callable, Iterator
from itertools import zip_longest
from typing import Annotated, Any, TypeVar, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationError

from optimizer.errors import InputError, nearest, ordinal
from optimizer.wording.plain_number import plain
from optimizer.wording.visible import is_visible

Place = tuple[str | int, ...]  # keys, and positions in lists, counted from 0


class Table(BaseModel):
    """A table of a TOML or JSON file: unknown keys and wrong types are refused."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def _printable(text: str) -> str:
    if not text or not all(map(is_visible, text)):
        raise ValueError(f"must be one line of printable text, got {shown(text)}")
    return text


def _short(text: str) -> str:
    if len(text) > LONGEST_NAME:
        raise ValueError(f"has {len(text):,} letters; a name has at most {LONGEST_NAME}")
    return text


LONGEST_NAME = 200  # letters, since names are printed on pages and beside pictures
FileName = Annotated[str, AfterValidator(_printable)]  # of a file, with the folders to it
OneLine = Annotated[FileName, AfterValidator(_short)]  # a name that is shown to people

AnyTable = TypeVar("AnyTable", bound=Table)


def checked(model: type[AnyTable], content: dict[str, Any], where: str) -> AnyTable:
    """``content`` checked as ``model``. Raises InputError, prefixed by ``where``, at the first
    fault."""
    for place, number in _oversized_numbers(content):
        raise InputError(f"{where}: {place_words(place)} {_oversized_words(number)}")
    try:
        return model.model_validate(content)
    except ValidationError as error:
        raise InputError(f"{where}: {first_fault(error, model, place_words)}") from None


def checked_json(model: type[AnyTable], text: bytes, where: str) -> AnyTable:
    """A JSON text checked as ``model``. Raises as ``checked`` does."""
    try:
        return model.model_validate_json(text)
    except ValidationError as error:
        raise InputError(f"{where}: {first_fault(error, model, json_place_words)}") from None


PlaceWords = Callable[[Place, bool], str]


def first_fault(error: ValidationError, model: type[Table], words: PlaceWords) -> str:
    """The first of pydantic's faults as one plain line; ``words`` says where it is."""
    faults = error.errors()
    # A misspelt key causes a missing one, too: the misspelt one says more.
    first = next((f for f in faults if f["type"] == "extra_forbidden"), faults[0])
    return _sentence(first, model, words)


def _oversized_numbers(value: Any, place: Place = ()) -> Iterator[tuple[Place, float]]:
    """Each number that is not finite, or has more bits than TOML guarantees, with its place."""
    if isinstance(value, dict | list):
        for key, held in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _oversized_numbers(held, (*place, key))
    elif isinstance(value, int | float) and not abs(value) < _MOST[type(value)]:
        yield place, value


_MOST = {bool: 2, int: 2**63, float: math.inf}


def _oversized_words(number: float) -> str:
    if isinstance(number, int):
        return f"is too large a number, of some {round(0.30103 * number.bit_length()):,} digits"
    return f"must be a finite number, got {number}"


def place_words(place: Place, is_table: bool = False) -> str:
    """A place in a file in words; ``is_table``: the place is a whole table.

    >>> place_words(("zones", 1, "towards", "srgb"))
    'in the second [[zones]], key "towards.srgb"'
    >>> place_words(("zones", 1), is_table=True), place_words(("point_mm", 2))
    ('the second [[zones]]', 'the third of "point_mm"')
    """
    around, entry, keys = "", "", ""
    for part, after in zip_longest(place, place[1:]):
        if isinstance(part, str):
            around, entry = around + (f"in {entry}, " if entry else ""), ""
            keys = f"{keys}.{part}" if keys else part
        elif keys and not around and (isinstance(after, str) or (after is None and is_table)):
            entry, keys = f"the {ordinal(part)} [[{keys}]]", ""
        else:
            of = entry or f'"{keys}"'
            entry, keys = f"the {ordinal(part)} of {of}", ""
    return around + (entry or f'key "{keys}"')


def json_place_words(place: Place, is_table: bool = False) -> str:
    """A place in a JSON file in words; ``is_table``: the place is a whole object.

    >>> json_place_words(("cuts", 0, "normal", 2)), json_place_words(("cuts", 0), is_table=True)
    ('"cuts[0].normal[2]"', '"cuts[0]"')
    >>> json_place_words(("cuts", 0, "piece"))
    'key "cuts[0].piece"'
    """
    path = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in place)
    is_key = not is_table and isinstance(place[-1] if place else "", str)
    return ("key " if is_key else "") + f'"{path.removeprefix(".")}"'


def shown(value: Any) -> str:
    """A value as JSON, shortened where it is long."""
    text = json.dumps(value, default=str, ensure_ascii=False)
    return text if len(text) <= 60 else text[:57] + "..."


# Pydantic's kinds of faults in our words; the braces stand for the limit that was exceeded.
_FAULTS = {
    "bool_type": "must be true or false",
    "finite_number": "must be a finite number",
    "float_type": "must be a number",
    "greater_than": "must be above {gt}",
    "greater_than_equal": "must be at least {ge}",
    "int_from_float": "must be a whole number",
    "int_type": "must be a whole number",
    "less_than": "must be below {lt}",
    "less_than_equal": "must be at most {le}",
    "list_type": "must be a list",
    "tuple_type": "must be a list",
    "literal_error": "must be {expected}",
    "string_pattern_mismatch": "must match {pattern}",
    "string_too_short": "must not be empty",
    "string_type": "must be text",
    "too_long": "must hold at most {max_length}",
    "too_short": "must hold at least {min_length}",
}


def _sentence(problem: Any, model: type[Table], words: PlaceWords) -> str:
    """One plain line from one of pydantic's errors."""
    kind, got = problem["type"], shown(problem["input"])
    limits = {k: plain(v) if isinstance(v, int | float) else v
              for k, v in problem.get("ctx", {}).items()}  # fmt: skip
    of_table = kind == "value_error" and isinstance(problem["input"], dict | Table)
    place = words(problem["loc"], of_table)
    match kind:
        case "json_invalid":
            return f"is not valid JSON: {limits['error']}"
        case "extra_forbidden":
            known = _table_at(model, problem["loc"][:-1]).model_fields
            return f"{place} is not known; {nearest(str(problem['loc'][-1]), known)}"
        case "missing":
            return f"{place} is missing; {_how_to_add(model, problem['loc'])}"
        case "value_error":
            reason = str(limits["error"])
            return f"{place} {reason}" if problem["loc"] else reason
        case "model_type" | "dict_type":
            reason = f"must be a table of keys, got {got}"
            return f"{place} {reason}" if problem["loc"] else reason
    if kind in _FAULTS:
        return f"{place} {_FAULTS[kind].format(**limits)}, got {got}"
    return f"{place}: {problem['msg'].lower()}, got {got}"


def _how_to_add(model: type[Table], place: tuple[Any, ...]) -> str:
    """ "add it", with an example where the field declares one: Field(examples=["quartz"])."""
    field = _table_at(model, place[:-1]).model_fields.get(place[-1])
    if field is None or not field.examples:
        return "add it"
    return f"add it, for one: {place[-1]} = {shown(field.examples[0])}"


def _table_at(model: type[Table], place: tuple[Any, ...]) -> type[Table]:
    """The table that a path of keys and list positions leads to."""
    for part in place:
        if part in model.model_fields:
            model = _table_in(model.model_fields[part].annotation) or model
    return model


def _table_in(annotation: Any) -> type[Table] | None:
    """The table inside an annotation such as ``list[Zone] | None``."""
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return annotation
    return next((found for part in get_args(annotation) if (found := _table_in(part))), None)
