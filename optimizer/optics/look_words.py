"""The look in sentences: figures, how well the colours are known, warnings."""

from collections.abc import Callable, Iterator

from optimizer.colours import apart, chroma, decoded, from_hex
from optimizer.optics.colouring import ESTIMATED_AT_MM, Colouring, Tint
from optimizer.optics.figures import ZoneFigures
from optimizer.optics.look import ROCK_DEG, Look, Tone, TurnFigures
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

MISFIT = 1.0  # ΔE from which an eye tells the difference
LITTLE = 0.5  # of the face: a warning follows where less of it tells two colours apart
BLURS = 0.02  # birefringence from which facet edges seem double; common practice, no source
DARK = 20.0  # lightness of 100: below it a face shows hardly any colour
PALE, PALE_LIGHTNESS = 8.0, 70.0  # chroma: below it, on a light face, the colour seems washed out
_COLOURED = 3.0  # chroma of a stated colour that is meant as one; limits are choices of our own

LEFT_OUT = (
    "Left out: double refraction, the setting or hand below the stone, inclusions, scratches and "
    "scattered light. No light comes from below, so a window is dark."
)


def look_lines(look: Look) -> list[str]:
    """A sentence for each figure, upright and at its worst under rocking."""
    return [*_light_lines(look), *_zone_lines(look), *map(_tone_line, _stated(look))]


def short_line(look: Look) -> str:
    """The upright figures in one line."""
    light, zone = look.upright.light, look.upright.zone
    shown = ""
    if zone is not None and not zone.distinct:
        shown = f"{_pair(look.colouring)} can't be told apart; "
    elif zone is not None:
        one, two = zone.ends
        shown = (
            f"{look.colouring.first.name} is {_percent(zone.share)} of what the face shows, "
            f"{_percent(one)} and {_percent(two)} of its two ends; "
        )
    return (
        f"Seen face up: {shown}light return {_percent(light.light_return)}, window "
        f"{_percent(light.window)}, extinction {_percent(light.extinction)}."
    )


def _light_lines(look: Look) -> Iterator[str]:
    def percent(figure: Callable[[TurnFigures], float], worst: str) -> str:
        span = look.span(figure)
        end = span[0] if worst == "least" else span[1]
        return f"{_percent(figure(look.upright))} (rocked by {_ROCKED}, {_percent(end)} at worst)"

    yield (
        f"Light return {percent(lambda s: s.light.light_return, 'least')}: the share of an open "
        "sky's light that a clear stone gives back from within."
    )
    yield (
        f"Window {percent(lambda s: s.light.window, 'most')}: the share of the face through which "
        "you see what lies below the stone."
    )
    yield (
        f"Extinction {percent(lambda s: s.light.extinction, 'most')}: the share of the face that "
        "is dark because it mirrors the viewer's head."
    )
    low, high = look.span(lambda s: s.light.contrast)
    yield (
        f"Contrast {look.upright.light.contrast:.2f} (rocked, {low:.2f} to {high:.2f}): how far "
        "bright and dark places differ; at 0 all are alike."
    )


TRACE = 0.005  # of a face: an eye does not notice less of a colour
_ROCKED = f"up to {plain(max(ROCK_DEG))}°"


def _zone_lines(look: Look) -> Iterator[str]:
    zone = look.upright.zone
    if zone is None:
        return
    if not zone.distinct:
        yield f"The face does not tell {_pair(look.colouring)} apart, so no share is given."
        return
    name = look.colouring.first.name
    turned = [seen.zone for seen in look.by_turn if seen.zone is not None and seen.zone.distinct]
    shares = [each.share for each in turned]
    yield (
        f"{_capital(name)} is {_percent(zone.share)} of what the face shows (rocked, "
        f"{_percent(min(shares))} to {_percent(max(shares))}); the rest is "
        f"{look.colouring.second.name}."
    )
    pairs: tuple[tuple[str, tuple[float, float], Callable[[ZoneFigures], float]], ...] = (
        ("halves on either side of the length", zone.halves, lambda z: z.balance_of_halves),
        ("ends", zone.ends, lambda z: z.balance_of_ends),
    )
    for what, (one, two), balance in pairs:
        if max(one, two) < TRACE:
            continue  # a balance between two traces means nothing
        worst = min(balance(each) for each in turned)
        yield (
            f"The two {what} show {_percent(one)} and {_percent(two)} {name}: balance "
            f"{balance(zone):.2f} (rocked, {worst:.2f} at worst)."
        )


