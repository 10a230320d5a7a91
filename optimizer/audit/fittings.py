"""Whether the calibrated stones stated for offcuts fit, by the robust kernel as for any stone."""

import numpy as np

from optimizer.audit.common import LENGTH_MM, RELATIVE, RoughSolid, close, count, robust
from optimizer.audit.containment import inside_the_rough
from optimizer.audit.flaws import flaws_are_cleared
from optimizer.plan_model import Plan
from optimizer.sawing.model import Fitting
from optimizer.solid import as_solid, volume_of
from optimizer.wording.plain_number import plain


def fittings_fit(plan: Plan) -> str | None:
    """Each stone lies in its offcut with the usual clearance, off the flaws, and has the size and
    weight stated. None where no offcut was searched."""
    searched = [offcut for offcut in plan.sawing.offcuts if offcut.fittings is not None]
    if not searched:
        return None
    skin = plan.rough.scan_error_mm + plan.order.workshop.clean_up_mm
    checked = 0
    for offcut in searched:
        name = f"the offcut from piece {offcut.piece}"
        home = RoughSolid.of(offcut.mesh, name, as_solid) if offcut.fittings else None
        for fitting in offcut.fittings or ():
            assert home is not None
            what = f"the {fitting.name} of {name}"
            placement = fitting.placement
            mesh = placement.mesh()
            inside_the_rough(mesh, home, skin, placement.clearance_mm, what)
            flaws_are_cleared(mesh, placement.pose.rotation[:, 2], plan.rough, what)
            _figures_are_true(fitting, plan.rough.material.sg, what)
            checked += 1
    return (
        f"{count(checked, 'usual size')} stated for {count(len(searched), 'offcut')}: each lies in "
        f"its offcut, {plain(skin)} mm or more below the surface."
    )


def _figures_are_true(fitting: Fitting, sg: float, what: str) -> None:
    mesh = fitting.placement.mesh()
    _, width, _ = np.ptp(mesh.vertices @ fitting.placement.pose.rotation, axis=0)
    close(f"{what}: width", fitting.placement.pose.width, float(width), LENGTH_MM, "mm")
    carat = volume_of(robust(mesh, what)) * sg / 200.0
    close(f"{what}: weight", fitting.carat, carat, RELATIVE * carat, "ct")
