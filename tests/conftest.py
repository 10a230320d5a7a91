"""Settings for the whole suite."""

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # as in the program; before numpy

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from command import Run

    from optimizer.placement.search import Effort

ROOT = Path(__file__).parents[1]

# Derandomised and without deadlines: a slow machine is not a failure, and CI never flickers. Few
# examples each, since there are many such tests and the whole suite is to end within minutes.
EXAMPLES = 8
settings.register_profile(
    "ci", derandomize=True, deadline=None, print_blob=True, max_examples=EXAMPLES
)
settings.load_profile("ci")

FEW_TRIANGLES = 24  # as many as a notched box has


if "PYTEST_XDIST_WORKER" in os.environ:
    os.environ.setdefault("KERFWISE_WORKERS", "1")  # the processes of the tests have the cores
    if os.name == "posix":
        from machine_code import take_turns

        take_turns(ROOT / ".pytest_cache" / "turns")


@pytest.fixture(scope="session", autouse=True)
def flats_found_once() -> Iterator[None]:
    """Flat places are looked for once for each scan: that takes a third of a small plan. Where
    triangles are few, the plane of each is proposed instead of open3d's patches: that leads to
    the same flats (test_rough_flats.py)."""
    from optimizer.rough.flats import find as flats

    found, alone = {}, flats.find_flats

    def proposals(mesh: flats.Mesh) -> list[flats._Patch]:
        normals = flats.unit_normals(mesh.triangles)
        middles = mesh.triangles.mean(axis=1)
        return [flats._Patch(*both, np.inf) for both in zip(middles, normals, strict=True)]

    def find_flats(mesh: flats.Mesh) -> tuple[flats.ReferenceFace, ...]:
        key = mesh.vertices.tobytes(), mesh.faces.tobytes()
        if key not in found:
            with pytest.MonkeyPatch.context() as few:
                if len(mesh.faces) <= FEW_TRIANGLES:
                    few.setattr(flats, "_proposals", proposals)
                found[key] = alone(mesh)
        return found[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flats, "find_flats", find_flats)
        yield


@pytest.fixture(scope="session", autouse=True)
def free_angles_whatever_their_light() -> Iterator[None]:
    """Free angles are not limited by the usual light, which takes a second to trace for each
    design; test_usual_light.py takes it back."""
    from optimizer.offers import wanted_light

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(wanted_light, "with_usual_light", lambda offer, order, material: offer)
        yield


@pytest.fixture(scope="session", autouse=True)
def six_designs_to_choose_from() -> Iterator[None]:
    """Orders that name no design choose from six: each further design takes every such plan more
    time. test_offer.py takes it back."""
    from optimizer.offers import offer, relaxations
    from optimizer.several import suite

    six = "cushion", "cut-corner-rectangle", "long-hexagon", "oval", "pear", "round-brilliant"
    with pytest.MonkeyPatch.context() as patch:
        for module in (offer, relaxations, suite):
            patch.setattr(module, "designs_to_choose_from", lambda: six)
        yield


@pytest.fixture(scope="session", autouse=True)
def bodies_built_once() -> Iterator[None]:
    """Plans share the bodies of equal parameters: building them takes a fifth of a small plan. The
    audit goes another way in and builds its own."""
    from optimizer.design import Body, Design, family

    built, alone = {}, family.build_body

    def build_body(design: Design, parameters: dict[str, float], **girdle: float) -> Body:
        key = repr((design, sorted(parameters.items()), sorted(girdle.items())))
        if key not in built:
            built[key] = alone(design, parameters, **girdle)
        return built[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(family, "build_body", build_body)
        yield


@pytest.fixture(scope="session", autouse=True)
def voids_found_in_larger_cells() -> Iterator[None]:
    """A proof in rough with hollows looks up its voids in a grid of half as many cells each way:
    the finer grid takes a second, and bounds are the same or hardly looser without it."""
    from optimizer.placement import voids

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(voids, "CELLS", voids.CELLS // 2)
        yield


@pytest.fixture(scope="module")
def small_quick() -> Iterator["Effort"]:
    """Quick effort with a quarter of the work: for tests that ask what holds of a stone, not how
    heavy it is. A module's mark, before its own fixtures plan. Gives the effort that it stands in
    for."""
    from optimizer.offcuts import sizes
    from optimizer.placement.search import EFFORTS, Effort
    from optimizer.planning import volume_bounds
    from optimizer.several import division_budget, pool

    whole = EFFORTS["quick"]
    small = Effort(rotations=200, centres=16, coarse=32, fine=8, rounds=1, final=3, cells=600)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(EFFORTS, "quick", small)
        patch.setitem(EFFORTS, "glance", Effort(60, 8, 8, 4, 0, 2, 300))
        patch.setattr(volume_bounds, "LEAST_CELLS", small.cells)
        patch.setattr(sizes, "EFFORT", Effort(12, 2, 4, 2, 0, 1, 0))
        patch.setitem(pool.BUDGETS, "quick", pool.PoolBudget(50, 200, 5, 2, 1e9, 200))
        fewer = replace(division_budget.BUDGETS["quick"], layouts=1, restarts=2)
        patch.setitem(division_budget.BUDGETS, "quick", fewer)
        yield whole


@pytest.fixture
def whole_quick(small_quick: "Effort", monkeypatch: pytest.MonkeyPatch) -> None:
    """All of quick effort's search, for a test that sets two stones side by side."""
    from optimizer.placement.search import EFFORTS

    monkeypatch.setitem(EFFORTS, "quick", small_quick)


@pytest.fixture(scope="module")
def small_search() -> Iterator[None]:
    """Hardly any search, coarse pictures, and silent if slow: for tests that ask about the
    command, not the stone. A module's mark."""
    from optimizer import progress
    from optimizer.marking import picture
    from optimizer.offcuts import sizes
    from optimizer.optics.picture import rocked_strip
    from optimizer.placement.search import EFFORTS, Effort
    from optimizer.planning import looks, nearest_order, relaxation_search, volume_bounds

    small = Effort(rotations=60, centres=8, coarse=12, fine=6, rounds=1, final=2, cells=300)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(EFFORTS, "quick", small)
        patch.setattr(volume_bounds, "LEAST_CELLS", small.cells)
        patch.setattr(sizes, "EFFORT", Effort(12, 2, 4, 2, 0, 1, 0))
        patch.setitem(EFFORTS, "glance", Effort(30, 8, 6, 3, 0, 2, 200))
        patch.setitem(sizes.SEARCHED, "quick", 0)
        patch.setitem(relaxation_search.WORK, "quick", 20)
        patch.setitem(nearest_order.HALVINGS, "quick", 1)
        patch.setattr(progress, "PLAIN_EVERY_S", np.inf)
        patch.setattr(looks, "_QUICK_ACROSS", 48)
        patch.setattr(looks, "rocked_strip", partial(rocked_strip, across=16))
        patch.setattr(picture, "_FINER", 1)
        yield


@pytest.fixture(scope="module")
def coarse_maps() -> Iterator[None]:
    """Look maps of fewer places and turns: a stone's look is checked as closely as ever before the
    stone is kept. A module's mark."""
    from optimizer.offers import wanted_look

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(wanted_look, "MAP_PLACES", 1000)
        patch.setattr(wanted_look, "AZIMUTH_STEP", 30.0)
        yield


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> "Run":
    """The command, called in this process."""
    from command import runner

    return runner(capsys, monkeypatch)
