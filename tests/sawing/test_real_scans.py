"""Saw plans in scans that nobody here made (read in place, skipped where they are absent)."""

from pathlib import Path

import numpy as np
import pytest
import trimesh
from handmade_plans import six_sided_body
from placed_stones import kerf_volume, leaf_ids, placement_of, rough_of, solid_volume

from optimizer.guidance.distances import cut_distances
from optimizer.guidance.landmarks import landmarks
from optimizer.mesh import Mesh
from optimizer.order import Workshop
from optimizer.sawing import saw_plan

SCANS = Path(__file__).parents[3] / "shared" / "meshes" / "apollo"


@pytest.mark.parametrize("name", ["apollo13.ply", "apollo20.ply"])
def test_a_stone_in_the_middle_of_a_real_rock(name):
    if not (SCANS / name).exists():
        pytest.skip("the folder of real scans is absent")
    scan = trimesh.load(SCANS / name)
    scan.apply_scale(20.0 / scan.extents.max())
    rough = rough_of(Mesh(np.array(scan.vertices), np.array(scan.faces, np.int64)))
    stone = placement_of(six_sided_body(), 4.0, scan.center_mass)
    shop = Workshop()
    plan, _ = saw_plan(rough, stone, shop)
    assert plan.cuts
    assert plan.offcuts
    filled = sum(solid_volume(plan.pieces[i].mesh) for i in leaf_ids(plan))
    filled += sum(kerf_volume(plan, i) for i in range(len(plan.cuts)))
    assert filled == pytest.approx(rough.volume_mm3, rel=1e-6)
    told = cut_distances(rough, plan, landmarks(rough.mesh), np.array([1.0, 0, 0]))
    for cut, distances in zip(plan.cuts, told, strict=True):
        ends = {d.end: d.end_point for d in distances[:-1]}
        assert len(ends) == 3
        for point in ends.values():
            assert point @ cut.plane.normal == pytest.approx(cut.plane.offset, abs=1e-6)
