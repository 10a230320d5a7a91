"""The balance against the scan: how far weight and volume disagree, and what can explain it.

Weight W (ct), volume V (mm³) and specific gravity ρ belong together: 200·W = ρ·V. Each is known
within limits: the balance to ±u; the volume to V·(1 ± A·e/V)·(1 ± s)³ with A the surface, e how
far the scan may be off all over it (to first order, after Steiner) and s the share that the scale
may be off by; ρ to the species' listed range. Limits are taken at their worst all together.
"""

from dataclasses import dataclass, replace

from optimizer.mesh import Mesh, volume
from optimizer.rough.model import Rough
from optimizer.rough.scale.units import MM_PER_UNIT
from optimizer.rough.shape import area_mm2
from optimizer.trade.materials import Material, Range

# A balance whose error is not stated (common practice, no source).
BALANCE_SHARE, LEAST_BALANCE_CT = 0.001, 0.01
# The lengths of a scanner, or of a picture-made shape scaled with care, are seldom further out;
# weights further apart mean another unit, another species, filled hollows, things scanned along
# or left out (common practice, no source). 3 % of the lengths are 9 % of the weight.
MOST_LENGTH_OFF = 0.03
# Listed specific gravities are typical and nature is wider, but a piece further beyond the list is
# another species, or holds something else (common practice, no source).
MOST_SG_OFF = 0.05
# Listed values are rounded: a smaller difference needs no mention (common practice, no source).
_WORTH_A_WORD = 0.005
_MOST_SKIN = 0.9  # share of the volume; a scan that poor says nothing anyway


@dataclass(frozen=True)
class Weighing:
    """A weighing beside a volume, and how well each is known."""

    weighed_ct: float
    balance_ct: float  # the weight may be off by this
    volume_mm3: float
    area_mm2: float
    surface_mm: float  # the scan may be off by this all over its surface
    scale: float  # lengths may be off by this share, on top
    sg: float
    sg_range: Range

    @property
    def by_volume_ct(self) -> float:
        """What the scanned solid weighs at the listed specific gravity."""
        return self.volume_mm3 * self.sg / 200.0

    @property
    def difference(self) -> float:
        """How much more the solid weighs by volume than by the balance, as a share."""
        return self.by_volume_ct / self.weighed_ct - 1.0

    @property
    def skin(self) -> float:
        """The share of the volume that the scan's error over the surface is worth."""
        return min(self.area_mm2 * self.surface_mm / self.volume_mm3, _MOST_SKIN)

    @property
    def balance(self) -> float:
        """The share of the weight that the balance may be off by."""
        return min(self.balance_ct / self.weighed_ct, _MOST_SKIN)

    @property
    def volumes(self) -> Range:
        """(least, greatest) volume of the piece, mm³."""
        low = (1.0 - self.skin) * (1.0 - self.scale) ** 3
        return self.volume_mm3 * low, self.volume_mm3 * (1.0 + self.skin) * (1.0 + self.scale) ** 3

    @property
    def weights(self) -> Range:
        """(least, greatest) weight of the piece by the balance, ct."""
        return self.weighed_ct * (1.0 - self.balance), self.weighed_ct * (1.0 + self.balance)

    @property
    def own_sg(self) -> Range:
        """(least, greatest) specific gravity of the piece by weight over volume alone."""
        return 200.0 * self.weights[0] / self.volumes[1], 200.0 * self.weights[1] / self.volumes[0]

    @property
    def unexplained(self) -> float:
        """The share of the weight by which the solid is still too heavy (above 0) or too light
        (below 0) when scan, scale, balance and species are all off as far as they may be."""
        most = self.sg_range[1] / self.own_sg[0] - 1.0
        least = self.sg_range[0] / self.own_sg[1] - 1.0
        return least if least > 0.0 else min(most, 0.0)

    @property
    def correction(self) -> float:
        """What every length must be multiplied by for the solid to weigh what the balance says."""
        return float((self.weighed_ct / self.by_volume_ct) ** (1.0 / 3.0))

    @property
    def correction_error(self) -> float:
        """The share that lengths so corrected may still be off by."""
        heavy = self.weights[1] / (1.0 - self.skin) / self.sg_range[0]
        light = self.weights[0] / (1.0 + self.skin) / self.sg_range[1]
        middle = self.weighed_ct / self.sg
        off = max((heavy / middle) ** (1.0 / 3.0) - 1.0, 1.0 - (light / middle) ** (1.0 / 3.0))
        return float(off)

    def scaled(self, factor: float) -> "Weighing":
        """The same with every length of the scan multiplied."""
        return replace(
            self, volume_mm3=self.volume_mm3 * factor**3, area_mm2=self.area_mm2 * factor**2
        )


