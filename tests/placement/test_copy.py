"""The largest copy of a body: what it refuses, and how it is stopped."""

import signal
from functools import cache

import numpy as np
import pytest
import shapes
import trimesh

from optimizer import largest_copy
from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.placement import copy
from optimizer.placement.search import EFFORTS, Effort, Watch
from optimizer.solid import as_mesh, as_solid

CUBE = shapes.box((1.0, 1.0, 1.0)).vertices
QUICK = EFFORTS["quick"]
SMALL = Effort(rotations=60, centres=6, coarse=10, fine=4, rounds=1, final=2, cells=0)


@pytest.fixture(autouse=True)
def small(monkeypatch):
    for effort in ("quick", "normal"):
        monkeypatch.setitem(EFFORTS, effort, SMALL)
    monkeypatch.setattr(copy, "HOLLOW_CELLS", 5000)


def as_trimesh(mesh, **how):
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False, **how)


BOX = as_trimesh(shapes.box((4.0, 3.0, 2.0)))
STEP = as_trimesh(
    as_mesh(
        as_solid(shapes.box((4.0, 3.0, 2.0)))
        - as_solid(shapes.box((4.0, 3.0, 4.0))).translate((1.5, 1.0, 0.0))
    )
)


@pytest.mark.parametrize(
    ("vertices", "told"),
    [
        (CUBE[:3], "3 vertices span no volume"),
        (CUBE[:0], "0 vertices span no volume"),
        (CUBE * [1.0, 1.0, 0.0], "lie in one plane"),
        (CUBE * [1.0, 1.0, 1e-13], "lie in one plane"),
        (CUBE * [1.0, 0.0, 0.0], "lie in one plane"),
        (np.zeros((8, 3)), "lie in one plane"),
        (np.vstack([CUBE, [[np.nan, 0.0, 0.0]]]), "not finite"),
        (np.vstack([CUBE, [[np.inf, 0.0, 0.0]]]), "not finite"),
        (CUBE * 1e300, r"run beyond 1,000,000,000,000"),
        (CUBE[:, :2], r"the shape \(8, 2\)"),
        ("cube", "no numbers"),
    ],
)
def test_vertices_that_span_no_volume_are_refused_in_a_sentence(vertices, told):
    with pytest.raises(InputError, match=told):
        largest_copy(vertices, BOX)


def flipped(mesh, which):
    faces = np.array(mesh.faces)
    faces[which] = faces[which][:, ::-1]
    return trimesh.Trimesh(mesh.vertices, faces, process=False)


def both(first, second):
    return trimesh.util.concatenate([first, second])


INNER = as_trimesh(shapes.box((1.0, 1.0, 1.0)))
REFUSED = {
    "open": (trimesh.Trimesh(BOX.vertices, BOX.faces[1:], process=False), "is open: at 3 edges"),
    "no faces": (trimesh.Trimesh(BOX.vertices), "has no faces"),
    "a face twice": (
        trimesh.Trimesh(BOX.vertices, np.vstack([BOX.faces, BOX.faces[:1]]), process=False),
        "is open",
    ),
    "inside out": (flipped(BOX, slice(None)), "is inside out"),
    "one face turned": (flipped(BOX, [0]), "contradicts itself: at 3 edges"),
    "a part inside out": (
        both(BOX, flipped(INNER, slice(None)).apply_translation([9.0, 0.0, 0.0])),
        "contradicts itself: its part",
    ),
    "a part within": (both(BOX, INNER), "contradicts itself: its part"),
    "two parts that cross": (
        both(BOX, INNER.copy().apply_translation([2.0, 0.3, 0.2])), "passes through itself"
    ),
    "flat": (trimesh.Trimesh(BOX.vertices * [1, 1, 0], BOX.faces, process=False), "no volume"),
    "not finite": (trimesh.Trimesh(BOX.vertices * np.nan, BOX.faces, process=False), "not finite"),
    "huge": (trimesh.Trimesh(BOX.vertices * 1e200, BOX.faces, process=False), "run beyond"),
    "no mesh": (CUBE, "is no triangle mesh"),
    "a wrong number": (Mesh(BOX.vertices, np.vstack([BOX.faces, [[0, 1, 99]]])), "names a vertex"),
}  # fmt: skip


