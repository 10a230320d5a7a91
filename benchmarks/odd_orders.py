"""Odd but valid orders, each planned to its end: colours that tell nothing apart, sizes and angles
at the edges of what may be asked, demands that no stone meets together.

python -m benchmarks.fuzz --minutes 5 odd-orders        a subject of the fuzz (benchmarks/fuzz.py)
"""

from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import NEVER, Case, Limits
from benchmarks.fuzzing.odd_values import toml_bytes

DESIGNS = ("oval", "cushion", "pear", "round-brilliant", "long-hexagon", "cut-corner-rectangle")
SIZES = (("width_mm",), ("width_mm",), ("length_mm",), ("carat",), ("width_mm", "carat"))
MATERIALS = ("quartz", "quartz", "fluorite", "corundum", "tourmaline", "topaz")
COLOURS: tuple[dict[str, Any], ...] = (
    {"srgb": "#4a2f63"}, {"srgb": "#594433"},  # so dark at the usual 5 mm that neither shows
    {"srgb": "#000000", "shows_at_mm": 5.0}, {"srgb": "#ffffff", "shows_at_mm": 5.0},
    {"srgb": "#8a5cc2", "shows_at_mm": 12.0}, {"srgb": "#8a5cc2", "shows_at_mm": 0.001},
    {"srgb": "#e8b83a", "shows_at_mm": 1000.0}, {"srgb": "#ff0000", "shows_at_mm": 2.0},
    {"srgb": "#00ff00", "shows_at_mm": 2.0}, {},
    {"slices": [{"mm": 2.0, "srgb": "#7a4fa3"}, {"mm": 5.0, "srgb": "#301050"}]},
    {"axis_srgb": ["#705040", "#a08070"], "shows_at_mm": 5.0},
    {"axis_srgb": ["#000000", "#ffffff"], "shows_at_mm": 0.5},
)  # fmt: skip
BOUNDARIES: tuple[dict[str, Any], ...] = (
    {"point_mm": [0.3, 0.0, 0.0], "normal": [0.8, 0.0, 0.6]},
    {"point_mm": [0.3, 0.0, 0.0], "normal": [0.8, 0.0, 0.6]},
    {"point_mm": [6.5, 0.0, 0.0], "normal": [1.0, 0.1, 0.0]},
    {"shape": "band", "point_mm": [0, 0, 0], "normal": [1, 0, 0], "thick_mm": 2.0},
    {"shape": "ball", "centre_mm": [0, 0, 0], "radius_mm": 3.0},
    {"shape": "bent", "point_mm": [0, 0, 0], "normal": [1, 0, 0], "along": [0, 1, 0],
     "bend_per_mm": [0.01, 0.02]},
)  # fmt: skip
FLAWS: tuple[dict[str, Any], ...] = (
    {"point_mm": [1.5, -1.0, 0.5], "radius_mm": 0.3, "clearance_mm": 0.2},
    {"from_mm": [0.0, 1.0, 0.5], "to_mm": [0.5, 2.5, 1.0], "allowed": "off the table"},
    {"point_mm": [-2.0, 0.0, 0.5], "normal": [1, 0, 0.2], "across_mm": 4.0},
)
LIMITS = Limits(cpu_s=120.0)


def case(desk: Path, chance: Random) -> Case:
    """``plan`` of a small piece by an odd order, to the end."""
    from benchmarks.pieces import shapes
    from optimizer.rough import write_ply

    made = shapes()
    pieces = (
        made.pebble(3, 7.0, 2), made.notched((16.0, 12.0, 10.0), 5.0), made.slab(5, 20.0, 4.0, 2),
    )  # fmt: skip
    write_ply(desk / "piece.ply", chance.choice(pieces))
    rough = drawn_rough(chance)
    (desk / "rough.toml").write_bytes(toml_bytes(rough))
    (desk / "order.toml").write_bytes(toml_bytes(drawn_order(chance, bool(rough.get("zones")))))
    options = ("--effort", "quick" if chance.random() < 0.8 else "normal")
    options += ("--prove",) if chance.random() < 0.05 else ()
    return Case(
        ("plan", "rough.toml", "order.toml", "--out", "plan", *options),
        out="plan", reports=NEVER, limits=LIMITS,
    )  # fmt: skip


