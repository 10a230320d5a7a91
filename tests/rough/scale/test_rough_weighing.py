"""Weight against volume: what explains a difference, by closed form and by drawing at random."""

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapes

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough import describe, load_rough
from optimizer.rough.model import Rough
from optimizer.rough.scale.weighing import (
    Weighing,
    can_correct_scale,
    is_doubtful,
    is_out_of_reach,
    sg_span,
    unit_mistake,
    weighing_of,
)
from optimizer.rough.scale.weight_words import refuse_wrong_weight, weighed_lines, weight_doubt

Load = Callable[..., Rough]

BALL = Weighing(  # radius 10 mm: volume 4188.79 mm³, surface 1256.64 mm²
    weighed_ct=60.0,
    balance_ct=0.06,
    volume_mm3=4.0 / 3.0 * math.pi * 1000.0,
    area_mm2=4.0 * math.pi * 100.0,
    surface_mm=0.05,
    scale=0.002,
    sg=2.70,
    sg_range=(2.65, 2.80),
)


@pytest.fixture
def load(box: Mesh, saved: Callable[[Mesh], Path]) -> Load:
    """The box of 10 × 8 × 6 mm (480 mm³, 376 mm²) with the keys given."""

    def loaded(mesh: Mesh = box, **keys: Any) -> Rough:
        table = {"material": "quartz", "scan_error_mm": 0.0, **keys}
        return load_rough(saved(mesh), rough_table=table)

    return loaded


def test_a_balls_shares_are_those_of_its_radius() -> None:
    """A·e/V = 3·e/r: 0.05 mm of 10 are 1.5 % of the volume."""
    assert BALL.skin == pytest.approx(0.015, rel=1e-12)
    assert BALL.balance == pytest.approx(0.001, rel=1e-12)
    low, high = BALL.volumes
    assert low == pytest.approx(BALL.volume_mm3 * 0.985 * 0.998**3, rel=1e-12)
    assert high == pytest.approx(BALL.volume_mm3 * 1.015 * 1.002**3, rel=1e-12)
    assert BALL.own_sg[0] == pytest.approx(200.0 * 59.94 / high, rel=1e-12)
    assert BALL.own_sg[1] == pytest.approx(200.0 * 60.06 / low, rel=1e-12)


def test_what_no_error_explains_is_counted_from_the_worst_of_all_errors() -> None:
    """A third of the volume is hidden or added: no limit of scan, scale, balance, species left."""
    heavy = replace(BALL, weighed_ct=40.0, balance_ct=0.0)
    by_hand = BALL.volume_mm3 * 0.985 * 0.998**3 * 2.65 / 200.0 / 40.0 - 1.0
    assert heavy.unexplained == pytest.approx(by_hand, rel=1e-12)
    light = replace(BALL, weighed_ct=70.0, balance_ct=0.0)
    by_hand = BALL.volume_mm3 * 1.015 * 1.002**3 * 2.80 / 200.0 / 70.0 - 1.0
    assert light.unexplained == pytest.approx(by_hand, rel=1e-12)
    assert light.unexplained < 0.0 < heavy.unexplained
    assert replace(BALL, weighed_ct=56.5).unexplained == 0.0


def test_true_pieces_are_never_unexplained_and_their_density_is_in_the_span() -> None:
    """Balls drawn at random: scanned, scaled and weighed as badly as their errors allow."""
    random = np.random.default_rng(4)
    for _ in range(2000):
        radius, sg = random.uniform(2.0, 20.0), random.uniform(2.65, 2.80)
        surface, scale, balance = random.uniform(0.0, [0.1, 0.01, 0.1])
        scanned = (radius + surface * random.uniform(-1, 1)) / (1.0 + scale * random.uniform(-1, 1))
        true_ct = 4.0 / 3.0 * math.pi * radius**3 * sg / 200.0
        weighing = Weighing(
            weighed_ct=true_ct + balance * random.uniform(-1, 1),
            balance_ct=balance,
            volume_mm3=4.0 / 3.0 * math.pi * scanned**3,
            area_mm2=4.0 * math.pi * scanned**2,
            # the first order lacks what e²/r and s·e make: a few percent of e here at most
            surface_mm=surface * (1.0 + scale + surface / scanned),
            scale=scale * (1.0 + scale),
            sg=2.70,
            sg_range=(2.65, 2.80),
        )
        assert weighing.unexplained == 0.0
        assert weighing.own_sg[0] <= sg * (1 + 1e-4)
        assert sg * (1 - 1e-4) <= weighing.own_sg[1]


