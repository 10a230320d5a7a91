"""Prism crystals from readings."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from species import material_names

from optimizer.mesh import Mesh, volume
from optimizer.rough.formats.scan import Scan
from optimizer.rough.measured.crystal import ONE_OPTIC_AXIS, CrystalTable
from optimizer.rough.measured.form import PieceFacts
from optimizer.rough.model import Rough
from optimizer.rough.repair.solidify import make_solid
from optimizer.trade.materials import load_material

Load = Callable[..., Rough]
PRISM = 'form = "crystal"\nsection = "hexagonal"\nacross_flats_mm = 12\nlength_mm = 30\n'


def test_faces_are_named_and_the_angles_are_those_stated(measured: Load) -> None:
    rough = measured(PRISM + 'far_end = { form = "pyramid", angle_deg = 141.8 }')
    names = [face.name for face in rough.reference_faces]
    assert names == [*(f"prism face {n}" for n in range(1, 7)), "start end"]
    for face in rough.reference_faces:
        height = rough.mesh.vertices @ face.plane.normal - face.plane.offset
        assert height.max() == pytest.approx(0.0, abs=1e-9)
        assert np.sum(np.abs(height) < 1e-9) >= 4
    corners = rough.mesh.triangles
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    leaning = normals[(normals[:, 2] > 0.01) & (normals[:, 2] < 0.99)]
    towards_prism = np.max(leaning @ np.array([f.plane.normal for f in rough.reference_faces]).T, 1)
    np.testing.assert_allclose(180.0 - np.degrees(np.arccos(towards_prism)), 141.8, atol=1e-9)


def test_the_plane_of_a_broken_end_is_known_as_one_that_the_piece_does_not_have(
    measured: Load,
) -> None:
    assert measured(PRISM).readings.not_real == ()
    rough = measured(PRISM + 'far_end = { form = "broken", uneven_mm = 4 }')
    (plane,) = rough.readings.not_real
    assert (plane.normal.tolist(), plane.offset) == ([0.0, 0.0, 1.0], 26.0)
    assert rough.mesh.vertices[:, 2].max() == 26.0


def test_the_optic_axis_runs_along_the_prism_unless_stated(measured: Load) -> None:
    rough = measured(PRISM)
    np.testing.assert_array_equal(rough.optic_axis, [0.0, 0.0, 1.0])
    assert rough.readings is not None
    assert any("optic axis: not stated" in note for note in rough.readings.notes)
    stated = measured(PRISM, 'material = "beryl"\noptic_axis = [1, 0, 0]')
    np.testing.assert_array_equal(stated.optic_axis, [1.0, 0.0, 0.0])
    assert measured(PRISM, 'material = "topaz"').optic_axis is None
    assert measured(PRISM, 'material = "fluorite"').optic_axis is None


def test_species_of_one_optic_axis_are_doubly_refracting_ones_of_the_table() -> None:
    assert set(ONE_OPTIC_AXIS) <= set(material_names())
    assert all((load_material(name).birefringence or (0.0,))[0] > 0.0 for name in ONE_OPTIC_AXIS)


def test_readings_that_differ_and_angles_count_in_the_error(measured: Load) -> None:
    assert measured(PRISM).scan_error_mm == 0.05
    spread = PRISM.replace("= 12\n", "= [12.0, 12.2, 11.8]\n")
    assert measured(spread).scan_error_mm == pytest.approx(0.25)
    # along a slant of 6 / cos 45° mm, 0.5° is 0.074 mm
    slanted = measured(PRISM + 'far_end = { form = "pyramid", angle_deg = 135 }')
    assert slanted.scan_error_mm == pytest.approx(0.05 + 6.0 * np.sqrt(2.0) * 0.0087269, abs=1e-3)


sides = st.floats(0.5, 40.0)
ends = st.one_of(
    st.just({"form": "sawn"}),
    st.builds(lambda h: {"form": "pyramid", "height_mm": h}, st.floats(0.1, 20.0)),
    st.builds(lambda a: {"form": "pyramid", "angle_deg": a}, st.floats(92.0, 125.0)),
    st.builds(lambda u: {"form": "broken", "uneven_mm": u}, st.floats(0.1, 20.0)),
)


@given(st.tuples(sides, st.one_of(st.none(), sides)), st.tuples(ends, ends))
def test_any_trigonal_crystal_is_a_sound_solid(
    section: tuple[float, float | None], both: tuple[dict[str, float], dict[str, float]]
) -> None:
    keys = {"side_mm": section[0], "other_side_mm": section[1], "length_mm": 160.0}
    keys |= {"start_end": both[0], "far_end": both[1]}
    table = CrystalTable.model_validate({"form": "crystal", "section": "trigonal", **keys})
    body = table.solid(PieceFacts(load_material("quartz"), None, Path()))
    mesh = body.mesh
    assert make_solid(Scan(mesh.vertices, mesh.faces), 1.0, "piece").repairs == ()
    assert mesh.vertices[:, 2].min() >= -1e-9
    assert mesh.vertices[:, 2].max() <= 160.0 + 1e-9
    turned = _turned_by_a_third(mesh)
    np.testing.assert_allclose(volume(turned), volume(mesh), rtol=1e-9)
    gaps = np.linalg.norm(turned.vertices[:, None] - mesh.vertices[None], axis=2)
    assert gaps.min(axis=1).max() < 1e-7


def _turned_by_a_third(mesh: Mesh) -> Mesh:
    c, s = -0.5, np.sqrt(3.0) / 2.0
    turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return Mesh(mesh.vertices @ turn.T, mesh.faces)
