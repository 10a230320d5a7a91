"""How each stone looks face up, in pictures and figures."""

from base64 import b64encode
from html import escape

from optimizer.optics.lights import light_named
from optimizer.optics.look_words import LEFT_OUT, colour_lines, look_lines
from optimizer.optics.picture import Picture, png
from optimizer.plan_model import Stone
from optimizer.planning.looks import LIGHT
from optimizer.report.html import bullets, paragraph, section
from optimizer.report.scene import Scene
from optimizer.report.words import stone_heading

_ROCKED = (
    "The same stone rocked by 20° and 10° to either side. Upper row: about the line from left to "
    "right; the upper edge dips away from you in the pictures at the left and rises towards you in "
    "those at the right. Lower row: about the line up the picture."
)


def look(scene: Scene) -> str:
    """The face, its rocked views, a sentence for each figure, and what is left out."""
    plan = scene.plan
    known = [(k, stone) for k, stone in enumerate(plan.stones) if stone.look]
    body = [
        stone_heading(plan, k) + _stone(stone, *both)
        for (k, stone), both in zip(known, scene.faces, strict=True)
    ]
    if not body:
        return ""
    light = light_named(LIGHT)
    note = f"Lighting of the pictures: {light.name}, {light.summary}. {LEFT_OUT}"
    return section("look", "How it looks", *body, paragraph(note, "note"))


def _stone(stone: Stone, face: Picture, strip: Picture) -> str:
    assert stone.look is not None
    what = f"{stone.design.title} from straight above, its light traced through the stone"
    row = image(face, what) + image(strip, _ROCKED)
    told = bullets([*look_lines(stone.look), *colour_lines(stone.look.colouring)])
    return f'<div class="row faces">{row}</div>{told}'


def image(picture: Picture, caption: str) -> str:
    """A picture within the page, and its caption."""
    data = b64encode(png(picture)).decode("ascii")
    rows, columns = picture.shape[:2]
    size = f'width="{columns}" height="{rows}"'
    image = f'<img src="data:image/png;base64,{data}" {size} alt="{escape(caption)}">'
    return f"<figure>{image}<figcaption>{escape(caption)}</figcaption></figure>"
