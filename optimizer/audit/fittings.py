"""Do the usual sizes that offcuts are said to give fit? By the robust kernel, as for a stone."""

import numpy as np

from optimizer.audit.common import LENGTH_MM, RELATIVE, RoughSolid, close, count, robust
from optimizer.audit.containment import inside_the_rough
from optimizer.audit.flaws import flaws_are_cleared
from optimizer.plan_model import Plan
from optimizer.sawing.model import Fitting
from optimizer.solid import as_solid, volume_of
from optimizer.wording.plain_number import plain


def fittings_fit(plan: Plan) -> str | None:
    """Each lies in its offcut with the clearance of a stone, off the flaws, and has the size and
    weight stated. None where no offcut was looked into."""
    looked_into = [offcut for offcut in plan.sawing.offcuts if offcut.fittings is not None]
    if not looked_into:
        return None
    skin = plan.rough.scan_error_mm + plan.order.workshop.clean_up_mm
    told = 0
    for offcut in looked_into:
        name = f"the offcut from piece {offcut.piece}"
        home = RoughSolid.of(offcut.mesh, name, as_solid) if offcut.fittings else None
        for fitting in offcut.fittings or ():
            assert home is not None
            what = f"the {fitting.name} of {name}"
            laid = fitting.placement
            mesh = laid.mesh()
            inside_the_rough(mesh, home, skin, laid.clearance_mm, what)
            flaws_are_cleared(mesh, laid.pose.rotation[:, 2], plan.rough, what)
            _figures_are_true(fitting, plan.rough.material.sg, what)
            told += 1
    return (
        f"{count(told, 'usual size')} said of {count(len(looked_into), 'offcut')}: each lies in "
        f"its offcut, {plain(skin)} mm or more below the surface."
    )


def _figures_are_true(fitting: Fitting, sg: float, what: str) -> None:
    mesh = fitting.placement.mesh()
    _, width, _ = np.ptp(mesh.vertices @ fitting.placement.pose.rotation, axis=0)
    close(f"{what}: width", fitting.placement.pose.width, float(width), LENGTH_MM, "mm")
    carat = volume_of(robust(mesh, what)) * sg / 200.0
    close(f"{what}: weight", fitting.carat, carat, RELATIVE * carat, "ct")
