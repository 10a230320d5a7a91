"""Meshes damaged at random: read or refused in one line, and read back as they were written."""

from pathlib import Path

import pytest

from benchmarks.damaged_meshes import case
from benchmarks.ladder import judged

# Each of these once crashed, never ended, or came back from its file as another piece.
NUMBERS = (
    55, 56, 93, 113, 266, 290, 345, 413, 738, 765, 818, 823, 926, 985, 1026, 1039, 1253, 1320, 1422,
    1493, 1542, 1596, 1705, 1709, 1772, 1833, 1905, 2114, 2121, 2211,
)  # fmt: skip


@pytest.mark.parametrize("number", NUMBERS)
def test_a_damaged_mesh_is_read_or_refused_and_read_back(number: int, tmp_path: Path) -> None:
    assert judged(case(0, number)[1], tmp_path)


def test_folds_that_cross_each_other_everywhere_are_given_up_in_time(tmp_path: Path) -> None:
    said = judged(case(11, 648)[1], tmp_path)
    assert "resolving where the surface passes through itself would take too long" in said


def test_the_same_seed_gives_the_same_mesh() -> None:
    one, other = case(0, 7), case(0, 7)
    assert one[0] == other[0]
    assert one[1].vertices.tobytes() == other[1].vertices.tobytes()
    assert case(1, 7)[1].vertices.tobytes() != one[1].vertices.tobytes()
