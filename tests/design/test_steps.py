"""The sequence in words, held against figures worked out by hand."""

from math import radians, sin, tan

import pytest

from optimizer.design import cutting_order, describe, load_design
from optimizer.errors import InputError

KITE = load_design("kite-step")
INSET = 0.5 * 0.22  # of the width: where the pavilion's step begins, from the outline in
STEP = INSET * tan(radians(53.0))
MAIN = STEP + (0.5 * 0.48 - INSET) * tan(radians(47.0))
CROWN = 0.25 * 0.5 * tan(radians(38.0))
# The middle of the circle in the kite lies INRADIUS / sin(half the corner) from either end.
INRADIUS = (0.5 + 0.5 / tan(radians(22.5))) / (1.0 / sin(radians(45.0)) + 1.0 / sin(radians(22.5)))


def told(design=KITE) -> str:
    return " ".join(" ".join(describe(design)).split())


def test_steps_are_told_by_their_levels_below_and_above_the_girdle_line():
    text = told()
    assert f"Cut to a level line {STEP:.3f} of the width below the girdle line." in text
    assert f"Cut to a level line {MAIN:.3f} of the width below the girdle line." in text
    assert f"Cut to a level line {CROWN:.3f} of the width above the girdle line." in text


def test_the_girdles_distances_from_the_axis_are_told():
    assert f"its distance from the axis is {INRADIUS:.3f} of the width." in told()
    oval = told(load_design("oval"))
    assert oval.count("; ") >= 3  # facets of an oval lie at several distances


def test_a_cut_sheet_tells_the_same_in_mm():
    rows = {row.name: row.cut_to for row in cutting_order(KITE, {}, 10.0)}
    assert rows["pavilion step"] == f"Cut to a level line {10 * STEP:.2f} mm below the girdle line."
    assert rows["girdle"].endswith(f"its distance from the axis is {10 * INRADIUS:.2f} mm.")


def test_the_girdles_thickness_and_the_tables_width_are_told():
    rows = {row.name: row.cut_to for row in cutting_order(KITE, {"girdle": 0.04}, 10.0)}
    assert "where the girdle is left 0.40 mm thick" in rows["crown break"]
    assert rows["table"] == "Cut until the table is 5.00 mm wide, across the width."


def test_the_crown_begins_with_turning_the_stone_over():
    turned = [row.name for row in cutting_order(KITE, {}, 1.0) if "Turn the stone" in row.cut_to]
    assert turned == ["crown break"]


def test_a_parameter_says_which_tiers_take_their_angle_from_it():
    text = told()
    assert "degrees; crown break +4, crown main -8" in text
    assert "angle of pavilion main, degrees" in text


def test_the_depth_and_its_parts_are_told():
    line = next(line for line in describe(KITE) if line.startswith("At the usual values"))
    depth, above, girdle, below = (float(w.strip(".,")) for w in line.split() if w[:2] == "0.")
    assert above + girdle + below == pytest.approx(depth, abs=2e-3)
    assert above > CROWN  # of its first step alone
    assert girdle == 0.035


def test_an_outline_in_place_of_a_design_is_explained():
    with pytest.raises(InputError, match=r'"marquise" is an outline.*pointed-oval-brilliant'):
        load_design("marquise")
