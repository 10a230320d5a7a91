"""A colour boundary as quadratic forms in the stone's frame."""

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.optics.look_map import normal_of
from optimizer.rough.model import Ball, BentSheet, Boundary, ConvexRoom


def forms_of(boundary: Boundary, rotation: Floats, translation: Floats) -> Floats:
    """The forms (k, 10) that ``kernels.split`` reads, all positive on the boundary's inside, for
    points in the stone's frame: x_scan = ``translation`` + ``rotation``·x_stone."""
    return np.array([_row(*_moved(*form, rotation, translation)) for form in _forms(boundary)])


def plane_form(corners: Floats, tilt_deg: float, azimuth_deg: float, offset: float) -> Floats:
    """The form (1, 10) of a plane in the stone's frame: ``offset`` 0 halves the extent of
    ``corners`` (k, 3) along the plane's normal, at ±1 the plane just touches them."""
    normal = normal_of(tilt_deg, azimuth_deg)
    along = corners @ normal
    low, high = along.min(), along.max()
    at = (low + high) / 2.0 + offset * (high - low) / 2.0
    return np.array([[0.0] * 6 + [*normal, -at]])


Form = tuple[Floats, Floats, float]  # x·Q·x + q·x + c


def _forms(boundary: Boundary) -> list[Form]:
    match boundary:
        case Plane():
            return [(np.zeros((3, 3)), boundary.normal, -boundary.offset)]
        case ConvexRoom():
            return [form for plane in boundary.planes for form in _forms(plane)]
        case Ball():
            c = boundary.centre
            return [(-np.eye(3), 2.0 * c, float(boundary.radius_mm**2 - c @ c))]
        case BentSheet():
            m, frame = boundary.middle, boundary.frame
            curve = frame.T @ np.diag([*boundary.bend, 0.0]) @ frame
            up = frame[2]
            return [(-curve / 2.0, up + curve @ m, float(-up @ m - m @ curve @ m / 2.0))]


def _moved(Q: Floats, q: Floats, c: float, R: Floats, t: Floats) -> Form:
    return R.T @ Q @ R, R.T @ (q + 2.0 * Q @ t), float(t @ Q @ t + q @ t + c)


def _row(Q: Floats, q: Floats, c: float) -> Floats:
    return np.array([*np.diag(Q), 2.0 * Q[0, 1], 2.0 * Q[0, 2], 2.0 * Q[1, 2], *q, c])
