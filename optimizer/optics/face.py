"""A stone's face as an eye sees it: traced once, then coloured for any boundary, dye and light."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.dye import Dye
from optimizer.optics.eye import rays_at
from optimizer.optics.kernels.crystal import CrystalColours, shade_crystal
from optimizer.optics.kernels.rays import RefractingBody
from optimizer.optics.kernels.shade import shade
from optimizer.optics.kernels.split import FORM, split_lengths
from optimizer.optics.lights import Light
from optimizer.optics.observer import rgb_weights
from optimizer.optics.paths import LEAST, Paths, trace
from optimizer.optics.shading import Band, table_of


@dataclass(frozen=True)
class Face:
    """A stone turned by ``stone2room``, seen from above at ``places`` (n, 2): the paths of each
    band of the spectrum, in mm in the stone's frame."""

    bands: tuple[Band, ...]
    paths: tuple[Paths, ...]
    stone2room: Floats
    places: Floats

    @property
    def hit(self) -> np.ndarray:
        """(n,) which places lie on the stone."""
        return self.paths[0].hit

    @property
    def longest_mm(self) -> float:
        """The longest path of any ray within the stone."""
        return max(float(_runs(paths).max(initial=0.0)) for paths in self.paths)


def face_of(
    bodies: tuple[RefractingBody, ...], bands: tuple[Band, ...], places: Floats, stone2room: Floats,
    *, least: float = LEAST,
) -> Face:  # fmt: skip
    """Trace one stone at ``places`` (n, 2) mm: for each band its body, in mm of the stone's frame,
    with the refractive index of that band."""
    reach = float(np.abs(bodies[0].offsets).max())
    rays = rays_at(places, stone2room, 2.0 * reach + float(np.abs(places).max(initial=0.0)))
    paths = tuple(trace(body, *rays, least=least) for body in bodies)
    return Face(bands, paths, stone2room, places)


def incoming_light(face: Face, light: Light) -> tuple[Floats, ...]:
    """For each band, the light (m,) that comes in at each place of the paths, towards the eye."""
    return tuple(
        np.where(paths.weight > 0.0, paths.weight * light.radiance(paths.leaving @ room.T), 0.0)
        for paths, room in ((paths, face.stone2room) for paths in face.paths)
    )


def gloss(face: Face, light: Light) -> Floats:
    """Light (n,) mirrored by the outer surface, which lies over every colour."""
    paths = face.paths[len(face.paths) // 2]
    directions = paths.mirrored_direction @ face.stone2room.T
    return np.asarray(paths.mirrored_share * light.radiance(directions))


def coloured(
    face: Face, light: tuple[Floats, ...], forms: Floats, inside: Dye, outside: Dye
) -> Floats:
    """Linear sRGB (n, 3) of every place, without gloss.

    ``light`` is from ``incoming_light``, ``forms`` (k, 10) from ``boundary_forms``. Where all forms
    are positive the stone has the dye ``inside``, elsewhere ``outside``.
    """
    total = np.zeros((len(face.places), 3))
    part = np.empty_like(total)
    for band, paths, shine in zip(face.bands, face.paths, light, strict=True):
        run_in, run_out = split(paths, forms)
        table = table_of(inside, outside, float((run_in + run_out).max(initial=0.0)), band)
        shade(paths.start, shine, run_in, run_out, table.values, table.per_mm, part)
        total += part
    return total


Trichroic = tuple[Dye, Dye, Dye]  # for light that swings along each of three axes


def coloured_crystal(
    face: Face,
    light: tuple[Floats, ...],
    forms: Floats,
    inside: Trichroic,
    outside: Trichroic,
    axes: Floats,
) -> Floats:
    """As ``coloured``, for a stone whose colour depends on the direction in the crystal.

    ``axes`` (3, 3) are unit rows in the stone's frame, square to each other. Double refraction is
    left out, so light counts as unpolarised on every leg.
    """
    total = np.zeros((len(face.places), 3))
    part = np.empty_like(total)
    flat = not forms[:, :6].any()
    for band, paths, shine in zip(face.bands, face.paths, light, strict=True):
        per_mm = np.array([[dye.per_mm[band.part] for dye in dyes] for dyes in (inside, outside)])
        weights = np.ascontiguousarray(rgb_weights()[band.part])
        crystal = CrystalColours(axes, per_mm, weights)
        shade_crystal(paths.start, paths.points, shine, forms, flat, crystal, part)
        total += part
    return total


def split(paths: Paths, forms: Floats) -> tuple[Floats, Floats]:
    """The length (m,) mm of each ray up to each place, where ``forms`` are positive and
    elsewhere."""
    run_in, run_out = np.empty_like(paths.weight), np.empty_like(paths.weight)
    flat = not forms[:, :6].any()
    split_lengths(forms, flat, paths.start, paths.points, run_in, run_out)
    return run_in, run_out


def everywhere() -> Floats:
    """A form (1, 10) that is positive everywhere."""
    return np.array([[0.0] * (FORM - 1) + [1.0]])


def _runs(paths: Paths) -> Floats:
    return split(paths, everywhere())[0]
