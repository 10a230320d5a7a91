"""3MF: units, components and builds; packages that are damaged, swollen or hostile get one line."""

import io
import zipfile
from pathlib import Path

import numpy as np
import pytest
from scan_writers import RELATIONS, mesh_xml, model_xml, threemf, threemf_of
from shapes import icosphere

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough import load_rough
from optimizer.rough.formats.read import read_scan

# Lengths of the units: 3MF Core Specification, ST_Unit; the foot is 304.8 mm exactly.
UNITS = {
    "micron": 0.001, "millimeter": 1.0, "centimeter": 10.0, "inch": 25.4, "foot": 304.8,
    "meter": 1000.0,
}  # fmt: skip


@pytest.mark.parametrize("unit", UNITS)
def test_the_stated_unit_counts(unit: str, box: Mesh, tmp_path: Path) -> None:
    path = tmp_path / "a.3mf"
    path.write_bytes(threemf(Mesh(box.vertices / UNITS[unit], box.faces), unit=unit))
    rough = load_rough(path, rough_table={"material": "quartz", "scan_error_mm": 0.01})
    assert rough.mm_per_unit == UNITS[unit]
    assert rough.volume_mm3 == pytest.approx(480.0, rel=1e-12)
    assert rough.warnings == ()


def test_millimetres_where_the_file_states_no_unit(box: Mesh, tmp_path: Path) -> None:
    (tmp_path / "a.3mf").write_bytes(threemf(box))
    warnings = load_rough(tmp_path / "a.3mf").warnings
    assert "no unit is stated: 3MF counts in millimetres, and that is taken" in warnings
    (tmp_path / "a.3mf").write_bytes(threemf(Mesh(box.vertices / 1000.0, box.faces)))
    assert load_rough(tmp_path / "a.3mf", unit="m").volume_mm3 == pytest.approx(480.0, rel=1e-12)


def test_a_unit_that_contradicts_the_files_is_refused(box: Mesh, tmp_path: Path) -> None:
    (tmp_path / "a.3mf").write_bytes(threemf(box, unit="millimeter"))
    with pytest.raises(InputError, match=r'states the unit "millimeter", 1 mm, but 25\.4 mm'):
        load_rough(tmp_path / "a.3mf", unit="in")
    assert load_rough(tmp_path / "a.3mf", unit="mm").mm_per_unit == 1.0


def test_a_build_of_two_items_holds_both(box: Mesh, tmp_path: Path) -> None:
    build = '<item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 100 0 0"/>'
    model = model_xml(f'<object id="1">{mesh_xml(box)}</object>', build)
    (tmp_path / "a.3mf").write_bytes(threemf_of(model))
    scan = read_scan(tmp_path / "a.3mf")
    apart = np.vstack([box.vertices, box.vertices + np.array([100.0, 0.0, 0.0])])
    np.testing.assert_array_equal(scan.vertices, apart)
    np.testing.assert_array_equal(scan.faces, np.vstack([box.faces, box.faces + 8]))


def test_an_object_that_is_not_built_is_not_read(box: Mesh, tmp_path: Path) -> None:
    both = f'<object id="1">{mesh_xml(box)}</object><object id="2">{mesh_xml(box)}</object>'
    (tmp_path / "a.3mf").write_bytes(threemf_of(model_xml(both, '<item objectid="2"/>')))
    assert len(read_scan(tmp_path / "a.3mf").faces) == 12


def test_extensions_that_change_no_shape_are_passed_over(box: Mesh, tmp_path: Path) -> None:
    colours = 'xmlns:m="http://schemas.microsoft.com/3dmanufacturing/material/2015/02"'
    objects = f'<m:colorgroup id="5"/><object id="1">{mesh_xml(box)}</object>'
    model = model_xml(objects, '<item objectid="1"/>', f'{colours} requiredextensions="m"')
    (tmp_path / "a.3mf").write_bytes(threemf_of(model))
    assert len(read_scan(tmp_path / "a.3mf").faces) == 12


