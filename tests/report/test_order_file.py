"""order.toml: a writer of TOML against the standard library's reader."""

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from optimizer.report.order_file import toml

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
    assert tomllib.loads(toml(table)) == table
