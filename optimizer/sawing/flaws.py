"""Which saw cuts run through a crack, or so near that it may open."""

from collections.abc import Iterator

from optimizer.order import Workshop
from optimizer.rough.flaws.shape import flaw_solid
from optimizer.rough.model import Flaw, Rough
from optimizer.sawing.model import SawCut, SawPlan
from optimizer.solid import as_mesh, as_solid


def cracks_at_cuts(rough: Rough, sawing: SawPlan, workshop: Workshop) -> tuple[str, ...]:
    """A warning for each cut whose kerf, widened by the saw's error, meets a crack or a flaw given
    as a mesh within the piece that is cut."""
    suspects = [flaw for flaw in rough.flaws if flaw.may_split]
    if not suspects:
        return ()
    solids = {piece.id: as_solid(piece.mesh) for piece in sawing.pieces}
    points = rough.mesh.vertices
    whole = [flaw_solid(flaw, points) for flaw in suspects]
    met = (
        (number, flaw, _apart_mm(solid ^ solids[cut.piece], cut))
        for number, cut in enumerate(sawing.cuts, 1)
        for flaw, solid in zip(suspects, whole, strict=True)
    )
    return tuple(_warnings(met, workshop.saw_error_mm))


def _warnings(met: Iterator[tuple[int, Flaw, float]], error_mm: float) -> Iterator[str]:
    for number, flaw, apart in met:
        kind, risk = "crack", "the piece may split there while it is sawn"
        if flaw.mesh is not None:
            kind, risk = "flaw", f"if it holds a crack, {risk}"
        if apart <= 0.0:
            yield f'Cut {number} runs through the {kind} "{flaw.name}": {risk}.'
        elif apart <= error_mm:
            yield (
                f'Cut {number} passes {apart:.2f} mm beside the {kind} "{flaw.name}", within the '
                f"saw's error: {risk}."
            )


def _apart_mm(solid: object, cut: SawCut) -> float:
    """The distance in mm from a cut's kerf to a robust solid: negative where they meet, infinite
    where the solid is empty."""
    heights = as_mesh(solid).vertices @ cut.plane.normal - cut.plane.offset
    if not len(heights):
        return float("inf")
    return float(max(heights.min(), -heights.max()) - cut.kerf_mm / 2.0)
