"""Upper bounds on the worth of several stones from what they share: the piece's volume, and the
area of a section through it, each stone with its half of every kerf."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.offers.bound import VolumeBound
from optimizer.placement.containers import Planes
from optimizer.rough.model import Rough
from optimizer.several.best_choice import best_worths
from optimizer.several.dilated import ConvexMeasures, DilatedBody, corners_within
from optimizer.several.instance import Instance
from optimizer.several.least_width import no_thicker
from optimizer.several.model import allowance_mm
from optimizer.several.section_room import SectionRoom
from optimizer.several.sections import Measure, least_take, may_miss, reference
from optimizer.several.shared_volume import volume_takes
from optimizer.several.stone_kinds import SizeClass, StoneKind, classes_of, kinds_of

MOST_PLANES = 400  # of the hull: between so many, a ball is larger by half a percent
CLASSES, LEAST_CLASSES = 400, 150  # of sizes, over all kinds; a kind has so many at least
SECTION_CLASSES = 8  # for sections: each takes a search over directions
NARROW = 1.01  # ratio of sizes up to which a class is not halved
TOLERANCE_MM = 1e-5  # by which stones may come nearer to a cut than they should
BY_THICKNESS = (
    "each stone counts as the largest that the thickness of the piece lets in, and the order "
    "allows no more stones than were counted"
)
BY_VOLUME = "the stones and the kerfs beside them can't take up more room than the piece has"
BY_SECTION = (
    "the stones and the kerfs beside them can't take up more of a section through the piece than "
    "its area"
)
BY_BOTH = f"{BY_VOLUME}; and {BY_SECTION}"


@dataclass(frozen=True)
class SharedBound:
    """The most worth of 0, 1, ... stones together, (most + 1,); −infinity where so many can't be
    had; and the argument that proves it."""

    worths: Floats
    because: str


def shared_bounds(
    instance: Instance, rough: Rough, most: int, singles: Sequence[Sequence[VolumeBound]]
) -> list[SharedBound]:
    """Bounds by what the stones share. ``singles`` bound one stone of each offer."""
    room = _room(instance)
    section = None if room is None else SectionRoom.thinnest(room, _clearance(instance))
    if room is None or section is None:
        return []
    kinds = [no_thicker(kind, section.height) for kind in kinds_of(instance, singles)]
    kinds = [kind for kind in kinds if kind.low <= kind.high]
    if not kinds:
        return []
    fine = classes_of(kinds, instance, max(CLASSES // len(kinds), LEAST_CLASSES))
    found = [SharedBound(_best(instance, fine, np.zeros(len(fine)), most), BY_THICKNESS)]
    found += [
        SharedBound(_best(instance, fine, takes, most), BY_VOLUME)
        for takes in _by_volume(instance, rough, room, fine)
    ]
    if len(kinds) > SECTION_CLASSES:
        return found
    for classes, by_section in _by_section(instance, section, kinds):
        by_volume = _by_volume(instance, rough, room, classes)[0]
        both = 0.5 * (by_section + by_volume)
        for takes, because in ((by_section, BY_SECTION), (both, BY_BOTH)):
            if takes.min() >= 0.0:
                found.append(SharedBound(_best(instance, classes, takes, most), because))
    return found


def _clearance(instance: Instance) -> float:
    return max(allowance_mm(instance.workshop) - TOLERANCE_MM, 0.0)


def _room(instance: Instance) -> Planes | None:
    """The piece's hull less the least skin of all wishes; None where nothing is left."""
    ground, skin = (
        instance.ground,
        min(offer.want.skin_mm for wish in instance.wishes for offer in wish.offers),
    )
    which = ground.hull.far_apart(MOST_PLANES)
    room = Planes(ground.hull.normals[which], ground.hull.offsets[which] - skin)
    return None if corners_within(room) is None else room


def _by_volume(
    instance: Instance, rough: Rough, room: Planes, classes: Sequence[SizeClass]
) -> list[Floats]:
    """Shares that the classes take of the volume: in the hull, and, where the piece has hollows,
    in the piece itself."""
    clearance = _clearance(instance)
    corners = corners_within(room)
    assert corners is not None
    whole = ConvexMeasures.of(corners).dilated(clearance)
    takes = [volume_takes(classes, clearance) / whole]
    if not instance.ground.convex:
        skin = min(offer.want.skin_mm for wish in instance.wishes for offer in wish.offers)
        near = min(clearance, max(skin - TOLERANCE_MM, 0.0))
        takes.append(volume_takes(classes, near) / rough.volume_mm3)
    return takes


def _by_section(
    instance: Instance, room: SectionRoom, kinds: Sequence[StoneKind]
) -> Iterator[tuple[list[SizeClass], Floats]]:
    """Classes, and what shares they take of the section half-way up, by several measures. None
    where a stone may miss that section."""
    clearance = _clearance(instance)

    def body(kind: StoneKind, size: float) -> DilatedBody:
        return DilatedBody.of(kind.corners_at(size), clearance)

    if any(may_miss(body(kind, kind.low), room) for kind in kinds):
        return
    classes = classes_of(kinds, instance, 1)
    largest = max(classes, key=lambda one: one.worth)
    for measure in reference(body(largest.kind, largest.high), room):
        whole = measure.whole(room)
        if whole <= 0.0:
            continue

        def share(one: SizeClass, measure: Measure = measure, whole: float = whole) -> float:
            inner = body(one.kind, one.low)
            return least_take(inner, one.kind.symmetry, room, measure) / whole

        classes, shares = _refined(instance, classes, [share(one) for one in classes], share)
        yield classes, np.array(shares)


def _refined(
    instance: Instance,
    classes: list[SizeClass],
    shares: list[float],
    share: Callable[[SizeClass], float],
) -> tuple[list[SizeClass], list[float]]:
    """The classes, of which those with most worth for their share are halved by size, until there
    are SECTION_CLASSES or none is wide, with their shares."""
    classes, shares = list(classes), list(shares)
    while len(classes) < SECTION_CLASSES:
        k = max(range(len(classes)), key=lambda i: classes[i].worth / max(shares[i], 1e-9))
        if classes[k].high <= classes[k].low * NARROW:
            break
        lower, upper = classes[k].halves(instance)
        classes[k : k + 1] = [lower, upper]
        shares.insert(k + 1, share(upper))
    return classes, shares


def _best(instance: Instance, classes: Sequence[SizeClass], takes: Floats, most: int) -> Floats:
    wishes = np.array([one.kind.wish for one in classes])
    worths = np.array([one.worth for one in classes])
    counts = [wish.most for wish in instance.wishes]
    return best_worths(wishes, worths, takes, counts, most)
