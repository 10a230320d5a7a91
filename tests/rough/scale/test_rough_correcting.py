"""Corrections by the balance, asked for and never taken; the scale by a known distance."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough import describe, load_rough, write_ply
from optimizer.rough.model import Rough

Load = Callable[..., Rough]

TRUE_CT = 6.36  # the box of 480 mm³ in quartz
PLACES: dict[str, Any] = {
    "zones": [
        {
            "name": "split", "point_mm": [22.5, 0.0, 0.0], "normal": [3.0, 0.0, 0.0],
            "towards": {"colour": "violet"}, "away": {"colour": "yellow"},
        }
    ],
    "flaws": [
        {"name": "bubble", "point_mm": [21.0, -2.0, 8.0], "radius_mm": 0.3, "clearance_mm": 0.2},
        {"name": "needle", "from_mm": [21.0, -2.0, 8.0], "to_mm": [22.0, -2.0, 8.0]},
        {"name": "crack", "point_mm": [21.0, -2.0, 8.0], "normal": [1, 0, 0], "across_mm": 3.0},
        {"name": "cloud", "mesh": "cloud.ply"},
    ],
    "reference_faces": [{"name": "base", "point_mm": [0.0, 0.0, 4.0], "normal": [0, 0, -1]}],
}  # fmt: skip


@pytest.fixture
def load(box: Mesh, saved: Callable[[Mesh], Path]) -> Load:
    def loaded(mesh: Mesh = box, **keys: Any) -> Rough:
        table = {"material": "quartz", "scan_error_mm": 0.0, **keys}
        return load_rough(saved(mesh), rough_table=table)

    return loaded


def test_nothing_is_rescaled_without_the_key(load: Load, box: Mesh) -> None:
    rough = load(weighed_ct=TRUE_CT * 1.02**3)
    assert rough.mesh.vertices.tobytes() == box.vertices.tobytes()
    assert (rough.mm_per_unit, rough.material.sg, rough.scale.correction) == (1.0, 2.65, 1.0)


def test_the_scale_is_corrected_on_request_and_the_places_go_along(
    load: Load, box: Mesh, tmp_path: Path
) -> None:
    write_ply(tmp_path / "cloud.ply", Mesh(box.vertices * 0.1 + [19.0, -2.0, 6.0], box.faces))
    plain = load(**PLACES)
    rough = load(weighed_ct=TRUE_CT * 1.02**3, correct="scale", **PLACES)
    assert rough.mm_per_unit == rough.scale.correction == pytest.approx(1.02, rel=1e-12)
    assert rough.scale.source == "weight"
    np.testing.assert_allclose(rough.mesh.vertices, 1.02 * box.vertices, rtol=1e-12)
    assert rough.carat == pytest.approx(TRUE_CT * 1.02**3, rel=1e-12)
    assert rough.zones[0].plane.offset == pytest.approx(1.02 * 22.5, rel=1e-12)
    np.testing.assert_array_equal(rough.zones[0].plane.normal, plain.zones[0].plane.normal)
    assert rough.reference_faces[0].plane.offset == pytest.approx(-1.02 * 4.0, rel=1e-12)
    for moved, flaw in zip(rough.flaws, plain.flaws, strict=True):
        np.testing.assert_allclose(moved.ends, 1.02 * flaw.ends, rtol=1e-12)
        assert (moved.radius_mm, moved.clearance_mm, moved.across_mm) == (
            flaw.radius_mm, flaw.clearance_mm, flaw.across_mm,
        )  # fmt: skip
    cloud, before = rough.flaws[3].mesh, plain.flaws[3].mesh
    assert cloud is not None
    assert before is not None
    np.testing.assert_allclose(cloud.vertices, 1.02 * before.vertices, rtol=1e-12)
    (said,) = rough.warnings
    assert 'multiplied by 1.02000, as correct = "scale" asks' in said


def test_what_check_says_of_zones_and_faces_stays_true(load: Load) -> None:
    keys = {name: PLACES[name] for name in ("zones", "reference_faces")}
    lines = describe(load(weighed_ct=TRUE_CT * 0.98**3, correct="scale", **keys))
    assert any(line.startswith("zone split: 25.0 % of the piece is violet") for line in lines)
    assert any(line.startswith("reference face base: 76.8 mm²") for line in lines)  # 80·0.98²
    assert any(line.startswith("weighed: 5.986 ct (by volume +0.00 %)") for line in lines)


def test_the_density_is_corrected_on_request_and_nothing_else(load: Load, box: Mesh) -> None:
    rough = load(weighed_ct=6.5, weighed_error_ct=0.065, correct="sg", scan_error_mm=0.001)
    assert rough.mesh.vertices.tobytes() == box.vertices.tobytes()
    assert rough.material.name == "quartz"
    assert rough.material.sg == pytest.approx(200.0 * 6.5 / 480.0, rel=1e-12)
    assert rough.carat == pytest.approx(6.5, rel=1e-12)
    low, high = rough.material.sg_range
    assert low == pytest.approx(200.0 * 6.435 / 480.376, rel=1e-9)
    assert high == pytest.approx(200.0 * 6.565 / 479.624, rel=1e-9)
    (said,) = rough.warnings
    assert 'specific gravity of 2.708, as correct = "sg" asks' in said
    assert "listed for quartz is 2.65" in said


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"correct": "scale"}, "need the weight: add weighed_ct"),
        ({"weighed_error_ct": 0.1}, "need the weight: add weighed_ct"),
        ({"weighed_ct": TRUE_CT * 1.031**3, "correct": "scale"}, r"by \+3.1 %, and a scale is"),
        ({"weighed_ct": TRUE_CT * 0.969**3, "correct": "scale"}, r"by -3.1 %, and a scale is"),
        ({"weighed_ct": TRUE_CT * 1.06, "correct": "sg"}, "make it 2.809, and quartz of 2.65"),
        ({"weighed_ct": TRUE_CT * 1000.0, "correct": "scale"}, 'it is unit = "cm" by the weight'),
        ({"weighed_ct": TRUE_CT * 1000.0, "correct": "sg"}, 'it is unit = "cm" by the weight'),
        ({"weighed_ct": 6.0, "correct": "size"}, 'key "correct" must be'),
        ({"weighed_ct": 6.4, "correct": "sg", "sg_range": [2.6, 2.7]}, "both settle the SG"),
        ({"sg_range": [2.7, 2.6]}, "must be .least, greatest."),
        ({"sg_range": [1.0, 20.0]}, "reaches more than 25 % beyond the 2.65.* listed for quartz"),
        ({"weighed_ct": 6.4, "weighed_error_ct": 0.65, "correct": "scale"}, "more than 10 % of"),
        (
            {
                "weighed_ct": 6.4, "correct": "scale",
                "known_distance": {"between": [[0, 0, 0], [1, 0, 0]], "mm": 1.0},
            },
            "both settle the scale",
        ),
    ],
)  # fmt: skip
def test_a_correction_too_large_or_at_odds_is_refused(
    keys: dict[str, Any], said: str, load: Load
) -> None:
    with pytest.raises(InputError, match=said) as caught:
        load(**keys)
    assert str(caught.value).startswith("the order's [rough] table: ")


def test_a_piece_may_state_its_own_density(load: Load) -> None:
    rough = load(sg_range=[2.66, 2.70])
    assert (rough.material.sg, rough.material.sg_range) == (pytest.approx(2.68), (2.66, 2.70))
    assert rough.carat == pytest.approx(480.0 * 2.68 / 200.0)


def test_the_error_of_a_corrected_scale_in_closed_form(
    load: Load, sphere: Callable[..., Mesh]
) -> None:
    """A ball: a third of the weight's error, e/r of the surface's; all at once at the worst."""
    ball = sphere(4)
    plain = load(ball)
    rough = load(ball, weighed_ct=plain.carat, correct="scale", scan_error_mm=0.05)
    skin = 3.0 * 0.05 / 10.0
    by_hand = (1.001 / (1.0 - skin)) ** (1.0 / 3.0) - 1.0
    assert rough.scale.error == pytest.approx(by_hand, rel=2e-3)
    assert rough.scale.error_mm == pytest.approx(10.0 * by_hand, rel=2e-3)
    assert rough.scan_error_mm == pytest.approx(0.05 + 10.0 * by_hand, rel=2e-3)


def test_corrected_balls_are_true_within_their_stated_error(
    load: Load, sphere: Callable[..., Mesh]
) -> None:
    """Of any density of the species; scale and surface scanned wrongly, weighed badly."""
    ball, random = sphere(1, 1.0), np.random.default_rng(7)
    shape = load(Mesh(ball.vertices * 5.0, ball.faces)).volume_mm3 / 125.0
    for _ in range(40):
        radius, sg = random.uniform(4.0, 15.0), random.uniform(3.97, 4.03)
        error = random.uniform(0.0, 0.05)
        scanned = (radius + error * random.uniform(-1, 1)) * random.uniform(0.99, 1.01)
        true_ct = shape * radius**3 * sg / 200.0
        rough = load(
            Mesh(ball.vertices * scanned, ball.faces), material="corundum", unit="mm",
            weighed_ct=true_ct * random.uniform(0.999, 1.001), scan_error_mm=error, correct="scale",
        )  # fmt: skip
        found = float(np.linalg.norm(rough.mesh.vertices, axis=1).max())
        assert abs(found - radius) <= rough.scan_error_mm
        assert abs(found / radius - 1.0) <= rough.scale.error * 1.001


# --- a known distance ---------------------------------------------------------------------------


def _between(mm: float, error_mm: float = 0.05) -> dict[str, Any]:
    """Two corners along the box's longest edge, 10 of its numbers apart."""
    return {"between": [[15.0, -7, 4], [25.0, -7, 4]], "mm": mm, "error_mm": error_mm}


