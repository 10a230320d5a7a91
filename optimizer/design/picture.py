"""A plain line drawing of a body as SVG: from above, from below and from two sides."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.design import svg
from optimizer.design.model import Body
from optimizer.mesh import Floats

STONE = 300.0  # drawing units for the longer of length and width
ROOM = 90.0  # free on every side of a view, for sizes and labels
MARGIN = 36.0  # additional room at the right edge, for the label of index 0
FACING = 1e-9  # a facet is visible where its normal leans at least this much towards the eye
GREY = f'fill="{svg.FAINT}"'


@dataclass(frozen=True)
class DesignView:
    """One of the four drawings: where the eye is, and what lies right and up on the paper."""

    title: str
    eye: tuple[int, int, int]
    right: tuple[int, int, int]
    up: tuple[int, int, int]


# What the eye sees, without mirroring: right × up points to the eye. Each side view stands under
# the view from above or below that has the same horizontal axis.
VIEWS = (
    DesignView("face up", (0, 0, 1), (1, 0, 0), (0, 1, 0)),
    DesignView("face down", (0, 0, -1), (1, 0, 0), (0, -1, 0)),
    DesignView("side, looking along the width", (0, -1, 0), (1, 0, 0), (0, 0, 1)),
    DesignView("side, looking along the length", (1, 0, 0), (0, 1, 0), (0, 0, 1)),
)


@dataclass(frozen=True)
class _Sheet:
    """The body at its drawn size: ``points`` (k, 3) in drawing units, z down to up."""

    body: Body
    points: Floats

    def on_paper(self, view: DesignView, place: tuple[float, float]) -> Floats:
        """Corners (k, 2) on the paper, y downwards, the stone's origin at ``place``."""
        return np.column_stack([self.points @ view.right, -(self.points @ view.up)]) + place


def picture_svg(body: Body, width_mm: float | None = None) -> str:
    """The drawing as one SVG element with no outside references, ready to stand in a page.

    With ``width_mm`` the body has that width and sizes are in mm; without, they are shares of
    the width, at δ = 0. Hidden edges are left out.
    """
    points = body.vertices if width_mm is None else body.vertices_at(width_mm)
    scale = STONE / float(np.ptp(points[:, :2], axis=0).max())
    sheet = _Sheet(body, scale * points)
    wide, high, deep = np.ptp(sheet.points, axis=0)
    behind = -float(sheet.points[:, 0].min())  # the axis need not stand in the middle
    columns = (ROOM + behind, 3.0 * ROOM + wide + max(behind, high / 2.0))
    right = columns[1] + max(wide - behind, high / 2.0)
    lower = 3.0 * ROOM + high + sheet.points[:, 2].max()
    rows = (ROOM + high / 2.0, lower)
    places = [(column, row) for row in rows for column in columns]
    page = (right + ROOM + MARGIN, 3.0 * ROOM + high + deep + 50.0)
    parts = [svg.opening(*page, "The stone, four views")]
    for view, place in zip(VIEWS, places, strict=True):
        parts.extend(_drawn(sheet, view, place))
    parts.extend(_sizes(sheet, places, scale, "mm" if width_mm else "of the width"))
    return "\n".join([*parts, "</svg>"])


def _drawn(sheet: _Sheet, view: DesignView, place: tuple[float, float]) -> Iterator[str]:
    """One view: title, axes, edges and, from above and below, settings and index 0."""
    flat = sheet.on_paper(view, place)
    low, high = flat.min(axis=0), flat.max(axis=0)
    yield svg.text(place[0], low[1] - 62.0, view.title, extra='font-weight="bold"')
    yield from _axes(view, low, high, place)
    inner, rim = visible_edges(sheet.body, np.array(view.eye, float))
    yield svg.strokes(flat, inner, 0.7)
    yield svg.strokes(flat, rim, 1.5)
    if view.eye[2]:
        yield from _settings(sheet, view, place)
        yield from _index_zero(view, float(high[0]), place[1])


