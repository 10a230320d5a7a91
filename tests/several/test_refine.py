"""Joint refinement against closed forms, plain checks and its own promises."""

import numpy as np
import pytest
import shapes
from divisions import (
    BESIDE,
    SKIN,
    in_order,
    laid,
    offer_of,
    row,
    shaken,
    site_of,
    widths,
)
from solids import body_of

from optimizer.mesh import Plane
from optimizer.placement.search import QUIET
from optimizer.several.refine import refine

CUBE = body_of(shapes.box((1.0, 1.0, 1.0)))
EDGE = 5.0


def cubes_in_a_row(count, low=0.1):
    """A box that holds exactly so many cubes of EDGE beside one another, and these, each a little
    smaller."""
    step = EDGE + 2.0 * BESIDE
    length = count * step - 2.0 * BESIDE
    mesh = shapes.box((length + 2.0 * SKIN, EDGE + 2.0 * SKIN, EDGE + 2.0 * SKIN))
    offer, left = offer_of(CUBE, low), -length / 2.0
    stones = [laid(offer, 0.8 * EDGE, (left + k * step + EDGE / 2.0, 0, 0)) for k in range(count)]
    across = np.array([1.0, 0.0, 0.0])
    cuts = [Plane(across, left + (k + 1) * step - BESIDE) for k in range(count - 1)]
    return mesh, site_of(mesh, offer), row(stones, cuts)


@pytest.mark.parametrize(("count", "seed"), [(2, 0), (3, 1), (4, 2)])
def test_cubes_fill_the_box_that_is_made_for_them(count, seed):
    mesh, site, division = cubes_in_a_row(count)
    refined = refine(site, shaken(division, seed, 0.3, 0.06), effort="thorough", watch=QUIET)
    assert widths(refined) == pytest.approx([EDGE] * count, abs=1e-6)
    in_order(site, mesh, refined)


def test_cubes_that_are_asked_a_hair_larger_do_not_fit():
    _, site, division = cubes_in_a_row(3, low=1.0001 * EDGE)
    assert refine(site, shaken(division, 0, 0.3, 0.06), effort="normal", watch=QUIET) is None


def test_cubes_of_exactly_the_size_asked_find_their_places():
    mesh, site, division = cubes_in_a_row(3, low=EDGE)
    refined = refine(site, shaken(division, 0, 0.3, 0.06), effort="thorough", watch=QUIET)
    assert widths(refined) == pytest.approx([EDGE] * 3, abs=1e-6)
    in_order(site, mesh, refined)
