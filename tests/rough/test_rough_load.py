"""The whole way from file to Rough: scale, frame, weight, tables, warnings."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import optimizer
from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.offcuts.piece_rough import rough_of_piece
from optimizer.rough import load_rough, write_ply
from optimizer.rough.rough_file.save import save_rough

Save = Callable[[Mesh], Path]


def test_the_package_offers_it_by_name() -> None:
    assert optimizer.load_rough is load_rough


def test_a_box_comes_back_in_its_own_place(box: Mesh, saved: Save) -> None:
    rough = load_rough(saved(box), rough_table={"material": "quartz", "scan_error_mm": 0.01})
    assert rough.mesh.vertices.tobytes() == box.vertices.tobytes()
    assert rough.volume_mm3 == pytest.approx(480.0, rel=1e-13)
    assert rough.carat == pytest.approx(480.0 * rough.material.sg / 200.0, rel=1e-13)
    assert rough.watertight_as_read
    assert rough.repairs == rough.warnings == ()


@pytest.mark.parametrize(("unit", "scale"), [("cm", 10.0), ("in", 25.4), ("m", 1e3), ("um", 1e-3)])
def test_units_scale_the_solid(unit: str, scale: float, box: Mesh, saved: Save) -> None:
    path = saved(Mesh(box.vertices / scale, box.faces))
    for rough in (
        load_rough(path, unit=unit),
        load_rough(path, rough_table={"material": "quartz", "unit": unit}),
        load_rough(path, rough_table={"material": "quartz", "mm_per_unit": scale}),
    ):
        assert rough.mm_per_unit == scale
        assert rough.volume_mm3 == pytest.approx(480.0, rel=1e-12)
        np.testing.assert_allclose(rough.mesh.vertices, box.vertices, rtol=1e-13)


def test_loose_points_do_not_count_for_the_size(box: Mesh, saved: Save) -> None:
    far = np.vstack([box.vertices, [[5000.0, 0.0, 0.0]]])
    rough = load_rough(saved(Mesh(far, box.faces)))
    assert "1 point that no triangle uses left out" in [repair.sentence for repair in rough.repairs]


def test_units_that_disagree_are_refused(box: Mesh, saved: Save) -> None:
    table = {"material": "quartz", "unit": "cm"}
    with pytest.raises(InputError, match=r"10 mm a unit, but the call says unit \"mm\""):
        load_rough(saved(box), unit="mm", rough_table=table)
    assert load_rough(saved(box), unit="cm", rough_table=table).mm_per_unit == 10.0


def test_what_is_left_out_is_stated_as_a_warning(box: Mesh, saved: Save) -> None:
    rough = load_rough(saved(box))
    material, error = rough.warnings
    assert "no material is stated: weights are those of quartz" in material
    assert "0.02 mm is taken" in error
    assert (rough.material.name, rough.scan_error_mm) == ("quartz", 0.02)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({}, 'the order\'s .rough. table: key "material" is missing'),
        ({"material": "quartz", "scan": "x.ply"}, 'key "scan" is for a rough file'),
        ({"material": "quartz", "weigth_ct": 1.0}, 'key "weigth_ct" is not known.*weighed_ct'),
    ],
)
def test_a_bad_table_is_named(table: dict[str, Any], said: str, box: Mesh, saved: Save) -> None:
    with pytest.raises(InputError, match=said):
        load_rough(saved(box), rough_table=table)


def test_a_rough_file_and_a_table_are_one_too_many(box: Mesh, tmp_path: Path) -> None:
    write_ply(tmp_path / "a.ply", box)
    (tmp_path / "a.toml").write_text('scan = "a.ply"\nmaterial = "quartz"\n')
    with pytest.raises(InputError, match="are both given; keep one"):
        load_rough(tmp_path / "a.toml", rough_table={"material": "quartz"})


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (1.0, None),
        (1.004, None),
        (1.10, "9.1 % less than"),
        (0.80, "25.0 % more than"),
    ],
)
def test_weighed_against_computed(share: float, said: str | None, box: Mesh, saved: Save) -> None:
    weighed = 480.0 * 2.65 / 200.0 * share
    table = {"material": "quartz", "scan_error_mm": 0.0, "weighed_ct": weighed}
    warnings = load_rough(saved(box), rough_table=table).warnings
    assert (said is None) == (not warnings)
    assert said is None or said in warnings[0]


def _zone(x: float) -> dict[str, Any]:
    return {
        "name": "split", "point_mm": [x, 0.0, 0.0], "normal": [1.0, 0.0, 0.0],
        "towards": {"colour": "violet"}, "away": {"colour": "yellow"},
    }  # fmt: skip


@pytest.mark.parametrize(
    ("x", "said"),
    [
        (14.0, "misses the piece by 1.00 mm, so all of the piece is violet"),
        (26.5, "1.50 mm, so all of the piece is yellow"),
        (16.0, None),
    ],
)
def test_a_zone_beside_the_piece_is_doubted(
    x: float, said: str | None, box: Mesh, saved: Save
) -> None:
    table = {"material": "quartz", "scan_error_mm": 0.02, "zones": [_zone(x)]}
    warnings = load_rough(saved(box), rough_table=table).warnings
    assert (said is None) == (not warnings)
    assert said is None or said in warnings[0]


@pytest.mark.parametrize(
    ("z", "up", "sound"), [(10.0, 1.0, True), (10.0, -1.0, False), (11.0, 1.0, False)]
)
def test_a_reference_face_off_the_surface_is_doubted(
    z: float, up: float, sound: bool, box: Mesh, saved: Save
) -> None:
    face = {"name": "top", "point_mm": [0.0, 0.0, z], "normal": [0.0, 0.0, up]}
    table = {"material": "quartz", "scan_error_mm": 0.02, "reference_faces": [face]}
    warnings = load_rough(saved(box), rough_table=table).warnings
    assert sound == (not warnings)


@given(data=st.data())
def test_mutated_pieces_load_as_solids_or_are_refused(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Corners moved anywhere, faces rewired at random: a closed solid or one line."""
    n = data.draw(st.integers(1, 8))
    coordinate = st.floats(allow_nan=True, width=32) | st.sampled_from([0.0, 5.0, 10.0])
    points = np.array(data.draw(st.lists(st.tuples(*[coordinate] * 3), min_size=n, max_size=n)))
    corner = st.integers(0, n - 1)
    faces = data.draw(st.lists(st.tuples(corner, corner, corner), min_size=1, max_size=14))
    path = tmp_path_factory.getbasetemp() / "mutated.ply"
    write_ply(path, Mesh(points, np.array(faces, np.int64)))
    try:
        rough = load_rough(path, unit="mm")
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017
    else:
        assert rough.volume_mm3 > 0.0


def test_a_piece_is_called_as_its_rough_file_says_or_like_the_file_that_was_named(
    box: Mesh, saved: Save, tmp_path: Path
) -> None:
    """Its pieces add their number, and all files written of them keep the names."""
    scan = saved(box)
    (tmp_path / "two colours.toml").write_text(
        f'scan = "{scan.name}"\nunit = "mm"\nmaterial = "quartz"\n'
    )
    (tmp_path / "b.toml").write_text(
        f'scan = "{scan.name}"\nunit = "mm"\nmaterial = "quartz"\nname = "violet end"\n'
    )
    named = load_rough(tmp_path / "b.toml")
    assert load_rough(scan, unit="mm").title == scan.stem
    assert load_rough(tmp_path / "two colours.toml").title == "two colours"
    assert named.title == "violet end"
    assert load_rough(scan, rough_table={"material": "quartz", "name": "mine"}).title == "mine"
    piece = rough_of_piece(named, named.mesh, 2, ())
    assert (piece.title, piece.parent) == ("violet end, piece 2", "violet end")
    for rough in (named, piece):
        save_rough(rough, tmp_path / "rough.toml")
        assert load_rough(tmp_path / "rough.toml").title == rough.title
