"""What each of very many offers may take: all of them together no more than some would."""

MANY = 24  # offers, up to which each gets the whole of its work; four kinds of any design


def share_of(work: int, offers: int, least: int) -> int:
    """Of ``work`` for one offer, what each of so many gets: ``least`` at any rate.

    >>> share_of(600, 24, 50), share_of(600, 48, 50), share_of(600, 10_000, 50)
    (600, 300, 50)
    """
    return max(least, min(work, work * MANY // max(offers, 1)))
