"""A label for an offcut: 50 x 30 mm, one self-contained SVG, its unit the millimetre."""

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape

import numpy as np

from optimizer.mesh import Floats
from optimizer.offcuts.least_box import least_box
from optimizer.offcuts.piece_rough import offcut_rough
from optimizer.plan_model import Plan
from optimizer.report.html import carats, degrees
from optimizer.report.offcut_words import heaviest
from optimizer.report.outline import outline
from optimizer.rough.model import Rough
from optimizer.rough.zones.solid import parted
from optimizer.sawing.model import Fitting, Offcut
from optimizer.solid import as_solid, volume_of
from optimizer.view.look import View, round_length

WIDE, TALL = 50.0, 30.0
PICTURE = (1.5, 1.5, 18.5, 20.0)  # left, top, width, height
LEFT = 22.0  # of the text beside the picture
INK = "#000"
LETTER = 0.52  # about a letter's width over its height; lines that are too long are cut short
LEAST_SHARE = 1e-4  # of its volume: less of a colour isn't seen in a piece (our own choice)
FLAT_ON = 0.17  # cosine of 80 degrees: an axis nearer to the line of sight shows no direction


@dataclass(frozen=True)
class OffcutLabel:
    """An offcut, seen along the shortest side of its smallest box, with what its label needs."""

    offcut: Offcut
    rough: Rough  # the offcut with the facts it keeps
    view: View
    sizes: Floats  # (3,) of the smallest box, the longest first


DrawnLabel = tuple[OffcutLabel, str]
"""What a label needs, and the label as an SVG document."""


def drawn_labels(plan: Plan) -> tuple[DrawnLabel, ...]:
    """The label of each kept offcut."""
    each = (label_of(plan, offcut) for offcut in plan.sawing.offcuts)
    return tuple((label, label_svg(label)) for label in each)


def label_of(plan: Plan, offcut: Offcut) -> OffcutLabel:
    """What an offcut's label needs."""
    axes, sizes = least_box(offcut.mesh)
    view = View(f"Offcut {offcut.piece:02d}", "from its broad side", *axes)
    return OffcutLabel(offcut, offcut_rough(plan.rough, plan.sawing, offcut), view, sizes)


def label_svg(label: OffcutLabel) -> str:
    """The label as an SVG document of 50 x 30 mm."""
    name = f"Label of offcut {label.offcut.piece:02d}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE:g}mm" height="{TALL:g}mm" '
        f'viewBox="0 0 {WIDE:g} {TALL:g}" role="img" aria-label="{escape(name)}" '
        f'font-family="Helvetica, Arial, sans-serif" fill="{INK}">'
        f'<rect x="0.1" y="0.1" width="{WIDE - 0.2:g}" height="{TALL - 0.2:g}" rx="1.2" '
        f'fill="#fff" stroke="{INK}" stroke-width="0.15"/>'
        f"{_picture(label)}{''.join(_texts(label))}</svg>\n"
    )


def box_text(sizes: Floats) -> str:
    """Three sizes in mm, the longest first."""
    return " × ".join(f"{size:.1f}" for size in sizes) + " mm"


def _texts(label: OffcutLabel) -> Iterator[str]:
    offcut, rough = label.offcut, label.rough
    yield _text(LEFT, 4.6, f"Offcut {offcut.piece:02d}", 3.4, bold=True)
    yield _text(LEFT, 8.6, carats(offcut.carat), 3.4, bold=True)
    lines = [rough.material.name, box_text(label.sizes)]
    best = heaviest(offcut)
    if best is not None:
        lines += ["could still give", f"{best.name}, {carats(best.carat)}"]
    axis = _axis_text(label)
    lines += [axis] if axis else []
    for number, line in enumerate(lines):
        yield _text(LEFT, 11.8 + 2.6 * number, line, 2.1)
    foot = [f"of {rough.parent}; by volume", _zones_text(rough), _faces_text(rough)]
    told = [line for line in foot if line]
    for number, line in enumerate(told):
        yield _text(1.5, TALL - 1.3 - 2.2 * (len(told) - 1 - number), line, 1.8)


def _text(x: float, y: float, words: str, size: float, *, bold: bool = False) -> str:
    most = int((WIDE - 1.0 - x) / (LETTER * size))
    short = words if len(words) <= most else words[: most - 1] + "…"
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:g}" y="{y:.2f}" font-size="{size:g}"{weight}>{escape(short)}</text>'


