"""Enclosures of facets, corners and volumes: no body of a box leaves what is said of all."""

from dataclasses import replace

import numpy as np
import pytest
from design_places import SAMPLE

from optimizer.design import library, load_design
from optimizer.design.body import planes
from optimizer.design.curves import bowed
from optimizer.design.enclosures.body import BodyModels
from optimizer.design.enclosures.curves import touching
from optimizer.design.enclosures.taylor import NoEnclosure, Taylor, joined
from optimizer.design.family import Family, Free
from optimizer.design.model import Outline

# Half sizes of the boxes tried, in degrees and in shares of the width.
HALVES = {"crown": 0.6, "pavilion": 0.6, "length_to_width": 0.02, "table": 0.02, "girdle": 0.004}
EXACT = 1e-12  # of the width: bodies are cut in floating point


def random_family(rng: np.random.Generator, name: str, most: int = 3) -> Family:
    """A design with two parameters, or up to ``most``, free over a random box."""
    design = load_design(name)
    known = [k for k, p in design.parameters.items() if p.low < p.high]
    free = []
    for key in rng.permutation(known)[: rng.integers(2, most + 1)]:
        p, half = design.parameters[key], HALVES.get(key, 0.005) * rng.uniform(0.3, 1.0)
        middle = rng.uniform(p.low + half, p.high - half)
        free.append(Free(str(key), middle - half, middle + half, middle, 0.1))
    order = list(design.parameters)
    free.sort(key=lambda f: order.index(f.name))
    return Family(design, {}, tuple(free), 0.2, 0.0)


def enclosed(family: Family) -> tuple[Family, BodyModels]:
    """The models over a family's box, or over one inside it where it is too large."""
    try:
        return family, BodyModels.of(family, family.low, family.high)
    except NoEnclosure:
        parts = [(f, 0.25 * (f.high - f.low)) for f in family.free]
        free = [replace(f, low=f.usual - part, high=f.usual + part) for f, part in parts]
        return enclosed(replace(family, free=tuple(free)))


def points(rng: np.random.Generator, family: Family, count: int):
    """Random values, ends of the box among them: (in the unit box, as parameters)."""
    unit = np.clip(1.4 * rng.uniform(-1.0, 1.0, (count, len(family.free))), -1.0, 1.0)
    middle, half = (family.high + family.low) / 2.0, (family.high - family.low) / 2.0
    return [(d, np.clip(middle + half * d, family.low, family.high)) for d in unit]


def out_by(model: Taylor, at: np.ndarray, true) -> float:
    """How far a true value lies outside its enclosure."""
    return float((np.abs(model.at(at) - true) - model.radius).max())


# --- arithmetic ---------------------------------------------------------------------------------


def random_model(rng: np.random.Generator, variables: int) -> Taylor:
    model = Taylor.constant(rng.uniform(0.5, 2.0, 5), variables)
    terms = 0.3 / len(model.terms) * rng.normal(size=model.terms.shape)
    terms[0] = model.terms[0]
    return Taylor(terms, 1e-3 * rng.uniform(size=5), variables)


OPERATIONS = (
    lambda a, b: a + b, lambda a, b: a - 2.0 * b, lambda a, b: a * b, lambda a, b: a / b,
    lambda a, b: 1.0 / (a - 9.0) + b, lambda a, b: (a * a + b * b) / (a + b),
)  # fmt: skip
FUNCTIONS = (
    (lambda m: m.power(0.5), np.sqrt), (lambda m: m.power(-1.0 / 3.0), lambda v: v ** (-1.0 / 3.0)),
    (lambda m: m.sin(), np.sin), (lambda m: m.cos(), np.cos), (lambda m: m.sum(), np.sum),
    (lambda m: m.least(), np.min), (lambda m: m.greatest(), np.max),
)  # fmt: skip


@pytest.mark.parametrize("variables", [1, 2, 3])
def test_models_enclose_all_functions_that_theirs_may_be(variables):
    """Any values within the radius stand for the unknown functions at a point of the box."""
    rng = np.random.default_rng(variables)
    a, b = random_model(rng, variables), random_model(rng, variables)
    for _ in range(40):
        d = np.clip(1.5 * rng.uniform(-1.0, 1.0, variables), -1.0, 1.0)
        x, y = (m.at(d) + m.radius * rng.choice([-1.0, 1.0], 5) for m in (a, b))
        for operation in OPERATIONS:
            assert out_by(operation(a, b), d, operation(x, y)) <= EXACT
        for model, function in FUNCTIONS:
            assert out_by(model(a), d, function(x)) <= EXACT
        assert np.all((a.low <= x + EXACT) & (x <= a.high + EXACT))
        share = rng.uniform(size=5)
        assert out_by(a.or_else(b), d, share * x + (1.0 - share) * y) <= EXACT
        assert out_by(a.over(variables + 1, range(variables)), np.append(d, 0.3), x) <= EXACT
        assert out_by(a.quadratic, d, x) <= EXACT


