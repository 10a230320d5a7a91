"""The folder of a plan, made once, to saw by and to tamper with."""

import json
import shutil
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from benchmarks.fuzzing.odd_values import toml_bytes

SIZE = (30.0, 12.0, 10.0)  # of a block about the origin, mm: its ends are sawn off
ROUGH: dict[str, Any] = {
    "scan": "block.ply", "unit": "mm", "material": "quartz", "scan_error_mm": 0.05,
    "zones": [{
        "name": "split", "point_mm": [0, 0, 0], "normal": [0, 0, 1],
        "towards": {"colour": "violet", "srgb": "#8a5cc2"}, "away": {"colour": "yellow"},
    }],
    "reference_faces": [
        {"name": "left", "point_mm": [-15, 0, 0], "normal": [-1, 0, 0]},
        {"name": "front", "point_mm": [0, -6, 0], "normal": [0, -1, 0]},
        {"name": "base", "point_mm": [0, 0, -5], "normal": [0, 0, -1]},
    ],
}  # fmt: skip
ORDER: dict[str, Any] = {
    "design": "round-brilliant", "parameters": {"crown": 35, "pavilion": 42},
    "workshop": {"most_cuts": 2},
}  # fmt: skip

_home = TemporaryDirectory(prefix="fuzz-plan-", ignore_cleanup_errors=True)


@cache
def plan_folder() -> Path:
    """A plan of one stone and two cuts, by the command itself."""
    import typer

    from benchmarks.pieces import shapes
    from optimizer.cli import app
    from optimizer.rough import write_ply

    home = Path(_home.name)
    write_ply(home / "block.ply", shapes().box(SIZE))
    (home / "rough.toml").write_bytes(toml_bytes(ROUGH))
    (home / "order.toml").write_bytes(toml_bytes(ORDER))
    names = (str(home / name) for name in ("rough.toml", "order.toml", "plan"))
    call = ("plan", *names)
    with redirect_stdout(StringIO()), redirect_stderr(StringIO()):
        typer.main.get_command(app).main((*call[:3], "--out", call[3]), standalone_mode=False)
    return home / "plan"


def lay_plan(desk: Path) -> Path:
    """A copy of it on the desk."""
    return Path(shutil.copytree(plan_folder(), desk / "plan"))


@cache
def as_planned() -> dict[str, Any]:
    """All that may be told of its first cut, had it run as planned."""
    plan = json.loads((plan_folder() / "plan.json").read_text("utf-8"))
    cut = plan["cuts"][0]
    left = [*cut["below"], *cut["above"]]
    middle, normal = np.array(cut["point_mm"]), np.array(cut["normal"])
    along = np.cross(normal, [0.0, 0.0, 1.0])
    line = [(middle + reach * along).tolist() for reach in (-2.0, 2.0)]
    return {
        "cut": 1,
        "kerf_mm": cut["kerf_mm"],
        "moved": {"by_mm": 0.2, "into_piece": left[0], "tilt_deg": 1.0, "most_at": "A"},
        "distances_mm": {str(k): one["mm"] for k, one in enumerate(cut["distances"], 1)},
        "weights_ct": {str(n): round(plan["pieces"][n]["carat"], 2) for n in left},
        "weights_error_ct": 0.1,
        "flaws": [
            {"name": "feather", "point_mm": middle.tolist(), "radius_mm": 0.1},
            {"name": "crack", "point_mm": {"sawn face of cut 1": 0, "left": 9.0, "front": 5.5},
             "normal": [0, 0, 1], "across_mm": 2.0, "seen_on": left[0]},
        ],
        "boundaries": [{"zone": "split", "points_mm": line, "angle_to_face_deg": 85}],
    }  # fmt: skip
