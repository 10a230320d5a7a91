"""Where the stone comes near a guessed surface: filled holes and resolved folds of the scan."""

import numpy as np

from optimizer.mesh import Floats, Mesh
from optimizer.order import Order
from optimizer.placement.model import Placement
from optimizer.rough.kernels.windings import winding
from optimizer.rough.model import Repair, Rough
from optimizer.rough.repair.distance import distances
from optimizer.rough.repair.words import mm, place
from optimizer.wording.plain_number import plain


def guessed_surface_warnings(rough: Rough, order: Order, placement: Placement) -> tuple[str, ...]:
    """A warning for each repair whose surface is a guess, where the true surface may lie so deep
    that the stone with its skin no longer lies within the piece.

    Around each place of a repair, the doubtful room is a ball whose radius is how far the guess may
    be wrong.
    """
    skin = rough.scan_error_mm + order.workshop.clean_up_mm
    guesses = [repair for repair in rough.repairs if repair.guessed and len(repair.points_mm)]
    if not guesses:
        return ()
    stone = placement.mesh()
    factor = rough.scale.correction
    return tuple(warning for one in guesses if (warning := _warning(one, stone, skin, factor)))


def _warning(repair: Repair, stone: Mesh, skin_mm: float, factor: float) -> str | None:
    """The warning for one repair; None where the stone is far enough off. ``factor``: what places
    of the rough file are multiplied by."""
    gaps = _gaps(repair.points_mm, stone)
    near = int(np.argmin(gaps))
    gap, deep = float(gaps[near]), repair.moved_mm
    if gap >= deep + skin_mm:
        return None
    if gap <= 0.0:
        lies = "IN THE STONE lies"
    elif gap < deep:
        lies = f"WITHIN REACH OF THE STONE, {mm(gap)} from it, lies"
    else:
        lies = f"NEARER TO THE STONE THAN ITS CLEARANCE ALLOWS, {mm(gap)} from it, lies"
    spot = repair.points_mm[near]
    at = ", ".join(f"{float(x):.2f}" for x in spot / factor)
    return (
        f"{lies} a guessed surface: about {place(spot)} {repair.guessed}, the surface may lie "
        f"{mm(deep)} deeper there, and the stone wants {mm(skin_mm)} beneath it. Look at the piece "
        "there, or rescan it, before you cut; or keep the stone off by a flaw in the rough file: "
        f"point_mm = [{at}], radius_mm = {plain(deep, 2)}"
    )


def _gaps(points: Floats, stone: Mesh) -> Floats:
    """Distance (n,) of points (n, 3) from a closed solid; 0 within it."""
    within = [winding(stone.vertices, stone.faces, point) > 0.5 for point in points]
    return np.where(within, 0.0, distances(points, stone.triangles))
