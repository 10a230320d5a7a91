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
    ("the side point", "side point", ("girdle",)),
    ("the corner share", "corner share", ("girdle",)),
    ("the girdle line", "girdle line", ("crown", "pavilion")),
    ("the girdle corner", "girdle corner", ("crown", "pavilion")),
    ("the table share", "table share", ("crown",)),
    ("the table edge", "table edge", ("crown",)),
    ("the table corner", "table corner", ("crown",)),
    ("the centre point", "centre point", ("crown", "pavilion")),
    (r"the meet of (?P<tier>.+?) and (?P<other>.+)", "meet", ("crown", "pavilion")),
    (rf"the ridge of (?P<tier>.+?) and (?P<other>.+), {_NUMBER}", "ridge", ("crown", "pavilion")),
    (rf"the ridge of (?P<tier>.+?), {_NUMBER}", "ridge", ("crown", "pavilion")),
    (rf"the slope of (?P<tier>.+?), {_NUMBER}", "slope", ("crown", "pavilion")),
)


def vocabulary(side: str) -> list[str]:
    """The sentences that a facet on ``side`` may be cut to, with TIER and 40 as examples."""
    plain = [pattern for pattern, _, sides in _SENTENCES if side in sides]
    examples = {"(?P<tier>.+?)": "TIER", "(?P<other>.+)": "OTHER", _NUMBER: "40 percent in"}
    for pattern, example in examples.items():
        plain = [sentence.replace(pattern, example) for sentence in plain]
    return plain


def read_sentence(sentence: str, side: str) -> TouchRule | str:
    """What the sentence means; or, as the end of a message, what is wrong with it."""
    for pattern, kind, sides in _SENTENCES:
        found = re.fullmatch(pattern, sentence)
        if found and side in sides:
            named = found.groupdict()
            percent = float(named.get("percent") or 0.0)
            return TouchRule(kind, named.get("tier") or "", percent, named.get("other") or "")
        if found:
            return f'"{sentence}" is for {" and ".join(sides)} tiers only'
    return f'"{sentence}" is no sentence for a {side} tier; {nearest(sentence, vocabulary(side))}'
