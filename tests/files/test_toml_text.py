"""What is written as TOML, against the standard library's reader."""

import tomllib

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from optimizer.files.toml_file import toml_text

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
LEAVES = st.one_of(
    TEXTS,
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False),
)
VALUES = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(TEXTS, VALUES, max_size=5))
def test_what_is_written_is_what_is_read(table):
    assert tomllib.loads(toml_text("a comment", table)) == table


def test_arrays_keep_every_digit_and_what_is_unknown_is_left_out():
    table = {"normal": np.array([0.1, 1.0 / 3.0, 1e-17]), "weight": None, "zones": [{"a": None}]}
    read = tomllib.loads(toml_text("a comment", table))
    assert read == {"normal": [0.1, 1.0 / 3.0, 1e-17], "zones": [{}]}
