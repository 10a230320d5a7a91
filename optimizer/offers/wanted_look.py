"""The colour that an order wants the face to show, where optics meets placement: translated for the
search into ranges of where the boundary lies, and checked on the stones that the search finds."""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Plane
from optimizer.offers.offer import Offer, boundary_of
from optimizer.offers.placement_cache import PlacementCache
from optimizer.optics.angles import light_by_turn
from optimizer.optics.beam_samples import beam_shares
from optimizer.optics.dye import Dye, furthest_apart
from optimizer.optics.figures import TELLS, LightFigures, ZoneFigures
from optimizer.optics.look import CutStone
from optimizer.optics.look_cubics import bounds_of, cubics_near
from optimizer.optics.look_demands import colour_demands, unmet
from optimizer.optics.look_map import LookMap
from optimizer.optics.plane_shares import PlaneShares
from optimizer.optics.ray_samples import ray_face, ray_shares
from optimizer.optics.regions import Region, meeting_places, regions
from optimizer.optics.vicinity import Vicinity, vicinity
from optimizer.optics.zone_dyes import zone_dyes
from optimizer.order import LookDemand, Order, Range, ZoneDemand
from optimizer.placement.model import Placement
from optimizer.placement.shown import Shown
from optimizer.placement.zone_view import chosen_zone, view_zone
from optimizer.rough.model import Rough, Zone

MARGINS = (0.01, 0.03)  # of share and balance, kept by the ranges; the second after a failure
REGIONS = {"quick": 2, "normal": 3, "thorough": 6}  # ranges tried, by effort
MAP_PLACES, FINAL_PLACES = 4000, 16_000
TILT_STEP, AZIMUTH_STEP, OFFSET_STEP, MOST_OFFSET = 10.0, 15.0, 0.1, 0.95  # of the map
FEWEST = 5  # least number of places of the map over a range that the order sets


def with_zone(rough: Rough, order: Order) -> Order:
    """The order with the look's boundary as its zone, where the order names no zone.

    Raises InputError where the piece has no such boundary, it is not flat, or its two colours look
    alike in a stone of any size.
    """
    look = order.look
    if look is None or not look.of_colour or look.zone is None or look.colour is None:
        return order
    if order.zone is None:
        order = replace(order, zone=ZoneDemand(look.zone, look.colour))
    if not isinstance(boundary_of(rough, order), Plane):
        raise InputError(
            f'the order\'s [look] asks about the boundary "{look.zone}", which is not flat: a '
            "look can be asked only of flat boundaries as yet; drop [look]"
        )
    if furthest_apart(*zone_dyes(_zone_of(rough, look), look.colour)) <= TELLS:
        raise InputError(
            f'the order\'s [look] asks about the {look.colour} of "{look.zone}", whose two colours '
            f"look alike in a stone of any size: state in the rough file of {rough.scan} how each "
            "of them shows (srgb, shows_at_mm), or drop [look]"
        )
    return order


def _zone_of(rough: Rough, look: LookDemand) -> Zone:
    return next(zone for zone in rough.zones if zone.name == look.zone)


