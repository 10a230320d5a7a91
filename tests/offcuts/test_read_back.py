"""What a plan keeps is read back as it was sawn: from folded scans, from surfaces that touch
themselves, and from readings with two points almost in one place."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapes
from placed_stones import box_body, placement_of, rough_of

from benchmarks.damaged_meshes import torus
from optimizer.errors import AuditError
from optimizer.mesh import Mesh
from optimizer.offcuts.piece_rough import offcut_rough
from optimizer.order import Workshop
from optimizer.rough import load_rough
from optimizer.rough.formats.scan import Scan
from optimizer.rough.measured.slab import upright
from optimizer.rough.repair.edges import closed
from optimizer.rough.repair.solidify import make_solid
from optimizer.rough.rough_file import save
from optimizer.rough.rough_file.save import save_rough
from optimizer.sawing import saw_plan

SHOP = replace(Workshop(), keep_offcut_ct=0.3)


def folded() -> Mesh:
    return shapes.pebble(9, subdivisions=4, noise_mm=0.3)


def one_corner_on_another() -> Mesh:
    ring = torus(8, 5)
    points = ring.vertices.copy()
    points[2] = points[22]
    return Mesh(points, ring.faces)


def almost_the_same_point_twice() -> Mesh:
    outline = [(0, 0), (20, 0), (20.000001, 0.000001), (22, 14), (8, 17), (-1, 9)]
    return upright(np.array(outline, float), 9.0)


@pytest.mark.parametrize(
    ("make", "place"),
    [
        (folded, (0.0, 0.0, 0.0)),
        (one_corner_on_another, (8.0, 0.0, 0.0)),
        (almost_the_same_point_twice, (9.0, 8.0, 4.5)),
    ],
)
def test_pieces_and_offcuts_are_read_back(
    make: Callable[[], Mesh], place: tuple[float, float, float], tmp_path: Path
) -> None:
    mesh = make()
    solid = make_solid(Scan(mesh.vertices, mesh.faces), 1.0, "piece.ply").mesh
    rough = rough_of(solid)
    plan, _ = saw_plan(rough, placement_of(box_body(), 2.0, at=place), SHOP)
    kept = [offcut_rough(rough, plan, offcut) for offcut in plan.offcuts]
    pieces = [replace(rough, mesh=piece.mesh) for piece in plan.pieces]
    assert len(kept) >= 2
    for number, one in enumerate([*kept, *pieces]):
        assert closed(one.mesh)
        assert len(np.unique(one.mesh.vertices, axis=0)) == len(one.mesh.vertices)
        save_rough(one, tmp_path / f"{number}.toml")
        again = load_rough(tmp_path / f"{number}.toml")
        assert again.repairs == ()
        assert again.mesh.vertices.tobytes() == one.mesh.vertices.tobytes()
        assert again.mesh.faces.tobytes() == one.mesh.faces.tobytes()
        assert again.scan_error_mm == one.scan_error_mm
        assert [face.name for face in again.reference_faces] == [
            face.name for face in one.reference_faces
        ]


def test_another_solid_read_back_than_written_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rough, real = rough_of(shapes.box((3.0, 2.0, 1.0))), save.write_solid
    monkeypatch.setattr(
        save,
        "write_solid",
        lambda path, mesh: real(path, replace(mesh, vertices=mesh.vertices * 2)),
    )
    with pytest.raises(AuditError, match=r"^piece\.toml: another piece was read back"):
        save_rough(rough, tmp_path / "piece.toml")


def test_a_file_that_cannot_be_read_back_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(save, "write_solid", lambda path, mesh: path.write_bytes(b"ply\n"))
    with pytest.raises(AuditError, match=r"^a file that was written can't be read back: .*piece"):
        save_rough(rough_of(shapes.box((3.0, 2.0, 1.0))), tmp_path / "piece.toml")
