"""The page: self-contained, escaped, complete."""

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from handmade_plans import with_guidance
from shapes import icosphere

from optimizer.mesh import volume
from optimizer.report.page import page_html
from optimizer.report.scene import scene_of
from optimizer.report.sections import SECTIONS
from optimizer.report.views import all_views
from optimizer.rough.model import Repair

VOID = {"meta", "input", "br", "hr", "link", "img"}


class Page(HTMLParser):
    """Collects elements; fails where a tag is not closed."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.elements, self.open, self.inside = [], [], {}
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        for tag in self.open:
            self.inside[tag] = self.inside.get(tag, "") + data

    def having(self, tag, **wanted):
        return [a for t, a in self.elements if t == tag and wanted.items() <= a.items()]


@pytest.fixture(scope="module")
def text(plan):
    return page_html(scene_of(plan))


@pytest.fixture(scope="module")
def page(text):
    return Page(text)


def test_nothing_is_fetched(text, page):
    own = text.replace("http://www.w3.org/2000/svg", "")  # the name of SVG, not an address
    assert not re.search(r"https?://|//cdn|@import|\bimport\s*\(|fetch\(|XMLHttpRequest", own)
    assert not re.search(r"url\((?!#)", own)
    linked = [a for _, a in page.elements if {"src", "href", "srcset", "data"} & a.keys()]
    assert linked == page.having("img")
    assert all(a["src"].startswith("data:image/png;base64,") for a in linked)
    assert not page.having("link")
    assert not page.having("iframe")


def test_the_browser_is_told_to_fetch_nothing(page):
    policy = page.having("meta", **{"http-equiv": "Content-Security-Policy"})[0]["content"]
    assert "default-src 'none'" in policy
    assert "http" not in policy


def test_every_layer_has_a_box_and_a_label(plan, page):
    for layer in scene_of(plan).layers:
        boxes = page.having("input", type="checkbox", id=f"layer-{layer.key}")
        assert len(boxes) == 1
        assert ("checked" in boxes[0]) == layer.visible
        assert layer.name in page.inside["label"]
    assert len(page.having("input")) == len(scene_of(plan).layers)


def test_every_direction_of_look_has_a_button(plan, page):
    for index, _ in enumerate(all_views(plan)):
        assert page.having("button", id=f"view-{index + 1}")


def test_the_answer_comes_first(page):
    assert page.having("section")[0]["id"] == "answer"
    assert "1.26 ct" in page.inside["h1"]


def test_each_section_is_there_once(plan, page):
    keys = [a["id"] for a in page.having("section")]
    shown = [section for section in SECTIONS if section(scene_of(plan))]
    assert len(keys) == len(set(keys)) == len(shown)
    # of plans that were looked at, or have several stones
    assert not {"look", "look-map", "alternatives", "ways"} & set(keys)


def test_the_crystal_s_directions_are_shown_where_they_are_known(plan, text):
    assert "<dt>Optic axis to the table</dt><dd>0.0°</dd>" in text
    assert "<dt>Nearest facet to a cleavage plane</dt><dd>7.3° (table)</dd>" in text
    unknown = with_guidance(plan, direction=None)
    assert "Crystal in the stone" not in page_html(scene_of(unknown))


def test_ids_are_unique(page):
    ids = [a["id"] for _, a in page.elements if "id" in a]
    assert len(ids) == len(set(ids))


def test_text_is_escaped(text, page):
    assert "<cut>" not in text
    assert "Roof <cut>" in page.inside["h1"]


def hostile(plan):
    bad = "</script><script>alert(1)</script><img src=x>\"'&"
    zone = replace(plan.rough.zones[0], name=bad)
    marks = tuple(replace(mark, name=bad, text=bad) for mark in plan.stones[0].guidance.marks)
    return replace(
        with_guidance(plan, marks=marks, cautions=(bad,)),
        rough=replace(plan.rough, scan=bad, zones=(zone,), repairs=(Repair(bad),)),
        order=replace(plan.order, designs=(bad,), zone=replace(plan.order.zone, name=bad)),
        warnings=(bad,),
        audit=(bad,),
    )


def test_names_from_a_file_can_not_become_code(plan):
    page = Page(page_html(scene_of(hostile(plan))))
    assert len(page.having("script")) == 2
    assert all(image["src"].startswith("data:") for image in page.having("img"))
    json.loads(page.inside["script"].split("// A small WebGL 2")[0])


def test_what_a_cutter_needs_is_said(page):
    said = page.inside["main"]
    for words in (
        "9.00 × 6.00 × 3.36 mm",
        "a yield of 5.3 %",
        "8.00 mm",  # where cut 1 lies
        "piece 2 (offcut",
        "0.80 mm above the finished table",
        "24, 72",  # settings
        "41.50°",
        "56.0 %",  # violet
        "Cut sheet",
        "Error of the scan",
        "No plan with the designs covered can weigh more than 1.58 ct.",
        "The weighing and the scan differ by 0.2 %.",
        "Wet cutting, never dry.",
        "stone 1 lies inside the rough",
        "weighs 23.85 ct; on the scale it weighed 23.80 ct",
        "3 corners lay twice",
        "fewer triangles than the full model may have",
    ):
        assert words in said, words


def test_a_page_without_a_stone_says_why_and_what_fits(plan_without_stone):
    page = Page(page_html(scene_of(plan_without_stone)))
    said = page.inside["main"]
    assert page.inside["h1"] == "No stone was found for this order"
    assert "no proof that none exists" in said
    assert "width 30 to 30 mm" in said
    assert "Wear eye protection" in said
    assert {a["id"] for a in page.having("section")} == {
        "answer", "view", "sides", "cautions", "certainty", "piece", "asked", "checked",
    }  # fmt: skip


def test_an_early_stop_is_said(plan):
    assert "stopped early" in page_html(scene_of(replace(plan, interrupted=True)))


def test_a_dense_scan_keeps_the_page_small(plan):
    ball = icosphere(10.0, 6)  # 81,920 triangles
    rough = replace(plan.rough, mesh=ball, volume_mm3=volume(ball))
    assert len(page_html(scene_of(replace(plan, rough=rough)))) < 2_000_000


def test_a_range_of_density_is_told_only_where_there_is_one(plan):
    assert plan.rough.material.sg_range == (2.65, 2.65)
    assert "ct, because the scan may be off by" in page_html(scene_of(plan))
    garnet = replace(plan.rough.material, sg=3.7, sg_range=(3.65, 3.8))
    rough = replace(plan.rough, material=garnet, weighed_ct=None)  # a weighing narrows the range
    told = page_html(scene_of(replace(plan, rough=rough)))
    assert (
        "because specific gravity may lie between 3.65 and 3.8 and the scan may be off by" in told
    )
