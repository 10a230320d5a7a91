"""The finished weight's range: closed forms, and true pieces drawn at random."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
import trimesh
from design_places import SAMPLE
from handmade_plans import rough_of
from scipy.optimize import minimize_scalar

from optimizer.design import build_body, load_design
from optimizer.design.model import Body
from optimizer.mesh import Mesh
from optimizer.planning.carat_range import carat_range, growth_mm
from optimizer.rough.model import Scale
from optimizer.rough.scale.correcting import with_scale
from optimizer.trade.materials import load_material


def block(depth: float = 1.0) -> Body:
    """A stone of width 1, length 1 and this depth, without a girdle of its own."""
    mesh = shapes.box((1.0, 1.0, depth))
    normals = np.vstack([np.eye(3), -np.eye(3)])
    offsets = np.array([0.5, 0.5, depth / 2.0] * 2)
    facet = np.zeros(len(mesh.faces), np.int64)
    names = tuple("abcdef")
    return Body(
        normals, offsets, mesh.vertices, mesh.faces, facet, names, np.eye(3)[None], 0.0, 0.0
    )


@pytest.mark.parametrize(("depth", "times"), [(1.0, 2.0), (0.5, 4.0), (3.0, 2.0)])
def test_a_block_in_a_box_grows_until_its_thinnest_way_is_used_up(
    depth: float, times: float
) -> None:
    """In a slab of its own depth, 2·e more depth is 2·e/depth more width."""
    assert growth_mm(block(depth), 6.0, 0.05) == pytest.approx(times * 0.05, rel=1e-9)


@pytest.mark.parametrize("name", SAMPLE)
def test_no_ball_lets_a_stone_grow_by_more(name: str) -> None:
    """In a ball of radius r the width goes as the radius: e/r of itself."""
    stone = build_body(load_design(name))
    reach = trimesh.Trimesh(stone.vertices, stone.faces).bounding_sphere.primitive.radius
    assert growth_mm(stone, 8.0, 0.05) >= 0.05 / reach


def test_the_growth_of_a_round_stone_found_another_way() -> None:
    """By symmetry it shifts along its axis alone: the least of a function of one number."""
    stone = build_body(load_design("round-brilliant"), least_girdle_mm=0.3, least_girdle_share=0.02)
    for width in (4.0, 30.0):  # the band has its least mm at the first, its share at the second
        slopes = (stone.offsets_at(width + 1e-6) - stone.offsets_at(width)) / 1e-6

        def needed(shift: float, slopes: np.ndarray = slopes) -> float:
            return float(((0.05 + stone.normals[:, 2] * shift) / slopes).max())

        found = minimize_scalar(
            needed, bounds=(-1.0, 1.0), method="bounded", options={"xatol": 1e-9}
        )
        assert growth_mm(stone, width, 0.05) == pytest.approx(found.fun, rel=1e-4)


def test_the_order_caps_the_size() -> None:
    rough = replace(rough_of(shapes.box((8.0, 8.0, 8.0))), scan_error_mm=0.05)
    for most, reached in ((6.04, 6.04), (np.inf, 6.1)):
        _, high = carat_range(rough, block(), 6.0, (0.0, most))
        assert high == pytest.approx(reached**3 * 2.65 / 200.0)


def test_a_fixed_size_is_cut_to_within_a_twentieth_of_a_millimetre() -> None:
    """5.95 to 6.05 mm: common practice, no source."""
    rough = replace(rough_of(shapes.box((8.0, 8.0, 8.0))), scan_error_mm=0.3)
    ends = carat_range(rough, block(), 6.0, (6.0, 6.0))
    assert ends == pytest.approx((5.95**3 * 2.65 / 200.0, 6.05**3 * 2.65 / 200.0))
    assert carat_range(rough, block(), 0.04, (0.04, 0.04))[0] == 0.0


def test_true_stones_weigh_what_the_range_says() -> None:
    """The heaviest cube of a ball, 2·r/√3 along its edge. Balls of any density of the species, with
    surface, scale and balance off as they may be, weighed or not."""
    ball = trimesh.creation.icosphere(3, 1.0)
    shape, cube, random = float(ball.volume), block(), np.random.default_rng(11)
    narrowed = 0
    for turn in range(400):
        radius, sg = random.uniform(4.0, 15.0), random.uniform(4.32, 4.70)
        error, scale = random.uniform(0.0, 0.08), random.uniform(0.0, 0.01)
        true = (radius + error * random.uniform(-1, 1)) * (1.0 + scale * random.uniform(-1, 1))
        weight = shape * true**3 * sg / 200.0
        piece = replace(
            rough_of(Mesh(ball.vertices * radius, np.asarray(ball.faces, np.int64))),
            material=load_material("zircon"),
            scan_error_mm=error,
            weighed_ct=weight + 0.02 * random.uniform(-1, 1) if turn % 2 else None,
            weighed_error_ct=0.02 if turn % 2 else None,
        )
        piece = with_scale(piece, Scale("known distance", scale))
        planned = 2.0 * (radius - piece.scan_error_mm) / np.sqrt(3.0)
        low, high = carat_range(piece, cube, planned, (0.0, np.inf))
        assert planned <= 2.0 * true / np.sqrt(3.0) * (1.0 + 1e-12)  # it is there to be cut
        assert low <= planned**3 * sg / 200.0
        assert (2.0 * (true - piece.scan_error_mm) / np.sqrt(3.0)) ** 3 * sg / 200.0 <= high
        narrowed += low > planned**3 * 4.32 / 200.0 * 1.001
    assert 100 < narrowed <= 200  # weighings that left less than the species' range
