"""A whole flame-fusion boule is known by its stated form or its round sections, and warned of."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapes
import trimesh
from species import material_names

from optimizer.mesh import Mesh, Plane
from optimizer.rough import describe, load_rough
from optimizer.rough.boule import NEARLY_ROUND, roundness
from optimizer.solid import beyond
from optimizer.trade.materials import load_material, species_cautions

WARNED = "DO NOT CUT IT WHOLE"


def boule(length: float = 40.0, wide: float = 1.0) -> Mesh:
    """A tapering round body with a domed end, 9 mm in radius, seen at an angle to its axes."""
    along = np.linspace(0.0, np.pi / 2.0, 12)
    profile = np.column_stack([9.0 * np.cos(along), 0.7 * length + 0.3 * length * np.sin(along)])
    profile = np.vstack([[0.0, 0.0], [5.0, 0.0], profile[:-1], [0.0, length]])
    body = trimesh.creation.revolve(profile, sections=48)
    body.apply_scale([wide, 1.0, 1.0])
    body.apply_transform(trimesh.transformations.rotation_matrix(0.7, [1.0, 2.0, 0.5]))
    return Mesh(np.array(body.vertices), np.array(body.faces, np.int64))


def split(mesh: Mesh, turn: float = 0.3) -> Mesh:
    """Half of a boule, along its length."""
    turned = trimesh.transformations.rotation_matrix(0.7, [1.0, 2.0, 0.5])[:3, :3]
    return beyond(mesh, Plane(turned @ [np.cos(turn), np.sin(turn), 0.0], 0.0))


@pytest.mark.parametrize("length", [12.0, 18.0, 40.0, 80.0])
def test_a_round_body_fills_its_circle(length: float) -> None:
    """48 corners of a circle: sin(7.5°)/7.5° = 0.9972 of it."""
    assert roundness(boule(length)) == pytest.approx(0.9972, abs=2e-3)


def test_a_body_a_little_oval_counts_as_round() -> None:
    assert roundness(boule(wide=0.85)) == pytest.approx(0.85 * 0.9972, abs=5e-3)


@pytest.mark.parametrize("length", [30.0, 40.0, 80.0])
def test_half_a_boule_is_not_round(length: float) -> None:
    assert roundness(split(boule(length))) < 0.75


@pytest.mark.parametrize("sides", [(10.0, 10.0, 10.0), (30.0, 10.0, 10.0), (30.0, 12.0, 5.0)])
def test_a_sawn_block_is_not_round(sides: tuple[float, float, float]) -> None:
    """A square fills 2/π = 0.637 of the circle about it."""
    assert roundness(shapes.box(sides)) <= 0.637 < NEARLY_ROUND


@pytest.mark.parametrize("name", ["flame-fusion corundum", "flame-fusion spinel"])
@pytest.mark.parametrize(
    ("keys", "half", "warned"),
    [
        ({}, False, True),
        ({}, True, False),
        ({"form": "boule"}, True, True),
        ({"form": "split boule"}, False, False),
    ],
)
def test_a_boule_is_warned_of_unless_it_is_split(
    name: str, keys: dict[str, Any], half: bool, warned: bool, saved: Callable[[Mesh], Path]
) -> None:
    mesh = split(boule()) if half else boule()
    rough = load_rough(saved(mesh), rough_table={"material": name, "scan_error_mm": 0.02, **keys})
    said = [warning for warning in rough.warnings if WARNED in warning]
    assert len(said) == warned
    for warning in said:
        assert "stress" in warning
        assert "lengthwise" in warning
        assert "Growth lines are curved" in warning
        assert ('form = "split boule"' in warning) == ("form" not in keys)
    assert any(WARNED in line for line in describe(rough)) == warned


@pytest.mark.parametrize("name", ["corundum", "quartz", "cubic zirconia"])
def test_no_other_material_is_a_boule(name: str, saved: Callable[[Mesh], Path]) -> None:
    rough = load_rough(
        saved(boule()), rough_table={"material": name, "scan_error_mm": 0.02, "form": "boule"}
    )
    assert not any(WARNED in warning for warning in rough.warnings)


@pytest.mark.parametrize(("form", "warned"), [("boule", True), ("split boule", False)])
def test_readings_of_a_boule_are_warned_of_too(form: str, warned: bool, tmp_path: Path) -> None:
    across = "width_mm" if form == "split boule" else "diameter_mm"
    stations = "".join(
        f"[[measured.stations]]\nat_mm = {at}\n{across} = {wide}\n"
        for at, wide in ((0.0, 14.0), (20.0, 16.0), (40.0, 15.0))
    )
    (tmp_path / "piece.toml").write_text(
        'material = "flame-fusion corundum"\n[measured]\n'
        f'form = "{form}"\nreading_error_mm = 0.05\n{stations}'
    )
    rough = load_rough(tmp_path / "piece.toml")
    assert any(WARNED in warning for warning in rough.warnings) == warned


@pytest.mark.parametrize("name", material_names())
def test_check_says_each_species_columns_and_cautions(
    name: str, saved: Callable[[Mesh], Path], box: Mesh
) -> None:
    material = load_material(name)
    lines = describe(load_rough(saved(box), rough_table={"material": name}))
    (line,) = (line for line in lines if line.startswith("species: "))
    for told in (name, material.cleavage, material.heat, material.pleochroism):
        assert told in line
    cautions = [line[len("caution: ") :] for line in lines if line.startswith("caution: ")]
    assert tuple(cautions) == species_cautions(material)
