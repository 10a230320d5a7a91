"""Every bad reading is refused in one line that names the file, the place and the fault."""

from collections.abc import Callable
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.rough import load_rough
from optimizer.rough.check import describe
from optimizer.rough.model import Rough

Load = Callable[..., Rough]

BLOCK = 'form = "block"\nlength_mm = 24\nwidth_mm = 18\nheight_mm = 12\n'
PEBBLE = 'form = "pebble"\nlength_mm = 22\nwidth_mm = 17\nheight_mm = 11\n'
PRISM = 'form = "crystal"\nsection = "hexagonal"\nacross_flats_mm = 12\nlength_mm = 30\n'
TRIGONAL = PRISM.replace("hexagonal", "trigonal").replace("across_flats_mm", "side_mm")
SLAB = 'form = "slab"\nthickness_mm = 8\n'


def boule(*rows: str, kind: str = "boule") -> str:
    inner = ", ".join("{ " + row + " }" for row in rows)
    return f'form = "{kind}"\nstations = [{inner}]\n'


ROUND = boule("at_mm = 0, diameter_mm = 12", "at_mm = 9, diameter_mm = 14")


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ("", 'key "form" is missing; known: block'),
        ('form = "bule"', '"bule" is no form known here; did you mean "boule"?'),
        ("form = 3", "no form known here"),
        (BLOCK.replace("24", "-2"), 'key "length_mm" must be from 0.01 to 1000 mm, got -2'),
        (BLOCK.replace("24", "0"), "must be from 0.01 to 1000 mm, got 0"),
        (BLOCK.replace("24", "nan"), 'key "measured.length_mm" must be a finite number, got nan'),
        (BLOCK.replace("24", "1" + 400 * "0"), "is too large a number, of some 400 digits"),
        (BLOCK + "angles_deg = { base_front = 1e-9 }", "has angles_deg that meet in no corner"),
        (BLOCK.replace("24", "inf"), "must be a finite number, got inf"),
        (BLOCK.replace("24", "[24, -1]"), "got -1"),
        (BLOCK.replace("24", "[]"), "must be a number or a list of numbers"),
        (BLOCK.replace("24", "true"), "must be a number or a list of numbers, got true"),
        (BLOCK.replace("24", '"24"'), "must be a number or a list of numbers"),
        (BLOCK.replace("length_mm = 24\n", ""), 'key "length_mm" is missing; add it, for one'),
        (BLOCK + "depth_mm = 3", 'key "depth_mm" is not known'),
        (BLOCK + "weighed_ct = 40", 'key "weighed_ct" is about the piece, not its readings'),
        (BLOCK + "reading_error_mm = 0", 'key "reading_error_mm" must be above 0'),
        (BLOCK + "reading_error_mm = -0.1", "must be above 0"),
        (BLOCK + "angles_deg = { base_front = 180 }", 'key "angles_deg.base_front" must be below'),
        (BLOCK + "angles_deg = { base_back = 90 }", 'key "angles_deg.base_back" is not known'),
        (boule("at_mm = 0, diameter_mm = 12"), 'key "stations" must hold at least 2'),
        (boule("at_mm = 0, diameter_mm = 9", "at_mm = 0, diameter_mm = 9"), "station 2 at 0 mm"),
        (boule("at_mm = 5, diameter_mm = 9", "at_mm = 4, diameter_mm = 9"), "not beyond the one"),
        (boule("at_mm = nan, diameter_mm = 9", "at_mm = 4, diameter_mm = 9"), "must be a finite"),
        (boule("at_mm = 0, diameter_mm = 9", "at_mm = 4, diametre_mm = 9"), '"diameter_mm"'),
        (ROUND + 'far_end = { form = "dome" }', 'key "far_end" is a dome: add its height_mm'),
        (ROUND + "far_end = { height_mm = 3 }", "is flat and has a height_mm"),
        (ROUND + 'far_end = { form = "cone" }', "must be 'flat', 'dome' or 'point'"),
        (ROUND + 'far_end = { form = "dome", height_mm = 15 }', "far_end 15 mm high, but its last"),
        (
            boule(
                "at_mm = 0, width_mm = 9, thickness_mm = 10", "at_mm = 9, width_mm = 9",
                kind="split boule",
            ),
            "the first [[stations]] has a thickness of 10 mm, more than its width",
        ),
        (PRISM.replace("hexagonal", "round"), 'key "section" must be'),
        (PRISM + "across_corners_mm = 13", "give either across_flats_mm or across_corners_mm"),
        (PRISM + "side_mm = 6", "give either across_flats_mm or across_corners_mm"),
        (PRISM.replace("hexagonal", "trigonal"), "give side_mm and other_side_mm"),
        (TRIGONAL + "other_side_mm = -1", "must be from 0.01 to 1000 mm, got -1"),
        (PRISM + 'far_end = { form = "pyramid" }', "add its height_mm or its angle_deg"),
        (PRISM + 'far_end = { form = "pyramid", angle_deg = 90 }', "must be above 90"),
        (PRISM + 'far_end = { form = "pyramid", height_mm = 30 }', "leave nothing of the prism"),
        (PRISM + 'far_end = { form = "broken", uneven_mm = 31 }', "leave nothing of the prism"),
        (PRISM + 'far_end = { form = "broken" }', "add uneven_mm"),
        (PRISM + "far_end = { uneven_mm = 3 }", 'has uneven_mm, which is for a broken end'),
        (PRISM + "far_end = { height_mm = 3 }", 'is "sawn" and has a pyramid\'s height_mm'),
        (
            PRISM + 'far_end = { form = "pyramid", angle_deg = 135, height_mm = 6 }',
            "by its angle ends in a point at 6.00 mm",
        ),
        (SLAB, "must have either outline_mm or outline_file"),
        (SLAB + "outline_mm = [[0, 0], [9, 0]]", 'key "outline_mm" must hold at least 3'),
        (SLAB + "outline_mm = [[0, 0], [9, 0], [9]]", 'third of "outline_mm" must'),
        (SLAB + "outline_mm = [[0, 0], [9, 0], [9, nan]]", 'second of the third of'),
        (SLAB + "outline_mm = [[0, 0], [9, 9], [9, 0], [0, 9]]", "crosses or touches itself"),
    ],
)  # fmt: skip
def test_bad_readings(readings: str, said: str, measured: Load) -> None:
    with pytest.raises(InputError) as caught:
        measured(readings)
    message = str(caught.value)
    assert said in message
    assert message.startswith("piece.toml: ")
    assert "measured" in message
    assert "\n" not in message


