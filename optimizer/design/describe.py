"""A design described in lines of plain text."""

from math import ceil

from optimizer.design.body import build_body
from optimizer.design.cutter import cutting_faults
from optimizer.design.model import Body, Design, Parameter
from optimizer.design.steps import step_lines, widest_miss
from optimizer.wording.plain_number import plain

WIDTH_MM = 10.0  # of the stone for which misses are said

# What the common parameters mean, as the terminal shows it.
MEANINGS = {
    "length_to_width": "length over width",
    "table": "table over width, measured across the width",
    "girdle": "girdle band over width",
    "corner": "how much a cut corner shortens the end's side, over width",
}


def describe(design: Design) -> list[str]:
    """Title, outline, parameters with ranges, the sequence in words; then what the virtual cutter
    finds wrong, or, where nothing is, the widest miss and the weight factor.

    All of it is for the default parameters. Raises InputError where a tier can't be cut at all.
    """
    steps = step_lines(design)
    faults = cutting_faults(design)
    return [
        f"{design.title} ({design.name})",
        design.summary,
        f"Seen from above it is {design.outline.description}.",
        "",
        "What may vary, with the usual value and the range:",
        *(_parameter_line(design, known) for known in design.parameters.values()),
        "",
        f"The sequence at the usual values, for an index gear of {design.gear} teeth. Setting 0",
        "points along the length; settings count counter-clockwise as seen from above the table:",
        *steps,
        "",
        *(_fault_lines(faults) if faults else _end_lines(design)),
    ]


def _fault_lines(faults: list[str]) -> list[str]:
    return ["Cut tier by tier, this design goes wrong:", *(f"  {fault}" for fault in faults)]


def _end_lines(design: Design) -> list[str]:
    body = build_body(design)
    heights = body.vertices_at(1.0)[:, 2]
    top, bottom = float(heights.max()), float(heights.min())
    girdle = design.parameters["girdle"].default
    return [
        *_miss_lines(design),
        f"At the usual values it is {top - bottom:.3f} of the width deep: crown "
        f"{top - girdle / 2.0:.3f}, girdle {girdle:.3f}, pavilion {-bottom - girdle / 2.0:.3f}.",
        f"Weight: carat = {weight_factor(body):.6f} × length × width × depth × SG, in mm.",
    ]


def _miss_lines(design: Design) -> list[str]:
    fine, coarse = (widest_miss(design, {}, step) * WIDTH_MM for step in (0.01, 0.1))
    if coarse < 1e-9:
        return []
    return [
        f"In a stone {plain(WIDTH_MM)} mm wide, angles set to the nearest 0.01° miss a meet by at "
        f"most {_microns(fine)},",
        f"angles set to the nearest 0.1° by at most {_microns(coarse)}.",
        "",
    ]


def _microns(mm: float) -> str:
    return f"{ceil(mm * 1e4) / 1e4:.4f} mm"


def weight_factor(body: Body) -> float:
    """k in carat = k·length·width·depth·SG (mm, g/cm³), at δ = 0; 1 ct = 0.2 g."""
    return body.unit_volume / (200.0 * float(body.unit_extents.prod()))


def _parameter_line(design: Design, known: Parameter) -> str:
    span = f"{plain(known.low)} to {plain(known.high)}" if known.low < known.high else "fixed"
    meaning = MEANINGS.get(known.name) or _angle_meaning(design, known.name)
    return f"  {known.name:<16} {plain(known.default):>6}   {span:<14} {meaning}"


def _angle_meaning(design: Design, name: str) -> str:
    """Which tiers take their angle from a parameter, and by how much they differ from it."""
    rules = [rule for rule in design.rules if rule.angle is not None and rule.angle.of == name]
    plain_ones = [rule.name for rule in rules if rule.angle and rule.angle.plus == 0.0]
    if plain_ones:
        return f"angle of {' and '.join(plain_ones)}, degrees"
    told = [f"{rule.name} {_signed(rule.angle.plus)}" for rule in rules if rule.angle]
    return f"degrees; {', '.join(told)}"


def _signed(degrees: float) -> str:
    return f"{'+' if degrees > 0.0 else ''}{plain(degrees)}"