@dataclass(frozen=True)
class LookTarget:
    """The look ordered, with the boundary it depends on; evaluated for stones placed in the
    rough."""

    rough: Rough
    look: LookDemand
    zone: Zone | None  # None: the look asks for light alone
    dyes: tuple[Dye, Dye] | None

    @staticmethod
    def of(rough: Rough, look: LookDemand) -> "LookTarget":
        """The target of a look that fits the rough (checked by ``with_zone``)."""
        if not look.of_colour or look.colour is None:
            return LookTarget(rough, look, None, None)
        zone = _zone_of(rough, look)
        return LookTarget(rough, look, zone, zone_dyes(zone, look.colour))

    def narrowed(
        self, stone: Placement, offer: Offer, margin: float, count: int, cache: PlacementCache
    ) -> list[Offer]:
        """The offer limited to ranges of the boundary in which its look map meets the look, with
        ``margin`` to spare, for a stone like ``stone``: one offer for each of the best ``count``
        ranges."""
        if self.zone is None:
            return [offer]
        demand = offer.want.zone
        assert demand is not None
        view = view_zone(self.zone, demand.colour, stone)
        here = (view.tilt_deg or 0.0, view.azimuth_deg or 0.0, view.offset or 0.0)
        look_map = cache.once(("map", id(stone)), lambda: self._map(stone, demand))
        if look_map is None:
            return []
        met = meeting_places(look_map, colour_demands(self.look), margin)
        return [_with_region(offer, region) for region in regions(look_map, met, here, count)]

    def _map(self, stone: Placement, demand: ZoneDemand) -> LookMap | None:
        """The look map of a stone; None where its face shows no difference between the colours,
        wherever the boundary lies."""
        shares = self._plane_shares(stone, MAP_PLACES)
        if not shares.distinct:
            return None
        return LookMap.of(shares, stone.body.vertices_at(stone.pose.width), *_grid(demand))

    def figures(self, stone: Placement) -> tuple[LightFigures, ZoneFigures | None]:
        """The figures of the stone's light and of its boundary, sampled at many places."""
        (light,) = light_by_turn(
            stone.body, stone.pose.width, self.rough.material, [(0.0, 0.0)], FINAL_PLACES
        )
        return light, self.zone_figures(stone)

    def zone_figures(self, stone: Placement) -> ZoneFigures | None:
        """The figures of the boundary; None where the look does not depend on one."""
        if self.zone is None:
            return None
        normal, level = self._boundary(self.zone, stone)
        return self._plane_shares(stone, FINAL_PLACES).figures(normal, np.array([level]))[0]

    def shown(self, stone: Placement, margin: float) -> Shown:
        """The look's demands as bounds on cubics of the boundary's place, valid near the stone,
        each with ``margin`` to spare."""
        assert self.zone is not None
        assert self.look.colour is not None
        here = self.zone_figures(stone)
        assert here is not None
        assert self.dyes is not None
        corners = stone.body.vertices_at(stone.pose.width)
        cut = CutStone(stone.body, stone.pose.width, self.rough.material)
        shares = beam_shares(cut, *self.dyes)
        near = cubics_near(shares, corners, *self._boundary(self.zone, stone), here)
        return Shown(
            near, bounds_of(colour_demands(self.look), self.look.colour, margin, here.ends)
        )

    def _boundary(self, zone: Zone, stone: Placement) -> tuple[Floats, float]:
        """The boundary's normal (3,) and level in the stone's frame."""
        plane = zone.plane if self.look.colour == zone.towards.name else zone.plane.flipped()
        normal = plane.normal @ stone.pose.rotation
        return normal, plane.offset - float(plane.normal @ stone.pose.translation)

    def met(self, stone: Placement) -> bool:
        """Whether the stone, traced, looks as ordered."""
        light, zone = self.figures(stone)
        return not any(unmet(self.look, light, zone))

    def _plane_shares(self, stone: Placement, places: int) -> PlaneShares:
        assert self.dyes is not None
        cut = CutStone(stone.body, stone.pose.width, self.rough.material)
        face = ray_face(cut, places=places)
        return ray_shares(face, *self.dyes)


def _grid(demand: ZoneDemand) -> tuple[Floats, Floats, Floats]:
    """The tilts, azimuths and offsets of the look map: the whole range of each, or the range that
    the order's zone sets."""
    tilts = _axis(demand.tilt_deg, (-90.0, 90.0), TILT_STEP)
    offsets = _axis(demand.offset, (-MOST_OFFSET, MOST_OFFSET), OFFSET_STEP)
    if demand.azimuth_deg is None:
        return tilts, np.arange(-180.0, 180.0, AZIMUTH_STEP), offsets
    return tilts, _axis(demand.azimuth_deg, demand.azimuth_deg, AZIMUTH_STEP), offsets


def _axis(asked: Range | None, whole: Range, step: float) -> Floats:
    low, high = asked or whole
    if low == high:
        return np.array([low])
    return np.linspace(low, high, max(FEWEST, round((high - low) / step) + 1))


def _with_region(offer: Offer, region: Region) -> Offer:
    zone = offer.want.zone
    assert zone is not None
    zone = replace(
        zone, tilt_deg=region.tilt_deg, azimuth_deg=region.azimuth_deg, offset=region.offset
    )
    return replace(offer, want=replace(offer.want, zone=zone))


def look_shortfall(rough: Rough, order: Order, stone: Placement) -> str:
    """What a stone that was placed without the demand on its look lacks of it, in a sentence."""
    assert order.look is not None
    light, zone = LookTarget.of(rough, order.look).figures(stone)
    lacking = "; ".join(unmet(order.look, light, zone))
    return f"What a stone placed without the demand on its look lacks of it: {lacking}."


def look_about(rough: Rough, order: Order, stone: Placement) -> Vicinity | None:
    """What the face would show with the boundary near its planned place. The boundary is the one
    ordered, or the piece's first. None where there is none, it is not flat, its colours or the
    refractive index are unknown, or the face shows no difference between its colours."""
    chosen = chosen_zone(rough.zones, with_zone(rough, order).zone)
    if chosen is None or rough.material.ri is None:
        return None
    zone, colour = chosen
    if not isinstance(zone.boundary, Plane) or not (zone.towards.shown or zone.away.shown):
        return None
    view = view_zone(zone, colour, stone)
    at = (view.tilt_deg or 0.0, view.azimuth_deg or 0.0, view.offset or 0.0)
    if abs(at[2]) >= 1.0:
        return None
    width, off = stone.pose.width, order.workshop.saw_error_mm
    shares = beam_shares(CutStone(stone.body, width, rough.material), *zone_dyes(zone, colour))
    if not shares.distinct:
        return None
    turn = float(np.degrees(np.arctan2(off, width / 2.0)))
    return vicinity(zone.name, colour, shares, stone.body.vertices_at(width), at, off, turn)
