"""Boules from stations: the mesh lies inside the curve that the readings suggest."""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, volume
from optimizer.rough.formats.scan import Scan
from optimizer.rough.measured.boule import BouleTable, SplitBouleTable
from optimizer.rough.measured.form import FormSolid, PieceFacts
from optimizer.rough.measured.stations import between_stations
from optimizer.rough.model import Rough
from optimizer.rough.repair.solidify import make_solid
from optimizer.trade.materials import load_material

Load = Callable[..., Rough]
EVEN = (
    'form = "boule"\nstations = [{ at_mm = 5, diameter_mm = 16 }, { at_mm = 20, diameter_mm = 16 }]'
)

diameters = st.floats(2.0, 60.0)
gaps = st.floats(0.5, 30.0)
ratios = st.floats(0.7, 1.4)
rows = st.lists(st.tuples(gaps, diameters, ratios), min_size=2, max_size=6)


KNOWN = PieceFacts(load_material("quartz"), None, Path())


def boule(at: Floats, across: Floats, **ends: object) -> FormSolid:
    stations = [
        {"at_mm": float(z), "diameter_mm": float(d), "other_diameter_mm": float(e)}
        for z, (d, e) in zip(at, across, strict=True)
    ]
    return BouleTable.model_validate({"form": "boule", "stations": stations, **ends}).solid(KNOWN)


def sampled(mesh: Mesh) -> Floats:
    """Corners, middles of sides and of triangles, (n, 3)."""
    corners = mesh.triangles
    sides = (corners + np.roll(corners, 1, axis=1)) / 2.0
    return np.vstack([corners.reshape(-1, 3), sides.reshape(-1, 3), corners.mean(axis=1)])


@given(rows)
def test_any_stations_give_a_sound_solid_within_their_ellipses(
    read: list[tuple[float, float, float]],
) -> None:
    at = np.cumsum([row[0] for row in read])
    across = np.array([(d, d * ratio) for _, d, ratio in read])
    mesh = boule(at, across).mesh
    assert trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).is_watertight
    assert volume(mesh) > 0.0
    assert make_solid(Scan(mesh.vertices, mesh.faces), 1.0, "piece").repairs == ()
    points = sampled(mesh)
    half = np.column_stack([np.interp(points[:, 2], at, across[:, i] / 2.0) for i in range(2)])
    assert (np.sum((points[:, :2] / half) ** 2, axis=1) <= 1.0 + 1e-9).all()


@given(st.floats(-0.004, 0.01), st.floats(-0.1, 0.1), st.lists(gaps, min_size=2, max_size=5))
def test_it_lies_within_a_curve_of_even_bend(bend: float, slope: float, steps: list[float]) -> None:
    """A parabola's second differences are its own bend, so that nothing is left to guess."""
    at = np.concatenate([[0.0], np.cumsum(steps)]) - sum(steps) / 2.0
    curve = 30.0 + slope * at + bend * at**2 / 2.0
    profile = between_stations(at, curve[:, None])
    places = np.linspace(at[0], at[-1], 2001)
    inside = 30.0 + slope * places + bend * places**2 / 2.0
    built = np.interp(places, profile.at, profile.half[:, 0])
    narrowest = np.array([min(pair) for pair in pairwise(curve)])
    floor = narrowest[np.clip(np.searchsorted(at, places, side="right") - 1, 0, len(steps) - 1)]
    assert (built <= np.maximum(inside, floor) + 1e-9).all()
    widest_gap = max(steps)
    assert profile.bulge_mm == pytest.approx(max(-bend, 0.0) * widest_gap**2 / 8.0, abs=1e-9)
    assert profile.waist_mm <= max(bend, 0.0) * widest_gap**2 / 8.0 + 1e-9


def test_stations_on_a_line_have_no_bend() -> None:
    at = np.array([0.0, 3.0, 11.0])
    profile = between_stations(at, np.column_stack([4.0 + at, 9.0 - at / 2.0]))
    np.testing.assert_array_equal(profile.at, at)
    assert profile.bulge_mm == pytest.approx(0.0, abs=1e-12)


