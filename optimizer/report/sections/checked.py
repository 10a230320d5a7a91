"""What the independent audit checked before anything was written."""

from optimizer import __version__
from optimizer.report.html import bullets, paragraph, section
from optimizer.report.scene import Scene


def checked(scene: Scene) -> str:
    """Each check passed, and how to get the same plan again."""
    plan = scene.plan
    how = (
        f"Kerfwise {__version__}, seed {plan.seed}, effort {plan.effort}. "
        "The same input, seed and effort give the same plan."
    )
    intro = "Checked anew from the meshes, by other methods than those of the search:"
    return section(
        "checked",
        "What was checked",
        paragraph(intro) if plan.audit else "",
        bullets(plan.audit),
        paragraph(how, "note"),
    )
