"""The sentences that say what a facet is cut to."""

import re

from optimizer.design.model import TouchRule
from optimizer.errors import nearest

# Each sentence's pattern, its kind, and the sides whose facets may be cut to it.
_NUMBER = r"(?P<percent>\d+(?:\.\d+)?) percent in"
_SENTENCES: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("the outline", "outline", ("girdle",)),
    ("the width", "width", ("girdle",)),
    ("the length", "length", ("girdle",)),
    ("the tip", "tip", ("girdle",)),
    ("the corner share", "corner share", ("girdle",)),
    ("the girdle line", "girdle line", ("crown", "pavilion")),
    ("the girdle corner", "girdle corner", ("crown", "pavilion")),
    ("the table share", "table share", ("crown",)),
    (r"the table edge of (?P<tier>.+)", "table edge", ("crown",)),
    (rf"the ridge of (?P<tier>.+), {_NUMBER}", "ridge", ("crown", "pavilion")),
    (rf"the slope of (?P<tier>.+), {_NUMBER}", "slope", ("crown", "pavilion")),
)


def vocabulary(side: str) -> list[str]:
    """The sentences that a facet on ``side`` may be cut to, with TIER and 40 as examples."""
    plain = [pattern for pattern, _, sides in _SENTENCES if side in sides]
    return [p.replace("(?P<tier>.+)", "TIER").replace(_NUMBER, "40 percent in") for p in plain]


def read_sentence(sentence: str, side: str) -> TouchRule | str:
    """What the sentence means; or, as the end of a message, what is wrong with it."""
    for pattern, kind, sides in _SENTENCES:
        found = re.fullmatch(pattern, sentence)
        if found and side in sides:
            named = found.groupdict()
            return TouchRule(kind, named.get("tier") or "", float(named.get("percent") or 0.0))
        if found:
            return f'"{sentence}" is for {" and ".join(sides)} tiers only'
    return f'"{sentence}" is no sentence for a {side} tier; {nearest(sentence, vocabulary(side))}'
