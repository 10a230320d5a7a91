"""Whether the look is as ordered, traced anew from the stone's mesh.

The facets' planes come from the mesh's triangles. The face is sampled by square pixels where the
plan takes scattered places, and ray legs are split one by one where the plan takes polynomials.
"""

import numpy as np

from optimizer.audit.common import require
from optimizer.audit.demands import sided
from optimizer.audit.stones import stone_frame
from optimizer.mesh import Floats, Mesh, vector_areas
from optimizer.optics.boundary_forms import forms_of
from optimizer.optics.eye import frame_of, pixel_centres
from optimizer.optics.face import Face, coloured, everywhere, face_of, incoming_light
from optimizer.optics.figures import FEW, ZoneFigures, light_figures, zone_figures
from optimizer.optics.lights import LIGHTS
from optimizer.optics.look_demands import (
    FigureDemand,
    colour_demands,
    light_demands,
    light_value,
    zone_value,
)
from optimizer.optics.paths import refracting_body
from optimizer.optics.refraction import index_at
from optimizer.optics.shading import bands
from optimizer.optics.zone_dyes import zone_dyes
from optimizer.order import LookDemand
from optimizer.plan_model import Stone
from optimizer.rough.model import Rough

ACROSS = 150  # pixels a side
SLACK = 0.01  # of share, light return and window: how far two samplings may differ
BALANCE_SLACK = 0.02
_SAME = 1e-7  # cosine and relative distance: triangles of one facet


def look_is_met(stone: Stone, mesh: Mesh, rough: Rough, asked: LookDemand, name: str) -> str:
    """Every demand on the look is met, upright under an open sky."""
    at_home = stone_frame(stone, mesh)
    face = _face(at_home, rough)
    light = light_figures(face)
    values = [(one, light_value(one.key, light)) for one in light_demands(asked)]
    if asked.of_colour:
        zone = _zone_figures(face, stone, rough, asked)
        require(
            zone.distinct_share >= FEW / 2.0,
            f"{name} tells {asked.colour} from the other colour",
            f"{100.0 * zone.distinct_share:.1f} % of the face",
            "enough of it for a share to mean something",
        )
        values += [(one, zone_value(one.key, zone)) for one in colour_demands(asked)]
    for one, value in values:
        slack = BALANCE_SLACK if one.key.endswith(("halves", "ends")) else SLACK
        require(
            one.shortfall(value) <= slack,
            f"{name} looks as ordered",
            f"{one.key} {value:.4f} of 1",
            one.words,
        )
    return f"{name} looks as ordered, traced anew from its mesh: {_in_words(values)}."


def _in_words(values: list[tuple[FigureDemand, float]]) -> str:
    return ", ".join(
        f"{one.key.removesuffix('_percent').replace('_', ' ')} {value:.3f}" for one, value in values
    )


def _face(mesh: Mesh, rough: Rough) -> Face:
    normals, offsets = _planes(mesh)
    low, high = frame_of(mesh.vertices, np.eye(3))
    (band,) = bands(1)
    index = index_at(rough.material, band.nm)
    places = pixel_centres(low, high, ACROSS)
    body = refracting_body(normals, offsets, index)
    return face_of((body,), (band,), places, np.eye(3))


def _planes(mesh: Mesh) -> tuple[Floats, Floats]:
    """The facets' planes, each once, from the largest triangle of each facet."""
    corners = mesh.triangles
    cross = vector_areas(corners)
    area = np.linalg.norm(cross, axis=1)
    normals: list[Floats] = []
    offsets: list[float] = []
    size = float(np.abs(mesh.vertices).max())
    for k in np.argsort(-area, kind="stable"):
        if area[k] <= 1e-12 * size**2:
            break
        n = cross[k] / area[k]
        at = float(corners[k].mean(axis=0) @ n)
        known = (
            n @ m > 1.0 - _SAME and abs(at - c) < 1e-6 * size
            for m, c in zip(normals, offsets, strict=True)
        )  # fmt: skip
        if not any(known):
            normals.append(n)
            offsets.append(at)
    return np.array(normals), np.array(offsets)


def _zone_figures(face: Face, stone: Stone, rough: Rough, asked: LookDemand) -> ZoneFigures:
    assert asked.zone is not None
    assert asked.colour is not None
    zone, towards = sided(rough, asked.zone, asked.colour)
    pose = stone.placement.pose
    forms = forms_of(zone.boundary, pose.rotation, pose.translation)
    if not towards:
        forms = -forms  # of a flat boundary: its other side
    one, other = zone_dyes(zone, asked.colour)
    light = incoming_light(face, LIGHTS["open sky"])
    all_one, all_other = (coloured(face, light, everywhere(), dye, dye) for dye in (one, other))
    return zone_figures(face, coloured(face, light, forms, one, other), all_one, all_other)
