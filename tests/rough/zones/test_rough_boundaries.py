"""Colour boundaries of every kind: heights, fits to marked places, rooms, and their keys."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares, minimize
from scipy.spatial.transform import Rotation

from optimizer.audit.chords import SHARE_PERCENT, share_towards
from optimizer.errors import InputError
from optimizer.mesh import Mesh, Plane
from optimizer.rough import describe, load_rough, save_rough, write_ply
from optimizer.rough.model import Ball, BentSheet, Boundary, ConvexRoom
from optimizer.rough.zones.boundary import heights, normals
from optimizer.rough.zones.boundary_fit import fitted_ball, fitted_band, fitted_bent, fitted_plane
from optimizer.rough.zones.solid import (
    as_box,
    boundary_mesh,
    parted,
    room_away,
    room_towards,
    sag_mm,
)
from optimizer.solid import as_mesh, as_solid, volume_of

SEEDS = st.integers(0, 10_000)
CORNERS = np.array([[-10.0, -8.0, -6.0], [10.0, 8.0, 6.0]])


def turned(seed: int) -> np.ndarray:
    return np.ascontiguousarray(Rotation.random(random_state=seed).as_matrix())


def every_kind(seed: int) -> list[Boundary]:
    rng = np.random.default_rng(seed)
    frame, middle = turned(seed), rng.uniform(-3.0, 3.0, 3)
    plane = Plane.through(middle, frame[0])
    return [
        plane,
        ConvexRoom((plane, Plane(-plane.normal, -plane.offset - 4.0))),
        ConvexRoom((plane, Plane.through(middle, frame[1]), Plane.through(middle, frame[2]))),
        Ball(middle, float(rng.uniform(3.0, 9.0))),
        BentSheet(middle, frame, rng.uniform(-0.1, 0.1, 2)),
    ]


@given(SEEDS)
def test_heights_agree_with_the_nearest_place_of_the_boundary(seed: int) -> None:
    """A bent sheet's to first order; found by a general minimiser over the sheet."""
    *flat, ball, bent = every_kind(seed)
    points = np.random.default_rng(seed).uniform(-9.0, 9.0, (20, 3))
    for boundary in [*flat, ball]:
        slopes = normals(boundary, points)
        np.testing.assert_allclose(np.linalg.norm(slopes, axis=1), 1.0)
        moved = heights(boundary, points + 1e-6 * slopes) - heights(boundary, points)
        np.testing.assert_allclose(moved, 1e-6, rtol=1e-3)
    assert isinstance(bent, BentSheet)
    for place in points[:3]:
        local = bent.frame @ (place - bent.middle)

        def gap(uv: np.ndarray, at: np.ndarray = local) -> float:
            sheet = np.array([*uv, 0.5 * (bent.bend @ uv**2)])
            return float(np.linalg.norm(sheet - at))

        true = min(minimize(gap, start).fun for start in (local[:2], np.zeros(2)))
        told = float(heights(bent, place[None])[0])
        above = local[2] - 0.5 * float(bent.bend @ local[:2] ** 2)
        assert np.sign(told) == np.sign(above)
        if true * np.abs(bent.bend).max() < 0.1:
            assert abs(told) == pytest.approx(true, rel=0.1)


@given(SEEDS)
def test_a_plane_through_marks_is_that_of_a_general_least_squares(seed: int) -> None:
    rng, frame = np.random.default_rng(seed), turned(seed)
    flat = np.column_stack([rng.uniform(-8, 8, (15, 2)), rng.normal(0.0, 0.05, 15)])
    points = flat @ frame + rng.uniform(-50, 50, 3)
    plane = fitted_plane(points)

    def misfit(state: np.ndarray) -> np.ndarray:
        normal = state[:3] / np.linalg.norm(state[:3])
        return (points - points.mean(axis=0)) @ normal - state[3]

    general = least_squares(misfit, [*frame[2], 0.0], xtol=1e-14, ftol=1e-14, gtol=1e-14)
    assert heights(plane, points).std() <= general.fun.std() * (1 + 1e-9)
    assert abs(plane.normal @ general.x[:3]) / np.linalg.norm(general.x[:3]) > 1 - 1e-9


