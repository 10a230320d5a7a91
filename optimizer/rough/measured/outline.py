"""A traced outline: read from a file of points, checked to be one simple loop."""

import re
from pathlib import Path

import numpy as np

from optimizer.errors import InputError
from optimizer.files.border import shown
from optimizer.files.reading import OUTLINE, read_file
from optimizer.mesh import Floats
from optimizer.rough.measured.form import MOST_MM
from optimizer.wording.plain_number import plain

MOST_POINTS = 2000  # a tracing has some tens; each pair of sides is looked at
_CORNER = np.radians(30.0)  # a sharper turn is a corner of the piece, not a bend (our judgement)


def read_outline(path: Path) -> Floats:
    """Points (n, 2) in mm, one ``x, y`` a line; comma, semicolon, tab or spaces between. A first
    line of words and lines that start with # are passed over.

    Raises InputError naming the line.
    """
    points: list[list[float]] = []
    for number, line in enumerate(_text(path).splitlines(), 1):
        words = re.split(r"[\s,;]+", line.strip().strip(",;"))
        if line.lstrip().startswith("#") or words == [""]:
            continue
        try:
            x, y = (float(word) for word in words)
        except ValueError:
            if not points and number == 1 and not re.search(r"\d", line):
                continue  # a heading
            raise InputError(
                f"{path.name}, line {number}: two numbers x, y are expected, got {shown(line)}"
            ) from None
        points.append([x, y])
        if not (abs(x) <= MOST_MM and abs(y) <= MOST_MM):
            raise InputError(
                f"{path.name}, line {number}: must lie within {plain(MOST_MM)} mm, got "
                f"{shown(line)}"
            )
        if len(points) > MOST_POINTS:
            raise InputError(f"{path.name}: has over {MOST_POINTS} points; trace it with fewer")
    return np.array(points, np.float64).reshape(-1, 2)


def _text(path: Path) -> str:
    try:
        text = read_file(path, OUTLINE).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{path.name}: is not text in UTF-8") from None
    if not text:
        raise InputError(f"{path.name}: the file is empty; save the outline's points again")
    return text


def checked_outline(points: Floats) -> Floats:
    """``points`` (n, 2) counter-clockwise, the last not repeating the first.

    Raises ValueError where they are no simple loop around an area.
    """
    if len(points) > 1 and np.array_equal(points[0], points[-1]):
        points = points[:-1]
    if len(points) < 3:
        raise ValueError("has an outline of fewer than three points: trace it all round")
    same = np.flatnonzero((points == np.roll(points, -1, axis=0)).all(axis=1))
    if len(same):
        n = int(same[0])
        raise ValueError(f"has an outline whose points {_pair(n, n + 1, len(points))} are the same")
    _refuse_crossing(points)
    return points if area_mm2(points) > 0.0 else points[::-1].copy()


def area_mm2(points: Floats) -> float:
    """The area within a loop (n, 2), positive where it runs counter-clockwise."""
    x, y = (points - points[0]).T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2.0


def _refuse_crossing(points: Floats) -> None:
    """Raises ValueError where two sides meet elsewhere than neighbours at their common point."""
    count = len(points)
    p, q = points, np.roll(points, -1, axis=0)
    # side j's ends as seen from side i: on its left, on its right, or on its line
    along = q - p
    to_p = _cross(along[:, None], p[None] - p[:, None])
    to_q = _cross(along[:, None], q[None] - p[:, None])
    apart = (to_p * to_q > 0.0) | (to_p * to_q > 0.0).T | _boxes_apart(p, q)
    i, j = np.nonzero(~apart)
    between = (j - i) % count
    meet = (i < j) & (between > 1) & (between < count - 1)
    # neighbours share a point, and meet elsewhere only where one turns straight back
    back = (between == 1) & (to_q[i, j] == 0.0) & (np.sum(along[i] * along[j], axis=1) < 0.0)
    bad = np.flatnonzero(meet | back)
    if len(bad):
        one, other = int(i[bad[0]]), int(j[bad[0]])
        x, y = p[other]
        raise ValueError(
            f"has an outline that crosses or touches itself: the side after point {one + 1} meets "
            f"the side after point {other + 1}, which begins at ({plain(x)}, {plain(y)})"
        )


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _boxes_apart(p: Floats, q: Floats) -> "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]":
    low, high = np.minimum(p, q), np.maximum(p, q)
    return np.asarray(((low[:, None] > high[None]) | (low[None] > high[:, None])).any(axis=2))


def _pair(one: int, other: int, count: int) -> str:
    return f"{one + 1} and {other % count + 1}"


def bends(points: Floats) -> tuple[float, float]:
    """How far a smooth edge through the points of a counter-clockwise loop runs off the loop's
    sides: (outside them where it bulges, inside them where it is hollow), mm.

    Taken at each point that is no corner, from the arc through it and its neighbours:
    r·(1 - cos(half the arc's angle)) over the longer of the two sides.
    """
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    one, other = np.hypot(*before.T), np.hypot(*after.T)
    turn = np.arctan2(_cross(before, after), np.sum(before * after, axis=1))
    # The arc's curvature: 2·sin(turn) over the distance between the neighbours.
    curvature = 2.0 * np.sin(turn) / np.maximum(np.hypot(*(before + after).T), 1e-300)
    curvature[np.abs(turn) > _CORNER] = 0.0
    side = np.maximum(one, other)
    half = np.minimum(np.abs(curvature) * side / 2.0, 1.0)
    # r - sqrt(r² - side²/4), written so that a straight place gives 0
    sagitta = half * side / 2.0 / (1.0 + np.sqrt(1.0 - half**2))
    bulging = curvature > 0.0
    return (
        float(np.max(sagitta, where=bulging, initial=0.0)),
        float(np.max(sagitta, where=~bulging, initial=0.0)),
    )
