"""The files of a plan."""

from collections.abc import Callable, Sequence
from pathlib import Path

from optimizer.documents import names
from optimizer.documents.read import read_plan
from optimizer.errors import AuditError, InputError
from optimizer.optics.picture import Picture, png
from optimizer.order import load_order
from optimizer.plan_model import Plan
from optimizer.report.document import plan_file
from optimizer.report.glb import scene_glb
from optimizer.report.label import DrawnLabel, drawn_labels
from optimizer.report.order_file import order_toml
from optimizer.report.page import page_html
from optimizer.report.scene import Scene, scene_of
from optimizer.rough.formats.ply import write_solid
from optimizer.rough.rough_file.save import save_rough


def write_plan(plan: Plan, folder: Path) -> None:
    """Write every file of the plan into ``folder``, which is made where it is absent.

    What can be read again is read back at once. Raises AuditError where that fails.
    """
    folder.mkdir(parents=True, exist_ok=True)
    scene = scene_of(plan)
    for write in WRITERS:
        write(scene, folder)
    _read_back(folder)


def _read_back(folder: Path) -> None:
    """Read the plan and the order that were just written; ``save_rough`` does it for the rough."""
    try:
        read_plan(folder / "plan.json")
        load_order(folder / "order.toml")
    except InputError as error:
        raise AuditError(f"a file that was written can't be read back: {error}") from None


def _write_document(scene: Scene, folder: Path) -> None:
    (folder / "plan.json").write_text(plan_file(scene.plan).sealed().text(), encoding="utf-8")


def _write_meshes(scene: Scene, folder: Path) -> None:
    plan = scene.plan
    save_rough(plan.rough, folder / "rough.toml")
    _write_solids(plan, scene.labels, folder)
    for number, other in enumerate(plan.alternatives):
        home = folder / names.alternative_folder(number)
        home.mkdir(parents=True)
        _write_solids(other.plan, drawn_labels(other.plan), home)
    for number, flaw in enumerate(plan.rough.flaws):
        if flaw.mesh is not None:
            (folder / "flaws").mkdir(exist_ok=True)
            write_solid(folder / names.flaw_mesh(number), flaw.mesh)


def _write_solids(plan: Plan, labels: Sequence[DrawnLabel], folder: Path) -> None:
    """Stones, pieces and offcuts, and a rough file and a label for each offcut."""
    for name in ("stones", "pieces", *(("offcuts",) if plan.sawing.offcuts else ())):
        (folder / name).mkdir()
    for index, stone in enumerate(plan.stones):
        write_solid(folder / names.stone_mesh(index), stone.placement.mesh())
    for piece in plan.sawing.pieces[1:]:
        write_solid(folder / names.piece_mesh(piece.id), piece.mesh)
    for label, drawing in labels:
        number = label.offcut.piece
        save_rough(label.rough, folder / names.offcut_file(number))
        (folder / names.offcut_label(number)).write_text(drawing, encoding="utf-8")


def _write_faces(scene: Scene, folder: Path) -> None:
    _write_pictures([face for face, _ in scene.faces], folder)
    for number, faces in enumerate(scene.other_faces):
        _write_pictures(faces, folder / names.alternative_folder(number))


def _write_pictures(faces: Sequence[Picture], folder: Path) -> None:
    for index, face in enumerate(faces):
        (folder / "face-up").mkdir(exist_ok=True)
        (folder / names.face_picture(index)).write_bytes(png(face))


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
    _write_faces,
    _write_order,
    _write_scene,
    _write_page,
)
