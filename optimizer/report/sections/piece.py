"""The piece as it was scanned: the check's picture."""

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
        f"{rough.scan} from the front, the right and above, to scale, with numbers at what is "
        "known of it and what was mended; the picture's own list names each"
    )
    image = f'<img src="data:image/png;base64,{data}" alt="{escape(said)}">'
    return section(
        "piece",
        "The rough as it was scanned",
        f'<figure class="picture">{image}</figure>',
        paragraph("Directions and axes are those of the scan.", "note"),
    )
