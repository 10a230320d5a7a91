"""Make the demo rough: a two-colour quartz crystal section, as a scanner would see it.

    python scans/make_demo.py [FOLDER]

writes two-colour-quartz.ply and two-colour-quartz.toml into FOLDER, by default this one. The
crystal is invented, and the same on every run. It is a surface around one middle point: each
vertex lies on its own ray, so the mesh is closed and cannot cross itself.

Crystal frame: z up the prism from the sawn end to the broken one, x from corner to corner.
"""

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SG = 2.65  # from memory of the usual handbooks
WEIGHED_SHARE = 0.996  # the matt coating makes the scan a little larger than the piece
SEED = 20
DIVISIONS = 76  # of each icosahedron edge: 20·76² = 115,520 triangles
NOISE_MM = 0.015

# Prism faces: direction around z in degrees, distance from the middle in mm, lean in degrees
# (the prism tapers towards the broken end). Unequal, as in nature.
PRISM = (
    (28.0, 8.6, 1.6),
    (90.0, 7.4, 2.2),
    (151.0, 8.3, 1.4),
    (209.0, 8.4, 1.9),
    (270.0, 7.2, 1.5),
    (331.0, 8.7, 2.0),
)
SAWN_END = ((0.03, -0.02, -1.0), 10.5)  # outward direction and distance from the middle
BROKEN_END = (((0.0, 0.0, 1.0), 11.4), ((0.55, 0.2, 1.0), 10.6), ((-0.35, -0.6, 1.0), 11.0))
BROKEN_RELIEF_MM = 0.5

# Chips on edges and corners: direction from the middle, depth in mm, radius in mm of the round
# bite taken out.
CHIPS = (
    ((1.0, 0.05, 0.45), 0.7, 4.5),
    ((-1.0, -0.02, -0.95), 1.1, 4.0),
    ((0.49, 0.87, -0.35), 0.5, 6.0),
    ((-0.5, 0.86, 0.8), 0.8, 4.4),
    ((0.5, -0.86, 0.65), 0.6, 3.6),
    ((-0.45, -0.9, -0.1), 0.9, 5.5),
)

# The colours meet in a plane that runs from end to end: nearly along z and nearly square to x.
SPLIT_NORMAL = (1.0, 0.05, 0.035)  # towards violet
SPLIT_POINT = (0.4, 0.0, 0.0)

# How the piece happened to lie on the scanner's table: turns about z, x, y, then a shift.
TURNS_DEG = (24.0, 7.0, -4.0)
SHIFT_MM = (31.5, -12.25, 48.0)


def sphere(divisions: int) -> tuple[Floats, Ints]:
    """Unit directions (n, 3) and outward triangles (m, 3): an icosahedron, each face divided."""
    golden = (1.0 + 5.0**0.5) / 2.0
    signs = [(a, b) for a in (1.0, -1.0) for b in (golden, -golden)]
    corners = np.array([np.roll((0.0, a, b), turn) for turn in range(3) for a, b in signs])
    gaps = np.linalg.norm(corners[:, None] - corners[None], axis=2)
    near = np.isclose(gaps, 2.0)
    faces = [
        (i, j, k) if np.linalg.det(corners[[i, j, k]]) > 0 else (i, k, j)
        for i in range(12)
        for j in range(i + 1, 12)
        for k in range(j + 1, 12)
        if near[i, j] and near[j, k] and near[i, k]
    ]
    points, triangles = divide_corner_face(divisions)
    every = np.concatenate([points @ corners[list(face)] for face in faces])
    which = np.concatenate([triangles + len(points) * n for n in range(len(faces))])
    _, first, home = np.unique(every.round(9), axis=0, return_index=True, return_inverse=True)
    kept = every[first]
    return kept / np.linalg.norm(kept, axis=1, keepdims=True), home.reshape(-1)[which]


def divide_corner_face(divisions: int) -> tuple[Floats, Ints]:
    """One face cut into ``divisions``² small ones: barycentric points (p, 3), triangles (t, 3)."""
    rows = range(divisions + 1)
    steps = [(divisions - i - j, i, j) for i in rows for j in range(divisions + 1 - i)]
    at = {step[1:]: number for number, step in enumerate(steps)}
    up = [(at[i, j], at[i + 1, j], at[i, j + 1]) for i, j in at if i + j < divisions]
    down = [(at[i + 1, j], at[i + 1, j + 1], at[i, j + 1]) for i, j in at if i + j < divisions - 1]
    return np.array(steps, float) / divisions, np.array(up + down, np.int64)


def reach_of_plane(rays: Floats, normal: Floats, distance: float | Floats) -> Floats:
    """How far along each ray the plane lies, (n,); infinite where the ray never meets it."""
    towards = rays @ (normal / np.linalg.norm(normal))
    with np.errstate(divide="ignore"):
        return np.where(towards > 1e-9, distance / np.maximum(towards, 1e-9), np.inf)


def reach_of_chip(rays: Floats, deepest: Floats, radius: float) -> Floats:
    """How far along each ray a round bite begins, (n,), that comes down to the point ``deepest``;
    infinite where the ray misses it."""
    middle = deepest * (1.0 + radius / np.linalg.norm(deepest))
    along = rays @ middle
    inside = along**2 - middle @ middle + radius**2
    return np.where((inside > 0) & (along > 0), along - np.sqrt(np.maximum(inside, 0)), np.inf)


