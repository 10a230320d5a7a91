"""A general physically based renderer (mitsuba, BSD-3-Clause) as a second opinion on the optics."""

from pathlib import Path

import mitsuba as mi
import numpy as np
import trimesh

from optimizer.mesh import Floats, Mesh

mi.set_variant("scalar_rgb")
_SKY_ROWS = 256  # of the picture of the sky: it blurs the horizon by less than a degree
_FAR = 10.0


def rendered(
    mesh: Mesh, stone2room: Floats, index: float, absorption: float, folder: Path,
    *, half: float, across: int, samples: int, sky_alone: bool = True, seed: int = 0,
) -> Floats:  # fmt: skip
    """Radiance (across, across), rows from the top, of a clear or evenly absorbing (per unit of
    length) body under surroundings of radiance 1, or 1 above the horizon and 0 below.

    Seen straight down over the square of side 2·``half`` about the room's axis. Each dot is the
    mean of ``samples`` random paths anywhere in it.
    """
    path = folder / "stone.ply"
    trimesh.Trimesh(mesh.vertices @ stone2room.T, mesh.faces, process=False).export(path)
    return np.array(mi.render(_scene(path, index, absorption, half, across, sky_alone),
                              spp=samples, seed=seed))[:, :, 0].astype(float)  # fmt: skip


def _scene(
    path: Path, index: float, absorption: float, half: float, across: int, sky_alone: bool
) -> mi.Scene:
    frame = mi.ScalarTransform4f
    down = frame().look_at(origin=[0, 0, _FAR], target=[0, 0, 0], up=[0, 1, 0])
    stone = {
        "type": "ply", "filename": str(path), "face_normals": True,
        "bsdf": {"type": "dielectric", "int_ior": index, "ext_ior": 1.0},
    }  # fmt: skip
    if absorption > 0.0:
        stone["interior"] = {"type": "homogeneous", "albedo": 0.0, "sigma_t": absorption}
    film = {
        "type": "hdrfilm", "width": across, "height": across, "rfilter": {"type": "box"},
        "pixel_format": "luminance", "component_format": "float32",
    }  # fmt: skip
    sensor = {
        "type": "orthographic", "to_world": down @ frame().scale([half, half, 1]), "film": film,
        "sampler": {"type": "multijitter"},
    }  # fmt: skip
    integrator = {"type": "volpath", "max_depth": 500, "rr_depth": 10000}
    around = _sky() if sky_alone else {"type": "constant", "radiance": 1.0}
    return mi.load_dict(
        {"type": "scene", "integrator": integrator, "sensor": sensor, "stone": stone, "sky": around}
    )


def _sky() -> dict[str, object]:
    """Radiance 1 above the horizon, the renderer's upward y turned to z."""
    rows = np.zeros((_SKY_ROWS, 2 * _SKY_ROWS, 3), np.float32)
    rows[: _SKY_ROWS // 2] = 1.0
    upright = mi.ScalarTransform4f().rotate([1, 0, 0], 90)
    return {"type": "envmap", "bitmap": mi.Bitmap(rows), "to_world": upright}
