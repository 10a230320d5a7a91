"""A design's sequence in plain words, step by step."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from itertools import groupby
from textwrap import wrap

import numpy as np

from optimizer.design.body import full_parameters
from optimizer.design.cutting import cut
from optimizer.design.model import Design, Tier, TouchRule
from optimizer.design.sequence import Step, sequence
from optimizer.mesh import Floats
from optimizer.wording.plain_number import plain

MET = 5e-4  # of the width: facets that run this near to a place meet there
SAME_ANGLE = 1e-6  # degrees
WIDE = 90  # letters in a line
TURN_OVER = "Turn the stone over, setting 0 at the same end as before."

Size = Callable[[float], str]
"""A length in words, from its share of the width."""


def step_lines(design: Design, parameters: Mapping[str, float] | None = None) -> list[str]:
    """Each step in a few lines: its angles and settings, what to cut to, what to look for.

    Sizes are shares of the finished width. Raises InputError where a tier can't be cut.
    """
    lines: list[str] = []
    for number, (step, advice) in enumerate(_advised(design, parameters, None), 1):
        rule = step.tier.rule
        lines.append(f"{number}. {rule.name}{_where(rule.side, rule.name)}")
        lines += [f"     {line}" for line in (*angle_lines(step), *wrap(advice, WIDE))]
    return lines


def _advised(
    design: Design, parameters: Mapping[str, float] | None, width_mm: float | None
) -> Iterator[tuple[Step, str]]:
    """Every step with what to do there. Sizes in mm for a stone of this width, or as shares of
    the width where it is None."""
    done: list[Step] = []
    size = partial(_size, width_mm)
    values = full_parameters(design, parameters or {})
    planned = {name: size(at) for name, at in values.items() if name in ("girdle", "table")}
    for step in sequence(design, parameters):
        yield step, " ".join(_advice(step, done, size, planned))
        done.append(step)


def _size(width_mm: float | None, share: float) -> str:
    return f"{share:.3f} of the width" if width_mm is None else f"{share * width_mm:.2f} mm"


def angle_lines(step: Step) -> list[str]:
    """The step's angles, the first facet's first, each with its settings."""
    rows = angle_groups(step.row)
    if rows[0][0] == 0.0:
        return ["0°, level"]
    return [f"{angle:.2f}° at {' '.join(map(str, settings))}" for angle, settings in rows]


def angle_groups(tier: Tier) -> list[tuple[float, tuple[int, ...]]]:
    """(angle in degrees, settings) for each angle of a tier, in the order of first occurrence."""
    groups: list[tuple[float, list[int]]] = []
    for setting, angle in zip(tier.settings, tier.angles_deg, strict=True):
        known = next((held for at, held in groups if abs(at - angle) <= SAME_ANGLE), None)
        if known is None:
            groups.append((angle, [setting]))
        else:
            known.append(setting)
    return [(angle, tuple(held)) for angle, held in groups]


def cutting_order(design: Design, parameters: Mapping[str, float], width_mm: float) -> list[Tier]:
    """Every step as a row of the cut sheet, the preform first, for a stone of this width."""
    return [
        replace(step.row, cut_to=advice) for step, advice in _advised(design, parameters, width_mm)
    ]


def widest_miss(design: Design, parameters: Mapping[str, float], step_deg: float) -> float:
    """How far, as a share of the width, a facet passes at most from the second place that it should
    reach, where all angles are set to the nearest ``step_deg`` and cut to the first."""
    tiers = cut(design, full_parameters(design, parameters), step_deg)
    misses = [
        np.abs(np.einsum("ij,ij->i", tier.normals, tier.spots[1]) - tier.distance).max()
        for tier in tiers
        if len(tier.spots) == 2 and not design.is_passing(tier.rule, tier.rule.touches[1])
    ]
    return float(max(misses, default=0.0))


def _where(side: str, name: str) -> str:
    return "" if side == "girdle" or side in name else f" ({side})"


def _advice(step: Step, done: list[Step], size: Size, planned: Mapping[str, str]) -> list[str]:
    """What to cut to, and what else the facets then reach; ``planned`` has the girdle's thickness
    and the table's width in words."""
    rule = step.tier.rule
    if not step.is_final:
        return [
            "Cut each until all run to one point on the axis, "
            f"{size(-step.spots[0][0, 2])} below mid-girdle.",
            "Where the piece ends before that point, leave this step out and cut the girdle by its "
            "distances from the axis. These facets only lead to the outline; later ones remove "
            "them.",
        ]
    if rule.side == "girdle":
        return [
            "Cut each down to the one level line at which it meets the preform, until the stone "
            f"has its width. Then its distance from the axis is {_distances(step, size)}.",
        ]
    turned = rule.side == "crown" and all(other.tier.rule.side != "crown" for other in done)
    over = [TURN_OVER] if turned else []
    if not step.spots:
        return [*over, f"Cut until the table is {planned['table']} wide, across the width."]
    places = [_place(step, k, done, size, planned) for k in range(len(step.spots))]
    first, *second = [place for place in places if place]
    return [*over, f"Cut to {first}.", *(f"Each then runs to {place}." for place in second)]


