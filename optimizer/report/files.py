"""The plan's folder: complete or absent."""

import json
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from optimizer.errors import InputError
from optimizer.plan_model import Plan
from optimizer.report import document as names
from optimizer.report.glb import scene_glb
from optimizer.report.offcut_file import write_offcut_file
from optimizer.report.order_file import order_toml
from optimizer.report.page import page_html
from optimizer.report.scene import Scene, scene_of
from optimizer.rough import write_ply


def check_out(out: Path, replace: bool) -> None:
    """Raise InputError where ``out`` can't be written to: ask before a long search, too."""
    if out.exists() and not out.is_dir():
        raise InputError(f"{out}: is a file, not a folder; name another with --out")
    filled = out.is_dir() and any(out.iterdir())
    if filled and not replace:
        raise InputError(f"{out}: the folder is not empty; give --replace or name another")
    if filled and any(place.is_relative_to(out.resolve()) for place in (Path.cwd(), Path.home())):
        raise InputError(f"{out}: --replace would delete the folder you are in; name another")
    standing = next(parent for parent in out.absolute().parents if parent.exists())
    if not standing.is_dir() or not os.access(standing, os.W_OK):
        raise InputError(f"{out}: {standing} can't be written to; name another with --out")


def write_plan(plan: Plan, out: Path, *, replace: bool) -> None:
    """Write every file of the plan to ``out``.

    All is written to a temporary folder beside it and renamed at the end, so that ``out`` is
    complete or absent; with ``replace`` the old folder goes only once the new one is whole.
    Raises InputError where ``out`` exists and may not be replaced.
    """
    check_out(out, replace)
    out = out.absolute()
    out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{out.name}-", dir=out.parent) as workspace:
        fresh = Path(workspace) / "new"
        fresh.mkdir()
        scene = scene_of(plan)
        for write in WRITERS:
            write(scene, fresh)
        _swap(fresh, out, Path(workspace) / "old")


def _swap(fresh: Path, out: Path, aside: Path) -> None:
    """Put ``fresh`` in the place of ``out``, or leave ``out`` as it was."""
    if out.exists():
        out.rename(aside)
    try:
        fresh.rename(out)
    except BaseException:  # a second Ctrl-C just here must not lose the old folder either
        if aside.exists():
            aside.rename(out)
        raise


def _write_document(scene: Scene, folder: Path) -> None:
    plan = scene.plan
    text = json.dumps(names.plan_document(plan), indent=2, ensure_ascii=False, allow_nan=False)
    (folder / "plan.json").write_text(text + "\n", encoding="utf-8")


def _write_meshes(scene: Scene, folder: Path) -> None:
    plan = scene.plan
    for name in ("stones", "pieces", "offcuts"):
        (folder / name).mkdir()
    write_ply(folder / "rough.ply", plan.rough.mesh)
    for index, stone in enumerate(plan.stones):
        write_ply(folder / names.stone_mesh(index), stone.placement.mesh())
    for number, flaw in enumerate(plan.rough.flaws):
        if flaw.mesh is not None:
            (folder / "flaws").mkdir(exist_ok=True)
            write_ply(folder / names.flaw_mesh(number), flaw.mesh)
    for piece in plan.sawing.pieces[1:]:
        write_ply(folder / names.piece_mesh(piece.id), piece.mesh)


def _write_offcuts(scene: Scene, folder: Path) -> None:
    plan = scene.plan
    for offcut in plan.sawing.offcuts:
        write_ply(folder / names.offcut_mesh(offcut.piece), offcut.mesh)
        write_offcut_file(plan, offcut, folder / names.offcut_file(offcut.piece))


def _write_order(scene: Scene, folder: Path) -> None:
    plan = scene.plan
    (folder / "order.toml").write_text(order_toml(plan.order), encoding="utf-8")


def _write_scene(scene: Scene, folder: Path) -> None:
    (folder / "scene.glb").write_bytes(scene_glb(scene.layers))


def _write_page(scene: Scene, folder: Path) -> None:
    (folder / "report.html").write_text(page_html(scene), encoding="utf-8")


WRITERS: tuple[Callable[[Scene, Path], None], ...] = (
    _write_document,
    _write_meshes,
    _write_offcuts,
    _write_order,
    _write_scene,
    _write_page,
)
