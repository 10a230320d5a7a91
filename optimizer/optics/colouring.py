"""What colours a stone: one dye or two, where they meet, and along which axes they differ."""

from dataclasses import dataclass

import numpy as np

from optimizer.colours import from_hex
from optimizer.mesh import Floats, square_to
from optimizer.optics.boundary_forms import forms_of
from optimizer.optics.dye import CLEAR, Dye, Sample, dye_of
from optimizer.optics.face import Face, Trichroic, coloured, coloured_crystal, everywhere
from optimizer.placement.model import Pose
from optimizer.rough.model import Colour, Rough, Slice, Zone

ESTIMATED_AT_MM = 5.0  # the thickness taken for a colour that is stated without one


@dataclass(frozen=True)
class Tint:
    """One colour of a stone as absorption: ``dyes`` along the three axes, all the same unless
    ``by_axis``."""

    name: str
    dyes: Trichroic
    by_axis: bool = False
    stated: bool = True  # false: no colour is known, so the stone is shown clear
    at_mm: float | None = None  # thickness of the first sample; None: ESTIMATED_AT_MM was taken

    @property
    def misfit(self) -> float:
        """ΔE of the worst sample."""
        return max(dye.misfit for dye in self.dyes)


CLEAR_TINT = Tint("clear", (CLEAR, CLEAR, CLEAR), stated=False)


@dataclass(frozen=True)
class Colouring:
    """A stone's colours: ``first`` where all ``forms`` (k, 10) are positive and ``second``
    elsewhere, or the other way round where ``inside`` is false.

    ``axes`` (3, 3) are unit rows in the stone's frame: the optic axis, the second axis, the axis
    square to both; None where no colour depends on direction. ``zone`` is the boundary's name, None
    where there is no boundary.
    """

    first: Tint
    second: Tint
    forms: Floats
    inside: bool = True
    axes: Floats | None = None
    zone: str | None = None

    @property
    def two(self) -> bool:
        """Whether there is a boundary."""
        return self.zone is not None

    @property
    def tints(self) -> tuple[Tint, ...]:
        """Both colours; only the first where there is no boundary."""
        return (self.first, self.second) if self.two else (self.first,)

    @property
    def clear(self) -> bool:
        """Whether the stone absorbs no light at all."""
        return not any(dye.per_mm.any() for tint in self.tints for dye in tint.dyes)

    def colours(self, face: Face, light: tuple[Floats, ...]) -> Floats:
        """Linear sRGB (n, 3) of the face, without gloss, under ``incoming_light``."""
        pair = (self.first, self.second) if self.inside else (self.second, self.first)
        return self._coloured(face, light, self.forms, *pair)

    def wholly(self, face: Face, light: tuple[Floats, ...], tint: Tint) -> Floats:
        """The same for a stone that is all of one colour."""
        return self._coloured(face, light, everywhere(), tint, tint)

    def _coloured(
        self, face: Face, light: tuple[Floats, ...], forms: Floats, inside: Tint, outside: Tint
    ) -> Floats:
        if self.axes is None or not (inside.by_axis or outside.by_axis):
            return coloured(face, light, forms, inside.dyes[0], outside.dyes[0])
        return coloured_crystal(face, light, forms, inside.dyes, outside.dyes, self.axes)


def one_colour(tint: Tint) -> Colouring:
    """A stone of one colour, the same in all directions."""
    return Colouring(tint, tint, everywhere())


def tint_of(colour: Colour) -> Tint:
    """The absorption that shows the colour as it is stated."""
    if colour.by_axis:
        dyes = [_dye((one,)) for one in colour.by_axis]
        three = (dyes[0], dyes[1], dyes[-1])
        return Tint(colour.name, three, by_axis=True, at_mm=colour.by_axis[0].mm)
    if not colour.shown:
        return Tint(colour.name, CLEAR_TINT.dyes, stated=False)
    dye = _dye(colour.shown)
    return Tint(colour.name, (dye, dye, dye), at_mm=colour.shown[0].mm)


def _dye(slices: tuple[Slice, ...]) -> Dye:
    def sample(one: Slice) -> Sample:
        red, green, blue = (float(part) for part in from_hex(one.srgb))
        return Sample((red, green, blue), one.mm or ESTIMATED_AT_MM)

    return dye_of([sample(one) for one in slices])


def colouring_of(rough: Rough, chosen: tuple[Zone, str] | None, pose: Pose) -> Colouring:
    """The colours of the stone that lies in ``rough`` at ``pose``; ``chosen`` is a boundary of the
    rough and the name of the colour that comes first."""
    axes = _axes(rough, pose)
    if chosen is None:
        body = CLEAR_TINT if rough.body_colour is None else tint_of(rough.body_colour)
        return Colouring(body, body, everywhere(), axes=axes)
    zone, name = chosen
    inside = name == zone.towards.name
    first, second = (zone.towards, zone.away) if inside else (zone.away, zone.towards)
    forms = forms_of(zone.boundary, pose.rotation, pose.translation)
    return Colouring(tint_of(first), tint_of(second), forms, inside, axes, zone.name)


def _axes(rough: Rough, pose: Pose) -> Floats | None:
    """The crystal's axes in the stone's frame. Where only the optic axis is known, the other two
    are any directions square to it."""
    if rough.optic_axis is None:
        return None
    first, second = rough.optic_axis, rough.second_axis
    if second is None:
        second = square_to(first)
    return np.ascontiguousarray(np.array([first, second, np.cross(first, second)]) @ pose.rotation)