def visible_edges(body: Body, eye: Floats) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Edges between facets, as corner pairs, that are visible in parallel projection: (edges within
    the silhouette, edges on it)."""
    shows = body.normals @ eye > FACING
    owner: dict[tuple[int, int], int] = {}
    for (a, b, c), facet in zip(body.faces.tolist(), body.facet_of_face.tolist(), strict=True):
        owner |= {(a, b): facet, (b, c): facet, (c, a): facet}
    inner: list[tuple[int, int]] = []
    rim: list[tuple[int, int]] = []
    for (a, b), facet in owner.items():
        other = owner[b, a]
        if a < b and facet != other and (shows[facet] or shows[other]):
            (inner if shows[facet] and shows[other] else rim).append((a, b))
    return inner, rim


def _axes(view: DesignView, low: Floats, high: Floats, place: tuple[float, float]) -> Iterator[str]:
    """Dashed lines along the paper's two axes, named at their positive ends."""
    names = ("length", "width", "spindle axis")
    across, upward = int(np.argmax(view.right)), int(np.argmax(np.abs(view.up)))
    up_is_plus = view.up[upward] > 0
    end = float(low[1] - 42.0) if up_is_plus else float(high[1] + 50.0)
    yield svg.faint_line(low[0] - 24.0, place[1], high[0] + 24.0, place[1], "6 3 1 3")
    yield svg.faint_line(place[0], low[1] - 38.0, place[0], high[1] + 38.0, "6 3 1 3")
    yield svg.text(
        high[0] + 28.0, place[1] - 6.0, f"+{'xyz'[across]} {names[across]}", "start", GREY
    )
    yield svg.text(place[0], end, f"+{'xyz'[upward]} {names[upward]}", extra=GREY)


def _settings(sheet: _Sheet, view: DesignView, place: tuple[float, float]) -> Iterator[str]:
    """The girdle facets' settings, around the outline."""
    body = sheet.body
    for i in np.flatnonzero(np.abs(body.normals[:, 2]) < FACING):
        setting = re.search(r"\d+$", body.facet_names[i])
        members = np.unique(body.faces[body.facet_of_face == i])
        at = sheet.points[members].mean(axis=0) + 11.0 * body.normals[i]
        x, y = place[0] + at @ view.right, place[1] - at @ view.up + 3.0
        yield svg.text(float(x), float(y), setting[0] if setting else "", extra='font-size="9"')


def _index_zero(view: DesignView, edge: float, level: float) -> Iterator[str]:
    """A wedge that marks +x, and the direction in which the settings count from it."""
    tip = edge + 18.0
    yield svg.filled([(tip, level), (tip + 9.0, level - 4.5), (tip + 9.0, level + 4.5)])
    yield svg.text(tip + 12.0, level + 14.0, "index 0", "start")
    upward = view.eye[2] > 0
    yield svg.text(tip + 12.0, level + 28.0, f"counts {'up' if upward else 'down'}", "start")


def _sizes(
    sheet: _Sheet, places: list[tuple[float, float]], scale: float, unit: str
) -> Iterator[str]:
    """Length and width beside the first view; depth and girdle beside the third and fourth."""
    above, side, end = (sheet.on_paper(VIEWS[i], places[i]) for i in (0, 2, 3))
    (left, top), (right, low) = above.min(axis=0), above.max(axis=0)
    yield svg.span(left, low + 34.0, right, low + 34.0)
    yield svg.text(
        (left + right) / 2.0, low + 52.0, f"length {_size((right - left) / scale, unit)}"
    )
    yield svg.span(left - 38.0, top, left - 38.0, low)
    yield _upright(left - 46.0, places[0][1], f"width {_size((low - top) / scale, unit)}")
    (left, top), (_, low) = side.min(axis=0), side.max(axis=0)
    yield svg.span(left - 38.0, top, left - 38.0, low)
    yield _upright(left - 46.0, (top + low) / 2.0, f"depth {_size((low - top) / scale, unit)}")
    band = _band(sheet)
    left, level = float(end[:, 0].min()), places[3][1]
    yield svg.span(left - 14.0, level - band, left - 14.0, level + band)
    yield svg.text(left - 24.0, level + 16.0, f"girdle {_size(2.0 * band / scale, unit)}", "end")


def _band(sheet: _Sheet) -> float:
    """Half the girdle's thickness as drawn: the lowest corner above mid-girdle."""
    heights = sheet.points[:, 2]
    return float(heights[heights > 0].min())


def _size(value: float, unit: str) -> str:
    return f"{value:.2f} mm" if unit == "mm" else f"{value:.3f} {unit}"


def _upright(x: float, y: float, words: str) -> str:
    return svg.text(x, y, words, extra=f'transform="rotate(-90 {x:.1f} {y:.1f})"')