@pytest.mark.parametrize(
    ("model_of", "function"),
    [
        (lambda m: m.sin(), np.sin),
        (lambda m: m.cos(), np.cos),
        (lambda m: m.power(0.5), np.sqrt),
        (lambda m: 1.0 / m, lambda v: 1.0 / v),
    ],
)
def test_functions_are_enclosed_over_wide_ranges_by_little_more_than_they_leave(model_of, function):
    """A variable from 0.6 to 1.4, whose models have hardly a radius but what the polynomial of the
    function leaves out."""
    model = model_of(Taylor.variable(0, 1, 1.0, 0.4))
    unit = np.linspace(-1.0, 1.0, 201)
    out = np.array([abs(model.at(np.array([d])) - function(1.0 + 0.4 * d)) for d in unit])
    assert 1e-3 * float(model.radius) < out.max() <= float(model.radius)


@pytest.mark.parametrize("seed", range(6))
def test_the_range_of_a_quadratic_in_one_variable_is_exact(seed):
    rng = np.random.default_rng(seed)
    model = Taylor.constant(0.0, 1)
    model.terms[:3] = rng.normal(size=3)
    values = [model.at(np.array([d])) for d in np.linspace(-1.0, 1.0, 501)]
    assert float(model.high) == pytest.approx(max(values), abs=1e-4)
    assert float(model.low) == pytest.approx(min(values), abs=1e-4)


def test_no_enclosure_is_given_of_a_quotient_whose_divisor_may_vanish():
    with pytest.raises(NoEnclosure):
        1.0 / Taylor.variable(0, 1, 0.1, 0.2)


# --- facets, corners, volumes -------------------------------------------------------------------


@pytest.mark.parametrize("name", library())
def test_every_facet_of_every_body_lies_in_its_enclosure(name):
    rng = np.random.default_rng([1, *name.encode()])
    family, models = enclosed(random_family(rng, name, 3 if name in SAMPLE else 2))
    for d, values in points(rng, family, 4):
        normals, offsets = planes(family.design, family.parameters(values), family.share(values))
        assert out_by(models.normals, d, normals) <= EXACT
        assert out_by(models.offsets, d, offsets) <= EXACT
    assert models.normals.radius.max() < 1e-3
    assert models.offsets.radius.max() < 1e-3


@pytest.mark.parametrize("name", ["egg-brilliant", "shield-brilliant"])
def test_facets_lie_in_their_enclosures_where_the_curve_is_stretched(name):
    design = load_design(name)
    most = design.parameters["length_to_width"].high
    family = Family(design, {}, (Free("length_to_width", most - 0.03, most, most, 0.01),), 0.2, 0.0)
    models = BodyModels.of(family, family.low, family.high)
    for d, values in points(np.random.default_rng(5), family, 6):
        normals, offsets = planes(family.design, family.parameters(values), family.share(values))
        assert out_by(models.normals, d, normals) <= EXACT
        assert out_by(models.offsets, d, offsets) <= EXACT
    assert models.offsets.radius.max() < 1e-6


def test_a_side_may_leave_its_arc_for_a_tip_within_a_box():
    """The arcs' normals end 36.87° from the length where the outline is twice as long as wide, and
    at 41.25° where it is 2.339 times as long."""
    outline = Outline("", "bowed", tips=((1, 0), (-1, 0)), bows=(0.25, 0.25))
    theta = np.radians([0.0, 30.0, 41.25, 60.0, 138.75, 270.0])
    length = Taylor.variable(0, 1, 2.339, 0.02)
    model = touching(outline, theta, joined([length[None], Taylor.constant([1.0, 0.0], 1)]))
    for d in np.linspace(-1.0, 1.0, 41):
        true = bowed(outline)(theta, 2.339 + 0.02 * d, 1.0)
        assert out_by(model, np.array([d]), true) <= EXACT
    assert 0.0 < model.radius.max() < 1e-3


@pytest.mark.parametrize("name", SAMPLE)
def test_no_body_has_more_volume_or_another_outline_than_said(name):
    rng = np.random.default_rng(3)
    family, models = enclosed(random_family(rng, name))
    for d, values in points(rng, family, 4):
        body = family.exact(values)
        most = (models.volume.at(d) + models.volume.radius) * models.excess
        assert 0.9 * most < body.unit_volume <= most
        assert out_by(models.outline_area, d, body.outline_area) <= EXACT
        assert out_by(models.length, d, body.length_at(1.0)) <= 1e-9
        assert out_by(models.girdle_share, d, body.girdle_share) <= EXACT


def test_enclosures_close_in_with_the_sixth_power_of_the_box():
    free = (Free("crown", 33.0, 39.0, 36.0, 0.1), Free("pavilion", 40.0, 44.0, 42.0, 0.1))
    family = Family(load_design("oval"), {}, free, 0.2, 0.0)
    middle, half = (family.high + family.low) / 2.0, (family.high - family.low) / 2.0
    wide, narrow = (
        BodyModels.of(family, middle - share * half, middle + share * half) for share in (1.0, 0.5)
    )
    ratio = wide.offsets.radius.max() / narrow.offsets.radius.max()
    assert 40.0 < ratio < 100.0


def test_a_box_too_large_is_said_to_be():
    family = random_family(np.random.default_rng(1), "round-brilliant")
    low, high = family.low.copy(), family.high.copy()
    for j, free in enumerate(family.free):
        known = family.design.parameters[free.name]
        low[j], high[j] = known.low, known.high
    with pytest.raises(NoEnclosure):
        BodyModels.of(family, low, high)