def _zones_text(rough: Rough) -> str:
    """Each boundary with those of its two colours that the piece has."""
    solid, each = as_solid(rough.mesh), []
    for zone in rough.zones:
        parts = zip((zone.towards, zone.away), parted(solid, zone.boundary), strict=True)
        has = [c.name for c, part in parts if volume_of(part) > LEAST_SHARE * rough.volume_mm3]
        each.append(f"{zone.name}: {' | '.join(has)}")
    if rough.body_colour is not None:
        each.append(rough.body_colour.name)
    return "; ".join(each)


def _faces_text(rough: Rough) -> str:
    names = ", ".join(face.name for face in rough.reference_faces)
    return f"faces: {names}" if names else ""


def _axis_text(label: OffcutLabel) -> str:
    axis = label.rough.optic_axis
    if axis is None:
        return ""
    out = float(np.degrees(np.arcsin(min(1.0, abs(float(axis @ label.view.out))))))
    return f"optic axis: {degrees(out, 0)} off page"


def _picture(label: OffcutLabel) -> str:
    """The piece's outline in its colours, the stone it could give, the optic axis and a rule."""
    solid = as_solid(label.offcut.mesh)
    contours = outline(solid, label.view)
    corners = np.concatenate(contours)
    low, high = corners.min(axis=0), corners.max(axis=0)
    left, top, wide, tall = PICTURE
    scale = min(wide / (high[0] - low[0]), (tall - 3.0) / (high[1] - low[1]))
    middle = (low + high) / 2.0

    centre = np.array([left + wide / 2.0, top + (tall - 3.0) / 2.0])

    def path(loops: list[Floats], style: str) -> str:
        at = [centre + (loop - middle) * [scale, -scale] for loop in loops]
        d = "".join("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in loop) + "Z" for loop in at)
        return f'<path d="{d}" fill-rule="evenodd" stroke-linejoin="round" {style}/>'

    shapes = [path(contours, 'fill="#f4f4f4"')]
    for zone in label.rough.zones[:1]:
        for part, colour in zip(
            parted(solid, zone.boundary), (zone.towards, zone.away), strict=True
        ):
            if not part.is_empty():
                tint = f'fill="{colour.srgb}" opacity="0.35"'
                shapes.append(path(outline(part, label.view), tint))
    shapes.append(path(contours, f'fill="none" stroke="{INK}" stroke-width="0.25"'))
    best = heaviest(label.offcut)
    if best is not None:
        dashed = f'fill="none" stroke="{INK}" stroke-width="0.15" stroke-dasharray="0.6 0.4"'
        shapes.append(path(_shadow(best, label.view), dashed))
    return "".join(shapes) + _arrow(label) + _rule(scale)


def _shadow(fitting: Fitting, view: View) -> list[Floats]:
    return outline(as_solid(fitting.placement.mesh()), view)


def _arrow(label: OffcutLabel) -> str:
    """The optic axis as an arrow with two heads, since the axis has no sense of direction."""
    axis = label.rough.optic_axis
    if axis is None:
        return ""
    flat = label.view.flat(axis)
    length = float(np.linalg.norm(flat))
    if length < FLAT_ON:
        return ""
    x, y = flat / length * [1.0, -1.0]
    left, top, wide, tall = PICTURE
    mx, my, half = left + wide / 2.0, top + (tall - 3.0) / 2.0, 5.0 * length
    head = "".join(
        f"M{mx + s * half * x:.2f} {my + s * half * y:.2f}"
        f"l{-s * (x + t * 0.5 * -y):.2f} {-s * (y + t * 0.5 * x):.2f}"
        for s in (1, -1)
        for t in (1, -1)
    )
    line = f"M{mx - half * x:.2f} {my - half * y:.2f}L{mx + half * x:.2f} {my + half * y:.2f}"
    return f'<path d="{line}{head}" fill="none" stroke="#c00" stroke-width="0.25"/>'


def _rule(scale: float) -> str:
    left, top, wide, tall = PICTURE
    long = round_length(0.8 * wide / scale)
    y = top + tall - 1.2
    return (
        f'<path d="M{left:g} {y:g}h{long * scale:.2f}" stroke="{INK}" stroke-width="0.3"/>'
        f'<text x="{left:g}" y="{y - 0.5:g}" font-size="1.6">{long:g} mm</text>'
    )
