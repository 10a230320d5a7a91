"""The colour boundary seen from the stone, and how much of the stone lies beyond it."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from optimizer.mesh import Floats, Mesh, Plane, volume
from optimizer.order import ZoneDemand
from optimizer.placement.model import Placement
from optimizer.rough.model import Zone
from optimizer.rough.zones.solid import parted
from optimizer.solid import as_solid, volume_of

UPRIGHT_DEG = 1.0  # this near to tilt ±90 the azimuth means nothing


@dataclass(frozen=True)
class ZoneView:
    """The colour boundary seen from the stone; n is the unit normal towards ``colour``, which
    only a plane has."""

    zone: str
    colour: str
    tilt_deg: float | None  # asin n_z; 0: the boundary runs parallel to the axis
    azimuth_deg: float | None  # atan2(n_y, n_x); None within 1 degree of tilt ±90
    offset: float | None  # -1 and +1: the boundary just touches the stone
    share_percent: float  # of the stone's volume on the side of ``colour``
    kind: str = "plane"


def view_zone(zone: Zone, colour: str, placement: Placement) -> ZoneView:
    """Tilt, azimuth, offset and share of the boundary, seen from the stone towards ``colour``.

    With n the unit normal towards ``colour`` in the stone frame: tilt = asin n_z, azimuth =
    atan2(n_y, n_x), offset = (c − mid)/half with mid and half from the least and greatest n·v of
    the stone's corners. A boundary that is no plane has a share alone.
    """
    pose = placement.pose
    if not isinstance(zone.boundary, Plane):
        return _share_alone(zone, colour, placement.mesh())
    plane = zone.plane if colour == zone.towards.name else zone.plane.flipped()
    normal = plane.normal @ pose.rotation
    level = plane.offset - float(plane.normal @ pose.translation)
    reach = placement.body.vertices_at(pose.width) @ normal
    middle, half = (reach.max() + reach.min()) / 2.0, (reach.max() - reach.min()) / 2.0
    tilt = float(np.degrees(np.arcsin(np.clip(normal[2], -1.0, 1.0))))
    upright = 90.0 - abs(tilt) <= UPRIGHT_DEG
    stone = placement.body.mesh_at(pose.width)
    beyond = volume_beyond(stone, Plane(normal, level))
    return ZoneView(
        zone=zone.name,
        colour=colour,
        tilt_deg=tilt,
        azimuth_deg=None if upright else float(np.degrees(np.arctan2(normal[1], normal[0]))),
        offset=float((level - middle) / half),
        share_percent=min(max(100.0 * beyond / volume(stone), 0.0), 100.0),
    )


def _share_alone(zone: Zone, colour: str, stone: Mesh) -> ZoneView:
    towards, away = parted(as_solid(stone), zone.boundary)
    beyond = volume_of(towards if colour == zone.towards.name else away)
    share = min(max(100.0 * beyond / volume(stone), 0.0), 100.0)
    return ZoneView(zone.name, colour, None, None, None, share, zone.kind)


def chosen_zone(zones: tuple[Zone, ...], demand: ZoneDemand | None) -> tuple[Zone, str] | None:
    """The ordered zone and colour; without an order the rough's first zone, if it has one."""
    if demand is not None:
        return next((z, demand.colour) for z in zones if z.name == demand.name)
    return (zones[0], zones[0].towards.name) if zones else None


def volume_beyond(solid: Mesh, plane: Plane) -> float:
    """Volume in mm³ of the part of a closed solid with normal·x >= offset, exactly.

    Each triangle is clipped by the plane; the tetrahedra from what is left to one point on the
    plane add up to the volume, since the cap lies in the plane and adds nothing.
    """
    apex = plane.normal * plane.offset
    corners = solid.triangles - apex
    return sum(_fan_volume(_clipped(corner, plane.normal)) for corner in corners)


def _clipped(polygon: Floats, normal: Floats) -> list[Floats]:
    """The part of a polygon (k, 3) with normal·x >= 0 (Sutherland and Hodgman 1974)."""
    height = polygon @ normal
    kept: list[Floats] = []
    for i, corner in enumerate(polygon):
        j = (i + 1) % len(polygon)
        if height[i] >= 0:
            kept.append(corner)
        if height[i] * height[j] < 0:
            share = height[i] / (height[i] - height[j])
            kept.append(corner + share * (polygon[j] - corner))
    return kept


def _fan_volume(polygon: list[Floats]) -> float:
    """Signed volume between the origin and a flat polygon."""
    return float(sum(polygon[0] @ np.cross(p, q) for p, q in pairwise(polygon[1:])) / 6.0)
