"""Damaged meshes through the whole of the mending, and what it reads back from its files."""

import resource
import sys
import tempfile
import warnings
from collections import Counter
from dataclasses import replace
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

import numpy as np

from benchmarks.damaged_meshes import case
from benchmarks.tables import Table, write_page
from optimizer.errors import InputError
from optimizer.mesh import Mesh, Plane
from optimizer.rough import describe, load_rough, with_flats, write_ply
from optimizer.rough.model import Rough
from optimizer.rough.repair.edges import closed
from optimizer.rough.repair.touching import one_surface
from optimizer.rough.rough_file.save import save_rough
from optimizer.solid import as_mesh, as_solid, lumps, split_by_kerf, volume_of

SECONDS, SEED = 120.0, 4
MOST_CPU_S, MOST_BYTES = 10.0, 1 << 30  # of one mesh, beside what the program itself takes
MOST_WALL_S = 60.0  # a busy machine's; beyond it the process is ended
WARMED_UP_BY = 20  # meshes of another seed, so that compiling counts for none
FLATS_OF = 20  # one mesh in so many is looked over for flats, which takes most of a check
LEAST_SHARE = 0.02  # of the piece: lumps that are sawn off and smaller are no pieces
INTRO = """\
Small meshes damaged at random (`benchmarks/damaged_meshes.py`). Each must be read or refused in one
line, within 10 s of processor time and 1 GB, and what was read must come back from its file, whole
and sawn, as it was written; all else counts as failed."""
COLUMNS = ("cases", "read", "refused", "failed", "worst CPU s", "peak MB")


def judged(mesh: Mesh, folder: Path, *, flats: bool = False) -> str:
    """The refusal in one line, or "read" where the piece, and the parts that a cut leaves of it,
    are closed surfaces and come back from their files as they were. Raises what is a fault of
    ours: AssertionError, or whatever the program did."""
    write_ply(folder / "scan.ply", mesh)
    try:
        rough = load_rough(folder / "scan.ply", unit="mm")
    except InputError as error:
        said = str(error)
        if "\n" in said:
            raise AssertionError("more than one line") from error
        return said
    describe(with_flats(rough) if flats else rough)
    for number, solid in enumerate((rough.mesh, *_sawn(rough))):
        assert closed(solid), f"piece {number} is not closed"
        _read_back(folder / f"{number}.toml", rough, solid)
    return "read"


def _sawn(rough: Rough) -> list[Mesh]:
    """What a cut near the middle leaves of a piece."""
    normal = np.array([0.6, -0.48, 0.64])
    heights = rough.mesh.vertices @ normal
    low, high = float(heights.min()), float(heights.max())
    cut = Plane(normal, 0.55 * low + 0.45 * high)
    sides = split_by_kerf(as_solid(rough.mesh), cut, 0.01 * (high - low))
    loose = [lump for side in sides for lump in lumps(side)]
    least = LEAST_SHARE * rough.volume_mm3
    return [one_surface(as_mesh(lump)) for lump in loose if volume_of(lump) > least]


def _read_back(path: Path, rough: Rough, solid: Mesh) -> None:
    save_rough(replace(rough, mesh=solid), path)
    again = load_rough(path)
    assert again.repairs == (), f"{path.stem}: {again.repairs[0].sentence}"
    assert again.mesh.vertices.tobytes() == solid.vertices.tobytes(), f"{path.stem}: points moved"
    assert again.mesh.faces.tobytes() == solid.faces.tobytes(), f"{path.stem}: other triangles"
    assert again.scan_error_mm == rough.scan_error_mm, f"{path.stem}: another scan error"


def _work(line: Connection) -> None:
    """Judge the cases that come down the line: what came of each, and its seconds and megabytes."""
    warnings.simplefilter("error")
    with tempfile.TemporaryDirectory() as name:
        for number in range(WARMED_UP_BY):
            judged(case(SEED + 1, number)[1], Path(name), flats=number == 0)
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
        most = pages * resource.getpagesize() + MOST_BYTES
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
        line.send("ready")
        while True:
            seed, number = line.recv()
            what, mesh = case(seed, number)
            begun = process_time()
            try:
                said = judged(mesh, Path(name), flats=number % FLATS_OF == 0)
            except Exception as error:
                said = f"FAILED: {type(error).__name__}: {error}"[:300]
            if process_time() - begun > MOST_CPU_S:
                said = f"FAILED: took {process_time() - begun:.0f} s"
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0
            line.send((what, said, process_time() - begun, peak))


def _started() -> tuple[Any, Connection]:
    here, there = get_context("spawn").Pipe()
    process = get_context("spawn").Process(target=_work, args=(there,), daemon=True)
    process.start()
    here.recv()
    return process, here


class Judge:
    """A process that judges cases, begun anew where one ends it or takes too long."""

    def __init__(self) -> None:
        self.process, self.line = _started()

    def judge(self, seed: int, number: int) -> tuple[str, str, float, float]:
        """What was done to which mesh, what came of it, CPU seconds and megabytes."""
        self.line.send((seed, number))
        try:
            if self.line.poll(MOST_WALL_S):
                return tuple(self.line.recv())
        except EOFError:
            pass
        self.process.kill()
        self.process, self.line = _started()
        return case(seed, number)[0], "FAILED: the process ended, or had to be", MOST_WALL_S, 0.0


def main(seconds: float = SECONDS, seed: int = SEED) -> int:
    """Judge damaged meshes for so long; 1 where one failed."""
    judge, counts, worst, peak, number = Judge(), Counter[str](), 0.0, 0.0, 0
    begun = perf_counter()
    while perf_counter() - begun < seconds:
        what, said, took, memory = judge.judge(seed, number)
        worst, peak = max(worst, took), max(peak, memory)
        kind = said.split(":")[0] if said.startswith(("read", "FAILED")) else "refused"
        counts[kind] += 1
        if kind == "FAILED":
            print(f"seed {seed}, case {number} ({what}): {said}", file=sys.stderr, flush=True)
        number += 1
    judge.process.kill()
    row = [
        f"{number:,}", f"{counts['read']:,}", f"{counts['refused']:,}", f"{counts['FAILED']:,}",
        f"{worst:.1f}", f"{peak:.0f}",
    ]  # fmt: skip
    note = f"{seconds:g} s, seed {seed}; the peak is the whole process's."
    write_page("ladder", INTRO, [Table("Damaged meshes", COLUMNS, [row], note)])
    return 1 if counts["FAILED"] else 0


if __name__ == "__main__":  # python -m benchmarks.ladder [SECONDS [SEED]]
    sys.exit(main(*map(int, sys.argv[1:3])))