@pytest.mark.parametrize(
    ("share", "doubtful", "refused"),
    [
        (1.0, False, False),
        (1.004, False, False),
        (1.02, True, False),
        (0.98, True, False),
        (1.094, True, False),
        (1.11, True, True),
        (0.914, True, False),
        (0.90, True, True),
        (3.0, True, True),
    ],
)
def test_small_differences_pass_some_are_doubted_large_ones_refused(
    share: float, doubtful: bool, refused: bool, load: Load
) -> None:
    """3 % of the lengths are 9.3 % more or 8.7 % less by volume; the balance adds its 0.16 %."""
    rough = load(weighed_ct=6.36 / share)
    weighing = weighing_of(rough)
    assert weighing is not None
    assert (is_doubtful(weighing), is_out_of_reach(weighing)) == (doubtful, refused)
    assert bool(rough.warnings) == doubtful
    assert any("no plan is made" in warning for warning in rough.warnings) == refused
    if refused:
        with pytest.raises(InputError, match=r"piece\.ply: the solid weighs 6.360 ct by volume"):
            refuse_wrong_weight(rough)
    else:
        refuse_wrong_weight(rough)


def test_the_offer_names_the_change_and_is_made_for_the_scale_alone(load: Load) -> None:
    (warning,) = load(weighed_ct=6.36 * 1.02**3).warnings
    assert 'correct = "scale" in the rough file changes every length by +2.0 %' in warning
    assert '"sg"' not in warning
    (refused,) = load(weighed_ct=6.36 * 1.05**3).warnings
    assert "correct" not in refused


def test_a_thicker_skin_is_told_in_mm(load: Load) -> None:
    """0.36 ct too much over 376 mm² of quartz: 0.36·200/2.65/376 = 0.07 mm."""
    (warning,) = load(weighed_ct=6.0).warnings
    assert "as much as 0.07 mm all round" in warning


