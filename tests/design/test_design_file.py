"""Reading design files: what they say, and one clear line for each way to get them wrong."""

import math
import re
from pathlib import Path

import pytest

import optimizer
from optimizer.design import build_body, load_design
from optimizer.design.model import AngleRule, TouchRule
from optimizer.design.phrases import read_sentence, vocabulary
from optimizer.errors import InputError

README = Path(optimizer.__file__).parent.parent / "designs" / "README.md"

GOOD = """\
title = "Square table"
summary = "A square with one row of facets above and below."
gear = 96

[outline]
description = "a square"
shape = "straight"

[parameters]
length_to_width = { default = 1, low = 1, high = 1.5 }
crown = { default = 35, low = 30, high = 40 }
pavilion = { default = 42, low = 40, high = 45 }
table = { default = 0.6, low = 0.5, high = 0.7 }
girdle = { default = 0.03, low = 0.02, high = 0.05 }

[[tiers]]
name = "girdle side"
side = "girdle"
angle = 90
settings = [24, 72]
cut_to = "the width"

[[tiers]]
name = "girdle end"
side = "girdle"
angle = 90
settings = [0, 48]
cut_to = "the length"

[[tiers]]
name = "pavilion main"
side = "pavilion"
angle = { of = "pavilion", plus = 1.5, minus = 0.5 }
settings = [0, 24, 48, 72]
cut_to = "the girdle line"

[[tiers]]
name = "crown main"
side = "crown"
angle = { of = "crown" }
settings = [0, 24, 48, 72]
cut_to = "the girdle line"

[[tiers]]
name = "table"
side = "crown"
angle = 0
settings = [0]
cut_to = "the table share"
"""


def load_text(tmp_path, text):
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return load_design(path)


def test_a_file_of_ones_own_is_read_word_for_word(tmp_path):
    design = load_text(tmp_path, GOOD)
    assert (design.name, design.title, design.gear) == ("mine", "Square table", 96)
    assert design.parameters["crown"].low == 30.0
    rule = design.rules[2]
    assert (rule.name, rule.side, rule.settings) == ("pavilion main", "pavilion", (0, 24, 48, 72))
    assert rule.angle == AngleRule("pavilion", 1.0)
    assert rule.touches == (TouchRule("girdle line"),)
    assert load_design(str(tmp_path / "mine.toml")) == design


def test_a_file_of_ones_own_becomes_the_stone_it_states(tmp_path):
    """A square: a pyramid below, a band, a frustum above; volumes by school geometry."""
    body = build_body(load_text(tmp_path, GOOD))
    pavilion = math.tan(math.radians(43.0)) / 2.0 / 3.0  # 42 + 1.5 - 0.5 degrees
    crown = 0.2 * math.tan(math.radians(35.0)) / 3.0 * (1.0 + 0.6 + 0.36)
    assert body.unit_volume == pytest.approx(pavilion + 0.03 + crown, rel=1e-13)
    assert body.unit_extents[2] == pytest.approx(
        math.tan(math.radians(43.0)) / 2.0 + 0.03 + 0.2 * math.tan(math.radians(35.0)), rel=1e-13
    )
    assert len(body.rotations) == 4
    assert len(build_body(load_text(tmp_path, GOOD), {"length_to_width": 1.5}).rotations) == 2