@given(SEEDS)
def test_marks_on_known_boundaries_give_them_back(seed: int) -> None:
    rng, frame = np.random.default_rng(seed), turned(seed)
    shift = rng.uniform(-50, 50, 3)
    uv = rng.uniform(-8.0, 8.0, (30, 2))
    near, far = ([*uv.T, np.full(30, w)] for w in (0.0, 3.5))
    band = fitted_band(np.array(near).T @ frame + shift, np.array(far).T @ frame + shift)
    assert band.thick_mm == pytest.approx(3.5, abs=1e-9)
    assert abs(band.planes[0].normal @ frame[2]) == pytest.approx(1.0, abs=1e-12)
    way = rng.normal(size=(12, 3))
    radius = rng.uniform(2.0, 30.0)
    ball = fitted_ball(shift + radius * way / np.linalg.norm(way, axis=1)[:, None])
    np.testing.assert_allclose([*ball.centre, ball.radius_mm], [*shift, radius], rtol=1e-8)
    bend = np.sort(rng.uniform(-0.08, 0.08, 2))
    sheet = np.column_stack([uv, 0.5 * uv**2 @ bend]) @ frame + shift
    bent = fitted_bent(sheet)
    assert np.abs(heights(bent, sheet)).max() < 0.02 * np.abs(bend).max() * 64.0
    # Seen along the very normal that it was made with, it is met exactly.
    about = np.vstack([uv, -uv, uv * [1, -1], uv * [-1, 1]])
    whole = np.column_stack([about, 0.5 * about**2 @ bend]) @ frame + shift
    exact = fitted_bent(whole)
    same = exact.frame[2] @ frame[2]
    assert abs(same) == pytest.approx(1.0, abs=1e-9)
    np.testing.assert_allclose(np.sort(same * exact.bend), bend, atol=1e-8)
    assert np.abs(heights(exact, whole)).max() < 1e-8


