"""The list of calibrated sizes against the library that they are cut in."""

import pytest
import shapes
from handmade_plans import rough_of

from optimizer.design import calibrated_designs, outline_designs
from optimizer.offers.offer import offers
from optimizer.order import Order, SizeDemand
from optimizer.trade.calibrated import CalibratedOutline, outlines

every_outline = pytest.mark.parametrize("outline", outlines(), ids=lambda outline: outline.name)


@every_outline
def test_sizes_rise_and_none_comes_twice(outline: CalibratedOutline):
    areas = [size.width_mm * size.length_mm for size in outline.sizes]
    assert areas == sorted(areas)
    assert len(set(outline.sizes)) == len(outline.sizes)
    assert all(0.0 < size.width_mm <= size.length_mm for size in outline.sizes)


def test_each_outline_has_a_design_of_the_library():
    assert {outline.name for outline in calibrated_designs().values()} == {
        outline.name for outline in outlines()
    }
    for name, outline in outline_designs().items():
        assert calibrated_designs()[name] == outline
    assert len(outline_designs()) == len(outlines())


@pytest.mark.parametrize("name", calibrated_designs())
def test_each_design_can_be_cut_to_each_size(name: str):
    """To the least and the most elongated: between them its proportion is free."""
    rough = rough_of(shapes.box())
    rising = sorted(calibrated_designs()[name].sizes, key=lambda s: s.length_mm / s.width_mm)
    for size in {rising[0], rising[-1]}:
        fixed = SizeDemand((size.width_mm,) * 2, (size.length_mm,) * 2)
        want = offers(rough, Order(designs=(name,), size=fixed))[0][0].want
        width = want.width_mm[1]
        assert width == pytest.approx(size.width_mm, rel=1e-6)
        assert want.body.length_at(width) == pytest.approx(size.length_mm, rel=1e-6)
