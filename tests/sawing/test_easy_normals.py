"""Where a cut may run between two groups, and which ways are easy to set up: closed forms."""

import numpy as np
import pytest
import shapes

from optimizer.mesh import Plane
from optimizer.rough.model import ReferenceFace
from optimizer.sawing.easy_normals import reference_normals, run_of
from optimizer.sawing.gap import planes_between, without_twins
from optimizer.sawing.model import SawCut

X, Y, Z = np.eye(3)
TOLD = Plane.through(np.zeros(3), X + 0.01 * Y)


def box(centre, size=(2.0, 2.0, 2.0)):
    return shapes.box(size).vertices + np.asarray(centre, float)


def places(below, above, preferred=(), spare=100.0):
    told = (TOLD.normal, "at a free angle")
    return list(planes_between(below, above, told, preferred, 0.7, spare))


def test_a_preferred_way_comes_before_the_fork_s_own():
    (first, run), (last, _) = places(box((-3, 0, 0)), box((5, 0, 0)), [(-X, "along the flat")])
    assert run == "along the flat"
    assert first[0].normal == pytest.approx(X)  # towards the group above, whichever way it was told
    assert first[0].offset == pytest.approx(1.0)  # midway between -2 and 4
    assert last[0].normal == pytest.approx(TOLD.normal)


def test_a_way_without_room_is_left_out_but_for_the_fork_s_own():
    found = places(box((-1.6, 0, 0)), box((1.6, 0, 0)), [(X, "tight"), (Y, "none")])
    assert [run for _, run in found] == ["at a free angle"]


def test_where_much_would_be_left_the_cut_runs_next_to_either_group():
    (ends, _), (middle, _), *_ = places(box((-6, 0, 0)), box((6, 0, 0)), [(X, "along")], spare=4.0)
    assert [plane.offset for plane in ends] == pytest.approx([-5.0 + 0.7, 5.0 - 0.7])
    assert middle[0].offset == pytest.approx(0.0)
    found = places(box((-6, 0, 0)), box((6, 0, 0)), [(X, "along")], spare=4.4)
    assert len(found[0][0]) == 1  # 8.6 mm are left, less than twice as much


def test_a_cut_square_or_parallel_to_a_flat_or_an_earlier_cut_is_no_free_one():
    base = ReferenceFace("base", Plane(-Z, 1.0))
    cuts = [SawCut(0, (), (), Plane(X, 0.0), X, 0.4, 9.0, "")]
    slant = (X + Z) / np.sqrt(2.0)
    assert run_of(-X, [base], cuts) == "parallel to cut 1"
    assert run_of(Y, [base], cuts) == "square to the rough's base"
    assert run_of(Y, [], cuts) == "square to cut 1"
    assert run_of(slant, [base], cuts) is None
    assert run_of(slant, [], []) is None


def test_parallel_ways_are_kept_once():
    kept = without_twins([(X, "first"), (-X, "again"), (Y, "other")])
    assert [run for _, run in kept] == ["first", "other"]


def test_plain_ways_run_along_flats_and_square_to_two_of_which_one_is_sawn():
    faces = [ReferenceFace("base", Plane(-Z, 1.0)), ReferenceFace("side", Plane(X, 1.0))]
    assert list(reference_normals(faces, [])) == [
        "parallel to the rough's base",
        "parallel to the rough's side",
    ]
    slant = (X + 2.0 * Z) / np.sqrt(5.0)
    normals = reference_normals(faces, [(2, Plane(slant, 0.0)), (0, Plane(-Z, 0.5))])
    assert list(normals)[2:] == [
        "parallel to the sawn face of cut 3",
        "parallel to the sawn face of cut 1",
        "square to the sawn face of cut 3 and the sawn face of cut 1",
        "square to the sawn face of cut 3 and the rough's base",
        "square to the sawn face of cut 3 and the rough's side",
        "square to the sawn face of cut 1 and the rough's side",
    ]  # cut 1 runs parallel to the base: nothing is square to both alone
    for normal in normals.values():
        assert np.linalg.norm(normal) == pytest.approx(1.0)
    assert abs(
        normals["square to the sawn face of cut 3 and the rough's base"] @ Y
    ) == pytest.approx(1)
