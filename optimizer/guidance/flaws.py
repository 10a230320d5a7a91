"""Flaws in the finished stone: those that are allowed off the table."""

from collections.abc import Iterable

import numpy as np

from optimizer.guidance.model import FlawView
from optimizer.mesh import centroid
from optimizer.placement.model import Placement
from optimizer.rough.flaws.shape import flaw_solid
from optimizer.rough.model import Flaw, Rough
from optimizer.solid import as_mesh, as_solid, volume_of

ON_AXIS_SHARE = 1e-3  # of the width: a flaw nearer to the axis has no azimuth
WITHIN = 1e-9  # of its volume: a flaw with no more outside lies wholly in the stone


def flaws_within(rough: Rough, placement: Placement) -> tuple[FlawView, ...]:
    """The part of each flaw that lies in the stone, and where in the stone. A flaw without
    thickness counts with 0.02 mm on either side."""
    allowed = [flaw for flaw in rough.flaws if flaw.off_table]
    views = [_view(flaw, rough, placement) for flaw in allowed]
    return tuple(view for view in views if view is not None)


def flaw_warnings(views: Iterable[FlawView]) -> tuple[str, ...]:
    """Warnings of what may happen with flaws left in the stone. From memory of the usual
    handbooks."""
    return tuple(
        f'The {"crack" if view.crack else "flaw"} "{view.flaw}" {_risk(view)}.'
        for view in views
        if view.crack or view.reaches_surface
    )


def _risk(view: FlawView) -> str:
    if not view.crack:
        return "comes to the stone's surface and may leave a pit in a facet"
    where = "comes to the stone's surface" if view.reaches_surface else "lies within the stone"
    return f"{where}: the stone may split there in cutting, in the heat of dopping or in setting"


def _view(flaw: Flaw, rough: Rough, placement: Placement) -> FlawView | None:
    whole, mesh = flaw_solid(flaw, rough.mesh.vertices), placement.mesh()
    within = whole ^ as_solid(mesh)
    if within.is_empty():
        return None
    pose = placement.pose
    corners = (as_mesh(within).vertices - pose.translation) @ pose.rotation
    middle = (centroid(as_mesh(within)) - pose.translation) @ pose.rotation
    table = float(placement.body.vertices_at(pose.width)[:, 2].max())
    off_axis = float(np.hypot(*middle[:2]))
    on_axis = off_axis <= ON_AXIS_SHARE * pose.width
    return FlawView(
        flaw=flaw.name,
        crack=flaw.normal is not None,
        below_table_mm=table - float(corners[:, 2].max()),
        off_axis_mm=off_axis,
        azimuth_deg=None if on_axis else float(np.degrees(np.arctan2(middle[1], middle[0]))),
        reaches_surface=volume_of(whole) - volume_of(within) > WITHIN * volume_of(whole),
    )
