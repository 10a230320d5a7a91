"""What the tests of orders share."""

from pathlib import Path

import pytest

from optimizer.order import Order, load_order


@pytest.fixture
def read(tmp_path: Path):
    """The order of a text, by way of a file."""

    def call(text: str) -> Order:
        (tmp_path / "order.toml").write_text(text, encoding="utf-8")
        return load_order(tmp_path / "order.toml")

    return call