def weighing_of(rough: Rough) -> Weighing | None:
    """The piece's weighing; None where it was not weighed."""
    if rough.weighed_ct is None:
        return None
    own_error_mm = rough.scan_error_mm - rough.scale.error_mm
    return weigh(
        rough.mesh, rough.material, rough.weighed_ct, rough.weighed_error_ct, own_error_mm,
        rough.scale.error,
    )  # fmt: skip


def weigh(
    mesh: Mesh,
    material: Material,
    weighed_ct: float,
    balance_ct: float | None,
    surface_mm: float,
    scale: float,
) -> Weighing:
    """A weighing beside the volume of ``mesh``; without ``balance_ct`` a usual balance."""
    usual = max(BALANCE_SHARE * weighed_ct, LEAST_BALANCE_CT)
    return Weighing(
        weighed_ct=weighed_ct,
        balance_ct=usual if balance_ct is None else balance_ct,
        volume_mm3=volume(mesh),
        area_mm2=area_mm2(mesh),
        surface_mm=surface_mm,
        scale=scale,
        sg=material.sg,
        sg_range=material.sg_range,
    )


def sg_span(rough: Rough) -> Range:
    """(least, greatest) specific gravity of the finished stone.

    Unweighed: the species' listed range. Weighed: what species and weighing both allow; where they
    exclude each other, all from the one to the other. Either way the value that weights are
    reckoned with belongs to it. It supposes a piece that is the same throughout.
    """
    low, high = rough.material.sg_range
    weighing = weighing_of(rough)
    if weighing is not None:
        own = weighing.own_sg
        if max(low, own[0]) <= min(high, own[1]):
            low, high = max(low, own[0]), min(high, own[1])
        else:
            low, high = min(low, own[0]), max(high, own[1])
    return min(low, rough.material.sg), max(high, rough.material.sg)


def is_doubtful(weighing: Weighing) -> bool:
    """Whether the difference is worth a warning."""
    return weighing.unexplained != 0.0 and abs(weighing.difference) >= _WORTH_A_WORD


def is_out_of_reach(weighing: Weighing) -> bool:
    """Whether what stays unexplained is more than a scale is ever wrong by: no plan then."""
    return not _within(1.0 + weighing.unexplained)


def can_correct_scale(weighing: Weighing) -> bool:
    """Whether the scale may be corrected by the weight."""
    return _within(weighing.correction**3)


def unit_mistake(weighing: Weighing, mm_per_unit: float) -> float | None:
    """The mm to a unit with which weight and volume agree, where mistaken units explain it.

    Either the scan is in another of the known units, or was turned from one into another once too
    often. None where nothing fits, or where no mistake is needed.
    """
    if not is_out_of_reach(weighing):
        return None
    known = MM_PER_UNIT.values()
    turned = {mm_per_unit * one / other for one in known for other in known}
    for scale in (*known, *sorted(turned - set(known))):
        if not is_out_of_reach(weighing.scaled(scale / mm_per_unit)):
            return scale
    return None


def _within(ratio: float) -> bool:
    """Whether weights in this ratio part by no more than a scale's usual faults."""
    return (1.0 - MOST_LENGTH_OFF) ** 3 <= ratio <= (1.0 + MOST_LENGTH_OFF) ** 3
