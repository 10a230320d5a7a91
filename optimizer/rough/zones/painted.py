"""Colour boundaries found from the colours that a scan brings along."""

from dataclasses import replace

import numpy as np

from optimizer.colours import decoded, from_hex, lab
from optimizer.mesh import Floats, Ints, Mesh, lengths, triangle_areas
from optimizer.rough.flats.named_faces import NamedFaces
from optimizer.rough.model import Boundary, BoundaryFit, Colour, Rough, Zone
from optimizer.rough.zones.boundary import heights
from optimizer.rough.zones.boundary_fit import fit_of
from optimizer.rough.zones.colour_fit import parting_ball, parting_band, parting_plane
from optimizer.rough.zones.table import ZoneTable
from optimizer.rough.zones.two_colours import TwoColours, two_colours

_SMOOTHINGS = 3  # of the colours over neighbouring corners
_AT = 12  # corners about the place of the colour that is stated


def zone_of_colours(rough: Rough, table: ZoneTable, named_faces: NamedFaces) -> Zone:
    """The boundary between the two colours of the scan, of the shape that ``table`` names.

    Raises ValueError where the scan has no colours, or no two clear ones.
    """
    if rough.paint is None:
        raise ValueError("is to be found from_colours, but the scan has none")
    srgb = _on_corners(rough)
    weights = _corner_areas(rough.mesh)
    groups = two_colours(srgb, weights)
    towards, away = _named(rough, table, named_faces, groups)
    score = groups.score if towards.srgb == groups.srgb[1] else -groups.score
    points = rough.mesh.vertices
    if table.kind == "plane":
        boundary: Boundary = parting_plane(points, score, weights)
    elif table.kind == "band":
        boundary = parting_band(points, score, weights)
    else:
        boundary = parting_ball(points, score, weights)
    fit = _fit(rough.mesh, boundary, score, weights)
    named_faces.notes.append(
        f'zone "{table.name}": the scan\'s two colours are about {towards.srgb} ({towards.name}) '
        f"and {away.srgb} ({away.name}), {groups.apart:.0f} apart where their points lie "
        f"{groups.spread:.0f} about them; look at the picture before you trust it"
    )
    sides = zip(table.colours(), (table.towards, table.away), (towards, away), strict=True)
    kept = [
        colour if side.srgb else replace(colour, srgb=found.srgb) for colour, side, found in sides
    ]
    return Zone(table.name, boundary, kept[0], kept[1], fit)


def _on_corners(rough: Rough) -> Floats:
    """The colours (n, 3) of the solid's corners: those of the scan's nearest points, and then a
    few times the mean over each corner and its neighbours, against noise and specks."""
    from scipy.spatial import cKDTree

    assert rough.paint is not None
    nearest = cKDTree(rough.paint.points_mm).query(rough.mesh.vertices)[1]
    a, b = _edges(rough.mesh)
    colours = rough.paint.srgb[nearest]
    degree = np.bincount(a, minlength=len(colours)) + 1.0
    for _ in range(_SMOOTHINGS):
        about = np.array([np.bincount(a, part[b], len(colours)) for part in colours.T]).T
        colours = (colours + about) / degree[:, None]
    return np.asarray(colours)


def _edges(mesh: Mesh) -> tuple[Ints, Ints]:
    """Each edge of a closed mesh once either way, as the numbers of its two corners."""
    return mesh.faces.ravel(), np.roll(mesh.faces, -1, axis=1).ravel()


def _corner_areas(mesh: Mesh) -> Floats:
    """A third of the area of the triangles round each corner, (n,)."""
    third = triangle_areas(mesh.triangles) / 3.0
    return np.asarray(
        np.bincount(mesh.faces.ravel(), np.repeat(third, 3), len(mesh.vertices)), float
    )


def _named(
    rough: Rough, table: ZoneTable, named_faces: NamedFaces, groups: TwoColours
) -> tuple[Colour, Colour]:
    """(towards, away) with the colours found: which is which by the place or the sRGB stated."""
    low, high = groups.srgb
    if table.towards.at_mm is not None:
        at = named_faces.place(table.towards.at_mm, f"the {table.towards.colour}")
        gaps = lengths(rough.mesh.vertices - at)
        upper = float(groups.score[np.argsort(gaps, kind="stable")[:_AT]].mean()) > 0.0
    else:
        assert table.towards.srgb is not None
        assert table.away.srgb is not None
        stated = lab(
            decoded(np.array([from_hex(c) for c in (table.towards.srgb, table.away.srgb)]))
        )
        found = lab(decoded(np.array([from_hex(c) for c in (high, low)])))
        straight = float(lengths(stated - found).sum())
        upper = straight < float(lengths(stated - found[::-1]).sum())
    towards, away = (high, low) if upper else (low, high)
    both = ((table.towards, towards), (table.away, away))
    one, two = (replace(side.as_colour(seen), srgb=seen) for side, seen in both)
    return one, two


def _fit(mesh: Mesh, boundary: Boundary, score: Floats, weights: Floats) -> BoundaryFit:
    """How far the border on the skin lies off the boundary, and how much is on its wrong side."""
    wrong = (heights(boundary, mesh.vertices) > 0.0) != (score > 0.0)
    border = _border(mesh, score)
    fit = fit_of(boundary, border, len(border), "colours")
    return replace(fit, wrong_percent=100.0 * float(weights[wrong].sum() / weights.sum()))


def _border(mesh: Mesh, score: Floats) -> Floats:
    """Points (k, 3) on the edges where the colour changes sides."""
    a, b = _edges(mesh)
    crossed = (score[a] > 0.0) != (score[b] > 0.0)
    one, two = a[crossed & (a < b)], b[crossed & (a < b)]
    share = (score[one] / (score[one] - score[two]))[:, None]
    return np.asarray((1.0 - share) * mesh.vertices[one] + share * mesh.vertices[two])
