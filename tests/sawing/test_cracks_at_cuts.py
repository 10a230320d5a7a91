"""Warnings where a saw cut meets a crack, by plane geometry in closed form."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of, sequential_saw_plan

from optimizer.mesh import Plane
from optimizer.order import Workshop
from optimizer.rough.model import Flaw
from optimizer.sawing.flaws import cracks_at_cuts

X, Z = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
ROUGH = rough_of(shapes.box((20.0, 10.0, 8.0)))
CUTS = sequential_saw_plan(ROUGH, (Plane(X, 5.0), Plane(Z, 2.0)), kerf_mm=0.4)
SHOP = Workshop(kerf_mm=0.4, saw_error_mm=0.3)


def crack(x, normal=X, across=2.0, z=0.0):
    return Flaw("feather", np.array([[x, 0.0, z]]), normal, across, 0.0, 0.2)


def warned(*flaws):
    return cracks_at_cuts(replace(ROUGH, flaws=flaws), CUTS, SHOP)


@pytest.mark.parametrize(
    ("x", "said"),
    [
        (5.0, "Cut 1 runs through the crack"),
        (5.19, "Cut 1 runs through the crack"),  # within the kerf
        (4.6, 'Cut 1 passes 0.18 mm beside the crack "feather", within the saw\'s error'),
        (4.4, None),
    ],
)
def test_a_crack_along_a_cut(x, said):
    """The kerf takes 4.8 to 5.2; the saw's error of 0.3 more; a crack counts 0.02 on each side."""
    told = warned(crack(x))
    assert len(told) == (said is not None)
    assert said is None or told[0].startswith(said)


def test_a_crack_across_a_cut_counts_where_the_piece_still_is():
    assert len(warned(crack(0.0, Z, np.inf, 2.0))) == 2  # cut 1 crosses it, cut 2 runs along it
    # Cut 2 goes through what cut 1 left below x = 4.8: it does not meet a crack beyond.
    assert warned(crack(8.0, X, 2.0, 2.0)) == ()
    (one,) = warned(crack(2.0, X, 2.0, 2.0))
    assert one.startswith('Cut 2 runs through the crack "feather": the piece may split')


def test_a_mesh_may_hold_a_crack_and_a_bubble_does_not():
    cube = shapes.moved(shapes.box((1.0, 1.0, 1.0)), np.eye(3), np.array([5.0, 0.0, -2.0]))
    cloud = Flaw("cloud", np.array([[5.0, 0.0, -2.0]]), None, 0.0, 0.0, 0.2, cube, "cloud.ply")
    (one,) = warned(cloud)
    assert one.startswith('Cut 1 runs through the flaw "cloud": if it holds a crack, the piece')
    assert warned(Flaw("bubble", np.array([[5.0, 0.0, 0.0]]), None, 0.0, 1.0, 0.2)) == ()
    assert warned() == ()
