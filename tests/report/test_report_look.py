"""The look in plan.json, in the page and as a picture; carried on by an offcut's rough file."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from optimizer.offcuts.piece_rough import offcut_rough
from optimizer.plan_model import Plan
from optimizer.planning.looks import with_looks
from optimizer.report.document import plan_file
from optimizer.report.files import _write_faces
from optimizer.report.scene import Scene
from optimizer.report.sections.look import look
from optimizer.report.summary import summary
from optimizer.rough import load_rough
from optimizer.rough.model import Colour, Slice
from optimizer.rough.rough_file.save import save_rough

VIOLET = Colour("violet", "#8a5cc2", (Slice("#8a5cc2", 9.0), Slice("#b59adb", 3.0)))


@pytest.fixture(scope="module")
def looked(plan: Plan) -> Plan:
    zone = replace(plan.rough.zones[0], towards=VIOLET)
    rough = replace(plan.rough, zones=(zone,))
    return with_looks(replace(plan, rough=rough, effort="quick"), brief=True)


def test_the_document_holds_each_turn(looked: Plan) -> None:
    told = plan_file(looked).values()["stones"][0]["look"]
    assert (told["picture"], told["boundary"], told["colour"]) == (
        "face-up/01.png", "split", "violet",
    )  # fmt: skip
    assert [one["turned_deg"] for one in told["seen"]] == [
        [0, 0], [-20, 0], [20, 0], [0, -20], [0, 20],
    ]  # fmt: skip
    assert [(one["name"], one["at_mm"]) for one in told["colours"]] == [
        ("violet", 9.0), ("yellow", None),
    ]  # fmt: skip
    assert any("yellow" in note and "estimate" in note for note in told["notes"])


def test_the_other_colour_asked_for_is_told_first(looked: Plan) -> None:
    asked = looked.order.zone
    assert asked is not None
    order = replace(looked.order, zone=replace(asked, colour="yellow"))
    other = with_looks(replace(looked, order=order), brief=True).stones[0].look
    own = looked.stones[0].look
    assert own is not None
    assert other is not None
    assert other.colouring.first.name == "yellow"
    assert own.upright.zone is not None
    assert other.upright.zone is not None
    assert own.upright.zone.share + other.upright.zone.share == pytest.approx(1.0, abs=1e-9)


def test_page_terminal_and_folder_show_it(looked: Plan, tmp_path: Path) -> None:
    scene = Scene(looked, None, ())
    html = look(scene)
    assert html.count("data:image/png;base64,") == 2
    assert "How it looks" in html
    assert "Left out: double refraction" in html
    assert any(line.startswith("Seen face up: violet is ") for line in summary(looked))
    _write_faces(scene, tmp_path)
    picture = np.asarray(Image.open(BytesIO((tmp_path / "face-up/01.png").read_bytes())))
    assert picture.shape[1:] == (256, 3)


def test_without_a_look_nothing_is_said(plan: Plan, tmp_path: Path) -> None:
    assert look(Scene(plan, None, ())) == ""
    assert plan_file(plan).values()["stones"][0]["look"] is None
    _write_faces(Scene(plan, None, ()), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_other_boundaries_are_said_to_be_left_out(looked: Plan) -> None:
    zone = looked.rough.zones[0]
    rough = replace(looked.rough, zones=(zone, replace(zone, name="other")))
    said = 'follows the colour boundary "split" alone; the piece has 2'
    assert any(said in w for w in with_looks(replace(looked, rough=rough), brief=True).warnings)
    assert not any("alone; the piece" in warning for warning in looked.warnings)


def test_an_offcut_keeps_its_colours(looked: Plan, tmp_path: Path) -> None:
    offcut = looked.sawing.offcuts[0]
    save_rough(offcut_rough(looked.rough, looked.sawing, offcut), tmp_path / "02.toml")
    (zone,) = load_rough(tmp_path / "02.toml").zones
    assert (zone.towards, zone.away) == (VIOLET, looked.rough.zones[0].away)
