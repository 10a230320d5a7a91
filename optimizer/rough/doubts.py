"""Warnings where the facts about a piece contradict each other or its scan, as plain sentences."""

import numpy as np

from optimizer.mesh import Plane, lengths, vector_areas
from optimizer.rough.boule import whole_boule_doubt
from optimizer.rough.flaws.shape import outside
from optimizer.rough.model import ReferenceFace, Rough, Zone
from optimizer.rough.scale.weight_words import weight_doubt
from optimizer.rough.zones.boundary import heights
from optimizer.rough.zones.solid import parted
from optimizer.solid import as_solid

_LEAST_FACING = 0.5  # cosine; generous, since noise tilts a scan's small triangles far
_FACE_LEAST_GAP_MM = 0.1
_FIT_LEAST_MM = 0.1  # places are marked no better than this (common practice, no source)
_FIT_ERRORS = 3.0


def doubts_about(rough: Rough) -> tuple[str, ...]:
    """Warnings about a loaded piece: whole boule, weight, zones, flaws and reference faces."""
    zones = [doubt for zone in rough.zones if (doubt := _zone_doubt(rough, zone))]
    faces = [doubt for face in rough.reference_faces if (doubt := _face_doubt(rough, face))]
    fits = [doubt for zone in rough.zones if (doubt := _fit_doubt(rough, zone))]
    return (*grave_doubts(rough), *zones, *fits, *_flaw_doubts(rough), *faces)


def grave_doubts(rough: Rough) -> tuple[str, ...]:
    """The warnings that call the whole plan in question; they are to be read before all others."""
    return (*whole_boule_doubt(rough), *weight_doubt(rough))


def _zone_doubt(rough: Rough, zone: Zone) -> str | None:
    side = heights(zone.boundary, rough.mesh.vertices)
    if side.min() < 0.0 < side.max():
        return None
    # A ball or another curved boundary may lie wholly within the piece, away from every corner.
    if not isinstance(zone.boundary, Plane):
        towards, away = parted(as_solid(rough.mesh), zone.boundary)
        if not towards.is_empty() and not away.is_empty():
            return None
    colour = zone.towards.name if side.min() >= 0.0 else zone.away.name
    gap = float(np.abs(side).min())
    return (
        f'zone "{zone.name}" misses the piece by {gap:.2f} mm, so all of the piece is {colour}: '
        "check where the boundary lies, in mm in the piece's own frame"
    )


def _fit_doubt(rough: Rough, zone: Zone) -> str | None:
    fit = zone.fit
    if fit is None or fit.rms_mm <= max(_FIT_LEAST_MM, _FIT_ERRORS * rough.scan_error_mm):
        return None
    return (
        f'zone "{zone.name}": the {zone.kind} lies {fit.rms_mm:.2f} mm (rms) off its '
        f"{fit.source}, {fit.worst_mm:.2f} mm at worst: check whether the boundary has another "
        "shape, or a place is marked wrongly"
    )


def _flaw_doubts(rough: Rough) -> tuple[str, ...]:
    if not rough.flaws:
        return ()
    solid = as_solid(rough.mesh)
    return tuple(
        f'flaw "{flaw.name}" lies outside the piece, even with its clearance, and changes nothing: '
        "check its points, in mm in the piece's own frame"
        for flaw in rough.flaws
        if outside(flaw, solid, rough.mesh.vertices)
    )


def _face_doubt(rough: Rough, face: ReferenceFace) -> str | None:
    if area_and_rms_on(rough, face.plane)[0] > 0.0:
        return None
    return (
        f'reference face "{face.name}" lies on no part of the surface that faces its way: check '
        "point_mm and normal, which points out of the piece"
    )


def area_and_rms_on(rough: Rough, plane: Plane) -> tuple[float, float]:
    """(mm² of triangles on the plane, give or take the scan error, that face its way; rms of their
    centres' distance from it, mm)."""
    corners = rough.mesh.triangles
    along = vector_areas(corners)
    area = lengths(along)
    gap = corners.mean(axis=1) @ plane.normal - plane.offset
    near = np.abs(gap) <= max(_FACE_LEAST_GAP_MM, 3.0 * rough.scan_error_mm)
    on = near & (along @ plane.normal >= _LEAST_FACING * area) & (area > 0.0)
    if not on.any():
        return 0.0, 0.0
    total = float(area[on].sum())
    return total, float(np.sqrt(area[on] @ gap[on] ** 2 / total))
