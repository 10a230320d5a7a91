"""What else could be had from the piece, side by side."""

from optimizer.documents.names import alternative_folder
from optimizer.plan_model import Alternative, Plan
from optimizer.report.html import bullets, carats, number, paragraph, section
from optimizer.report.scene import Scene
from optimizer.report.sections.look import image


def alternatives(scene: Scene) -> str:
    """The plan and each alternative as a card: the stone face up, and what differs."""
    plan = scene.plan
    if plan.order.several_asked or not (plan.alternatives or plan.not_had):
        return ""
    first = f"This plan: {carats(plan.stones[0].carat)}. {_pose(plan)}"
    faces = [[face for face, _ in scene.faces], *scene.other_faces]
    paragraphs = [first, *(_paragraph(other, k) for k, other in enumerate(plan.alternatives))]
    cards = [image(face[0], text) for face, text in zip(faces, paragraphs, strict=True) if face]
    how = (
        "Each was found by a quick search, then sawn and checked like the plan. For its marks, "
        "plan it by itself. More effort may bring a little more."
    )
    body = [f'<div class="row faces">{"".join(cards)}</div>'] if plan.alternatives else []
    body += [bullets(list(plan.not_had))] if plan.not_had else []
    return section("alternatives", "What else could be had", *body, paragraph(how, "note"))


def _paragraph(other: Alternative, number: int) -> str:
    return f"{other.sentence} {_pose(other.plan)} Its meshes: {alternative_folder(number)}."


def _pose(plan: Plan) -> str:
    (stone,) = plan.stones
    about = stone.look_about
    if about is None:
        return ""
    return (
        f"Boundary: tilt {number(about.tilt_deg, 1)}°, azimuth {number(about.azimuth_deg, 1)}°, "
        f"{number(about.shift_mm)} mm from the middle."
    )
