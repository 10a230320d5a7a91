"""A design described in lines of plain text."""

from optimizer.design.body import build_body, tiers
from optimizer.design.model import Body, Design, Parameter
from optimizer.wording.plain_number import plain

# What the common parameters mean, as the terminal shows it.
MEANINGS = {
    "length_to_width": "length over width",
    "crown": "angle of the crown mains, degrees",
    "pavilion": "angle of the pavilion mains, degrees",
    "table": "table over width, measured across the width",
    "girdle": "girdle band over width",
    "corner": "how much a cut corner shortens the end's side, over width",
}


def describe(design: Design) -> list[str]:
    """Title, outline, parameters with ranges, tiers in cutting order, and the weight factor.

    Angles and factor are those of the default parameters.
    """
    body = build_body(design)
    return [
        f"{design.title} ({design.name})",
        design.summary,
        f"Outline: {design.outline.description}. Gear: {design.gear}.",
        f"{len(body.normals)} facets, girdle included; looks the same in {_turns(body)}.",
        "",
        "Parameters (default, range):",
        *(_parameter_line(known) for known in design.parameters.values()),
        "",
        "Tiers in cutting order, at the defaults. Index 0 points along the length; settings count",
        "counter-clockwise seen from above the table:",
        *_tier_lines(design),
        "",
        f"Depth {body.unit_extents[2]:.3f} of the width; volume {body.unit_volume:.4f} of width³.",
        f"Weight: carat = {weight_factor(body):.6f} × length × width × depth × SG, in mm.",
    ]


def weight_factor(body: Body) -> float:
    """k in carat = k·length·width·depth·SG (mm, g/cm³), at δ = 0; 1 ct = 0.2 g."""
    return body.unit_volume / (200.0 * float(body.unit_extents.prod()))


def _turns(body: Body) -> str:
    turns = len(body.rotations)
    return f"{turns} positions about its axis" if turns > 1 else "one position only"


def _parameter_line(known: Parameter) -> str:
    span = f"{plain(known.low)} to {plain(known.high)}" if known.low < known.high else "fixed"
    meaning = MEANINGS.get(known.name, "added to angles in this design")
    return f"  {known.name:<16} {plain(known.default):>6}   {span:<14} {meaning}"


def _tier_lines(design: Design) -> list[str]:
    rows = tiers(design, {})
    width = max(len(row.name) for row in rows)
    lines = []
    for row in rows:
        settings = " ".join(str(setting) for setting in row.settings)
        lines.append(f"  {row.name:<{width}}  {row.angle_deg:6.2f}°  {row.side}, {row.cut_to}")
        if row.angle_deg > 0.0:
            lines.append(f"  {'':<{width}}  at {settings}")
    return lines
