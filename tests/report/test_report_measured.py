"""A piece that was measured by hand: said in plan.json, on the page and in the terminal."""

import re
from dataclasses import replace

import pytest

from optimizer.plan_model import Plan
from optimizer.report.document import plan_file
from optimizer.report.page import page_html
from optimizer.report.scene import scene_of
from optimizer.report.sections.certainty import certainty
from optimizer.report.sections.piece import piece
from optimizer.report.summary import summary
from optimizer.rough.check import describe
from optimizer.rough.model import Flaw, Readings

NOTES = ("frame: z runs along the boule", "its ends are < 3 mm & flat")


@pytest.fixture
def measured(plan: Plan) -> Plan:
    rough = replace(plan.rough, scan="boule.toml", readings=Readings("split boule", NOTES))
    return replace(plan, rough=rough)


def test_plan_json_tells_form_and_notes(measured: Plan, plan: Plan) -> None:
    document = plan_file(measured).values()
    assert document["rough"]["scan"] == "boule.toml"
    assert document["rough"]["measured"] == {"form": "split boule", "notes": list(NOTES)}
    assert plan_file(plan).values()["rough"]["measured"] is None


def test_page_and_terminal_say_so(measured: Plan, plan: Plan) -> None:
    said = "not scanned but built from readings of a split boule"
    told = certainty(scene_of(measured))
    assert said in told
    assert "its ends are &lt; 3 mm &amp; flat" in told
    assert any(said in line for line in summary(measured))
    assert "The rough as it was measured by caliper" in piece(scene_of(measured))
    assert "The rough as it was scanned" in piece(scene_of(plan))
    assert "not scanned" not in certainty(scene_of(plan))
    assert not any("not scanned" in line for line in summary(plan))


def scans_named(text: str) -> list[str]:
    """Where a text speaks of a scan, but for the key of the rough file and the plain denial."""
    text = re.sub(r"<(script|style|svg).*?</\1>|<[^>]*>", " ", text, flags=re.S)
    text = text.replace("scan_error_mm", "").replace("was not scanned", "")
    return re.findall(r".{0,60}\bscan.{0,40}", text, flags=re.I)


def test_no_page_speaks_of_the_scan_of_a_piece_that_has_none(measured: Plan) -> None:
    at = measured.rough.mesh.vertices.mean(axis=0, keepdims=True)
    flaw = Flaw("bubble", at, None, 0.0, 0.1, 0.1)
    rough = replace(measured.rough, flaws=(flaw,))
    plan = replace(measured, rough=rough, warnings=())
    assert scans_named("the <b>scan</b> may be off") != []
    assert scans_named(page_html(scene_of(plan))) == []
    assert scans_named("\n".join(summary(plan))) == []
    assert scans_named("\n".join(describe(plan.rough))) == []
