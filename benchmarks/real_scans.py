"""Plan in every real scan that is there; say which are refused and why."""

from pathlib import Path

from benchmarks.pieces import SCANS, real_scan, scan_paths
from benchmarks.tables import Table, timed, write_page
from optimizer import make_plan
from optimizer.errors import AuditError, InputError
from optimizer.order import Order
from optimizer.plan_model import Plan
from optimizer.rough.model import Rough

EFFORT = "normal"
COLUMNS = (
    "scan", "triangles", "reading s", "preparation s", "search s", "sawing s", "audit s", "design",
    "rough ct", "stone ct", "yield %", "bound ct", "bound / stone",
)  # fmt: skip

INTRO = f"""\
Scans that nobody here made, each scaled so that its longest side is 20 mm and planned as quartz:
the heaviest stone of any design of the library, {EFFORT} effort, compiled code warm. The bound says
what no stone of these designs can weigh; it counts the rough as its convex hull, so hollow pieces
have a loose one."""


def planned(name: str, rough: Rough, reading_s: float) -> list[str]:
    """The row of one scan."""
    plan = make_plan(rough, Order(), effort=EFFORT)
    stages = [plan.timing_s.get(s, 0.0) for s in ("preparation", "search", "sawing and marks")]
    seconds = [reading_s, *stages, plan.timing_s["audit"]]
    start = [name, f"{len(rough.mesh.faces):,}", *(f"{s:.2f}" for s in seconds)]
    return [*start, *_found(plan)]


def _found(plan: Plan) -> list[str]:
    rough_ct = f"{plan.rough.carat:.2f}"
    if not plan.stones:
        return [plan.status, rough_ct, "-", "-", "-", "-"]
    stone, bound = plan.stones[0], plan.bound
    assert bound is not None
    return [
        stone.design.name,
        rough_ct,
        f"{stone.carat:.3f}",
        f"{100.0 * stone.carat / plan.rough.carat:.1f}",
        f"{bound.carat:.2f}",
        f"{bound.carat / stone.carat:.2f}",
    ]


def read(path: Path) -> tuple[Rough | str, float]:
    """The scan as rough, or why it is refused; and the seconds that took."""

    def attempt() -> Rough | str:
        try:
            return real_scan(path)
        except InputError as error:
            return str(error)

    return timed(attempt)


def plan_all(whole: list[tuple[str, Rough, float]]) -> tuple[list[list[str]], list[list[str]]]:
    """Rows of the plans, and of those that the audit refused."""
    rows, failed = [], []
    for name, rough, seconds in whole:
        try:
            rows.append(planned(name, rough, seconds))
            print(" ".join(rows[-1]), flush=True)
        except AuditError as error:
            failed.append([name, str(error)])
    return rows, failed


def main() -> None:
    """Plan every scan and write the page."""
    paths = scan_paths()
    for path in paths[:1]:
        read(path)  # libraries load here
    scans = [(str(path.relative_to(SCANS)), *read(path)) for path in paths]
    whole = [(name, rough, s) for name, rough, s in scans if isinstance(rough, Rough)]
    refused = [[name, reason] for name, reason, _ in scans if isinstance(reason, str)]
    for _, rough, _ in whole[:1]:
        make_plan(rough, Order(), effort="quick")  # compiled code loads here
    rows, failed = plan_all(whole)
    tables = [
        Table("Planned", COLUMNS, rows),
        Table("Refused, with the reason given", ("scan", "reason"), refused),
        Table("Planned, but failed the audit: no result", ("scan", "reason"), failed),
    ]
    write_page("real_scans", INTRO, [table for table in tables if table.rows])


if __name__ == "__main__":
    main()