def drawn_rough(chance: Random) -> dict[str, Any]:
    """A rough file of one of the pieces; most have a colour boundary."""
    rough: dict[str, Any] = {
        "scan": "piece.ply", "unit": "mm", "material": chance.choice(MATERIALS),
        "scan_error_mm": chance.choice((0.0, 0.05, 0.05, 0.5)), "optic_axis": [0.1, 0.2, 1.0],
    }  # fmt: skip
    if chance.random() < 0.3:
        rough |= {"growth_axis": [0, 0, 1], "cleavage": [[0, 0, 1], [1, 0, 0]]}
    if chance.random() < 0.75:
        rough["zones"] = [_zone(number, chance) for number in range(chance.choice((1, 1, 2)))]
    elif chance.random() < 0.5:
        rough["body_colour"] = {"colour": "smoky"} | chance.choice(COLOURS)
    if chance.random() < 0.25:
        rough["flaws"] = [
            {"name": f"flaw {k}"} | one for k, one in enumerate(chance.sample(FLAWS, 2))
        ]
    return rough


def _zone(number: int, chance: Random) -> dict[str, Any]:
    sides = {
        "towards": {"colour": "violet"} | chance.choice(COLOURS),
        "away": {"colour": "yellow"} | chance.choice(COLOURS),
    }
    return {"name": ("split", "other")[number]} | chance.choice(BOUNDARIES) | sides


def drawn_order(chance: Random, zoned: bool) -> dict[str, Any]:
    """An order of all that may be asked, much of it at the edges."""
    order = _stone(chance, zoned)
    if chance.random() < 0.3:
        order["workshop"] = _some(_workshop(chance), chance)
    if chance.random() < 0.3:
        order["several"] = {"most": chance.choice((1, 2, 3, 5, 40))}
        if chance.random() < 0.4:
            order["several"] |= {"aim": "money", "cut_cost": chance.choice((0.0, 3.0, 1e6))}
            order["prices"] = chance.sample(_prices(), chance.randint(1, 2))
    if chance.random() < 0.25:
        most = chance.choice((1, 1, 2, 3, 12))
        order["wanted"] = [_wanted(number, chance, zoned) for number in range(most)]
    return order


def _stone(chance: Random, zoned: bool) -> dict[str, Any]:
    design = chance.choice(DESIGNS)
    whole: dict[str, Any] = {
        "design": chance.choice((design, design, design, list(DESIGNS[:2]), list(DESIGNS))),
        "size": {key: _size(key, chance) for key in chance.choice(SIZES)},
        "girdle": _some({"least_mm": chance.choice((0.0, 0.2, 1.0, 5.0)),
                         "least_percent": chance.choice((0.0, 2.0, 4.0, 8.0))}, chance),
        "direction": _direction(chance),
        "look": _look(chance, zoned),
    }  # fmt: skip
    if zoned:
        whole["zone"] = {"name": "split", "colour": chance.choice(("violet", "yellow"))}
        whole["zone"] |= _lying(chance)
    kept = {key: value for key, value in whole.items() if chance.random() < 0.35}
    if "look" in kept and "zone" in kept and kept["look"].get("zone"):
        kept["zone"]["colour"] = kept["look"]["colour"]
    if kept.get("design") == design and chance.random() < 0.5:
        kept["parameters"] = _parameters(design, chance)
    return kept


def _size(key: str, chance: Random) -> Any:
    large = {"width_mm": 8.0, "length_mm": 11.0, "carat": 3.0}[key]
    return chance.choice((
        [0.0, large], [0.1, 0.2], [large, large * 2.0], [large * 0.5, large * 0.6], large * 0.4,
        [0.0, 1e4], [large * 5.0, 1e4], 0.1, [large * 0.9, large * 0.9001],
    ))  # fmt: skip


