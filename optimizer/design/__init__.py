"""Designs as functions of their parameters.

A design file names tiers of facets in cutting order. With the parameters set, the facets become
planes, and the planes bound a convex body in the stone frame: +z out of the table, +x along the
length (to the narrow end where there is one), +y along the width, origin at mid-girdle. Index 0 of
the gear points along +x; settings count counter-clockwise as seen from above the table.
"""

from optimizer.design.body import build_body, full_parameters, tiers
from optimizer.design.describe import describe, weight_factor
from optimizer.design.document import write_design
from optimizer.design.library import (
    NO_HEART,
    calibrated_designs,
    designs_by_outline,
    designs_to_choose_from,
    library,
    load_design,
    outline_designs,
)
from optimizer.design.listing import library_lines
from optimizer.design.model import Body, Design, Parameter, Tier
from optimizer.design.picture import picture_svg
from optimizer.design.steps import angle_groups, cutting_order

__all__ = [
    "NO_HEART",
    "Body",
    "Design",
    "Parameter",
    "Tier",
    "angle_groups",
    "build_body",
    "calibrated_designs",
    "cutting_order",
    "describe",
    "designs_by_outline",
    "designs_to_choose_from",
    "full_parameters",
    "library",
    "library_lines",
    "load_design",
    "outline_designs",
    "picture_svg",
    "tiers",
    "weight_factor",
    "write_design",
]