def test_a_known_distance_states_the_scale(load: Load, box: Mesh) -> None:
    rough = load(known_distance=_between(23.0), scan_error_mm=0.01)
    assert rough.mm_per_unit == pytest.approx(2.3, rel=1e-15)
    assert (rough.scale.source, rough.scale.correction) == ("known distance", 1.0)
    assert rough.scale.error == pytest.approx((0.05 + 0.02) / 23.0, rel=1e-12)
    far = 2.3 * math.hypot(5.0, 4.0, 3.0)
    assert rough.scale.error_mm == pytest.approx(far * 0.07 / 23.0, rel=1e-12)
    assert rough.scan_error_mm == pytest.approx(0.01 + rough.scale.error_mm, rel=1e-12)
    np.testing.assert_allclose(rough.mesh.vertices, 2.3 * box.vertices, rtol=1e-14)
    (line,) = (line for line in describe(rough) if line.startswith("unit: "))
    assert (
        line == "unit: one number of the scan is 2.3 mm by the known distance, give or take 0.30 %"
    )


def test_a_stated_unit_and_the_distance_may_agree(load: Load) -> None:
    rough = load(unit="mm", known_distance=_between(10.04))
    assert (rough.mm_per_unit, rough.scale.error) == (1.0, 0.0)


@pytest.mark.parametrize("key", [{"unit": "mm"}, {"mm_per_unit": 1.0}])
def test_a_stated_unit_that_the_distance_denies_is_refused(key: dict[str, Any], load: Load) -> None:
    with pytest.raises(InputError, match=r"says 1 mm.*known_distance says 1.02 .*keep the one"):
        load(known_distance=_between(10.2), **key)


