"""Rotations: even covers of SO(3) and small turns."""

import numpy as np

from optimizer.mesh import Floats, cross, square_to

IDENTITY = np.eye(3)
SUPER_FIBONACCI_PHI = np.sqrt(2.0)
SUPER_FIBONACCI_PSI = 1.533751168755204288118041  # the positive root of ψ⁴ = ψ + 4


def from_quaternions(q: Floats) -> Floats:
    """Rotation matrices of unit quaternions (x, y, z, w): (n, 4) -> (n, 3, 3)."""
    x, y, z, w = q.T
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    return np.ascontiguousarray(np.moveaxis(np.array(rows), 2, 0))


def even_rotations(count: int) -> Floats:
    """``count`` rotations that cover SO(3) evenly, (count, 3, 3).

    Super-Fibonacci spirals: Alexa, Super-Fibonacci Spirals: Fast, Low-Discrepancy Sampling of
    SO(3), CVPR 2022.
    """
    s = np.arange(count) + 0.5
    low, high = np.sqrt(s / count), np.sqrt(1.0 - s / count)
    alpha, beta = 2 * np.pi * s / SUPER_FIBONACCI_PHI, 2 * np.pi * s / SUPER_FIBONACCI_PSI
    q = [low * np.sin(alpha), low * np.cos(alpha), high * np.sin(beta), high * np.cos(beta)]
    return from_quaternions(np.array(q).T)


def random_rotation(seed: int) -> Floats:
    """A uniformly random rotation, (3, 3) (Shoemake 1992: a normal 4-vector, normalised)."""
    q = np.random.default_rng(seed).normal(size=(1, 4))
    return np.asarray(from_quaternions(q / np.linalg.norm(q))[0])


def aimed_rotations(
    normal: Floats, tilt: tuple[float, float], azimuth: tuple[float, float], count: int, seed: int
) -> Floats:
    """Rotations that bring a stone-frame direction within ranges of tilt and azimuth (radians)
    onto the scan direction ``normal``, evenly in direction and spin, (count, 3, 3)."""
    # The R3 sequence: multiples of the powers of the root of x⁴ = x + 1, modulo 1.
    root = 1.2207440846057594759753616853491
    start = np.random.default_rng(seed).random(3)
    steps = root ** -np.arange(1.0, 4.0)
    unit: Floats = (start + np.outer(np.arange(count), steps)) % 1.0
    low, high = np.sin(tilt)
    z = low + (high - low) * unit[:, 0]
    angle = azimuth[0] + (azimuth[1] - azimuth[0]) * unit[:, 1]
    flat = np.sqrt(np.maximum(1.0 - z * z, 0.0))
    directions = np.column_stack([flat * np.cos(angle), flat * np.sin(angle), z])
    onto = turning_z_to(normal)
    spins = 2.0 * np.pi * unit[:, 2]
    return np.ascontiguousarray(
        [
            onto @ turn(np.array([0.0, 0.0, spin])) @ turning_z_to(direction).T
            for direction, spin in zip(directions, spins, strict=True)
        ]
    )


def one_of_each_orbit(rotations: Floats, group: Floats) -> Floats:
    """Keep one rotation of each orbit R·G: the one that turns least. (n, 3, 3), (q, 3, 3)."""
    traces: Floats = np.einsum("nij,qji->nq", rotations, group)
    # A relative tolerance keeps the border of the zone, where several turn equally little.
    return np.asarray(rotations[traces[:, 0] >= traces.max(axis=1) - 1e-12])


def turn(vector: Floats) -> Floats:
    """The rotation by |vector| radians about ``vector`` (Rodrigues), (3,) -> (3, 3)."""
    x, y, z = vector
    angle = float(np.sqrt(x * x + y * y + z * z))
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    if angle < 1e-8:  # the series, accurate to the last bit here
        first, second = 1.0, 0.5
    else:
        first, second = np.sin(angle) / angle, (1.0 - np.cos(angle)) / angle**2
    return np.asarray(IDENTITY + first * cross + second * (cross @ cross))


def orthonormal(matrix: Floats) -> Floats:
    """The nearest proper rotation (polar factor), to stop rounding from adding up."""
    u, _, vt = np.linalg.svd(matrix)
    return np.asarray(u @ np.diag([1.0, 1.0, np.linalg.det(u @ vt)]) @ vt)


def turning_z_to(direction: Floats) -> Floats:
    """A rotation that carries the z axis to the unit ``direction``, (3,) -> (3, 3)."""
    d = np.asarray(direction, float)
    x = -square_to(d)
    return np.column_stack([x, cross(d, x), d])
