"""Whether a folder of results is whole: every file that it names is there and says what it may."""

import json
import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

ALWAYS = {
    "plan": ("plan.json", "rough.ply", "rough.toml", "order.toml", "scene.glb", "report.html"),
    "check": ("rough.ply", "rough.toml", "marking.html", "check.png"),
    "sawn": ("sawn.json", "sawn.toml"),
}
NAMING = {"mesh", "rough_file", "label", "picture"}  # keys whose text names a file of the folder
ROUNDING = 1.0 + 1e-9


def lacks(folder: Path, command: str) -> list[str]:
    """What is missing or wrong in what ``command`` wrote to ``folder``."""
    if not _is_folder(folder):
        return [f"{folder.name} is no folder"]
    wrong = [f"{name} is missing" for name in ALWAYS[command] if not (folder / name).is_file()]
    if wrong or command == "check":
        return wrong
    document = json.loads((folder / f"{command}.json").read_text("utf-8"), parse_constant=_refuse)
    wrong += [f"{name} is missing" for name in _named(document) if not (folder / name).is_file()]
    if command == "plan":
        return wrong + _denied(document)
    for piece in document["pieces"]:
        if piece["plan"]:
            wrong += [f"{piece['plan']}: {one}" for one in lacks(folder / piece["plan"], "plan")]
    return wrong


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError:  # its name is longer than the system's paths may be
        return False


def rough_files(folder: Path) -> list[Path]:
    """The rough files that it holds: each must be read back."""
    return sorted(p for p in folder.rglob("*.toml") if p.name not in ("order.toml", "sawn.toml"))


def _refuse(word: str) -> float:
    raise ValueError(f"{word} is no number of JSON")


def _named(value: Any) -> Iterator[str]:
    """Every file that a document names."""
    if isinstance(value, list):
        for one in value:
            yield from _named(one)
    elif isinstance(value, dict):
        for key, one in value.items():
            if key in NAMING and isinstance(one, str):
                yield one
            yield from _named(one)


def _denied(plan: dict[str, Any]) -> list[str]:
    """What a plan says that can't be: a shape other than the schema's, a stone over its bound."""
    wrong = [f"schema: {error.message[:200]}" for error in _schema().iter_errors(plan)]
    for stone in plan["stones"]:
        bound = stone["bound"]
        if bound is not None and stone["carat"] > bound["carat"] * ROUNDING:
            wrong.append(f"a stone of {stone['carat']} ct lies over its bound {bound['carat']} ct")
        if not 0.0 < stone["carat"] < math.inf:
            wrong.append(f"a stone of {stone['carat']} ct")
    if plan["total_carat"] > plan["rough"]["carat"]:
        wrong.append("the stones weigh more than the rough")
    return wrong


@cache
def _schema() -> Any:
    from importlib.resources import files

    import jsonschema

    schema = json.loads(
        files("optimizer.documents").joinpath("plan.schema.json").read_text("utf-8")
    )
    return jsonschema.Draft202012Validator(schema)
