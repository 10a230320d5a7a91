"""The plan in plain sentences, shared by the page and the terminal."""

from collections.abc import Iterator
from itertools import chain

from optimizer.design.family import Free
from optimizer.guidance.guessed_surface import guessed_surface_warnings
from optimizer.offers.freedom import PROPORTION
from optimizer.plan_model import Plan, RuledOut, Stone
from optimizer.planning.carat_range import CUT_TO_MM
from optimizer.planning.look_doubts import saw_look_doubts
from optimizer.report.figures import rough_carat, total_carat, yield_percent
from optimizer.report.html import (
    at_least_mm,
    carats,
    counted,
    heading,
    millimetres,
)
from optimizer.report.setting_words import depth_words, setting_words
from optimizer.rough.doubts import grave_doubts
from optimizer.rough.model import Readings, Rough
from optimizer.sawing.model import SawCut
from optimizer.trade.materials import cautions_for
from optimizer.wording.plain_number import plain


def headline(plan: Plan) -> str:
    """The answer in one line."""
    if plan.stones:
        return f"{plan.stones_named}, {carats(total_carat(plan))}"
    if plan.status == "impossible":
        return "No stone of this order can come out of this piece"
    if _needs_several(plan):
        return "No plan with all the stones needed was found for this order"
    return "No stone was found for this order"


def _needs_several(plan: Plan) -> bool:
    """Whether a plan may fail though there are stones in it."""
    return any(wanted.count and wanted.count[0] for wanted in plan.order.wanted)


def grave_warnings(plan: Plan) -> tuple[str, ...]:
    """The warnings that call the whole plan in question."""
    near = [
        guessed_surface_warnings(plan.rough, plan.order, stone.placement) for stone in plan.stones
    ]
    grave = (*saw_look_doubts(plan), *grave_doubts(plan.rough), *chain.from_iterable(near))
    return tuple(warning for warning in plan.warnings if warning in grave)


def size(stone: Stone) -> str:
    """Length × width × depth."""
    sides = (stone.length_mm, stone.width_mm, stone.depth_mm)
    return " × ".join(f"{side:.2f}" for side in sides) + " mm"


def source_of(rough: Rough) -> str:
    """What the model of the piece was made from."""
    return "scan" if rough.readings is None else "readings"


def stone_line(plan: Plan, index: int) -> str:
    """One stone: design, size, weight and the piece that holds it."""
    stone = plan.stones[index]
    piece = plan.sawing.stone_pieces[index]
    home = "the rough as it is" if piece == 0 else f"piece {piece}"
    return (
        f"Stone {index + 1}: {stone.design.title}, {size(stone)}, {carats(stone.carat)}"
        f"{_range_of_weight(plan, stone)}, in {home}, at least "
        f"{at_least_mm(stone.placement.clearance_mm)} below the surface."
    )


def _range_of_weight(plan: Plan, stone: Stone) -> str:
    low, high = (f"{carat:.2f}" for carat in stone.carat_range)
    if low == high:
        return ""
    within = f"the errors of {source_of(plan.rough)} and density"
    if stone.cut_to_size:
        within = f"{plain(CUT_TO_MM)} mm of that width and the error of density"
    return f" ({low} to {high} ct within {within})"


def chosen_line(stone: Stone) -> str | None:
    """The parameters that were free, what was chosen, and what the freedom is worth."""
    if not stone.free:
        return None
    each = (
        f"{free.name.replace('_', ' ')} {_setting(free, stone.parameters[free.name])} (free from "
        f"{_setting(free, free.low)} to {_setting(free, free.high)}, {_usual(free)})"
        for free in stone.free
    )
    values = "the usual values"
    if any(free.usual != free.start for free in stone.free):
        values += " or the ends nearest to them"
    if stone.usual_carat is None:
        worth = f"With {values} no stone was found"
    else:
        worth = (
            f"The choice is worth {carats(stone.carat - stone.usual_carat)}: the best stone found "
            f"with {values} weighs {carats(stone.usual_carat)}"
        )
    return f"Chosen for weight: {', '.join(each)}. {worth}.{_light_beside(stone)}"


