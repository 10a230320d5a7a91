"""The sections of the page, top to bottom. Each takes the plan's scene and gives HTML, or nothing.

To add one: a module of its own with one such function, and a place in ``SECTIONS``.
"""

from collections.abc import Callable

from optimizer.report.scene import Scene
from optimizer.report.sections.active_constraints import active_constraints
from optimizer.report.sections.alternatives import alternatives
from optimizer.report.sections.answer import answer
from optimizer.report.sections.asked import asked
from optimizer.report.sections.boundary import boundary
from optimizer.report.sections.cautions import cautions
from optimizer.report.sections.certainty import certainty
from optimizer.report.sections.checked import checked
from optimizer.report.sections.crystal import crystal
from optimizer.report.sections.cut_sheet import cut_sheet
from optimizer.report.sections.dopping import dopping
from optimizer.report.sections.look import look
from optimizer.report.sections.look_map import look_map
from optimizer.report.sections.offcuts import offcuts
from optimizer.report.sections.piece import piece
from optimizer.report.sections.sawing import sawing
from optimizer.report.sections.three_sides import three_sides
from optimizer.report.sections.view3d import view3d
from optimizer.report.sections.ways import ways
from optimizer.report.sections.weights import weights

SECTIONS: tuple[Callable[[Scene], str], ...] = (
    answer,
    view3d,
    three_sides,
    ways,
    look,
    cautions,
    sawing,
    offcuts,
    dopping,
    cut_sheet,
    weights,
    boundary,
    look_map,
    alternatives,
    crystal,
    active_constraints,
    certainty,
    piece,
    asked,
    checked,
)
