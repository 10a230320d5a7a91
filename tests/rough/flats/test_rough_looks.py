"""What found flats look like, of shapes whose faces are known."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st

from optimizer.mesh import Floats, Plane
from optimizer.rough.flats.looks import CLEAVED, PRISM, SAWN, looks_of, prism_faces

SEEDS = st.integers(0, 10_000)
SIDES = [[np.cos(a), np.sin(a), 0.0] for a in np.arange(6) * np.pi / 3.0]
SLANT = [[0.0, 0.3, -0.95], [0.3, 0.2, 0.9]]


def planes(rows: object, seed: int, lean_deg: float = 0.2) -> tuple[list[Plane], Floats]:
    """Faces as a scan gives them: turned with the piece, each leaning a little."""
    rng = np.random.default_rng(seed)
    turn = shapes.random_rotation(rng)
    found = []
    for row in np.array(rows, float):
        lean = rng.normal(size=3)
        lean *= np.radians(lean_deg) * rng.random() / np.linalg.norm(lean)
        found.append(Plane.through(np.zeros(3), turn @ (row / np.linalg.norm(row) + lean)))
    return found, turn


@given(SEEDS)
def test_a_prism_is_seen_with_its_axis_and_only_where_the_species_grows_so(seed: int) -> None:
    found, turn = planes([*SIDES, *SLANT], seed)
    assert looks_of(found, "quartz", ()) == (PRISM,) * 6 + ("", "")
    sides = prism_faces([plane.normal for plane in found])
    axis = np.linalg.svd(np.array([found[k].normal for k in sides]))[2][2]
    assert abs(axis @ turn[:, 2]) > np.cos(np.radians(0.3))
    assert PRISM not in looks_of(found, "spinel", ())


@given(SEEDS)
def test_three_sides_of_a_prism_are_enough_and_two_are_not(seed: int) -> None:
    found, _ = planes([SIDES[0], SIDES[1], SIDES[2], *SLANT], seed)
    assert looks_of(found, "beryl", ())[:3] == (PRISM,) * 3
    fewer, _ = planes([SIDES[0], SIDES[1], *SLANT], seed)
    assert looks_of(fewer, "beryl", ()) == ("",) * 4
    assert not prism_faces([plane.normal for plane in fewer])


@given(SEEDS)
def test_a_sawn_block_and_a_cleaved_face(seed: int) -> None:
    block = [*np.eye(3), *-np.eye(3)]
    found, turn = planes(block, seed)
    assert looks_of(found, "quartz", ()) == (SAWN,) * 6
    assert looks_of(found, "topaz", [-turn[:, 2]]) == (SAWN, SAWN, CLEAVED) * 2
    one, _ = planes([[0.0, 0.0, 1.0]], seed)
    assert looks_of(one, "quartz", ()) == ("",)


@pytest.mark.parametrize("turn_deg", [55.0, 63.0])
def test_other_angles_are_no_prism(turn_deg: float) -> None:
    turns = np.radians(turn_deg) * np.arange(3)
    found, _ = planes([[np.cos(a), np.sin(a), 0.0] for a in turns], 1, 0.0)
    assert looks_of(found, "quartz", ()) == ("",) * 3
