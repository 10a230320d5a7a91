"""Kept offcuts: what each is, what it could still give, and labels to print."""

from optimizer.report.html import carats, figure, heading, paragraph, section, table
from optimizer.report.label import OffcutLabel, box_text
from optimizer.report.offcut_words import balance_line, sizes_text
from optimizer.report.scene import Scene


def offcuts(scene: Scene) -> str:
    """A row for each offcut, then its label at true size."""
    plan = scene.plan
    if not plan.sawing.cuts:
        return ""
    if not scene.labels:
        return section("offcuts", "Offcuts", paragraph(balance_line(plan)))
    head = ("Offcut", "weight", "fits a box of", "largest usual size found in it", "faces it has")
    drawn = "".join(
        figure(drawing, f"Offcut {label.offcut.piece:02d}", "label")
        for label, drawing in scene.labels
    )
    return section(
        "offcuts",
        "Offcuts",
        paragraph(balance_line(plan)),
        table(head, [_row(label) for label, _ in scene.labels], numbers=(1, 2)),
        heading("Labels"),
        paragraph("Each label measures 50 × 30 mm when the page is printed at 100 %.", "note"),
        f'<div class="row labels">{drawn}</div>',
    )


def _row(label: OffcutLabel) -> tuple[str, ...]:
    offcut = label.offcut
    gives = "not searched" if offcut.fittings is None else "none found"
    if offcut.fittings:
        gives = sizes_text(offcut.fittings)
    faces = ", ".join(face.name for face in label.rough.reference_faces)
    name = f"{offcut.piece:02d}"
    return name, carats(offcut.carat), box_text(label.sizes), gives, faces or "none known"
