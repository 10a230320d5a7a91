"""What the finished stone of a design must be like."""

from collections.abc import Iterable, Iterator

import numpy as np

from optimizer.design.body import rotation_group
from optimizer.design.clipping import Facetted, edges
from optimizer.design.model import Design
from optimizer.design.sequence import Step
from optimizer.mesh import Floats
from optimizer.wording.plain_number import plain

NEAR = 5e-4  # of the width: what lies nearer than this meets to the eye
SHORTEST = 0.005  # of the width: a shorter edge shows as a sliver at what should be a meet
EVEN = 0.005  # of the width: how far the girdle's lines may be out of level
# Where a keel may shrink to a point, edges are not held to SHORTEST this near to it.
AT_KEEL = 0.1
# How many facets run through a place of the finished stone: a point, else a place along an edge.
POINTS = ("girdle corner", "ridge", "meet", "centre point", "table corner")
AGREE = 1e-9  # how far mirrored planes may differ, at width 1


def finish_faults(design: Design, steps: tuple[Step, ...], solid: Facetted) -> list[str]:
    """What is wrong with the finished stone, a sentence each; [] if nothing.

    No facet is lost, none is so narrow that its edge shows as a sliver; facets go through every
    place they are cut to; the girdle is level and even; symmetry and bottom are as promised.
    """
    if _is_open(solid):
        return ["the facets enclose no stone; one side stays open"]
    shape = gathered(_lost(steps, solid)) or [
        *_slivers(design, solid),
        *gathered(_missed(steps)),
        *gathered(_uneven(steps, solid)),
    ]
    return [*shape, *broken_promises(design, steps, solid)]


def _is_open(solid: Facetted) -> bool:
    return any(name.startswith("block") for name in solid.faces)


def gathered(faults: Iterable[tuple[str, str]]) -> list[str]:
    """Facets with what is wrong, as a sentence for each thing that is wrong."""
    names: dict[str, list[str]] = {}
    for name, fault in faults:
        names.setdefault(fault, []).append(name)
    return [
        f'facet "{first}"{f" and {len(more)} more" if more else ""}: {fault}'
        for fault, (first, *more) in names.items()
    ]


def _lost(steps: tuple[Step, ...], solid: Facetted) -> Iterator[tuple[str, str]]:
    for step in steps:
        for name in step.names:
            if step.is_final and name not in solid.faces:
                yield name, "later facets cut it away"
            if not step.is_final and name in solid.faces:
                yield name, "the tiers of the pavilion leave some of the preform"


def _slivers(design: Design, solid: Facetted) -> Iterator[str]:
    may_shrink = design.promise.bottom == "keel or point"
    bottom = solid.corners[np.argmin(solid.corners[:, 2])]
    for one, other, length, middle in edges(solid):
        if may_shrink and float(np.linalg.norm(middle - bottom)) < AT_KEEL:
            continue
        if length < SHORTEST:
            yield (
                f'facets "{one}" and "{other}" share an edge of {plain(100.0 * length, 2)} percent '
                "of the width: too short to be meant, too long to be a point"
            )


def _missed(steps: tuple[Step, ...]) -> Iterator[tuple[str, str]]:
    final = [step for step in steps if step.is_final]
    normals = np.concatenate([step.normals for step in final])
    offsets = np.concatenate([step.offsets for step in final])
    for step in final:
        for touch, spots, passes in zip(
            step.tier.rule.touches, step.spots, step.passing, strict=False
        ):
            if passes:
                continue
            beyond = spots @ normals.T - offsets
            through = (np.abs(beyond) <= NEAR).sum(axis=1)
            needed = 3 if touch.kind in POINTS else 2
            for name, far, count in zip(step.names, beyond.max(axis=1), through, strict=True):
                if far > NEAR:
                    yield name, f"later facets cut away the {touch.kind} it is cut to"
                elif count < needed:
                    yield name, f"the {touch.kind} it is cut to is no meet in the end"


def _uneven(steps: tuple[Step, ...], solid: Facetted) -> Iterator[tuple[str, str]]:
    names = [name for step in steps if step.tier.rule.side == "girdle" for name in step.names]
    heights = {name: np.abs(solid.corners[list(solid.faces[name]), 2]) for name in names}
    usual = float(np.median(np.concatenate(list(heights.values()))))
    for name, height in heights.items():
        if np.abs(height - usual).max() > EVEN:
            yield name, "the girdle is not level and even here"


def broken_promises(design: Design, steps: tuple[Step, ...], solid: Facetted) -> Iterator[str]:
    """What [finished] promises and the stone is not, a sentence each; none of an open stone."""
    if _is_open(solid):
        return
    promise = design.promise
    final = [step for step in steps if step.is_final]
    normals = np.concatenate([step.normals for step in final])
    offsets = np.concatenate([step.offsets for step in final])
    turns = len(rotation_group(normals, offsets, design.gear))
    if turns % promise.turns:
        yield (
            f"the stone looks the same in {turns} position{'s' * (turns > 1)} about its axis, not "
            f"in the {promise.turns} that [finished] promises"
        )
    planes = np.column_stack([normals, offsets])
    if promise.mirror and not _is_mirrored(planes):
        yield "the stone's two sides along its length don't mirror each other"
    found = _bottom(solid)
    if promise.bottom is not None and found not in promise.bottom.split(" or "):
        yield f"the stone ends below in a {found} place, not in the {promise.bottom} promised"


def _is_mirrored(planes: Floats) -> bool:
    apart = np.abs(planes[:, None] - planes[None] * [1.0, -1.0, 1.0, 1.0]).max(axis=2)
    return bool((apart.min(axis=1) < AGREE).all())


def _bottom(solid: Facetted) -> str:
    """What the lowest place is: "point", "keel" or "flat"."""
    low = solid.corners[:, 2].min()
    count = int((solid.corners[:, 2] < low + NEAR).sum())
    return "point" if count == 1 else "keel" if count == 2 else "flat"