def _distances(step: Step, size: Size) -> str:
    """How far each of the girdle's facets lies from the axis."""
    groups: dict[str, list[str]] = {}
    for setting, offset in zip(step.row.settings, step.offsets.tolist(), strict=True):
        groups.setdefault(size(offset), []).append(str(setting))
    if len(groups) == 1:
        return next(iter(groups))
    return "; ".join(f"{distance} at {' '.join(held)}" for distance, held in groups.items())


def _place(step: Step, which: int, done: list[Step], size: Size, planned: Mapping[str, str]) -> str:
    """The place in words; nothing where it is a line that later facets cut away."""
    touch = step.tier.rule.touches[which]
    if step.passing[which] and touch.level == "table":
        return "" if which else "a level line that later facets cut away"
    if touch.kind == "slope" and (level := _level(step, which, done)) is not None:
        side = "above" if step.tier.rule.side == "crown" else "below"
        return f"a level line {size(level)} {side} the girdle line"
    is_first = all(other.tier.rule.side != "crown" for other in done)
    if (
        touch.kind in ("girdle line", "girdle corner")
        and step.tier.rule.side == "crown"
        and is_first
    ):
        edge = "along its girdle facet" if touch.kind == "girdle line" else "at the girdle's corner"
        return f"where the girdle is left {planned['girdle']} thick, {edge}"
    met = _meeting(step.spots[which][0], done)
    if touch.kind in ("ridge", "meet") and len(met) > 2:
        names = [name for name, _ in groupby(sorted(met))]
        return f"the point where {_listed(names)} meet"
    return _WORDS[touch.kind](touch)


def _level(step: Step, which: int, done: list[Step]) -> float | None:
    """How far from the girdle line a place lies, as a share of the width; None where the facets
    reach it at different levels, or the girdle is not cut yet."""
    levels = np.abs(step.spots[which][:, 2])
    lines = [
        np.abs(spot[:, 2])
        for other in done
        if other.is_final and other.tier.rule.side == step.tier.rule.side
        for touch, spot in zip(other.tier.rule.touches, other.spots, strict=True)
        if touch.kind in ("girdle line", "girdle corner")
    ]
    if np.ptp(levels) > MET or not lines:
        return None
    return float(levels[0] - lines[0][0])


def _meeting(spot: Floats, done: list[Step]) -> list[str]:
    """The tiers of the facets that run through a point, one entry for each facet."""
    return [
        step.tier.rule.name
        for step in done
        for distance in (step.normals @ spot - step.offsets).tolist()
        if abs(distance) <= MET
    ]


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _ridge(touch: TouchRule) -> str:
    tiers = f"{touch.tier} and {touch.other}" if touch.other else touch.tier
    return (
        f"the ridge between its two neighbours of {tiers}, {plain(touch.percent)} percent of the "
        "level way in from the girdle"
    )


_WORDS: Mapping[str, Callable[[TouchRule], str]] = {
    "girdle line": lambda _: "the girdle line, all along its girdle facet",
    "girdle corner": lambda _: "the girdle line's corner between two girdle facets",
    "centre point": lambda _: "the centre point, where all of them meet on the axis",
    "table corner": lambda _: "the corner that the table is going to have",
    "table edge": lambda _: "the table, along the edge between the two corners beside it",
    "ridge": _ridge,
    "meet": lambda touch: f"the point where {touch.tier} and {touch.other} meet",
    "slope": lambda touch: (
        f"a level line on the {touch.tier} facet at its own setting, {plain(touch.percent)} "
        "percent of the level way in"
    ),
}
