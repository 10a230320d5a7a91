"""A budget of work shared among very many offers."""

MANY = 24  # up to so many offers each gets the whole of its work: four kinds of any design


def share_of(work: int, offers: int, least: int) -> int:
    """The work for each of ``offers`` offers, where one alone gets ``work``: never less than
    ``least``.

    >>> share_of(600, 24, 50), share_of(600, 48, 50), share_of(600, 10_000, 50)
    (600, 300, 50)
    """
    return max(least, min(work, work * MANY // max(offers, 1)))
