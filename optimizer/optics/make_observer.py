"""Make observer.csv: python -m optimizer.optics.make_observer (needs colour-science).

The CIE 1931 standard observer, 2 degrees, and the standard illuminant D65 (CIE 018:2019, Basic
Colorimetry; ISO/CIE 11664-1 and -2), each 5 nm, as the library colour-science (BSD-3-Clause) has
them.
"""

from pathlib import Path

import numpy as np

FILE = Path(__file__).with_name("observer.csv")
FIRST, LAST, STEP = 380, 780, 5
HEAD = "# CIE 1931 standard observer (2 degrees) and D65, CIE 018:2019: nm, x, y, z, D65"


def main() -> None:
    """Write the table."""
    import colour

    nm = np.arange(FIRST, LAST + 1, STEP)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    daylight = colour.SDS_ILLUMINANTS["D65"]
    rows = [[n, *observer[n], daylight[n]] for n in nm]
    lines = [",".join(f"{value:.10g}" for value in row) for row in rows]
    FILE.write_text("\n".join([HEAD, *lines]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
