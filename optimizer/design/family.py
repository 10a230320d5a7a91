"""A design with some parameters free: fast approximations to its bodies over their ranges.

To build a body exactly takes milliseconds, and a search needs thousands of bodies. So the ranges
are divided into cells. In each cell every facet's plane is a second-order polynomial, fitted to
exact planes in the middle and on the border of the cell, and the corners follow from the planes
that meet in them. Such a body is good to about 1e-5 of its width, which is enough for the search.
A body that the search settles on is built exactly (``exact``).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import product

import numpy as np

from optimizer.design.body import build_body, full_parameters, planes
from optimizer.design.model import Body, Design
from optimizer.errors import InputError
from optimizer.mesh import Floats

# The steps in which the cutter sets or measures: angles as an angle stop reads, the rest as a
# caliper reads on a stone of 10 mm (our own choices).
ANGLE_STEP = 0.1
STEPS = {"length_to_width": 0.01, "table": 0.01, "corner": 0.01, "girdle": 0.001}
SPANS = {"length_to_width": 0.05, "table": 0.05, "corner": 0.03, "girdle": 0.03}
ANGLE_SPAN = 2.0  # degrees: in a cell no longer than this, planes are good to 1e-5 of the width
ON_PLANE = 1e-7  # of the width: a plane that passes this near to a corner meets it
TINY = 1e-3  # of a range: the step of finite differences
CUT_AWAY = 1e-3  # of the width: a corner this far outside a facet is no corner of the body any more


@dataclass(frozen=True)
class Free:
    """A parameter that the search may choose: its range, its usual value and its step.

    The usual value may lie outside the range, where the order allows less than the design.
    """

    name: str
    low: float
    high: float
    usual: float
    step: float

    @property
    def start(self) -> float:
        """The value in the range that is nearest to the usual one."""
        return min(max(self.usual, self.low), self.high)

    @property
    def is_angle(self) -> bool:
        """Whether it is in degrees."""
        return self.step == ANGLE_STEP


def step_of(design: Design, name: str) -> float:
    """The step that a parameter is rounded to: 0.1 degrees for an angle."""
    return ANGLE_STEP if _is_angle(design, name) else STEPS.get(name, 0.01)


def _is_angle(design: Design, name: str) -> bool:
    return any(rule.angle is not None and rule.angle.of == name for rule in design.rules)


@dataclass(frozen=True)
class Family:
    """The bodies of ``design`` with the parameters ``fixed`` given and ``free`` in their ranges.

    Values of the free parameters are arrays (q,) in the order of ``free``.
    """

    design: Design
    fixed: Mapping[str, float]
    free: tuple[Free, ...]
    least_girdle_mm: float
    least_girdle_share: float
    _cells: dict[tuple[int, ...], "Cell | None"] = field(default_factory=dict, repr=False)

    @cached_property
    def low(self) -> Floats:
        """Least values, (q,)."""
        return np.array([f.low for f in self.free])

    @cached_property
    def high(self) -> Floats:
        """Greatest values, (q,)."""
        return np.array([f.high for f in self.free])

    @cached_property
    def usual(self) -> Floats:
        """The usual values, or the nearest to them in their ranges, (q,)."""
        return np.array([f.start for f in self.free])

    @cached_property
    def _counts(self) -> Floats:
        spans = [
            ANGLE_SPAN if _is_angle(self.design, f.name) else SPANS.get(f.name, 0.05)
            for f in self.free
        ]
        return np.asarray(np.maximum(np.ceil((self.high - self.low) / np.array(spans) - 1e-9), 1.0))

    @cached_property
    def pace(self) -> float:
        """About the least distance of a facet from the origin, as a share of the width."""
        return float(self.exact(self.usual).offsets.min())

    @cached_property
    def travel(self) -> Floats:
        """About how far a corner moves at most, as a share of the width, for one unit of each free
        parameter, (q,)."""
        cell = self.cell(self.usual)
        assert cell is not None
        ends = (
            [cell.corners(cell.middle + sign * step) for sign in (1.0, -1.0)]
            for step in np.diag(TINY * (self.high - self.low))
        )
        sizes = 2.0 * TINY * (self.high - self.low)
        moved = [np.linalg.norm(plus - minus, axis=1).max() for plus, minus in ends]
        return np.array(moved) / sizes

    def rounded(self, values: Floats, most: int) -> list[Floats]:
        """At most ``most`` choices near ``values`` that a cutter can set, the nearest first: each
        parameter at a whole step or at an end of its range."""
        ways = [_settings(f, v) for f, v in zip(self.free, values, strict=True)]
        every = np.array(list(product(*ways)))
        far = np.abs((every - values) / [f.step for f in self.free]).sum(axis=1)
        return list(every[np.argsort(far, kind="stable")[:most]])

    def parameters(self, values: Floats) -> dict[str, float]:
        """The value of every parameter: free, fixed, or else the design's default."""
        chosen = {f.name: float(v) for f, v in zip(self.free, values, strict=True)}
        return full_parameters(self.design, {**self.fixed, **chosen})

    def share(self, values: Floats) -> float:
        """The girdle band's share of the width; values may lie a little outside their range."""
        usual = self.fixed.get("girdle", self.design.parameters["girdle"].default)
        chosen = (float(v) for f, v in zip(self.free, values, strict=True) if f.name == "girdle")
        return max(next(chosen, usual), self.least_girdle_share)

    def exact(self, values: Floats) -> Body:
        """The body built exactly. Raises InputError, naming the facet, where one is lost."""
        return build_body(
            self.design, self.parameters(values),
            least_girdle_mm=self.least_girdle_mm, least_girdle_share=self.least_girdle_share,
        )  # fmt: skip

    def planes(self, values: Floats) -> tuple[Floats, Floats]:
        """Exact facet planes at width 1: normals (m, 3) and offsets (m,). Raises InputError.

        Values that rounding put beyond the end of a range are taken back to it.
        """
        inside = np.clip(values, self.low, self.high)
        return planes(self.design, self.parameters(inside), self.share(inside))

    def cell(self, values: Floats) -> "Cell | None":
        """The cell that holds these values; None where the design loses a facet in it."""
        size = (self.high - self.low) / self._counts
        place = np.clip(np.floor((values - self.low) / size), 0.0, self._counts - 1.0)
        key = tuple(int(i) for i in place)
        if key not in self._cells:
            self._cells[key] = Cell.of(self, self.low + (place + 0.5) * size, size / 2.0)
        return self._cells[key]

    def body(self, values: Floats) -> Body | None:
        """The approximate body for the search; None where the design loses a facet."""
        cell = self.cell(values)
        return None if cell is None else cell.body(values)


