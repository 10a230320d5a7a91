"""Flaws of the rough file: read, refused, written back, described, and their shapes."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough import describe, load_rough, save_rough, write_ply
from optimizer.rough.flaws.shape import THIN_MM, core_triangles, flaw_solid, outside
from optimizer.rough.model import Flaw, Rough
from optimizer.solid import as_solid

HEAD = 'scan = "piece.ply"\nmaterial = "quartz"\nscan_error_mm = 0.05\n'
POINT = "[[flaws]]\nname = 'a'\npoint_mm = [1, 2, 3]\n"
LINE = "[[flaws]]\nname = 'b'\nfrom_mm = [0, 0, 0]\nto_mm = [0, 0, 4]\nradius_mm = 0.5\n"
CRACK = "[[flaws]]\nname = 'c'\npoint_mm = [0, 1, 0]\nnormal = [0, 3, 4]\nclearance_mm = 0.01\n"


def loaded(folder: Path, text: str) -> Rough:
    write_ply(folder / "piece.ply", shapes.box())
    (folder / "piece.toml").write_text(HEAD + text)
    return load_rough(folder / "piece.toml")


def test_each_kind_is_read(tmp_path: Path) -> None:
    round_crack = CRACK.replace("'c'", "'d'") + "across_mm = 3.0\n"
    point, line, crack, sheet = loaded(tmp_path, POINT + LINE + CRACK + round_crack).flaws
    assert [f.name for f in (point, line, crack, sheet)] == ["a", "b", "c", "d"]
    assert point.ends.tolist() == [[1.0, 2.0, 3.0]]
    assert (point.normal, point.across_mm, point.radius_mm, point.clearance_mm) == (None, 0, 0, 0.2)
    assert point.keep_mm == 0.2
    assert line.ends.tolist() == [[0.0, 0.0, 0.0], [0.0, 0.0, 4.0]]
    assert line.keep_mm == 0.7
    assert crack.normal == pytest.approx([0.0, 0.6, 0.8])
    assert (crack.across_mm, crack.keep_mm, sheet.across_mm) == (np.inf, 0.01, 3.0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[flaws]]\nname = 'a'\n", 'first [[flaws]] must have either point_mm'),
        (POINT + "to_mm = [0, 0, 0]\n", "must have either point_mm"),
        ("[[flaws]]\nname = 'a'\nfrom_mm = [0, 0, 0]\n", "must have either point_mm"),
        (POINT + "from_mm = [0, 0, 0]\nto_mm = [1, 0, 0]\n", "must have either point_mm"),
        (LINE.replace("4]", "0]"), "has from_mm and to_mm at one place"),
        (LINE + "normal = [0, 0, 1]\n", "has a normal, which is only for a crack at point_mm"),
        (POINT + "across_mm = 2.0\n", "has across_mm, which is for a crack"),
        (CRACK + "across_mm = 0.0\n", 'in the first [[flaws]], key "across_mm" must be above 0'),
        (CRACK.replace("3, 4", "0, 0"), 'in the first [[flaws]], key "normal" is no direction'),
        (POINT + "radius_mm = -1.0\n", 'key "radius_mm" must be at least 0'),
        (POINT + "clearance_mm = nan\n", 'in the first [[flaws]], key "clearance_mm"'),
        (POINT + "clearance_mm = 0.0\n", 'key "clearance_mm" must be at least 0.01'),
        (POINT.replace("1, 2", "1e9, 2"), 'the first of "point_mm" must be at most 1,000,000'),
        (POINT + "radius = 1.0\n", 'key "radius" is not known; did you mean "radius_mm"?'),
        (POINT.replace("name = 'a'\n", ""), 'in the first [[flaws]], key "name" is missing'),
        (POINT + POINT, 'two of flaws are named "a"'),
    ],
)  # fmt: skip
def test_mistakes_are_named(text: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        loaded(tmp_path, text)
    assert str(error.value).startswith("piece.toml: ")
    assert said in str(error.value)
    assert "\n" not in str(error.value)


places = st.tuples(*[st.floats(-50.0, 50.0)] * 3)
lengths = st.floats(0.0, 5.0)
clear = st.floats(0.01, 5.0)
directions = places.filter(lambda n: np.linalg.norm(n) > 1e-3)


def unit(vector: tuple[float, ...]) -> np.ndarray:
    return np.array(vector) / np.linalg.norm(vector)


flaws = st.one_of(
    st.builds(lambda p, r, c: Flaw("f", np.array([p]), None, 0.0, r, c), places, lengths, clear),
    st.builds(
        lambda p, n, r, c: Flaw("f", np.array([p, np.add(p, n)]), None, 0.0, r, c),
        places, directions, lengths, clear,
    ),
    st.builds(
        lambda p, n, a, r, c: Flaw("f", np.array([p]), unit(n), a, r, c),
        places, directions, st.floats(0.01, 20.0) | st.just(np.inf), lengths, clear,
    ),
)  # fmt: skip


@given(flaw=flaws)
def test_a_written_flaw_reads_back_the_same(
    flaw: Flaw, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.getbasetemp()
    save_rough(replace(loaded(folder, ""), flaws=(flaw,)), folder / "flawed.toml")
    (read,) = load_rough(folder / "flawed.toml").flaws
    assert read.ends.tolist() == flaw.ends.tolist()
    assert (read.across_mm, read.radius_mm, read.clearance_mm) == (
        flaw.across_mm, flaw.radius_mm, flaw.clearance_mm,
    )  # fmt: skip
    assert (read.normal is None) == (flaw.normal is None)
    if flaw.normal is not None:
        np.testing.assert_allclose(read.normal, flaw.normal, atol=1e-15)


def test_flaws_are_told(tmp_path: Path) -> None:
    far = POINT.replace("'a'", "'far'").replace("1, 2", "5.3, 2")
    lines = describe(loaded(tmp_path, POINT + LINE + CRACK + far))
    assert "flaw a: point at (1, 2, 3); the stone keeps 0.2 mm clear" in lines
    assert (
        "flaw b: line from (0, 0, 0) to (0, 0, 4), 1 mm thick; the stone keeps 0.2 mm clear"
        in lines
    )
    assert (
        "flaw c: crack through the whole piece at (0, 1, 0), square to (0, 0.6, 0.8); the stone "
        "keeps 0.01 mm clear" in lines
    )
    doubts = [line for line in lines if line.startswith("doubtful:")]
    assert len(doubts) == 1  # 5.3 mm out on a box that ends at 5 mm
    assert doubts[0].startswith('doubtful: flaw "far" lies outside the piece')


def flaw(ends: list[list[float]], normal=None, across=0.0, radius=0.0, clearance=0.0) -> Flaw:
    direction = None if normal is None else unit(normal)
    return Flaw("f", np.array(ends, float), direction, across, radius, clearance)


BOX = shapes.box()


def test_solids_have_the_volumes_of_ball_rod_and_sheet() -> None:
    ball = flaw_solid(flaw([[1, 2, 3]], radius=1.0), BOX.vertices).volume()
    assert 0.96 < ball / (4.0 / 3.0 * np.pi) <= 1.0
    rod = flaw_solid(flaw([[0, 0, 0], [0, 3, 4]], radius=1.0), BOX.vertices).volume()
    assert 0.96 < rod / (4.0 / 3.0 * np.pi + 5.0 * np.pi) <= 1.0
    sheet = flaw_solid(flaw([[1, 2, 3]], [1, 2, 2], 4.0), BOX.vertices).volume()
    around = np.pi * (2.0 + THIN_MM) ** 2 * 2.0 * THIN_MM
    assert 1.0 <= sheet / around < 1.001


def test_a_sheet_lies_within_its_triangles_and_hardly_less() -> None:
    crack = flaw([[1, 2, 3]], [1, 2, 2], 4.0)
    triangles = core_triangles(crack, BOX.vertices)
    assert np.abs((triangles - crack.ends[0]) @ crack.normal).max() < 1e-12
    sides = triangles[:, 2] - triangles[:, 1]
    middle = triangles[:, 1] - crack.ends[0]
    apart = np.linalg.norm(np.cross(middle, sides), axis=1) / np.linalg.norm(sides, axis=1)
    np.testing.assert_allclose(apart, 2.0, rtol=1e-12)  # each side touches the circle
    assert np.linalg.norm(middle, axis=1).max() < 2.0 * 1.002


def test_a_crack_without_end_parts_the_piece() -> None:
    crack = flaw([[4.9, -4.9, 4.9]], [1, 0.3, -0.2])
    crack = Flaw("f", crack.ends, crack.normal, np.inf, 0.0, 0.0)
    left = as_solid(BOX) - flaw_solid(crack, BOX.vertices)
    assert len(left.decompose()) == 2


@pytest.mark.parametrize(
    ("one", "out"),
    [
        (flaw([[5.4, 0, 0]], clearance=0.3), True),
        (flaw([[5.4, 0, 0]], clearance=0.5), False),
        (flaw([[5.4, 0, 0]], radius=0.5), False),
        (flaw([[9, 0, 0], [0, 9, 0]]), False),  # the line passes the box's edge within
        (flaw([[11, 0, 0], [0, 11, 0]]), True),
        (flaw([[0, 0, 0]]), False),
        (flaw([[8, 0, 0]], [1, 0, 0], 4.0), True),
        (flaw([[8, 0, 0]], [0, 0, 1], 4.0), True),
        (flaw([[8, 0, 0]], [0, 0, 1], 6.1), False),
    ],
)
def test_outside_or_not(one: Flaw, out: bool) -> None:
    assert outside(one, as_solid(BOX), BOX.vertices) is out


def test_an_empty_list_is_no_flaw(tmp_path: Path) -> None:
    rough = loaded(tmp_path, "flaws = []\n")
    assert rough.flaws == ()
    assert isinstance(rough.mesh, Mesh)
