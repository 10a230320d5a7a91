"""What all checks share: how a check fails, the tolerances, and the robust kernel's solids.

The audit measures solids by the kernel (manifold3d), and distances by numpy and scipy. From
placement it takes only the records that plans are made of. It traces the look with the plan's own
tracer and figures, by another sampling (``look.py``). Nothing in this room calls the search.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.errors import AuditError, InputError
from optimizer.mesh import Mesh
from optimizer.solid import as_solid, volume_of
from optimizer.wording.plain_number import plain

LENGTH_MM = 1e-6  # a millionth of a millimetre: far under any scan, far over rounding
SAME_MM = 1e-9  # two computations of the same corner differ by rounding only
ANGLE_DEG = 2e-5  # moves the rim of a stone of 5 mm by less than LENGTH_MM
PERCENT = 2e-5  # of the volume; for the same reason
OFFSET = 1e-6  # of the half
RELATIVE = 1e-9  # volumes and weights computed twice
OUTSIDE_SHARE = 1e-9  # of the stone's volume: the kernel's rounding, nothing that can be seen


def require(holds: bool, check: str, measured: str, demanded: str) -> None:
    """Raise AuditError in one line unless ``holds``. Write ``holds`` so that NaN fails it."""
    if not holds:
        raise AuditError(f"{check}: {measured}; demanded: {demanded}")


def close(check: str, stated: float, measured: float, tolerance: float, unit: str) -> None:
    """Require a stated figure to agree with the measured one."""
    require(
        abs(stated - measured) <= tolerance,
        check,
        f"{plain(stated, 12)} {unit} stated, {plain(measured, 12)} {unit} measured",
        f"the same to {plain(tolerance, 1)} {unit}",
    )


def within(
    check: str, measured: float, wanted: tuple[float, float], tolerance: float, unit: str
) -> None:
    """Require a measured figure to lie in an ordered range."""
    low, high = wanted
    require(
        low - tolerance <= measured <= high + tolerance,
        check,
        f"{plain(measured, 9)} {unit} measured",
        f"{plain(low)} to {plain(high)} {unit}",
    )


def robust(mesh: Mesh, name: str, load: Callable[[Mesh], Any] = as_solid) -> Any:
    """The kernel's solid of ``mesh``; AuditError where it is open, inside out or empty."""
    try:
        solid = load(mesh)
    except InputError as error:
        raise AuditError(f"{name} is a closed solid: {error}; demanded: closed") from error
    volume = volume_of(solid)
    require(volume > 0.0, f"{name} is wound outward", f"{plain(volume)} mm³", "a positive volume")
    return solid


def count(number: int, thing: str) -> str:
    """A number with its noun: "1 stone", "2 stones"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


@dataclass(frozen=True)
class RoughSolid:
    """The rough as a solid of the kernel, and its outside: its complement in a box."""

    solid: Any
    outside: Any

    @staticmethod
    def of(
        mesh: Mesh, name: str = "the rough", load: Callable[[Mesh], Any] = as_solid
    ) -> "RoughSolid":
        """Made from the rough's mesh as loaded, the input of all stages, not from anything that the
        search or the saw made. Raises AuditError where the mesh is no closed solid."""
        import manifold3d

        solid = robust(mesh, name, load)
        low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
        margin = 0.05 * float(np.max(high - low))  # any margin: stones lie far inside the box
        box = manifold3d.Manifold.cube(tuple(high - low + 2.0 * margin)).translate(
            tuple(low - margin)
        )
        return RoughSolid(solid, box - solid)