@pytest.mark.parametrize(
    ("beside", "said"),
    [
        ('scan = "piece.ply"', "scan and [measured] are both given; keep one"),
        ('unit = "cm"', 'key "unit" is for a scan; readings are in millimetres: drop it'),
        ("mm_per_unit = 10", 'key "mm_per_unit" is for a scan'),
        ("scan_error_mm = 0.1", "the error of the readings is reading_error_mm: drop it"),
        (
            '[[reference_faces]]\nname = "top"\npoint_mm = [0, 0, 0]\nnormal = [0, 0, 1]',
            'reference face "top" bears the name of one that the form gives',
        ),
    ],
)
def test_keys_that_do_not_go_with_readings(beside: str, said: str, measured: Load) -> None:
    with pytest.raises(InputError) as caught:
        measured(BLOCK, beside)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        (
            'form = "pebble"\nlength_mm = 21\nwidth_mm = 16\nheight_mm = 14\nshape_error_mm = 9',
            "errors that sum to 9.05 mm, half of the piece's least dimension (14 mm) or more: "
            "check height_mm and shape_error_mm, and readings of one dimension that differ",
        ),
        (BLOCK.replace("12", "9") + "reading_error_mm = 5.0", "height_mm and reading_error_mm"),
        (BLOCK + "angle_error_deg = 10\nreading_error_mm = 4.0", "check height_mm and reading"),
        (
            'form = "pebble"\nlength_mm = 1000\nwidth_mm = 0.01\nheight_mm = 0.01',
            "makes the piece 0.01 mm thick and 1000 mm long, too thin to cut: check width_mm",
        ),
        (
            SLAB.replace("8", "0.01") + "outline_mm = [[0, 0], [9, 0], [9, 9], [0, 9]]",
            "(0.01 mm) or more: check thickness_mm and reading_error_mm",
        ),
        (
            SLAB.replace("8", "0.01") + "outline_mm = [[0, 0], [20, 0], [20, 9], [0, 9]]",
            "makes the piece 0.01 mm thick and 20 mm long, too thin to cut: check thickness_mm",
        ),
        (
            boule("at_mm = 0, diameter_mm = 0.05", "at_mm = 9, diameter_mm = 0.05"),
            "(0.05 mm) or more: check stations and reading_error_mm",
        ),
    ],
)  # fmt: skip
def test_errors_as_large_as_the_piece_and_hairs_are_told_by_key(readings, said, measured):
    with pytest.raises(InputError) as caught:
        measured(readings)
    assert str(caught.value).startswith("piece.toml: [measured] ")
    assert said in str(caught.value)


def test_an_error_is_worth_no_more_than_the_piece(measured):
    rough = measured(PEBBLE + "shape_error_mm = 5")
    worth = f"worth {rough.carat:.3f} ct over the whole surface"
    assert any(worth in line for line in describe(rough))


def test_a_pebble_that_cannot_weigh_so_much_is_refused(measured: Load) -> None:
    for carat in (5.0, 54.0):
        with pytest.raises(InputError, match="has diameters that don't fit the weight") as caught:
            measured(PEBBLE, f"weighed_ct = {carat}")
        assert "ct): check readings, material and balance" in str(caught.value)
    measured(PEBBLE, "weighed_ct = 30")


def test_a_unit_in_the_call_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "piece.toml"
    path.write_text(f'material = "quartz"\n[measured]\n{BLOCK}')
    with pytest.raises(InputError, match="readings are in millimetres; drop --unit"):
        load_rough(path, unit="cm")
    assert load_rough(path, unit="mm").volume_mm3 == pytest.approx(24 * 18 * 12)


def test_an_order_cannot_measure_a_mesh(tmp_path: Path) -> None:
    table = {"material": "quartz", "measured": {"form": "block"}}
    with pytest.raises(InputError, match='key "measured" is for a rough file'):
        load_rough(tmp_path / "piece.ply", rough_table=table)


def test_a_rough_file_of_nothing_says_both_ways(tmp_path: Path) -> None:
    path = tmp_path / "piece.toml"
    path.write_text('material = "quartz"\n')
    with pytest.raises(InputError, match=r"name the scan file.*or give caliper readings"):
        load_rough(path)
    path.write_text('material = "quartz"\nmeasured = 3\n')
    with pytest.raises(InputError, match='key "measured" must be a table'):
        load_rough(path)


def test_the_default_error_is_stated_and_the_weight_is_checked(tmp_path: Path) -> None:
    path = tmp_path / "piece.toml"
    path.write_text(f'material = "quartz"\nweighed_ct = 60\n[measured]\n{BLOCK}angle_error_deg = 0')
    rough = load_rough(path)
    assert rough.scan_error_mm == 0.1
    assert "no error of the readings is stated: 0.1 mm is taken" in rough.warnings[0]
    assert any("more than the 60.000 ct weighed" in warning for warning in rough.warnings)
