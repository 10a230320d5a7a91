"""Taylor models: polynomials of fifth degree with a proven bound on what they leave out.

A model of f over the unit box d ∈ [−1, 1]^q is a polynomial P and a radius r with
|f(d) − P(d)| <= r for every d of the box (Makino and Berz, Taylor models and other validated
functional inclusion methods, 2003). Terms of higher degree go into r by their absolute
values. So do roundings: no operation here makes more than some 300 of them on a value, each of at
most 1.2e-16 of the sum of all terms' absolute values, and ROUNDING times that sum is added to r.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import product
from math import factorial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Ints

DEGREE = 5
ROUNDING = 4e-14
SETTLED = 1e-15  # an iteration that moves no term by more has settled


class NoEnclosure(ArithmeticError):  # noqa: N818 - no fault: the box is to be divided
    """The box is too large for a bound: a divisor may vanish, or a root may turn negative."""


@dataclass(frozen=True)
class Monomials:
    """The products of q variables up to DEGREE, by degree, the constant first."""

    powers: Ints  # (n, q) exponents
    degrees: Ints  # (n,)
    left: Ints  # (p,) all pairs of monomials whose product is one of them, in its order
    right: Ints  # (p,)
    starts: Ints  # (n,) where each product's pairs begin

    @cached_property
    def square(self) -> NDArray[np.bool_]:
        """(n,): which are the square of one variable; in the variables' order."""
        return np.asarray((self.degrees == 2) & (self.powers.max(axis=1) == 2))


@lru_cache(maxsize=32)
def monomials(variables: int) -> Monomials:
    """Of so many variables."""
    every = np.array(list(product(range(DEGREE + 1), repeat=variables)), np.int64)
    every = every[every.sum(axis=1) <= DEGREE].reshape(-1, variables)
    every = every[np.lexsort((*(-every.T[::-1]), every.sum(axis=1)))]
    number = {tuple(powers): k for k, powers in enumerate(every.tolist())}
    made = [
        (number[tuple(total)], i, j)
        for i, one in enumerate(every)
        for j, two in enumerate(every)
        if sum(total := (one + two).tolist()) <= DEGREE
    ]
    out, left, right = np.array(sorted(made), np.int64).T
    starts = np.searchsorted(out, np.arange(len(every)))
    return Monomials(every, every.sum(axis=1), left, right, starts)


