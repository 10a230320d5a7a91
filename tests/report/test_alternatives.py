"""Alternatives in plan.json, in the folder, on the page and on the terminal."""

import json
from dataclasses import replace

import pytest

from optimizer.optics.figures import LightFigures, ZoneFigures
from optimizer.order import LookDemand, Order
from optimizer.plan_model import Alternative
from optimizer.planning.look_wishes import differs, look_wishes
from optimizer.planning.looks import with_looks
from optimizer.report import summary, write_plan
from optimizer.report.document import plan_file
from optimizer.report.page import page_html
from optimizer.report.scene import scene_of

pytestmark = pytest.mark.usefixtures("small_search")

SENTENCE = "Heavier: 2.00 ct, 0.74 ct more than the plan."


@pytest.fixture(scope="module")
def both(plan, small_search):
    """A plan with itself as the alternative."""
    plan = with_looks(plan, brief=True)
    other = replace(plan, effort="quick")
    return replace(plan, effort="quick", alternatives=(Alternative("heavier", SENTENCE, other),))


@pytest.fixture(scope="module")
def folder(both, tmp_path_factory):
    out = tmp_path_factory.mktemp("plan") / "out"
    write_plan(both, out)
    return out


def test_its_files_lie_where_plan_json_says(folder):
    document = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    (other,) = document["alternatives"]
    named = [part[key] for kind in ("stones", "pieces", "offcuts") for part in other[kind]
             for key in ("mesh", "rough_file") if key in part]  # fmt: skip
    named += [stone["look"]["picture"] for stone in other["stones"]]
    assert all((folder / name).is_file() for name in named)
    own = [name for name in named if name != "rough.ply"]
    assert own
    assert all(name.startswith("alternatives/01/") for name in own)
    assert {key: other[key] for key in ("cuts", "total_carat", "objective")} == {
        key: document[key] for key in ("cuts", "total_carat", "objective")
    }


def test_it_is_told_on_the_page_and_the_terminal(both, folder):
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert 'id="alternatives"' in page
    assert SENTENCE in page
    assert f"- {SENTENCE}" in summary(both)


def test_a_plan_without_has_none(plan):
    assert plan_file(plan).values()["alternatives"] == []
    assert 'id="alternatives"' not in page_html(scene_of(plan))


LIGHT, ZONE = LightFigures(0.5, 0.1, 0.1, 0.5), ZoneFigures(0.5, (0.5, 0.5), (0.75, 0.25))


def kinds(several):
    return [wish.kind for wish in several]


def test_what_is_wished_for_instead():
    look = LookDemand("a", "b", face_percent=(40.0, 60.0), balance_of_ends=0.3)
    asked = {wish.kind: wish.order for wish in look_wishes(Order(look=look), (LIGHT, ZONE))}
    assert list(asked) == ["heavier", "brighter", "more even"]
    assert asked["heavier"].look is None
    assert asked["more even"].look.balance_of_ends == pytest.approx((1.0 / 3.0 + 1.0) / 2.0)
    assert asked["brighter"].look == replace(look, light_return_percent=52.0)
    fixed = Order(parameters={"crown": 30.0, "pavilion": 41.0}, look=look)
    assert "brighter" not in kinds(look_wishes(fixed, (LIGHT, ZONE)))
    light_alone = Order(look=LookDemand(window_percent=5))
    assert kinds(look_wishes(light_alone, (LIGHT, None))) == ["heavier", "brighter"]


def test_only_what_differs_is_told():
    other = replace(ZONE, ends=(0.5, 0.5))
    look = LookDemand("split", "violet", balance_of_ends=0.3)
    told = differs(("brighter", "more even"), 1.5, (LIGHT, other), 2.0, (LIGHT, ZONE), look)
    assert told == (
        "Brighter and more even: 1.50 ct, 0.50 ct less than the plan; balance of the ends 1.00 "
        "instead of 0.33."
    )
    apart = LookDemand("split", "violet", difference_of_ends=0.3)
    told = differs(("heavier",), 2.5, (LIGHT, other), 2.0, (LIGHT, ZONE), apart)
    assert told.endswith("than the plan; difference of the ends 0.00 instead of 0.50.")
    bluer = replace(ZONE, share=0.6)
    told = differs(("heavier",), 2.5, (LIGHT, bluer), 2.0, (LIGHT, ZONE), look)
    assert told == (
        "Heavier: 2.50 ct, 0.50 ct more than the plan; violet on the face 60 % instead of 50 %."
    )
