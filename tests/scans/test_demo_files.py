"""The demo's rough file and order, read by the program as a user's would be."""

from pathlib import Path

import numpy as np
import pytest

from optimizer.order import load_order
from optimizer.rough import load_rough

SCANS = Path(__file__).parents[2] / "scans"


def test_the_demo_rough_loads_without_repair_or_doubt() -> None:
    rough = load_rough(SCANS / "two-colour-quartz.toml")
    assert rough.repairs == ()
    assert rough.warnings == ()
    assert rough.watertight_as_read
    assert len(rough.mesh.faces) == 115_520
    assert rough.material.name == "quartz"
    assert rough.weighed_ct == pytest.approx(rough.carat, rel=0.01)
    assert [zone.name for zone in rough.zones] == ["split"]
    assert [face.name for face in rough.reference_faces] == ["sawn end"]
    assert rough.optic_axis == pytest.approx([-0.06924, -0.12187, 0.99013], abs=1e-4)


def test_each_colour_fills_near_half_of_the_demo_rough() -> None:
    """Cones over the triangles from a point of the boundary; the few that straddle it are given
    to the side of their middle."""
    rough = load_rough(SCANS / "two-colour-quartz.toml")
    plane = rough.zones[0].plane
    corners = rough.mesh.triangles - plane.offset * plane.normal
    cones = np.linalg.det(corners) / 6.0
    violet = cones[corners.mean(axis=1) @ plane.normal > 0.0].sum()
    assert cones.sum() == pytest.approx(rough.volume_mm3, rel=1e-9)
    assert 0.42 < violet / rough.volume_mm3 < 0.5


def test_the_demo_order_asks_for_the_boundary_across_the_middle() -> None:
    order = load_order(SCANS / "order.toml")
    assert order.designs == ("long-hexagon",)
    assert order.zone is not None
    assert (order.zone.name, order.zone.colour) == ("split", "violet")
    assert order.zone.tilt_deg == (-8.0, 8.0)
    assert order.zone.azimuth_deg == (-12.0, 12.0)
    assert order.zone.offset == (-0.1, 0.1)
    assert order.zone.keep_clear_mm is None
    assert order.zone.share_percent is None
