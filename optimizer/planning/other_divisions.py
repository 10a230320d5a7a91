"""Other ways to saw a piece, in words."""

from optimizer.plan_model import Plan


def differs(other: Plan, plan: Plan) -> str:
    """What differs from the plan, in one sentence."""
    assert other.objective is not None
    assert plan.objective is not None
    unit = plan.objective.unit
    lost = plan.objective.value - other.objective.value
    more = "less" if lost >= 0.0 else "more"
    stones, cuts = len(other.stones) - len(plan.stones), _cuts(other) - _cuts(plan)
    heaviest = max(s.carat for s in other.stones) - max(s.carat for s in plan.stones)
    told = [f"{abs(lost):.2f} {unit} {more} in all"]
    told += [_by(stones, "stone")] if stones else []
    told += [_by(cuts, "cut")] if cuts else []
    if abs(heaviest) >= 0.01:
        told.append(f"its heaviest stone {abs(heaviest):.2f} ct {_more(heaviest)}")
    return f"{other.stones_named}: {', '.join(told)}."


def _cuts(plan: Plan) -> int:
    return len(plan.sawing.cuts)


def _by(count: int, noun: str) -> str:
    plural = "" if abs(count) == 1 else "s"
    fewer = "more" if count > 0 else "fewer"
    return f"{abs(count)} {noun}{plural} {fewer}"


def _more(difference: float) -> str:
    return "heavier" if difference > 0.0 else "lighter"
