"""Orders of all that may be asked, changed and damaged; most end where the search begins."""

from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import AT_ONCE, NEVER, Case, Limits
from benchmarks.fuzzing.desk import lay_box
from benchmarks.fuzzing.odd_values import odd_toml, toml_bytes

GOES_ON = 0.1  # of the cases: their search is let go on
SOUND = 0.6  # are left as drawn
SEARCHED = Limits(cpu_s=120.0)
DESIGNS = ("oval", "cushion", "pear", "round-brilliant", "long-hexagon", "cut-corner-rectangle")


def case(desk: Path, chance: Random) -> Case:
    """``plan`` of the box by a drawn order."""
    lay_box(desk)
    order = drawn(chance)
    sound = chance.random() < SOUND
    (desk / "order.toml").write_bytes(toml_bytes(order) if sound else odd_toml(order, chance))
    goes_on = chance.random() < GOES_ON
    reports = NEVER if goes_on else chance.choice((AT_ONCE, AT_ONCE, 1, 5))
    options = ("--effort", "quick", "--seed", str(chance.choice((0, 1, 7))))
    options += ("--prove",) if chance.random() < 0.05 else ()
    return Case(
        ("plan", "rough.toml", "order.toml", "--out", "plan", *options),
        out="plan", reports=reports, limits=SEARCHED,
    )  # fmt: skip


def drawn(chance: Random) -> dict[str, Any]:
    """An order of sound shape; its numbers are mostly possible in the box."""
    order = _stone(chance)
    if chance.random() < 0.4:
        order["workshop"] = _some(_workshop(chance), chance)
    if chance.random() < 0.3:
        order["several"] = {"most": chance.choice((1, 2, 3, 8, 100))}
        if chance.random() < 0.5:
            order["several"] |= {"aim": "money", "cut_cost": chance.choice((0, 3, 1e6))}
            order["prices"] = [
                {"per_carat": [[0.0, 20.0], [2.0, 60.0]]},
                {"design": "oval", "per_carat": [[1.0, 9.0]]},
            ]
    if chance.random() < 0.25:
        order["wanted"] = [_wanted(number, chance) for number in range(chance.randint(1, 3))]
    return order


def _stone(chance: Random) -> dict[str, Any]:
    design = chance.choice(DESIGNS)
    whole = {
        "design": chance.choice((design, design, list(DESIGNS[:2]), list(DESIGNS))),
        "size": {chance.choice(("width_mm", "length_mm", "carat")): _window(0.5, 15.0, chance)},
        "girdle": {"least_mm": chance.uniform(0.0, 1.0), "least_percent": chance.uniform(0.0, 5.0)},
        "zone": {"name": "split", "colour": "violet"} | _zone(chance),
        "direction": {"axis_to_table_deg": _window(0, 90, chance)},
        "look": _look(chance),
    }
    kept = {key: value for key, value in whole.items() if chance.random() < 0.3}
    if kept.get("design") == design and chance.random() < 0.6:
        kept["parameters"] = _parameters(design, chance)
    return kept


def _parameters(design: str, chance: Random) -> dict[str, Any]:
    """Some of the design's own, fixed or free within their ranges."""
    from optimizer.design import load_design

    ranges = load_design(design).parameters.values()
    return _some({one.name: _window(one.low, one.high, chance) for one in ranges}, chance)


def _zone(chance: Random) -> dict[str, Any]:
    if chance.random() < 0.3:
        return {"keep_clear_mm": chance.choice((0.0, 0.3, 3.0))}
    whole = {
        "share_percent": _window(0, 100, chance), "offset": _window(-1, 1, chance),
        "tilt_deg": _window(-90, 90, chance), "azimuth_deg": _window(-180, 180, chance),
    }  # fmt: skip
    return _some(whole, chance)


def _look(chance: Random) -> dict[str, Any]:
    light = {
        "light_return_percent": chance.choice((0, 50, 95)),
        "window_percent": chance.choice((0, 5)),
    }
    colour = {
        "face_percent": _window(0, 100, chance),
        "balance_of_ends": chance.choice((0.0, 0.8, 1.0)),
        "balance_of_halves": chance.choice((0.0, 0.8, 1.0)),
    }
    if chance.random() < 0.4:
        return _some(light, chance)
    return {"zone": "split", "colour": "violet"} | _some(colour, chance)


def _workshop(chance: Random) -> dict[str, Any]:
    return {
        "kerf_mm": chance.choice((0.1, 0.4, 3.0)), "saw_reach_mm": chance.choice((3.0, 8.0, 30.0)),
        "saw_error_mm": chance.choice((0.0, 0.3, 2.0)),
        "clean_up_mm": chance.choice((0.0, 0.2, 3.0)),
        "keep_offcut_ct": chance.choice((0.0, 0.5, 100.0)), "grind_mm": chance.choice((0.0, 2.0)),
        "most_cuts": chance.choice((0, 1, 2, 6)), "saw": chance.choice(("blade", "wire")),
        "two_sided": chance.random() < 0.3, "hold_mm": chance.choice((0.0, 5.0, 30.0)),
    }  # fmt: skip


def _wanted(number: int, chance: Random) -> dict[str, Any]:
    stone = _stone(chance)
    more: dict[str, Any] = chance.choice((
        {}, {"count": chance.choice((1, 2, [0, 4], "as many as pay"))}, {"calibrated": True},
        {"first": True}, {"count": 2, "pair": 0.1},
        {"count": 2, "pair": {"width_mm": 0.2, "tilt_deg": 5}},
    ))  # fmt: skip
    return {"name": f"stone {number}"} | stone | more


def _window(low: float, high: float, chance: Random) -> Any:
    """A number or [least, greatest] between; seldom a little beyond."""
    reach = (high - low) * chance.choice((0.0, 0.0, 0.0, 0.1))
    ends = sorted(round(chance.uniform(low - reach, high + reach), 3) for _ in range(2))
    return ends if chance.random() < 0.7 else ends[0]


def _some(table: dict[str, Any], chance: Random) -> dict[str, Any]:
    """At least one of the keys, seldom many."""
    kept = {key: value for key, value in table.items() if chance.random() < 0.3}
    key = chance.choice(list(table))
    return kept or {key: table[key]}
