"""The look about the planned boundary, as plan.json has it."""

from typing import Any

from optimizer.optics.vicinity import Vicinity


def look_about_document(about: Vicinity | None) -> dict[str, Any] | None:
    """Shares and balances from 0 to 1; None where nothing is known."""
    if about is None:
        return None
    figures = about.figures
    return {
        "zone": about.zone,
        "colour": about.colour,
        "shift_mm": float(about.shift_mm),
        "face_share": float(figures.share),
        "halves": [float(part) for part in figures.halves],
        "ends": [float(part) for part in figures.ends],
        "balance_of_halves": float(figures.balance_of_halves),
        "balance_of_ends": float(figures.balance_of_ends),
        "off_mm": float(about.off_mm),
        "off_deg": float(about.off_deg),
        "face_share_range": [float(end) for end in about.share],
        "balance_range": [float(end) for end in about.balance],
    }