@dataclass(frozen=True)
class Cell:
    """Every facet's plane as a polynomial in the free parameters, about ``middle``."""

    family: Family
    middle: Floats  # (q,)
    base: Body  # exact, at the middle
    first: Floats  # (q, m, 4) of normal and offset
    second: Floats  # (q, q, m, 4)
    meets: Floats  # (k, m) 1 where the facet runs through the corner

    @staticmethod
    def of(family: Family, middle: Floats, half: Floats) -> "Cell | None":
        """The cell about ``middle``, fitted to the exact planes at ±``half`` (q,) in each free
        parameter; None where the design loses a facet."""
        try:
            base = family.exact(middle)
            first, second = _differences(family, middle, half)
        except InputError:
            return None
        out = base.vertices @ base.normals.T - base.offsets
        meets = (np.abs(out) <= ON_PLANE).astype(float)
        return Cell(family, middle, base, first, second, meets)

    def body(self, values: Floats) -> Body | None:
        """The body at these values; None where the corners aren't those of the middle's body."""
        normals, offsets = self.planes(values)
        corners = self._corners(normals, offsets)
        if (corners @ normals.T - offsets).max() > CUT_AWAY:
            return None
        share = self.family.share(values)
        return replace(
            self.base, normals=normals, offsets=offsets, vertices=corners, girdle_share=share
        )

    def planes(self, values: Floats) -> tuple[Floats, Floats]:
        """Normals (m, 3) and offsets (m,) at these values."""
        away = values - self.middle
        moved = np.column_stack([self.base.normals, self.base.offsets])
        moved = moved + np.tensordot(away, self.first, 1)
        moved = moved + 0.5 * np.tensordot(away, np.tensordot(away, self.second, 1), 1)
        moved = moved / np.linalg.norm(moved[:, :3], axis=1)[:, None]
        return np.ascontiguousarray(moved[:, :3]), moved[:, 3].copy()

    def corners(self, values: Floats) -> Floats:
        """Corners (k, 3) at these values, whether facets cut them away or not."""
        return self._corners(*self.planes(values))

    def _corners(self, normals: Floats, offsets: Floats) -> Floats:
        square = np.einsum("km,mi,mj->kij", self.meets, normals, normals)
        right = np.einsum("km,mi,m->ki", self.meets, normals, offsets)
        return np.asarray(np.linalg.solve(square, right[:, :, None])[:, :, 0])


def _settings(free: Free, value: float) -> list[float]:
    """The whole steps next below and above a value, each brought into the range."""
    steps = value / free.step
    whole = {round(free.step * n, 9) for n in (np.floor(steps + 1e-6), np.ceil(steps - 1e-6))}
    return sorted({min(max(setting, free.low), free.high) for setting in whole})


def _differences(family: Family, middle: Floats, half: Floats) -> tuple[Floats, Floats]:
    """First (q, m, 4) and second (q, q, m, 4) differences of the facets' planes."""

    def at(away: Floats) -> Floats:
        return np.column_stack(family.planes(middle + away))

    count = len(middle)
    steps = np.diag(half)
    zero = at(np.zeros(count))
    plus, minus = ([at(sign * step) for step in steps] for sign in (1.0, -1.0))
    first = np.array([(p - m) / (2.0 * h) for p, m, h in zip(plus, minus, half, strict=True)])
    second = np.zeros((count, count, *zero.shape))
    for i in range(count):
        second[i, i] = (plus[i] - 2.0 * zero + minus[i]) / half[i] ** 2
        for j in range(i):
            both = at(steps[i] + steps[j]) + at(-steps[i] - steps[j]) + 2.0 * zero
            mixed = (both - plus[i] - minus[i] - plus[j] - minus[j]) / (2.0 * half[i] * half[j])
            second[i, j] = second[j, i] = mixed
    return first, second