@pytest.mark.parametrize("kind", sorted(REFUSED))
def test_what_bounds_no_solid_is_refused_in_a_sentence(kind):
    container, told = REFUSED[kind]
    with pytest.raises(InputError, match=told) as refused:
        largest_copy(CUBE, container)
    assert "\n" not in str(refused.value)


def test_a_hollow_wound_inwards_two_parts_and_unmerged_corners_are_solids():
    cavity = flipped(INNER, slice(None))
    beside = as_trimesh(shapes.box((2.9, 2.9, 2.9))).apply_translation([9.0, 0.0, 0.0])
    apart = beside.vertices[beside.faces].reshape(-1, 3)
    soup = trimesh.Trimesh(apart, np.arange(len(apart)).reshape(-1, 3), process=False)
    fit = largest_copy(CUBE, both(both(BOX, cavity), soup))
    assert fit.scale == pytest.approx(2.9, rel=1e-9)
    assert fit.translation[0] == pytest.approx(9.0)


def test_a_wall_far_thinner_than_a_grid_s_step_holds_a_copy():
    shell = shapes.hollow(shapes.icosphere(10.0, 2), shapes.icosphere(9.999, 2))
    fit = largest_copy(CUBE, as_trimesh(shell))
    assert 0.0 < fit.scale < 0.002


# --- stopped -----------------------------------------------------------------------------------


def stopped_at(stage, by):
    """A watch that calls ``by`` the first time it is told of a stage."""
    told = []

    def tell(now, done, total, best):
        if now.startswith(stage) and not told:
            told.append(best)
            by()

    return told, tell


@cache
def whole():
    """Not stopped: the copy, and a bound as near to it as the gap."""
    return largest_copy(CUBE, STEP, prove=True, gap=0.3)


@pytest.mark.parametrize("stage", ["looking for", "settling", "proving"])
def test_stopped_it_keeps_the_place_and_the_bound_that_it_has_and_says_so(stage):
    stop = []
    told, tell = stopped_at(stage, lambda: stop.append(True))
    fit = largest_copy(CUBE, STEP, prove=True, watch=Watch(lambda: bool(stop), tell))
    assert fit.stopped
    assert not whole().stopped
    assert told[0] <= fit.scale <= whole().scale * (1.0 + 1e-12)
    assert whole().bound <= fit.bound < np.inf
    corners = shapes.hull(fit.translation + fit.scale * (1.0 - 1e-12) * CUBE @ fit.rotation.T)
    assert (as_solid(corners) - as_solid(Mesh(STEP.vertices, STEP.faces))).volume() <= 1e-9


def test_a_first_ctrl_c_stops_it_and_one_before_there_is_a_copy_ends_it():
    before = signal.getsignal(signal.SIGINT)
    told, tell = stopped_at("settling", lambda: signal.raise_signal(signal.SIGINT))
    fit = largest_copy(CUBE, STEP, watch=Watch(progress=tell))
    assert fit.stopped
    assert fit.scale >= told[0] > 0.0
    assert signal.getsignal(signal.SIGINT) is before

    def at_once(*arguments):
        signal.raise_signal(signal.SIGINT)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(copy, "spread", at_once)
        with pytest.raises(KeyboardInterrupt):
            largest_copy(CUBE, STEP)
    assert signal.getsignal(signal.SIGINT) is before
    with pytest.raises(KeyboardInterrupt):
        largest_copy(CUBE, STEP, watch=Watch(stop=lambda: True))


def test_an_item_of_many_corners_finds_its_best_place_in_a_convex_container(monkeypatch):
    """The best of 3000 starts and 400 climbs, which 40 climbs at quick miss by 0.06 %."""
    monkeypatch.setitem(EFFORTS, "quick", QUICK)
    points = np.random.default_rng(2).normal(size=(52, 3))
    points *= np.array([10.0, 7.5, 6.0]) / np.linalg.norm(points, axis=1, keepdims=True)
    item = np.random.default_rng(2).normal(size=(60, 3))
    item *= np.array([3.0, 2.2, 1.5]) / np.linalg.norm(item, axis=1, keepdims=True)
    assert largest_copy(item, as_trimesh(shapes.hull(points))).scale > 3.15595
