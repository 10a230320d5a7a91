"""Real scans that nobody here made: each loads as a solid or is refused for what is wrong with it.

Apollo hand samples: NASA Johnson Space Center, Astromaterials 3D (CC0), decimated. Quarry stone:
IBOIS, EPFL (MIT). 216 Kleopatra: Ostro et al. 2004, NASA Planetary Data System. Coral: habtools,
Madin and Schiettekatte (MIT). Read in place; skipped where the folder is absent.
"""

from pathlib import Path

import numpy as np
import pytest
import trimesh

from optimizer.errors import InputError
from optimizer.rough import load_rough
from optimizer.solid import as_solid

SCANS = Path(__file__).parents[3] / "shared" / "meshes"
pytestmark = pytest.mark.skipif(not SCANS.is_dir(), reason="the folder of real scans is absent")

SOUND = {
    "01_apollo20.stl": "mm", "03_quarry_E22.ply": "m", "04_kleopatra.obj": "mm",
    **{f"apollo/apollo{n:02}.ply": "mm" for n in (1, 4, 6, 7, 9, 13, 19, 20, 21, 22)},
}  # fmt: skip
REFUSED = {
    "02_apollo11.obj": ("m", "15 open edges in 3 holes"),
    "05_coral_mcap.ply": ("m", "195 open edges in 1 hole"),
    "apollo/apollo02.ply": ("mm", "passes through itself: 11 pairs"),
    "apollo/apollo03.ply": ("mm", "passes through itself: 59 pairs"),
    "apollo/apollo05.ply": ("mm", "1 edge with more than two triangles"),
    "apollo/apollo11.ply": ("mm", "15 open edges in 3 holes"),
    "apollo/apollo14.ply": ("mm", "passes through itself: 83 pairs"),
    "apollo/apollo15.ply": ("mm", "84 open edges in 28 holes"),
    "apollo/apollo16.ply": ("mm", "passes through itself: 3 pairs"),
    "apollo/apollo17.ply": ("mm", "passes through itself: 89 pairs"),
    "apollo/apollo18.ply": ("mm", "21 open edges in 7 holes"),
}


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
    assert names == {*SOUND, *REFUSED}


@pytest.mark.parametrize("name", ["02_apollo11.obj", "03_quarry_E22.ply", "05_coral_mcap.ply"])
def test_scans_in_metres_are_not_taken_for_millimetres(name: str) -> None:
    with pytest.raises(InputError, match=r"no unit is stated.*with unit = in a rough file"):
        load_rough(SCANS / name)
