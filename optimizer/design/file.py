"""Reads a design file (TOML; every key is explained in designs/README.md)."""

from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, FiniteFloat

from optimizer.design.model import AngleRule, Design, Outline, Parameter, TierRule, TouchRule
from optimizer.design.phrases import read_sentence
from optimizer.errors import InputError, nearest
from optimizer.files.border import Table, checked, shown
from optimizer.files.toml_file import read_toml
from optimizer.trade.calibrated import CalibratedOutline, outlines
from optimizer.wording.plain_number import plain

SIDES = ("girdle", "pavilion", "crown")
NEEDED = ("length_to_width", "crown", "pavilion", "table", "girdle")
# The limits of each parameter in any design; a design declares a narrower range.
LIMITS = {
    "length_to_width": (0.2, 5.0),
    "crown": (1.0, 89.0),
    "pavilion": (1.0, 89.0),
    "table": (0.05, 0.95),
    "girdle": (0.001, 0.3),
    "corner": (0.01, 0.49),
}

Text = Annotated[str, Field(min_length=1)]


class _DesignTable(Table):
    title: Text
    summary: Text
    gear: Annotated[int, Field(ge=3, le=720)]
    outline: dict[str, Any]
    parameters: dict[str, dict[str, Any]]
    tiers: list[dict[str, Any]]


class _StraightTable(Table):
    description: Text
    shape: Literal["straight", "pear", "rounded"]
    calibrated: str | None = None


class _RoundedTable(_StraightTable):
    fullness: Annotated[FiniteFloat, Field(ge=1.2, le=20.0)]


class _ParameterTable(Table):
    default: FiniteFloat
    low: FiniteFloat
    high: FiniteFloat


class _TierTable(Table):
    name: Text
    side: Literal["girdle", "pavilion", "crown"]
    angle: Any = None
    settings: Annotated[list[int], Field(min_length=1)]
    cut_to: Any


class _AngleTable(Table):
    of: str
    plus: FiniteFloat = 0.0
    minus: FiniteFloat = 0.0


class _NumberTable(Table):
    angle: FiniteFloat


class _SentencesTable(Table):
    cut_to: Annotated[list[str], Field(min_length=1, max_length=2)]


def read_design(path: Path) -> Design:
    """The design that the file states. Raises InputError, naming the file, the tier and the key."""
    where = str(path)
    top = checked(_DesignTable, read_toml(path), where)
    parameters = _parameters(top.parameters, where)
    rules: list[TierRule] = []
    for place, values in enumerate(top.tiers, start=1):
        tier = f'{where}: tier "{values["name"]}"' if "name" in values else f"{where}: tier {place}"
        rules.append(_rule(values, tier, top.gear, parameters, rules))
    _check_whole(where, rules, parameters)
    return Design(
        name=path.stem,
        title=top.title,
        summary=top.summary,
        gear=top.gear,
        parameters=parameters,
        outline=_outline(top.outline, f"{where}: [outline]"),
        rules=tuple(rules),
    )


def _outline(values: dict[str, Any], where: str) -> Outline:
    if values.get("shape") != "rounded":
        table = checked(_StraightTable, values, where)
        return Outline(table.description, table.shape, calibrated=_calibrated(table, where))
    rounded = checked(_RoundedTable, values, where)
    calibrated = _calibrated(rounded, where)
    return Outline(rounded.description, rounded.shape, rounded.fullness, calibrated)


def _calibrated(table: _StraightTable, where: str) -> CalibratedOutline | None:
    known = {outline.name: outline for outline in outlines()}
    if table.calibrated is not None and table.calibrated not in known:
        hint = nearest(table.calibrated, known)
        raise InputError(f"{where}: no calibrated sizes go by {shown(table.calibrated)}; {hint}")
    return known.get(table.calibrated or "")


def _parameters(tables: dict[str, dict[str, Any]], where: str) -> dict[str, Parameter]:
    for name in NEEDED:
        if name not in tables:
            raise InputError(f"{where}: [parameters.{name}] is missing; every design states it")
    return {
        name: _parameter(name, values, f"{where}: [parameters.{name}]")
        for name, values in tables.items()
    }


def _parameter(name: str, values: dict[str, Any], where: str) -> Parameter:
    table = checked(_ParameterTable, values, where)
    default, low, high = table.default, table.low, table.high
    if not low <= default <= high:
        raise InputError(
            f"{where}: default {plain(default)} must lie between low {plain(low)} and high "
            f"{plain(high)}"
        )
    least, most = LIMITS.get(name, (-1e6, 1e6))
    if not least <= low <= high <= most:
        raise InputError(f"{where}: the range must lie between {plain(least)} and {plain(most)}")
    return Parameter(name, default, low, high)


