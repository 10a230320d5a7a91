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
from optimizer.mesh import Floats
from optimizer.optics.boundary_forms import plane_form
from optimizer.optics.colouring import CLEAR_TINT, Colouring, Tint, one_colour
from optimizer.optics.dye import Dye, Sample, dye_of
from optimizer.optics.eye import pixel_centres, rocked
from optimizer.optics.face import gloss, incoming_light
from optimizer.optics.lights import LIGHTS
from optimizer.optics.look import UPRIGHT, CutStone
from optimizer.optics.picture import face_picture
from optimizer.optics.pixels import USUAL, PixelGrid, Precision, render_face
from optimizer.optics.refraction import index_at
from optimizer.optics.shading import bands
from optimizer.trade.materials import load_material

DESIGN, MATERIAL, WIDTH_MM = "round-brilliant", "quartz", 8.0
ACROSS, HALF = 64, 0.5  # pixels of the small picture, and half its side, of a stone 1 wide
ABSORPTION = 0.5  # per width of the stone
# (light of a pixel below which beams are not split, light left where they end), and the converged.
EFFORTS = (
    (100.0, 1e-1),
    (30.0, 3e-2),
    (10.0, 1e-2),
    (1.0, 1e-2),
    (USUAL.finest, USUAL.least),
    (0.03, USUAL.least),
    (0.01, 1e-4),
)
CONVERGED = (1e-4, 1e-6)
FINER = 40  # places of rays either way in a pixel, as a check on the converged beams
SAMPLES, MOST_SAMPLES = (16, 64, 256, 1024), 4096  # random paths a pixel of the renderer
BIG, BANDS = 512, 3
REPEATS = 5
SKY, SEED = LIGHTS["open sky"], 5
GOAL_TIMES, GOAL_S = 10.0, 1.0

INTRO = f"""\
Faces of a {DESIGN} in {MATERIAL}, seen from straight above under an open sky, compiled code warm,
two threads. The renderer is mitsuba {version("mitsuba")} in its variant scalar_rgb, its scene that
of tests/renderer.py; its variants for vector units and graphics cards were not tried. Times are
the least of {REPEATS}, the renderer's from {SAMPLES[-1]} samples on of one, less what its scene
takes to build."""


def ours(cut: CutStone, colouring: Colouring, finest: float, least: float) -> Floats:
    """Radiance (ACROSS, ACROSS) by beams."""
    grid = PixelGrid(-HALF, HALF, 2.0 * HALF / ACROSS, ACROSS, ACROSS)
    precision = Precision(finest, least)
    seen, _ = render_face(cut, colouring, SKY, grid, turn=UPRIGHT, count=1, precision=precision)
    return np.asarray(seen[..., 0])


def by_rays(cut: CutStone, colouring: Colouring) -> Floats:
    """The same, each pixel the mean of FINER² rays, each at random in its square, row by row."""
    places = pixel_centres(np.full(2, -HALF), np.full(2, HALF), ACROSS * FINER)
    off = np.random.default_rng(SEED).uniform(-0.5, 0.5, places.shape)
    rows = np.split(places + off * 2.0 * HALF / (ACROSS * FINER), ACROSS)
    faces = (cut.face(row, UPRIGHT, 1, least=CONVERGED[1]) for row in rows)
    seen = [
        colouring.colours(f, incoming_light(f, SKY))[:, 0] + gloss(f, SKY) * f.hit for f in faces
    ]
    return np.array(seen).reshape(ACROSS, FINER, ACROSS, FINER).mean(axis=(1, 3))


def theirs(cut: CutStone, absorption: float, folder: Path) -> Callable[[int, int], Floats]:
    """The renderer's picture by pixels across and by samples a pixel."""
    sys.path.append(str(ROOT / "tests"))
    from renderer import rendered

    mesh, index = cut.body.mesh_at(cut.width), index_at(cut.material, bands(1)[0].nm)
    return lambda across, samples: rendered(
        mesh, rocked(0.0, 0.0), index, absorption, folder,
        half=HALF, across=across, samples=samples,
    )  # fmt: skip


def rms(one: Floats, other: Floats) -> float:
    """Over all pixels."""
    return float(np.sqrt(((one - other) ** 2).mean()))


def least_of(job: Callable[[], Floats], repeats: int) -> tuple[Floats, float]:
    """What ``job`` returns, and the least of its times."""
    runs = [timed(job) for _ in range(repeats)]
    return runs[0][0], min(seconds for _, seconds in runs)


