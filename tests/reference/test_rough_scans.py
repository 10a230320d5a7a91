"""Real scans that nobody here made: each loads as a solid or is refused for what is wrong with it.

Apollo hand samples: NASA Johnson Space Center, Astromaterials 3D (CC0), decimated. Quarry stone:
IBOIS, EPFL (MIT). 216 Kleopatra: Ostro et al. 2004, NASA Planetary Data System. Coral: habtools,
Madin and Schiettekatte (MIT). Read in place; skipped where the folder is absent.
"""

from pathlib import Path

import numpy as np
import pytest
import trimesh
from solids import winding_number

from optimizer.errors import InputError
from optimizer.rough import load_rough
from optimizer.rough.formats.read import read_scan
from optimizer.rough.repair.crossing import crossing_pairs
from optimizer.solid import as_solid

SCANS = Path(__file__).parents[3] / "shared" / "meshes"
pytestmark = pytest.mark.skipif(not SCANS.is_dir(), reason="the folder of real scans is absent")

SOUND = {
    "01_apollo20.stl": "mm", "03_quarry_E22.ply": "m", "04_kleopatra.obj": "mm",
    **{f"apollo/apollo{n:02}.ply": "mm" for n in (1, 4, 6, 7, 9, 13, 19, 20, 21, 22)},
}  # fmt: skip
MENDED = {  # name: unit, pairs of triangles that cross, holes
    "apollo/apollo02.ply": ("mm", "11", ""),
    "apollo/apollo03.ply": ("mm", "59", ""),
    "apollo/apollo05.ply": ("mm", "549", ""),
    "apollo/apollo11.ply": ("mm", "2,9", "4 holes filled"),
    "apollo/apollo14.ply": ("mm", "83", ""),
    "apollo/apollo15.ply": ("mm", "227", "56 duplicate triangles left out"),
    "apollo/apollo16.ply": ("mm", "3", ""),
    "apollo/apollo17.ply": ("mm", "89", ""),
    "apollo/apollo18.ply": ("mm", "128", "14 duplicate triangles left out"),
}
TWICE = {"02_apollo11.obj": "apollo/apollo11.ply"}  # in m, and in mm
REFUSED = {"05_coral_mcap.ply": ("m", "195 open edges in 1 hole")}  # no base was scanned


@pytest.mark.parametrize("name", SOUND)
def test_sound_scans_load_as_solids(name: str) -> None:
    rough = load_rough(SCANS / name, unit=SOUND[name])
    theirs = trimesh.load_mesh(SCANS / name, process=True, merge_tex=True, merge_norm=True)
    assert theirs.is_watertight
    assert rough.volume_mm3 == pytest.approx(abs(theirs.volume) * rough.mm_per_unit**3, rel=1e-6)
    assert as_solid(rough.mesh).volume() == pytest.approx(rough.volume_mm3, rel=1e-9)
    np.testing.assert_allclose(
        np.ptp(rough.mesh.vertices, axis=0), theirs.extents * rough.mm_per_unit, rtol=1e-7
    )


@pytest.mark.parametrize("name", MENDED)
def test_folded_scans_become_solids(name: str) -> None:
    """The robust kernel calls each a solid, of the volume that the old surface winds round at least
    once: counted at random places by the solid angles of the scan's own triangles."""
    unit, pairs, also = MENDED[name]
    rough = load_rough(SCANS / name, unit=unit)
    said = [repair.sentence for repair in rough.repairs]
    assert any(s.startswith(f"folds in which {pairs}") for s in said), said
    assert any(s.startswith(also) for s in said), said
    assert not rough.watertight_as_read
    assert as_solid(rough.mesh).volume() == pytest.approx(rough.volume_mm3, rel=1e-9)
    size = float(np.ptp(rough.mesh.vertices, axis=0).max())
    assert all(repair.moved_mm <= 0.02 * size for repair in rough.repairs)
    assert len(crossing_pairs(rough.mesh, 1e-13 * size)) == 0
    theirs = trimesh.load_mesh(SCANS / name, process=True, merge_tex=True, merge_norm=True)
    old = theirs.triangles * rough.mm_per_unit
    low, high = rough.mesh.vertices.min(axis=0), rough.mesh.vertices.max(axis=0)
    for p in np.random.default_rng(5).uniform(low, high, (150, 3)):
        before, after = winding_number(old, p), winding_number(rough.mesh.triangles, p)
        if abs(before - round(before)) < 0.01:  # else near a hole of the old surface
            assert round(after) == (round(before) >= 1), p


@pytest.mark.parametrize("name", REFUSED)
def test_faulty_scans_are_refused_for_their_fault(name: str) -> None:
    unit, said = REFUSED[name]
    with pytest.raises(InputError) as error:
        load_rough(SCANS / name, unit=unit)
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_every_scan_of_the_folder_is_covered() -> None:
    names = {
        str(p.relative_to(SCANS)) for p in SCANS.rglob("*") if p.suffix in (".stl", ".ply", ".obj")
    }
    assert names == {*SOUND, *MENDED, *TWICE, *REFUSED}


@pytest.mark.parametrize("name", TWICE)
def test_a_scan_in_metres_is_the_one_in_millimetres(name: str) -> None:
    scans = [read_scan(SCANS / each) for each in (name, TWICE[name])]
    middles = [np.sort(scan.vertices[scan.faces].mean(axis=1), axis=0) for scan in scans]
    np.testing.assert_allclose(1000.0 * middles[0], middles[1], atol=1e-5)


@pytest.mark.parametrize("name", ["02_apollo11.obj", "03_quarry_E22.ply", "05_coral_mcap.ply"])
def test_scans_in_metres_are_not_taken_for_millimetres(name: str) -> None:
    with pytest.raises(InputError, match=r"no unit is stated.*unit = in a rough file"):
        load_rough(SCANS / name)
