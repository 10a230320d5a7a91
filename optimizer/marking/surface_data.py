"""The whole surface for the marking page, small enough to travel in it."""

import base64
import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Ints, Mesh
from optimizer.view.display_mesh import lightened
from optimizer.view.layer import ColouredMesh, Colours

MOST_TRIANGLES = 2_000_000  # makes a page of about 15 MB that answers a click within 0.2 s
STEP_MM = 0.001  # places are rounded to this: no point moves by more than 0.0009 mm
_FINEST = 2.0**-30  # of the farthest coordinate: a finer step would overflow 32-bit whole numbers


@dataclass(frozen=True)
class SurfaceData:
    """The packed surface, and how far in mm it lies off the true one at most."""

    data: dict[str, Any]
    off_mm: float


def surface_data(mesh: Mesh, colours: Colours | None, middle: Floats) -> SurfaceData:
    """Pack the corner points, in steps about ``middle`` (3,), the triangles that number them, and
    the points' ``colours`` (n, 3).

    Up to MOST_TRIANGLES nothing is left out; above that, corners that lie close are merged.
    """
    kept = ColouredMesh(
        mesh, np.zeros((len(mesh.vertices), 3), np.uint8) if colours is None else colours
    )
    light, off = lightened(kept, MOST_TRIANGLES)
    local = light.mesh.vertices - middle
    step = max(STEP_MM, float(np.abs(local).max()) * _FINEST)
    data = {
        "points": _steps(np.rint(local / step).astype(np.int32)),
        "corners": _steps(light.mesh.faces.reshape(-1, 1).astype(np.int32)),
        "colours": None if colours is None else _deflated(light.colours),
        "step_mm": step,
        "longest_mm": float(np.ptp(mesh.vertices, axis=0).max()),
    }
    return SurfaceData(data, off + step * np.sqrt(3.0) / 2.0)


def _steps(rows: NDArray[np.int32] | Ints) -> str:
    """Whole numbers (n, k) as the differences from row to row, their bytes sorted by significance:
    neighbours in a scan lie close together, so most bytes are zero and compress well."""
    steps = np.diff(rows, axis=0, prepend=np.zeros((1, rows.shape[1]), rows.dtype))
    planes = np.ascontiguousarray(steps.astype("<i4")).view(np.uint8).reshape(-1, 4).T
    return _deflated(planes)


def _deflated(array: NDArray[np.uint8]) -> str:
    packed = zlib.compress(np.ascontiguousarray(array).tobytes(), 6)
    return base64.b64encode(packed).decode("ascii")
