"""A design as the sequence of cuts that a person makes, in the stone frame at width 1."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from optimizer.design.body import facet_name, full_parameters, row
from optimizer.design.cutting import cut
from optimizer.design.intersect import raw_corners
from optimizer.design.model import Design, Tier
from optimizer.design.preform import preform
from optimizer.design.stone import CutTier
from optimizer.mesh import Floats


@dataclass(frozen=True)
class Step:
    """One tier as it is cut: n facets, one after another."""

    tier: CutTier
    names: tuple[str, ...]  # of the facets
    normals: Floats  # (n, 3) outward, unit length
    offsets: Floats  # (n,) from the origin
    spots: tuple[Floats, ...]  # (n, 3) for each sentence: the places that the facets touch
    passing: tuple[bool, ...]  # for each sentence: whether a later tier fixes its level anew
    is_final: bool  # false for the preform, which later tiers remove

    @property
    def row(self) -> Tier:
        """The step as a row of the cut sheet: the girdle is cut to a line that is on the stone."""
        tier = row(self.tier)
        line = "the level line of the preform, and the stone's width"
        return replace(tier, cut_to=line) if tier.side == "girdle" else tier


def sequence(design: Design, parameters: Mapping[str, float] | None = None) -> tuple[Step, ...]:
    """The preform, the girdle, then all other tiers in the file's order.

    Raises InputError where a parameter is unknown or out of range, or a tier can't be cut.
    """
    values = full_parameters(design, parameters or {})
    half = values["girdle"] / 2.0
    tiers = cut(design, values)
    girdle = [tier for tier in tiers if tier.rule.side == "girdle"]
    others = [tier for tier in tiers if tier.rule.side != "girdle"]
    steps = [_step(design, tier, half) for tier in (*girdle, *others)]
    normals = np.concatenate([step.normals for step in steps])
    corners = raw_corners(normals, np.concatenate([step.offsets for step in steps]))
    below = corners[corners[:, 2] < -half]
    first = preform(girdle, below * [1.0, 1.0, -1.0] - [0.0, 0.0, half], design)
    return (_step(design, first, half), *steps)


def _step(design: Design, tier: CutTier, half: float) -> Step:
    """The tier in the stone frame, moved away from mid-girdle by half of the band."""
    is_final = tier.rule in design.rules
    up = -1.0 if tier.rule.side == "pavilion" else 1.0
    moved = half if tier.rule.side != "girdle" else 0.0
    normals = tier.normals * [1.0, 1.0, up]
    rise = np.array([0.0, 0.0, moved])
    angles = tier.angles.tolist()
    names = zip(tier.rule.settings, angles, strict=True)
    return Step(
        tier=tier,
        names=tuple(facet_name(tier.rule.name, setting, angle) for setting, angle in names),
        normals=normals,
        offsets=tier.distance + moved * np.abs(normals[:, 2]),
        spots=tuple((spot + rise) * [1.0, 1.0, up] for spot in tier.spots),
        passing=tuple(is_final and design.is_passing(tier.rule, t) for t in tier.rule.touches),
        is_final=is_final,
    )
