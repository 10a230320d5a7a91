"""Layouts squeezed until every stone has its size: overlaps shrink to nothing as all stones and
cuts move, or the layout is given up."""

import numpy as np

from optimizer.mesh import Floats
from optimizer.several.instance import Search
from optimizer.several.joint import layout_at
from optimizer.several.joint_problem import joint_problem
from optimizer.several.layouts import without_all
from optimizer.several.model import Division
from optimizer.several.refine import refine
from optimizer.several.trial_cuts import ALONG

LOST = 0.7  # a stone left less than this share of its width by the layout is left out


def squeezed(search: Search, layout: Division) -> Division | None:
    """The division that a layout becomes, without the stones that are far too large for their
    places; None where none comes of it."""
    joint, given = joint_problem(search.instance, layout)
    poses = [(s.rotation, s.translation) for s in given.stones]
    ratios = layout_at(joint, poses, given.planes, map).widths / given.widths
    gone = {int(number) for number in np.flatnonzero(ratios < LOST)}
    if len(gone) == len(ratios):
        return None
    kept = without_all(layout, gone)
    watch, upright = search.watch, _upright(search, kept)
    return refine(search.instance, kept, effort=search.effort, watch=watch, upright=upright)


def _upright(search: Search, layout: Division) -> Floats | None:
    """The direction (3,), ground's frame, that all tables face, or face away from; None where there
    is none, or a single stone."""
    tables = np.array([one.placement.pose.rotation[:, 2] for one in layout.stones])
    alike = len(tables) > 1 and (np.abs(tables @ tables[0]) > ALONG).all()
    return tables[0] @ search.instance.ground.ground2scan if alike else None
