"""Whether the contacts that the plan states are real: on the constraint, and at the clearance."""

import numpy as np

from optimizer.audit.common import count, require
from optimizer.audit.flaws import gap_to_core, part_below_table
from optimizer.mesh import Floats, Mesh, cross, vector_areas
from optimizer.placement.model import FLAW, SURFACE, ActiveConstraint, Contact
from optimizer.plan_model import Stone
from optimizer.rough.model import Flaw, Rough
from optimizer.wording.plain_number import plain

ROUND = 1e-3  # of a round sheet's diameter: a search may replace it by a polygon around it
TOUCH_MM = 1e-4  # a tenth of a thousandth of a mm: no figure on the page shows it


def contacts_are_real(
    stone: Stone, mesh: Mesh, rough: Rough, skin_mm: float, name: str
) -> str | None:
    """Each contact's point lies on the rough's surface or on the flaw, at the distance that the
    stone keeps; its other end lies on the facets named. None where no contact is stated."""
    held = stone.held
    stated = (
        [(hold, contact) for hold in held.constraints for contact in hold.contacts] if held else []
    )
    off = 0.0
    for hold, contact in stated:
        at = f"{name}'s contact at {_place(contact.point)}"
        _require_on(hold, contact, rough, at)
        keep, part = _kept(hold, stone, mesh, rough, skin_mm)
        gap = max(0.0, gap_to_core(part.vertices, _as_flaw(contact.point)))
        for what, error in (
            ("to the stone", abs(gap - keep)),
            ("to its end on the stone", abs(_apart(contact) - keep)),
            ("from that to the facets named", _off_facets(stone, mesh, contact)),
        ):
            wrong = f"{plain(error, 3)} mm off the distance {what}"
            require(error <= TOUCH_MM, at, wrong, f"at most {plain(TOUCH_MM)} mm")
            off = max(off, error)
    if not stated:
        return None
    return (
        f"{name} is held at {count(len(stated), 'point')} as stated: each lies on the surface, "
        f"flaw or boundary, at its distance from the facets named, within {plain(off, 1)} mm."
    )


def _require_on(hold: ActiveConstraint, contact: Contact, rough: Rough, at: str) -> None:
    """Require the point to lie on the surface or flaw that it is said to lie on."""
    allowed = TOUCH_MM
    if hold.kind == SURFACE:
        away = distance_to_mesh(contact.point, rough.mesh)
    elif hold.kind == FLAW:
        flaw = next(flaw for flaw in rough.flaws if flaw.name == hold.name)
        if flaw.mesh is not None:
            away = distance_to_mesh(contact.point, flaw.mesh)
        else:
            away = abs(gap_to_core(contact.point[None], flaw))
        if np.isfinite(flaw.across_mm):
            allowed += ROUND * flaw.across_mm
    else:
        return  # the demand's own check measures how far the boundary is
    lies = f"{plain(away, 3)} mm off what holds the stone"
    require(away <= allowed, at, lies, f"at most {plain(allowed)} mm")


def _kept(
    hold: ActiveConstraint, stone: Stone, mesh: Mesh, rough: Rough, skin_mm: float
) -> tuple[float, Mesh]:
    """How far in mm the stone keeps from the surface or flaw, and the part of it that does."""
    if hold.kind == SURFACE:
        return stone.placement.clearance_mm, mesh
    if hold.kind != FLAW:
        return 0.0, mesh
    flaw = next(flaw for flaw in rough.flaws if flaw.name == hold.name)
    part = part_below_table(mesh, stone.placement.pose.rotation[:, 2]) if flaw.off_table else mesh
    by_clearance = stone.held is not None and stone.held.by_clearance
    spare = stone.placement.clearance_mm - skin_mm if by_clearance else 0.0
    return flaw.keep_mm + spare, part


def _apart(contact: Contact) -> float:
    return float(np.linalg.norm(contact.point - contact.on_stone))


def _as_flaw(point: Floats) -> Flaw:
    return Flaw("", point[None], None, 0.0, 0.0, 0.0)


def _off_facets(stone: Stone, mesh: Mesh, contact: Contact) -> float:
    """Distance in mm from the contact's end on the stone to the farthest of the facets it names."""
    corners = mesh.triangles - contact.on_stone
    across = vector_areas(corners)
    area = np.linalg.norm(across, axis=1)
    off = []
    for facet in contact.facets:
        faces = np.flatnonzero(stone.placement.body.facet_of_face == facet)
        face = faces[np.argmax(area[faces])]
        off.append(abs(float(across[face] @ corners[face, 0])) / area[face])
    return max(off, default=0.0)


def distance_to_mesh(point: Floats, mesh: Mesh) -> float:
    """Least distance in mm from a point to a mesh's triangles, over their interiors and edges."""
    corners = mesh.triangles - point
    reach = np.linalg.norm(corners, axis=2).min(axis=1)
    size = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    corners = corners[reach - size <= reach.min()]  # no other triangle can be nearer
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    across = cross(b - a, c - a)
    length = np.linalg.norm(across, axis=1)
    sides = [np.einsum("ij,ij->i", across, cross(p, q)) for p, q in ((a, b), (b, c), (c, a))]
    over = (length > 0.0) & np.all(np.array(sides) >= 0.0, axis=0)
    heights = np.abs(np.einsum("ij,ij->i", across[over], a[over])) / length[over]
    edges = [_to_segments(p, q) for p, q in ((a, b), (b, c), (c, a))]
    return float(min([np.min(edges), *heights]))


def _to_segments(start: Floats, end: Floats) -> Floats:
    """Distances (n,) from the origin to line segments with ends (n, 3)."""
    along = end - start
    square = np.maximum(np.einsum("ij,ij->i", along, along), 1e-300)
    share = np.clip(-np.einsum("ij,ij->i", start, along) / square, 0.0, 1.0)
    return np.asarray(np.linalg.norm(start + share[:, None] * along, axis=1))


def _place(point: Floats) -> str:
    return "(" + ", ".join(f"{value:.3f}" for value in point) + ")"
