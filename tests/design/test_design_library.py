"""Design files are found beside a checkout and inside an installed package."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import optimizer
from optimizer.design import designs_to_choose_from, library, load_design
from optimizer.errors import InputError

PACKAGE = Path(optimizer.__file__).parent


def test_unknown_design_suggests_the_nearest():
    with pytest.raises(InputError, match=r'no design is named "ovel"; did you mean "oval"\?'):
        load_design("ovel")


def test_a_heart_is_refused_with_its_reason():
    with pytest.raises(InputError, match="a heart's cleft is hollow, and kerfwise cuts convex"):
        load_design("heart")


@pytest.mark.parametrize("name", ["oval", "round-rose"])
def test_a_library_design_loads_by_name_and_by_path(name):
    design = load_design(name)
    assert design.name == name
    assert design.title
    assert design.summary
    assert design.outline.name
    beside = PACKAGE.parent / "designs" / f"{name}.toml"
    if beside.is_file():
        assert load_design(beside) == design


def test_flat_bases_are_left_to_orders_that_name_them():
    chosen = designs_to_choose_from()
    assert {"oval", "square-step"} < set(chosen) < set(library())
    assert not {"bar", "round-rose", "oval-portrait"} & set(chosen)


def test_the_installed_layout_is_read_before_any_folder_beside_it(tmp_path):
    """The wheel carries the files as optimizer/library; a neighbour named designs is not ours."""
    site = tmp_path / "site"
    shutil.copytree(PACKAGE, site / "optimizer", ignore=shutil.ignore_patterns("__pycache__"))
    source = PACKAGE / "library"
    shutil.copytree(
        source if source.is_dir() else PACKAGE.parent / "designs",
        site / "optimizer" / "library",
        dirs_exist_ok=True,
    )
    (site / "designs").mkdir()
    code = (
        f"import sys; sys.path.insert(0, {str(site)!r})\n"
        "from optimizer.design import build_body, library, load_design\n"
        "import optimizer; print(optimizer.__file__)\n"
        "print(*library()); print(len(build_body(load_design('pear')).normals))"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path
    )
    where, names, count = done.stdout.splitlines()
    assert Path(where).is_relative_to(site)
    assert tuple(names.split()) == library()
    assert count == "64"