@pytest.mark.parametrize("stated", ["um", "mm", "cm", "m", "in"])
@pytest.mark.parametrize("true", ["um", "mm", "cm", "m", "in"])
def test_a_mistaken_unit_is_named(
    stated: str, true: str, box: Mesh, saved: Callable[[Mesh], Path]
) -> None:
    """The box of 480 mm³ in its true unit, called another: off by 1000³, 25.4³, 10³ and so on."""
    scale = {"um": 0.001, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
    table = {
        "material": "quartz", "unit": stated, "scan_error_mm": 0.02, "weighed_ct": 6.5,
    }  # fmt: skip
    path = saved(Mesh(box.vertices / scale[true], box.faces))
    if not 0.02 <= scale[stated] / scale[true] <= 300.0:  # no weighing is needed to see that
        with pytest.raises(InputError, match=rf"check the unit \(.*\b{true} \(10 mm\)"):
            load_rough(path, rough_table=table)
        return
    rough = load_rough(path, rough_table=table)
    said = " ".join(weight_doubt(rough))
    if stated == true:
        assert "by the weight" not in said
        return
    assert f'it is unit = "{true}" by the weight' in said
    assert "would weigh 6.360 ct (−2.15 %)" in said
    assert rough.mm_per_unit == scale[stated]  # nothing is rescaled
    with pytest.raises(InputError, match=f'unit = "{true}"'):
        refuse_wrong_weight(rough)


def test_inches_turned_into_millimetres_twice_are_named(load: Load, box: Mesh) -> None:
    twice = Mesh(box.vertices * 25.4, box.faces)
    (warning,) = load(twice, weighed_ct=6.36, unit="mm").warnings
    assert f"mm_per_unit = {1.0 / 25.4:.9g} by the weight" in warning


@pytest.mark.parametrize("factor", [0.5, 1.3, 2.0, 5.0, 50.0])
def test_a_factor_that_is_no_units_names_none(factor: float) -> None:
    weighing = replace(BALL, surface_mm=0.0, weighed_ct=BALL.by_volume_ct)
    assert unit_mistake(weighing.scaled(factor), 1.0) is None


def test_a_weight_within_the_errors_calls_for_no_unit() -> None:
    assert unit_mistake(replace(BALL, weighed_ct=BALL.by_volume_ct), 1.0) is None


def test_check_says_what_a_difference_may_come_from(load: Load) -> None:
    lines = describe(load(material="corundum", scan_error_mm=0.05, weighed_ct=9.6))
    (line,) = (line for line in lines if line.startswith("weighed: "))
    # 376·0.05/480 = 3.9 %; 0.1 % of 9.6 ct is less than 0.01 ct
    assert "the scan error, coat included (±3.9 %), the balance (±0.10 %) and the range" in line
    assert "of SG (−0.75 to +0.75 %)" in line


def test_the_balances_own_error_counts(load: Load) -> None:
    assert load(weighed_ct=6.0).warnings
    assert not load(weighed_ct=6.0, weighed_error_ct=0.4).warnings


def test_unweighed_pieces_have_the_species_range(load: Load) -> None:
    assert sg_span(load(material="corundum")) == (3.97, 4.03)
    assert load(material="corundum").warnings == ()


def test_a_weighing_narrows_the_range(load: Load) -> None:
    """9.65 ct over 480 mm³ ± 376·0.002/480 = 0.157 % is 4.0208, give or take 0.26 %: 4.010 up."""
    rough = load(material="corundum", weighed_ct=9.65, scan_error_mm=0.002)
    low, high = sg_span(rough)
    least = 200.0 * 9.64 / (480.0 + 376.0 * 0.002)
    assert least > 4.0  # 4.00 is reckoned with, so it stays in the range
    assert (low, high) == (4.0, 4.03)
    heavier = load(material="zircon", weighed_ct=10.8, scan_error_mm=0.002)
    low, high = sg_span(heavier)
    assert low == pytest.approx(200.0 * 10.7892 / 480.752, rel=1e-9)
    assert high == pytest.approx(200.0 * 10.8108 / 479.248, rel=1e-9)
    assert high - low < 0.03 < 4.70 - 4.32


def test_a_weighing_that_contradicts_the_species_widens_the_range(load: Load) -> None:
    rough = load(weighed_ct=6.6, scan_error_mm=0.002)
    low, high = sg_span(rough)
    assert low == 2.65
    assert high == pytest.approx(200.0 * 6.61 / 479.248, rel=1e-9)
    assert rough.warnings


def test_a_scale_may_be_corrected_by_three_percent_and_no_more() -> None:
    true = replace(BALL, surface_mm=0.0, weighed_ct=BALL.by_volume_ct)
    for factor, allowed in ((0.971, True), (1.029, True), (0.969, False), (1.031, False)):
        off = true.scaled(1.0 / factor)
        assert off.correction == pytest.approx(factor, rel=1e-12)
        assert can_correct_scale(off) == allowed


def test_shapes_other_than_balls_have_their_own_surface(load: Load) -> None:
    notched = shapes.notched((20.0, 14.0, 12.0), depth=6.0)
    weighing = weighing_of(load(notched, weighed_ct=40.0))
    assert weighing is not None
    assert weighing.area_mm2 > 2.0 * (20 * 14 + 14 * 12 + 12 * 20)


def test_of_an_absurd_weight_no_figure_is_made(load: Load) -> None:
    rough = load(weighed_ct=6000.0)
    assert weighed_lines(rough) == [
        "weighed: 6000.000 ct (by volume 943 times less): more than any error of scan, balance and "
        "species explains"
    ]
    (said,) = weight_doubt(rough)
    assert "THE WEIGHT DOES NOT FIT, no plan is made of this: the solid weighs 6.360 ct by" in said
    assert "and the 6000.000 ct weighed are 943 times as much; " in said
    assert said.endswith("state that") or "take weighed_ct out to plan" in said


def test_pieces_read_by_hand_are_told_of_their_readings(tmp_path: Path) -> None:
    station = "[[measured.stations]]\nat_mm = {}\ndiameter_mm = 14\n"
    (tmp_path / "piece.toml").write_text(
        'material = "quartz"\nweighed_ct = 50\n[measured]\nform = "boule"\n'
        + "".join(station.format(at) for at in (0, 20, 40))
    )
    said = " ".join(weight_doubt(load_rough(tmp_path / "piece.toml")))
    assert "the readings and the form (±" in said
    assert "look at the form, the readings, the species, the balance" in said
    assert "by the readings alone" in said
    assert "unit" not in said
    assert "scan" not in said
