"""What a stone's own figures make doubtful."""

from types import SimpleNamespace

import pytest

from optimizer.planning.finished import _thick_girdle


@pytest.mark.parametrize(
    ("girdle", "said"), [(0.4, ()), (0.5, ()), (0.6, ("0.60 mm thick, 12 %",))]
)
def test_a_girdle_thicker_than_a_tenth_of_the_width_is_warned_of(girdle, said):
    warned = _thick_girdle(SimpleNamespace(girdle_mm=girdle, width_mm=5.0))
    assert len(warned) == len(said)
    assert all(words in line for words, line in zip(said, warned, strict=True))
