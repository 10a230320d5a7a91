"""The map of the look as a drawing: the share of the face that shows a colour, by position."""

from html import escape

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.vicinity import Vicinity
from optimizer.view.layer import rgb
from optimizer.wording.minus import with_minus
from optimizer.wording.plain_number import plain

_CELL = (16.0, 20.0)  # width and height of a place, in units of the drawing
_LEFT, _TOP, _BELOW = 58.0, 26.0, 44.0
_LABEL_EVERY = (4, 2)  # places across and down: only these have a number
_TICK_MM = 1.0


def map_svg(about: Vicinity, colours: tuple[str, str], *, by: str) -> str:
    """The map: offset across, in mm from the stone's middle; azimuth or tilt (``by``) down.

    The first of ``colours`` stands for a face that is all of the named colour, the second for a
    face without it. A ring marks the plan, a dashed box how far marking and sawing may be off.
    """
    if by == "azimuth":
        found, angles, here = about.by_azimuth, about.by_azimuth.azimuths, about.azimuth_deg
        share = found.share[0]
    else:
        found, angles, here = about.by_tilt, about.by_tilt.tilts, about.tilt_deg
        share = found.share[:, 0]
    rows, columns = share.shape
    wide, tall = columns * _CELL[0], rows * _CELL[1]
    mm = found.offsets * about.half_mm
    inside = [_cells(share, colours), _numbers(share)]
    inside += [_ticks(mm, tall), _angles(angles), _plan(about, mm, angles, here)]
    box = f"0 0 {_LEFT + wide + 14:.0f} {_TOP + tall + _BELOW:.0f}"
    name = f"Share of the face that shows {about.colour}, by offset and {by}"
    heads = (
        f'<text class="ink" x="4" y="16" font-size="12">{escape(by)}</text>'
        f'<text class="ink" x="{_LEFT + wide / 2:.0f}" y="{_TOP + tall + 36:.0f}" font-size="12" '
        'text-anchor="middle">mm from the middle, towards '
        f"{escape(about.colour)} to the right</text>"
    )
    shapes = "".join([*inside, heads])
    return f'<svg viewBox="{box}" role="img" aria-label="{escape(name)}">{shapes}</svg>'


def _cells(share: Floats, colours: tuple[str, str]) -> str:
    one, other = (rgb(colour) for colour in colours)
    shapes = []
    for (row, column), part in np.ndenumerate(share):
        mixed = np.clip(part * one + (1.0 - part) * other, 0, 255)
        fill = "#" + bytes(int(each) for each in mixed).hex()
        x, y = _corner(row, column)
        shapes.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{_CELL[0] + 0.3:.1f}" '
            f'height="{_CELL[1] + 0.3:.1f}" fill="{fill}"/>'
        )
    return "".join(shapes)


def _numbers(share: Floats) -> str:
    across, down = _LABEL_EVERY
    texts = []
    for row in range(share.shape[0] % 2, share.shape[0], down):
        for column in range(2, share.shape[1], across):
            x, y = _corner(row, column)
            texts.append(
                f'<text class="ink halo" x="{x + _CELL[0] / 2:.1f}" y="{y + 14:.1f}" '
                f'font-size="10" text-anchor="middle">{100.0 * share[row, column]:.0f}</text>'
            )
    return "".join(texts)


def _ticks(mm: Floats, tall: float) -> str:
    step = _TICK_MM * max(1.0, np.ceil(float(np.ptp(mm)) / 10.0))
    texts = []
    for value in np.arange(np.ceil(mm[0] / step) * step, mm[-1] + 1e-9, step):
        x = _across(mm, value)
        label = with_minus(plain(value + 0.0))
        texts.append(
            f'<path d="M{x:.1f} {_TOP + tall:.1f}v5" style="stroke:var(--soft)"/>'
            f'<text class="ink" x="{x:.1f}" y="{_TOP + tall + 18:.1f}" font-size="11" '
            f'text-anchor="middle">{label}</text>'
        )
    return "".join(texts)


def _angles(angles: Floats) -> str:
    texts = []
    for row in range(0, len(angles), 2):
        _, y = _corner(row, 0)
        label = with_minus(f"{angles[row] + 0.0:.0f}°")
        texts.append(
            f'<text class="ink" x="{_LEFT - 6:.0f}" y="{y + 14:.1f}" font-size="11" '
            f'text-anchor="end">{label}</text>'
        )
    return "".join(texts)


def _plan(about: Vicinity, mm: Floats, angles: Floats, here: float) -> str:
    x = _across(mm, about.shift_mm)
    steps = np.arange(len(angles))
    y = _TOP + (float(np.interp(here, angles, steps)) + 0.5) * _CELL[1]
    dx = about.off_mm / (mm[1] - mm[0]) * _CELL[0]
    dy = about.off_deg / (angles[1] - angles[0]) * _CELL[1]
    pen = "fill:none;stroke:#fff;stroke-width:4", "fill:none;stroke:#222;stroke-width:1.6"
    return "".join(
        f'<rect x="{x - dx:.1f}" y="{y - dy:.1f}" width="{2 * dx:.1f}" height="{2 * dy:.1f}" '
        f'style="{style};stroke-dasharray:{dash}"/><circle cx="{x:.1f}" cy="{y:.1f}" r="5" '
        f'style="{style}"/>'
        for style, dash in zip(pen, ("none", "4 3"), strict=True)
    )


def _corner(row: int, column: int) -> tuple[float, float]:
    return _LEFT + column * _CELL[0], _TOP + row * _CELL[1]


def _across(mm: Floats, value: float) -> float:
    place = (value - mm[0]) / (mm[1] - mm[0])
    return float(_LEFT + (place + 0.5) * _CELL[0])