WRONG = [
    ("gear = 96", "gear = 96.0", ['key "gear"', "a whole number", "96.0"]),
    ("gear = 96\n", "", ['key "gear" is missing', "add it"]),
    ("gear = 96", "gaer = 96", ['key "gaer" is not known', 'did you mean "gear"?']),
    ("title = ", "title = 7 #", ['key "title"', "must be text, got 7"]),
    (
        'shape = "straight"',
        'shape = "strait"',
        ["[outline]", "'straight', 'rounded', 'pear', 'egg' or 'bowed', got \"strait\""],
    ),
    ('shape = "straight"', 'shape = "rounded"', ["[outline]", '"fullness" is missing']),
    (
        'shape = "straight"',
        'shape = "rounded"\nfullness = 0.5',
        ["[outline]", "at least 1.2, got 0.5"],
    ),
    (
        'shape = "straight"',
        'shape = "pear"\nfullness = 2',
        ["[outline]", 'key "fullness" is not known'],
    ),
    (
        'shape = "straight"',
        'shape = "bowed"\ntips = [[0, 0], [1, 0], [0, 1]]\nbows = [0, 0]',
        ["[outline]", '"bows" has a number for each tip'],
    ),
    (
        'shape = "straight"',
        'shape = "bowed"\ntips = [[0, 0], [0, 1], [1, 0]]\nbows = [0, 0, 0]',
        ["[outline]", "no convex outline", "counter-clockwise"],
    ),
    (
        'shape = "straight"',
        'shape = "bowed"\ntips = [[0, 0], [1, 0], [0.4, 0.4], [0, 1]]\nbows = [0, 0, 0, 0]',
        ["[outline]", "no convex outline"],
    ),
    (
        'shape = "straight"',
        'shape = "straight"\ncalibrated = "ovl"',
        ["[outline]", "no calibrated sizes", '"ovl"', 'did you mean "oval"?'],
    ),
    ("[outline]", "[[outline]]", ['key "outline" must be a table']),
    ("table = {", "tabel = {", ["[parameters.table] is missing", "a tier is cut to it"]),
    ("default = 35", "default = 25", ["[parameters.crown]", "default 25", "low 30 and high 40"]),
    (
        "default = 35",
        "default = true",
        ["[parameters.crown]", 'key "default"', "a number, got true"],
    ),
    ("default = 35", "default = nan", ['"parameters.crown.default"', "finite number"]),
    ("default = 35", "defualt = 35", ["[parameters.crown]", 'did you mean "default"?']),
    ("high = 0.7", "high = 1.7", ["[parameters.table]", "0.05 and 0.95"]),
    ("[[tiers]]", "[[layers]]", ['key "layers" is not known', "tiers"]),
    ('name = "table"', 'label = "table"', ["tier 5", 'key "label" is not known', "name"]),
    ('name = "crown main"', 'name = "pavilion main"', ["pavilion main", "earlier tier has this"]),
    (
        'side = "pavilion"',
        'side = "pavillon"',
        ["pavilion main", "'pavilion' or 'crown', got \"pavillon\""],
    ),
    ("angle = 90", "angle = 89", ["girdle side", "angle = 90"]),
    ("angle = 0\n", "", ["table", "angle = 0"]),
    ('of = "crown"', 'of = "crwn"', ["crown main", "angle", 'did you mean "crown"?']),
    ("plus = 1.5", "add = 1.5", ["pavilion main", "angle", 'key "add" is not known', "plus"]),
    ('angle = { of = "crown" }\n', "", ["crown main", '"angle" is missing']),
    ("settings = [24, 72]", "settings = [24, 96]", ["girdle side", "from 0 to 95", "96"]),
    (
        "settings = [24, 72]",
        "settings = [24, 72.5]",
        ["girdle side", 'the second of "settings"', "a whole number, got 72.5"],
    ),
    ("settings = [24, 72]", "settings = [24, 24]", ["girdle side", "24 more than once"]),
    ("settings = [24, 72]", "settings = []", ["girdle side", 'key "settings"', "at least 1"]),
    (
        "settings = [24, 72]",
        'settings = "24-72"',
        ["girdle side", 'key "settings"', "be a list"],
    ),
    ("settings = [0]\n", "settings = [0, 24]\n", ["the table share", "settings = [0]"]),
    ('"the width"', '"the wdth"', ["girdle side", "cut_to", 'did you mean "the width"?']),
    ('"the width"', '"the girdle line"', ["girdle side", "crown and pavilion tiers only"]),
    ('"the width"', "3.5", ["girdle side", 'key "cut_to"', "got 3.5"]),
    ('"the table share"', '"the girdle line"', ["[parameters.table] is used by no tier"]),
    (
        'cut_to = "the table share"',
        'cut_to = "the slope of crown mian, 40 percent in"',
        ["table", 'no earlier crown tier is named "crown mian"', 'did you mean "crown main"?'],
    ),
    (
        'cut_to = "the table share"',
        'cut_to = "the slope of crown main, 140 percent in"',
        ["table", "140 percent in lies beyond the end"],
    ),
    (
        'cut_to = "the length"',
        'cut_to = "the corner share"',
        ["[parameters.corner] is missing"],
    ),
    ("[parameters]", "[table]\nedges = [0, 24]\n\n[parameters]", ["[table]", "at least 3"]),
    (
        "[parameters]",
        "[table]\nedges = [0, 24, 96]\n\n[parameters]",
        ["[table]", '"edges" takes whole numbers from 0 to 95'],
    ),
    (
        "[parameters]",
        "[table]\nedges = [0, 24, 48]\nends = [1]\n\n[parameters]",
        ["[table]", '"ends"'],
    ),
    ("[parameters]", '[finished]\nbottom = "pont"\n\n[parameters]', ["[finished]", "'point'"]),
    ('name = "crown main"', 'name = "main and break"', ["use another name"]),
    ('of = "crown" }', 'of = "crown", at = 3 }', ["crown main", "one of the settings"]),
    ('of = "crown" }', 'of = "crown", at = 24 }', ["crown main", "needs two sentences"]),
    ("\n[[tiers]]", "tilt = { default = 1, low = 0, high = 2 }\n[[tiers]]", ["tilt", "no tier"]),
]


