"""A stone with the colours of a piece of rough before there is a plan: the piece is turned so that
boundary and optic axis run through the stone as the options ask."""

from collections.abc import Collection

import numpy as np

from optimizer.errors import InputError, nearest
from optimizer.mesh import Floats, Plane
from optimizer.optics.colouring import Colouring, colouring_of
from optimizer.optics.look import CutStone
from optimizer.optics.look_map import normal_of
from optimizer.placement.model import Pose
from optimizer.rough.model import Rough, Zone
from optimizer.wording.plain_number import plain

PLAIN = (0.0, 0.0, 0.0)  # tilt, azimuth, offset: square to the length, through the middle
_ROUNDING = 1e-9


def piece_colouring(
    cut: CutStone, piece: Rough, zone_name: str | None, place: tuple[float, float, float] | None,
    axis_to_table_deg: float | None,
) -> Colouring:  # fmt: skip
    """The colouring of ``cut`` with the piece's boundary at ``place`` (tilt, azimuth, offset).

    The piece is turned about the boundary's normal, or freely where it has no boundary, until its
    optic axis stands at ``axis_to_table_deg``, or where none is given, as steep as it can. Raises
    InputError where the piece lacks the boundary or axis asked for.
    """
    if axis_to_table_deg is not None and piece.optic_axis is None:
        raise InputError(f"--axis-to-table: {piece.scan} has no optic axis; drop it")
    zone = _zone(piece, zone_name)
    if zone is None:
        if place is not None:
            raise InputError(f"--tilt, --azimuth and --offset: {piece.scan} has no boundary to lay")
        return colouring_of(piece, None, _pose(cut, _turned_freely(piece, axis_to_table_deg)))
    tilt, azimuth, offset = place or PLAIN
    normal = normal_of(tilt, azimuth)
    rotation = _turned_about(piece, zone.plane.normal, normal, axis_to_table_deg)
    reach = cut.corners @ normal
    level = (reach.max() + reach.min()) / 2.0 + offset * float(np.ptp(reach)) / 2.0
    shift = (zone.plane.offset - level) * zone.plane.normal
    return colouring_of(piece, (zone, zone.towards.name), _pose(cut, rotation, shift))


def piece_line(piece: Rough, colouring: Colouring) -> str:
    """What was taken from the piece, and at what angle its optic axis stands."""
    said = f"Colours of {piece.scan}"
    if colouring.zone is not None:
        said += f', boundary "{colouring.zone}" with {colouring.first.name} on the side named'
    if colouring.axes is not None:
        steep = np.degrees(np.arcsin(min(1.0, abs(float(colouring.axes[0, 2])))))
        said += f"; the optic axis stands {steep:.0f}° to the table"
    return f"{said}."


def _pose(cut: CutStone, rotation: Floats, shift: Floats | None = None) -> Pose:
    return Pose(cut.width, rotation, np.zeros(3) if shift is None else shift)


def refuse_unknown_boundary(name: str, known: Collection[str], scan: str) -> None:
    """Raise InputError where the scan has no boundary of that name."""
    if name not in known:
        hint = nearest(name, known) if known else "it has none"
        raise InputError(f'--zone: {scan} has no boundary "{name}"; {hint}')


def _zone(piece: Rough, name: str | None) -> Zone | None:
    zones = {zone.name: zone for zone in piece.zones}
    if name is not None:
        refuse_unknown_boundary(name, zones, piece.scan)
    if not zones:
        return None
    zone = piece.zones[0] if name is None else zones[name]
    if not isinstance(zone.boundary, Plane):
        raise InputError(
            f'the boundary "{zone.name}" of {piece.scan} is not flat, so tilt, azimuth and offset '
            "don't give its position in a stone: plan a stone to see it"
        )
    return zone


def _turned_about(
    piece: Rough, normal: Floats, wanted: Floats, to_table_deg: float | None
) -> Floats:
    """Stone to scan (3, 3), the boundary's ``normal`` in the scan lying along ``wanted`` in the
    stone."""
    upward = _square_to(wanted, np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]))
    axis = piece.optic_axis
    if axis is None:
        return _from_to((wanted, upward), (normal, _any_square_to(normal)))
    along = float(axis @ normal)
    across = axis - along * normal
    size = float(np.linalg.norm(across))
    fixed, swing = along * wanted[2], size * upward[2]  # the axis rises by fixed + swing cos φ
    if size < _ROUNDING:
        across, size = _any_square_to(normal), 1.0
    cosine = 1.0 if to_table_deg is None and fixed >= 0.0 else -1.0
    if to_table_deg is not None:
        cosine = _cosine(fixed, swing, to_table_deg)
    sine = np.sqrt(1.0 - cosine**2)
    way = cosine * upward + sine * np.cross(wanted, upward)
    return _from_to((wanted, way), (normal, across / size))


def _cosine(fixed: float, swing: float, to_table_deg: float) -> float:
    """The cosine of the turn that brings the optic axis to the angle; either end may point up."""
    rise = float(np.sin(np.radians(to_table_deg)))
    low, high = max(0.0, abs(fixed) - swing), min(1.0, abs(fixed) + swing)
    if not low - _ROUNDING <= rise <= high + _ROUNDING:
        raise InputError(
            f"--axis-to-table is {plain(to_table_deg)}; with this boundary the optic axis "
            f"can stand {np.degrees(np.arcsin(low)):.0f} to {np.degrees(np.arcsin(high)):.0f} "
            "degrees to the table"
        )
    target = rise if abs(rise - fixed) <= swing + _ROUNDING else -rise
    return float(np.clip((target - fixed) / swing, -1.0, 1.0)) if swing > _ROUNDING else 1.0


def _turned_freely(piece: Rough, to_table_deg: float | None) -> Floats:
    """The optic axis above the stone's length, the second axis along its width."""
    if piece.optic_axis is None:
        return np.eye(3)
    at = np.radians(90.0 if to_table_deg is None else to_table_deg)
    wanted = np.array([np.cos(at), 0.0, np.sin(at)])
    second = piece.second_axis
    second = _any_square_to(piece.optic_axis) if second is None else second
    return _from_to((wanted, np.array([0.0, 1.0, 0.0])), (piece.optic_axis, second))


def _from_to(stone: tuple[Floats, Floats], scan: tuple[Floats, Floats]) -> Floats:
    """The rotation (3, 3) that takes one pair of orthogonal unit vectors to the other pair."""
    one, other = (np.array([a, b, np.cross(a, b)]) for a, b in (stone, scan))
    return np.asarray(other.T @ one)


def _square_to(normal: Floats, *helpers: Floats) -> Floats:
    """The unit vector square to ``normal`` nearest to the first helper that isn't along it."""
    for helper in helpers:
        across = helper - (helper @ normal) * normal
        size = float(np.linalg.norm(across))
        if size > 1e-6:
            return np.asarray(across / size)
    raise AssertionError("two helpers can't both lie along one direction")


def _any_square_to(normal: Floats) -> Floats:
    return _square_to(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