@pytest.mark.parametrize(
    ("fit", "points", "said"),
    [
        (fitted_plane, [[0, 0, 0], [1, 0, 0]], "too few for a plane: mark at least 3"),
        (fitted_plane, [[0, 0, 0], [1, 0, 0], [9, 0.01, 0]], "nearly on one line"),
        (fitted_plane, [[1, 1, 1]] * 4, "nearly on one line"),
        (fitted_ball, [[0, 0, 0], [1, 0, 0], [0, 1, 0]], "too few for a ball"),
        (fitted_ball, [[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]], "lie in one plane"),
        (fitted_bent, [[0, 0, 0], [1, 0, 0], [0, 1, 0]], "too few for a bent sheet"),
        (fitted_bent, [[i, i % 2, 0] for i in range(9)], "badly for a bent sheet"),
    ],
)
def test_marks_that_settle_nothing_are_refused(
    fit: Callable[[np.ndarray], Any], points: list[list[float]], said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        fit(np.array(points, float))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("kind", range(5))
def test_rooms_add_up_and_lie_where_heights_say(kind: int, seed: int) -> None:
    boundary = every_kind(seed)[kind]
    box = as_box(CORNERS)
    towards, away = room_towards(boundary, CORNERS), room_away(boundary, CORNERS)
    assert volume_of(towards) + volume_of(away) == pytest.approx(volume_of(box), rel=1e-9)
    solid = as_solid(as_mesh(box))
    assert volume_of(parted(solid, boundary)[0]) == pytest.approx(volume_of(towards), rel=1e-2)
    share = 100.0 * volume_of(towards) / volume_of(box)
    assert share == pytest.approx(share_towards(as_mesh(box), boundary), abs=SHARE_PERCENT)
    surface = boundary_mesh(solid, boundary)
    sag = sag_mm(boundary, as_mesh(box).vertices)
    off = np.abs(heights(boundary, surface.triangles.mean(axis=1)))
    assert len(surface.faces) > 0
    assert off.max() <= 2.0 * sag + 1e-6
    low, high = as_mesh(box).vertices.min(axis=0), as_mesh(box).vertices.max(axis=0)
    cloud = np.random.default_rng(seed).uniform(low, high, (200_000, 3))
    assert share == pytest.approx(100.0 * (heights(boundary, cloud) > 0.0).mean(), abs=0.5)


@pytest.mark.parametrize("room", [1.1, 4.0, 20.0])
def test_a_ball_of_facets_lies_in_the_ball_by_no_more_than_is_said(room: float) -> None:
    ball = Ball(np.array([1.0, -2.0, 0.5]), 3.0)
    points = ball.centre + room * ball.radius_mm * np.array([[-1.0] * 3, [1.0] * 3])
    corners = as_mesh(room_towards(ball, points)).triangles - ball.centre
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    across /= np.linalg.norm(across, axis=1)[:, None]
    deepest = 3.0 - np.einsum("ij,ij->i", across, corners[:, 0]).min()
    assert 0.5 * sag_mm(ball, points) < deepest <= sag_mm(ball, points)


def told(folder: Path, text: str) -> Any:
    (folder / "piece.toml").write_text(
        'scan = "piece.ply"\nunit = "mm"\nmaterial = "quartz"\nscan_error_mm = 0.02\n' + text
    )
    return load_rough(folder / "piece.toml")


SIDES = 'towards = { colour = "violet"%s }\naway = { colour = "yellow" }\n'
SAME = (SIDES % "").replace("yellow", "violet")
AT = ", at_mm = [24, -3, 7]"
GIVEN = {
    "plane": 'points_mm = [[20, -3, 7], [20, 0, 7], [20, -3, 9]]\n' + SIDES % AT,
    "band": "point_mm = [20, -3, 7]\nnormal = [2, 0, 0]\nthick_mm = 3\n" + SIDES % "",
    "corner of 2 planes": (
        "planes = [{ point_mm = [20, -3, 7], normal = [1, 0, 0] }, "
        "{ points_mm = [[20, -2, 7], [24, -2, 7], [22, -2, 9]] }]\n" + SIDES % AT
    ),
    "ball": "centre_mm = [20, -3, 7]\nradius_mm = 2.5\n" + SIDES % "",
    "bent sheet": (
        "point_mm = [20, -3, 7]\nnormal = [1, 0, 0]\nalong = [0, 1, 0.5]\n"
        "bend_per_mm = [0.02, -0.03]\n" + SIDES % ""
    ),
}  # fmt: skip


def test_a_ball_too_large_for_its_facets_is_refused(box: Mesh, tmp_path: Path) -> None:
    write_ply(tmp_path / "piece.ply", box)
    longest = float(np.ptp(box.vertices, axis=0).max())
    ball = '[[zones]]\nname = "z"\ncentre_mm = [{0}, 0, 0]\nradius_mm = {0}\n'
    sides = SIDES % ""
    told(tmp_path, ball.format(2.9 * longest) + sides)
    with pytest.raises(InputError, match="more than 3 times the piece's"):
        told(tmp_path, ball.format(3.1 * longest) + sides)


@pytest.mark.parametrize("kind", GIVEN)
def test_each_kind_is_read_described_and_written_back(kind: str, box: Mesh, tmp_path: Path) -> None:
    write_ply(tmp_path / "piece.ply", box)
    rough = told(tmp_path, f'[[zones]]\nname = "z"\n{GIVEN[kind]}')
    (zone,) = rough.zones
    assert zone.kind == kind
    assert any(line.startswith("zone z: ") and "violet" in line for line in describe(rough))
    again = tmp_path / "again.toml"
    save_rough(rough, again)
    (other,) = load_rough(again).zones
    points = box.vertices + np.random.default_rng(0).normal(0.0, 1.0, box.vertices.shape)
    np.testing.assert_allclose(
        heights(other.boundary, points), heights(zone.boundary, points), atol=1e-12
    )
    assert heights(zone.boundary, np.array([[22.0, -2.5, 7.0]]))[0] > 0.0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("point_mm = [0,0,0]\n" + SIDES % "", "tells a plane by point_mm: give"),
        ("points_mm = [[0,0,0],[1,0,0],[0,1,0]]\n" + SIDES % "", "add to towards at_mm"),
        ('shape = "ball"\npoint_mm = [0,0,0]\n' + SIDES % "", "tells a ball by point_mm"),
        ('shape = "bal"\n' + SIDES % "", 'must be \'plane\', \'band\''),
        (
            "planes = [{point_mm=[0,0,0],normal=[1,0,0]}]\n" + SIDES % "",
            'in the first [[zones]], key "planes" must hold at least 2',
        ),
        (
            "planes = [{point_mm=[0,0,0],normal=[1,0,0]},{point_mm=[-2,0,0],normal=[-1,0,0]}]\n"
            + SIDES % "",
            "leaves no room for violet",
        ),
        (
            "point_mm = [20, -3, 7]\nnormal = [-1, 0, 0]\n" + SIDES % AT,
            "has its place of violet (at_mm) on the side of yellow",
        ),
        (
            "points_mm = [[20,-6,7.02],[20,0,6.99],[24,-6,7],[24,0,6.97]]\n"
            + SIDES % ", at_mm = [20, -6, 7.02]",
            "mm off the boundary, too near to tell the side",
        ),
        ("points_mm = [[1,0,0],[2,0,0],[3,0,0]]\n" + SIDES % AT, "nearly on one line"),
        ("points_mm = [[1,0],[2,0,0],[3,0,0]]\n" + SIDES % AT, 'the first of "points_mm" must'),
        ('parallel_to = "base"\ndepth_mm = 2\n' + SIDES % "", 'names the face "base"'),
        (
            "point_mm = [20, -3, 7]\nnormal = [1, 0, 0]\n" + SAME,
            'has the colour "violet" on both sides: give towards and away two different names',
        ),
    ],
)  # fmt: skip
def test_what_tells_no_boundary_is_refused_in_one_line(
    text: str, said: str, box: Mesh, tmp_path: Path
) -> None:
    write_ply(tmp_path / "piece.ply", box)
    with pytest.raises(InputError) as error:
        told(tmp_path, f'[[zones]]\nname = "z"\n{text}')
    assert said in str(error.value)
    assert "the first [[zones]]" in str(error.value)
    assert "\n" not in str(error.value)


def test_a_poor_fit_is_doubted_and_a_bare_one_says_so(box: Mesh, tmp_path: Path) -> None:
    write_ply(tmp_path / "piece.ply", box)
    marks = "[[20, -6, 5], [20, 0, 5], [20, -6, 9], [20, 0, 9], [21.5, -3, 7]]"
    bad = told(tmp_path, f'[[zones]]\nname = "z"\npoints_mm = {marks}\n{SIDES % AT}')
    assert any("off its marked places" in warning for warning in bad.warnings)
    assert any("fitted to 5 marked places, " in line for line in describe(bad))
    bare = told(tmp_path, f'[[zones]]\nname = "z"\n{GIVEN["plane"]}')
    assert bare.warnings == ()
    assert any("no more than it needs" in line for line in describe(bare))
