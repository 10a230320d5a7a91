"""The plan of a block, written and read back."""

from pathlib import Path

import pytest
from sawn_block import block_plan

from optimizer.report import write_plan
from optimizer.sawn.plan_folder import PlanFolder, read_plan_folder


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("block") / "plan"
    write_plan(block_plan(), out)
    return out


@pytest.fixture(scope="session")
def planned(folder: Path) -> PlanFolder:
    return read_plan_folder(folder)