def beside_the_renderer(body: Body, title: str, absorption: float) -> Table:
    """Both at several efforts, and the ratio of times at the renderer's errors."""
    cut = CutStone(body, 1.0, load_material(MATERIAL))
    grey = Tint("grey", (Dye(np.full(81, absorption), 0.0),) * 3)
    colouring = one_colour(grey if absorption else CLEAR_TINT)
    true = ours(cut, colouring, *CONVERGED)
    check = rms(by_rays(cut, colouring), true)
    found, rows, ratios = [], [], []
    for effort in EFFORTS:
        got, seconds = least_of(lambda effort=effort: ours(cut, colouring, *effort), REPEATS)
        found.append((rms(got, true), seconds))
        name = f"ours: split to {effort[0]:g}, until {100 * effort[1]:g} %"
        rows.append([name, f"{found[-1][0]:.4f}", f"{seconds:.4f}", ""])
        print(" ".join(rows[-1]), flush=True)
    with TemporaryDirectory() as folder:
        render = theirs(cut, absorption, Path(folder))
        _, scene = least_of(lambda: render(1, 1), REPEATS)
        for samples in (*SAMPLES, MOST_SAMPLES):
            repeats = REPEATS if samples < SAMPLES[-1] else 1
            got, seconds = least_of(lambda n=samples: render(ACROSS, n), repeats)
            error = rms(got, true)
            quick = min((one for at, one in found if at <= error), default=np.nan)
            ratios.append((seconds - scene) / quick)
            told = f"{error:.4f}", f"{seconds - scene:.4f}", f"{ratios[-1]:.1f}"
            rows.append([f"renderer: {samples} samples a pixel", *told])
            print(" ".join(rows[-1]), flush=True)
    note = (
        f"RMS over {ACROSS} x {ACROSS} pixels of radiance (sky 1), against ours split to "
        f"{CONVERGED[0]:g} of a pixel's light and followed until {100 * CONVERGED[1]:g} % is left; "
        f"{FINER**2} rays a pixel at random differ from that by {check:.4f}, the renderer at "
        f"{MOST_SAMPLES} samples by {error:.4f}, in the mean by "
        f"{abs(got.mean() - true.mean()):.4f} of {true.mean():.4f}. *Times as long* is its time "
        f"over that of the quickest of ours that is no further off: {min(ratios):.1f} to "
        f"{max(ratios):.0f}, the goal is {GOAL_TIMES:g}."
    )
    return Table(title, ("method", "RMS error", "s", "times as long"), rows, note)


def big_picture(body: Body) -> Table:
    """Stones without colour, of one and of two, as the command draws them."""
    cut = CutStone(body, WIDTH_MM, load_material(MATERIAL))
    violet, yellow = (
        Tint(name, (dye_of([Sample(srgb, 3.0)]),) * 3)
        for name, srgb in (("violet", (0.54, 0.36, 0.76)), ("yellow", (0.91, 0.72, 0.23)))
    )
    halves = plane_form(cut.corners, 0.0, 30.0, 0.1)
    rows = []
    for name, colouring in (
        ("clear", one_colour(CLEAR_TINT)),
        ("of one colour", one_colour(violet)),
        ("of two", Colouring(violet, yellow, halves, zone="split")),
    ):
        face_picture(cut, colouring, SKY, across=BIG)
        tries = []
        for _ in range(REPEATS):
            started, taken = perf_counter(), process_time()
            face_picture(cut, colouring, SKY, across=BIG)
            tries.append((perf_counter() - started, process_time() - taken))
        rows.append([name, *(f"{seconds:.2f}" for seconds in min(tries))])
        print(" ".join(rows[-1]), flush=True)
    note = (
        f"{len(body.normals)} facets, those of the girdle counted, {BANDS} bands of the spectrum, "
        f"a margin about the stone. Goal: under {GOAL_S:g} s."
    )
    columns = ("stone", "s", "processor s")
    return Table(f"A picture of {BIG} x {BIG} pixels", columns, rows, note)


def main() -> None:
    """All tables of one design."""
    body = build_body(load_design(DESIGN))
    tables = [
        beside_the_renderer(body, "At equal error, a clear stone", 0.0),
        beside_the_renderer(body, "At equal error, a grey stone", ABSORPTION),
        big_picture(body),
    ]
    write_page("look", INTRO, tables)


if __name__ == "__main__":
    main()
