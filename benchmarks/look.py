"""How long pictures of a face take, beside a general physically based renderer."""

import sys
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, process_time

import numpy as np

from benchmarks.tables import ROOT, Table, timed, write_page
from optimizer.design import build_body, load_design
from optimizer.design.model import Body
from optimizer.materials import load_material
from optimizer.mesh import Floats
from optimizer.optics.colouring import Colouring, Tint
from optimizer.optics.dye import Sample, dye_of
from optimizer.optics.eye import pixels, rocked
from optimizer.optics.face import by_parts, everywhere, face_of, gloss, lit
from optimizer.optics.lights import LIGHTS
from optimizer.optics.look import UPRIGHT, Cut
from optimizer.optics.picture import face_picture
from optimizer.optics.seen import LEAST
from optimizer.optics.shading import bands

DESIGN, MATERIAL, INDEX, WIDTH_MM = "round-brilliant", "quartz", 1.544, 8.0
ACROSS, HALF = 64, 0.5  # dots of the small picture, and half its side, of a stone 1 wide
FINER, FINEST = (1, 2, 3, 4, 6, 8, 12, 16), 40  # of our places either way in a dot
SAMPLES, MOST_SAMPLES = (16, 64, 256, 1024), 4096  # random paths a dot of the renderer
BIG, BANDS = 512, 3
REPEATS = 3
SKY, SEED = LIGHTS["open sky"], 5
GOAL_TIMES, GOAL_S = 10.0, 1.0

INTRO = f"""\
Faces of a {DESIGN} in {MATERIAL}, seen from straight above under an open sky, compiled code warm,
two threads. The renderer is mitsuba {version("mitsuba")} in its variant scalar_rgb, its scene that
of tests/renderer.py; its variants for vector units and graphics cards were not tried. Times are
the least of {REPEATS}, the renderer's from {SAMPLES[-1]} samples on of one, less what its scene
takes to build. Our rays are followed until {100 * LEAST:g} % is left, as in pictures."""


def ours(body: Body, finer: int, seed: int, least: float = LEAST) -> Floats:
    """Radiance (ACROSS, ACROSS), each dot the mean of ``finer``² places, each at random in its
    square."""
    count = ACROSS * finer
    places = pixels(np.full(2, -HALF), np.full(2, HALF), count)
    off = np.random.default_rng(seed).uniform(-0.5, 0.5, places.shape)

    def some(part: Floats) -> Floats:
        face = face_of(
            body.normals, body.offsets_at(1.0), (INDEX,), bands(1), part, rocked(0.0, 0.0),
            least=least,
        )  # fmt: skip
        (paths,), (light,) = face.paths, lit(face, SKY)
        inner = np.bincount(paths.ray, light, len(part))
        return np.repeat((inner + gloss(face, SKY) * face.hit)[:, None], 3, axis=1)

    seen = by_parts(some, places + off * 2.0 * HALF / count)[:, 0]
    return np.asarray(seen.reshape(ACROSS, finer, ACROSS, finer).mean(axis=(1, 3)))


def theirs(body: Body, folder: Path) -> Callable[[int, int], Floats]:
    """The renderer's picture by dots across and by samples a dot."""
    sys.path.append(str(ROOT / "tests"))
    from renderer import rendered

    mesh, upright = body.mesh_at(1.0), rocked(0.0, 0.0)
    return lambda across, samples: rendered(
        mesh, upright, INDEX, 0.0, folder, half=HALF, across=across, samples=samples
    )


def rms(one: Floats, other: Floats) -> float:
    """Over all dots."""
    return float(np.sqrt(((one - other) ** 2).mean()))


def least_of(job: Callable[[], Floats], repeats: int) -> tuple[Floats, float]:
    """What ``job`` returns, and the least of its times."""
    runs = [timed(job) for _ in range(repeats)]
    return runs[0][0], min(seconds for _, seconds in runs)


