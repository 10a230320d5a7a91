"""Plans in scans that nobody here made (read in place, skipped where they are absent).

Quarry stone: IBOIS, EPFL (MIT). Apollo hand sample: NASA Johnson Space Center, Astromaterials 3D
(CC0), decimated. Scaled so that the longest side is 20 mm, as a cutter's piece would be.
"""

from pathlib import Path

import numpy as np
import pytest
import shapes

from optimizer import load_rough, make_plan
from optimizer.order import Order
from optimizer.rough.formats.read import read_scan

SCANS = Path(__file__).parents[3] / "shared" / "meshes"
pytestmark = [
    pytest.mark.skipif(not SCANS.is_dir(), reason="the folder of real scans is absent"),
    pytest.mark.usefixtures("small_quick"),
]


@pytest.mark.parametrize("name", ["03_quarry_E22.ply", "apollo/apollo13.ply"])
def test_a_plan_is_found_and_audited(name):
    longest = float(np.ptp(read_scan(SCANS / name).used_points, axis=0).max())
    table = {"material": "quartz", "mm_per_unit": 20.0 / longest, "scan_error_mm": 0.05}
    rough = load_rough(SCANS / name, rough_table=table)
    assert float(np.ptp(rough.mesh.vertices, axis=0).max()) == pytest.approx(20.0)
    plan = make_plan(rough, Order(designs=("oval",)), effort="quick")
    assert plan.status == "found"
    assert plan.audit
    (stone,) = plan.stones
    assert stone.placement.clearance_mm >= 0.25 - 1e-9
    assert 0.1 * rough.carat < stone.carat <= stone.bound.carat
    # The robust kernel has its own word: nothing of the stone lies outside the rough.
    inside = shapes.as_solid(stone.placement.mesh()) ^ shapes.as_solid(rough.mesh)
    assert inside.volume() == pytest.approx(stone.volume_mm3, rel=1e-6)
