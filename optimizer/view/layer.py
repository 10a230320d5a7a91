"""What a picture is made of: named layers of meshes, lines and labels, scan frame, mm."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Mesh, Plane

Colours = NDArray[np.uint8]

# sRGB colours for what has none of its own; each is visible on light paper and on dark.
NEUTRAL = "#c9bfae"
STONE = "#e8dcc4"
EDGE = "#3a2f24"
SAW = "#c2552d"
FLAT = "#4f7a6b"
MARK = "#a5518d"
BOUNDARY = "#b08a2e"
FLAW = "#2f6f8f"
CONTACT = "#b8434f"
MENDED = "#d0341f"


@dataclass(frozen=True)
class ColouredMesh:
    """A triangle mesh with one sRGB colour a corner, ``colours`` (n, 3)."""

    mesh: Mesh
    colours: Colours
    closed: bool = True  # a solid, not a sheet: a translucent solid is drawn like glass


@dataclass(frozen=True)
class Lines:
    """Straight lines from ``ends[:, 0]`` to ``ends[:, 1]``, (k, 2, 3) in mm."""

    ends: Floats
    colour: str


@dataclass(frozen=True)
class TextLabel:
    """A named point, drawn as a dot with its text."""

    point: Floats  # (3,)
    text: str
    colour: str


@dataclass(frozen=True)
class Layer:
    """What a viewer shows or hides as a whole."""

    key: str  # unique, lower case letters, digits and hyphens
    name: str
    parts: tuple[ColouredMesh, ...] = ()
    lines: tuple[Lines, ...] = ()
    labels: tuple[TextLabel, ...] = ()
    opacity: float = 1.0
    visible: bool = True
    plane: Plane | None = None  # of a layer that is a plane

    @property
    def swatch(self) -> str:
        """A colour that stands for the layer."""
        if self.parts:
            return "#" + bytes(self.parts[0].colours[0]).hex()
        return self.labels[0].colour if self.labels else NEUTRAL


def rgb(colour: str) -> Colours:
    """The colour ``#rrggbb`` as three bytes."""
    return np.frombuffer(bytes.fromhex(colour.removeprefix("#")), np.uint8)


def plain(mesh: Mesh, colour: str, *, closed: bool = True) -> ColouredMesh:
    """``mesh`` in one colour."""
    return ColouredMesh(mesh, np.tile(rgb(colour), (len(mesh.vertices), 1)), closed)
