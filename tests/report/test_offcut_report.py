"""Offcuts on their labels, in the page and on the terminal."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from optimizer.mesh import Plane
from optimizer.offcuts.sizes import with_sizes
from optimizer.placement.search import QUIET
from optimizer.plan_model import Plan
from optimizer.report.label import label_of, label_svg
from optimizer.report.offcut_words import balance_line, offcut_lines
from optimizer.report.scene import scene_of
from optimizer.report.sections.offcuts import offcuts
from optimizer.report.summary import summary


@pytest.fixture(scope="module")
def sized(plan: Plan) -> Plan:
    return with_sizes(plan, QUIET)


def texts(svg: str) -> list[str]:
    return [node.text or "" for node in ET.fromstring(svg).iter() if node.tag.endswith("text")]


def test_a_label_is_50_by_30_mm_and_tells_what_the_piece_is(sized: Plan) -> None:
    offcut = sized.sawing.offcuts[0]
    svg = label_svg(label_of(sized, offcut))
    root = ET.fromstring(svg)
    assert (root.get("width"), root.get("height")) == ("50mm", "30mm")
    told = texts(svg)
    assert told[0].endswith(" mm")  # the rule's
    assert told[1:5] == ["Offcut 02", f"{offcut.carat:.2f} ct", "quartz", "10.0 × 9.0 × 7.8 mm"]
    assert any(offcut.fittings[0].name in line for line in told)
    assert "of box; by volume" in told
    assert "faces: sawn face of cut 1, base, far end" in told
    assert "split: violet" in told  # the cut at x = 2 leaves x > 2.2, the boundary is at -4.5
    assert "http" not in svg.replace("http://www.w3.org/2000/svg", "")


def test_a_label_lists_the_colours_that_its_piece_has(sized: Plan) -> None:
    """The offcut reaches from x = 2.2 to 10 in the box's own frame."""
    for x, said in ((-4.5, "violet"), (6.0, "violet | yellow"), (12.0, "yellow")):
        zone = sized.rough.zones[0]
        moved = Plane(zone.plane.normal, zone.plane.offset + x + 4.5)
        rough = replace(sized.rough, zones=(replace(zone, boundary=moved),))
        told = texts(label_svg(label_of(replace(sized, rough=rough), sized.sawing.offcuts[0])))
        assert f"split: {said}" in told


def test_the_optic_axis_is_told_against_the_picture(sized: Plan) -> None:
    """The axis runs along the box's length, here the offcut's shortest way: 7.8 mm of 20."""
    told = texts(label_svg(label_of(sized, sized.sawing.offcuts[0])))
    assert "optic axis: 90° off page" in told


def test_long_and_strange_names_stay_on_the_label(sized: Plan) -> None:
    rough = replace(sized.rough, scan="<b>&" + "very-long-" * 20 + ".ply")
    told = texts(label_svg(label_of(replace(sized, rough=rough), sized.sawing.offcuts[0])))
    (line,) = (line for line in told if line.startswith("of <b>&"))
    assert line.endswith("…")
    assert len(line) < 60


def test_weights_add_up_in_words(sized: Plan) -> None:
    """Closed form: the kerf takes 0.4 x 10 x 9 mm³ of the box."""
    per_mm3 = sized.rough.material.sg / 200.0
    piece, offcut, kerf = 11.8 * 90.0 * per_mm3, 7.8 * 90.0 * per_mm3, 0.4 * 90.0 * per_mm3
    assert balance_line(sized) == (
        f"Of {1800.0 * per_mm3:.2f} ct of rough, {piece:.2f} ct are pieces for stones, "
        f"{offcut:.2f} ct offcuts, 0.00 ct waste, and the blade removes {kerf:.2f} ct."
    )


def test_what_was_not_looked_into_is_said(plan: Plan, sized: Plan) -> None:
    (told,) = offcut_lines(sized)
    assert told.startswith("Offcut 02, ")
    assert "could still give" in told
    assert "may have been missed" in told
    (told,) = offcut_lines(plan)
    assert "not searched for stones: 02" in told
    assert told in summary(plan)


def test_the_page_shows_row_and_label(sized: Plan) -> None:
    html = offcuts(scene_of(sized))
    assert sized.sawing.offcuts[0].fittings[0].name in html
    assert html.count("<svg") == 1
    assert 'width="50mm"' in html
