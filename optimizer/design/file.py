"""Reads a design file (TOML; every key is explained in designs/README.md)."""

import tomllib
from collections.abc import Collection
from pathlib import Path
from typing import Any

from optimizer.design.model import (
    AngleRule,
    Design,
    Outline,
    Parameter,
    TierRule,
    Touch,
)
from optimizer.design.phrases import read_sentence
from optimizer.errors import InputError, nearest

SIDES = ("girdle", "pavilion", "crown")
SHAPES = ("rounded", "pear", "straight")
NEEDED = ("length_to_width", "crown", "pavilion", "table", "girdle")
# what each parameter can be at all; a design declares a narrower range
LIMITS = {
    "length_to_width": (0.2, 5.0),
    "crown": (1.0, 89.0),
    "pavilion": (1.0, 89.0),
    "table": (0.05, 0.95),
    "girdle": (0.001, 0.3),
    "corner": (0.01, 0.49),
}
TWO_POINT_SIDES = ("crown", "pavilion")


def read_design(path: Path) -> Design:
    """The design that the file states. Raises InputError naming file, tier and key."""
    try:
        text = path.read_text(encoding="utf-8")
        table = tomllib.loads(text)
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such design file") from None
    except OSError as problem:
        raise InputError(f"{path}: can't be read ({problem.strerror})") from None
    except UnicodeDecodeError:
        raise InputError(f"{path}: is not a text file; save it as UTF-8") from None
    except tomllib.TOMLDecodeError as problem:
        raise InputError(f"{path}: is not valid TOML: {problem}") from None
    return _design(_Table(table, str(path)), path.stem)


class _Table:
    """A TOML table together with where it stands, so that every complaint can say so."""

    def __init__(self, values: dict[str, Any], where: str) -> None:
        self.values = values
        self.where = where

    def refuse(self, text: str) -> InputError:
        return InputError(f"{self.where}: {text}")

    def only(self, known: Collection[str]) -> None:
        for key in self.values:
            if key not in known:
                raise self.refuse(f'unknown key "{key}"; {nearest(key, known)}')

    def get(self, key: str) -> Any:
        if key not in self.values:
            raise self.refuse(f'the key "{key}" is missing; add it')
        return self.values[key]

    def text(self, key: str) -> str:
        value = self.get(key)
        if not isinstance(value, str) or not value.strip():
            raise self.refuse(f'"{key}" must be text in quotes, not {value!r}')
        return value.strip()

    def number(self, key: str) -> float:
        return self._number(self.get(key), key)

    def _number(self, value: Any, key: str) -> float:
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if not is_number or not abs(value) < 1e6:
            raise self.refuse(f'"{key}" must be a plain number, not {value!r}')
        return float(value)

    def choice(self, key: str, known: Collection[str]) -> str:
        value = self.text(key)
        if value not in known:
            raise self.refuse(f'"{key}" can\'t be "{value}"; {nearest(value, known)}')
        return value

    def whole(self, key: str, value: Any, low: int, high: int) -> int:
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            raise self.refuse(f'"{key}" takes whole numbers from {low} to {high}, not {value!r}')
        return value

    def inner(self, key: str, where: str) -> "_Table":
        value = self.get(key)
        if not isinstance(value, dict):
            raise self.refuse(f'"{key}" must be a table of its own, [{key}]')
        return _Table(value, f"{self.where}: {where}")


def _design(top: _Table, name: str) -> Design:
    top.only(("title", "summary", "gear", "outline", "parameters", "tiers"))
    gear = top.whole("gear", top.get("gear"), 3, 720)
    parameters = _parameters(top)
    listed = top.get("tiers")
    if not isinstance(listed, list) or not all(isinstance(tier, dict) for tier in listed):
        raise top.refuse('"tiers" must be a list of tables, each under [[tiers]]')
    rules: list[TierRule] = []
    for place, values in enumerate(listed, start=1):
        label = f'tier "{values["name"]}"' if "name" in values else f"tier {place}"
        rules.append(_rule(_Table(values, f"{top.where}: {label}"), gear, parameters, rules))
    _check_whole(top, rules, parameters)
    return Design(
        name=name,
        title=top.text("title"),
        summary=top.text("summary"),
        gear=gear,
        parameters=parameters,
        outline=_outline(top.inner("outline", "[outline]")),
        rules=tuple(rules),
    )


def _outline(table: _Table) -> Outline:
    shape = table.choice("shape", SHAPES)
    keys = ("description", "shape", "fullness") if shape == "rounded" else ("description", "shape")
    table.only(keys)
    if shape != "rounded":
        return Outline(table.text("description"), shape)
    fullness = table.number("fullness")
    if not 1.2 <= fullness <= 20.0:
        raise table.refuse(f'"fullness" is {fullness:g}; it must lie between 1.2 and 20')
    return Outline(table.text("description"), shape, fullness)


def _parameters(top: _Table) -> dict[str, Parameter]:
    tables = top.inner("parameters", "[parameters]")
    for name in NEEDED:
        if name not in tables.values:
            raise tables.refuse(f"[parameters.{name}] is missing; every design states it")
    return {name: _parameter(name, top.where, tables.inner(name, name)) for name in tables.values}


