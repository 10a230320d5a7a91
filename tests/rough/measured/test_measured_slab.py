"""Slabs from traced outlines: reading, checking, and what lies between their points."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.mesh import Floats, volume
from optimizer.rough.formats.scan import Scan
from optimizer.rough.measured.outline import area_mm2, bends, checked_outline, read_outline
from optimizer.rough.measured.slab import upright
from optimizer.rough.model import Rough
from optimizer.rough.repair.solidify import make_solid

Load = Callable[..., Rough]


def star(radii: list[float]) -> Floats:
    turn = np.arange(len(radii)) * (2.0 * np.pi / len(radii))
    return np.array(radii)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])


stars = st.lists(st.floats(1.0, 40.0), min_size=5, max_size=40).map(star)


@given(stars, st.floats(0.5, 20.0))
def test_any_star_shaped_outline_is_a_sound_solid(outline: Floats, height: float) -> None:
    checked = checked_outline(outline)
    mesh = upright(checked, height)
    solid = make_solid(Scan(mesh.vertices, mesh.faces), 1.0, "slab")
    assert solid.repairs == ()
    turn = np.sin(2.0 * np.pi / len(outline)) / 2.0  # triangles from the middle
    area = turn * float(np.sum(np.hypot(*outline.T) * np.hypot(*np.roll(outline, 1, axis=0).T)))
    assert area_mm2(checked) == pytest.approx(area, rel=1e-9)
    assert volume(mesh) == pytest.approx(area * height, rel=1e-9)
    np.testing.assert_array_equal(checked_outline(outline[::-1]), checked[::-1][::-1])


@given(stars, st.data())
def test_two_points_swapped_are_refused(outline: Floats, data: st.DataObject) -> None:
    """On a convex loop any swap of two points that are no neighbours crosses."""
    outline = 20.0 * outline / np.hypot(*outline.T)[:, None]
    one = data.draw(st.integers(0, len(outline) - 1))
    other = (one + data.draw(st.integers(2, len(outline) - 2))) % len(outline)
    outline[[one, other]] = outline[[other, one]]
    with pytest.raises(ValueError, match="crosses or touches itself"):
        checked_outline(outline)


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([[0, 0], [9, 9], [9, 0], [0, 9]], "side after point 1 meets the side after point 3"),
        ([[0, 0], [9, 0], [9, 9], [9, 0], [0, 9]], "meets"),
        ([[0, 0], [9, 0], [4, 0], [4, 9]], "meets"),  # turns straight back
        ([[0, 0], [4, 0], [9, 0]], "meets"),  # no area
        ([[0, 0], [9, 0], [9, 0], [0, 9]], "points 2 and 3 are the same"),
        ([[0, 0], [9, 0], [0, 0]], "fewer than three points"),
        ([[0, 0], [9, 0], [5, 5], [5, 0], [0, 9]], "meets"),  # a corner on another side
    ],
)
def test_loops_that_are_not_simple_are_refused(points: list[list[float]], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        checked_outline(np.array(points, float))


def test_points_along_a_straight_side_are_welcome() -> None:
    checked_outline(np.array([[0, 0], [3, 0], [9, 0], [9, 5], [0, 5]], float))


@given(st.floats(5.0, 60.0), st.integers(14, 90))
def test_the_bend_of_a_circle_is_its_sagitta(radius: float, count: int) -> None:
    outline = star([radius] * count)
    sagitta = radius * (1.0 - np.cos(np.pi / count))
    assert bends(outline) == (pytest.approx(sagitta, rel=1e-9), 0.0)


def test_a_hollow_side_counts_in_the_error_and_a_corner_does_not(measured: Load) -> None:
    turn = np.radians(np.arange(0, 181, 10))
    bay = np.column_stack([15 - 8 * np.cos(turn), 20 - 8 * np.sin(turn)])
    outline = np.vstack([[[0, 20], [0, 0], [30, 0], [30, 20]], bay[::-1]]).tolist()
    text = f'form = "slab"\nthickness_mm = 8\noutline_mm = {outline}'
    sagitta = 8.0 * (1.0 - np.cos(np.radians(5.0)))
    assert measured(text).scan_error_mm == pytest.approx(0.05 + sagitta, abs=1e-3)
    ell = [[0, 0], [20, 0], [20, 10], [10, 10], [10, 20], [0, 20]]
    rough = measured(f'form = "slab"\nthickness_mm = 8\noutline_mm = {ell}')
    assert rough.scan_error_mm == 0.05
    assert [face.name for face in rough.reference_faces] == ["bottom", "top"]


def test_an_outline_is_read_as_people_write_it(tmp_path: Path, measured: Load) -> None:
    plain = [[0.0, 0.0], [20.0, 0.5], [18.0, 12.0], [-1.0, 11.0]]
    texts = (
        "x,y\n0,0\n20,0.5\n18,12\n-1,11\n",
        "# traced at 1:1\n0 0\r\n20\t0.5\r\n\r\n18   12\r\n-1 11",
        "\ufeff0; 0\n20; 0.5\n18; 12\n-1; 11;\n",
    )
    for text in texts:
        (tmp_path / "outline.csv").write_text(text, encoding="utf-8", newline="")
        np.testing.assert_array_equal(read_outline(tmp_path / "outline.csv"), plain)
    rough = measured('form = "slab"\nthickness_mm = 8\noutline_file = "outline.csv"')
    assert rough.volume_mm3 == pytest.approx(8.0 * area_mm2(np.array(plain)), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0,0\n20,0\n20\n", "outline.csv, line 3: two numbers x, y are expected"),
        ("0,0\n20,nan\n", "line 2: must lie within 1000 mm"),
        ("0,0\n1,2,3\n", "line 2: two numbers"),
        ("x,y\na,b\n", "line 2: two numbers"),
        ("0,0\n1e9,2\n", "line 2: must lie within"),
        ("", "is empty"),
        ("x,y\n", "fewer than three points"),
        ("0,0\n" * 3000, "over 2000 points"),
        ("0 0\n9 9\n9 0\n0 9\n", "crosses or touches itself"),
    ],
)
def test_bad_outline_files_say_where(text: str, said: str, tmp_path: Path, measured: Load) -> None:
    (tmp_path / "outline.csv").write_text(text)
    with pytest.raises(InputError, match=said) as caught:
        measured('form = "slab"\nthickness_mm = 8\noutline_file = "outline.csv"')
    assert "\n" not in str(caught.value)


def test_an_outline_file_that_is_not_there_is_named(measured: Load) -> None:
    with pytest.raises(InputError, match=r"nowhere.csv: there is no such file"):
        measured('form = "slab"\nthickness_mm = 8\noutline_file = "nowhere.csv"')
