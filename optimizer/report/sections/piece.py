"""The piece as it was scanned or measured: the check's picture."""

from base64 import b64encode
from html import escape

from optimizer.marking.picture import check_png
from optimizer.report.html import paragraph, section
from optimizer.report.scene import Scene


def piece(scene: Scene) -> str:
    """Three sides to scale, with what is known of the piece and what was mended in the scan."""
    rough = scene.plan.rough
    data = b64encode(check_png(rough)).decode("ascii")
    said = (
        f"{rough.title} from the front, the right and above, to scale, with numbers at what is "
        "known of it and what was mended; the picture's own list names each"
    )
    image = f'<img src="data:image/png;base64,{data}" alt="{escape(said)}">'
    heading, axes = "The rough as it was scanned", "the scan"
    if rough.readings is not None:
        heading, axes = "The rough as it was measured by caliper", "the frame of the readings"
    return section(
        "piece",
        heading,
        f'<figure class="picture">{image}</figure>',
        paragraph(f"Directions and axes are those of {axes}.", "note"),
    )