@pytest.mark.parametrize(("old", "new", "said"), WRONG, ids=range(len(WRONG)))
def test_a_wrong_file_is_refused_in_one_line_that_says_where(tmp_path, old, new, said):
    assert old in GOOD
    with pytest.raises(InputError) as problem:
        load_text(tmp_path, GOOD.replace(old, new, 1))
    message = str(problem.value)
    assert "\n" not in message
    assert str(tmp_path / "mine.toml") in message
    for part in said:
        assert part in message


def test_two_sentences_and_an_angle_are_one_too_many(tmp_path):
    both = 'cut_to = ["the girdle line", "the girdle corner"]'
    text = GOOD.replace('cut_to = "the girdle line"', both)
    with pytest.raises(InputError, match=r'two sentences in "cut_to" fix the angle'):
        load_text(tmp_path, text)


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("none.toml", None, "there is no such file"),
        ("folder.toml", "folder", "is a folder"),
        ("binary.toml", b"\xff\xfe\x00", "not text in UTF-8"),
        ("broken.toml", b"title = ", "not a valid TOML file"),
    ],
)
def test_unreadable_files_get_one_line(tmp_path, name, content, said):
    path = tmp_path / name
    if content == "folder":
        path.mkdir()
    elif content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError, match=said) as problem:
        load_design(path)
    assert "\n" not in str(problem.value)
    assert name in str(problem.value)


@pytest.mark.parametrize("side", ["girdle", "pavilion", "crown"])
def test_every_sentence_of_the_vocabulary_is_understood(side):
    lines = [s.replace("TIER", "main").replace("OTHER", "break") for s in vocabulary(side)]
    found = [read_sentence(line, side) for line in lines]
    assert all(isinstance(touch, TouchRule) for touch in found)
    assert len(set(found)) == len(found)
    for line, touch in zip(lines, found, strict=True):
        named = ("main" if "main" in line else "", "break" if "break" in line else "")
        assert (touch.tier, touch.other) == named


def test_a_sentence_carries_its_tier_and_percent():
    touch = read_sentence("the slope of crown main, 37.5 percent in", "crown")
    assert touch == TouchRule("slope", "crown main", 37.5)


@pytest.mark.skipif(not README.is_file(), reason="an installed package has no README of designs")
def test_the_readme_explains_the_whole_vocabulary_and_no_more():
    explained = set(re.findall(r'^\| `"(.+)"` \|', README.read_text("utf-8"), re.MULTILINE))
    known = {line for side in ("girdle", "pavilion", "crown") for line in vocabulary(side)}
    assert explained == known | {"straight", "rounded", "pear", "egg", "bowed"}
