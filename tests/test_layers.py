"""The code runs the way the job runs: no import from a later stage, none in a circle."""

import ast
from graphlib import TopologicalSorter
from pathlib import Path

import optimizer

PACKAGE = Path(optimizer.__file__).parent
# The ground floor first; each room may import from those before it.
ROOMS = (
    "errors", "wording", "compiled", "mesh", "boxes", "solid", "colours", "running", "folder",
    "files", "documents", "trade", "view", "design", "rough", "order", "placement", "progress",
    "optics", "offers", "several", "sawing", "guidance", "plan_model", "offcuts", "audit",
    "planning", "plan", "marking", "report", "sawn", "cli", "__main__",
)  # fmt: skip


def module_name(path: Path) -> str:
    parts = ("optimizer", *path.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


PATHS = {module_name(path): path for path in PACKAGE.rglob("*.py")}


def imported(path: Path) -> set[str]:
    """The modules of the package that a file imports, wherever in the file it does."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("optimizer"):
            names = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= {name if name in PATHS else str(node.module) for name in names}
    return found


IMPORTS = {name: imported(path) for name, path in PATHS.items()}


def room(module: str) -> str:
    return module.split(".")[1] if "." in module else module


def test_every_room_has_its_place() -> None:
    assert {room(name) for name in PATHS} - {"optimizer"} == set(ROOMS)


def test_no_import_runs_back_up() -> None:
    # The package's face loads names on demand, and everybody may ask it for the version.
    up = [
        f"{name} -> {other}"
        for name, others in IMPORTS.items()
        for other in others
        if "optimizer" not in (name, other) and ROOMS.index(room(other)) > ROOMS.index(room(name))
    ]
    assert up == []


def test_no_modules_import_each_other_in_a_circle() -> None:
    graph = {name: others - {name, "optimizer"} for name, others in IMPORTS.items()}
    list(TopologicalSorter(graph).static_order())  # raises CycleError, which names the circle
