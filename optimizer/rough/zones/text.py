"""A colour boundary in a few words: its kind, where it lies, how well it is known."""

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.rough.model import Ball, BentSheet, BoundaryFit, ConvexRoom, Zone
from optimizer.wording.plain_number import plain


def zone_text(zone: Zone) -> str:
    """What the boundary is and where, and how well it was fitted where it was."""
    fit = "" if zone.fit is None else f"; {_fit_text(zone.fit)}"
    return _shape_text(zone) + fit


def _shape_text(zone: Zone) -> str:
    colour = zone.towards.name
    match zone.boundary:
        case Plane() as plane:
            return f"towards {colour} is {triple(plane.normal)}"
        case ConvexRoom() as room if room.thick_mm is not None:
            way = triple(room.planes[0].normal)
            return f"{colour} is a band {plain(room.thick_mm, 3)} mm thick, square to {way}"
        case ConvexRoom() as room:
            ways = ", ".join(triple(plane.normal) for plane in room.planes)
            return f"{colour} is a corner of {len(room.planes)} planes, into it are {ways}"
        case Ball() as ball:
            return (
                f"{colour} is a ball of radius {plain(ball.radius_mm, 4)} mm about "
                f"{triple(ball.centre)}"
            )
        case BentSheet() as bent:
            one, two = (f"{plain(b + 0.0, 3)}" for b in bent.bend)
            return (
                f"{colour} lies above a sheet that bends by {one} per mm one way and by {two} per "
                f"mm the other (one over the radius in mm), its middle at {triple(bent.middle)}, "
                f"towards {colour} there is {triple(bent.frame[2])}"
            )


def _fit_text(fit: BoundaryFit) -> str:
    off = f"{fit.rms_mm:.3f} mm (rms) off, {fit.worst_mm:.3f} mm at worst"
    if fit.wrong_percent is not None:
        return (
            f"found from the scan's colours: its border lies {off}, and {fit.wrong_percent:.1f} % "
            "of the surface has the other side's colour"
        )
    if fit.spare <= 0:
        return f"through {fit.count} {fit.source}, no more than it needs: mark more to test it"
    return f"fitted to {fit.count} {fit.source}, {off}"


def triple(vector: Floats) -> str:
    """Three figures in brackets."""
    return "(" + ", ".join(f"{plain(round(float(x), 3) + 0.0)}" for x in np.asarray(vector)) + ")"
