"""Colours: the observer's scales, dyes from colours, lightings, tables."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.colours import apart, decoded, encoded, lab
from optimizer.errors import InputError
from optimizer.optics.dye import CLEAR, Sample, dye_of
from optimizer.optics.lights import LIGHTS, light_named
from optimizer.optics.observer import rgb_weights
from optimizer.optics.shading import bands, table_of

CHANNELS = st.tuples(*3 * [st.floats(0.1, 0.98)])


def test_white_is_white():
    np.testing.assert_allclose(rgb_weights().sum(axis=0), 1.0, atol=1e-12)
    np.testing.assert_allclose(lab(np.ones(3)), [100.0, 0.0, 0.0], atol=1e-9)
    np.testing.assert_allclose(encoded(np.ones(3)), 1.0, atol=1e-12)


@given(CHANNELS)
def test_srgb_there_and_back(srgb):
    np.testing.assert_allclose(encoded(decoded(np.array(srgb))), srgb, atol=1e-12)


@given(CHANNELS, st.floats(0.5, 20.0))
def test_a_dye_shows_its_colour_at_its_thickness(srgb, mm):
    dye = dye_of([Sample(srgb, mm)])
    off = float(apart(dye.colour(mm), decoded(np.array(srgb))))
    assert off == pytest.approx(dye.misfit, abs=1e-9)
    assert off < 1.0
    assert (dye.per_mm > 0.0).all()


@given(CHANNELS, st.floats(0.5, 5.0))
def test_two_thicknesses_of_one_dye_are_both_met(srgb, mm):
    true = dye_of([Sample(srgb, mm)])
    thick = tuple(encoded(true.colour(2.0 * mm)))
    both = dye_of([Sample(srgb, mm), Sample(thick, 2.0 * mm)])
    if (true.colour(2.0 * mm) >= 0.0).all():  # beyond sRGB's colours the second one was clipped
        assert both.misfit < 1.0


def test_white_takes_up_nothing():
    assert dye_of([Sample((1.0, 1.0, 1.0), 3.0)]) is CLEAR


@given(CHANNELS)
def test_more_stone_is_darker(srgb):
    dye = dye_of([Sample(srgb, 4.0)])
    light = [lab(np.clip(dye.colour(mm), 0.0, None))[0] for mm in (1.0, 2.0, 4.0, 8.0)]
    assert (np.diff(light) < 0.0).all()


@pytest.mark.parametrize("name", LIGHTS)
def test_white_paper_lying_flat_shows_one(name):
    """∫ L·cos / π over the hemisphere, by random directions whose density is cos / π."""
    u, v = np.random.default_rng(3).random((2, 400_000))
    ways = np.column_stack(
        [
            np.sqrt(u) * np.cos(2.0 * np.pi * v),
            np.sqrt(u) * np.sin(2.0 * np.pi * v),
            np.sqrt(1.0 - u),
        ]
    )
    assert LIGHTS[name].radiance(ways).mean() == pytest.approx(1.0, abs=0.02)
    assert not LIGHTS[name].radiance(-ways).any()


def test_an_unknown_lighting_is_named():
    with pytest.raises(InputError, match=r'lighting "open ski" is not known; .*open sky'):
        light_named("open ski")


@pytest.mark.parametrize("count", [1, 3, 7])
def test_bands_part_the_spectrum(count):
    parts = np.array([band.part for band in bands(count)])
    np.testing.assert_array_equal(parts.sum(axis=0), 1)
    assert (np.diff([band.nm for band in bands(count)]) > 0.0).all()


@given(CHANNELS, CHANNELS, st.floats(0.0, 30.0), st.floats(0.0, 30.0))
def test_the_table_is_near_the_law_itself(one, two, in_mm, out_mm):
    inside, outside = (dye_of([Sample(srgb, 5.0)]) for srgb in (one, two))
    (band,) = bands(1)
    table = table_of(inside, outside, 80.0, band)
    true = np.exp(-inside.per_mm * in_mm - outside.per_mm * out_mm) @ rgb_weights()
    near = _looked_up(table, in_mm, out_mm)
    np.testing.assert_allclose(near, true, atol=5e-4)


def _looked_up(table, in_mm, out_mm):
    from optimizer.optics.kernels.shade import shade

    rays = np.empty((1, 3))
    shade(
        np.array([0, 1]), np.ones(1), np.array([in_mm]), np.array([out_mm]),
        table.values, table.per_mm, rays,
    )  # fmt: skip
    return rays[0]
