"""Numbers that people read are never powers of ten."""

import ast
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import optimizer
from optimizer.wording.plain_number import plain

DRAWN = {"label.py", "drawing.py", "weights.py"}  # write the coordinates of drawings, not sentences
SHORTEST = ("make_observer.py", "plain_number.py")  # a script, and the home itself


@given(st.floats(1e-14, 1e14), st.integers(1, 9), st.booleans())
def test_a_number_is_written_out_and_rounded_to_its_digits(size, digits, negative):
    value = -size if negative else size
    text = plain(value, digits)
    assert "e" not in text
    assert float(text.replace(",", "")) == float(f"{value:.{digits}g}")


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (1020.0, 3, "1020"), (12_345.0, 6, "12,345"),
        (961.4, 2, "960"), (12.0, 1, "10"), (1e-7, 6, "0.0000001"),
        (0.4, 6, "0.4"), (10.0, 6, "10"), (0.0, 6, "0"), (999_999.0, 6, "999,999"),
        (1e6, 6, "1,000,000"), (0.018, 4, "0.018"), (1e300, 3, "1e+300"), (3, 6, "3"),
        (np.float64(2.5), 6, "2.5"), (np.inf, 6, "inf"),
    ],
)  # fmt: skip
def test_numbers_as_people_write_them(value, digits, text):
    assert plain(value, digits) == text


def test_no_sentence_rounds_a_number_in_a_way_of_its_own():
    """Python's own g writes 1e+06, and 1e+01 of 12 in one digit."""
    own = []
    for path in sorted(Path(optimizer.__file__).parent.rglob("*.py")):
        if path.name in DRAWN or path.name in SHORTEST:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            spec = getattr(node, "format_spec", None)
            ends = [] if spec is None else [getattr(part, "value", None) for part in spec.values]
            if any(isinstance(end, str) and end.endswith(("g", "e")) for end in ends):
                own.append(f"{path.name}, line {node.lineno}")
    assert not own, own
