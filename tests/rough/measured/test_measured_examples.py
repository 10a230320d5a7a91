"""The examples that people start from: files in scans/ and the blocks of the forms' own page."""

import re
from pathlib import Path

import pytest

from optimizer.rough import describe, load_rough
from optimizer.rough.measured.build import FORMS
from optimizer.rough.model import Rough

ROOT = Path(__file__).parents[3]
FILES = sorted((ROOT / "scans").glob("caliper-*.toml"))
PAGE = (ROOT / "optimizer/rough/measured/README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)


def form_of(rough: Rough) -> str:
    assert rough.readings is not None
    return rough.readings.form


def test_each_form_has_an_example_file() -> None:
    assert sorted(form_of(load_rough(path)) for path in FILES) == sorted(FORMS)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_example_files_fit_together(path: Path) -> None:
    rough = load_rough(path)
    assert rough.repairs == ()
    assert not any("outside the piece" in said or "lies on no part" in said
                   for said in rough.warnings)  # fmt: skip
    if rough.weighed_ct is not None:
        assert rough.carat == pytest.approx(rough.weighed_ct, rel=0.012)
    lines = describe(rough)
    assert lines[0].startswith(f"measured by hand: {path.name}, {form_of(rough)}, built of ")
    assert lines[2].startswith("frame: ")


def test_the_page_shows_each_form_and_each_block_loads(tmp_path: Path) -> None:
    seen = set()
    for block in BLOCKS:
        path = tmp_path / "piece.toml"
        path.write_text(block, encoding="utf-8")
        seen.add(form_of(load_rough(path)))
    assert seen == set(FORMS)
