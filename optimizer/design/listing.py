"""The library told by outline."""

from optimizer.design.body import build_body
from optimizer.design.describe import weight_factor
from optimizer.design.library import library, load_design
from optimizer.design.model import Design

OTHERS = "other outlines"


def library_lines() -> list[str]:
    """The outlines in alphabetical order, each with its designs: name, number of facets, weight
    factor k (as in ``weight_factor``), and what the design is good for."""
    by_outline: dict[str, list[Design]] = {}
    for name in library():
        design = load_design(name)
        by_outline.setdefault(design.outline.name or OTHERS, []).append(design)
    wide = max(map(len, library())) + 2
    lines = [
        "Each design with its facets, the girdle's included, and its weight factor k:",
        "carat = k × length × width × depth × SG, in mm.",
    ]
    for outline, designs in sorted(by_outline.items()):
        lines += ["", outline.capitalize(), *(f"  {_line(one, wide)}" for one in designs)]
    return lines


def _line(design: Design, wide: int) -> str:
    body = build_body(design)
    facets = f"{len(body.normals)} facets"
    return f"{design.name:{wide}}{facets:12}{weight_factor(body):.4f}  {design.summary}"