def _lying(chance: Random) -> dict[str, Any]:
    """How a boundary must lie."""
    if chance.random() < 0.3:
        return {"keep_clear_mm": chance.choice((0.0, 0.3, 3.0))}
    whole = {
        "share_percent": chance.choice(([0, 0], [100, 100], [50, 50], [40, 60], [0, 100])),
        "offset": chance.choice((0.0, 1.0, [-1, -0.99], [-0.1, 0.1], [-1, 1])),
        "tilt_deg": chance.choice((90.0, -90.0, 0.0, [-8, 8], [-90, 90], [89, 90])),
        "azimuth_deg": chance.choice((0.0, [170, 190], [-180, 180], [-200, -190], 45.0)),
    }
    return _some(whole, chance)


def _direction(chance: Random) -> dict[str, Any]:
    whole = {
        "axis_to_table_deg": chance.choice((0.0, 90.0, [80, 90], [0, 90], 45.0)),
        "cleavage_clear_deg": chance.choice((0.0, 5.0, 20.0, 45.0)),
    }
    axis = {"axis": "growth axis"} if chance.random() < 0.2 else {}
    return axis | _some(whole, chance)


def _look(chance: Random, zoned: bool) -> dict[str, Any]:
    light = {
        "light_return_percent": chance.choice((0.0, 40.0, 60.0, 85.0, 100.0)),
        "window_percent": chance.choice((0.0, 5.0, 100.0)),
    }
    colour = {
        "face_percent": chance.choice(([0, 2], [98, 100], [48, 52], [40, 60], [0, 100], [90, 95])),
        "difference_of_ends": chance.choice((0.0, 0.25, 0.96)),
        "balance_of_ends": chance.choice((0.0, 0.75, 0.98)),
        "balance_of_halves": chance.choice((0.0, 0.9, 0.98)),
    }
    if not zoned or chance.random() < 0.3:
        return _some(light, chance)
    named = {"zone": "split", "colour": chance.choice(("violet", "yellow"))}
    return named | _some(colour, chance) | (_some(light, chance) if chance.random() < 0.2 else {})


def _parameters(design: str, chance: Random) -> dict[str, Any]:
    """Some of the design's own, at the ends of their ranges or free over all of them."""
    from optimizer.design import load_design

    ranges = load_design(design).parameters.values()
    asked = {
        one.name: chance.choice((one.low, one.high, one.default, [one.low, one.high]))
        for one in ranges
    }
    return _some(asked, chance)


def _workshop(chance: Random) -> dict[str, Any]:
    return {
        "kerf_mm": chance.choice((0.0, 0.4, 5.0)), "saw_reach_mm": chance.choice((0.5, 8.0, 1e4)),
        "saw_error_mm": chance.choice((0.0, 0.3, 4.0)),
        "clean_up_mm": chance.choice((0.0, 0.2, 3.0, 50.0)),
        "keep_offcut_ct": chance.choice((0.0, 0.5, 1e4)),
        "grind_mm": chance.choice((0.0, 2.0, 1e4)), "most_cuts": chance.choice((0, 1, 6, 100)),
        "saw": chance.choice(("blade", "wire")), "two_sided": chance.random() < 0.3,
        "hold_mm": chance.choice((0.0, 5.0, 1e3)),
    }  # fmt: skip


def _prices() -> list[dict[str, Any]]:
    return [
        {"per_carat": [[0.0, 20.0], [1.0, 60.0]]},
        {"per_carat": [[0.0, 0.0]]},
        {"design": "oval", "per_carat": [[1.0, 1e9]]},
        {"outline": "round", "per_carat": [[0.0, 1e-9], [0.5, 5.0], [0.51, 6.0]]},
    ]


def _wanted(number: int, chance: Random, zoned: bool) -> dict[str, Any]:
    more: dict[str, Any] = chance.choice((
        {}, {"count": chance.choice((1, 2, [0, 4], "as many as pay"))}, {"calibrated": True},
        {"first": True, "size": {"width_mm": 4.0}}, {"count": 2, "pair": 0.0},
        {"count": 2, "pair": {"width_mm": 0.2, "tilt_deg": 0.0, "offset": 0.0}},
    ))  # fmt: skip
    return {"name": f"stone {number}"} | _stone(chance, zoned) | more


def _some(table: dict[str, Any], chance: Random) -> dict[str, Any]:
    """At least one of the keys, seldom many."""
    kept = {key: value for key, value in table.items() if chance.random() < 0.35}
    key = chance.choice(list(table))
    return kept or {key: table[key]}
