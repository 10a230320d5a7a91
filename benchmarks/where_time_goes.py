"""Where the time of a placement goes, what is looked at, and what the least would be."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import perf_counter
from typing import Any
from unittest.mock import patch

import numpy as np

from benchmarks.pairs import SKIN_MM
from benchmarks.pieces import dense, shapes
from benchmarks.stones import found, offer_of
from benchmarks.tables import Table, timed, write_page
from optimizer.mesh import Floats, Mesh
from optimizer.placement import climb, containers, search
from optimizer.placement.containers import Placed, Points, Surface
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_width
from optimizer.placement.kernels.gauges import box_gauge, held_triangle, surface_gauge, workspace
from optimizer.placement.model import Placement
from optimizer.placement.rotations import turn
from optimizer.running.workers import SETTING

DESIGN = "round-brilliant"
TRIANGLES = (10_000, 200_000, 2_000_000)
POSES = 20  # about the stone found, over which counts and times of a gauge are averaged
AWAY = 0.05  # mm, and tenths of a radian: how far these poses lie off, as a climb's steps do
REPEATS = 5  # the least time counts

INTRO = f"""\
One {DESIGN} in a pebble, {SKIN_MM:g} mm clear of the surface, normal effort, on one core so that
the parts add up, compiled code warm. *Gauge* is how large the stone may be at a pose, exactly, over
the whole surface or over the points that stand in for it; *rows* are the places of contact that the
next step is told of; *programs* are that step's linear programs. The rest is Python between them.

The floor is what this method can't go below, not what any method needs. For a gauge: a search down
the tree that knew its answer beforehand and had only to confirm it would still look at the nodes
counted as *least*. For the preparation: every triangle must be read and put in order once, so that
copying the corners in the tree's order is taken as its floor."""


@contextmanager
def watched_parts(spent: dict[str, list[float]]) -> Iterator[None]:
    """Every call of a part adds its seconds to ``spent``, in one thread."""
    parts: list[tuple[Any, str, str]] = [
        (Points, "gauge", "gauge, points"), (Points, "rows", "rows, points"),
        (Surface, "gauge", "gauge, surface"), (Surface, "rows", "rows, surface"),
        (climb, "best_step", "programs"), (search, "best_by_points", "tournament"),
    ]  # fmt: skip
    before = [(owner, name, getattr(owner, name)) for owner, name, _ in parts]
    for owner, name, label in parts:
        setattr(owner, name, _timed_part(getattr(owner, name), spent.setdefault(label, [])))
    try:
        with patch.dict(os.environ, {SETTING: "1"}):
            yield
    finally:
        for owner, name, work in before:
            setattr(owner, name, work)


def _timed_part(work: Callable[..., Any], seconds: list[float]) -> Callable[..., Any]:
    def part(*args: Any, **kwargs: Any) -> Any:
        started = perf_counter()
        result = work(*args, **kwargs)
        seconds.append(perf_counter() - started)
        return result

    return part


