"""The picture of a check: the piece from three sides, to scale, and what is known of it."""

from io import BytesIO
from typing import Any

import numpy as np

from optimizer.marking.annotations import Annotation, annotations_of
from optimizer.marking.known import scan_colours
from optimizer.marking.panel import INK, PAPER, SOFT, Colouring, panel
from optimizer.mesh import Floats
from optimizer.rough.model import Rough
from optimizer.rough.shape import sizes
from optimizer.rough.zones.boundary import heights
from optimizer.view.layer import NEUTRAL, rgb
from optimizer.view.letters import Pen
from optimizer.view.look import View, axis_views, round_length
from optimizer.view.raster import Frame, PixelOwners, brightness, shading_normals
from optimizer.wording.plain_number import plain

WIDE = 1600  # width of the finished picture, in pixels
_TALLEST = 900  # greatest height of a view, in pixels
_MARGIN = 36
_HEAD = 96
_FOOT = 92  # room for the axes below each view
_LINE = 25
_ROOM = 0.07  # free room around the piece, as a share of its longest side
_ZONE_TINT = 0.55  # strength of the first boundary's colours on a piece without colours of its own
_FINER = 2
_HOW = (
    "Strong lines and dots lie on the near side, faint ones on the far side; dashed lines and "
    "shapes lie inside the piece and are drawn as if seen through it."
)


