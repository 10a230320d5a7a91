"""Flaws left in the stone: which, where, and what is warned of; closed forms in the stone frame."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import sound_plan

from optimizer.guidance.flaws import flaw_warnings, flaws_within
from optimizer.rough.model import Flaw

PLAN = sound_plan()
STONE = PLAN.stones[0].placement
TOP = float(STONE.body.vertices_at(STONE.pose.width)[:, 2].max())


def at(x, y, z):
    return STONE.pose.to_scan(np.array([[x, y, z]], float))


def views(*flaws):
    return flaws_within(replace(PLAN.rough, flaws=flaws), STONE)


def bubble(place, radius=0.2, **changes):
    return replace(Flaw("bubble", place, None, 0.0, radius, 0.2, off_table=True), **changes)


def test_a_bubble_in_the_stone_is_seen_from_the_stone():
    (view,) = views(bubble(at(1.5, 2.0, -0.5)))
    assert view.below_table_mm == pytest.approx(TOP + 0.5 - 0.2, abs=0.01)
    assert view.off_axis_mm == pytest.approx(2.5, abs=1e-9)
    assert view.azimuth_deg == pytest.approx(np.degrees(np.arctan2(2.0, 1.5)), abs=1e-6)
    assert (view.flaw, view.crack, view.reaches_surface) == ("bubble", False, False)
    assert flaw_warnings([view]) == ()


def test_on_the_axis_it_lies_no_particular_way():
    (view,) = views(bubble(at(0.0, 0.0, 0.0)))
    assert view.off_axis_mm == pytest.approx(0.0, abs=1e-9)
    assert view.azimuth_deg is None


def test_what_lies_outside_or_is_allowed_nowhere_is_not_told():
    assert views(bubble(at(0.0, 0.0, TOP + 0.3))) == ()
    assert views(bubble(at(0.0, 0.0, 0.0), off_table=False)) == ()


def test_half_out_of_the_table_it_comes_to_the_surface():
    (view,) = views(bubble(at(0.5, 0.0, TOP), radius=0.4))
    assert view.below_table_mm == pytest.approx(0.0, abs=1e-9)
    assert view.off_axis_mm == pytest.approx(0.5, abs=1e-3)  # a ball of 24 sides is cut
    assert view.reaches_surface
    (warning,) = flaw_warnings([view])
    assert warning.startswith('The flaw "bubble" comes to the stone\'s surface and may leave a pit')


def test_cracks_are_warned_of_within_and_at_the_surface():
    sheet = bubble(at(0.0, 0.0, 0.0), 0.0, normal=STONE.pose.rotation[:, 0], across_mm=0.5)
    through = replace(sheet, across_mm=np.inf)
    within, open_ = views(sheet, through)
    assert (within.crack, within.reaches_surface) == (True, False)
    assert (open_.crack, open_.reaches_surface) == (True, True)
    assert open_.below_table_mm == pytest.approx(0.0, abs=1e-6)
    inside, surface = flaw_warnings([within, open_])
    assert inside.startswith('The crack "bubble" lies within the stone: the stone may split there')
    assert surface.startswith('The crack "bubble" comes to the stone\'s surface: the stone may')


def test_a_mesh_is_seen_as_it_is():
    cube = shapes.moved(shapes.box((0.4, 0.4, 0.4)), STONE.pose.rotation, at(0.0, -1.0, 0.2)[0])
    (view,) = views(bubble(at(0.0, -1.0, 0.2), 0.0, mesh=cube, file="cube.ply"))
    assert view.below_table_mm == pytest.approx(TOP - 0.4, abs=1e-9)
    assert view.off_axis_mm == pytest.approx(1.0, abs=1e-9)
    assert view.azimuth_deg == pytest.approx(-90.0, abs=1e-6)
    assert not view.crack
