"""What a piece is, what was mended in its scan, and what is doubtful, as lines to print."""

import numpy as np

from optimizer.mesh import Floats
from optimizer.rough.doubts import area_and_rms_on
from optimizer.rough.flaws.shape import flaw_text
from optimizer.rough.model import ReferenceFace, Rough, Zone
from optimizer.rough.scale.weight_words import weighed_lines
from optimizer.rough.shape import area_mm2, hull_volume_mm3, principal_axes, sizes
from optimizer.rough.zones.solid import parted
from optimizer.rough.zones.text import zone_text
from optimizer.solid import as_solid, volume_of
from optimizer.trade.materials import Material, species_cautions
from optimizer.wording.plain_number import plain


def describe(rough: Rough) -> list[str]:
    """Plain lines: the piece, its weight, its species, zones, flaws and faces, repairs, doubts and
    the species' cautions."""
    return [
        *_piece(rough),
        *_weight(rough),
        _species(rough.material),
        *(_zone(rough, zone) for zone in rough.zones),
        *(f"flaw {flaw.name}: {flaw_text(flaw)}" for flaw in rough.flaws),
        *(_face(rough, face) for face in rough.reference_faces),
        *(f"worked out: {note}" for note in rough.notes),
        *(f"mended: {repair.sentence}" for repair in rough.repairs),
        *(f"doubtful: {warning}" for warning in rough.warnings),
        *(f"caution: {caution}" for caution in species_cautions(rough.material)),
    ]


def _piece(rough: Rough) -> list[str]:
    own = sizes(rough.mesh, principal_axes(rough.mesh)[1])
    hull = hull_volume_mm3(rough.mesh)
    filled = 100.0 * rough.volume_mm3 / hull
    frame = "the scan's" if rough.readings is None else "the frame's"
    lines = [
        *_source(rough),
        f"size along {frame} axes: {_by(sizes(rough.mesh, np.eye(3)))} mm",
        f"size along its own main axes: {_by(own)} mm",
        f"volume: {rough.volume_mm3:.2f} mm³, {filled:.1f} % of its convex hull ({hull:.2f} mm³)",
    ]
    lines.insert(1, f"name: {rough.title}")
    if rough.parent:
        lines.insert(2, f"cut from: {rough.parent}")
    for name, axis in (("optic axis", rough.optic_axis), ("growth axis", rough.growth_axis)):
        if axis is not None:
            lines.append(f"{name}: {_triple(axis)} in {frame} axes")
    lines += [f"cleavage plane: square to {_triple(n)}" for n in rough.cleavage]
    return lines


def _source(rough: Rough) -> list[str]:
    count = f"{len(rough.mesh.faces):,} triangles"
    if rough.readings is not None:
        first = f"measured by hand: {rough.scan}, {rough.readings.form}, built of {count}"
        return [first, *rough.readings.notes]
    state = "closed as read" if rough.watertight_as_read else "closed once mended"
    scale, known = rough.scale, ""
    if scale.source != "unit":
        known = f" by the {scale.source}, give or take {100.0 * scale.error:.2f} %"
    return [
        f"scan: {rough.scan}, {count}, {state}",
        f"unit: one number of the scan is {plain(rough.mm_per_unit)} mm{known}",
    ]


def _weight(rough: Rough) -> list[str]:
    low, high = (rough.volume_mm3 * sg / 200.0 for sg in rough.material.sg_range)
    skin = area_mm2(rough.mesh) * rough.scan_error_mm * rough.material.sg / 200.0
    skin = min(skin, rough.carat)  # on small pieces the layers of opposite sides meet
    # A species whose SG is listed as one value has no range to show.
    spread = f" ({low:.3f} to {high:.3f} ct over the species' SG)" if high > low else ""
    of_scale = (
        f", {plain(rough.scale.error_mm, 2)} mm of it by the scale" if rough.scale.error_mm else ""
    )
    source = "scan" if rough.readings is None else "surface"
    lines = [
        f"weight by volume: {rough.carat:.3f} ct as {rough.material.name} of SG "
        f"{plain(rough.material.sg, 4)}{spread}",
        f"{source} error: {plain(rough.scan_error_mm, 4)} mm{of_scale}, worth {skin:.3f} ct over "
        "the whole surface",
    ]
    return lines + weighed_lines(rough)


def _species(material: Material) -> str:
    return (
        f"species: {material.name}, {material.origin}; cleavage: {material.cleavage}; heat: "
        f"{material.heat}; pleochroism: {material.pleochroism}"
    )


def _zone(rough: Rough, zone: Zone) -> str:
    share = 100.0 * volume_of(parted(as_solid(rough.mesh), zone.boundary)[0]) / rough.volume_mm3
    return (
        f"zone {zone.name}: {share:.1f} % of the piece is {zone.towards.name}, the rest "
        f"{zone.away.name}; {zone_text(zone)}"
    )


def _face(rough: Rough, face: ReferenceFace) -> str:
    area, rms = area_and_rms_on(rough, face.plane)
    looks = f" ({face.looks})" if face.looks else ""
    # A solid built from caliper readings has flat faces by construction.
    flat = f"flat to {rms:.3f} mm rms, " if rough.readings is None else ""
    return (
        f"reference face {face.name}{looks}: {area:.1f} mm², {flat}faces "
        f"{_triple(face.plane.normal)}"
    )


def _by(lengths: Floats) -> str:
    return " × ".join(f"{length:.2f}" for length in lengths)


def _triple(vector: Floats) -> str:
    return "(" + ", ".join(f"{plain(round(float(x), 3) + 0.0)}" for x in vector) + ")"
