"""The plan in plain sentences, shared by the page and the terminal."""

from collections.abc import Iterator, Mapping
from itertools import chain

from optimizer.design.family import Free
from optimizer.guidance.guessed_surface import guessed_surface_warnings
from optimizer.guidance.model import DirectionView, FlawView
from optimizer.offers.bound import Bound
from optimizer.placement.zone_view import ZoneView
from optimizer.plan_model import Plan, RuledOut, Stone
from optimizer.report.figures import gap_percent, total_carat, yield_percent
from optimizer.report.html import (
    at_least_mm,
    carats,
    counted,
    degrees,
    heading,
    millimetres,
    number,
)
from optimizer.report.setting_words import depth_words, setting_words
from optimizer.rough.doubts import grave_doubts
from optimizer.rough.model import Readings
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
    grave = (*grave_doubts(plan.rough), *chain.from_iterable(near))
    return tuple(warning for warning in plan.warnings if warning in grave)


def size(stone: Stone) -> str:
    """Length × width × depth."""
    sides = (stone.length_mm, stone.width_mm, stone.depth_mm)
    return " × ".join(f"{side:.2f}" for side in sides) + " mm"


def stone_line(plan: Plan, index: int) -> str:
    """One stone: design, size, weight and the piece that holds it."""
    stone = plan.stones[index]
    low, high = (f"{carat:.2f}" for carat in stone.carat_range)
    spread = "" if low == high else f" ({low} to {high} ct within the errors of scan and density)"
    piece = plan.sawing.stone_pieces[index]
    home = "the rough as it is" if piece == 0 else f"piece {piece}"
    return (
        f"Stone {index + 1}: {stone.design.title}, {size(stone)}, {carats(stone.carat)}"
        f"{spread}, in {home}, at least {at_least_mm(stone.placement.clearance_mm)} below the "
        "surface."
    )


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
    return f"Chosen for weight: {', '.join(each)}. {worth}."


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
        f"{carats(total_carat(plan))} finished out of {carats(plan.rough.carat)} of rough: "
        f"a yield of {yield_percent(plan):.1f} %."
    )


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


def bound_lines(plan: Plan) -> Iterator[str]:
    """What is proved about heavier stones, and how much room that leaves."""
    if plan.bound is None:
        yield "Nothing is proved about heavier stones."
        return
    if plan.status == "impossible":
        yield "It is proved over every position and rotation: no stone can be large enough."
        yield from _covers(plan.bound)
        return
    carat = total_carat(plan)
    yield f"No plan with the designs covered can weigh more than {carats(plan.bound.carat)}."
    gap = gap_percent(plan.bound, carat)
    if gap is not None:
        room = plan.bound.carat - carat
        yield (
            f"This plan weighs {carats(carat)}, so at most {carats(room)} ({gap:.1f} %) more is "
            "possible. The bound is proved over every position and rotation; it doesn't say that "
            "more can be had."
        )
    if any(stone.free for stone in plan.stones):
        yield (
            "For free parameters the bound is proved at the values that were computed; between "
            "these values it rests on a measured margin."
        )
    yield from _worth_of_the_saw(plan)
    yield from _covers(plan.bound)
    if plan.bound.uses:
        yield f"The bound takes into account: {'; '.join(plan.bound.uses)}."
    if plan.bound.ignores:
        yield (
            f"The bound leaves out: {'; '.join(plan.bound.ignores)}. "
            "What these cost in weight is part of the gap."
        )


def _worth_of_the_saw(plan: Plan) -> Iterator[str]:
    """The weight of the workshop's own error, to compare the gap with."""
    error = plan.order.workshop.saw_error_mm
    for stone in plan.stones[:1]:
        width = stone.placement.pose.width
        if 0.0 < error < width:
            narrower = stone.carat * (
                1.0 - stone.placement.body.volume_at(width - error) / stone.volume_mm3
            )
            yield (
                f"For comparison: a stone {millimetres(error)} narrower, as far as marking and "
                f"sawing may be off, weighs {carats(narrower)} less."
            )


def _covers(bound: Bound) -> Iterator[str]:
    designs = bound.covers.get("designs")
    if isinstance(designs, list | tuple) and designs:
        only = ", at the angles and proportions listed in plan.json" if _fixed(bound) else ""
        only += ", each free one over its whole range" if _ranging(bound) else ""
        yield f"Designs covered: {', '.join(str(name) for name in designs)}{only}."


def _fixed(bound: Bound) -> bool:
    return bool(bound.covers.get("parameters"))


def _ranging(bound: Bound) -> bool:
    covered = bound.covers.get("parameters")
    each = covered.values() if isinstance(covered, Mapping) else ()
    return any(isinstance(v, tuple) for values in each for v in values.values())


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


def lie_lines(plan: Plan) -> Iterator[str]:
    """For each stone: how boundary and crystal lie in it, and which flaws it holds."""
    for index, stone in enumerate(plan.stones):
        if stone.guidance:
            told = (zone_line(stone.guidance.zone), direction_line(stone.guidance.direction))
            yield from (named(plan, index, text) for text in told if text)
    yield from flaw_lines(plan)


def flaw_lines(plan: Plan) -> Iterator[str]:
    """Each flaw that ends up in a stone."""
    for index, stone in enumerate(plan.stones):
        for view in stone.guidance.flaws if stone.guidance else ():
            yield named(plan, index, flaw_line(view))


def zone_line(view: ZoneView | None) -> str | None:
    """The colour boundary as it lies in the stone."""
    if view is None:
        return None
    if view.tilt_deg is None or view.offset is None:
        return (
            f"Colour boundary {view.zone}, a {view.kind}: {view.share_percent:.1f} % of the "
            f"stone's volume is {view.colour}."
        )
    turned = "" if view.azimuth_deg is None else f", azimuth {degrees(view.azimuth_deg)}"
    return (
        f"Colour boundary {view.zone}: tilt {degrees(view.tilt_deg)}{turned}, offset "
        f"{number(view.offset)}; {view.share_percent:.1f} % of the stone's volume is {view.colour}."
    )


def direction_line(view: DirectionView | None) -> str | None:
    """How the crystal lies in the stone, as far as the rough file knows its directions."""
    if view is None:
        return None
    said = [
        f"{name} {degrees(angle)} to the table (0°: parallel to it, 90°: square to it)"
        for name, angle in view.axes_deg
    ]
    if view.cleavage_deg is not None:
        said.append(
            f"the facet nearest to a cleavage plane, {view.cleavage_facet}, lies "
            f"{degrees(view.cleavage_deg)} off it"
        )
    return "Crystal in the stone: " + "; ".join(said) + "."


def flaw_line(view: FlawView) -> str:
    """A flaw that ends up in the stone, and where."""
    turned = "" if view.azimuth_deg is None else f", azimuth {degrees(view.azimuth_deg)}"
    end = "comes to its surface" if view.reaches_surface else "lies wholly within"
    return (
        f"Flaw in the stone: {view.flaw}, {millimetres(view.below_table_mm)} below the table's "
        f"level at its highest, its middle {millimetres(view.off_axis_mm)} off the axis{turned}; "
        f"it {end}, and no part of it is seen straight below the table."
    )


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
