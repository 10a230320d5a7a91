"""What an order asks of a colour boundary that is not flat, as constraints on the placement."""

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Plane, even_directions
from optimizer.order import ZoneDemand
from optimizer.placement.colour_room import ColourRoom, band_share
from optimizer.placement.demands import whole_side
from optimizer.rough.model import Ball, ConvexRoom, Flaw, Zone
from optimizer.rough.zones.solid import room_away, room_towards, sag_mm
from optimizer.solid import as_mesh

TANGENTS = 150  # the polyhedron between them exceeds the ball by about 0.02 of its radius
_OF_PLANES_ONLY = ("offset", "tilt_deg", "azimuth_deg")


def colour_room(zone: Zone, demand: ZoneDemand, points: Floats) -> ColourRoom:
    """What ``demand`` asks of a boundary that is not flat, for a piece with corners (n, 3).

    Raises InputError where the demand is one that only a flat boundary can meet.
    """
    for key in _OF_PLANES_ONLY:
        if getattr(demand, key) is not None:
            raise InputError(
                f'the order\'s [zone] asks for {key} of "{zone.name}", which is a {zone.kind}: '
                "only a flat boundary has one; drop it"
            )
    towards, side = demand.colour == zone.towards.name, whole_side(demand)
    if demand.keep_clear_mm is None and demand.share_percent is None:
        return ColourRoom(zone.name)
    if demand.keep_clear_mm is None and side is None:
        return _share(zone, demand, towards)
    inside = towards if side is None or side > 0.0 else not towards
    keep = demand.keep_clear_mm or 0.0
    if inside and isinstance(zone.boundary, ConvexRoom):
        return ColourRoom(zone.name, zone.boundary.planes, keep)
    room = (room_away if inside else room_towards)(zone.boundary, points)
    if room.is_empty():
        return ColourRoom(zone.name)
    clear = keep + sag_mm(zone.boundary, points)
    middle = points.mean(axis=0, keepdims=True)
    solid = Flaw(zone.name, np.asarray(middle), None, 0.0, 0.0, clear, as_mesh(room))
    around = _tangents(zone.boundary) if inside and isinstance(zone.boundary, Ball) else ()
    return ColourRoom(zone.name, keep_mm=keep, solid=solid, round_about=around)


def _tangents(ball: Ball) -> tuple[Plane, ...]:
    """Planes that touch a ball from outside, evenly spread, with the ball above each."""
    return tuple(
        Plane(-out, -float(out @ ball.centre) - ball.radius_mm) for out in even_directions(TANGENTS)
    )


def _share(zone: Zone, demand: ZoneDemand, towards: bool) -> ColourRoom:
    if not isinstance(zone.boundary, ConvexRoom) or zone.boundary.thick_mm is None:
        raise InputError(
            f'the order\'s [zone] asks for share_percent of "{zone.name}", which is a {zone.kind}: '
            "a share other than 0 and 100 can be asked for of planes and bands only; drop it"
        )
    one, two = zone.boundary.planes
    return band_share(demand, (one, two), towards)