CUBE = '<object id="1"><mesh><vertices>{}</vertices><triangles>{}</triangles></mesh></object>'
ITEM = '<item objectid="1"/>'
POINT, FACE = '<vertex x="0" y="0" z="0"/>', '<triangle v1="0" v2="1" v3="2"/>'
ONE = CUBE.format(3 * POINT, FACE)
HOLDS_ITSELF = '<object id="1"><components><component objectid="1"/></components></object>'
BAD = {
    "number": (model_xml(CUBE.format('<vertex x="a" y="0" z="0"/>', ""), ITEM), '"vertex" lacks'),
    "lacking": (model_xml(CUBE.format('<vertex x="1"/>', ""), ITEM), '"vertex" lacks'),
    "corner": (model_xml(CUBE.format(2 * POINT, FACE), ITEM), "names a corner beyond its 2"),
    "long": (
        model_xml(CUBE.format(POINT, FACE.replace("2", "9" * 5000)), ITEM), '"triangle" lacks'),
    "object": (model_xml(ONE, '<item objectid="3"/>'), "builds object 3, which it lacks"),
    "twice": (model_xml(ONE + ONE, ITEM), "two objects have the id 1"),
    "matrix": (model_xml(ONE, '<item objectid="1" transform="1 2"/>'), '"item" lacks'),
    "unit": (model_xml(ONE, ITEM, 'unit="furlong"'), 'the unit "furlong" is none of micron'),
    "extension": (
        model_xml(ONE, ITEM, 'xmlns:s="http://example.org/slices" requiredextensions="s"'),
        "needs the 3MF extension s"),
    "elsewhere": (
        model_xml(ONE, '<item objectid="1" p:path="/3D/x.model"/>', 'xmlns:p="http://a.org/p"'),
        "lie in several parts"),
    "empty": (model_xml("", ""), "no triangles"),
    "itself": (
        model_xml(HOLDS_ITSELF, ITEM),
        "does not stand before it"),
    "document type": (
        '<!DOCTYPE a [<!ENTITY b "b"><!ENTITY c "&b;&b;">]>' + model_xml(ONE, ITEM)[38:],
        "declares a document type"),
    "entity": (model_xml(ONE.replace("0", "&b;"), ITEM), "cannot be read (undefined entity"),
    "nested": ("<a>" * 500, "nested deeper than 64"),
    "endless": ("<model>", "cannot be read (no element found"),
    "long tag": (f"<model a='{''.join(map(str, range(600_000)))}'/>", "a tag of over 1,048,576"),
    "encoding": ('<?xml version="1.0" encoding="none"?><a/>', "cannot be read"),
    "no text": ("\0\1\2", "cannot be read"),
}  # fmt: skip


@pytest.mark.parametrize("fault", BAD)
def test_what_cannot_be_read_gets_one_line(fault: str, tmp_path: Path) -> None:
    model, said = BAD[fault]
    _refused(threemf_of(model), said, tmp_path)


def _refused(data: bytes, said: str, folder: Path) -> None:
    (folder / "a.3mf").write_bytes(data)
    with pytest.raises(InputError) as error:
        read_scan(folder / "a.3mf")
    message = str(error.value)
    assert said in message
    assert message.startswith("a.3mf: ")
    assert "\n" not in message


def test_doubling_components_are_counted_before_they_are_built(tmp_path: Path) -> None:
    objects, two = ONE, '<component objectid="{0}"/><component objectid="{0}"/>'
    for n in range(2, 40):
        objects += f'<object id="{n}"><components>{two.format(n - 1)}</components></object>'
    model = model_xml(objects, '<item objectid="39"/>')
    _refused(threemf_of(model), "parts, more than 10,000", tmp_path)


def copies_xml(mesh: Mesh, count: int) -> str:
    """The mesh built so many times, 12 mm from one to the next."""
    items = (
        f'<item objectid="1" transform="1 0 0 0 1 0 0 0 1 {12 * (k % 99)} {12 * (k // 99)} 0"/>'
        for k in range(count)
    )
    return model_xml(f'<object id="1">{mesh_xml(mesh)}</object>', "".join(items))


def test_thousands_of_copies_get_one_line(box: Mesh, tmp_path: Path) -> None:
    """Closed, open, and of a mesh of some size, whose copies are not even made."""
    for mesh, copies, said in (
        (box, 2000, "2,000 separate bodies; keep the piece alone"),
        (Mesh(box.vertices, box.faces[1:]), 2000, "the surface is open: 6,000 open edges in 2,000"),
        (icosphere(subdivisions=2), 10_000, "come to 4,820,000; save the piece alone, once"),
    ):
        (tmp_path / "a.3mf").write_bytes(threemf_of(copies_xml(mesh, copies)))
        with pytest.raises(InputError) as error:
            load_rough(tmp_path / "a.3mf", unit="mm")
        assert said in str(error.value)
        assert "\n" not in str(error.value)


def test_a_package_that_swells_is_not_read(tmp_path: Path) -> None:
    _refused(threemf_of(" " * 20_000_000), "swells to 20,000,000 bytes", tmp_path)


def test_a_lying_size_does_not_open_the_door(tmp_path: Path) -> None:
    """The size in the directory made small: only that much is read, and it does not add up."""
    data = threemf_of(" " * 20_000_000)
    _refused(data.replace((20_000_000).to_bytes(4, "little"), (9).to_bytes(4, "little")),
             "cannot be read", tmp_path)  # fmt: skip


def test_damaged_packages_get_one_line(box: Mesh, tmp_path: Path) -> None:
    sound = threemf(box)
    middle = len(sound) // 2
    broken = sound[:middle] + bytes([sound[middle] ^ 255]) + sound[middle + 1 :]
    for data in (sound[:-30], sound[:middle], broken):
        _refused(data, "save the scan again", tmp_path)
    nowhere = RELATIONS.replace("3D/3dmodel", "../../../etc/passwd")
    _refused(threemf_of(model_xml(ONE, ITEM), nowhere), "lacks the part ../", tmp_path)
    _refused(threemf_of("", RELATIONS.replace("3dmanufacturing", "x")), "names 0 models", tmp_path)
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as package:
        package.writestr("readme.txt", "no scan")
    _refused(file.getvalue(), "lacks the part _rels/.rels", tmp_path)
