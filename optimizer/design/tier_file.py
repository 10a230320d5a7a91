"""Reads one tier of a design file."""

from collections.abc import Collection, Sequence
from typing import Annotated, Any, Literal

from pydantic import Field, FiniteFloat

from optimizer.design.model import AngleRule, TierRule, TouchRule
from optimizer.design.phrases import read_sentence
from optimizer.errors import InputError, nearest
from optimizer.files.border import Table, checked
from optimizer.wording.plain_number import plain

Text = Annotated[str, Field(min_length=1)]


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
    at: int | None = None


class _NumberTable(Table):
    angle: FiniteFloat


class _SentencesTable(Table):
    cut_to: Annotated[list[str], Field(min_length=1, max_length=2)]


def read_tier(
    values: dict[str, Any],
    where: str,
    gear: int,
    parameters: Collection[str],
    earlier: Sequence[TierRule],
) -> TierRule:
    """One tier of the file, checked by itself and against the earlier ones. Raises InputError."""
    table = checked(_TierTable, values, where)
    if any(rule.name == table.name for rule in earlier):
        raise InputError(f"{where}: an earlier tier has this name; give each tier its own")
    if " and " in table.name:
        fault = "a tier's name can't hold the word \"and\", which joins names in sentences"
        raise InputError(f"{where}: {fault}; use another name")
    check_settings("settings", table.settings, where, gear)
    sentences = _sentences(table.cut_to, where)
    touches = tuple(_touch(line, where, table.side, earlier) for line in sentences)
    angle = None if table.angle is None else _angle(table.angle, where, parameters)
    _check_fixed(where, table, angle, touches)
    settings, cut_to = tuple(table.settings), " and ".join(sentences)
    return TierRule(table.name, table.side, angle, settings, touches, cut_to)


def check_settings(key: str, settings: list[int], where: str, gear: int) -> None:
    """Check that every setting is on the gear and named once. Raises InputError."""
    for setting in settings:
        if not 0 <= setting < gear:
            raise InputError(
                f'{where}: "{key}" takes whole numbers from 0 to {gear - 1}, not {setting}'
            )
        if settings.count(setting) > 1:
            raise InputError(f'{where}: "{key}" names {setting} more than once; leave one')


def _angle(value: Any, where: str, parameters: Collection[str]) -> AngleRule:
    if not isinstance(value, dict):
        return AngleRule(None, checked(_NumberTable, {"angle": value}, where).angle)
    table = checked(_AngleTable, value, f"{where}: angle")
    if table.of not in parameters:
        raise InputError(
            f'{where}: angle: no parameter is named "{table.of}"; {nearest(table.of, parameters)}'
        )
    return AngleRule(table.of, table.plus - table.minus, table.at)


def _sentences(value: Any, where: str) -> list[str]:
    listed = [value] if isinstance(value, str) else value
    return checked(_SentencesTable, {"cut_to": listed}, where).cut_to


def _touch(sentence: str, where: str, side: str, earlier: Sequence[TierRule]) -> TouchRule:
    touch = read_sentence(sentence, side)
    if isinstance(touch, str):
        raise InputError(f'{where}: "cut_to": {touch}')
    known = [rule.name for rule in earlier if rule.side == side]
    for name in filter(None, (touch.tier, touch.other)):
        if name not in known:
            hint = nearest(name, known)
            raise InputError(f'{where}: "cut_to": no earlier {side} tier is named "{name}"; {hint}')
    if touch.percent > 100.0:
        raise InputError(
            f'{where}: "cut_to": {plain(touch.percent)} percent in lies beyond the end; give less'
        )
    return touch


def _check_fixed(
    where: str, table: _TierTable, angle: AngleRule | None, touches: tuple[TouchRule, ...]
) -> None:
    """Check that a tier has an angle and one sentence, or two sentences and no angle unless it
    is that of one setting, and that a girdle tier's angle is 90 and the table's is 0."""
    is_table = any(touch.kind == "table share" for touch in touches)
    if table.side == "girdle" and angle != AngleRule(None, 90.0):
        raise InputError(f'{where}: "angle" of a girdle tier is 90; write angle = 90')
    if is_table and angle != AngleRule(None, 0.0):
        raise InputError(f'{where}: "angle" of the table is 0; write angle = 0')
    if angle is not None and angle.at is not None:
        _check_at(where, table, angle.at, touches)
    elif len(touches) == 2 and angle is not None:
        raise InputError(
            f'{where}: two sentences in "cut_to" fix the angle: leave "angle" out, or one of them'
        )
    if len(touches) == 1 and angle is None:
        raise InputError(f'{where}: "angle" is missing; state it, or give "cut_to" two sentences')


def _check_at(where: str, table: _TierTable, at: int, touches: tuple[TouchRule, ...]) -> None:
    """Check that an angle at one setting decides a level that is open: the table's or a point's."""
    if at not in table.settings:
        raise InputError(f'{where}: "at" must be one of the settings of this tier, not {at}')
    if len(touches) != 2 or not any(t.level for t in touches):
        raise InputError(
            f'{where}: an angle "at" one setting needs two sentences in "cut_to", one of them '
            '"the centre point", "the table corner" or "the table edge"'
        )
