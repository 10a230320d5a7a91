"""Whether a piece of flame-fusion material is a whole boule, which must be split before cutting."""

import math

import numpy as np

from optimizer.mesh import Floats, Mesh
from optimizer.rough.model import Rough
from optimizer.rough.shape import principal_axes
from optimizer.solid import as_solid, plane_frame, section

WHOLE, SPLIT = "boule", "split boule"  # as files state a form
# Of the circle about a section: an ellipse of 4 : 5 fills 0.80, three quarters of a boule 0.75, a
# square block 0.64, a boule split in half 0.50.
NEARLY_ROUND = 0.8
_HEIGHTS = np.linspace(0.2, 0.8, 5)  # of the length; the ends may be domed, broken or pointed


def whole_boule_doubt(rough: Rough) -> tuple[str, ...]:
    """A warning where a piece of flame-fusion material is whole, as stated or by its shape.

    Source for the stress that splits every such boule along a plane, and for splitting it there
    before cutting to relieve the stress: Hughes and Koivula, Verneuil Synthetic Corundum: Dangerous
    Curves, 2005. The rest of the warning is common practice, no source.
    """
    if rough.material.process != "flame fusion":
        return ()
    stated = stated_form(rough)
    if stated == SPLIT:
        return ()
    if stated == WHOLE:
        appearance, remedy = "is a whole boule of flame-fusion material", ""
    else:
        round_share = roundness(rough.mesh)
        if round_share < NEARLY_ROUND:
            return ()
        appearance = (
            "looks like a whole boule of flame-fusion material (its sections fill at least "
            f"{100.0 * round_share:.0f} % of a circle)"
        )
        remedy = f' Where it has been split, state form = "{SPLIT}" in the rough file.'
    return (
        f"THE PIECE {appearance}: DO NOT CUT IT WHOLE. A boule holds stress from its growth, which "
        "may split it lengthwise under the saw, on the dop or in a half-finished stone. Have it "
        "split lengthwise first, scan the half that you cut, and plan in that scan. Splitting is "
        "work for trained hands with eye protection: the halves fly apart. Growth lines are "
        f"curved: look for them before you choose the table.{remedy}",
    )


def stated_form(rough: Rough) -> str:
    """WHOLE or SPLIT where the rough file or its readings say so; else ""."""
    form = rough.readings.form if rough.readings else rough.form
    return form if form in (WHOLE, SPLIT) else ""


def roundness(mesh: Mesh) -> float:
    """How round the piece is across its roundest principal axis: the share of its enclosing circle
    that the least round of several sections fills. 1 for a round bar, whatever its taper."""
    axes = principal_axes(mesh)[1]
    return max(_roundness_along(mesh, axis, axes[k - 1]) for k, axis in enumerate(axes))


def _roundness_along(mesh: Mesh, axis: Floats, across: Floats) -> float:
    solid, frame = as_solid(mesh), plane_frame(axis, across)
    low, high = np.min(mesh.vertices @ axis), np.max(mesh.vertices @ axis)
    return min(_filled(section(solid, frame, low + at * (high - low))) for at in _HEIGHTS)


def _filled(loops: tuple[Floats, ...]) -> float:
    """The loops' area as a share of a circle whose diameter is their greatest width."""
    if not loops:
        return 0.0
    area = sum(_signed_area(loop) for loop in loops)
    turns = np.radians(np.arange(0.0, 180.0, 3.0))
    widths = np.ptp(np.vstack(loops) @ np.array([np.cos(turns), np.sin(turns)]), axis=0)
    return float(area / (math.pi / 4.0 * widths.max() ** 2))


def _signed_area(loop: Floats) -> float:
    x, y = (loop - loop.mean(axis=0)).T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2.0
