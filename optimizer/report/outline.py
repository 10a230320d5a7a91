"""The outline of a solid as it is seen from one side."""

from typing import Any

import numpy as np

from optimizer.mesh import Floats
from optimizer.view.look import View

PEN_MM = 0.02  # contours are simplified to within this, finer than a printed line


def outline(solid: Any, view: View) -> list[Floats]:
    """The closed contours of a robust solid's shadow on the paper, each (k, 2) in mm."""
    turn = np.hstack([[view.right, view.up, view.out], np.zeros((3, 1))])
    shadow = solid.transform(turn).project().simplify(PEN_MM)
    return [np.asarray(loop, float) for loop in shadow.to_polygons()]
