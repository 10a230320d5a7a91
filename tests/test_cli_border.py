"""What the command refuses at its border, in one line and before any long work."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
import shapes
from command import Run, refused
from rough_tables import level_face, split_zone

from optimizer.rough import write_ply
from optimizer.wording.visible import is_visible

ROUGH = f"""\
scan = "{{scan}}"
material = "quartz"
{split_zone("violet", "yellow")}{level_face("base", -5)}"""


def rough_file(folder: Path, more: str = "", scan: str = "piece.stl", top: str = "") -> Path:
    """A rough file whose scan is no scan: whoever reads it says so."""
    (folder / "piece.stl").write_bytes(b"no scan")
    path = folder / "piece.toml"
    path.write_text(top + ROUGH.replace("{scan}", scan) + more)
    return path


@pytest.mark.parametrize(
    ("order", "said"),
    [
        ("", "too few for an STL file"),  # so the names below are looked up before that
        ('design = "ovel"', 'did you mean "oval"'),
        ("[parameters]\ncrwn = 35", 'did you mean "crown"'),
        (
            'design = "oval"\n[parameters]\ncrown = 80',
            "order.toml: [parameters] oval: crown is 80; it",
        ),
        ('design = "oval"\nparameters = { crown = 1e9 }', "between 30 and 42"),
        ('[zone]\nname = "splt"\ncolour = "violet"\noffset = 0', 'did you mean "split"'),
        ('[zone]\nname = "split"\ncolour = "violt"\noffset = 0', 'did you mean "violet"'),
        ('[look]\nzone = "x"\ncolour = "y"\nface_percent = [9, 99]', 'names the zone "x"'),
        ('[[wanted]]\nname = "a"\ndesign = "ovl"', 'the wanted "a": no design is named'),
        ('[[prices]]\ndesign = "ovl"\nper_carat = [[0, 1]]\n[several]', 'did you mean "oval"'),
    ],
)
def test_names_in_an_order_are_looked_up_before_the_scan_is_read(
    run: Run, tmp_path: Path, order: str, said: str
) -> None:
    path = tmp_path / "order.toml"
    path.write_text(order)
    out = tmp_path / "out"
    refused(run("plan", rough_file(tmp_path), path, "--out", out), said)
    assert not out.exists()


@pytest.mark.parametrize(
    ("top", "more", "said"),
    [
        ("", "", "too few for an STL file"),
        ("", "[[flaws]]\nname = 'x'\nmesh = 'gone.ply'", 'in the first [[flaws]], key "mesh": '),
        ("", "[[flaws]]\nname = 'x'\npoint_mm = { bas = 1, a = 2, b = 3 }", 'mean "base"'),
        ("optic_axis = { square_to = 'bsae' }\n", "", 'key "optic_axis.square_to" names the face'),
        ("cleavage = [{ along_edge = ['base', 'a'] }]\n", "", 'names the face "a"'),
        ("optic_axis = { square_to = 'flat 3' }\n", "", "too few for an STL file"),
        ("unit = 'inch'\n", "", "must be 'um', 'mm', 'cm', 'm' or 'in'"),
    ],
)
def test_names_in_a_rough_file_are_looked_up_before_its_scan_is_read(
    run: Run, tmp_path: Path, top: str, more: str, said: str
) -> None:
    refused(run("check", rough_file(tmp_path, more, top=top)), said)


def test_a_misspelt_species_zone_or_design_to_look_at_needs_no_scan(
    run: Run, tmp_path: Path
) -> None:
    path = rough_file(tmp_path)
    refused(run("look", "oval", "--piece", path, "--zone", "split"), "too few for an STL")
    refused(run("look", "oval", "--piece", path, "--zone", "splt"), 'did you mean "split"')
    refused(run("look", "ovel", "--piece", path), 'did you mean "oval"')
    refused(run("look", "oval", "--piece", path, "--set", "crwn=3"), 'no parameter "crwn"')
    path.write_text(path.read_text().replace("quartz", "quarz"))
    refused(run("check", path), 'did you mean "quartz"')


def test_a_size_that_is_no_piece_is_told_before_any_work(run: Run, tmp_path: Path) -> None:
    write_ply(tmp_path / "piece.ply", shapes.scaled(shapes.box(), 1.8))
    said = refused(run("check", tmp_path / "piece.ply", "--unit", "um"))
    assert said.startswith("piece.ply: the piece is 0.018 mm long: check the unit (mm (18 mm)")


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (("check", ""), "'ROUGH': the name is empty (see kerfwise check --help)"),
        (("check", "x.ply", "--out", ""), "'--out': the name is empty"),
        (("order", "--out", ""), "'--out': the name is empty"),
        (("look", "oval", "--piece", ""), "'--piece': the name is empty"),
        (("plan", "x.ply", "--out", "x", "--gap", "nan"), "(see kerfwise plan --help)"),
        (("check", "/dev/null/x/"), "there is no such file"),
        (("check", "pyproject"), "there is no such file"),
    ],
)
def test_a_name_that_is_none_is_refused_at_once(run: Run, call: tuple[str, ...], said: str) -> None:
    refused(run(*call), said)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device here")
def test_help_that_a_full_disk_does_not_take_is_no_success() -> None:
    with open("/dev/full", "wb") as full:
        ran = subprocess.run(
            (sys.executable, "-m", "optimizer", "--help"), stdout=full, stderr=subprocess.PIPE,
            check=False,
        )  # fmt: skip
    assert ran.returncode == 2
    assert ran.stderr.startswith(b"kerfwise: what was asked for can't be printed (No space left")
    assert ran.stderr.count(b"\n") == 1


def test_a_scan_without_an_ending_is_told_so(run: Run, tmp_path: Path) -> None:
    (tmp_path / "scan").touch()
    refused(run("check", tmp_path / "scan"), "the name has no ending that tells the scan format")


def test_a_design_named_twice_is_refused(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "order.toml"
    path.write_text('design = ["oval", "pear", "oval"]')
    said = refused(run("plan", rough_file(tmp_path), path, "--out", tmp_path / "out"))
    assert said.endswith('key "design" names "oval" twice; name each design once')


ESCAPES = "a\x1b[31m\x1b]0;title\x07\u202eb"


@pytest.mark.parametrize(
    "call",
    [
        ("designs", ESCAPES), ("look", ESCAPES), ("check", f"{ESCAPES}.ply"), (ESCAPES,),
        ("check", "x.ply", "--unit", ESCAPES), ("check", f"--{ESCAPES}"),
        ("look", "oval", "--colour", ESCAPES), ("look", "oval", "--set", f"{ESCAPES}=1"),
    ],
)  # fmt: skip
def test_no_name_commands_the_terminal(run: Run, call: tuple[str, ...]) -> None:
    said = refused(run(*call))
    assert all(map(is_visible, said))
    assert "\\x1b[31m" in said or "x.ply" in said


def test_a_file_name_that_commands_a_terminal_is_shown_escaped(run: Run, tmp_path: Path) -> None:
    write_ply(tmp_path / f"{ESCAPES}.ply", shapes.box())
    said = run("check", tmp_path / f"{ESCAPES}.ply").out
    assert said.startswith("scan: a\\x1b[31m\\x1b]0;title\\x07\\u202eb.ply, 12 triangles")
    assert all(map(is_visible, said.replace("\n", "")))


def test_a_name_of_many_letters_is_cut_short(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "order.toml"
    path.write_text(f'design = "{"long " * 20_000}"')
    said = refused(run("plan", rough_file(tmp_path), path, "--out", tmp_path / "out"))
    assert said.endswith("must end in .toml)")
    assert len(said) < 500
