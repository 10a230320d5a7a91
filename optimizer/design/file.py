"""Reads a design file (TOML; every key is explained in designs/README.md)."""

from collections.abc import Collection
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, FiniteFloat

from optimizer.design.curves import arcs_of
from optimizer.design.model import Design, Outline, Parameter, Promise, TableRule, TierRule
from optimizer.design.tier_file import Text, check_settings, read_tier
from optimizer.errors import InputError, nearest
from optimizer.files.border import Table, checked, shown
from optimizer.files.toml_file import read_toml
from optimizer.trade.calibrated import CalibratedOutline, outlines
from optimizer.wording.plain_number import plain

SIDES = ("girdle", "pavilion", "crown")
NEEDED = ("length_to_width", "crown", "pavilion", "girdle")
# The limits of each parameter in any design; a design declares a narrower range.
LIMITS = {
    "length_to_width": (0.2, 5.0),
    "crown": (1.0, 89.0),
    "pavilion": (1.0, 89.0),
    "table": (0.05, 0.95),
    "girdle": (0.001, 0.3),
    "corner": (0.01, 0.49),
}


class _DesignTable(Table):
    title: Text
    summary: Text
    gear: Annotated[int, Field(ge=3, le=720)]
    outline: dict[str, Any]
    parameters: dict[str, dict[str, Any]]
    tiers: list[dict[str, Any]]
    table: dict[str, Any] | None = None
    finished: dict[str, Any] | None = None


class _StraightTable(Table):
    name: Text | None = None
    description: Text
    shape: Literal["straight", "rounded", "pear", "egg", "bowed"]
    axis: Annotated[FiniteFloat, Field(gt=0.0, lt=1.0)] = 0.5
    calibrated: str | None = None


class _RoundedTable(_StraightTable):
    fullness: Annotated[FiniteFloat, Field(ge=1.2, le=20.0)]


_Tip = Annotated[list[FiniteFloat], Field(min_length=2, max_length=2)]


class _BowedTable(_StraightTable):
    tips: Annotated[list[_Tip], Field(min_length=2)]
    bows: list[Annotated[FiniteFloat, Field(ge=0.0, le=0.5)]]


_Margin = Annotated[FiniteFloat, Field(gt=0.0, le=10.0)]


class _PlannedTable(Table):
    edges: Annotated[list[int], Field(min_length=3)]
    ends: Annotated[list[_Margin], Field(min_length=2, max_length=2)] | None = None


class _FinishedTable(Table):
    turns: Annotated[int, Field(ge=1, le=720)] = 1
    mirror: bool = False
    bottom: Literal["point", "keel", "keel or point", "flat"] | None = None


class _ParameterTable(Table):
    default: FiniteFloat
    low: FiniteFloat
    high: FiniteFloat


def read_design(path: Path) -> Design:
    """The design that the file states. Raises InputError, naming the file, the tier and the key."""
    where = str(path)
    top = checked(_DesignTable, read_toml(path), where)
    parameters = _parameters(top.parameters, where)
    rules: list[TierRule] = []
    for place, values in enumerate(top.tiers, start=1):
        tier = f'{where}: tier "{values["name"]}"' if "name" in values else f"{where}: tier {place}"
        rules.append(read_tier(values, tier, top.gear, parameters, rules))
    _check_whole(where, rules, parameters, top.table is not None)
    return Design(
        name=path.stem,
        title=top.title,
        summary=top.summary,
        gear=top.gear,
        parameters=parameters,
        outline=_outline(top.outline, f"{where}: [outline]"),
        rules=tuple(rules),
        table=None if top.table is None else _table(top.table, f"{where}: [table]", top.gear),
        promise=_promise(top.finished or {}, f"{where}: [finished]"),
    )


def _table(values: dict[str, Any], where: str, gear: int) -> TableRule:
    table = checked(_PlannedTable, values, where)
    check_settings("edges", table.edges, where, gear)
    front, back = table.ends or (1.0, 1.0)
    return TableRule(tuple(sorted(table.edges)), (front, back))


def _promise(values: dict[str, Any], where: str) -> Promise:
    finished = checked(_FinishedTable, values, where)
    return Promise(finished.turns, finished.mirror, finished.bottom)


def _outline(values: dict[str, Any], where: str) -> Outline:
    kinds: dict[str, type[_StraightTable]] = {"rounded": _RoundedTable, "bowed": _BowedTable}
    kind = next((kinds[name] for name in kinds if values.get("shape") == name), _StraightTable)
    table = checked(kind, values, where)
    calibrated = _calibrated(table, where)
    outline = Outline(
        table.description, table.shape, table.name, axis=table.axis, calibrated=calibrated
    )
    if isinstance(table, _RoundedTable):
        return replace(outline, fullness=table.fullness)
    return _bowed(outline, table, where) if isinstance(table, _BowedTable) else outline


def _bowed(outline: Outline, table: _BowedTable, where: str) -> Outline:
    if len(table.bows) != len(table.tips):
        raise InputError(f'{where}: "bows" has a number for each tip: for the side that follows it')
    tips = tuple((x, y) for x, y in table.tips)
    bowed = replace(outline, tips=tips, bows=tuple(table.bows))
    if len(set(tips)) < len(tips) or not arcs_of(bowed).is_convex:
        fault = '"tips" and "bows" make no convex outline; name the tips counter-clockwise'
        raise InputError(f"{where}: {fault}, and let the sides bow less beside a dent")
    return bowed


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


def _check_whole(
    where: str, rules: list[TierRule], parameters: Collection[str], planned: bool
) -> None:
    for side in SIDES:
        if not any(rule.side == side for rule in rules):
            raise InputError(
                f"{where}: no tier has side {side}; a stone needs girdle, pavilion and crown"
            )
    kinds = {rule.name: {touch.kind for touch in rule.touches} for rule in rules}
    tables = [rule for rule in rules if "table share" in kinds[rule.name]]
    if len(tables) > 1 or any(table.settings != (0,) for table in tables):
        raise InputError(f'{where}: one tier is cut to "the table share", with settings = [0]')
    if planned and not tables:
        raise InputError(f'{where}: [table] plans a table; cut one tier to "the table share"')
    used = {rule.angle.of for rule in rules if rule.angle} | set(NEEDED)
    needed = {"table": bool(tables), "corner": any("corner share" in k for k in kinds.values())}
    for name in (name for name, is_needed in needed.items() if is_needed):
        used.add(name)
        if name not in parameters:
            raise InputError(f"{where}: [parameters.{name}] is missing; a tier is cut to it")
    for name in parameters:
        if name not in used:
            raise InputError(f"{where}: [parameters.{name}] is used by no tier; take it out")
