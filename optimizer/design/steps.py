"""A design's sequence in plain words, step by step."""

from collections.abc import Callable, Mapping
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


def step_lines(design: Design, parameters: Mapping[str, float] | None = None) -> list[str]:
    """Each step in a few lines: its angles and settings, what to cut to, what to look for.

    Sizes are shares of the finished width. Raises InputError where a tier can't be cut.
    """
    lines: list[str] = []
    done: list[Step] = []
    for number, step in enumerate(sequence(design, parameters), 1):
        rule = step.tier.rule
        lines.append(f"{number}. {rule.name}{_where(rule.side, rule.name)}")
        advice = wrap(" ".join(_advice(step, done)), WIDE)
        lines += [f"     {line}" for line in (*angle_lines(step), *advice)]
        done.append(step)
    return lines


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


def cutting_order(design: Design, parameters: Mapping[str, float] | None = None) -> list[Tier]:
    """Every step as a row of the cut sheet, the preform first."""
    return [step.row for step in sequence(design, parameters)]


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


def _advice(step: Step, done: list[Step]) -> list[str]:
    """What to cut to, and what else the facets then reach."""
    rule = step.tier.rule
    if not step.is_final:
        return [
            "Cut each until all run to one point on the axis, "
            f"{plain(-step.spots[0][0, 2], 3)} of the width below mid-girdle.",
            "These facets only lead to the outline; later ones remove them.",
        ]
    if rule.side == "girdle":
        return [
            "Cut each down to the one level line at which it meets the preform, until the stone "
            "has its width.",
        ]
    if not step.spots:
        return ["Cut until the table is as wide as it shall be."]
    first, *second = [_place(step, k, done) for k in range(len(step.spots))]
    return [f"Cut to {first}.", *(f"Each then runs to {place}." for place in second)]


def _place(step: Step, which: int, done: list[Step]) -> str:
    touch = step.tier.rule.touches[which]
    if step.passing[which] and touch.level == "table":
        return "a level line, which later facets cut away"
    is_first = all(other.tier.rule.side != "crown" for other in done)
    if (
        touch.kind in ("girdle line", "girdle corner")
        and step.tier.rule.side == "crown"
        and is_first
    ):
        edge = "along its girdle facet" if touch.kind == "girdle line" else "at the girdle's corner"
        return f"where the girdle is left as thick as it shall be, {edge}"
    met = _meeting(step.spots[which][0], done)
    if touch.kind in ("ridge", "meet") and len(met) > 2:
        names = [name for name, _ in groupby(sorted(met))]
        return f"the point where {_listed(names)} meet"
    return _WORDS[touch.kind](touch)


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
