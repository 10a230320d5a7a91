"""The rough file: every key read, every mistake named with file and key, and written back."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapes import box as plain_box

from optimizer.errors import InputError
from optimizer.mesh import Mesh, Plane
from optimizer.rough import load_rough, save_rough, write_ply
from optimizer.rough.model import Colour, ReferenceFace, Zone

FULL = """
scan = "piece.ply"
parent = "the large crystal"
unit = "mm"
weighed_ct = 6.5
material = "quartz"
scan_error_mm = 0.05
optic_axis = [0.0, 3.0, 4.0]
growth_axis = [0.0, -4.0, 3.0]
cleavage = [[0, 0, -2], [5.0, 12.0, 0.0]]

[[zones]]
name = "split"
point_mm = [20.0, -3, 7]
normal = [2, 0, 0]
towards = { colour = "violet", srgb = "#8040a0" }
away = { colour = "yellow" }

[[reference_faces]]
name = "sawn base"
point_mm = [20.0, -3.0, 4.0]
normal = [0, 0, -1]
"""


@pytest.fixture
def folder(tmp_path: Path, box: Mesh) -> Path:
    write_ply(tmp_path / "piece.ply", box)
    return tmp_path


def test_every_key_is_read(folder: Path) -> None:
    (folder / "piece.toml").write_text(FULL)
    rough = load_rough(folder / "piece.toml")
    assert rough.scan == "piece.ply"
    assert rough.parent == "the large crystal"
    assert rough.mm_per_unit == 1.0
    assert rough.weighed_ct == 6.5
    assert rough.material.name == "quartz"
    assert rough.scan_error_mm == 0.05
    np.testing.assert_allclose(rough.optic_axis, [0.0, 0.6, 0.8], atol=1e-15)
    np.testing.assert_allclose(rough.growth_axis, [0.0, -0.8, 0.6], atol=1e-15)
    np.testing.assert_allclose(rough.cleavage, [[0, 0, -1], [5 / 13, 12 / 13, 0]], atol=1e-15)
    (zone,) = rough.zones
    assert zone.name == "split"
    assert zone.towards == Colour("violet", "#8040a0")
    assert zone.away.name == "yellow"
    np.testing.assert_array_equal(zone.plane.normal, [1.0, 0.0, 0.0])
    assert zone.plane.offset == 20.0
    (face,) = rough.reference_faces
    assert (face.name, face.plane.offset) == ("sawn base", -4.0)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("materiel = 'quartz'", 'key "materiel" is not known; did you mean "material"?'),
        ("flaws = 1", 'key "flaws" must be a list'),
        ("unit = 'inch'", 'key "unit"'),
        ("unit = 'mm'\nmm_per_unit = 1.0", "unit and mm_per_unit are both given"),
        ("mm_per_unit = 0.0", 'key "mm_per_unit"'),
        ("mm_per_unit = nan", 'key "mm_per_unit"'),
        ("weighed_ct = -1.0", 'key "weighed_ct"'),
        ("weighed_ct = 'ten'", 'key "weighed_ct"'),
        ("scan_error_mm = -0.1", 'key "scan_error_mm"'),
        ("scan_error_mm = inf", 'key "scan_error_mm"'),
        ("optic_axis = [0, 0, 0]", 'key "optic_axis" is no direction'),
        ("optic_axis = [0, 1]", 'key "optic_axis"'),
        ("optic_axis = [0, 1, true]", 'the third of "optic_axis"'),
        ("growth_axis = [0, 0, 0]", 'key "growth_axis" is no direction'),
        ("cleavage = [0, 0, 1]", 'the first of "cleavage"'),
        ("cleavage = [[0, 0, 1], [0, 0, 0]]", 'the second of "cleavage" is no direction'),
        ("[[zones]]\nname = 'a'", 'in the first [[zones]], key "towards" is missing'),
        (
            "[[zones]]\nname='a'\ntowards={colour='x'}\naway={colour='y'}",
            "the first [[zones]] tells a plane by nothing: give parallel_to with depth_mm, or",
        ),
        (
            "[[zones]]\nname='a'\npoint_mm=[0,0,0]\nnormal=[0,0,1]\ntowards={colour='x'}\n"
            "away={color='y'}",
            'in the first [[zones]], key "away.color" is not known; did you mean "colour"?',
        ),
        (
            "[[zones]]\nname='a'\npoint_mm=[0,0,0]\nnormal=[0,0,1]\ntowards={colour='x',srgb='red'}"
            "\naway={colour='y'}",
            'in the first [[zones]], key "towards.srgb" must be a colour like "#c08040", got "red"',
        ),
        (
            "[[reference_faces]]\nname='a'\npoint_mm=[0,0,0]\nnormal=[0,0,0]",
            'in the first [[reference_faces]], key "normal" is no direction',
        ),
        (
            "[[reference_faces]]\nname='a'\npoint_mm=[0,0,0]\nnormals=[0,0,1]\nnormal=[0,0,1]",
            'in the first [[reference_faces]], key "normals" is not known; did you mean "normal"?',
        ),
        (
            "[[reference_faces]]\nname='a'\npoint_mm=[0,0,0]\nnormal=[0,0,1]\n" * 2,
            'two of reference_faces are named "a"',
        ),
        ("parent = 'two\\nlines'\nparent = 'x'", "is not a valid TOML file"),
        ('parent = "two\\nlines"', 'key "parent" must be one line of printable text'),
        ("= 3", "is not a valid TOML file"),
    ],
)
def test_mistakes_are_named_with_file_and_key(line: str, said: str, folder: Path) -> None:
    path = folder / "piece.toml"
    path.write_text(f'scan = "piece.ply"\nmaterial = "quartz"\n{line}\n')
    with pytest.raises(InputError) as error:
        load_rough(path)
    message = str(error.value)
    assert "piece.toml: " in message
    assert said in message
    assert "\n" not in message


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('scan = "piece.ply"\n', 'key "material" is missing'),
        ('material = "quartz"\n', 'key "scan" is missing'),
        ('scan = "gone.ply"\nmaterial = "quartz"\n', 'key "scan": .*there is no such file'),
        ('scan = "piece.toml"\nmaterial = "quartz"\n', 'key "scan" names a TOML file'),
        ('scan = "piece.ply"\nmaterial = "quarts"\n', 'key "material": .*did you mean "quartz"'),
        ("", "is missing"),
    ],
)
def test_what_must_be_there(text: str, said: str, folder: Path) -> None:
    path = folder / "piece.toml"
    path.write_text(text)
    with pytest.raises(InputError, match=said):
        load_rough(path)


def test_a_rough_file_that_is_no_text(folder: Path) -> None:
    (folder / "piece.toml").write_bytes(b"scan = \xff\xfe")
    with pytest.raises(InputError, match=r"piece\.toml: is not text in UTF-8"):
        load_rough(folder / "piece.toml")
    with pytest.raises(InputError, match=r"gone\.toml: there is no such file"):
        load_rough(folder / "gone.toml")


@given(data=st.binary(max_size=200))
def test_random_bytes_as_rough_file_are_refused(
    data: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "random.toml"
    path.write_bytes(data)
    with pytest.raises(InputError) as error:
        load_rough(path)
    assert "\n" not in str(error.value)


names = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), min_size=1, max_size=12)
numbers = st.floats(-1e3, 1e3)
planes = st.builds(
    lambda p, n: Plane.through(np.array(p), np.array(n)),
    st.tuples(numbers, numbers, numbers),
    st.tuples(numbers, numbers, numbers).filter(lambda n: np.linalg.norm(n) > 1e-6),
)
colours = st.builds(Colour, names, st.from_regex(r"\A#[0-9a-f]{6}\Z"))


@given(
    facts=st.fixed_dictionaries(
        {},
        optional={
            "scan_error_mm": st.floats(0.0, 1.0),
            "weighed_ct": st.floats(0.01, 1e4),
            "parent": names,
            "zones": st.lists(
                st.builds(Zone, names, planes, colours, colours),
                max_size=3,
                unique_by=lambda z: z.name,
            ),
            "reference_faces": st.lists(
                st.builds(ReferenceFace, names, planes), max_size=3, unique_by=lambda f: f.name
            ),
        },
    )
)
def test_a_written_rough_file_reads_back_the_same(
    facts: dict[str, Any], tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.getbasetemp()
    write_ply(folder / "piece.ply", plain_box())
    axis = np.array([0.6, 0.0, 0.8])
    piece = replace(
        load_rough(folder / "piece.ply", unit="mm", rough_table={"material": "quartz"}),
        optic_axis=axis, growth_axis=-axis, cleavage=(axis, np.array([0.0, 1.0, 0.0])), **facts,
    )  # fmt: skip
    save_rough(piece, folder / "offcut.toml")
    rough = load_rough(folder / "offcut.toml")
    assert rough.mesh.vertices.tobytes() == plain_box().vertices.tobytes()
    assert rough.scan_error_mm == facts.get("scan_error_mm", 0.02)
    assert rough.weighed_ct == facts.get("weighed_ct")
    assert rough.parent == facts.get("parent")
    np.testing.assert_allclose(rough.optic_axis, axis, atol=1e-15)
    np.testing.assert_allclose(rough.growth_axis, -axis, atol=1e-15)
    np.testing.assert_allclose(rough.cleavage, [axis, [0.0, 1.0, 0.0]], atol=1e-15)
    for read, written in (
        *zip(rough.zones, facts.get("zones", []), strict=True),
        *zip(rough.reference_faces, facts.get("reference_faces", []), strict=True),
    ):
        assert read.name == written.name
        np.testing.assert_allclose(read.plane.normal, written.plane.normal, atol=1e-15)
        assert read.plane.offset == pytest.approx(written.plane.offset, abs=1e-12)
    for read_zone, zone in zip(rough.zones, facts.get("zones", []), strict=True):
        assert (read_zone.towards, read_zone.away) == (zone.towards, zone.away)
