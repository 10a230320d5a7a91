"""The advice on angles, against another way of tracing at every angle of a coarse grid."""

import numpy as np
import pytest

from optimizer.design import build_body, load_design
from optimizer.errors import InputError
from optimizer.offers.angle_advice import advice_line, angle_advice
from optimizer.optics.angles import ROCKED
from optimizer.optics.eye import frame_of, pixel_centres, rocked
from optimizer.optics.face import face_of
from optimizer.optics.figures import light_figures
from optimizer.optics.paths import refracting_body
from optimizer.optics.refraction import index_at
from optimizer.optics.shading import bands
from optimizer.trade.materials import load_material

DESIGN, QUARTZ = load_design("round-brilliant"), load_material("quartz")


def looked(crown, pavilion):
    """(mean light return, worst window) by square pixels, rays followed to the end."""
    body = build_body(DESIGN, {"crown": crown, "pavilion": pavilion})
    seen = []
    for turn in ROCKED:
        places = pixel_centres(*frame_of(body.vertices_at(6.0), rocked(*turn)), 40)
        (band,) = bands(1)
        stone = refracting_body(body.normals, body.offsets_at(6.0), index_at(QUARTZ, band.nm))
        seen.append(light_figures(face_of((stone,), (band,), places, rocked(*turn))))
    return np.mean([one.light_return for one in seen]), max(one.window for one in seen)


@pytest.fixture(scope="module")
def advice():
    return angle_advice(DESIGN, QUARTZ)


def test_another_way_of_tracing_gives_the_same_figures(advice):
    for one in (advice.usual, advice.best):
        light, window = looked(one.crown, one.pavilion)
        assert one.light_return == pytest.approx(light, abs=0.015)
        assert one.window == pytest.approx(window, abs=0.02)


def test_no_angles_of_a_coarse_grid_are_clearly_better(advice):
    ranges = [
        np.linspace(p.low, p.high, 4) for p in map(DESIGN.parameters.get, ("crown", "pavilion"))
    ]
    for crown in ranges[0]:
        for pavilion in ranges[1]:
            light, window = looked(crown, pavilion)
            assert light < advice.best.light_return + 0.015 or window > advice.best.window


def test_one_line_states_the_advice_and_its_cost_in_weight(advice):
    weights = [
        build_body(DESIGN, {"crown": one.crown, "pavilion": one.pavilion}).volume_at(8.0)
        for one in (advice.usual, advice.best)
    ]
    line = advice_line(advice, QUARTZ)
    assert advice.worth_it
    assert f"{100.0 * (weights[1] / weights[0] - 1.0):+.1f} % weight".replace("-", "−") in line


def test_a_species_without_an_index_is_refused():
    from dataclasses import replace

    with pytest.raises(InputError, match="no refractive index"):
        angle_advice(DESIGN, replace(QUARTZ, ri=None))
