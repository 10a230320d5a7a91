"""The virtual cutter: cuts a design out of a block, tier by tier, and says what goes wrong."""

from collections.abc import Iterator, Mapping

import numpy as np

from optimizer.design.clipping import Facetted, block, clipped, tidied
from optimizer.design.finish import broken_promises, finish_faults, gathered
from optimizer.design.model import Design, TouchRule
from optimizer.design.sequence import Step, sequence
from optimizer.mesh import Floats

NEAR = 5e-4  # of the width: 5 µm on a stone of 10 mm; what lies nearer than this meets to the eye
# How many of the facets cut so far run through a place, so that the eye finds it on the stone. The
# table's corners and edges, and the centre point, may still lie within: the stone is cut to them.
MARKED_BY = {"girdle line": 1, "girdle corner": 2, "slope": 1, "ridge": 2, "meet": 3}


def cutting_faults(design: Design, parameters: Mapping[str, float] | None = None) -> list[str]:
    """What a person would find wrong on the way or in the end, a sentence each; [] if nothing.

    Before each tier, the places that it is cut to must be on the stone. While it is cut, each of
    its facets must find something to cut. For the end, see ``finish_faults``; where something went
    wrong on the way, only what the file promises of the end is told as well, since faults of shape
    would follow from it. Raises InputError where a parameter is out of range, or where a tier's
    planes can't be found at all.
    """
    steps = sequence(design, parameters)
    faults: list[tuple[str, str]] = []
    solid = Facetted(np.zeros((0, 3)), {})
    planes = np.zeros((0, 4))
    for step, solid in cuts(steps):
        faults += _missing_places(step, planes)
        planes = np.vstack([planes, np.column_stack([step.normals, step.offsets])])
        faults += [
            (name, "the other facets leave nothing for it to cut")
            for name in step.names
            if name not in solid.faces
        ]
    if faults:
        return [*gathered(faults), *broken_promises(design, steps, solid)]
    return finish_faults(design, steps, solid)


def cuts(steps: tuple[Step, ...]) -> Iterator[tuple[Step, Facetted]]:
    """Each step with the stone as it stands after it; the first is cut into a block."""
    solid = block(4.0 * max(float(step.offsets.max()) for step in steps))
    for step in steps:
        for name, normal, offset in zip(step.names, step.normals, step.offsets, strict=True):
            solid = clipped(solid, name, normal, float(offset))
        solid = tidied(solid)
        yield step, solid


def _missing_places(step: Step, planes: Floats) -> Iterator[tuple[str, str]]:
    """The facets whose places aren't on the stone when the step begins, cut by ``planes`` (m, 4) so
    far; each with what is wrong."""
    for touch, spots in zip(step.tier.rule.touches, step.spots, strict=False):
        for name, spot in zip(step.names, spots, strict=True):
            beyond = planes[:, :3] @ spot - planes[:, 3]
            if beyond.max(initial=-1.0) > NEAR:
                yield name, f"{words(touch)} is cut away before its turn comes"
            elif (np.abs(beyond) <= NEAR).sum() < MARKED_BY.get(touch.kind, 0):
                yield name, f"{words(touch)} is not on the stone when its turn comes"


def words(touch: TouchRule) -> str:
    """The place, as the design's file names it."""
    if touch.kind == "meet":
        return f"the meet of {touch.tier} and {touch.other}"
    if touch.tier:
        return f"its place on the {touch.kind} of {touch.tier}"
    return f"the {touch.kind}"
