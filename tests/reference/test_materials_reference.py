"""The species table against closed forms and published dispersion equations."""

import math

import pytest
from species import critical_angle_deg

from optimizer.trade.materials import load_material

# Derived from Snell's law, sin(critical) = 1/n, to four decimals of a degree.
CRITICAL_ANGLES = [
    (1.434, 44.2148),
    (1.544, 40.3660),
    (1.577, 39.3544),
    (1.762, 34.5786),
    (2.150, 27.7177),
    (2.417, 24.4397),
]

# Fraunhofer lines D, B and G, wavelengths in µm (common textbook values).
LINE_D, LINE_B, LINE_G = 0.58930, 0.68672, 0.43080

# n² − 1 = constant + Σ B λ²/(λ² − C²), λ in µm, as (constant, ((B, C²), ...)).
# Source: refractiveindex.info database (CC0); the papers are named there and here.
# Malitson and Dodge, sapphire, ordinary and extraordinary ray
SAPPHIRE_O = (
    0.0,
    ((1.4313493, 0.0726631**2), (0.65054713, 0.1193242**2), (5.3414021, 18.028251**2)),
)
SAPPHIRE_E = (
    0.0,
    ((1.5039759, 0.0740288**2), (0.55069141, 0.1216529**2), (6.5927379, 20.072248**2)),
)
# Peter 1923, diamond
DIAMOND = (0.0, ((0.3306, 0.1750**2), (4.3356, 0.1060**2)))
# Malitson, fluorite
FLUORITE = (
    0.0,
    ((0.5675888, 0.050263605**2), (0.4710914, 0.1003909**2), (3.8484723, 34.649040**2)),
)
# Tropf and Thomas, spinel
SPINEL = (0.0, ((1.8938, 0.09942**2), (3.0755, 15.826**2)))
# Wood and Nassau, zirconia with 12 % yttria
ZIRCONIA = (
    0.0,
    ((1.347091, 0.062543**2), (2.117788, 0.166739**2), (9.452943, 24.320570**2)),
)
# Ghosh, quartz, ordinary and extraordinary ray (C squared as given)
QUARTZ_O = (0.28604141, ((1.07044083, 0.0100585997), (1.10202242, 100.0)))
QUARTZ_E = (0.28851804, ((1.09509924, 0.0102101864), (1.15662475, 100.0)))
# Zelmon, yttrium aluminium garnet (C squared as given)
YAG = (0.0, ((2.28200, 0.01185), (3.27644, 282.734)))

Equation = tuple[float, tuple[tuple[float, float], ...]]


def index_at(equation: Equation, wavelength_um: float) -> float:
    constant, terms = equation
    square = wavelength_um**2
    return math.sqrt(1.0 + constant + sum(b * square / (square - c2) for b, c2 in terms))


@pytest.mark.parametrize(
    ("name", "angle_deg"),
    [
        ("fluorite", 44.2148),
        ("quartz", 40.3660),
        ("beryl", 39.3544),
        ("cubic zirconia", 27.7177),
        ("diamond", 24.4397),
    ],
)
def test_critical_angle_of_species(name: str, angle_deg: float) -> None:
    """The same table, for the species whose lowest listed index is in it."""
    assert critical_angle_deg(load_material(name)) == pytest.approx(angle_deg, abs=5e-5)


def test_critical_angle_of_diamond_as_published() -> None:
    """Tolkowsky, Diamond Design (1919): 24 degrees 26 minutes."""
    assert critical_angle_deg(load_material("diamond")) == pytest.approx(24 + 26 / 60, abs=0.5 / 60)


def listed(name: str, key: str, end: int) -> float:
    pair = getattr(load_material(name), key)
    return float(pair[end])


@pytest.mark.parametrize(
    ("name", "end", "equation"),
    [
        ("corundum", 1, SAPPHIRE_O),
        ("corundum", 0, SAPPHIRE_E),
        ("flame-fusion corundum", 1, SAPPHIRE_O),
        ("diamond", 0, DIAMOND),
        ("fluorite", 0, FLUORITE),
        ("quartz", 0, QUARTZ_O),
        ("quartz", 1, QUARTZ_E),
        ("yttrium aluminium garnet", 0, YAG),
    ],
)
def test_listed_index_by_dispersion_equation(name: str, end: int, equation: Equation) -> None:
    assert listed(name, "ri", end) == pytest.approx(index_at(equation, LINE_D), abs=1e-3)


def test_listed_index_of_zirconia_holds_the_equation_of_one_composition() -> None:
    """The index varies with the stabiliser; 12 % yttria lies in the listed range."""
    assert listed("cubic zirconia", "ri", 0) <= index_at(ZIRCONIA, LINE_D)
    assert index_at(ZIRCONIA, LINE_D) <= listed("cubic zirconia", "ri", 1)


@pytest.mark.parametrize(
    ("name", "equation"),
    [
        ("corundum", SAPPHIRE_O),
        ("diamond", DIAMOND),
        ("fluorite", FLUORITE),
        ("spinel", SPINEL),
        ("cubic zirconia", ZIRCONIA),
        ("quartz", QUARTZ_O),
        ("yttrium aluminium garnet", YAG),
    ],
)
def test_listed_dispersion_by_dispersion_equation(name: str, equation: Equation) -> None:
    """Handbook dispersion is the index at the G line less that at the B line."""
    spread = index_at(equation, LINE_G) - index_at(equation, LINE_B)
    assert listed(name, "dispersion", 0) == pytest.approx(spread, abs=1e-3)


@pytest.mark.parametrize(
    ("name", "ordinary", "extraordinary"),
    [("corundum", SAPPHIRE_O, SAPPHIRE_E), ("quartz", QUARTZ_O, QUARTZ_E)],
)
def test_listed_birefringence_by_dispersion_equations(
    name: str, ordinary: Equation, extraordinary: Equation
) -> None:
    split = abs(index_at(ordinary, LINE_D) - index_at(extraordinary, LINE_D))
    assert listed(name, "birefringence", 0) == pytest.approx(split, abs=1e-3)
