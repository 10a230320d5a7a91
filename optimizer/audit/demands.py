"""Every demand of the order on one stone, evaluated anew from the stone's mesh."""

import numpy as np

from optimizer.audit.chords import SHARE_PERCENT
from optimizer.audit.colours import gap_on_side, share_of
from optimizer.audit.common import (
    ANGLE_DEG,
    LENGTH_MM,
    OFFSET,
    PERCENT,
    RELATIVE,
    require,
    robust,
    within,
)
from optimizer.audit.stones import stone_frame, thinnest_girdle
from optimizer.errors import AuditError
from optimizer.mesh import Mesh, Plane
from optimizer.order import Order, ZoneDemand
from optimizer.placement.zone_view import ZoneView
from optimizer.plan_model import Stone
from optimizer.rough.model import Rough, Zone
from optimizer.solid import volume_of
from optimizer.wording.minus import with_minus
from optimizer.wording.plain_number import plain

_UPRIGHT_DEG = 89.0  # beyond this tilt the azimuth has no meaning in practice


def size_is_met(stone: Stone, mesh: Mesh, order: Order, sg: float, name: str) -> str:
    """The size, the thinnest girdle, the design and the parameters are as ordered."""
    at_home = stone_frame(stone, mesh)
    length, width, _ = np.ptp(at_home.vertices, axis=0)
    carat = volume_of(robust(mesh, name)) * sg / 200.0
    for what, measured, wanted, unit in (
        ("width", width, order.size.width_mm, "mm"),
        ("length", length, order.size.length_mm, "mm"),
        ("weight", carat, order.size.carat, "ct"),
    ):
        if wanted is not None:
            within(f"{name}'s {what} as ordered", float(measured), wanted, LENGTH_MM, unit)
    least = max(order.least_girdle_mm, order.least_girdle_percent / 100.0 * float(width))
    girdle = thinnest_girdle(at_home, stone.placement.body.facet_of_face)
    require(
        girdle >= least - LENGTH_MM,
        f"{name}'s girdle as ordered",
        f"{plain(girdle, 9)} mm measured",
        f"at least {plain(least, 9)} mm",
    )
    _design_is_met(stone, order, name)
    return f"{name} keeps the size ordered; its girdle of {girdle:.4f} mm is at least {least:.4f}."


def _design_is_met(stone: Stone, order: Order, name: str) -> None:
    require(
        not order.designs or stone.design.name in order.design_names,
        f"{name}'s design",
        stone.design.name,
        "one of " + ", ".join(order.design_names),
    )
    least = {"girdle": order.least_girdle_percent / 100.0}  # the thicker of the two demands counts
    for key, ordered in order.parameters.items():
        ends = ordered if isinstance(ordered, tuple) else (ordered, ordered)
        low, high = (max(end, least.get(key, end)) for end in ends)
        value = stone.parameters.get(key, float("nan"))
        slack = RELATIVE * max(1.0, abs(low), abs(high))
        require(
            low - slack <= value <= high + slack,
            f"{name}'s {key}",
            f"{plain(value, 9)} stated",
            f"{plain(low, 9)} as ordered"
            if low == high
            else f"{plain(low, 9)} to {plain(high, 9)} as ordered",
        )


def choice_is_met(stone: Stone, name: str) -> str:
    """Each free parameter lies in its range, at a whole number of steps or at an end of the
    range."""
    for free in stone.free:
        value = stone.parameters.get(free.name, float("nan"))
        within(f"{name}'s {free.name}", value, (free.low, free.high), RELATIVE, "")
        off = abs(value - free.step * round(value / free.step))
        require(
            off <= RELATIVE * abs(value) or value in (free.low, free.high),
            f"{name}'s {free.name} can be set",
            f"{plain(value, 9)} stated",
            f"a whole number of steps of {plain(free.step)}",
        )
    return f"{name}'s free parameters lie in their ranges and can be set as stated."


def zone_is_met(stone: Stone, mesh: Mesh, rough: Rough, demand: ZoneDemand) -> str:
    """Every demand on the colour boundary is met; the share is measured by the kernel, the rest
    from the corners."""
    zone, towards = sided(rough, demand.name, demand.colour)
    nearest = gap_on_side(mesh, zone, towards, demand.keep_clear_mm or 0.0)
    if demand.keep_clear_mm is not None:
        require(
            nearest >= demand.keep_clear_mm - LENGTH_MM,
            f"the stone keeps clear of the boundary {demand.name}",
            f"{plain(nearest, 9)} mm to its nearest place on the side of {demand.colour}",
            f"at least {plain(demand.keep_clear_mm)} mm",
        )
    view = zone_view(stone, mesh, rough, demand.name, demand.colour)
    if view.kind != "plane":
        _whole_within(mesh, zone, towards, demand)
    _view_within(view, demand)
    return _zone_sentence(view, nearest)