def test_chords_stay_within_a_tenth_of_the_error() -> None:
    body = boule(np.array([0.0, 10.0]), np.full((2, 2), 40.0), reading_error_mm=0.02)
    middles = sampled(body.mesh)
    rim = middles[(middles[:, 2] > 1.0) & (middles[:, 2] < 9.0)]
    depth = 20.0 - np.hypot(rim[:, 0], rim[:, 1])
    assert depth.min() >= -1e-12
    assert depth.max() <= 0.002


@given(rows)
def test_a_split_boule_is_sound_and_keeps_to_its_side(
    read: list[tuple[float, float, float]],
) -> None:
    stations = [
        {"at_mm": 100.0 * i, "width_mm": w, "thickness_mm": w / 2.0 * ratio}
        for i, (_, w, ratio) in enumerate(read)
    ]
    table = SplitBouleTable.model_validate({"form": "split boule", "stations": stations})
    mesh = table.solid(KNOWN).mesh
    assert make_solid(Scan(mesh.vertices, mesh.faces), 1.0, "piece").repairs == ()
    assert mesh.vertices[:, 1].min() == 0.0
    assert mesh.vertices[:, 1].max() == pytest.approx(max(s["thickness_mm"] for s in stations))


def test_an_oval_that_turns_into_another_stays_close_to_its_ellipses() -> None:
    at, across = np.array([0.0, 10.0]), np.array([[30.0, 12.0], [14.0, 24.0]])
    points = sampled(boule(at, across).mesh)
    points = points[(points[:, 2] > 1e-3) & (points[:, 2] < 10.0 - 1e-3)]
    half = np.column_stack([np.interp(points[:, 2], at, across[:, i] / 2.0) for i in range(2)])
    inside = 1.0 - np.hypot(*(points[:, :2] / half).T)
    assert inside.min() >= -1e-12
    assert (inside * half.max(axis=1)).max() <= 2.0 * 0.01  # twice the sagitta


def test_readings_that_leap_are_refused(measured: Load) -> None:
    leap = [(2.1, 13.4, 13.4), (9.32, 6.1, 6.1), (9.91, 300.0, 999.0)]
    rows = ", ".join(
        f"{{ at_mm = {z}, diameter_mm = {d}, other_diameter_mm = {e} }}" for z, d, e in leap
    )
    with pytest.raises(InputError, match=r"\[measured\] has readings that change so much"):
        measured(f'form = "boule"\nreading_error_mm = 0.1\nstations = [{rows}]')


def test_ends_and_faces(measured: Load) -> None:
    flat = measured(EVEN)
    assert [(f.name, f.plane.offset) for f in flat.reference_faces] == [
        ("start end", -5.0), ("far end", 20.0),
    ]  # fmt: skip
    domed = measured(EVEN + '\nfar_end = { form = "dome", height_mm = [4, 4.2] }')
    assert [face.name for face in domed.reference_faces] == ["start end"]
    assert domed.mesh.vertices[:, 2].max() == pytest.approx(24.1)
    assert domed.scan_error_mm == pytest.approx(0.15)
    assert any("half an ellipsoid 4.1 mm high" in doubt for doubt in domed.warnings)
    assert any("nothing is known of the piece between" in doubt for doubt in flat.warnings)


def test_a_laboratory_boule_has_grown_along_its_length(measured: Load) -> None:
    assert measured(EVEN).growth_axis is None
    grown = measured(EVEN, 'material = "flame-fusion corundum"')
    np.testing.assert_array_equal(grown.growth_axis, [0.0, 0.0, 1.0])
    assert grown.readings is not None
    assert any(note.startswith("growth axis: not stated") for note in grown.readings.notes)
    stated = measured(EVEN, 'material = "flame-fusion corundum"\ngrowth_axis = [0, 1, 1]')
    np.testing.assert_allclose(stated.growth_axis, np.sqrt([0.0, 0.5, 0.5]))
    assert stated.readings is not None
    assert not any(note.startswith("growth axis") for note in stated.readings.notes)
