"""One view of the check's picture: the shaded piece and what is known of it, on its own canvas."""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from optimizer.marking.annotations import Annotation
from optimizer.mesh import Floats, Mesh
from optimizer.view.layer import rgb
from optimizer.view.letters import Pen
from optimizer.view.raster import Frame, PixelOwners, shaded, visible_triangles

Colouring = Callable[[PixelOwners], Floats]
"""The piece's own colour (k, 3), 0 to 255, at each pixel that shows it."""

PAPER = rgb("#faf6ee")
INK = "#2b241c"
SOFT = "#6d6153"
_FACE_TINT = 0.35  # strength of a reference face's colour over the piece
_SEEN_THROUGH = 0.6  # strength of a flaw's colour over the piece
_FAINT = 0.35  # strength of lines and spots that the piece hides
_TAG_ASIDE = np.array([24.0, -20.0])  # pixels from a spot to the middle of its number


def panel(
    mesh: Mesh,
    bright: Floats,
    colours: Colouring,
    annotations: Sequence[Annotation],
    frame: Frame,
    pen: Pen,
) -> Any:
    """The view as an image; ``bright`` (m,) is the light on the piece's triangles."""
    from PIL import Image, ImageDraw

    seen = visible_triangles(mesh, frame)
    tinted = colours(seen)
    for annotation in annotations:
        if annotation.faces is not None:
            on = annotation.faces[seen.owners]
            tinted[on] += _FACE_TINT * (rgb(annotation.colour) - tinted[on])
    picture = shaded(seen, bright, tinted, PAPER)
    for annotation in annotations:
        if annotation.solid is not None:
            hit = visible_triangles(annotation.solid, frame).owner >= 0
            own = picture[hit].astype(float)
            mixed = own + _SEEN_THROUGH * (rgb(annotation.colour).astype(float) - own)
            picture[hit] = mixed.astype(np.uint8)
    image = Image.fromarray(picture)
    draw = ImageDraw.Draw(image, "RGBA")
    for annotation in annotations:
        _strokes(draw, annotation, seen, pen)
    _tags(draw, annotations, seen, pen)
    return image


def _strokes(draw: Any, annotation: Annotation, seen: PixelOwners, pen: Pen) -> None:
    """Draw lines and spots: strong where they are seen, faint where the piece hides them."""
    strong = rgb(annotation.colour).tolist()
    for points, wide in ((annotation.lines, 3), (annotation.spots[:, None], 7)):
        if not len(points):
            continue
        unhidden = seen.unhidden(points.mean(axis=1))
        spots = seen.frame.spots(points)
        for shown in (False, True):
            colour = (*strong, 255 if shown else int(255 * _FAINT))
            for ends in spots[unhidden == shown]:
                _stroke(draw, ends, colour, pen.pixels(wide if shown or len(ends) == 1 else 1))
    if annotation.axis is not None:
        _dashes(draw, seen.frame.spots(annotation.axis), (*strong, 255), pen)


def _stroke(draw: Any, ends: Floats, colour: tuple[int, ...], wide: int) -> None:
    if len(ends) == 1:
        (x, y), half = ends[0], wide / 2.0
        draw.ellipse((x - half, y - half, x + half, y + half), fill=colour)
    else:
        draw.line([tuple(end) for end in ends], fill=colour, width=wide)


def _dashes(draw: Any, ends: Floats, colour: tuple[int, ...], pen: Pen) -> None:
    """A dashed line from end to end, so that nobody takes it for a line on the surface."""
    long = float(np.linalg.norm(ends[1] - ends[0]))
    count = max(1, int(long / pen.pixels(14)))
    for k in range(count):
        part = ends[0] + (ends[1] - ends[0]) * np.array([[k], [k + 0.6]]) / count
        draw.line([tuple(end) for end in part], fill=colour, width=pen.pixels(2))


def _tags(draw: Any, annotations: Sequence[Annotation], seen: PixelOwners, pen: Pen) -> None:
    """Draw each annotation's number beside it, with no number over another."""
    taken: list[Floats] = []
    step = pen.pixels(27)
    for number, annotation in enumerate(annotations, 1):
        spot = _tag_spot(annotation, seen)
        if spot is None:
            continue
        low, high = np.array([step, step]), np.array([seen.frame.columns, seen.frame.rows]) - step
        foot, spot = spot, np.clip(spot + pen.finer * _TAG_ASIDE, low, np.maximum(low, high))
        while any(np.linalg.norm(spot - other) < step for other in taken):
            spot = spot + np.array([0.0, step / 4.0])
        taken.append(spot)
        draw.line([tuple(foot), tuple(spot)], fill=annotation.colour, width=pen.pixels(1.5))
        pen.tag(draw, spot, str(number), annotation.colour)


def _tag_spot(annotation: Annotation, seen: PixelOwners) -> Floats | None:
    """The spot that an annotation's number points to; None where nothing of it shows."""
    frame = seen.frame
    if annotation.axis is not None:
        ends = frame.spots(annotation.axis)
        return np.asarray(ends[np.argmin(ends[:, 1])])
    if annotation.solid is not None:
        return np.asarray(frame.spots(annotation.solid.vertices).mean(axis=0))
    if annotation.faces is not None:
        showing = np.isin(seen.owner, np.flatnonzero(annotation.faces))
        rows, columns = np.nonzero(showing)
        enough = len(rows) > 0.001 * showing.size
        return np.array([np.median(columns), np.median(rows)]) if enough else None
    points = np.concatenate([annotation.lines[:, 0], annotation.spots])
    points = points[seen.unhidden(points)] if len(points) else points
    if not len(points):
        return None
    spots = frame.spots(points)
    return np.asarray(spots[np.argmax(spots @ [0.3, -1.0])])