def _rule(
    values: dict[str, Any],
    where: str,
    gear: int,
    parameters: Collection[str],
    earlier: Sequence[TierRule],
) -> TierRule:
    table = checked(_TierTable, values, where)
    if any(rule.name == table.name for rule in earlier):
        raise InputError(f"{where}: an earlier tier has this name; give each tier its own")
    _check_settings(table.settings, where, gear)
    sentences = _sentences(table.cut_to, where)
    touches = tuple(_touch(line, where, table.side, earlier) for line in sentences)
    angle = None if table.angle is None else _angle(table.angle, where, parameters)
    _check_fixed(where, table.side, angle, touches)
    settings, cut_to = tuple(table.settings), " and ".join(sentences)
    return TierRule(table.name, table.side, angle, settings, touches, cut_to)


def _check_settings(settings: list[int], where: str, gear: int) -> None:
    for setting in settings:
        if not 0 <= setting < gear:
            raise InputError(
                f'{where}: "settings" takes whole numbers from 0 to {gear - 1}, not {setting}'
            )
        if settings.count(setting) > 1:
            raise InputError(f'{where}: "settings" names {setting} more than once; leave one')


def _angle(value: Any, where: str, parameters: Collection[str]) -> AngleRule:
    if not isinstance(value, dict):
        return AngleRule(None, checked(_NumberTable, {"angle": value}, where).angle)
    table = checked(_AngleTable, value, f"{where}: angle")
    if table.of not in parameters:
        raise InputError(
            f'{where}: angle: no parameter is named "{table.of}"; {nearest(table.of, parameters)}'
        )
    return AngleRule(table.of, table.plus - table.minus)


def _sentences(value: Any, where: str) -> list[str]:
    listed = [value] if isinstance(value, str) else value
    return checked(_SentencesTable, {"cut_to": listed}, where).cut_to


def _touch(sentence: str, where: str, side: str, earlier: Sequence[TierRule]) -> TouchRule:
    touch = read_sentence(sentence, side)
    if isinstance(touch, str):
        raise InputError(f'{where}: "cut_to": {touch}')
    known = [rule.name for rule in earlier if rule.side == side]
    if touch.tier and touch.tier not in known:
        hint = nearest(touch.tier, known)
        raise InputError(
            f'{where}: "cut_to": no earlier {side} tier is named "{touch.tier}"; {hint}'
        )
    if touch.percent > 100.0:
        raise InputError(
            f'{where}: "cut_to": {plain(touch.percent)} percent in lies beyond the end; give less'
        )
    return touch


def _check_fixed(
    where: str, side: str, angle: AngleRule | None, touches: tuple[TouchRule, ...]
) -> None:
    """Check that a tier has an angle and one sentence, or two sentences and no angle, and that a
    girdle tier's angle is 90 and the table's is 0."""
    is_table = any(touch.kind == "table share" for touch in touches)
    if side == "girdle" and angle != AngleRule(None, 90.0):
        raise InputError(f'{where}: "angle" of a girdle tier is 90; write angle = 90')
    if is_table and angle != AngleRule(None, 0.0):
        raise InputError(f'{where}: "angle" of the table is 0; write angle = 0')
    if len(touches) == 2 and angle is not None:
        raise InputError(
            f'{where}: two sentences in "cut_to" fix the angle: leave "angle" out, or one of them'
        )
    if len(touches) == 1 and angle is None:
        raise InputError(f'{where}: "angle" is missing; state it, or give "cut_to" two sentences')


def _check_whole(where: str, rules: list[TierRule], parameters: Collection[str]) -> None:
    for side in SIDES:
        if not any(rule.side == side for rule in rules):
            raise InputError(
                f"{where}: no tier has side {side}; a stone needs girdle, pavilion and crown"
            )
    kinds = {rule.name: {touch.kind for touch in rule.touches} for rule in rules}
    tables = [rule for rule in rules if "table share" in kinds[rule.name]]
    if len(tables) != 1 or tables[0].settings != (0,):
        raise InputError(f'{where}: one tier is cut to "the table share", with settings = [0]')
    used = {rule.angle.of for rule in rules if rule.angle} | set(NEEDED)
    if any("corner share" in kind for kind in kinds.values()):
        used.add("corner")
        if "corner" not in parameters:
            raise InputError(f"{where}: [parameters.corner] is missing; a girdle tier is cut to it")
    for name in parameters:
        if name not in used:
            raise InputError(f"{where}: [parameters.{name}] is used by no tier; take it out")