_SAME = "the same"


def _light_beside(stone: Stone) -> str:
    """What the angles chosen do to the light, beside what they are worth in carats."""
    own, usual = stone.own_light, stone.usual_light
    if own is None or usual is None:
        return ""
    light = _points(own.light_return - usual.light_return)
    window = _points(own.window - usual.window)
    if light == window == _SAME:
        return " Light return and window are the same as at the usual angles."
    return f" Beside the usual angles, the light return is {light} and the window {window}."


def _points(more: float) -> str:
    """A difference of two shares in words: the shares themselves are told where the look is."""
    points = round(100.0 * more)
    if points == 0:
        return _SAME
    return f"{counted(abs(points), 'percentage point')} {'greater' if points > 0 else 'less'}"


def proportion_line(plan: Plan) -> str | None:
    """That length-to-width is held where nothing ordered holds it, and what freeing it brings."""
    held = {
        stone.design.title: stone.parameters[PROPORTION]
        for stone in plan.stones
        if plan.holds_usual_proportion(stone)
    }
    if not held:
        return None
    if len(plan.stones) == 1:
        (value,) = held.values()
        said = f"Length to width held at the design's usual {value:.2f}."
        return f"{said} {_freed(plan.stones[0])}".rstrip()
    each = ", ".join(f"{title} {value:.2f}" for title, value in held.items())
    return f"Length to width held at the designs' usual values: {each}."


def _freed(stone: Stone) -> str:
    freed = stone.freed
    if freed is None:
        return ""
    over = f"free from {plain(freed.low)} to {plain(freed.high)}"
    if freed.carat is None or freed.value is None or freed.carat <= stone.carat:
        return f"With it {over}, a quick search found no heavier stone."
    return (
        f"With it {over}, a quick search found {carats(freed.carat)} at {freed.value:.2f}, "
        f"{carats(freed.carat - stone.carat)} more: to plan so, set {PROPORTION} = "
        f"[{plain(freed.low)}, {plain(freed.high)}] in the order's [parameters]."
    )


def brighter_line(stone: Stone) -> str | None:
    """Other angles that return markedly more light, and what they do to the weight."""
    if stone.brighter is None:
        return None
    now, best = stone.brighter.usual, stone.brighter.best
    more = stone.carat * (best.volume / now.volume - 1.0)
    change = f"{carats(-more)} less" if more < 0.0 else f"{carats(more)} more, if there is room"
    return (
        f"A crown of {plain(best.crown)}° and a pavilion of {plain(best.pavilion)}° would return "
        f"more light: {100.0 * best.light_return:.0f} % instead of "
        f"{100.0 * now.light_return:.0f} %, upright and rocked by 10° (window "
        f"{100.0 * best.window:.0f} % instead of {100.0 * now.window:.0f} %). With the same "
        f"outline the stone would weigh {change}. To plan with these angles, set crown and "
        "pavilion in the order's [parameters]."
    )


def _usual(free: Free) -> str:
    outside = "" if free.usual == free.start else ", which lies outside"
    return f"usual {_setting(free, free.usual)}{outside}"


def _setting(free: Free, value: float) -> str:
    return f"{plain(value, 4)}°" if free.is_angle else f"{plain(value, 4)}"


def yield_line(plan: Plan) -> str:
    """Finished weight out of the rough's."""
    return (
        f"{carats(total_carat(plan))} finished out of {plan.rough.title}, "
        f"{rough_weight(plan.rough)}: a yield of {yield_percent(plan):.1f} %."
    )


def rough_weight(rough: Rough) -> str:
    """The rough's weight, and whether it is the balance's or the volume's."""
    by = "by volume" if rough.weighed_ct is None else "as weighed"
    return f"{carats(rough_carat(rough))} of rough {by}"


def no_stone_line(plan: Plan) -> str:
    """Why there is no stone, as far as it is known."""
    if plan.status == "impossible":
        return "It is proved that no stone of the covered designs meets every demand."
    what = "no plan with all the stones that the order needs" if _needs_several(plan) else "none"
    return f"The search found {what}; that is no proof that none exists. More effort may find one."


