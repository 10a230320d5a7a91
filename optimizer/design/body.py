"""A design with its parameters set: the cut sheet's tiers, and the convex body."""

from collections.abc import Mapping

import numpy as np

from optimizer.design.cutting import cut
from optimizer.design.intersect import Polyhedron, areas, intersect, is_closed, triangles
from optimizer.design.model import Body, Design, Tier
from optimizer.design.stone import CutTier
from optimizer.errors import InputError, nearest
from optimizer.mesh import Floats
from optimizer.wording.plain_number import plain

# A facet smaller than this, as a share of width², counts as lost: a 0.1 mm square on a stone
# 10 mm wide, about the smallest that can be cut on a lap (common practice, no source).
LEAST_FACET = 1e-4
EXACT = 1e-9  # how far width, length, girdle lines and table may be off, at width 1
FEW = 3  # planes that a turn is tried on before it is tried on all


def full_parameters(design: Design, parameters: Mapping[str, float]) -> dict[str, float]:
    """Every parameter's value: the given one, else the default.

    Raises InputError, naming the parameter and its range, where a name is unknown or a value is
    out of range.
    """
    for name, value in parameters.items():
        if name not in design.parameters:
            hint = nearest(name, design.parameters)
            raise InputError(f'{design.name} has no parameter "{name}"; {hint}')
        known = design.parameters[name]
        if not known.low <= value <= known.high:
            raise InputError(
                f"{design.name}: {name} is {plain(value)}; it must lie between "
                f"{plain(known.low)} and {plain(known.high)}"
            )
    return {name: float(parameters.get(name, p.default)) for name, p in design.parameters.items()}


def tiers(design: Design, parameters: Mapping[str, float]) -> tuple[Tier, ...]:
    """The finished stone's tiers in the file's order, with angles in degrees."""
    return tuple(row(tier) for tier in cut(design, full_parameters(design, parameters)))


def row(tier: CutTier) -> Tier:
    """A tier as a row of the cut sheet."""
    return Tier(
        name=tier.rule.name,
        side=tier.rule.side,
        settings=tier.rule.settings,
        angles_deg=tuple(np.degrees(tier.angles).tolist()),
        cut_to=tier.rule.cut_to,
    )


def build_body(
    design: Design,
    parameters: Mapping[str, float] | None = None,
    *,
    least_girdle_mm: float = 0.0,
    least_girdle_share: float = 0.0,
) -> Body:
    """The convex body at width 1 (see Body), with its facets in the order of the design's tiers.

    The girdle band is the parameter ``girdle`` or ``least_girdle_share`` of the width, whichever
    is thicker, and at least ``least_girdle_mm``. Raises InputError where a parameter is unknown or
    out of range, and where a facet is lost.
    """
    values = full_parameters(design, parameters or {})
    share = max(values["girdle"], least_girdle_share)
    cut_tiers = cut(design, values)
    normals, offsets = _planes(cut_tiers, share)
    names = _names(cut_tiers)
    solid = intersect(normals, offsets)
    _check_facets(design, solid, names)
    _check_measures(design, solid, values, share, normals)
    faces, facet_of_face = triangles(solid)
    return Body(
        normals=normals,
        offsets=offsets,
        vertices=solid.corners,
        faces=faces,
        facet_of_face=facet_of_face,
        facet_names=names,
        rotations=rotation_group(normals, offsets, design.gear),
        girdle_share=share,
        least_girdle_mm=least_girdle_mm,
    )


def planes(design: Design, values: Mapping[str, float], share: float) -> tuple[Floats, Floats]:
    """The facets' planes at width 1, unchecked: normals (m, 3) and offsets (m,).

    ``values`` holds every parameter; ``share`` is the girdle band's share of the width. Raises
    InputError where a tier can't be cut.
    """
    return _planes(cut(design, values), share)


