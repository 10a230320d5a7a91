"""scene.glb: the named layers as one binary glTF 2.0 file, whose unit is the metre."""

from typing import Any

import numpy as np

from optimizer.view.layer import ColouredMesh, Layer, rgb

METRES_PER_MM = 0.001


def scene_glb(layers: tuple[Layer, ...]) -> bytes:
    """One node for each mesh or set of lines, named after its layer; lengths in metres."""
    import trimesh

    scene = trimesh.Scene()
    for layer in layers:
        for index, part in enumerate(layer.parts):
            name = f"{layer.key}/{index + 1}"
            scene.add_geometry(_mesh(part, layer.opacity), geom_name=name, node_name=name)
        for index, lines in enumerate(layer.lines):
            name = f"{layer.key}/lines-{index + 1}"
            path = trimesh.load_path(lines.ends * METRES_PER_MM)
            path.colors = np.tile([*rgb(lines.colour), 255], (len(path.entities), 1))
            scene.add_geometry(path, geom_name=name, node_name=name)
    return bytes(scene.export(file_type="glb"))


def _mesh(part: ColouredMesh, opacity: float) -> Any:
    import trimesh

    alpha = np.full((len(part.colours), 1), round(255 * opacity), np.uint8)
    return trimesh.Trimesh(
        part.mesh.vertices * METRES_PER_MM,
        part.mesh.faces,
        vertex_colors=np.hstack([part.colours, alpha]),
        process=False,
    )