@pytest.mark.parametrize(
    ("known", "said"),
    [
        (_between(10.0, 1.1), "known to 11 % settles no scale"),
        ({"between": [[0, 0, 0], [0, 0, 0]], "mm": 1.0}, "two different points"),
        ({"between": [[0, 0, 0]], "mm": 1.0}, "two different points"),
        ({"between": [[0, 0], [0, 1]], "mm": 1.0}, "at least 3"),
        ({"between": [[0, 0, 0], [0, 0, 1]], "mm": 0.0}, "above 0"),
        (
            {"between": [[0, 0, 0], [0, 0, 1e-320]], "mm": 1.0},
            "too close together to be 1 mm apart",
        ),
        ({"between": [[1e308, 0, 0], [-1e308, 0, 0]], "mm": 1.0}, "points lie too far apart to be"),
        ({"mm": 1.0}, 'key "known_distance.between" is missing'),
    ],
)
def test_a_distance_that_settles_nothing_is_refused(
    known: dict[str, Any], said: str, load: Load
) -> None:
    with pytest.raises(InputError, match=said):
        load(known_distance=known)


def test_weight_and_distance_check_each_other(load: Load) -> None:
    """10.1 mm, give or take 0.5 %, is 3 % more weight, give or take 1.5 %."""
    known = _between(10.1)
    assert not load(known_distance=known, weighed_ct=TRUE_CT * 1.01**3).warnings
    assert not load(known_distance=known, weighed_ct=TRUE_CT * 1.006**3).warnings
    (said,) = load(known_distance=known, weighed_ct=TRUE_CT * 0.99**3).warnings
    assert "the scale (±1.5 %)" in said
    assert "correct" not in said
    (said,) = load(known_distance=known, weighed_ct=TRUE_CT * 1000.0).warnings
    assert "unit =" not in said  # the distance has settled that
