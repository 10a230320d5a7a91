"""The observer's table, sRGB and CIELAB beside a library of colour science (colour-science)."""

import warnings

import numpy as np
import pytest

from optimizer.colours import apart, decoded, encoded, lab
from optimizer.optics.dye import Sample, dye_of
from optimizer.optics.make_observer import FILE
from optimizer.optics.observer import rgb_weights, wavelengths


@pytest.fixture(scope="module")
def colour():
    """The library, whose import warns of what else might be installed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


@pytest.fixture(scope="module")
def table():
    return np.loadtxt(FILE, delimiter=",", comments="#")


SOME = np.random.default_rng(7).uniform(0.02, 1.0, (200, 3))
D65 = (0.3127, 0.3290)  # IEC 61966-2-1


def test_observer_and_daylight_are_the_standards(colour, table):
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    daylight = colour.SDS_ILLUMINANTS["D65"]
    theirs = [[*observer[nm], daylight[nm]] for nm in table[:, 0]]
    np.testing.assert_allclose(table[:, 1:], theirs, rtol=1e-9)


def test_srgb_is_the_standards(colour):
    np.testing.assert_allclose(encoded(SOME), colour.cctf_encoding(SOME), atol=1e-12)
    np.testing.assert_allclose(decoded(SOME), colour.cctf_decoding(SOME), atol=1e-12)


def test_lab_and_its_distance_are_the_standards(colour):
    """Theirs takes white from D65's rounded chromaticity, ours from the matrix's own white."""
    theirs = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(SOME, apply_cctf_decoding=False), D65)
    np.testing.assert_allclose(lab(SOME), theirs, atol=0.05)
    np.testing.assert_allclose(
        apart(SOME[:100], SOME[100:]),
        colour.delta_E(theirs[:100], theirs[100:], method="CIE 1976"), atol=0.05,
    )  # fmt: skip


def test_a_spectrum_shows_the_colour_that_the_library_sees(colour, table):
    """Of Gaussian dips of many places and breadths, through XYZ and the library's own sRGB."""
    nm = wavelengths()
    for middle, breadth in ((450.0, 30.0), (530.0, 60.0), (580.0, 40.0), (650.0, 80.0)):
        through = 1.0 - 0.8 * np.exp(-(((nm - middle) / breadth) ** 2))
        weights = table[:, 1:4] * table[:, 4:5]
        xyz = through @ weights / weights[:, 1].sum()
        theirs = colour.XYZ_to_sRGB(xyz, apply_cctf_encoding=False)
        np.testing.assert_allclose(through @ rgb_weights(), theirs, atol=2e-3)


@pytest.mark.parametrize("srgb", [(0.56, 0.38, 0.82), (0.95, 0.75, 0.2), (0.1, 0.5, 0.3)])
@pytest.mark.parametrize("mm", [0.5, 5.0])
def test_a_dye_shows_its_colour_by_the_newer_measure_too(colour, srgb, mm):
    """CIEDE2000 (ISO/CIE 11664-6) below 1."""
    shown = encoded(dye_of([Sample(srgb, mm)]).colour(mm))
    labs = [colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.array(one)), D65) for one in (shown, srgb)]
    assert colour.delta_E(*labs, method="CIE 2000") < 1.0
