"""Checks at the border: TOML files against a declared table, each fault as one clear line."""

import json
import tomllib
import unicodedata
from pathlib import Path
from typing import Annotated, Any, TypeVar, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationError

from optimizer.errors import InputError, nearest
from optimizer.reading import SETTINGS, read_file


class Table(BaseModel):
    """A table of a TOML file: unknown keys and wrong types are refused."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def _printable(text: str) -> str:
    if not text or any(unicodedata.category(letter) in _UNSEEN for letter in text):
        raise ValueError(f"must be one line of printable text, got {shown(text)}")
    return text


_UNSEEN = ("Cc", "Zl", "Zp")  # control characters, line and paragraph separators
OneLine = Annotated[str, AfterValidator(_printable)]  # a name that is shown to people

AnyTable = TypeVar("AnyTable", bound=Table)


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file's content. Raises InputError."""
    try:
        return tomllib.loads(read_file(path, SETTINGS).decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError(f"{path}: is not text in UTF-8; a TOML file is expected") from None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        reason = " ".join(str(error).split())
        raise InputError(f"{path}: is not a valid TOML file: {reason}") from None


def checked(model: type[AnyTable], content: dict[str, Any], where: str) -> AnyTable:
    """``content`` as ``model``. Raises InputError, prefixed by ``where``, at the first fault."""
    try:
        return model.model_validate(content)
    except ValidationError as error:
        faults = error.errors()
        # a misspelt key is a missing one too: name the spelling, which says more
        first = next((f for f in faults if f["type"] == "extra_forbidden"), faults[0])
        raise InputError(f"{where}: {_sentence(first, model)}") from None


def shown(value: Any) -> str:
    """A value as a person wrote it, cut short where it is long."""
    text = json.dumps(value, default=str, ensure_ascii=False)
    return text if len(text) <= 60 else text[:57] + "..."


# pydantic's kinds of faults, in our words; braces hold the limit that was passed.
_FAULTS = {
    "bool_type": "must be true or false",
    "finite_number": "must be a finite number",
    "float_type": "must be a number",
    "greater_than": "must be above {gt:g}",
    "greater_than_equal": "must be at least {ge:g}",
    "int_from_float": "must be a whole number",
    "int_type": "must be a whole number",
    "less_than": "must be below {lt:g}",
    "less_than_equal": "must be at most {le:g}",
    "list_type": "must be a list",
    "literal_error": "must be {expected}",
    "string_type": "must be text",
    "too_long": "must hold at most {max_length}",
    "too_short": "must hold at least {min_length}",
}


def _sentence(problem: Any, model: type[Table]) -> str:
    """One plain line from one of pydantic's errors."""
    kind, limits, got = problem["type"], problem.get("ctx", {}), shown(problem["input"])
    place = ".".join(str(part + 1) if isinstance(part, int) else part for part in problem["loc"])
    match kind:
        case "extra_forbidden":
            known = _table_at(model, problem["loc"][:-1]).model_fields
            return f'key "{place}" is not known; {nearest(str(problem["loc"][-1]), known)}'
        case "missing":
            return f'key "{place}" is missing; {_how_to_add(model, problem["loc"])}'
        case "value_error":
            reason = str(limits["error"])
            return f'key "{place}" {reason}' if place else reason
        case "model_type" | "dict_type":
            return f'key "{place}" must be a table of keys, got {got}'
    if kind in _FAULTS:
        return f'key "{place}" {_FAULTS[kind].format(**limits)}, got {got}'
    return f'key "{place}": {problem["msg"].lower()}, got {got}'


def _how_to_add(model: type[Table], place: tuple[Any, ...]) -> str:
    """With an example where the field declares one: Field(examples=["quartz"])."""
    field = _table_at(model, place[:-1]).model_fields[place[-1]]
    if not field.examples:
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