def _planes(cut_tiers: list[CutTier], share: float) -> tuple[Floats, Floats]:
    """The tiers' planes, with the crown moved up and the pavilion down by half the girdle band."""
    normals, offsets = [], []
    for tier in cut_tiers:
        facing = tier.normals.copy()
        if tier.rule.side == "pavilion":
            facing[:, 2] *= -1.0
        normals.append(facing)
        offsets.append(tier.distance + share / 2.0 * np.abs(facing[:, 2]))
    return np.concatenate(normals), np.concatenate(offsets)


def facet_name(tier: str, setting: int, angle: float) -> str:
    """A facet by its tier and setting; a level one, at angle 0, by its tier alone."""
    return tier if angle == 0.0 else f"{tier} {setting}"


def _names(cut_tiers: list[CutTier]) -> tuple[str, ...]:
    return tuple(
        facet_name(tier.rule.name, setting, angle)
        for tier in cut_tiers
        for setting, angle in zip(tier.rule.settings, tier.angles.tolist(), strict=True)
    )


def _check_facets(design: Design, solid: Polyhedron, names: tuple[str, ...]) -> None:
    for name, size in zip(names, areas(solid), strict=True):
        if size < LEAST_FACET:
            raise InputError(f'{design.name}: facet "{name}" is lost: other facets cut it away')
    if not is_closed(solid):
        raise InputError(f"{design.name}: the facets enclose no stone; one side stays open")


def _check_measures(
    design: Design, solid: Polyhedron, values: Mapping[str, float], share: float, normals: Floats
) -> None:
    low, high = solid.corners.min(axis=0), solid.corners.max(axis=0)
    long, axis = values["length_to_width"], design.outline.axis
    for what, k, size, behind in (("length", 0, long, axis), ("width", 1, 1.0, 0.5)):
        ends = -behind * size, (1.0 - behind) * size
        if max(abs(low[k] - ends[0]), abs(high[k] - ends[1])) > EXACT:
            raise InputError(
                f"{design.name}: the {what} runs from {plain(low[k])} to {plain(high[k])} of the "
                f"width; it must run from {plain(ends[0])} to {plain(ends[1])}; change what the "
                "girdle is cut to"
            )
    band = np.concatenate([solid.polygons[i] for i in np.flatnonzero(normals[:, 2] == 0.0)])
    if np.abs(np.abs(solid.corners[band, 2]) - share / 2.0).max() > EXACT:
        raise InputError(
            f"{design.name}: the girdle is not level; cut a crown and a pavilion facet "
            "to the girdle line at every girdle setting"
        )
    if "table" not in values:
        return
    table = solid.corners[solid.polygons[int(np.argmax(normals[:, 2]))], 1]
    if abs(np.ptp(table) - values["table"]) > EXACT:
        raise InputError(
            f"{design.name}: the table comes to {plain(np.ptp(table))} of the width, not "
            f"{plain(values['table'])}; a later tier cuts into it"
        )


def rotation_group(normals: Floats, offsets: Floats, gear: int) -> Floats:
    """The rotations about z that map the facets onto themselves, (q, 3, 3), identity first.

    Facets lie at whole settings, so only rotations by whole settings qualify. Such rotations form a
    cyclic group, that is, all are multiples of the smallest one; so the smallest is tried first.
    """
    planes = np.column_stack([normals, offsets])
    shares = (q for q in range(gear, 0, -1) if gear % q == 0)
    count = next(q for q in shares if _maps_onto_itself(planes, _turn(2.0 * np.pi / q)))
    return np.array([_turn(2.0 * np.pi * step / count) for step in range(count)])


def _turn(angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def _maps_onto_itself(planes: Floats, turn: Floats) -> bool:
    turned = np.column_stack([planes[:, :3] @ turn.T, planes[:, 3]])
    # Most turns are wrong for the first few planes already.
    return _are_among(turned[:FEW], planes) and _are_among(turned, planes)


def _are_among(some: Floats, planes: Floats) -> bool:
    apart = np.abs(some[:, None] - planes[None]).max(axis=2)
    return bool((apart.min(axis=1) < EXACT).all())
