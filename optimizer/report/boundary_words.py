"""The look about the planned boundary, in plain words."""

from optimizer.optics.look_words import TRACE
from optimizer.optics.vicinity import Vicinity
from optimizer.report.html import degrees, millimetres, number

_CENTRE_MM = 0.05  # a boundary nearer to the middle than this passes through the middle
_UPRIGHT_DEG = 45.0  # a boundary tilted more lies above or below the middle, not beside it
_WAYS = ("right of", "behind", "left of", "in front of")


def look_line(about: Vicinity) -> str:
    """Where to put the boundary, what the face shows then, and what an error of the hands does."""
    low, high = (100.0 * end for end in about.share)
    return (
        f"Put the boundary {_where(about)}: {100.0 * about.figures.share:.0f} % of the face "
        f"shows {about.colour}, {_parts(about)}. If marking and sawing put it up to "
        f"{millimetres(about.off_mm)} and {degrees(about.off_deg)} off, {low:.0f} to {high:.0f} % "
        f"of the face shows {about.colour}."
    )


def _where(about: Vicinity) -> str:
    shift = about.shift_mm
    if abs(shift) < _CENTRE_MM:
        return "through the middle"
    if abs(about.tilt_deg) > _UPRIGHT_DEG:
        above = (shift > 0.0) == (about.tilt_deg > 0.0)
        return f"{millimetres(abs(shift))} {'above' if above else 'below'} the middle"
    azimuth = about.azimuth_deg + (0.0 if shift > 0.0 else 180.0)
    way = _WAYS[round(azimuth / 90.0) % 4]
    return f"{millimetres(abs(shift))} {way} the middle"


def _parts(about: Vicinity) -> str:
    """What the two ends show, or the two halves: the pair that differs more."""
    figures = about.figures
    if figures.balance_of_ends <= figures.balance_of_halves:
        (one, other), names = figures.ends, ("right end", "left end")
    else:
        (one, other), names = figures.halves, ("back half", "front half")
    shown = f"{100.0 * one:.0f} % of the {names[0]} and {100.0 * other:.0f} % of the {names[1]}"
    if max(one, other) < TRACE:
        return shown  # a balance between two traces means nothing
    return f"{shown} (balance {number(min(figures.balance_of_ends, figures.balance_of_halves))})"
