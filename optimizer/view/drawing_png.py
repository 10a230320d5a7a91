"""A PNG of a plain SVG drawing, for the marks that ``design/svg.py`` makes and no others."""

import re
import xml.etree.ElementTree as ET
from io import BytesIO
from typing import Any

from optimizer.view.letters import Pen

SCALE = 2  # pixels for each unit of the drawing
_FINER = 2  # drawn so many times as large, then averaged, so that edges come out smooth
_INK = "#000000"


def drawn_png(drawing: str) -> bytes:
    """The picture of an SVG that consists of filled shapes, straight strokes and lines of text."""
    from PIL import Image, ImageDraw

    root = ET.fromstring(drawing)
    wide, high = (float(size) for size in root.attrib["viewBox"].split()[2:])
    zoom = SCALE * _FINER
    sheet = Image.new("RGB", (round(zoom * wide), round(zoom * high)), "#ffffff")
    draw = ImageDraw.Draw(sheet)
    for mark in root:
        kind = mark.tag.rpartition("}")[2]
        if kind == "text":
            _write(sheet, draw, mark, zoom, root.get("fill", _INK))
        elif kind == "path":
            _stroke(draw, mark, zoom)
        elif kind == "polygon":
            points = [float(number) * zoom for number in re.split(r"[ ,]", mark.attrib["points"])]
            draw.polygon(points, fill=mark.get("fill", _INK))
    shown = sheet.resize((round(SCALE * wide), round(SCALE * high)), Image.Resampling.BOX)
    out = BytesIO()
    shown.save(out, "PNG")
    return out.getvalue()


def _stroke(draw: Any, mark: ET.Element, zoom: int) -> None:
    """The straight pieces of a path, dashed where it says so."""
    wide = max(1, round(zoom * float(mark.get("stroke-width", "1"))))
    dashes = re.findall(r"[\d.]+", mark.get("stroke-dasharray", ""))
    for piece in mark.attrib["d"].split("M")[1:]:
        x, y, to_x, to_y = (zoom * float(n) for n in re.findall(r"-?[\d.]+", piece))
        for start, end in _dashed([zoom * float(dash) for dash in dashes], x, y, to_x, to_y):
            at = [(x + share * (to_x - x), y + share * (to_y - y)) for share in (start, end)]
            draw.line(at, fill=mark.get("stroke", _INK), width=wide)


def _dashed(
    dashes: list[float], x: float, y: float, to_x: float, to_y: float
) -> list[tuple[float, float]]:
    """The drawn stretches of a line, as shares of its length."""
    length = float(((to_x - x) ** 2 + (to_y - y) ** 2) ** 0.5)
    if not dashes or length == 0.0:
        return [(0.0, 1.0)]
    stretches, at, which = [], 0.0, 0
    while at < length:
        end = min(at + dashes[which % len(dashes)], length)
        if which % 2 == 0:
            stretches.append((at / length, end / length))
        at, which = end, which + 1
    return stretches


def _write(sheet: Any, draw: Any, mark: ET.Element, zoom: int, ink: str) -> None:
    """A line of text; turned, where it is, by 90 degrees upwards about its own place."""
    pen = Pen(zoom, int(mark.get("font-size", "12")))
    x, y = (zoom * float(mark.attrib[axis]) for axis in "xy")
    words, fill = mark.text or "", mark.get("fill", ink)
    anchor = {"start": "l", "middle": "m", "end": "r"}[mark.get("text-anchor", "start")]
    if "transform" not in mark.attrib:
        pen.write(draw, (x, y), words, fill, anchor=f"{anchor}s")
        return
    from PIL import Image, ImageDraw

    size = (round(pen.wide(words)) + 4 * zoom, pen.pixels(2 * pen.size))
    strip = Image.new("L", size, 0)
    pen.write(ImageDraw.Draw(strip), (size[0] / 2, size[1] / 2), words, "#ffffff", anchor="ms")
    turned = strip.rotate(90, expand=True)
    sheet.paste(fill, (round(x - turned.width / 2), round(y - turned.height / 2)), turned)
