"""How another way to saw the piece differs from the plan, in words."""

from optimizer.plan_model import Plan


def differs(other: Plan, plan: Plan) -> str:
    """One sentence on what differs from the plan."""
    assert other.objective is not None
    assert plan.objective is not None
    unit = plan.objective.unit
    lost = plan.objective.value - other.objective.value
    less = "less" if lost >= 0.0 else "more"
    stones, cuts = len(other.stones) - len(plan.stones), _cuts(other) - _cuts(plan)
    heaviest = max(s.carat for s in other.stones) - max(s.carat for s in plan.stones)
    differences = [f"{abs(lost):.2f} {unit} {less} in all"]
    differences += [_count_difference(stones, "stone")] if stones else []
    differences += [_count_difference(cuts, "cut")] if cuts else []
    if abs(heaviest) >= 0.01:
        way = "heavier" if heaviest > 0.0 else "lighter"
        differences.append(f"its heaviest stone {abs(heaviest):.2f} ct {way}")
    return f"{other.stones_named}: {', '.join(differences)}."


def _cuts(plan: Plan) -> int:
    return len(plan.sawing.cuts)


def _count_difference(count: int, noun: str) -> str:
    plural = "" if abs(count) == 1 else "s"
    fewer = "more" if count > 0 else "fewer"
    return f"{abs(count)} {noun}{plural} {fewer}"
