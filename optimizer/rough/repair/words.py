"""The words of the repair steps for places, lengths and shares."""

import numpy as np

from optimizer.mesh import Floats, Mesh, cross, lengths
from optimizer.wording.plain_number import plain


def place(point: Floats) -> str:
    """A point for a message, to a hundredth of a millimetre."""
    x, y, z = (round(float(v), 2) + 0.0 for v in point)
    return f"({plain(x)}, {plain(y)}, {plain(z)}) mm"


def areas_mm2(triangles: Floats) -> Floats:
    """Areas (m,) of triangles (m, 3, 3)."""
    sides = triangles[:, 1:] - triangles[:, :1]
    return np.asarray(lengths(cross(sides[:, 0], sides[:, 1])) / 2.0)


def sides_mm(mesh: Mesh) -> tuple[float, float, float]:
    """The sides of the box about a mesh's triangles, along the scan's axes."""
    used = mesh.triangles.reshape(-1, 3).T  # by columns, which numpy does much more quickly
    x, y, z = (float(column.max() - column.min()) for column in used)
    return x, y, z


def longest_mm(mesh: Mesh) -> float:
    """The longest of these sides."""
    return max(sides_mm(mesh))


def mm(length: float) -> str:
    """A length with as many digits as it needs: ``0.25 mm``, ``0.0031 mm``."""
    return f"{length:.2f} mm" if length >= 0.1 else f"{plain(length, 2)} mm"


def percent(share: float) -> str:
    """A share as ``100 %``, ``3.1 %``, ``0.02 %``."""
    return f"{100.0 * share:.0f} %" if share >= 0.1 else f"{plain(100.0 * share, 2)} %"
