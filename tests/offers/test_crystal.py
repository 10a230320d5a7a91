"""The crystal's directions in a piece, and the messages where they are not known."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of
from species import material_names

from optimizer.errors import InputError
from optimizer.offers.crystal import direction_of
from optimizer.offers.offer import offers
from optimizer.order import DirectionDemand, Order
from optimizer.trade.materials import load_material

C_AXIS, GROWTH = np.array([0.0, 0.6, 0.8]), np.array([1.0, 0.0, 0.0])
ROUGH = rough_of(shapes.box((20.0, 14.0, 12.0)))
TOPAZ = replace(ROUGH, material=load_material("topaz"))


def asked(**limits):
    return Order(direction=DirectionDemand(**limits))


def test_the_axis_is_the_one_named():
    rough = replace(ROUGH, optic_axis=C_AXIS, growth_axis=GROWTH)
    for name, axis in (("optic axis", C_AXIS), ("growth axis", GROWTH)):
        direction = direction_of(rough, asked(axis=name, axis_to_table_deg=(30.0, 60.0)))
        np.testing.assert_array_equal(direction.axis, axis)
        assert direction.axis_to_table == pytest.approx((np.pi / 6, np.pi / 3))
        assert direction.cleavage.shape == (0, 3)


def test_cleavage_in_the_rough_file_comes_before_that_of_the_species():
    own = replace(TOPAZ, optic_axis=C_AXIS)
    order = asked(cleavage_clear_deg=5.0)
    np.testing.assert_array_equal(direction_of(own, order).cleavage, [C_AXIS])
    stated = replace(own, cleavage=(GROWTH,))
    np.testing.assert_array_equal(direction_of(stated, order).cleavage, [GROWTH])
    assert direction_of(own, order).axis is None
    assert direction_of(own, order).clear == pytest.approx(np.pi / 36)


def test_no_order_no_limits():
    assert direction_of(ROUGH, Order()) is None
    assert replace(ROUGH, optic_axis=C_AXIS).known_cleavage == ()


def test_only_species_with_listed_basal_cleavage_have_it():
    """Perfect in topaz, indistinct in beryl; corundum has basal parting, which is no cleavage."""
    basal = {name for name in material_names() if load_material(name).basal_cleavage}
    assert basal == {"topaz", "beryl"}


@pytest.mark.parametrize(
    ("rough", "limits", "said"),
    [
        (ROUGH, {"axis_to_table_deg": (80, 90)}, r"optic axis.*by-hand\.ply; add optic_axis = \["),
        (
            replace(ROUGH, optic_axis=C_AXIS),
            {"axis": "growth axis", "axis_to_table_deg": (80, 90)},
            r"growth axis.*add growth_axis = \[x, y, z\]",
        ),
        (
            replace(ROUGH, optic_axis=C_AXIS),
            {"cleavage_clear_deg": 5},
            r"cleavage of by-hand\.ply; add cleavage = \[\[x, y, z\]\] to its rough file$",
        ),
        (TOPAZ, {"cleavage_clear_deg": 5}, r"add cleavage = .*basal, optic_axis = \[x, y, z\] to"),
    ],
)
def test_one_line_asks_for_what_is_not_known(rough, limits, said):
    with pytest.raises(InputError, match=said) as caught:
        offers(rough, asked(**limits))
    assert "\n" not in str(caught.value)
