"""What a stop left out is named, and nothing else."""

import pytest

from optimizer.placement.active_constraints import MOST_TRIED
from optimizer.placement.model import BOUNDARY, SIZE, SURFACE, ActiveConstraint, ActiveConstraints
from optimizer.planning.missing_parts import missing_parts

WHOLE = ((1, 2), (3,))  # stand for distances, which are only counted


def holding(places: int, tried: int, others: tuple[float | None, ...] = ()) -> ActiveConstraints:
    def hold(kind: str, gain: float | None) -> ActiveConstraint:
        return ActiveConstraint(kind, "", (), 0.5, "mm", 0.3, gain)

    surface = [hold(SURFACE, 0.1 if k < tried else None) for k in range(places)]
    rest = [hold(kind, gain) for kind, gain in zip((BOUNDARY, SIZE), others, strict=False)]
    return ActiveConstraints(False, 1.5, 0.0, (*surface, *rest))


@pytest.mark.parametrize(
    "held",
    [holding(0, 0), holding(7, 7, (0.0, 0.2)), holding(MOST_TRIED + 5, MOST_TRIED, (0.1,))],
)
def test_of_a_whole_plan_nothing_is_said(held):
    assert missing_parts(WHOLE, [held]) == ()


def test_what_was_not_looked_into_is_named():
    (said,) = missing_parts(WHOLE, [None])
    assert "what holds the stone was not examined" in said
    assert "caliper" not in said


@pytest.mark.parametrize(
    ("held", "counts"),
    [
        (holding(7, 3), "of 7 things that hold the stone, only 3 were tried a little looser."),
        (
            holding(2, 2, (0.0, None)),
            "of 4 things that hold the stone, only 3 were tried a little looser.",
        ),
        (
            holding(MOST_TRIED + 5, MOST_TRIED, (None,)),
            f"only {MOST_TRIED} were tried a little looser.",
        ),
    ],
)
def test_what_was_looked_into_in_part_is_counted(held, counts):
    (said,) = missing_parts(WHOLE, [held])
    assert counts in said


def test_all_that_is_missing_is_one_sentence_of_parts():
    (said,) = missing_parts(((1, 2), (), ()), [None])
    assert "caliper distances are missing for 2 of 3; what holds the stone" in said
    assert said.startswith("Stopped early: the saw cuts are a first choice")
