"""Part of ``plan``, where optics meets placement: the colour that an order wants the face to show,
told to the search as ranges of how the boundary lies, and held against what it finds."""

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

MARGINS = (0.01, 0.03)  # of share and balance that the ranges keep; the second where one failed
REGIONS = {"quick": 2, "normal": 3, "thorough": 6}  # ranges tried, by effort
MAP_PLACES, FINAL_PLACES = 4000, 16_000
TILT_STEP, AZIMUTH_STEP, OFFSET_STEP, MOST_OFFSET = 10.0, 15.0, 0.1, 0.95  # of the map
FEWEST = 5  # places of the map in a range that the order sets


def with_zone(rough: Rough, order: Order) -> Order:
    """The order with the look's boundary as its zone, of which nothing more is asked.

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
            f'the order\'s [look] asks about the boundary "{look.zone}", which is no plane: only '
            "flat ones can be aimed at by their look as yet"
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
    """The boundary that a look hangs on, seen from stones laid in the rough."""

    rough: Rough
    look: LookDemand
    zone: Zone | None  # None: the look asks for light alone
    dyes: tuple[Dye, Dye] | None

    @staticmethod
    def of(rough: Rough, look: LookDemand) -> "LookTarget":
        """``look`` must fit the rough (``with_zone``)."""
        if not look.of_colour or look.colour is None:
            return LookTarget(rough, look, None, None)
        zone = _zone_of(rough, look)
        return LookTarget(rough, look, zone, zone_dyes(zone, look.colour))

    def narrowed(
        self, laid: Placement, offer: Offer, margin: float, count: int, lay: PlacementCache
    ) -> list[Offer]:
        """The offer with the boundary's ranges set, so that its map promises the look with
        ``margin`` to spare for a stone like ``laid``: one for each of the best ranges."""
        if self.zone is None:
            return [offer]
        demand = offer.want.zone
        assert demand is not None
        seen = view_zone(self.zone, demand.colour, laid)
        here = (seen.tilt_deg or 0.0, seen.azimuth_deg or 0.0, seen.offset or 0.0)
        look_map = lay.once(("map", id(laid)), lambda: self._map(laid, demand))
        if look_map is None:
            return []
        met = meeting_places(look_map, colour_demands(self.look), margin)
        return [_told(offer, region) for region in regions(look_map, met, here, count)]

    def _map(self, laid: Placement, demand: ZoneDemand) -> LookMap | None:
        """None where the face does not tell the two colours apart, wherever they meet."""
        shares = self._ready(laid, MAP_PLACES)
        if not shares.distinct:
            return None
        return LookMap.of(shares, laid.body.vertices_at(laid.pose.width), *_grid(demand))

    def figures(self, laid: Placement) -> tuple[LightFigures, ZoneFigures | None]:
        """What the stone shows, with many places."""
        (light,) = light_by_turn(
            laid.body, laid.pose.width, self.rough.material, [(0.0, 0.0)], FINAL_PLACES
        )
        return light, self.zone_figures(laid)

    def zone_figures(self, laid: Placement) -> ZoneFigures | None:
        """The boundary's, where the look hangs on one."""
        if self.zone is None:
            return None
        normal, level = self._boundary(self.zone, laid)
        return self._ready(laid, FINAL_PLACES).figures(normal, np.array([level]))[0]

    def shown(self, laid: Placement, margin: float) -> Shown:
        """The look's demands on the boundary as the stone shows them near where it lies, each with
        ``margin`` to spare."""
        assert self.zone is not None
        assert self.look.colour is not None
        here = self.zone_figures(laid)
        assert here is not None
        assert self.dyes is not None
        corners = laid.body.vertices_at(laid.pose.width)
        cut = CutStone(laid.body, laid.pose.width, self.rough.material)
        shares = beam_shares(cut, *self.dyes)
        near = cubics_near(shares, corners, *self._boundary(self.zone, laid), here)
        return Shown(near, bounds_of(colour_demands(self.look), self.look.colour, margin))

    def _boundary(self, zone: Zone, laid: Placement) -> tuple[Floats, float]:
        """The boundary's normal (3,) and level in the stone's frame."""
        plane = zone.plane if self.look.colour == zone.towards.name else zone.plane.flipped()
        normal = plane.normal @ laid.pose.rotation
        return normal, plane.offset - float(plane.normal @ laid.pose.translation)

    def met(self, laid: Placement) -> bool:
        """Whether the stone truly looks as ordered."""
        light, zone = self.figures(laid)
        return not any(unmet(self.look, light, zone))

    def _ready(self, laid: Placement, places: int) -> PlaneShares:
        assert self.dyes is not None
        cut = CutStone(laid.body, laid.pose.width, self.rough.material)
        face = ray_face(cut, places=places)
        return ray_shares(face, *self.dyes)


def _grid(demand: ZoneDemand) -> tuple[Floats, Floats, Floats]:
    """The map's places: all round, or as many over what the order's zone leaves."""
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


def _told(offer: Offer, region: Region) -> Offer:
    zone = offer.want.zone
    assert zone is not None
    zone = replace(
        zone, tilt_deg=region.tilt_deg, azimuth_deg=region.azimuth_deg, offset=region.offset
    )
    return replace(offer, want=replace(offer.want, zone=zone))


def shown_instead(rough: Rough, order: Order, laid: Placement) -> str:
    """What the face shows of a stone that was laid without the look ordered, in a sentence."""
    assert order.look is not None
    light, zone = LookTarget.of(rough, order.look).figures(laid)
    lacking = "; ".join(unmet(order.look, light, zone))
    return f"What a stone laid without the demand on its look lacks of it: {lacking}."


def look_about(rough: Rough, order: Order, laid: Placement) -> Vicinity | None:
    """What the face shows about the planned place of the ordered boundary, or the piece's first;
    None where there is none, it is not flat, its colours or the refractive index are unknown, or
    the face does not tell its colours apart."""
    chosen = chosen_zone(rough.zones, with_zone(rough, order).zone)
    if chosen is None or rough.material.ri is None:
        return None
    zone, colour = chosen
    if not isinstance(zone.boundary, Plane) or not (zone.towards.shown or zone.away.shown):
        return None
    seen = view_zone(zone, colour, laid)
    width = laid.pose.width
    shares = beam_shares(CutStone(laid.body, width, rough.material), *zone_dyes(zone, colour))
    off = order.workshop.saw_error_mm
    at = (seen.tilt_deg or 0.0, seen.azimuth_deg or 0.0, seen.offset or 0.0)
    if abs(at[2]) >= 1.0 or not shares.distinct:
        return None
    turn = float(np.degrees(np.arctan2(off, width / 2.0)))
    return vicinity(zone.name, colour, shares, laid.body.vertices_at(width), at, off, turn)
