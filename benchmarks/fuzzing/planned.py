"""The folder of a plan, made once, to saw by and to tamper with."""

import shutil
import sys
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from benchmarks.tables import ROOT

SAWN: dict[str, Any] = {
    "cut": 1,
    "kerf_mm": 0.42,
    "moved": {"by_mm": 0.2, "into_piece": 2, "tilt_deg": 1.0, "most_at": "A"},
    "weights_ct": {"1": 26.7, "2": 20.3},
    "weights_error_ct": 0.5,
    "flaws": [
        {"name": "feather", "point_mm": [1.5, 1.0, 1.0], "radius_mm": 0.1},
        {"name": "crack", "point_mm": {"sawn face of cut 1": 0, "base": 4.2, "front": 5.5},
         "normal": [0, 0, 1], "across_mm": 2.0, "seen_on": 1},
    ],
    "boundaries": [
        {"zone": "split", "points_mm": [[1.8, -3.0, 0.0], [1.8, 3.0, 0.5]], "angle_to_face_deg": 85}
    ],
}  # fmt: skip
READ: dict[str, Any] = {
    "cut": 1,
    "distances_mm": {"1": 17.1, "2": 17.0, "3": 16.9, "5": 16.8},
    "measured_on": 1,
}

_home = TemporaryDirectory(prefix="fuzz-plan-", ignore_cleanup_errors=True)


@cache
def plan_folder() -> Path:
    """A block with one stone between two cuts, laid by hand as the tests have it."""
    sys.path.append(str(ROOT / "tests"))
    from sawn_block import block_plan

    from optimizer.folder import whole_folder
    from optimizer.report import write_plan

    out = Path(_home.name) / "plan"
    with whole_folder(out, replace=False) as fresh:
        write_plan(block_plan(), fresh)
    return out


def lay_plan(desk: Path) -> Path:
    """A copy of it on the desk."""
    return Path(shutil.copytree(plan_folder(), desk / "plan"))
