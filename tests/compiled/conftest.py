"""What the tests of machine code share."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from optimizer.compiled.store import store


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder of its own for machine code, named as a user would name it."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "code"))
    store.cache_clear()
    yield tmp_path / "code" / "kerfwise"
    store.cache_clear()