def _whole_within(mesh: Mesh, zone: Zone, towards: bool, demand: ZoneDemand) -> None:
    """A share of 0 or 100 percent is checked by the gap, since for a curved boundary the volume by
    chords is not exact enough."""
    low, high = demand.share_percent or (0.0, 100.0)
    if low < 100.0 and high > 0.0:
        return
    gap = gap_on_side(mesh, zone, towards if low >= 100.0 else not towards, 0.0)
    require(
        gap >= -LENGTH_MM,
        f"the stone lies wholly on one side of the boundary {demand.name}",
        f"{plain(gap, 9)} mm to it",
        "at least 0",
    )


def _view_within(view: ZoneView, demand: ZoneDemand) -> None:
    about = f"the boundary {demand.name} seen from the stone"
    share_slack = SHARE_PERCENT if view.kind in ("ball", "bent sheet") else PERCENT
    for what, measured, wanted, tolerance, unit in (
        ("share", view.share_percent, demand.share_percent, share_slack, "%"),
        ("offset", view.offset, demand.offset, OFFSET, "of the half"),
        ("tilt", view.tilt_deg, demand.tilt_deg, ANGLE_DEG, "degrees"),
    ):
        if wanted is not None:
            value = np.nan if measured is None else measured  # NaN fails every demand
            within(f"{about}: {what}", value, wanted, tolerance, unit)
    if demand.azimuth_deg is not None and view.azimuth_deg is not None:
        _azimuth_within(about, view.azimuth_deg, demand.azimuth_deg)


def sided(rough: Rough, zone_name: str, colour: str) -> tuple[Zone, bool]:
    """The zone in the scan frame, and whether the named colour is its ``towards`` colour."""
    for zone in rough.zones:
        if zone.name == zone_name and colour in (zone.towards.name, zone.away.name):
            return zone, colour == zone.towards.name
    raise AuditError(f"the zone: {colour} of {zone_name} stated; demanded: a zone of the rough")


def zone_view(stone: Stone, mesh: Mesh, rough: Rough, zone_name: str, colour: str) -> ZoneView:
    """How the boundary lies, measured on the mesh in the scan frame."""
    zone, towards = sided(rough, zone_name, colour)
    if not isinstance(zone.boundary, Plane):
        share = share_of(mesh, zone, towards)
        return ZoneView(zone_name, colour, None, None, None, share, zone.kind)
    boundary = zone.boundary if towards else zone.boundary.flipped()
    heights = mesh.vertices @ boundary.normal - boundary.offset
    n = stone.placement.pose.rotation.T @ boundary.normal
    tilt = float(np.degrees(np.arctan2(n[2], np.hypot(n[0], n[1]))))
    solid = robust(mesh, "the stone")
    beyond = solid.trim_by_plane(tuple(boundary.normal), boundary.offset)
    return ZoneView(
        zone=zone_name,
        colour=colour,
        tilt_deg=tilt,
        azimuth_deg=None if abs(tilt) > _UPRIGHT_DEG else float(np.degrees(np.arctan2(n[1], n[0]))),
        offset=-float(heights.max() + heights.min()) / float(np.ptp(heights)),
        share_percent=100.0 * volume_of(beyond) / volume_of(solid),
    )


def _azimuth_within(about: str, azimuth: float, wanted: tuple[float, float]) -> None:
    """Require the azimuth to lie in the range modulo a full turn, so that 170 to 190 degrees
    includes −175."""
    low, high = wanted
    past = (azimuth - low + ANGLE_DEG) % 360.0
    require(
        past <= high - low + 2.0 * ANGLE_DEG,
        f"{about}: azimuth",
        f"{plain(azimuth, 9)} degrees measured",
        f"{plain(low)} to {plain(high)} degrees",
    )


def _zone_sentence(view: ZoneView, nearest: float) -> str:
    if view.tilt_deg is None or view.offset is None:
        return (
            f"The boundary {view.zone}, a {view.kind}, meets every demand: "
            f"{view.share_percent:.4f} % {view.colour}, nearest place {nearest:.4f} mm on the "
            f"{view.colour} side."
        )
    azimuth = "free" if view.azimuth_deg is None else with_minus(f"{view.azimuth_deg:.4f}°")
    lies = with_minus(f"offset {view.offset:.6f}, tilt {view.tilt_deg:.4f}°")
    return (
        f"The boundary {view.zone} meets every demand: {view.share_percent:.4f} % {view.colour}, "
        f"{lies}, azimuth {azimuth}, nearest corner {nearest:.4f} mm on the {view.colour} side."
    )