def _parameter(name: str, file: str, table: _Table) -> Parameter:
    table = _Table(table.values, f"{file}: [parameters.{name}]")
    table.only(("default", "low", "high"))
    default, low, high = (table.number(key) for key in ("default", "low", "high"))
    if not low <= default <= high:
        raise table.refuse(f"default {default:g} must lie between low {low:g} and high {high:g}")
    least, most = LIMITS.get(name, (-1e6, 1e6))
    if not least <= low <= high <= most:
        raise table.refuse(f"the range must lie between {least:g} and {most:g}")
    return Parameter(name, default, low, high)


def _rule(
    table: _Table, gear: int, parameters: Collection[str], earlier: list[TierRule]
) -> TierRule:
    table.only(("name", "side", "angle", "settings", "cut_to"))
    name, side = table.text("name"), table.choice("side", SIDES)
    if any(rule.name == name for rule in earlier):
        raise table.refuse("an earlier tier has this name; give each tier its own")
    touches, cut_to = _touches(table, side, earlier)
    angle = _angle(table, parameters) if "angle" in table.values else None
    _check_fixed(table, side, angle, touches)
    return TierRule(name, side, angle, _settings(table, gear), touches, cut_to)


def _settings(table: _Table, gear: int) -> tuple[int, ...]:
    listed = table.get("settings")
    if not isinstance(listed, list) or not listed:
        raise table.refuse('"settings" must be a list of whole numbers, as in [0, 24, 48, 72]')
    settings = tuple(table.whole("settings", value, 0, gear - 1) for value in listed)
    twice = [value for value in settings if settings.count(value) > 1]
    if twice:
        raise table.refuse(f'"settings" names {twice[0]} more than once; leave one')
    return settings


def _angle(table: _Table, parameters: Collection[str]) -> AngleRule:
    value = table.get("angle")
    if not isinstance(value, dict):
        return AngleRule(None, table.number("angle"))
    inner = _Table(value, f"{table.where}: angle")
    inner.only(("of", "plus", "minus"))
    of = inner.choice("of", parameters)
    plus = inner.number("plus") if "plus" in value else 0.0
    minus = inner.number("minus") if "minus" in value else 0.0
    return AngleRule(of, plus - minus)


def _touches(table: _Table, side: str, earlier: list[TierRule]) -> tuple[tuple[Touch, ...], str]:
    value = table.get("cut_to")
    sentences = value if isinstance(value, list) else [value]
    if not 1 <= len(sentences) <= 2 or not all(isinstance(line, str) for line in sentences):
        raise table.refuse('"cut_to" must be one sentence in quotes, or a list of two')
    touches = []
    for sentence in sentences:
        touch = read_sentence(sentence, side)
        if isinstance(touch, str):
            raise table.refuse(f'"cut_to": {touch}')
        _check_reference(table, side, touch, earlier)
        touches.append(touch)
    return tuple(touches), " and ".join(sentences)


def _check_reference(table: _Table, side: str, touch: Touch, earlier: list[TierRule]) -> None:
    known = [rule.name for rule in earlier if rule.side == side]
    if touch.tier and touch.tier not in known:
        hint = nearest(touch.tier, known)
        raise table.refuse(f'"cut_to": no earlier {side} tier is named "{touch.tier}"; {hint}')
    if touch.percent > 100.0:
        raise table.refuse(f'"cut_to": {touch.percent:g} percent in is beyond the end; take less')


def _check_fixed(
    table: _Table, side: str, angle: AngleRule | None, touches: tuple[Touch, ...]
) -> None:
    """One angle and one sentence, or no angle and two sentences; the girdle stands at 90."""
    upright = angle == AngleRule(None, 90.0)
    if side == "girdle" and not upright:
        raise table.refuse('"angle" of a girdle tier is 90; write angle = 90')
    is_table = touches[0].kind == "table share"
    if is_table and angle != AngleRule(None, 0.0):
        raise table.refuse('"angle" of the table is 0; write angle = 0')
    if len(touches) == 2 and (angle is not None or side not in TWO_POINT_SIDES or is_table):
        raise table.refuse('two sentences in "cut_to" fix the angle: leave "angle" out, or one')
    if len(touches) == 1 and angle is None:
        raise table.refuse('"angle" is missing; state it, or give "cut_to" two sentences')


def _check_whole(top: _Table, rules: list[TierRule], parameters: Collection[str]) -> None:
    for side in SIDES:
        if not any(rule.side == side for rule in rules):
            raise top.refuse(f"no tier has side {side}; a stone needs girdle, pavilion and crown")
    tables = [rule for rule in rules if any(t.kind == "table share" for t in rule.touches)]
    if len(tables) != 1 or tables[0].settings != (0,):
        raise top.refuse('one tier is cut to "the table share", with settings = [0]')
    used = {rule.angle.of for rule in rules if rule.angle} | set(NEEDED)
    if any(touch.kind == "corner share" for rule in rules for touch in rule.touches):
        used.add("corner")
        if "corner" not in parameters:
            raise top.refuse("[parameters.corner] is missing; a girdle tier is cut to it")
    for name in parameters:
        if name not in used:
            raise top.refuse(f"[parameters.{name}] is used by no tier; take it out or use it")