@dataclass(frozen=True, eq=False)
class Taylor:
    """Models of an array of functions over one unit box of q variables.

    Axis 0 of ``terms`` runs over the ``monomials``: the constant, the q variables, and so on; its
    other axes, and those of ``radius``, are the array's own.
    """

    terms: Floats
    radius: Floats
    variables: int
    __array_ufunc__ = None  # an array on the left leaves the operation to this class

    @staticmethod
    def constant(values: Any, variables: int) -> "Taylor":
        """Exact numbers, the same over the whole box."""
        values = np.asarray(values, np.float64)
        terms = np.zeros((len(monomials(variables).powers), *values.shape))
        terms[0] = values
        return Taylor(terms, np.zeros(values.shape), variables)

    @staticmethod
    def variable(number: int, variables: int, middle: float, half: float) -> "Taylor":
        """middle + half·d, d being the variable of this number."""
        model = Taylor.constant(middle, variables)
        model.terms[1 + number] = half
        return replace(model, radius=np.asarray(ROUNDING * (abs(middle) + half)))

    @property
    def monomials(self) -> Monomials:
        """What the terms belong to."""
        return monomials(self.variables)

    @property
    def shape(self) -> tuple[int, ...]:
        """Of the array."""
        return self.radius.shape

    @property
    def size(self) -> Floats:
        """No value is larger, by the terms' absolute values."""
        return np.asarray(np.abs(self.terms).sum(axis=0) + self.radius)

    @property
    def high(self) -> Floats:
        """No value over the box is greater. Each variable's linear and square term are taken
        together, which is exact."""
        square = self.monomials.square
        linear, bend = np.abs(self.terms[1 : 1 + self.variables]), self.terms[square]
        inside = linear < -2.0 * bend  # a crest within the box
        crest = linear**2 / np.where(inside, -4.0 * bend, 1.0)
        most = np.where(inside, crest, linear + bend).sum(axis=0)
        others = np.abs(self.terms[1 + self.variables :][~square[1 + self.variables :]]).sum(axis=0)
        return np.asarray(self.terms[0] + most + others + self.radius + ROUNDING * self.size)

    @property
    def low(self) -> Floats:
        """No value over the box is less."""
        return -(-self).high

    @property
    def magnitude(self) -> Floats:
        """No absolute value over the box is greater."""
        return np.maximum(self.high, -self.low)

    def __getitem__(self, key: Any) -> "Taylor":
        key = key if isinstance(key, tuple) else (key,)
        return Taylor(self.terms[(slice(None), *key)], np.asarray(self.radius[key]), self.variables)

    def __neg__(self) -> "Taylor":
        return replace(self, terms=-self.terms)

    def __add__(self, other: Any) -> "Taylor":
        one, two = _aligned(self, other)
        return _rounded(one, one.terms + two.terms, one.radius + two.radius)

    __radd__ = __add__

    def __sub__(self, other: Any) -> "Taylor":
        one, two = _aligned(self, other)
        return _rounded(one, one.terms - two.terms, one.radius + two.radius)

    def __rsub__(self, other: Any) -> "Taylor":
        return (-self).__add__(other)

    def __mul__(self, other: Any) -> "Taylor":
        if not isinstance(other, Taylor):
            factor = np.asarray(other, np.float64)
            one = _widened(self, factor.ndim)
            return _rounded(one, one.terms * factor, one.radius * np.abs(factor))
        return _product(*_aligned(self, other))

    __rmul__ = __mul__

    def __truediv__(self, other: Any) -> "Taylor":
        if not isinstance(other, Taylor):
            return self * (1.0 / np.asarray(other, np.float64))
        sign = np.sign(other.terms[0])
        return self.__mul__((other * sign).power(-1.0) * sign)

    def __rtruediv__(self, other: Any) -> "Taylor":
        return Taylor.constant(other, self.variables).__truediv__(self)

    def sum(self, axis: int = -1) -> "Taylor":
        """Summed over one of the array's own axes, counted from the last."""
        return _rounded(
            self, self.terms.sum(axis=axis), self.radius.sum(axis=axis), self.size.sum(axis=axis)
        )

    def sin(self) -> "Taylor":
        """The sine, of radians."""
        turns = self.terms[0] + 0.5 * np.pi * np.arange(DEGREE + 1).reshape(
            -1, *(1,) * len(self.shape)
        )
        return self._composed(np.sin(turns), np.ones(self.shape))

    def cos(self) -> "Taylor":
        """The cosine, of radians."""
        return self.__add__(0.5 * np.pi).sin()

    def power(self, exponent: float) -> "Taylor":
        """A real power. Raises NoEnclosure unless all values are surely positive."""
        low, high, at, r = self.low, self.high, self.terms[0], exponent
        if not bool(np.all(low > 0.0)):
            raise NoEnclosure
        factors = np.cumprod([1.0, *(r - np.arange(DEGREE + 1))])
        slopes = np.array([f * at ** (r - n) for n, f in enumerate(factors[:-1])])
        last = r - DEGREE - 1.0
        return self._composed(slopes, abs(factors[-1]) * np.maximum(low**last, high**last))

    def _composed(self, slopes: Floats, last: Floats) -> "Taylor":
        """A function of this model by its value and its first DEGREE derivatives in the middle;
        ``last`` bounds the absolute value of the next derivative over the model's range."""
        away = replace(self, terms=self.terms.copy())
        away.terms[0] = 0.0
        made = Taylor.constant(slopes[DEGREE] / factorial(DEGREE), self.variables)
        for n in range(DEGREE - 1, -1, -1):
            made = made.__mul__(away).__add__(slopes[n] / factorial(n))
        reach = np.maximum(self.high - self.terms[0], self.terms[0] - self.low)
        rest = last * reach ** (DEGREE + 1) / factorial(DEGREE + 1) * (1.0 + ROUNDING)
        return replace(made, radius=made.radius + rest)

    def least(self, among: NDArray[np.bool_] | None = None) -> "Taylor":
        """The least along the array's last axis, of those ``among`` (default all).

        It is the one that is least in the middle of the box, lowered by as much as any other may
        lie under it.
        """
        among = np.ones(self.shape, bool) if among is None else np.broadcast_to(among, self.shape)
        if not bool(np.all(among.any(axis=-1))):
            raise NoEnclosure
        which = np.argmin(np.where(among, self.terms[0], np.inf), axis=-1)[..., None]
        chosen = Taylor(
            np.take_along_axis(self.terms, which[None], axis=-1),
            np.take_along_axis(self.radius, which, axis=-1),
            self.variables,
        )
        others = among & (np.arange(self.shape[-1]) != which)
        under = np.where(others, -(self - chosen).low, 0.0)
        return chosen[..., 0].lowered(np.maximum(under, 0.0).max(axis=-1))

    def greatest(self, among: NDArray[np.bool_] | None = None) -> "Taylor":
        """The greatest along the array's last axis, of those ``among`` (default all)."""
        return -(-self).least(among)

    def lowered(self, most: Floats) -> "Taylor":
        """A model of every function between this one and ``most`` below it."""
        terms = self.terms.copy()
        terms[0] -= 0.5 * most
        return _rounded(self, terms, self.radius + 0.5 * most)

    def or_else(self, other: "Taylor") -> "Taylor":
        """A model of every function between this one and the other."""
        apart = other - self
        return (-(-self).lowered(np.maximum(apart.high, 0.0))).lowered(np.maximum(-apart.low, 0.0))

    def at(self, point: Floats) -> Floats:
        """The polynomial's values at a point (q,) of the box."""
        powers = np.prod(point**self.monomials.powers, axis=1)
        return np.asarray(np.tensordot(powers, self.terms, 1))

    def over(self, variables: int, places: Sequence[int]) -> "Taylor":
        """The same functions over a box of more variables, of which these are those at
        ``places``."""
        into, own = monomials(variables).powers, self.monomials.powers
        spread = np.zeros((len(own), variables), np.int64)
        spread[:, list(places)] = own
        terms = np.zeros((len(into), *self.shape))
        terms[[int(np.flatnonzero((into == row).all(axis=1))[0]) for row in spread]] = self.terms
        return Taylor(terms, self.radius, variables)

    def under(self, variables: int) -> "Taylor":
        """The functions over the first variables, enclosed whatever the others are."""
        powers = self.monomials.powers
        own = (powers[:, variables:] == 0).all(axis=1)
        rest = np.abs(self.terms[~own]).sum(axis=0) * (1.0 + ROUNDING)
        return Taylor(self.terms[own], np.asarray(self.radius + rest), variables)

    @property
    def quadratic(self) -> "Taylor":
        """With the terms of third and higher degree in the radius."""
        higher = self.monomials.degrees > 2
        terms = np.where(higher.reshape(-1, *(1,) * self.radius.ndim), 0.0, self.terms)
        rest = np.abs(self.terms[higher]).sum(axis=0) * (1.0 + ROUNDING)
        return Taylor(terms, np.asarray(self.radius + rest), self.variables)