def _stated(look: Look) -> list[Tone]:
    pairs = zip(look.colouring.tints, look.tones, strict=True)
    return [tone for tint, tone in pairs if tint.stated]


def _tone_line(tone: Tone) -> str:
    return (
        f"A face that is all {tone.name} has the mean colour {tone.srgb} under an open sky: "
        f"lightness {tone.lightness:.0f} of 100, chroma {tone.chroma:.0f}."
    )


def colour_lines(colouring: Colouring) -> list[str]:
    """How well the colours are known, unless each is stated at a thickness."""
    if not any(tint.stated for tint in colouring.tints):
        return ["No colour is stated at all: the pictures show a clear stone."]
    return [line for tint in colouring.tints for line in _tint_lines(tint)]


def _tint_lines(tint: Tint) -> Iterator[str]:
    if not tint.stated:
        yield f"No colour is stated for {tint.name}: it is shown clear."
        return
    if tint.at_mm is None:
        yield (
            f"The depth of {tint.name} is an estimate: the rough file does not state the thickness "
            f"that shows its colour (shows_at_mm), so {plain(ESTIMATED_AT_MM)} mm is taken."
        )
    if tint.misfit > MISFIT:
        yield (
            f"No smooth absorption shows {tint.name} exactly as it is stated: the nearest is off "
            f"by ΔE {tint.misfit:.1f}; an eye can tell a difference of 1."
        )


def look_warnings(look: Look, material: Material) -> tuple[str, ...]:
    """Warnings that the stone is too dark or too pale, that its colours can't be told apart, or
    that double refraction blurs it."""
    return (*_tone_warnings(look), *_pair_warnings(look), *_blur(material))


def _tone_warnings(look: Look) -> Iterator[str]:
    for tint, tone in zip(look.colouring.tints, look.tones, strict=True):
        if tint.stated and tone.lightness < DARK:
            yield (
                f"A stone of this size is too dark where it is {tone.name}: its face comes to "
                f"lightness {tone.lightness:.0f} of 100 under an open sky, and below {plain(DARK)} "
                "little colour shows; a smaller or shallower stone is lighter."
            )
        pale = tone.chroma < PALE and tone.lightness > PALE_LIGHTNESS
        if tint.stated and pale and _meant(tint):
            yield (
                f"A stone of this size is pale where it is {tone.name}: its face comes to chroma "
                f"{tone.chroma:.0f} under an open sky, and below {plain(PALE)} little colour "
                "shows; a larger or deeper stone shows more."
            )


def _pair_warnings(look: Look) -> Iterator[str]:
    zone = look.upright.zone
    if zone is None or not all(tint.stated for tint in look.colouring.tints):
        return
    pair = _pair(look.colouring)
    one, other = (decoded(from_hex(tone.srgb)) for tone in look.tones)
    if max(tone.lightness for tone in look.tones) < DARK and not zone.distinct:
        yield f"Too little colour shows to tell {pair} apart: their boundary is not seen."
    elif not zone.distinct or float(apart(one, other)) < MISFIT:
        yield f"In this stone {pair} look alike: their boundary is not seen."
    elif zone.distinct_share < LITTLE:
        yield (
            f"Only {_percent(zone.distinct_share)} of the face shows enough colour to tell {pair} "
            "apart; shares of a colour are shares of that part alone."
        )


def _pair(colouring: Colouring) -> str:
    return f"{colouring.first.name} and {colouring.second.name}"


def _meant(tint: Tint) -> bool:
    at_mm = tint.at_mm or ESTIMATED_AT_MM
    return any(chroma(dye.colour(at_mm)) >= _COLOURED for dye in tint.dyes)


def _blur(material: Material) -> tuple[str, ...]:
    most = material.birefringence[1] if material.birefringence else 0.0
    if most < BLURS:
        return ()
    return (
        f"Double refraction of {material.name} (up to {plain(most)}) makes edges seem double and "
        "the face softer than its picture, which leaves it out.",
    )


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
