"""Several stones where the best division is known by construction: is it found?

Each piece is made around stones that were laid by hand, so that they just fit, and is then made
0.5 % larger, or 0.5 % smaller, in the directions that matter. Bricks come from a dynamic program
over guillotine cuts. Every plan is audited, so that one with too many stones would be refused.
"""

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import permutations
from time import process_time

import numpy as np

from benchmarks.pieces import hull
from benchmarks.several import rough_of
from benchmarks.tables import Table, write_page
from optimizer import load_design, make_plan
from optimizer.design import build_body
from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.order import Order, SizeDemand, Workshop
from optimizer.order.several import Price, Several, Wanted
from optimizer.rough.model import Flaw, Rough
from optimizer.several.model import allowance_mm
from optimizer.several.worth import Worth

SPARE, EFFORT, SEED = 0.005, "quick", 0
SHOP = Workshop(saw_reach_mm=200.0, hold_mm=1.0)
APART, SKIN_MM = 2.0 * allowance_mm(SHOP), 0.25  # of the workshop above, in a scan within 0.05 mm
CRACK_MM = 1.0  # clear of a crack: more than a saw cut takes
THICKER = 1.03  # a plate's thickness is no matter: it leaves 3 % about its stones
MOST, CLEAR_MM, GRID_MM = 12, 0.1, 0.005
QUARTZ_CT = 2.65 / 200.0  # carats in 1 mm3
ANGLES = {
    "cut-corner-rectangle": {"crown": 36.0, "pavilion": 42.0},
    "round-brilliant": {"crown": 34.5, "pavilion": 41.0},
    "pear": {"crown": 36.0, "pavilion": 42.0},
}
FLATS_DEG = 180.0 / 16.0  # a round's girdle has 16 sides, and a corner on its x axis
# The sides of a round's profile: girdle, crown, table, crown, girdle, pavilion, pavilion.
PROFILE_DEG = (0.0, 55.5, 90.0, 124.5, 180.0, 229.0, 311.0)
ROUNDING = 1e-3  # of what there is to get: prices are tried in steps of ``GRID_MM``
TILTS = np.radians(np.linspace(-60.0, 60.0, 4801))  # of a cut between two stones

INTRO = """\
Orders for several stones in small pieces whose best division is known by construction, kerf and
clearances counted in, with 0.5 % to spare and with 0.5 % too little. Plans at {effort} effort, each
audited: a plan with a stone too many would be refused. *Best* is that of the division laid by hand:
stones, or what they are worth where the order says so. Where 0.5 % is lacking, the best is that of
fewer stones, by the same construction."""


@dataclass(frozen=True)
class Case:
    """A piece made to a scale (1: the stones just fit), what is ordered, and what there is to get:
    stones, or carats or money where ``unit`` says so."""

    name: str
    piece: Callable[[float], Rough]
    order: Order
    best: Callable[[float], float]
    unit: str = "stones"


@dataclass(frozen=True)
class Row:
    """One case at one scale."""

    name: str
    scale: float
    unit: str
    best: float
    found: float
    seconds: float  # of the processors

    @property
    def reached(self) -> bool:
        """Whether the plan has the best, but for rounding."""
        return self.found >= self.best * (1.0 - ROUNDING)

    @property
    def exceeded(self) -> bool:
        """Whether the plan has more than the best."""
        return self.found > self.best * (1.0 + ROUNDING)


def body_of(design: str) -> Body:
    """The body that an order with ``ANGLES`` asks for."""
    return build_body(
        load_design(design), ANGLES[design], least_girdle_mm=0.2, least_girdle_share=0.02
    )


def wanted(design: str, width: float, count: tuple[int, int] | None = None) -> Wanted:
    """Stones of one fixed size."""
    name = f"{design} {width:g}"
    return Wanted(name, (design,), ANGLES[design], SizeDemand((width, width)), count=count)


def order_of(*kinds: Wanted) -> Order:
    """As many of these as pay."""
    return Order(workshop=SHOP, several=Several(MOST), wanted=kinds)


def carat(design: str, width: float) -> float:
    """Of a stone in quartz."""
    return body_of(design).volume_at(width) * QUARTZ_CT


def prism(outline: Floats, depth: float) -> Rough:
    """A plate with an outline (n, 2) that holds a depth of stones."""
    half = (depth * THICKER + 2.0 * SKIN_MM) / 2.0
    points = np.vstack(
        [np.column_stack([outline, np.full(len(outline), z)]) for z in (-half, half)]
    )
    return rough_of("plate", hull(points))


def box(*size: float) -> Rough:
    """A block centred on the origin."""
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], float)
    return rough_of("block", hull(corners * np.array(size) / 2.0))