def beside_the_renderer(body: Body) -> Table:
    """Both at several efforts, and the ratio of times at the renderer's errors."""
    true = ours(body, FINEST, SEED, 1e-6)
    errors, times, rows, ratios = [], [], [], []
    for finer in FINER:
        got, seconds = least_of(lambda finer=finer: ours(body, finer, SEED + 1), REPEATS)
        errors.append(rms(got, true))
        times.append(seconds)
        rows.append(["ours", f"{finer**2}", f"{errors[-1]:.4f}", f"{seconds:.3f}", ""])
        print(" ".join(rows[-1]), flush=True)
    with TemporaryDirectory() as folder:
        render = theirs(body, Path(folder))
        _, scene = least_of(lambda: render(1, 1), REPEATS)
        for samples in (*SAMPLES, MOST_SAMPLES):
            repeats = REPEATS if samples < SAMPLES[-1] else 1
            got, seconds = least_of(lambda n=samples: render(ACROSS, n), repeats)
            error = rms(got, true)
            row = ["renderer", f"{samples}", f"{error:.4f}", f"{seconds - scene:.3f}", ""]
            if samples in SAMPLES and errors[-1] <= error <= errors[0]:
                ratios.append((seconds - scene) / time_for(error, errors, times))
                row[-1] = f"{ratios[-1]:.1f}"
            rows.append(row)
            print(" ".join(row), flush=True)
    note = (
        f"RMS over {ACROSS} x {ACROSS} dots of radiance (sky 1), against ours at {FINEST**2} "
        f"places a dot. The renderer at {MOST_SAMPLES} samples differs from it by {error:.4f}, "
        f"in the mean by {abs(got.mean() - true.mean()):.4f} of {true.mean():.4f}. *Times as long* "
        f"is its time over ours for the same error, ours between rows by straight lines of the "
        f"logarithms: {min(ratios, default=np.nan):.1f} to {max(ratios, default=np.nan):.1f}, the "
        f"goal is {GOAL_TIMES:g}."
    )
    columns = ("method", "places or samples a dot", "RMS error", "s", "times as long")
    return Table("At equal error", columns, rows, note)


def time_for(error: float, errors: list[float], times: list[float]) -> float:
    """Ours for an RMS error between those of ``errors``, which fall."""
    at = np.log(error), np.log(errors[::-1]), np.log(times[::-1])
    return float(np.exp(np.interp(*at)))


def big_picture(body: Body) -> Table:
    """The middle of every dot alone, and the picture as the command draws it."""
    cut = Cut(body, WIDTH_MM, load_material(MATERIAL))
    violet = Tint("violet", (dye_of([Sample((0.54, 0.36, 0.76), 3.0)]),) * 3)
    colouring = Colouring(violet, violet, everywhere())
    places = pixels(np.full(2, -WIDTH_MM / 2.0), np.full(2, WIDTH_MM / 2.0), BIG)

    def some(part: Floats) -> Floats:
        face = cut.face(part, UPRIGHT, BANDS)
        return colouring.colours(face, lit(face, SKY)) + gloss(face, SKY)[:, None]

    rows = []
    for name, job in (
        ("one place a dot", lambda: by_parts(some, places)),
        ("as drawn", lambda: face_picture(cut, colouring, SKY, across=BIG)),
    ):
        job()
        tries = []
        for _ in range(REPEATS):
            started, taken = perf_counter(), process_time()
            job()
            tries.append((perf_counter() - started, process_time() - taken))
        rows.append([name, *(f"{seconds:.2f}" for seconds in min(tries))])
        print(" ".join(rows[-1]), flush=True)
    note = (
        f"{len(body.normals)} facets, those of the girdle counted, of one colour, "
        f"{BANDS} bands of the spectrum. *As drawn* has a margin, and four more places in dots "
        f"that differ from their neighbours. Goal: under {GOAL_S:g} s."
    )
    columns = ("picture", "s", "processor s")
    return Table(f"A picture of {BIG} x {BIG} dots", columns, rows, note)


def main() -> None:
    """Both tables of one design."""
    body = build_body(load_design(DESIGN))
    ours(body, 1, SEED)  # compiled code loads
    write_page("look", INTRO, [beside_the_renderer(body), big_picture(body)])


if __name__ == "__main__":
    main()
