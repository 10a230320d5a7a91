"""Flats: found where they are, with their plane and size; not found where there are none."""

import builtins
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from shapes import ellipsoid, icosphere, moved, notched, pebble, random_motion, random_rotation

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough import find_flats, load_rough, with_flats
from optimizer.rough.flats import find
from optimizer.rough.flats.find import Flat, measure_flats
from optimizer.rough.open3d_door import open3d

SIDES = [[np.cos(a), np.sin(a), 0.0] for a in np.arange(6) * np.pi / 3.0]
NORMALS = np.array([*SIDES, [0.0, 0.0995, -0.995], [0.3, 0.2, 0.9]])
NORMALS /= np.linalg.norm(NORMALS, axis=1)[:, None]
OFFSETS = np.array([6.0] * 6 + [8.0, 9.0])


def prism(noise_mm: float) -> Mesh:
    """A hexagonal crystal with two slanting ends: rays of a sphere cut off at eight planes."""
    ball = icosphere(1.0, 5)
    reach = (OFFSETS / np.maximum(ball.vertices @ NORMALS.T, 1e-9)).min(axis=1)
    noise = np.random.default_rng(5).normal(0.0, noise_mm, len(reach)) if noise_mm else 0.0
    return Mesh(ball.vertices * (reach + noise)[:, None], ball.faces)


@cache
def prism_flats(noise_mm: float = 0.02) -> tuple[Flat, ...]:
    return measure_flats(prism(noise_mm))


@pytest.mark.parametrize("noise_mm", [0.0, 0.02])
def test_all_faces_of_a_crystal_are_found_in_their_places(noise_mm: float) -> None:
    flats = prism_flats(noise_mm)
    assert [flat.name for flat in flats] == [f"flat {i}" for i in range(1, 9)]
    areas = [flat.area_mm2 for flat in flats]
    assert areas == sorted(areas, reverse=True)
    matched = set()
    for flat in flats:
        cosine = NORMALS @ flat.plane.normal
        i = int(np.argmax(cosine))
        matched.add(i)
        assert np.degrees(np.arccos(min(1.0, cosine[i]))) < 0.05
        assert flat.plane.offset == pytest.approx(OFFSETS[i], abs=0.01)
        assert flat.rms_mm <= max(1.2 * noise_mm, 1e-4)
    assert matched == set(range(8))


def test_a_box_of_twelve_triangles_has_six_flats_of_exact_area(box: Mesh) -> None:
    flats = measure_flats(box)
    assert sorted(round(f.area_mm2, 9) for f in flats) == [48.0, 48.0, 60.0, 60.0, 80.0, 80.0]
    assert max(f.rms_mm for f in flats) < 1e-12


def test_equal_flats_keep_their_names_when_the_scale_changes(box: Mesh) -> None:
    turned = moved(box, random_rotation(np.random.default_rng(1)), np.zeros(3))
    for piece in (box, turned):
        ways = [
            np.array(
                [f.plane.normal for f in find.find_flats(Mesh(piece.vertices * by, box.faces))]
            )
            for by in (1.0, 1.00069, 1.01242, *np.linspace(0.98, 1.05, 12))
        ]
        for way in ways[1:]:
            np.testing.assert_allclose(way, ways[0], atol=1e-9)


@pytest.mark.parametrize("seed", range(2))
def test_the_same_flats_wherever_the_scan_lies(seed: int) -> None:
    rotation, shift = random_motion(np.random.default_rng(seed))
    here = prism_flats()
    there = measure_flats(moved(prism(0.02), rotation, shift))
    assert len(here) == len(there) == 8
    for flat in here:
        turned = rotation @ flat.plane.normal
        twin = max(there, key=lambda other: float(other.plane.normal @ turned))
        assert float(twin.plane.normal @ turned) > np.cos(np.radians(0.1))
        assert twin.area_mm2 == pytest.approx(flat.area_mm2, rel=0.1)


@pytest.mark.parametrize(
    "piece", [ellipsoid((25.0, 12.0, 6.0)), pebble(3)], ids=["ellipsoid", "pebble"]
)
def test_round_pieces_have_none(piece: Mesh) -> None:
    assert find_flats(piece) == ()


def test_a_rod_has_flat_ends_and_no_flat_sides() -> None:
    rod = trimesh.creation.cylinder(6.0, 12.0, sections=200)
    flats = find_flats(Mesh(np.array(rod.vertices), np.array(rod.faces, np.int64)))
    assert sorted(round(float(f.plane.normal[2]), 9) for f in flats) == [-1.0, 1.0]


def test_the_same_answer_twice() -> None:
    first, second = prism_flats(), measure_flats(prism(0.02))
    assert [(f.name, *f.plane.normal, f.area_mm2) for f in first] == [
        (f.name, *f.plane.normal, f.area_mm2) for f in second
    ]


def test_the_planes_of_few_triangles_lead_to_the_flats_of_open3d_s_patches() -> None:
    """So the other tests may go the shorter way (conftest.py)."""
    short, long = find.find_flats(notched()), find_flats(notched())
    assert len(short) == 8
    assert [(face.name, *face.plane.normal, face.plane.offset) for face in short] == [
        (face.name, *face.plane.normal, face.plane.offset) for face in long
    ]


def test_named_faces_are_kept_and_others_found(box: Mesh, saved: Callable[[Mesh], Path]) -> None:
    face = {"name": "base", "point_mm": [0.0, 0.0, 4.0], "normal": [0.0, 0.0, -1.0]}
    named = load_rough(saved(box), rough_table={"material": "quartz", "reference_faces": [face]})
    assert with_flats(named) is named
    found = with_flats(load_rough(saved(box)))
    assert found.reference_faces[0].name == "flat 1"


def test_without_open3d_a_plain_sentence_says_what_is_lost(
    box: Mesh, saved: Callable[[Mesh], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    rough = load_rough(saved(box))
    monkeypatch.setattr(
        "optimizer.rough.flats.find.find_flats", find_flats
    )  # nothing known from before
    plain_import = builtins.__import__

    def no_open3d(name: str, *rest: Any, **more: Any) -> Any:
        if name == "open3d":
            raise ImportError("libusb-1.0.so.0: cannot open shared object file\nsecond line")
        return plain_import(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", no_open3d)
    monkeypatch.delitem(sys.modules, "open3d", raising=False)
    open3d.cache_clear()
    with pytest.raises(InputError, match="open3d cannot be loaded: libusb"):
        find_flats(rough.mesh)
    without = with_flats(rough)
    monkeypatch.undo()
    open3d.cache_clear()
    assert without.reference_faces == ()
    (warning,) = without.warnings[len(rough.warnings) :]
    assert "flat places to measure from were not looked for" in warning
    assert "libusb-1.0.so.0: cannot open shared object file" in warning
    assert "\n" not in warning