# --- bricks -----------------------------------------------------------------------------------

Sizes = tuple[tuple[float, ...], ...]


def best_bricks(room: Sequence[float], kinds: Sequence[tuple[float, Sequence[float]]]) -> float:
    """The most worth of bricks (worth, edges) sawn out of a room by guillotine cuts, each brick
    square to the room in any of its six positions: the dynamic program of Gilmore and Gomory 1966
    over sums of edges. Every edge has its share of a cut added."""
    laid = [(worth, way) for worth, edges in kinds for way in {*permutations(edges)}]

    def sums(axis: int, upto: float) -> list[float]:
        found, edges = {0.0}, {way[axis] for _, way in laid}
        for _ in range(int(upto // min(edges))):
            found |= {round(a + b, 6) for a in found for b in edges if a + b <= upto + 1e-6}
        return sorted(found)

    marks = [sums(axis, room[axis]) for axis in range(3)]

    def down(axis: int, edge: float) -> float:
        return max(mark for mark in marks[axis] if mark <= edge + 1e-6)

    @cache
    def best(cell: tuple[float, ...]) -> float:
        most = max(
            (w for w, way in laid if all(e <= c + 1e-6 for e, c in zip(way, cell, strict=True))),
            default=0.0,
        )
        for axis in range(3):
            for mark in marks[axis]:
                if 0.0 < mark <= cell[axis] / 2.0 + 1e-6:
                    parts = [(*cell[:axis], down(axis, edge), *cell[axis + 1 :])
                             for edge in (mark, cell[axis] - mark)]  # fmt: skip
                    most = max(most, sum(map(best, parts)))
        return most

    return best(tuple(down(axis, edge) for axis, edge in enumerate(room)))


def bricks(name: str, widths: Sequence[float], laid: Sequence[tuple[int, ...]]) -> Case:
    """Rectangles of several widths in a block whose edges just hold ``laid``: for each axis, how
    many edges of which sizes lie along it, as numbers into the sorted edges of all kinds."""
    design = "cut-corner-rectangle"
    sizes = [np.ptp(body_of(design).vertices_at(width), axis=0) for width in widths]
    edges = sorted({round(float(edge), 9) for size in sizes for edge in size})
    just = np.array(
        [sum(n * e + n * APART for n, e in zip(axis, edges, strict=True)) for axis in laid]
    )
    just += 2.0 * SKIN_MM - APART

    def room(scale: float) -> Floats:
        return just * scale - 2.0 * SKIN_MM + APART

    def best(scale: float) -> float:
        kinds = [(carat(design, w), s + APART) for w, s in zip(widths, sizes, strict=True)]
        return best_bricks(room(scale), kinds)

    order = order_of(*(wanted(design, width) for width in widths))
    return Case(name, lambda scale: box(*just * scale), order, best, "ct")


# --- stones laid in a plate --------------------------------------------------------------------


@dataclass(frozen=True)
class Laid:
    """The outline of a stone laid table up: its corners seen from above (n, 2)."""

    corners: Floats

    def reach(self, directions: Floats) -> Floats:
        """How far it reaches along directions (d, 2) from where it stands."""
        return np.asarray((directions @ self.corners.T).max(axis=1))

    def at(self, turn_deg: float, x: float = 0.0, y: float = 0.0) -> "Laid":
        """Turned and moved."""
        a = np.radians(turn_deg)
        turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
        return Laid(self.corners @ turn.T + np.array([x, y]))


def laid(design: str, width: float) -> tuple[Laid, float]:
    """A stone's outline and its depth."""
    corners = body_of(design).vertices_at(width)
    return Laid(corners[:, :2]), float(np.ptp(corners[:, 2]))


def profile(design: str, width: float) -> Laid:
    """A round as it is seen along x, table up, turned so that flats of its girdle, and not corners,
    face along x and y: it takes least room so."""
    seen = laid(design, width)[0].at(FLATS_DEG).corners[:, 1]
    return Laid(np.column_stack([seen, body_of(design).vertices_at(width)[:, 2]]))


def apart(left: Laid, right: Laid, along_deg: float = 0.0) -> float:
    """How far apart two stones must stand along a direction so that a cut, tilted as it may be,
    parts them."""
    ways = np.column_stack(
        [np.cos(TILTS + np.radians(along_deg)), np.sin(TILTS + np.radians(along_deg))]
    )
    return float(((left.reach(ways) + right.reach(-ways) + APART) / np.cos(TILTS)).min())


def outline(stones: Sequence[Laid], sides_deg: Sequence[float], scale: float) -> Floats:
    """The corners of the polygon with sides square to these directions that just holds stones."""
    angles = np.radians(np.sort(np.asarray(sides_deg, float)))
    ways = np.column_stack([np.cos(angles), np.sin(angles)])
    offsets = np.max([stone.reach(ways) for stone in stones], axis=0) + SKIN_MM
    pairs = zip(range(len(ways)), np.roll(range(len(ways)), -1), strict=True)
    return scale * np.array([np.linalg.solve(ways[[i, j]], offsets[[i, j]]) for i, j in pairs])


def in_plate(
    name: str, design: str, width: float, stones: Sequence[Laid], sides_deg: Sequence[float],
    flaws: Sequence[Flaw] = (),
) -> Case:  # fmt: skip
    """Equal stones in a plate with such sides."""
    depth = laid(design, width)[1]

    def piece(scale: float) -> Rough:
        return replace(prism(outline(stones, sides_deg, scale), depth), flaws=tuple(flaws))

    def best(scale: float) -> float:
        return len(stones) - (scale < 1.0)

    return Case(name, piece, order_of(wanted(design, width)), best)


def triangle() -> Case:
    """Three rounds, two in a row and one above, each touching two sides."""
    one, _ = laid("round-brilliant", 5.0)
    d = apart(one, one, 0.0)
    stones = [one.at(0.0, x, y) for x, y in ((-d / 2.0, 0.0), (d / 2.0, 0.0), (0.0, d))]
    lean = np.degrees(np.arctan2(0.5, 1.0))
    return in_plate(
        "rounds in a triangle", "round-brilliant", 5.0, stones, (-90.0, lean, 180.0 - lean)
    )


def ring() -> Case:
    """Six rounds in a ring about a bad core."""
    one, depth = laid("round-brilliant", 5.0)
    ways = 30.0 + 60.0 * np.arange(6)
    radius = max(apart(one, one, 90.0), apart(one, one, 30.0))
    stones = [one.at(0.0, *(radius * np.array([np.cos(a), np.sin(a)]))) for a in np.radians(ways)]
    core = radius - float(one.reach(np.array([[1.0, 0.0], [0.98, 0.17]])).max()) - 2.0 * CLEAR_MM
    ends = np.array([[0.0, 0.0, -depth], [0.0, 0.0, depth]])
    flaw = Flaw("core", ends, None, 0.0, core, CLEAR_MM)
    return in_plate("rounds about a bad core", "round-brilliant", 5.0, stones, ways, (flaw,))


def pears(count: int) -> Case:
    """Pears side by side, head to tail."""
    one, _ = laid("pear", 4.5)
    pitch = apart(one, one.at(180.0), 90.0)
    stones = [one.at(180.0 * (k % 2), 0.0, k * pitch) for k in range(count)]
    return in_plate(f"{count} pears head to tail", "pear", 4.5, stones, (0.0, 90.0, 180.0, -90.0))


def cracked(left: int, right: int, tilt_deg: float) -> Case:
    """A row of rounds on either side of a crack across the plate."""
    one, _ = laid("round-brilliant", 5.0)
    pitch, a = apart(one, one, 0.0), np.radians(tilt_deg)
    normal = np.array([[np.cos(a), np.sin(a)]])
    beside = (float(one.reach(normal)[0]) + CRACK_MM + 0.01) / np.cos(a)
    xs = [*(-beside - pitch * np.arange(left)), *(beside + pitch * np.arange(right))]
    flaw = Flaw("crack", np.zeros((1, 3)), np.append(normal[0], 0.0), np.inf, 0.0, CRACK_MM)
    stones = [one.at(0.0, x) for x in xs]
    return in_plate(
        f"{left} and {right} rounds beside a crack at {90 - tilt_deg:g}°", "round-brilliant", 5.0,
        stones, (0.0, 90.0, 180.0, -90.0), (flaw,),
    )  # fmt: skip


# --- prices ------------------------------------------------------------------------------------


def priced(
    name: str, laid_mm: Sequence[float], widest: float, steps: Sequence[tuple[float, float]]
) -> Case:
    """A bar in which rounds of the widths ``laid_mm`` just fit in a row. Its section is that of the
    widest round, table up, so that no round can lie table down, where it would reach beneath its
    neighbour's girdle. ``steps``: the widths from which on a price per carat holds."""
    design = "round-brilliant"
    body, price = body_of(design), load_design(design)
    weights = tuple((carat(design, width) if width else 0.0, paid) for width, paid in steps)
    across = float(np.ptp(profile(design, 1.0).corners[:, 0]))
    just = across * sum(laid_mm) + (len(laid_mm) - 1) * APART + 2.0 * SKIN_MM
    worth = Worth("money", (Price(weights),))

    def best(scale: float) -> float:
        width = np.append(np.arange(3.0, widest, GRID_MM) + 1e-9, widest)
        pays = np.array([worth.of(price, body.volume_at(w) * QUARTZ_CT) for w in width])
        takes = np.ceil((across * width + APART) / GRID_MM - 1e-3).astype(int)
        most = np.zeros(int((just * scale - 2.0 * SKIN_MM + APART) / GRID_MM) + 1)
        for room in range(int(takes[0]), len(most)):
            fits = takes <= room
            most[room] = max(most[room - 1], (pays[fits] + most[room - takes[fits]]).max())
        return float(most[-1])

    def piece(scale: float) -> Rough:
        half = just * scale / 2.0
        section = outline([profile(design, widest)], PROFILE_DEG, 1.0)
        ends = [np.column_stack([np.full(len(section), x), section]) for x in (-half, half)]
        return rough_of("bar", hull(np.vstack(ends)))

    order = Order(
        (design,), ANGLES[design], SizeDemand((3.0, 1000.0)), workshop=SHOP,
        prices=(Price(weights),), several=Several(MOST, "money"),
    )  # fmt: skip
    return Case(name, piece, order, best, "money")


def cases() -> list[Case]:
    """Twelve pieces, of the kinds that workshops meet."""
    return [
        bricks(
            "bricks of two sizes in a plate",
            (5.0, 4.0),
            ((0, 0, 0, 1, 0, 2), (0, 0, 0, 1, 1, 0), (0, 1, 0, 0, 0, 0)),
        ),
        bricks(
            "bricks of three sizes in a plate",
            (5.0, 4.0, 3.0),
            ((0, 0, 0, 0, 1, 0, 0, 1, 1), (0, 0, 1, 0, 0, 1, 1, 0, 0), (0, 0, 0, 1, 0, 0, 0, 0, 0)),
        ),
        bricks(
            "bricks of two sizes in a block",
            (4.0, 3.0),
            ((0, 0, 1, 0, 0, 1), (0, 0, 0, 2, 0, 0), (1, 1, 0, 0, 0, 0)),
        ),
        bricks(
            "bricks of three sizes in a bar",
            (5.0, 4.0, 3.0),
            ((0, 0, 1, 0, 0, 1, 1, 0, 1), (0, 0, 0, 0, 0, 0, 1, 0, 0), (0, 0, 0, 1, 0, 0, 0, 0, 0)),
        ),
        triangle(),
        ring(),
        pears(4),
        pears(7),
        cracked(1, 2, 0.0),
        cracked(2, 3, 25.0),
        cracked(2, 2, 15.0),
        priced("a price from one weight on", 4 * (5.0,), 5.3, ((0.0, 10.0), (5.0, 30.0))),
    ]


def measured(case: Case, scale: float, effort: str = EFFORT) -> Row:
    """One plan."""
    rough = case.piece(scale)
    started = process_time()
    plan = make_plan(rough, case.order, seed=SEED, effort=effort)
    seconds = process_time() - started
    found = float(len(plan.stones))
    if case.unit == "ct":
        found = sum(stone.carat for stone in plan.stones)
    elif case.unit == "money":
        found = plan.objective.value if plan.stones else 0.0
    return Row(case.name, scale, case.unit, case.best(scale), found, seconds)


def table(title: str, rows: Sequence[Row]) -> Table:
    """What was found of what there is."""
    reached, exceeded = sum(row.reached for row in rows), sum(row.exceeded for row in rows)
    return Table(
        title,
        ("piece", "best", "found", "processor s"),
        [
            (r.name, f"{r.best:.4g} {r.unit}", f"{r.found:.4g}", f"{r.seconds:.0f}")
            for r in rows
        ],
        f"The best in {reached} of {len(rows)}, more than the best in {exceeded}.",
    )  # fmt: skip


def main(names: list[str]) -> None:
    """All cases, or those whose names contain one of the words given."""
    chosen = [c for c in cases() if not names or any(name in c.name for name in names)]
    rows: dict[float, list[Row]] = {1.0 + SPARE: [], 1.0 - SPARE: []}
    for case in chosen:
        for scale, kept in rows.items():
            kept.append(measured(case, scale))
            print(kept[-1], flush=True)
    if not names:
        titles = ("0.5 % to spare", "0.5 % too little")
        tables = [table(*one) for one in zip(titles, rows.values(), strict=True)]
        write_page("divisions", INTRO.format(effort=EFFORT), tables)


if __name__ == "__main__":
    main(sys.argv[1:])
