"""What lies on a desk, and what is sound enough to be damaged there."""

import os
import stat
from pathlib import Path
from typing import Any, TypeAlias

Seen: TypeAlias = dict[str, tuple[Any, ...]]

ROUGH: dict[str, Any] = {
    "scan": "box.ply",
    "unit": "mm",
    "material": "quartz",
    "weighed_ct": 26.5,
    "scan_error_mm": 0.05,
    "optic_axis": [0.1, 0.2, 1.0],
    "zones": [
        {
            "name": "split",
            "point_mm": [0.0, 0.0, 0.0],
            "normal": [1.0, 0.1, 0.0],
            "towards": {"colour": "violet", "srgb": "#7a4fa3", "shows_at_mm": 5.0},
            "away": {"colour": "yellow", "srgb": "#e8b83a"},
        }
    ],
    "reference_faces": [
        {"name": "base", "point_mm": [0.0, 0.0, -5.0], "normal": [0.0, 0.0, -1.0]},
        {"name": "left", "point_mm": [-8.0, 0.0, 0.0], "normal": [-1.0, 0.0, 0.0]},
        {"name": "front", "point_mm": [0.0, -6.25, 0.0], "normal": [0.0, -1.0, 0.0]},
    ],
}
SIZE = (16.0, 12.5, 10.0)  # of the box, mm
MOST = 10_000_000  # bytes of a file that are compared
FIXED = {"design": "round-brilliant", "parameters": {"crown": 35, "pavilion": 42}}


def lay_box(desk: Path, rough: bytes | None = None) -> None:
    """A box of 12 triangles and its rough file."""
    from benchmarks.fuzzing.odd_values import toml_bytes
    from benchmarks.pieces import shapes
    from optimizer.rough import write_ply

    write_ply(desk / "box.ply", shapes().box(SIZE))
    (desk / "rough.toml").write_bytes(toml_bytes(ROUGH) if rough is None else rough)


def seen(folder: Path, name: str = "") -> Seen:
    """Everything under ``folder`` by its name: kind, mode, owner, and content or target."""
    found: Seen = {}
    for entry in os.scandir(folder):
        inner = f"{name}/{entry.name}" if name else entry.name
        status = entry.stat(follow_symlinks=False)
        found[inner] = (oct(status.st_mode), status.st_uid, *_content(entry, status))
        if entry.is_dir(follow_symlinks=False):
            found |= seen(Path(entry.path), inner)
    return found


def _content(entry: os.DirEntry[str], status: os.stat_result) -> tuple[Any, ...]:
    if entry.is_symlink():
        return (os.readlink(entry.path),)
    if stat.S_ISREG(status.st_mode):
        with open(entry.path, "rb") as file:
            return (status.st_mtime_ns, status.st_size, file.read(MOST))
    return ()
