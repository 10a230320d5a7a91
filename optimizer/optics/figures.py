"""The look in figures, whose formulas are in README.md beside this file."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.face import Face
from optimizer.optics.lights import head_mask

_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # IEC 61966-2-1
_LIT = 0.005  # of white paper: a darker place shows no colour
TELLS = 0.005  # in linear sRGB: colours nearer to each other than this count as one colour
_HALF = 0.5
FEW = 0.05  # of the face: where less of it tells two colours apart, their shares mean nothing


@dataclass(frozen=True)
class LightFigures:
    """Where the light of a clear stone comes from, as shares of the face from 0 to 1.

    light_return  mean share of the light of an open sky that comes back from within
    window        share of the face through which mostly what lies behind the stone is seen
    extinction    share of the face that mostly mirrors the viewer's head
    contrast      standard deviation of brightness over its mean, open sky less the head
    """

    light_return: float
    window: float
    extinction: float
    contrast: float


@dataclass(frozen=True)
class ZoneFigures:
    """How much of the face shows the colour ``towards``, 0 to 1.

    distinct_share  share of the face whose places tell the two colours apart: bright enough, and
                    not alike; all other figures are means over these places alone
    share           mean over the face
    halves, ends    means over the halves across the width (+y first) and the length (+x first)
    """

    share: float
    halves: tuple[float, float]
    ends: tuple[float, float]
    distinct_share: float = 1.0

    @property
    def distinct(self) -> bool:
        """Whether enough of the face tells the two colours apart for the rest to mean something."""
        return self.distinct_share >= FEW

    @property
    def balance_of_halves(self) -> float:
        """The lesser of the halves' shares over the greater; 1 where both are 0."""
        return _balance(self.halves)

    @property
    def balance_of_ends(self) -> float:
        """The same for the ends."""
        return _balance(self.ends)

    @property
    def difference_of_ends(self) -> float:
        """The greater of the ends' shares less the lesser."""
        return max(self.ends) - min(self.ends)


def light_figures(face: Face) -> LightFigures:
    """The figures of the stone as if it were clear, by the middle band's paths."""
    paths = face.paths[len(face.paths) // 2]
    ways = paths.leaving @ face.stone2room.T
    up = paths.weight * (ways[:, 2] > 0.0)
    head = paths.weight * head_mask(ways)
    count = len(paths.hit)
    all_, sky, dark = (
        np.bincount(paths.ray, each, count)[paths.hit] for each in (paths.weight, up, head)
    )
    bright = sky - dark
    return LightFigures(
        light_return=float(sky.mean()),
        window=float((sky < _HALF * all_).mean()),
        extinction=float((dark > _HALF * all_).mean()),
        contrast=float(bright.std() / max(bright.mean(), 1e-12)),
    )


def zone_figures(face: Face, colours: Floats, towards: Floats, away: Floats) -> ZoneFigures:
    """The figures of a face with ``colours`` (n, 3), linear sRGB without gloss. ``towards`` and
    ``away`` (n, 3) are the colours of the same face wholly of the one and of the other dye: a
    place's share is 0 at ``away`` and 1 at ``towards``.
    """
    shares, seen = place_shares(colours, towards, away)
    seen &= face.hit
    entry = np.zeros((len(face.places), 3))
    middle = face.paths[len(face.paths) // 2]
    entry[middle.hit] = middle.points[middle.start[:-1][middle.hit]]
    x, y = entry[:, 0], entry[:, 1]

    def mean(which: np.ndarray) -> float:
        return float(shares[seen & which].mean()) if (seen & which).any() else 0.0

    share, told = mean(np.ones(len(seen), bool)), float(seen.sum() / max(face.hit.sum(), 1))
    return ZoneFigures(share, (mean(y > 0), mean(y < 0)), (mean(x > 0), mean(x < 0)), told)


def place_shares(colours: Floats, towards: Floats, away: Floats) -> tuple[Floats, np.ndarray]:
    """(share of ``towards`` at each place (n,), which places tell the two colours apart (n,))."""
    way = towards - away
    length = (way**2).sum(axis=1)
    along = ((colours - away) * way).sum(axis=1)
    shares = np.clip(np.divide(along, length, out=np.zeros_like(along), where=length > 0), 0.0, 1.0)
    return shares, showing(towards, away)


def showing(towards: Floats, away: Floats) -> np.ndarray:
    """Which places (n,) show enough light, and colours far enough apart, to measure a share."""
    brighter = np.maximum(towards @ _LUMINANCE, away @ _LUMINANCE)
    return np.asarray((brighter > _LIT) & (((towards - away) ** 2).sum(axis=1) > TELLS**2))


def _balance(pair: tuple[float, float]) -> float:
    return min(pair) / max(pair) if max(pair) > 0.0 else 1.0
