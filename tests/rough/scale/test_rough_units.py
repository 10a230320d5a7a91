"""Units: stated ones are obeyed, missing ones are refused or doubted, never guessed."""

import numpy as np
import pytest

from optimizer.errors import InputError
from optimizer.rough.scale.units import MM_PER_UNIT, mm_per_unit, settle_scale, size_of


def test_an_inch_is_25_4_mm_exactly() -> None:
    """International yard and pound agreement, 1959."""
    assert MM_PER_UNIT == {"um": 0.001, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}


@pytest.mark.parametrize("longest", [5.0, 21.3, 100.0])
def test_a_believable_piece_needs_no_unit(longest: float) -> None:
    assert settle_scale(None, longest, "a.stl") == (1.0, ())


@pytest.mark.parametrize(
    ("longest", "others"),
    [
        (2.0, "cm gives 20 mm, in gives 50.8 mm"),
        (4.99, "cm gives 49.9 mm, in gives 126.7 mm"),
        (100.1, ""),
        (300.0, ""),
    ],
)
def test_a_doubtful_size_is_warned_of(longest: float, others: str) -> None:
    scale, (warning,) = settle_scale(None, longest, "a.stl")
    assert scale == 1.0
    assert f"{longest:.4g} mm" in warning
    assert (others in warning) if others else ("gives" not in warning)


@pytest.mark.parametrize(
    ("longest", "fits"),
    [
        (1.99, ["cm (19.9 mm)", "in (50.55 mm)"]),
        (0.1044, ["m (104.4 mm)", "in (2.652 mm)"]),
        (0.02, ["m (20 mm)"]),
        (301.6, ["um (0.3016 mm)", "mm (301.6 mm)"]),  # the nearest, where none fits
        (961.0, ["um (0.961 mm)", "mm (961 mm)"]),
        (21000.0, ["um (21 mm)"]),
        (1e-9, []),
        (1e12, []),
    ],
)
def test_an_impossible_size_is_refused_with_the_units_that_fit(
    longest: float, fits: list[str]
) -> None:
    with pytest.raises(InputError) as error:
        settle_scale(None, longest, "a.stl")
    message = str(error.value)
    by_unit = f"state the right one with --unit, or unit = in a rough file: {' or '.join(fits)}"
    assert message.endswith(by_unit if fits else "state mm_per_unit = in a rough file")
    assert message.startswith("a.stl: ")


def test_a_stated_unit_is_obeyed_and_doubted_where_odd() -> None:
    assert settle_scale(10.0, 2.1, "a.stl") == (10.0, ())
    assert settle_scale(1.0, 2.1, "a.stl") == (1.0, ())
    scale, (warning,) = settle_scale(100.0, 21.0, "a.stl")
    assert scale == 100.0
    assert "2100 mm, unusual for a piece to cut: check the unit" in warning


@pytest.mark.parametrize(
    ("scale", "longest", "said"),
    [
        (0.001, 18.0, "is 0.018 mm long: check the unit (mm (18 mm) or cm (180 mm) would fit)"),
        (1000.0, 21.0, "is 21,000 mm long: check the unit (mm (21 mm) or cm (210 mm) would fit)"),
        (1e300, 1e300, "is inf mm long: check the unit"),
        (1e-300, 18.0, "is 1.8e-299 mm long: check the unit (mm"),
    ],
)
def test_a_stated_unit_off_by_orders_of_magnitude_is_refused(
    scale: float, longest: float, said: str
) -> None:
    with pytest.raises(InputError) as error:
        settle_scale(scale, longest, "a.stl")
    assert str(error.value).startswith(f"a.stl: the piece {said}")


def test_a_scan_without_size_is_not_told_to_state_a_unit() -> None:
    with pytest.raises(InputError, match="all points lie at one spot"):
        size_of(np.ones((4, 3)), "a.stl")
    with pytest.raises(InputError, match="the points lie too far apart"):
        size_of(np.array([[1e308, 0.0, 0.0], [-1e308, 0.0, 0.0]]), "a.stl")


def test_an_unknown_unit_is_named() -> None:
    with pytest.raises(InputError, match=r'unit "inch" is not known; did you mean "in"\?'):
        mm_per_unit("inch")
