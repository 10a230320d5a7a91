"""The part of a stone straight below its table: against the robust kernel, and how it grows."""

from dataclasses import replace

import numpy as np
import pytest
from design_places import SAMPLE
from scipy.spatial import ConvexHull

from optimizer.audit.flaws import part_below_table
from optimizer.design import build_body, load_design
from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.placement.growing import by_clearance, by_width
from optimizer.placement.growth import part_under_table

TABLED = tuple(name for name in SAMPLE if "table" in load_design(name).parameters)
UP = np.array([0.0, 0.0, 1.0])


def corners(growth, sigma):
    return growth.corners0 + growth.corners1 * sigma


def growths(body):
    """Every way of growing with some σ at which it is the true body."""
    thin, thick = body.least_girdle_mm / body.girdle_share, 0.5
    widths = by_width(body, 0.3, 0.1)
    ways = [(widths[0], 1.5 * thin), (widths[-1], thick * thin), (by_clearance(body, 7.0)[0], 0.4)]
    return [*ways, (widths[0], 20.0)]


@pytest.mark.parametrize("name", TABLED)
def test_it_is_what_the_kernel_cuts_out(name):
    body = build_body(load_design(name), least_girdle_mm=0.4)
    for growth, sigma in growths(body):
        part = growth.under_table
        cut = part_below_table(Mesh(corners(growth, sigma), body.faces), UP)
        ours = corners(part, sigma)
        assert ConvexHull(ours).volume == pytest.approx(ConvexHull(cut.vertices).volume, rel=1e-9)
        apart = np.linalg.norm(ours[:, None] - cut.vertices[None], axis=2)
        assert apart.min(axis=1).max() < 1e-8  # each corner of ours is one of theirs ...
        assert apart.min(axis=0).max() < 1e-8  # ... and the other way round


@pytest.mark.parametrize("name", TABLED)
def test_its_facets_and_corners_fit_and_the_margin_is_the_bodys(name):
    body = build_body(load_design(name), least_girdle_mm=0.4)
    for growth, sigma in growths(body):
        part = growth.under_table
        assert (part.margin0, part.margin1) == (growth.margin0, growth.margin1)
        margin = part.margin0 + part.margin1 * sigma
        depths = part.alpha + part.beta * sigma - margin - corners(part, sigma) @ part.normals.T
        assert depths.min() > -1e-12  # no corner is beyond a facet
        assert np.sum(np.abs(depths) < 1e-9, axis=0).min() >= 3  # each facet has its polygon
        assert np.sum(np.abs(depths) < 1e-9, axis=1).min() >= 3  # each corner its three facets
        assert part.beta.min() > 0.0  # nested in σ
        assert len(part.normals) < len(growth.normals)


def test_it_is_worked_out_once():
    (growth,) = by_width(build_body(load_design("oval")), 0.3, 1.0)
    assert growth.under_table is growth.under_table


def test_a_table_beside_the_axis_is_refused():
    (growth,) = by_width(build_body(load_design("oval")), 0.3, 1.0)
    aside = np.array([2.0, 0.0, 0.0])  # the whole stone lies beside its axis
    moved = replace(
        growth, beta=growth.beta + growth.normals @ aside, corners1=growth.corners1 + aside
    )
    with pytest.raises(InputError, match="beside its table"):
        part_under_table(moved)


def test_a_stone_without_a_table_has_nothing_below_one():
    (growth,) = by_width(build_body(load_design("round-rose")), 0.3, 1.0)
    with pytest.raises(InputError, match="the stone has no table"):
        part_under_table(growth)
