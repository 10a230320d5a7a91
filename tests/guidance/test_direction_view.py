"""How the crystal lies in the stone, by closed forms."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from placed_stones import box_body, placement_of, rough_of

from optimizer.guidance.direction import view_direction
from optimizer.placement.rotations import turn
from optimizer.trade.materials import load_material

SEEDS = st.integers(0, 10_000)
ROUGH = rough_of(shapes.box((20.0, 20.0, 20.0)))
BLOCK = box_body()


def test_nothing_is_said_of_a_piece_whose_directions_are_not_known():
    assert view_direction(ROUGH, placement_of(BLOCK, 5.0)) is None


@given(SEEDS, st.floats(0.0, 90.0), st.booleans())
def test_an_axis_leant_by_hand_has_that_angle(seed, lean, other_way):
    """In the stone's frame the axis rises by ``lean`` out of the table's plane."""
    rotation = shapes.random_rotation(np.random.default_rng(seed))
    rise = np.radians(lean)
    axis = rotation @ np.array([0.8 * np.cos(rise), -0.6 * np.cos(rise), np.sin(rise)])
    rough = replace(ROUGH, growth_axis=-axis if other_way else axis)
    view = view_direction(rough, placement_of(BLOCK, 5.0, turn=rotation))
    assert view.axes_deg == (("growth axis", pytest.approx(lean, abs=1e-9)),)
    assert (view.cleavage_deg, view.cleavage_facet) == (None, None)


def test_the_facet_nearest_to_cleavage_is_named():
    """A box turned by 8 degrees about x: the facet along z then lies 8 off a plane square to z."""
    rotation = turn(np.array([np.radians(8.0), 0.0, 0.0]))
    topaz = replace(ROUGH, material=load_material("topaz"), optic_axis=np.array([0.0, 0.0, 1.0]))
    view = view_direction(topaz, placement_of(BLOCK, 5.0, turn=rotation))
    assert view.axes_deg == (("optic axis", pytest.approx(82.0)),)
    assert view.cleavage_deg == pytest.approx(8.0)
    named = BLOCK.facet_names.index(view.cleavage_facet)
    assert abs(BLOCK.normals[named] @ [0.0, 0.0, 1.0]) == pytest.approx(1.0)
