"""Sawn blocks from readings."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.mesh import volume
from optimizer.rough.measured.block import BlockTable
from optimizer.rough.measured.form import FormSolid, PieceFacts
from optimizer.rough.model import Rough
from optimizer.trade.materials import load_material

Load = Callable[..., Rough]


def test_a_square_block_is_a_box(measured: Load) -> None:
    rough = measured('form = "block"\nlength_mm = 24\nwidth_mm = 18\nheight_mm = [12.0, 12.2]')
    np.testing.assert_allclose(rough.mesh.vertices.min(axis=0), 0.0, atol=1e-12)
    np.testing.assert_allclose(rough.mesh.vertices.max(axis=0), [24.0, 18.0, 12.1], rtol=1e-12)
    assert rough.volume_mm3 == pytest.approx(24.0 * 18.0 * 12.1, rel=1e-12)
    assert rough.readings is not None
    assert rough.readings.form == "block"


def test_the_error_adds_up(measured: Load) -> None:
    text = 'form = "block"\nlength_mm = 20\nwidth_mm = 18\nheight_mm = [12.0, 12.2]\n'
    squared = measured(text + "angle_error_deg = 0")
    assert squared.scan_error_mm == pytest.approx(0.05 + 0.1, abs=1e-9)
    # a face of 20 mm that turns by 0.5 degrees about its middle: 10 mm * 0.008727
    assert measured(text).scan_error_mm == pytest.approx(0.15 + 0.0873, abs=0.001)


def test_its_faces_are_named_and_lie_on_it(measured: Load) -> None:
    rough = measured('form = "block"\nlength_mm = 24\nwidth_mm = 18\nheight_mm = 12')
    names = [face.name for face in rough.reference_faces]
    assert names == ["left end", "right end", "front", "back", "base", "top"]
    for face in rough.reference_faces:
        height = rough.mesh.vertices @ face.plane.normal - face.plane.offset
        assert height.max() == pytest.approx(0.0, abs=1e-9)
        assert np.sum(np.abs(height) < 1e-9) == 4
    assert rough.warnings == ()


def test_places_may_be_told_from_its_faces(measured: Load) -> None:
    """Depths below three faces, of a block that leans: solved here by hand, 5° of lean."""
    rough = measured(
        'form = "block"\nlength_mm = 24\nwidth_mm = 18\nheight_mm = 12\n'
        "angles_deg = { base_left = 95 }\n"
        '[[flaws]]\nname = "needle"\nradius_mm = 0.5\n'
        'point_mm = { "left end" = 4.0, front = 6.0, top = 2.0 }'
    )
    lean = np.radians(5.0)
    x = (4.0 - 10.0 * np.sin(lean)) / np.cos(lean)
    np.testing.assert_allclose(rough.flaws[0].ends, [[x, 6.0, 10.0]], atol=1e-9)


angles = st.floats(70.0, 110.0)
lengths = st.floats(1.0, 80.0)


@given(st.tuples(lengths, lengths, lengths), st.tuples(angles, angles, angles))
def test_distances_and_angles_are_those_measured(
    sizes: tuple[float, float, float], corner: tuple[float, float, float]
) -> None:
    body = _block(sizes, corner)
    by_name = {face.name: face.plane for face in body.faces}
    for one, other, apart in zip(
        ("left end", "front", "base"), ("right end", "back", "top"), sizes, strict=True
    ):
        assert by_name[one].offset + by_name[other].offset == pytest.approx(apart, rel=1e-9)
    pairs = (("base", "front"), ("base", "left end"), ("front", "left end"))
    for (one, other), angle in zip(pairs, corner, strict=True):
        between = np.degrees(np.arccos(by_name[one].normal @ by_name[other].normal))
        assert 180.0 - between == pytest.approx(angle, abs=1e-6)
    # The volume between three pairs of planes: the distances' product over |det| of the normals.
    # By the angles alone, det² = 1 + 2·product of the cosines - their squares (Gram).
    c = np.cos(np.radians(corner))
    det = np.sqrt(1.0 - c @ c - 2.0 * np.prod(c))
    assert volume(body.mesh) == pytest.approx(np.prod(sizes) / det, rel=1e-9)


def test_angles_that_meet_in_no_corner_are_refused(measured: Load) -> None:
    flat = "angles_deg = { base_front = 30, base_left = 30, front_left = 100 }"
    with pytest.raises(InputError, match=r"piece.toml: \[measured\] has angles_deg that meet"):
        measured(f'form = "block"\nlength_mm = 24\nwidth_mm = 18\nheight_mm = 12\n{flat}')


def _block(sizes: tuple[float, float, float], corner: tuple[float, float, float]) -> FormSolid:
    keys = dict(zip(("length_mm", "width_mm", "height_mm"), sizes, strict=True))
    named = dict(zip(("base_front", "base_left", "front_left"), corner, strict=True))
    table = BlockTable.model_validate({"form": "block", **keys, "angles_deg": named})
    return table.solid(PieceFacts(load_material("quartz"), None, Path()))
