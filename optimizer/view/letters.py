"""Text and number tags on a picture, limited to the letters that its typeface has."""

import unicodedata
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from optimizer.mesh import Floats

_SPELT = str.maketrans(
    {"×": "x", "−": "-", "–": "-", "³": "3", "²": "2", "’": "'", "µ": "u", "ß": "ss"}
)


def in_plain_letters(text: str) -> str:
    """``text`` in plain letters, the only ones that the typeface has, with "?" for all others.

    >>> in_plain_letters("2.5 × 3 mm³, naïve, 色")
    '2.5 x 3 mm3, naive, ?'
    """
    parted = unicodedata.normalize("NFKD", text.translate(_SPELT))
    kept = "".join(c for c in parted if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" or c in "°±" else "?" for c in kept)


@lru_cache(maxsize=8)
def _typeface(size: int) -> Any:
    from PIL import ImageFont

    return ImageFont.load_default(size)


@dataclass(frozen=True)
class Pen:
    """Draws the picture ``finer`` times as large as it is shown, so that edges come out smooth."""

    finer: int
    size: int = field(default=17)  # of letters, in pixels of the finished picture

    def pixels(self, shown: float) -> int:
        """A length in pixels of the finished picture, converted to pixels of the drawing."""
        return round(self.finer * shown)

    def write(self, draw: Any, spot: tuple[float, float], text: str, ink: str, larger: float = 1.0,
              anchor: str = "ls") -> None:  # fmt: skip
        """A line of text from its baseline's left end, or as Pillow's ``anchor`` says."""
        draw.text(spot, in_plain_letters(text), font=self._font(larger), fill=ink, anchor=anchor)

    def wide(self, text: str) -> float:
        """The width of a line of text, in pixels of the drawing."""
        return float(self._font(1.0).getlength(in_plain_letters(text)))

    def folded(self, text: str, most: float) -> list[str]:
        """``text`` broken between words into lines of at most ``most`` pixels of the drawing."""
        lines = [""]
        for word in text.split():
            longer = f"{lines[-1]} {word}".strip()
            if lines[-1] and self.wide(longer) > most:
                lines.append(word)
            else:
                lines[-1] = longer
        return lines

    def tag(self, draw: Any, spot: Floats, text: str, colour: str) -> None:
        """A number in a disc."""
        (x, y), half = spot, self.pixels(12)
        rim = self.pixels(2.5)
        draw.ellipse(
            (x - half, y - half, x + half, y + half), fill="#fffdf8", outline=colour, width=rim
        )
        self.write(draw, (x, y + self.pixels(0.5)), text, "#2b241c", 0.9, "mm")

    def _font(self, larger: float) -> Any:
        return _typeface(self.pixels(self.size * larger))