def check_png(rough: Rough) -> bytes:
    """Three views with a rule, boundaries, flaws, reference faces, axes and what was mended.

    Letters that the picture's typeface lacks are written as "?"; numbers lead to the legend.
    """
    from PIL import Image, ImageDraw

    pen, annotations = Pen(_FINER), annotations_of(rough)
    frames = _frames(rough.mesh.vertices)
    legend = [pen.folded(words, pen.pixels(WIDE - 3 * _MARGIN)) for words in _words(annotations)]
    tall = max(frame.rows for frame in frames)
    lines = sum(len(entry) for entry in legend)
    head, foot = pen.pixels(_HEAD), pen.pixels(_FOOT)
    size = (
        pen.pixels(WIDE),
        head + tall + foot + pen.pixels(_LINE * lines + 10 * len(legend) + _MARGIN),
    )
    sheet = Image.new("RGB", size, tuple(PAPER.tolist()))
    draw = ImageDraw.Draw(sheet)
    _title(draw, rough, pen)
    colours, normals, left = _colouring(rough), shading_normals(rough.mesh), pen.pixels(_MARGIN)
    for frame in frames:
        view = panel(rough.mesh, brightness(normals, frame.view), colours, annotations, frame, pen)
        sheet.paste(view, (left, head + tall - frame.rows))
        _axes(draw, frame, (left, head + tall), pen)
        left += frame.columns + pen.pixels(_MARGIN)
    _rule(draw, frames[0], (pen.pixels(WIDE - _MARGIN), pen.pixels(54)), pen)
    _legend(draw, annotations, legend, head + tall + foot, pen)
    shown = sheet.resize((WIDE, size[1] // _FINER), Image.Resampling.BOX)
    out = BytesIO()
    shown.save(out, "PNG")
    return out.getvalue()


def _frames(corners: Floats) -> list[Frame]:
    """The views from the front, the right and above, side by side, to one scale."""
    above, front, right = axis_views()
    views = (front, right, above)
    flats = [view.flat(corners) for view in views]
    room = _ROOM * float(np.ptp(corners, axis=0).max())
    sides = [np.ptp(flat, axis=0) + 2.0 * room for flat in flats]
    free = _FINER * (WIDE - (len(views) + 1) * _MARGIN)
    per_mm = min(
        free / sum(side[0] for side in sides), _FINER * _TALLEST / max(s[1] for s in sides)
    )
    return [
        _frame(view, flat, side, room, per_mm)
        for view, flat, side in zip(views, flats, sides, strict=True)
    ]


def _frame(view: View, flat: Floats, side: Floats, room: float, per_mm: float) -> Frame:
    corner = np.array([flat[:, 0].min() - room, flat[:, 1].max() + room])
    return Frame(view, corner, per_mm, max(1, int(side[1] * per_mm)), max(1, int(side[0] * per_mm)))


def _colouring(rough: Rough) -> Colouring:
    """The scan's own colours, else those of the first boundary's sides, else one plain colour."""
    own, plain = scan_colours(rough), rgb(NEUTRAL).astype(float)
    if own is not None:
        each = own[rough.mesh.faces].mean(axis=1)
        return lambda seen: each[seen.owners]
    if not rough.zones:
        return lambda seen: np.tile(plain, (len(seen.owners), 1))
    zone = rough.zones[0]
    sides = [plain + _ZONE_TINT * (rgb(c.srgb) - plain) for c in (zone.towards, zone.away)]

    def of_sides(seen: PixelOwners) -> Floats:
        towards = heights(zone.boundary, seen.places()) > 0.0
        return np.asarray(np.where(towards[:, None], *sides))

    return of_sides


def _title(draw: Any, rough: Rough, pen: Pen) -> None:
    x = pen.pixels(_MARGIN)
    pen.write(draw, (x, pen.pixels(46)), rough.title, INK, 1.7)
    by = " x ".join(f"{side:.2f}" for side in sizes(rough.mesh, np.eye(3)))
    frame = "the scan's" if rough.readings is None else "the frame's"
    line = (
        f"{by} mm along {frame} axes; {rough.volume_mm3:.1f} mm³; {rough.carat:.2f} ct by "
        f"volume as {rough.material.name}; {len(rough.mesh.faces):,} triangles"
    )
    pen.write(draw, (x, pen.pixels(78)), line, SOFT)


_NAMES = {"From −y": "From the front", "From +x": "From the right", "From +z": "From above"}


def _axes(draw: Any, frame: Frame, spot: tuple[int, int], pen: Pen) -> None:
    """The view's name, and the scan's axes that run right and up on the paper."""
    x, y = spot[0] + pen.pixels(14), spot[1] + pen.pixels(66)
    long, head = pen.pixels(34), pen.pixels(6)
    right, up = (_axis_name(way) for way in (frame.view.right, frame.view.up))
    wide = pen.pixels(2)
    draw.line([(x, y), (x + long, y)], fill=SOFT, width=wide)
    draw.polygon([(x + long + head, y), (x + long, y - head), (x + long, y + head)], fill=SOFT)
    draw.line([(x, y), (x, y - long)], fill=SOFT, width=wide)
    draw.polygon([(x, y - long - head), (x - head, y - long), (x + head, y - long)], fill=SOFT)
    pen.write(draw, (x + long + pen.pixels(12), y), right, SOFT, anchor="lm")
    pen.write(draw, (x + pen.pixels(12), y - long - pen.pixels(2)), up, SOFT, anchor="lm")
    name = f"{_NAMES[frame.view.name]} ({frame.view.name.lower()})"
    pen.write(draw, (x + pen.pixels(84), y), name, INK, anchor="lm")


def _axis_name(way: Floats) -> str:
    most = int(np.argmax(np.abs(way)))
    return ("" if way[most] > 0 else "-") + "xyz"[most]


def _rule(draw: Any, frame: Frame, end: tuple[int, int], pen: Pen) -> None:
    """A rule of a round length, divided into fifths, whose right end lies at ``end``."""
    mm = round_length(0.16 * WIDE * _FINER / frame.pixels_per_mm)
    (x, y), long = end, mm * frame.pixels_per_mm
    wide, tick = pen.pixels(2), pen.pixels(7)
    draw.line([(x - long, y), (x, y)], fill=INK, width=wide)
    for k in range(6):
        at, tall = x - long * (1.0 - k / 5.0), tick if k in (0, 5) else tick // 2
        draw.line([(at, y - tall), (at, y + wide // 2)], fill=INK, width=wide)
    pen.write(draw, (x, y + pen.pixels(22)), f"{plain(mm)} mm", INK, anchor="rs")


def _words(annotations: tuple[Annotation, ...]) -> list[str]:
    """The lines below the views: each annotation's words, then how to read the picture."""
    if not annotations:
        return ["No boundary, flaw, flat place or axis is known, and nothing was mended."]
    return [*(annotation.words for annotation in annotations), _HOW]


def _legend(
    draw: Any, annotations: tuple[Annotation, ...], legend: list[list[str]], top: int, pen: Pen
) -> None:
    y = top + pen.pixels(_LINE)
    for number, entry in enumerate(legend, 1):
        if number <= len(annotations):
            colour = annotations[number - 1].colour
            pen.tag(
                draw, np.array([pen.pixels(_MARGIN + 12), y - pen.pixels(6)]), str(number), colour
            )
        for line in entry:
            ink = INK if number <= len(annotations) else SOFT
            pen.write(draw, (pen.pixels(2 * _MARGIN), y), line, ink)
            y += pen.pixels(_LINE)
        y += pen.pixels(10)