def relief(rays: Floats, generator: np.random.Generator) -> Floats:
    """A rough, fracture-like height between about −1 and 1 for each ray, (n,)."""
    height = np.zeros(len(rays))
    for octave in range(5):
        waves = generator.normal(size=(6, 3)) * 4.0 * 1.8**octave
        phases = generator.uniform(0.0, 2.0 * np.pi, 6)
        height += 0.6**octave * np.sin(rays @ waves.T + phases).mean(axis=1)
    return height / np.abs(height).max()


def prism_normal(around_deg: float, lean_deg: float) -> Floats:
    around, lean = np.radians([around_deg, lean_deg])
    return np.array([np.cos(around) * np.cos(lean), np.sin(around) * np.cos(lean), np.sin(lean)])


def reach_unchipped(rays: Floats, rubble: Floats | float) -> Floats:
    """How far the prism between its two ends reaches along each ray, in mm, (n,)."""
    reaches = [
        reach_of_plane(rays, prism_normal(around, lean), distance)
        for around, distance, lean in PRISM
    ]
    reaches.append(reach_of_plane(rays, np.array(SAWN_END[0]), SAWN_END[1]))
    reaches += [reach_of_plane(rays, np.array(n), d + rubble) for n, d in BROKEN_END]
    return np.min(reaches, axis=0)


def crystal_reach(rays: Floats, generator: np.random.Generator) -> Floats:
    """How far the crystal reaches along each ray from its middle, in mm, (n,)."""
    reaches = [reach_unchipped(rays, BROKEN_RELIEF_MM * relief(rays, generator))]
    for direction, depth, radius in CHIPS:
        ray = np.array(direction) / np.linalg.norm(direction)
        deepest = ray * (reach_unchipped(ray[None], 0.0) - depth)
        reaches.append(reach_of_chip(rays, deepest, radius))
    return np.min(reaches, axis=0) + generator.normal(0.0, NOISE_MM, len(rays))


def crystal2scan() -> tuple[Floats, Floats]:
    """Rotation (3, 3) and shift (3,): x_scan = shift + rotation·x_crystal."""
    a, b, c = np.radians(TURNS_DEG)
    about_z = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    about_x = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    about_y = np.array([[np.cos(c), 0, np.sin(c)], [0, 1, 0], [-np.sin(c), 0, np.cos(c)]])
    return about_y @ about_x @ about_z, np.array(SHIFT_MM)


def make_crystal(divisions: int = DIVISIONS) -> tuple[Floats, Ints]:
    """The scan: vertices (n, 3) in mm in the scan frame, outward triangles (m, 3)."""
    rays, faces = sphere(divisions)
    reach = crystal_reach(rays, np.random.default_rng(SEED))
    rotation, shift = crystal2scan()
    return (reach[:, None] * rays) @ rotation.T + shift, faces


def volume_mm3(vertices: Floats, faces: Ints) -> float:
    corners = vertices[faces] - vertices.mean(axis=0)
    return float(np.linalg.det(corners).sum() / 6.0)


def ply(vertices: Floats, faces: Ints) -> bytes:
    """A binary PLY with single-precision coordinates."""
    header = (
        "ply\nformat binary_little_endian 1.0\n"
        "comment an invented crystal, made by make_demo.py; millimetres\n"
        f"element vertex {len(vertices)}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    rows = np.empty(len(faces), np.dtype([("count", "u1"), ("corners", "<i4", 3)]))
    rows["count"], rows["corners"] = 3, faces
    return header.encode() + vertices.astype("<f4").tobytes() + rows.tobytes()


def numbers(values: Floats, places: int) -> str:
    return "[" + ", ".join(f"{v:.{places}f}" for v in values) + "]"


def rough_file(carat: float) -> str:
    """What is known about the piece beside its scan, in the scan frame."""
    rotation, shift = crystal2scan()
    split = np.array(SPLIT_NORMAL) / np.linalg.norm(SPLIT_NORMAL)
    sawn = np.array(SAWN_END[0]) / np.linalg.norm(SAWN_END[0])
    return f"""\
# The demo piece, invented: a natural two-colour quartz crystal section, one end sawn, one broken.
# Points and directions are in the scan's own frame; written by make_demo.py.

scan = "two-colour-quartz.ply"
unit = "mm"
material = "quartz"
weighed_ct = {WEIGHED_SHARE * carat:.1f}
scan_error_mm = 0.05
optic_axis = {numbers(rotation[:, 2], 5)}

[[zones]]
name = "split"
point_mm = {numbers(shift + rotation @ np.array(SPLIT_POINT), 3)}
normal = {numbers(rotation @ split, 5)}
towards = {{ colour = "violet", srgb = "#8a5cc2", shows_at_mm = 12.0 }}
away = {{ colour = "yellow", srgb = "#e8b83a", shows_at_mm = 12.0 }}

[[reference_faces]]
name = "sawn end"
point_mm = {numbers(shift + rotation @ (SAWN_END[1] * sawn), 3)}
normal = {numbers(rotation @ sawn, 5)}
"""


def main(folder: Path) -> None:
    vertices, faces = make_crystal()
    (folder / "two-colour-quartz.ply").write_bytes(ply(vertices, faces))
    carat = volume_mm3(vertices, faces) * SG / 200.0
    text = rough_file(carat)
    (folder / "two-colour-quartz.toml").write_text(text, encoding="utf-8")
    print(f"{len(faces)} triangles, {carat:.2f} ct")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
