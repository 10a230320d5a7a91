"""How each piece is set for its cut: the audit measures anew, and the words say what to do."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from placed_stones import box_body, placement_of, rough_of

from optimizer.audit.settings import settings_are_true
from optimizer.errors import AuditError
from optimizer.mesh import Plane
from optimizer.order import Workshop
from optimizer.report.setting_words import depth_words, setting_words
from optimizer.rough.model import ReferenceFace
from optimizer.sawing import saw_plan_of
from optimizer.several.cut_tree import CutTree
from optimizer.several.model import Division, PlacedStone

X, Y, Z = np.eye(3)
BASE = ReferenceFace("base", Plane(-Y, 10.0))
SLANT = (X + Y) / np.sqrt(2.0)


@pytest.fixture(scope="module")
def plan():
    """Four stones in a slab: along the base, square to that, and at 45 degrees."""
    rough = rough_of(shapes.box((30.0, 20.0, 3.0)), faces=[BASE])
    stones = [
        placement_of(box_body(), 3.0, at=(x, y, 0.0)) for x in (-8.0, 8.0) for y in (-5.0, 5.0)
    ]
    cut_tree = CutTree(Plane(Y, 0.0), CutTree(Plane(X, 0.0), 0, 2), CutTree(Plane(X, 0.0), 1, 3))
    division = Division(tuple(PlacedStone(0, None, stone) for stone in stones), cut_tree)
    return saw_plan_of(rough, division, Workshop(most_cuts=0))[0]


def told(plan, index, **changes):
    """The plan with one cut's setting changed."""
    cuts = list(plan.cuts)
    cuts[index] = replace(cuts[index], setting=replace(cuts[index].setting, **changes))
    return replace(plan, cuts=tuple(cuts))


def test_true_settings_pass(plan):
    assert settings_are_true(plan, [BASE]) == "3 cuts of 3 guided by flats as stated."


@pytest.mark.parametrize(
    ("index", "changes", "words"),
    [
        (0, {"face": "the sawn face of cut 2"}, "the flat that cut 1 is set by"),
        (0, {"face_mm": 3.0}, "cut 1 from face base"),
        (0, {"square": True}, "cut 1 runs square to face base"),
        (1, {"square": False}, "cut 2 runs parallel to the sawn face of cut 1"),
        (2, {"last_deg": 89.0}, "cut 3 against the sawn face of cut 1"),
        (2, {"last": "the sawn face of cut 2"}, "the flat that cut 3 is set by"),
    ],
)
def test_false_settings_are_refused(plan, index, changes, words):
    with pytest.raises(AuditError, match=words):
        settings_are_true(told(plan, index, **changes), [BASE])


def test_a_flat_that_is_no_longer_on_the_piece_is_refused(plan):
    holds = next(p.id for p in plan.pieces if p.id and p.mesh.vertices[:, 1].min() > -9.0)
    index = next(k for k, cut in enumerate(plan.cuts) if cut.piece == holds)
    with pytest.raises(AuditError, match=f"face base is on the piece of cut {index + 1}"):
        settings_are_true(told(plan, index, face="face base"), [BASE])


def test_the_words_say_what_to_do(plan):
    first, second, _ = plan.cuts
    (line,) = setting_words(first)
    assert line == (
        f"Put face base against the fence, {first.setting.face_mm:.2f} mm from the kerf: the cut "
        "runs parallel to it."
    )
    (line,) = setting_words(second)
    assert line.startswith("Lay the sawn face of cut 1 flat on the saw's table")
    free = replace(second.setting, face=None, square=False, last_deg=37.24)
    bed, angle = setting_words(replace(second, setting=free))
    assert "bed the piece in plaster" in bed
    assert angle == "The cut stands at 37.2° to the sawn face of cut 1."
    assert list(setting_words(replace(first, setting=None))) == []


def test_the_words_of_a_cut_from_both_sides(plan):
    cut = replace(plan.cuts[0], sides=2, depth_mm=16.25)
    assert depth_words(cut) == "16.2 mm deep from each of two sides"
    assert any("turn the piece over" in line for line in setting_words(cut))