def stacked(models: "list[Taylor]", axis: int = -1) -> Taylor:
    """Models of equal shape side by side, along a new axis counted from the last."""
    terms = np.stack([m.terms for m in models], axis=axis)
    return Taylor(terms, np.stack([m.radius for m in models], axis=axis), models[0].variables)


def joined(models: "list[Taylor]") -> Taylor:
    """Models one after the other, along the array's first axis."""
    terms = np.concatenate([m.terms for m in models], axis=1)
    return Taylor(terms, np.concatenate([m.radius for m in models]), models[0].variables)


def cross(a: Taylor, b: Taylor) -> Taylor:
    """The cross products of vectors (n, 3)."""
    ahead, behind = np.array([1, 2, 0]), np.array([2, 0, 1])
    return a[:, ahead] * b[:, behind] - a[:, behind] * b[:, ahead]


def meeting(normals: "list[Taylor]", offsets: "list[Taylor]") -> Taylor:
    """Where planes meet by threes, (n, 3), by Cramer's rule; three times (n, 3) and (n,)."""
    a, b, c = normals
    across = [cross(b, c), cross(c, a), cross(a, b)]
    one, two, three = (d[:, None] * x for d, x in zip(offsets, across, strict=True))
    return (one + two + three) / (a * across[0]).sum()[:, None]


def iterated(model: Taylor, step: Callable[[Taylor], Taylor], steps: int) -> Taylor:
    """The polynomial that an iteration settles on, after ``steps`` at most, its radius left out: a
    good guess, no bound."""
    for _ in range(steps):
        last, model = model, replace(step(model), radius=np.zeros(model.shape))
        if np.abs(model.terms - last.terms).max() <= SETTLED:
            break
    return model


def _rounded(model: Taylor, terms: Floats, radius: Floats, size: Floats | None = None) -> Taylor:
    """With the roundings of the operation that made the terms added to the radius."""
    if size is None:
        size = np.abs(terms).sum(axis=0) + radius
    return Taylor(terms, np.asarray(radius + ROUNDING * size), model.variables)


def _widened(model: Taylor, dimensions: int) -> Taylor:
    """With leading axes of length one, so that the array has so many axes at least."""
    if model.radius.ndim >= dimensions:
        return model
    shape = (1,) * (dimensions - model.radius.ndim) + model.shape
    terms = model.terms.reshape(len(model.terms), *shape)
    return Taylor(terms, model.radius.reshape(shape), model.variables)


def _aligned(one: Taylor, other: Any) -> tuple[Taylor, Taylor]:
    two = other if isinstance(other, Taylor) else Taylor.constant(other, one.variables)
    most = max(one.radius.ndim, two.radius.ndim)
    return _widened(one, most), _widened(two, most)


def _product(a: Taylor, b: Taylor) -> Taylor:
    known = a.monomials
    terms = np.add.reduceat(a.terms[known.left] * b.terms[known.right], known.starts, axis=0)
    starts = np.searchsorted(known.degrees, np.arange(DEGREE + 1))
    if a.variables == 0:
        starts = starts[:1]
    one, two = (np.add.reduceat(np.abs(m.terms), starts, axis=0) for m in (a, b))
    whole_one, whole_two = one.sum(axis=0), two.sum(axis=0)
    beyond = sum(one[i] * two[DEGREE - i + 1 :].sum(axis=0) for i in range(1, len(starts)))
    radius = beyond + whole_one * b.radius + a.radius * whole_two + a.radius * b.radius
    return _rounded(a, terms, radius, (whole_one + a.radius) * (whole_two + b.radius))
