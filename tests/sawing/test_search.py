"""The choice of cuts against plainer choosers on the same stand-in."""

import numpy as np
import pytest
import shapes
from handmade_plans import six_sided_body
from hypothesis import given, settings
from hypothesis import strategies as st
from placed_stones import QUARTZ

from optimizer.order import Workshop
from optimizer.sawing.directions import directions, spread
from optimizer.sawing.search import SawTask, choose_cuts, depth, refine, sequence_worth
from optimizer.sawing.volume_sample import sample_volume

SHOP = Workshop()


def task_for(mesh, width=4.0, shop=SHOP):
    body = six_sided_body()
    allowance = shop.kerf_mm / 2 + shop.saw_error_mm + shop.clean_up_mm
    per_mm3 = QUARTZ.sg / 200.0
    task = SawTask(sample_volume(mesh, 3000), body.vertices_at(width), shop, per_mm3, allowance)
    return task, directions(body, {}, mesh.vertices)


def greedy(task, candidates):
    """Always the next cut of most worth, the table's first."""
    done = tuple(d for d in candidates if d.table and sequence_worth(task, (d,)) >= 0)
    while len(done) < task.workshop.most_cuts:
        worths = [sequence_worth(task, (*done, d)) for d in candidates]
        if max(worths) <= sequence_worth(task, done):
            break
        done = (*done, candidates[int(np.argmax(worths))])
    return done


@settings(max_examples=3)
@given(st.integers(0, 50))
def test_the_choice_is_at_least_as_good_as_the_greedy_one(seed):
    task, candidates = task_for(shapes.pebble(seed, radius=9.0, subdivisions=2))
    candidates = candidates[:8] + candidates[8::4]
    mine = sequence_worth(task, choose_cuts(task, candidates))
    assert mine >= sequence_worth(task, greedy(task, candidates)) - 1e-6


@settings(max_examples=5)
@given(st.integers(0, 1000))
def test_no_random_sequence_is_better(seed):
    task, candidates = task_for(shapes.crystal(seed % 3, 26.0, 13.0, subdivisions=3))
    best = sequence_worth(task, choose_cuts(task, candidates))
    table = [d for d in candidates if d.table]
    rng = np.random.default_rng(seed)
    for _ in range(30):
        picked = rng.choice(len(candidates), 4, replace=False)
        trial = (*table, *(candidates[i] for i in picked if not candidates[i].table))
        assert sequence_worth(task, trial) <= best + 1e-6


def test_polishing_never_loses():
    task, candidates = task_for(shapes.pebble(7, radius=9.0, subdivisions=2))
    free = tuple(d for d in candidates if d.name == "at a free angle")[3:60:20]
    start = max(((d,) for d in free), key=lambda cuts: sequence_worth(task, cuts))
    assert sequence_worth(task, start) > 0
    assert sequence_worth(task, refine(task, start)) >= sequence_worth(task, start)


def test_a_twin_of_the_same_cut_is_worth_nothing_more():
    task, candidates = task_for(shapes.icosphere(12.0))
    once = (candidates[0],)
    assert sequence_worth(task, once) > 0
    assert sequence_worth(task, once * 2) == -1.0


def test_the_depth_seen_by_the_search_is_near_the_balls_own():
    task, candidates = task_for(shapes.icosphere(12.0))
    height = task.levels(candidates[:1])[0]
    everything = np.ones(len(task.sample.points), bool)
    exact = 2.0 * np.sqrt(12.0**2 - height**2)
    spacing = task.sample.spacing_mm
    assert depth(task, candidates[0], everything) == pytest.approx(exact, abs=2 * spacing)


def test_directions_start_with_the_table_and_keep_apart():
    body = six_sided_body()
    listed = directions(
        body, {"parallel to the rough's base": np.array([0.6, 0.0, 0.8])}, shapes.box().vertices
    )
    assert listed[0].table
    assert listed[0].normal == pytest.approx([0, 0, 1.0])
    assert sum(d.table for d in listed) == 1
    normals = np.array([d.normal for d in listed])
    assert np.linalg.norm(normals, axis=1) == pytest.approx(np.ones(len(listed)))
    cosines = normals @ normals.T - 2 * np.eye(len(listed))
    assert cosines.max() < np.cos(np.radians(1.0)) + 1e-12
    named = {d.name: d.normal for d in listed}
    assert named["parallel to the rough's base"] is not None


def test_every_facet_and_broad_side_is_offered():
    body, rough = six_sided_body(), shapes.crystal(2, 24.0, 10.0, subdivisions=3)
    listed = directions(body, {}, rough.vertices)
    normals = np.array([d.normal for d in listed])
    assert ((body.normals @ normals.T).max(axis=1) > np.cos(np.radians(1.01))).all()


def test_spread_covers_the_sphere():
    directions = spread(160)
    rng = np.random.default_rng(0)
    asked = rng.standard_normal((2000, 3))
    asked /= np.linalg.norm(asked, axis=1)[:, None]
    assert np.degrees(np.arccos((asked @ directions.T).max(axis=1))).max() < 13.0
