"""What a plan says of simple cuts between its stones agrees with its cuts: plans made by hand."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of

from optimizer.mesh import Plane
from optimizer.planning.simple_cuts import SimpleCuts, simple_cut_notes
from optimizer.rough.model import ReferenceFace
from optimizer.sawing.model import Piece, SawCut, SawPlan

X, Y, Z = np.eye(3)
SLANT = (X + Y + Z) / np.sqrt(3.0)
CUBE = shapes.box((2.0, 2.0, 2.0))
BARE = rough_of(CUBE)
WITH_FLAT = replace(BARE, reference_faces=(ReferenceFace("base", Plane(-Z, 1.0)),))
TAKEN = SimpleCuts("nothing", taken=True)


def sawn(*normals):
    """Stones cut one by one off the piece by cuts with these normals, then a cap off the last."""
    pieces, cuts = [Piece(0, None, None, CUBE)], []
    for number, normal in enumerate((*normals, SLANT)):
        below, above = 2 * number + 1, 2 * number + 2
        pieces += [Piece(below, number, "below", CUBE), Piece(above, number, "above", CUBE)]
        cuts.append(SawCut(2 * number, (below,), (above,), Plane(normal, 0.0), X, 0.4, 9.0, ""))
    homes = (*(2 * number + 1 for number in range(len(normals))), len(pieces) - 1)
    return SawPlan(tuple(pieces), tuple(cuts), (), homes)


@pytest.mark.parametrize(
    ("normals", "rough", "said"),
    [
        ((SLANT, X - Y), BARE, "to one another: that costs nothing."),  # the cap does not count
        ((X, SLANT), BARE, "to one another (except cut 2): that costs nothing."),
        ((X, Z), WITH_FLAT, "to the rough's flats or to one another: that costs nothing."),
        ((SLANT, Z), WITH_FLAT, "to one another (except cut 1): that costs nothing."),
    ],
)
def test_a_cut_at_another_angle_is_named(normals, rough, said):
    normals = [normal / np.linalg.norm(normal) for normal in normals]
    (note,) = simple_cut_notes(TAKEN, rough, sawn(*normals))
    assert note.startswith("So planned, the cuts between the stones square or parallel to")
    assert note.endswith(said)


def test_of_one_cut_without_flats_nothing_is_said():
    assert list(simple_cut_notes(TAKEN, BARE, sawn(X))) == []
    assert list(simple_cut_notes(None, BARE, sawn(X, Y))) == []


def test_the_price_of_simple_cuts_that_were_not_taken():
    (note,) = simple_cut_notes(SimpleCuts("0.31 ct"), BARE, sawn(X, SLANT))
    assert note == (
        "To have the cuts between the stones square or parallel to one another would cost 0.31 ct."
    )
    (note,) = simple_cut_notes(SimpleCuts(None), BARE, sawn(X, SLANT))
    assert note.endswith("square or parallel to one another, these stones don't fit.")
