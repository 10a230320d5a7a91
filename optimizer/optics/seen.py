"""A body's face made ready for figures: traced upright in one band, under an open sky."""

import numpy as np

from optimizer.design.model import Body
from optimizer.materials import Material
from optimizer.optics.dye import Dye
from optimizer.optics.eye import frame_of, mirrored_lattice
from optimizer.optics.face import Face, face_of, lit
from optimizer.optics.lights import LIGHTS
from optimizer.optics.plane_shares import PlaneShares
from optimizer.optics.refraction import index_at
from optimizer.optics.shading import bands

PLACES = 8000  # of the face: share and balance are then within 0.01 or so of many more places'
LEAST = 1e-3  # what is left of a ray after that tells nothing of these figures


def face_up(
    body: Body, width: float, material: Material, *, turned: np.ndarray | None = None,
    places: int = PLACES,
) -> Face:  # fmt: skip
    """The face of ``body``, ``width`` mm wide, ``turned`` (3, 3) stone to room where it is rocked.

    Raises InputError where the species has no refractive index listed.
    """
    turned = np.eye(3) if turned is None else turned
    low, high = frame_of(body.vertices_at(width), turned)
    (band,) = bands(1)
    return face_of(
        body.normals, body.offsets_at(width), (index_at(material, band.nm),), (band,),
        mirrored_lattice(low, high, places), turned, least=LEAST,
    )  # fmt: skip


def plane_shares(face: Face, towards: Dye, away: Dye) -> PlaneShares:
    """``face`` made ready for flat boundaries."""
    (light,) = lit(face, LIGHTS["open sky"])
    return PlaneShares.of(face, light, towards, away)
