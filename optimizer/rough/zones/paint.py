"""The colours that a scan brings along, for finding colour boundaries on them."""

from optimizer.rough.formats.scan import Scan
from optimizer.rough.model import Paint


def paint(scan: Scan, scale: float) -> Paint | None:
    """The colours of the points that some triangle uses, ``scale`` mm to the scan's unit."""
    if scan.colours is None:
        return None
    return Paint(scan.used_points * scale, scan.colours[scan.used])
