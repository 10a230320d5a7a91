"""The few SVG marks that the drawing is made of."""

from xml.sax.saxutils import escape

from optimizer.mesh import Floats

INK, FAINT, PAPER = "#1c2430", "#6d7785", "#ffffff"


def opening(wide: float, high: float, title: str) -> str:
    """The root element's start tag, its title and a plain ground."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {high:.0f}" '
        f'width="{wide:.0f}" height="{high:.0f}" role="img" '
        f'font-family="sans-serif" font-size="12" fill="{INK}">\n<title>{escape(title)}</title>\n'
        f'<rect width="{wide:.0f}" height="{high:.0f}" fill="{PAPER}"/>'
    )


def text(x: float, y: float, words: str, anchor: str = "middle", extra: str = "") -> str:
    """A line of text at its baseline."""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {extra}>{escape(words)}</text>'


def strokes(flat: Floats, edges: list[tuple[int, int]], width: float) -> str:
    """Lines between points ``flat`` (n, 2), as one path."""
    path = "".join(
        f"M{flat[a, 0]:.2f} {flat[a, 1]:.2f}L{flat[b, 0]:.2f} {flat[b, 1]:.2f}" for a, b in edges
    )
    look = f'fill="none" stroke="{INK}" stroke-width="{width}" stroke-linecap="round"'
    return f'<path d="{path}" {look}/>'


def faint_line(x: float, y: float, to_x: float, to_y: float, dashes: str = "") -> str:
    """A thin line for axes and dimensions."""
    look = f'stroke="{FAINT}" stroke-width="0.7" stroke-dasharray="{dashes or "none"}"'
    return f'<path d="M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}" {look}/>'


def filled(points: list[tuple[float, float]]) -> str:
    """A filled shape."""
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polygon points="{corners}" fill="{INK}"/>'


def span(x: float, y: float, to_x: float, to_y: float) -> str:
    """A dimension line, level or upright, with a short bar at each end."""
    bar = (0.0, 4.0) if y == to_y else (4.0, 0.0)
    ends = [
        faint_line(at_x - bar[0], at_y - bar[1], at_x + bar[0], at_y + bar[1])
        for at_x, at_y in ((x, y), (to_x, to_y))
    ]
    return "".join([faint_line(x, y, to_x, to_y), *ends])
