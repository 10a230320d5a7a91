"""What a plan of several stones says beside its stones: its worth, better plans, pairs."""

from collections.abc import Iterator
from dataclasses import replace

from optimizer.plan_model import Plan
from optimizer.several.divide import SearchResult
from optimizer.several.instance import Instance
from optimizer.several.model import Division
from optimizer.several.pairs import pairs_of
from optimizer.several.plan_bounds import PlanBound

UNLIKE = 0.1  # of the face: to an eye, stones whose colour shares differ by more are no pair


def worth_text(instance: Instance, worth: float) -> str:
    """A worth with its unit."""
    return f"{worth:.2f} {instance.worth.unit}"


def better_plan_notes(
    instance: Instance, result: SearchResult, worth_bound: PlanBound | None
) -> Iterator[str]:
    """What is known of better plans, beside the bound in carats; ``worth_bound`` is the bound in
    money, where stones have prices."""
    total, first = instance.division_worth(result.best), result.largest_first
    if first is not None and first <= total and not instance.worth.cut:
        yield (
            "The largest stone first, then the largest that is left, and so on, would give about "
            f"{worth_text(instance, first)}; this plan gives {worth_text(instance, total)}."
        )
    choice = result.choice
    if choice and choice.bound >= total:
        yield (
            "The search first placed many stones singly and chose the best set of them that a saw "
            f"can part: no such set gives more than {worth_text(instance, choice.bound)}. Moving "
            "stones and cuts together may give more, and so may stones in other places."
        )
    if worth_bound is not None:
        yield (
            f"No plan for these stones is worth more than {worth_text(instance, worth_bound.worth)}"
            f", by their prices and what the cuts cost: {worth_bound.because}."
        )


def with_pair_notes(plan: Plan, instance: Instance, division: Division) -> Plan:
    """``plan`` with a note on which stones are a pair, and a warning where two stones of a pair
    show a colour on clearly different shares of their faces."""
    notes, warnings = [], []
    for one, other in pairs_of(division.stones, instance.wishes):
        both = f"Stones {one + 1} and {other + 1}"
        notes.append(f"{both} are a pair.")
        looks = [look for k in (one, other) if (look := plan.stones[k].look) is not None]
        shares = [zone.share for look in looks if (zone := look.upright.zone) and zone.distinct]
        if len(shares) == 2 and abs(shares[0] - shares[1]) > UNLIKE:
            warnings.append(
                f"{both} are a pair in shape and width, but {100.0 * shares[0]:.0f} % and "
                f"{100.0 * shares[1]:.0f} % of their faces show {looks[0].colouring.first.name}: "
                "a zone of the wanted pair makes them alike."
            )
    return replace(plan, notes=(*plan.notes, *notes), warnings=(*plan.warnings, *warnings))
