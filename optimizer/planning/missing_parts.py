"""What a plan lacks because a stop came early, in words."""

from collections.abc import Iterator, Sequence
from itertools import chain

from optimizer.guidance.model import Distance
from optimizer.placement.active_constraints import MOST_TRIED
from optimizer.placement.model import SURFACE, ActiveConstraints

Distances = Sequence[Sequence[Distance]]


def missing_parts(
    distances: Distances, held: Sequence[ActiveConstraints | None]
) -> tuple[str, ...]:
    """One sentence that names all that is missing from a plan; nothing for a complete plan."""
    missing = [
        *_missing_from_cuts(distances),
        *chain.from_iterable(map(_missing_from_constraints, held)),
    ]
    if not missing:
        return ()
    return (f"Stopped early: {'; '.join(missing)}. A plan that runs to its end has all of it.",)


def _missing_from_cuts(distances: Distances) -> Iterator[str]:
    without = sum(not listed for listed in distances)
    if without:
        yield (
            f"the saw cuts are a first choice, and caliper distances are missing for {without} of "
            f"{len(distances)}"
        )


def _missing_from_constraints(held: ActiveConstraints | None) -> Iterator[str]:
    if held is None:
        yield "what holds the stone was not examined"
        return
    places = [hold for hold in held.constraints if hold.kind == SURFACE]
    others = [hold for hold in held.constraints if hold.kind != SURFACE]
    asked = min(MOST_TRIED, len(places)) + len(others)
    tried = sum(hold.gain is not None for hold in held.constraints)
    if tried < asked:
        yield f"of {asked} things that hold the stone, only {tried} were tried a little looser"
