"""The girdle's upright facets, and the polygon that they form."""

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from optimizer.design.curves import curve_of
from optimizer.design.model import Design, Outline, TierRule
from optimizer.design.outline import corners, edge_lengths, fitted
from optimizer.design.stone import CutTier, PartlyCutStone, azimuths
from optimizer.errors import InputError
from optimizer.mesh import Floats


def cut_girdle(design: Design, values: Mapping[str, float]) -> PartlyCutStone:
    """The stone with its girdle's tiers cut, in the file's order. Raises InputError."""
    rules = [rule for rule in design.rules if rule.side == "girdle"]
    names = [f"{rule.name} {setting}" for rule in rules for setting in rule.settings]
    theta = np.concatenate([azimuths(design, rule.settings) for rule in rules])
    order = np.argsort(theta)
    _check_round(design, theta[order])
    if any(rule.touches[0].kind == "outline" for rule in rules):
        distance = np.empty(len(theta))
        distance[order] = _on_curve(design, rules, theta[order], values["length_to_width"])
    else:
        distance = np.concatenate([_straight(design, rule, values) for rule in rules])
    outline = corners(theta[order], distance[order])
    lost = np.flatnonzero(edge_lengths(theta[order], outline) <= 0.0)
    if len(lost):
        raise InputError(
            f'{design.name}: facet "{names[order[lost[0]]]}" is lost: other facets cut it away'
        )
    ends = np.cumsum([len(rule.settings) for rule in rules])[:-1]
    parts = zip(rules, np.split(theta, ends), np.split(distance, ends), strict=True)
    tiers = tuple(CutTier(rule, np.full(len(at), np.pi / 2.0), at, far) for rule, at, far in parts)
    return PartlyCutStone(design, values, theta[order], outline, tiers)


def _check_round(design: Design, theta: Floats) -> None:
    turns = np.diff(theta, append=theta[0] + 2.0 * np.pi)
    if turns.min() < 1e-9:
        raise InputError(f"{design.name}: two girdle facets have one setting; leave one")
    if turns.max() > np.pi - 1e-9:
        raise InputError(f"{design.name}: the girdle's settings don't go all the way round")


def _on_curve(design: Design, rules: list[TierRule], theta: Floats, length: float) -> Floats:
    outline = design.outline
    if outline.shape == "straight":
        raise InputError(
            f'{design.name}: "the outline" needs a curve: [outline] can\'t be "straight"'
        )
    if any(rule.touches[0].kind != "outline" for rule in rules):
        raise InputError(f'{design.name}: cut every girdle tier to "the outline", or none')
    return _fitted(outline, tuple(theta.tolist()), length)


@lru_cache(maxsize=256)
def _fitted(outline: Outline, theta: tuple[float, ...], length: float) -> Floats:
    """Kept, since bodies that differ in other parameters have one girdle."""
    return fitted(curve_of(outline), np.array(theta), length, outline.axis)


def _straight(design: Design, rule: TierRule, values: Mapping[str, float]) -> Floats:
    """Distances (n,) of a tier's facets from the axis."""
    theta = azimuths(design, rule.settings)
    x, y = np.abs(np.cos(theta)), np.abs(np.sin(theta))
    ahead = np.where(np.cos(theta) > 0.0, 1.0 - design.outline.axis, design.outline.axis)
    reach = ahead * values["length_to_width"]  # of the end on the facet's own side
    match rule.touches[0].kind:
        case "width" if y.min() > 1.0 - 1e-12:
            return np.full(len(theta), 0.5)
        case "length" if x.min() > 1.0 - 1e-12:
            return np.asarray(reach, np.float64)
        case "tip" if x.min() > 0.1:
            return np.asarray(x * reach, np.float64)
        case "side point" if y.min() > 0.1:
            return np.asarray(y * 0.5, np.float64)
        case "corner share":
            return np.asarray(x * reach + y * (0.5 - values["corner"]), np.float64)
    raise InputError(
        f'{design.name}: tier "{rule.name}": {rule.cut_to} can\'t be reached from all of its '
        "settings; designs/README.md says which settings the sentence is for"
    )
