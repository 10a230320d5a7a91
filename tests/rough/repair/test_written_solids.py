"""What is written is read back as it was, to the last bit, whatever the ladder would say of it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapes import box, dented, hollow, icosphere, pebble

from optimizer.errors import InputError
from optimizer.mesh import Mesh, Plane, volume
from optimizer.rough import load_rough, write_ply
from optimizer.rough.formats.ply import write_solid
from optimizer.rough.formats.read import read_scan
from optimizer.rough.formats.scan import Scan
from optimizer.rough.repair.edges import closed, edges_of
from optimizer.rough.repair.solidify import MendedSolid, make_solid
from optimizer.rough.repair.touching import one_surface, part_touching
from optimizer.rough.rough_file.save import save_rough
from optimizer.solid import as_solid, saw


def solid_of(mesh: Mesh) -> MendedSolid:
    return make_solid(Scan(mesh.vertices, mesh.faces), 1.0, "s.ply")


def spiked() -> Mesh:
    """A ball with a spike, which the ladder takes off."""
    ball = icosphere(10.0, 3)
    points = ball.vertices.copy()
    points[7] *= 2.0
    return Mesh(points, ball.faces)


def test_a_sealed_solid_is_taken_as_it_is(tmp_path: Path) -> None:
    write_ply(tmp_path / "plain.ply", spiked())
    write_solid(tmp_path / "sealed.ply", spiked())
    plain, sealed = (load_rough(tmp_path / f"{name}.ply") for name in ("plain", "sealed"))
    assert "1 spike taken off" in plain.repairs[0].sentence
    assert sealed.repairs == ()
    assert sealed.mesh.vertices.tobytes() == spiked().vertices.tobytes()
    assert sealed.mesh.faces.tobytes() == spiked().faces.tobytes()


def test_a_seal_breaks_with_the_least_change(tmp_path: Path) -> None:
    path = tmp_path / "solid.ply"
    write_solid(path, spiked())
    assert read_scan(path).sealed
    data = path.read_bytes()
    low_bit = data.index(b"end_header\n") + len(b"end_header\n")
    for place in (low_bit, len(data) - 4, data.index(b"millimetres")):
        changed = data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :]
        path.write_bytes(changed)
        assert not read_scan(path).sealed


def test_a_sealed_solid_is_in_millimetres_however_small(tmp_path: Path) -> None:
    """A crumb that a cut leaves is written too."""
    crumb = box((0.05, 0.04, 0.03))
    write_solid(tmp_path / "crumb.ply", crumb)
    assert load_rough(tmp_path / "crumb.ply").mesh.vertices.tobytes() == crumb.vertices.tobytes()
    with pytest.raises(InputError, match=r"kerfwise wrote it in millimetres, 1 mm, but 25\.4 mm"):
        load_rough(tmp_path / "crumb.ply", unit="in")


def test_what_is_no_closed_surface_gets_no_seal(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="not every edge has two triangles"):
        write_solid(tmp_path / "open.ply", Mesh(box().vertices, box().faces[1:]))
    assert not list(tmp_path.iterdir())


def test_a_hollow_of_a_sealed_solid_is_doubted_as_ever(tmp_path: Path) -> None:
    write_solid(tmp_path / "hollow.ply", hollow(icosphere(10.0, 2), icosphere(2.0, 1)))
    rough = load_rough(tmp_path / "hollow.ply")
    assert rough.repairs == ()
    assert any("the scan shows 1 hollow" in warning for warning in rough.warnings)


def test_the_scan_error_stays_what_it_was(tmp_path: Path) -> None:
    """A scan of few digits: what that adds to its error is not added again."""
    stone = dented(3, subdivisions=4)
    write_ply(tmp_path / "coarse.ply", Mesh(stone.vertices.round(1), stone.faces))
    rough = load_rough(tmp_path / "coarse.ply")
    assert rough.scan_error_mm > 0.1
    save_rough(replace(rough, reference_faces=()), tmp_path / "again.toml")
    assert load_rough(tmp_path / "again.toml").scan_error_mm == rough.scan_error_mm


@pytest.mark.parametrize("seed", [8, 9])
def test_pieces_of_a_folded_scan_have_one_vertex_a_place(seed: int, tmp_path: Path) -> None:
    """The kernel gives two where folds end and the surface touches itself in a point."""
    stone = pebble(seed, subdivisions=4, noise_mm=0.3)
    rough = solid_of(stone)
    assert any(repair.sentence.startswith("folds") for repair in rough.repairs)
    for number, piece in enumerate(saw(rough.mesh, Plane(np.array([0.0, 0.6, 0.8]), 0.5), 0.3)):
        mesh = one_surface(piece)
        assert len(np.unique(mesh.vertices, axis=0)) == len(mesh.vertices) < len(piece.vertices)
        write_solid(tmp_path / f"{number}.ply", mesh)
        again = load_rough(tmp_path / f"{number}.ply")
        assert again.repairs == ()
        assert again.mesh.vertices.tobytes() == mesh.vertices.tobytes()


def pinched(turn: float) -> Mesh:
    """A ring of seven cubes about a missing one, with one more missing at a corner, so that the
    first and the last touch along an edge; turned about it."""
    cells = {(1, 0), (2, 0), (2, 1), (2, 2), (1, 2), (0, 2), (0, 1)}
    faces = []
    for x, y in cells:
        rim = [(x, y), (x + 1, y), (x + 1, y + 1), (x, y + 1)]
        a, b, c, d = (8 * i + 2 * j for i, j in rim)
        faces += [[a, c, b], [a, d, c], [a + 1, b + 1, c + 1], [a + 1, c + 1, d + 1]]
        for k, (i, j) in enumerate([(0, -1), (1, 0), (0, 1), (-1, 0)]):
            if (x + i, y + j) not in cells:
                p, q = (8 * i + 2 * j for i, j in (rim[k], rim[(k + 1) % 4]))
                faces += [[p, q, q + 1], [p, q + 1, p + 1]]
    grid = np.array([(x, y, z) for x in range(4) for y in range(4) for z in (0, 1)], float)
    c, s = np.cos(turn), np.sin(turn)
    return Mesh(
        3.0 * grid @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]), np.array(faces)
    )


@pytest.mark.parametrize("turn", [0.0, 1.0])
def test_an_edge_of_four_triangles_is_parted(turn: float) -> None:
    ring = pinched(turn)
    assert (edges_of(ring).count == 4).sum() == 1
    solid = solid_of(ring)
    assert closed(solid.mesh)
    assert "1 edge at which the surface touches itself parted" in solid.repairs[-1].sentence
    assert 0.0 < solid.repairs[-1].moved_mm < 1e-4
    assert volume(ring) - 1e-3 < volume(solid.mesh) < volume(ring)
    assert as_solid(solid.mesh).volume() == pytest.approx(volume(solid.mesh), rel=1e-9)
    assert part_touching(solid.mesh).mesh is solid.mesh


def test_a_body_that_touches_another_in_an_edge_is_still_a_second_one() -> None:
    one = box((4.0, 4.0, 4.0))
    both = Mesh(
        np.vstack([one.vertices, one.vertices + np.array([4.0, 4.0, 0.0])]),
        np.vstack([one.faces, one.faces + 8]),
    )
    with pytest.raises(InputError, match="2 bodies"):
        solid_of(both)
