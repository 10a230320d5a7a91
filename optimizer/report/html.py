"""Small pieces of HTML. Every function escapes the text that it takes."""

import math
from collections.abc import Iterable, Sequence
from html import escape

from optimizer.wording.minus import with_minus


def section(key: str, title: str, *body: str, kind: str = "") -> str:
    """A titled section; ``body`` is HTML and ``kind`` a class of page.css."""
    marked = f' class="{escape(kind)}"' if kind else ""
    return f'<section id="{escape(key)}"{marked}><h2>{escape(title)}</h2>{"".join(body)}</section>'


def title(text: str) -> str:
    """The page's one main heading."""
    return f"<h1>{escape(text)}</h1>"


def heading(text: str) -> str:
    """A heading inside a section."""
    return f"<h3>{escape(text)}</h3>"


def paragraph(text: str, kind: str = "") -> str:
    """A paragraph of plain text; ``kind`` is a class of page.css."""
    marked = f' class="{escape(kind)}"' if kind else ""
    return f"<p{marked}>{escape(text)}</p>"


def bullets(texts: Iterable[str], *, numbered: bool = False) -> str:
    """A list of plain sentences; an empty string where there are none."""
    tag = "ol" if numbered else "ul"
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<{tag}>{items}</{tag}>" if items else ""


def facts(pairs: Iterable[tuple[str, str]]) -> str:
    """Figures with their names (name, figure), as cards."""
    cards = "".join(f"<div><dt>{escape(a)}</dt><dd>{escape(b)}</dd></div>" for a, b in pairs)
    return f'<dl class="facts">{cards}</dl>'


def table(head: Sequence[str], rows: Iterable[Sequence[str]], numbers: Sequence[int] = ()) -> str:
    """A table of plain text; the columns in ``numbers`` are right-aligned."""
    kinds = [' class="number"' if k in numbers else "" for k in range(len(head))]
    top = "".join(
        f'<th scope="col"{kind}>{escape(t)}</th>' for t, kind in zip(head, kinds, strict=True)
    )
    body = "".join(
        "<tr>"
        + "".join(f"<td{kind}>{escape(t)}</td>" for t, kind in zip(row, kinds, strict=True))
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="wide"><table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>'
    )


def figure(svg: str, caption: str, kind: str = "", share: float = 1.0) -> str:
    """A drawing (SVG, already escaped) with its caption; ``share`` is its share of a row's
    width."""
    inside = f'<div class="drawing {escape(kind)}">{svg}</div>'
    below = f"<figcaption>{escape(caption)}</figcaption>"
    return f'<figure style="flex:{share:.3f} 1 0">{inside}{below}</figure>'


def number(value: float, digits: int = 2) -> str:
    """A number with a proper minus sign, and never a minus zero.

    >>> number(-0.001), number(-1.5, 1)
    ('0.00', '−1.5')
    """
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        text = text.removeprefix("-")
    return with_minus(text)


def millimetres(value: float, digits: int = 2) -> str:
    """A length."""
    return f"{number(value, digits)} mm"


def at_least_mm(value: float) -> str:
    """A length that the plan guarantees: rounded down to a hundredth.

    >>> at_least_mm(1.4567)
    '1.45 mm'
    """
    return millimetres(math.floor(value * 100.0 + 1e-6) / 100.0)


def carats(value: float, digits: int = 2) -> str:
    """A weight."""
    return f"{number(value, digits)} ct"


def degrees(value: float, digits: int = 1) -> str:
    """An angle."""
    return f"{number(value, digits)}°"


def point(values: Iterable[float], digits: int = 2) -> str:
    """A point or direction of the scan frame, kept on one line."""
    return "(" + ",\N{NO-BREAK SPACE}".join(number(float(value), digits) for value in values) + ")"


def counted(count: int, one: str) -> str:
    """A count with its noun.

    >>> counted(1, "cut"), counted(3, "cut")
    ('1 cut', '3 cuts')
    """
    return f"{count} {one}" + ("" if count == 1 else "s")
