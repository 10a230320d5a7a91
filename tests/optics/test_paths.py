"""Ray paths: nothing is lost, nothing depends on workers, each leg lies in the body."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from optics_bodies import brightness, lump

from optimizer.optics.paths import refracting_body, trace

SEEDS = st.integers(0, 10_000)
INDICES = st.floats(1.3, 2.7)


def rays(seed: int, count: int = 60):
    """Rays from all round at places of a ball of radius 0.9."""
    rng = np.random.default_rng(seed)
    ways = rng.normal(size=(count, 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    return rng.uniform(-0.5, 0.5, (count, 3)) - 4.0 * ways, ways


@given(SEEDS, INDICES)
def test_white_furnace_every_ray_brings_all_the_light(seed, index):
    paths = trace(refracting_body(*lump(seed), index), *rays(seed), least=1e-9)
    shares = (
        paths.mirrored_share
        + np.bincount(paths.ray, paths.weight, len(paths.mirrored_share))
        + paths.residual
    )
    np.testing.assert_allclose(shares[paths.hit], 1.0, atol=1e-12)
    assert (paths.residual < 1e-9).all()


@given(SEEDS, INDICES)
def test_places_lie_on_facets_and_ways_out_have_length_one(seed, index):
    normals, offsets = lump(seed)
    paths = trace(refracting_body(normals, offsets, index), *rays(seed), least=1e-9)
    over = paths.points @ normals.T - offsets
    np.testing.assert_allclose(over.max(axis=1), 0.0, atol=1e-9)
    out = paths.leaving[paths.weight > 0.0]
    np.testing.assert_allclose(np.linalg.norm(out, axis=1), 1.0, atol=1e-9)
    np.testing.assert_allclose(np.linalg.norm(paths.mirrored_direction, axis=1), 1.0, atol=1e-12)


@given(SEEDS, INDICES)
def test_light_turned_round_takes_the_same_way(seed, index):
    """Reciprocity: a ray sent back along what leaves comes out where the first came in, with the
    same share."""
    body = lump(seed)
    origins, ways = rays(seed, 20)
    paths = trace(refracting_body(*body, index), origins, ways)
    for ray in np.flatnonzero(paths.hit)[:4]:
        legs = slice(paths.start[ray], paths.start[ray + 1])
        last = int(np.argmax(paths.weight[legs]))
        out, way = paths.points[legs][last], paths.leaving[legs][last]
        back = trace(refracting_body(*body, index), (out + 4.0 * way)[None], -way[None])
        np.testing.assert_allclose(back.points[last], paths.points[legs][0], atol=1e-6)
        np.testing.assert_allclose(back.leaving[last], -ways[ray], atol=1e-6)
        assert back.weight[last] == pytest.approx(paths.weight[legs][last], rel=1e-6)


@given(SEEDS)
def test_the_number_of_workers_changes_nothing(seed):
    body = lump(seed)
    found = []
    for count in "12":
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("KERFWISE_WORKERS", count)
            found.append(trace(refracting_body(*body, 1.6), *rays(seed, 9000)))
    one, two = found
    for name in ("mirrored_share", "residual", "start", "points", "weight", "leaving"):
        np.testing.assert_array_equal(getattr(one, name), getattr(two, name))


def test_a_ray_that_misses_meets_nothing():
    paths = trace(
        refracting_body(*lump(1), 1.6), np.array([[5.0, 0.0, 3.0]]), np.array([[0.0, 0.0, -1.0]])
    )
    assert not paths.hit.any()
    assert len(paths.weight) == 0
    np.testing.assert_array_equal(paths.mirrored_direction, [[0.0, 0.0, -1.0]])


def test_no_rays_and_a_body_without_room_are_no_trouble():
    normals, offsets = lump(1)
    none = trace(refracting_body(normals, offsets, 1.6), np.empty((0, 3)), np.empty((0, 3)))
    assert len(none.mirrored_share) == len(none.weight) == 0
    assert not trace(refracting_body(normals, -offsets, 1.6), *rays(1)).hit.any()


@given(SEEDS)
def test_a_body_of_airs_own_index_lets_all_light_straight_through(seed):
    origins, ways = rays(seed)
    paths = trace(refracting_body(*lump(seed), 1.0), origins, ways)
    out = paths.weight > 0.0
    np.testing.assert_allclose(paths.weight[out], 1.0, atol=1e-12)
    np.testing.assert_allclose(paths.leaving[out], ways[paths.hit], atol=1e-9)


@given(SEEDS, INDICES, st.floats(0.01, 3.0))
def test_what_an_absorbing_body_takes_up_and_what_leaves_make_one(seed, index, absorption):
    """The light taken up is added leg by leg, from what is under way there."""
    paths = trace(refracting_body(*lump(seed), index), *rays(seed), least=1e-9)
    given_back = brightness(paths, absorption)
    for ray in np.flatnonzero(paths.hit):
        legs = slice(paths.start[ray], paths.start[ray + 1])
        run = np.linalg.norm(np.diff(paths.points[legs], axis=0), axis=1)
        under_way = 1.0 - paths.mirrored_share[ray] - np.cumsum(paths.weight[legs])[:-1]
        before = np.exp(-absorption * (np.cumsum(run) - run))
        taken = (under_way * before * -np.expm1(-absorption * run)).sum()
        assert taken + given_back[ray] == pytest.approx(1.0, abs=1e-6)