def ruled_out_line(plan: Plan, reason: RuledOut) -> str:
    """A demand, and the stone that fits without it, of several the heaviest."""
    stone, several = reason.stone, plan.order.several_asked
    what, which = ("one stone or more fits", "The heaviest: ") if several else ("a stone fits", "")
    return (
        f"Without this demand {what}: {reason.demand.rstrip('.')}. "
        f"{which}{stone.design.title}, {size(stone)}, {carats(stone.carat)}."
    )


def cut_line(plan: Plan, index: int) -> str:
    """One saw cut: the pieces it leaves and how deep the blade must reach."""
    cut = plan.sawing.cuts[index]
    whole = "the rough" if cut.piece == 0 else f"piece {cut.piece}"
    return (
        f"Cut {index + 1}: Saw {whole} into {_pieces(plan, cut)}, "
        f"{depth_words(cut)}, kerf {millimetres(cut.kerf_mm)}. "
        + " ".join((cut.reason, *setting_words(cut)))
    )


def _pieces(plan: Plan, cut: SawCut) -> str:
    named = [piece_name(plan, piece) for piece in (*cut.below, *cut.above)]
    return " and ".join(named)


def piece_name(plan: Plan, piece: int) -> str:
    """``piece 3 (stone 1)``, ``piece 4 (offcut, 5.20 ct)`` or plain ``piece 2``."""
    stones = [i + 1 for i, home in enumerate(plan.sawing.stone_pieces) if home == piece]
    if stones:
        return f"piece {piece} (stone {', '.join(map(str, stones))})"
    for offcut in plan.sawing.offcuts:
        if offcut.piece == piece:
            return f"piece {piece} (offcut, {carats(offcut.carat)})"
    return f"piece {piece}"


def no_cuts_line() -> str:
    """What to do where nothing is worth sawing."""
    return "Nothing is worth sawing off: grind the rough down to the preform."


def named(plan: Plan, index: int, sentence: str) -> str:
    """A sentence about one stone, with the stone's number where there are several."""
    return sentence if len(plan.stones) == 1 else f"Stone {index + 1}. {sentence}"


def stone_heading(plan: Plan, index: int) -> str:
    """The heading above what a section says about one stone; empty where there is only one."""
    stone = plan.stones[index]
    one = len(plan.stones) == 1
    return "" if one else heading(f"Stone {index + 1}: {stone.design.title}, {size(stone)}")


def dopping_lines(plan: Plan) -> Iterator[str]:
    """For each stone: where its dopping flat lies, how the flat is made, its weight by stage."""
    for index, stone in enumerate(plan.stones):
        guidance = stone.guidance
        if guidance:
            flat = f"Dopping flat: {guidance.flat.text} {guidance.dop.text}"
            yield named(plan, index, flat)
            steps = (f"{stage} {carats(carat)}" for stage, carat in guidance.ladder)
            yield named(plan, index, "Weight on the way: " + " → ".join(steps) + ".")


def pieces_count(plan: Plan) -> str:
    """How many cuts and offcuts the plan has."""
    cuts, offcuts = len(plan.sawing.cuts), len(plan.sawing.offcuts)
    return f"{counted(cuts, 'saw cut')}, {counted(offcuts, 'offcut')} kept"


def cautions(plan: Plan) -> tuple[str, ...]:
    """The usual cautions: the guidance's where there is a stone, else the material's."""
    if plan.stones and plan.stones[0].guidance:
        return plan.stones[0].guidance.cautions
    return tuple(cautions_for(plan.rough.material))


def measured_line(readings: Readings) -> str:
    """A sentence that says that the piece was not scanned."""
    return (
        f"The rough was not scanned but built from readings of a {readings.form}: compare its "
        "sizes with the piece before you saw."
    )


def weighing_line(plan: Plan) -> str | None:
    """The solid's weight beside the scale's, where the piece was weighed."""
    if plan.rough.weighed_ct is None:
        return None
    return (
        f"By its volume the rough weighs {carats(plan.rough.carat)}; "
        f"on the scale it weighed {carats(plan.rough.weighed_ct)}."
    )
