"""How many bricks a bar gives, and hexagonal prisms a slab, against their lengths.

By calculation, no source: k stones in a row, k - 1 cuts between them and the skin at both ends
take k·stone + (k - 1)·2·allowance + 2·skin. A bar is only a hair wider and deeper than one brick,
so that no stone lies across; tilted ones take more length, not less. A hexagon of width w across
its flats is 2w/√3 across its corners. It is nowhere narrower than w, and a row as high as its
corners has too little room for shifts that would let the next one come nearer.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from divisions import BESIDE, SKIN, assert_feasible, instance_of, offer_of
from placed_stones import rough_of
from solids import body_of

from optimizer.placement.search import QUIET
from optimizer.rough.flats.find import with_flats
from optimizer.several.divide import divide
from optimizer.several.hull_distance import hull_distance
from optimizer.several.instance import Search
from optimizer.several.separation import separate

BRICK = body_of(shapes.box((1.25, 1.0, 0.75)))
WIDTH = 4.0
LENGTH, DEPTH = 1.25 * WIDTH, 0.75 * WIDTH
GAP = 2.0 * BESIDE
HAIR = 0.01

FLATS, CORNERS, HEIGHT = WIDTH, 2.0 * WIDTH / np.sqrt(3.0), 0.5 * WIDTH


def hexagon():
    """The prism 1 wide across its flats, along x, and half as high."""
    turns = np.radians(np.arange(30, 390, 60))
    around = np.column_stack([np.cos(turns), np.sin(turns)]) / np.sqrt(3.0)
    return shapes.hull(np.array([[x, y, z] for x, y in around for z in (-0.25, 0.25)]))


PRISM = body_of(hexagon())


def row(count, stone):
    """The length of ``count`` stones side by side, the skin left out."""
    return count * stone + (count - 1) * GAP


def divided(body, room, least, most, turn=None):
    """A box, turned where asked, in which stones and cuts have so much room, sawn into as many
    stones as found, ``most`` being sought."""
    mesh = shapes.box(tuple(mm + 2.0 * SKIN for mm in room))
    if turn is not None:
        mesh = shapes.moved(mesh, turn, np.array([3.0, -20.0, 7.0]))
    instance = instance_of(mesh, offer_of(body, WIDTH, WIDTH))
    instance = replace(instance, wishes=(replace(instance.wishes[0], least=least),))
    rough = with_flats(rough_of(mesh))
    found = divide(Search(rough, instance, most=most, effort="quick", seed=0, watch=QUIET))
    if found is not None:
        assert_feasible(instance, mesh, found.best)
    return found


def bar(count, share, least=0):
    """``share`` of the whole length, the skin with it, that ``count`` bricks take."""
    length = share * (row(count, LENGTH) + 2.0 * SKIN) - 2.0 * SKIN
    return divided(BRICK, (length, WIDTH + HAIR, DEPTH + HAIR), least, most=count)


def test_a_bar_longer_by_a_thousandth_gives_all():
    assert len(bar(4, 1.001, least=4).best.stones) == 4


def test_a_bar_shorter_by_a_thousandth_gives_one_less():
    assert len(bar(2, 0.999).best.stones) == 1


def test_a_demand_that_a_bar_is_too_short_for_is_not_met():
    assert bar(3, 0.999, least=3) is None


@pytest.mark.parametrize(
    ("stone", "across", "share", "count"),
    [(FLATS, CORNERS, 1.001, 3), (CORNERS, FLATS, 1.001, 3), (CORNERS, FLATS, 0.999, 2)],
    ids=["flats", "corners", "too short for corners"],
)
def test_hexagons_lie_flat_to_flat_or_corner_to_corner(stone, across, share, count):
    found = divided(PRISM, (share * row(3, stone), across + HAIR, HEIGHT + HAIR), least=0, most=3)
    assert len(found.best.stones) == count


def test_hexagons_from_a_slab_are_sawn_in_rows_however_it_lies():
    room = 1.001 * row(3, FLATS), 1.001 * row(2, CORNERS), HEIGHT + HAIR
    turn = shapes.random_rotation(np.random.default_rng(6))
    assert len(divided(PRISM, room, least=0, most=6, turn=turn).best.stones) == 6


@pytest.mark.parametrize("wider", [True, False])
def test_three_hexagons_of_a_honeycomb_lie_far_apart_before_a_cut_parts_them(wider):
    """Two side by side, the third over the notch between them: its corner lies
    √3/2·(w + gap) - 2w/√3 above the line of theirs, and a cut takes GAP of that."""
    gap = (GAP + FLATS * (2.0 / np.sqrt(3.0) - np.sqrt(0.75))) / np.sqrt(0.75)
    pitch = FLATS + gap * (1.001 if wider else 0.999)
    places = np.array([[0, 0, 0], [1, 0, 0], [0.5, np.sqrt(0.75), 0]]) * pitch
    stones = [WIDTH * hexagon().vertices + place for place in places]
    assert hull_distance(stones[0], stones[1]).mm > GAP
    parted = separate(stones, GAP)
    assert (parted.cut_tree is not None) == wider
    assert parted.proved != wider
