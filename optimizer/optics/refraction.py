"""A species' refractive index by wavelength."""

from optimizer.errors import InputError
from optimizer.trade.materials import Material

# Fraunhofer's lines, nm, in air: listed indices are for D, listed dispersion is n(G) − n(B).
_B_NM, _D_NM, _G_NM = 686.7, 589.3, 430.8


def index_at(material: Material, nm: float) -> float:
    """The refractive index at a wavelength in nm: the middle of the species' listed range at the D
    line, spread by its listed dispersion after Cauchy, n = a + b/λ². Double refraction is left out.
    Without a listed dispersion it is the same at each wavelength.

    Raises InputError where no index is listed.
    """
    if material.ri is None:
        raise InputError(f'material "{material.name}" has no refractive index listed')
    middle = sum(material.ri) / 2.0
    spread = sum(material.dispersion) / 2.0 if material.dispersion else 0.0
    bend = spread / (_G_NM**-2 - _B_NM**-2)
    return middle + bend * (nm**-2 - _D_NM**-2)
