"""Rough files with readings, written and loaded."""

from collections.abc import Callable
from pathlib import Path

import pytest

from optimizer.rough import load_rough
from optimizer.rough.model import Rough

Load = Callable[..., Rough]


@pytest.fixture
def measured(tmp_path: Path) -> Load:
    """``measured(readings, beside)`` loads a rough file with that [measured] table and those keys
    before it, each as TOML; quartz and a reading's error of 0.05 mm unless they say otherwise."""

    def load(readings: str, beside: str = "") -> Rough:
        if "material" not in beside:
            beside = f'material = "quartz"\n{beside}'
        if "reading_error_mm" not in readings:
            readings = f"reading_error_mm = 0.05\n{readings}"
        path = tmp_path / "piece.toml"
        path.write_text(f"{beside}\n[measured]\n{readings}\n", encoding="utf-8")
        return load_rough(path)

    return load