def counted(surface: Surface, placed: Placed, ceiling: float) -> tuple[int, int]:
    """Nodes opened and triangles asked by a gauge: the kernel's search, written out plainly."""
    m, leaves = len(placed[1]), (len(surface.boxes) + 1) // 2
    room, kept, most = workspace(m), np.empty(m, np.int64), np.empty(m)
    bound, size = box_gauge(*placed[:2], surface.boxes, 0, ceiling, np.arange(m), m, kept, most)
    stack = [(bound, 0, kept[:size].copy())]
    best, nodes, asked, n = ceiling, 0, 0, len(surface.triangles)
    while stack:
        bound, node, facets = stack.pop()
        if bound >= best:
            continue
        nodes += 1
        if node >= leaves - 1:
            j = node - (leaves - 1)
            for f in range(j * n // leaves, (j + 1) * n // leaves):
                asked += 1
                triangle = surface.triangles[f]
                best = min(
                    best, held_triangle(placed, facets, len(facets), triangle, best, best, room)
                )
            continue
        children = []
        for child in (2 * node + 1, 2 * node + 2):
            bound, size = box_gauge(
                *placed[:2], surface.boxes, child, best, facets, len(facets), kept, most
            )
            children.append((bound, child, kept[:size].copy()))
        stack += sorted(children, key=lambda one: -one[0])
    return nodes, asked


def gauges(ready: Ground, placement: Placement) -> list[float]:
    """Means over poses about a stone: nodes and triangles, microseconds, and the same where the
    answer is known beforehand."""
    rng, rows = np.random.default_rng(0), []
    growth = growing_by_width(placement.body, SKIN_MM, 0.0).growths[0]
    rotation = ready.ground2scan.T @ placement.pose.rotation
    middle: Floats = (placement.pose.translation - ready.origin) @ ready.ground2scan
    corners, boxes = ready.surface.triangles, ready.surface.boxes
    for _ in range(POSES):
        turned = np.ascontiguousarray(turn(AWAY / 10.0 * rng.normal(size=3)) @ rotation)
        placed = containers.in_scan(growth, turned, middle + AWAY * rng.normal(size=3))
        best = surface_gauge(corners, boxes, placed, -np.inf, np.inf)
        row: list[float] = []
        for ceiling in (np.inf, best + 1e-12 * abs(best)):
            took = [
                timed(
                    lambda placed=placed, ceiling=ceiling: surface_gauge(
                        corners, boxes, placed, -np.inf, ceiling
                    )
                )[1]
                for _ in range(REPEATS)
            ]
            row += [*counted(ready.surface, placed, ceiling), 1e6 * min(took)]
        rows.append(row)
    return [float(x) for x in np.mean(rows, axis=0)]


def parts_of(mesh: Mesh) -> tuple[list[str], list[str]]:
    """A row of where the seconds go, and one of a gauge's counts."""
    spent: dict[str, list[float]] = {}
    offer = offer_of(DESIGN, SKIN_MM)
    with watched_parts(spent):
        whole = found(mesh, offer)
        ready = min(timed(lambda: Ground.of(mesh))[1] for _ in range(2))
    assert whole.placement is not None
    surface = whole.ground.surface
    order = np.random.default_rng(0).permutation(len(surface.triangles))
    copying = min(timed(lambda: surface.triangles[order])[1] for _ in range(REPEATS))
    known = sum(sum(each) for each in spent.values())
    seconds = [whole.seconds, ready, copying, *(sum(each) for each in spent.values())]
    seconds.append(whole.seconds - ready - known)
    size = f"{len(mesh.faces):,}"
    nodes, asked, took, least, least_asked, least_took = gauges(whole.ground, whole.placement)
    calls = len(spent["gauge, surface"])
    count = [
        size, str(calls), f"{nodes:.0f}", f"{asked:.0f}", f"{took:.0f}",
        f"{1e3 * took / nodes:.0f}", f"{least:.0f}", f"{least_asked:.0f}", f"{least_took:.0f}",
    ]  # fmt: skip
    return [size, *(f"{s:.2f}" for s in seconds)], count


def main() -> None:
    """Measure every density and write the page."""
    plain = shapes().pebble(3)
    found(dense(plain, TRIANGLES[0]), offer_of(DESIGN, SKIN_MM), "quick")  # compiled code loads
    measured = [parts_of(dense(plain, triangles)) for triangles in TRIANGLES]
    where = (
        "triangles", "in all s", "preparation", "its floor", "gauge, points", "rows, points",
        "gauge, surface", "rows, surface", "programs", "tournament", "the rest",
    )  # fmt: skip
    what = (
        "triangles", "gauges", "nodes each", "triangles each", "µs each", "ns a node",
        "least nodes", "least triangles", "least µs",
    )  # fmt: skip
    tables = [
        Table("Seconds on one core", where, [row for row, _ in measured]),
        Table("A gauge over the whole surface", what, [row for _, row in measured]),
    ]
    write_page("where_time_goes", INTRO, tables)


if __name__ == "__main__":
    main()
