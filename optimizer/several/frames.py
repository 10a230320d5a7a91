"""Directions of the rough to which stones are laid square."""

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.ground import Ground
from optimizer.rough.model import Rough
from optimizer.several.trial_cuts import ALONG
from optimizer.solid import plane_frame

FRAMES = 3  # of the rough's flats, to which stones are laid square


def flats_of(rough: Rough, ground: Ground) -> list[Floats]:
    """Normals (3,) of the rough's flats, ground's frame."""
    return [face.plane.normal @ ground.ground2scan for face in rough.reference_faces]


def frames_of(rough: Rough, ground: Ground) -> list[Floats]:
    """Frames (3, 3), rows unit, to which stones are laid square: the rough's own axes, and those
    of its largest flats whose axes differ. The same axes twice would crowd out other bricks."""
    frames = [np.eye(3)]
    for flat in flats_of(rough, ground)[:FRAMES]:
        frame = plane_frame(flat, np.eye(3)[0])
        if not any((np.abs(frame @ other.T).max(axis=1) > ALONG).all() for other in frames):
            frames.append(frame)
    return frames
