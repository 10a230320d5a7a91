"""The weighing in plain sentences: what can explain a difference, and what to do about one."""

from optimizer.errors import InputError
from optimizer.rough.model import Rough
from optimizer.rough.scale.units import MM_PER_UNIT
from optimizer.rough.scale.weighing import (
    MOST_LENGTH_OFF,
    Weighing,
    can_correct_scale,
    is_doubtful,
    is_out_of_reach,
    unit_mistake,
    weighing_of,
)
from optimizer.wording.minus import with_minus
from optimizer.wording.plain_number import plain


def weighed_lines(rough: Rough) -> list[str]:
    """The weighing, and what a difference may come from; nothing where the piece is unweighed."""
    weighing = weighing_of(rough)
    if weighing is None:
        return []
    weighed = f"weighed: {weighing.weighed_ct:.3f} ct (by volume {_more(weighing)})"
    if is_out_of_reach(weighing):  # figures made of such a weight would mean nothing
        source = "readings" if rough.readings else "scan"
        return [f"{weighed}: more than any error of {source}, balance and species explains"]
    own = weighing.own_sg
    return [
        f"{weighed}; a difference may come from {_reasons(rough, weighing)}",
        f"weight over volume: an SG of {own[0]:.3f} to {own[1]:.3f}",
    ]


def weight_doubt(rough: Rough) -> tuple[str, ...]:
    """A warning where the weighing and the solid part by more than their errors explain."""
    weighing = weighing_of(rough)
    if weighing is None or not is_doubtful(weighing):
        return ()
    if is_out_of_reach(weighing):
        return (f"THE WEIGHT DOES NOT FIT, no plan is made of this: {_beyond(rough, weighing)}",)
    offer = ""
    if can_correct_scale(weighing) and rough.scale.source == "unit":
        percent = 100.0 * (weighing.correction - 1.0)
        offer = (
            '; where only the scan\'s scale is in doubt, correct = "scale" in the rough file '
            f"changes every length by {with_minus(f'{percent:+.1f}')} %"
        )
    return (
        f"THE WEIGHT DOES NOT FIT: {_parted(rough, weighing)}. A scale off by 1 % is 3 % off in "
        f"weight: {_look(rough, weighing)}{offer}",
    )


def refuse_wrong_weight(rough: Rough) -> None:
    """Raises InputError where the weighing says that this is not the piece, or not its unit."""
    weighing = weighing_of(rough)
    if weighing is not None and is_doubtful(weighing) and is_out_of_reach(weighing):
        raise InputError(f"{rough.scan}: {_beyond(rough, weighing)}")


def unit_hint(weighing: Weighing, mm_per_unit: float) -> str | None:
    """What to write where a mistaken unit explains the difference."""
    fitting = unit_mistake(weighing, mm_per_unit)
    if fitting is None:
        return None
    names = [unit for unit, mm in MM_PER_UNIT.items() if mm == fitting]
    key = f'unit = "{names[0]}"' if names else f"mm_per_unit = {plain(fitting, 9)}"
    at_it = weighing.scaled(fitting / mm_per_unit)
    return (
        f"it is {key} by the weight, with which the solid would weigh {at_it.by_volume_ct:.3f} ct "
        f"({_more(at_it)}); state that"
    )


def _parted(rough: Rough, weighing: Weighing) -> str:
    by_volume = f"the solid weighs {weighing.by_volume_ct:.3f} ct by volume"
    weighed = f"the {weighing.weighed_ct:.3f} ct weighed"
    if _is_large(weighing):
        if weighing.difference < 0.0:
            return f"{by_volume}, and {weighed} are {_times(weighing)} as much"
        return f"{by_volume}, {_times(weighing)} {weighed}"
    way = "more" if weighing.difference > 0.0 else "less"
    apart, left = (_percent(abs(share)) for share in (weighing.difference, weighing.unexplained))
    return (
        f"{by_volume}, {apart} {way} than {weighed}, of which {_reasons(rough, weighing)} leave "
        f"{left} unexplained"
    )


def _more(weighing: Weighing) -> str:
    if _is_large(weighing):
        return f"{_times(weighing)} {'less' if weighing.difference < 0.0 else 'as much'}"
    return f"{with_minus(f'{100.0 * weighing.difference:+.2f}')} %"


def _times(weighing: Weighing) -> str:
    """How many times the lesser weight the greater one is."""
    ratio = weighing.difference + 1.0
    return f"{plain(max(ratio, 1.0 / ratio), 3)} times"


def _is_large(weighing: Weighing) -> bool:
    """Whether the difference is too large to be stated in percent."""
    return not 0.5 < weighing.difference + 1.0 < 2.0


def _beyond(rough: Rough, weighing: Weighing) -> str:
    what, source = ("readings", "readings") if rough.readings else ("a scale", "scan")
    by_unit = rough.scale.source == "unit"
    advice = (unit_hint(weighing, rough.mm_per_unit) if by_unit else None) or (
        f"that is more than {what} off by {100.0 * MOST_LENGTH_OFF:.0f} % in length would explain; "
        f"{_look(rough, weighing)}; mend that, or take weighed_ct out to plan by the {source} alone"
    )
    return f"{_parted(rough, weighing)}; {advice}"


def _look(rough: Rough, weighing: Weighing) -> str:
    """Where to look first."""
    subject = "form, the readings" if rough.readings else "unit"
    first = f"look at the {subject}, the species, the balance"
    if rough.readings:
        return first
    if weighing.difference <= 0.0:
        return f"{first}, and for parts of the piece that the scan lacks"
    if _is_large(weighing):
        return f"{first}, and for what else was scanned"
    out = (weighing.by_volume_ct - weighing.weighed_ct) * 200.0 / weighing.sg / weighing.area_mm2
    return (
        f"{first}, and for what the scan has too much: filled hollows, a coat, a base (as much as "
        f"{out:.2f} mm all round)"
    )


def _reasons(rough: Rough, weighing: Weighing) -> str:
    low, high = weighing.sg_range
    least, most = (100.0 * (end / weighing.sg - 1.0) for end in (low, high))
    surface = "the readings and the form" if rough.readings else "the scan error, coat included"
    reasons = [
        f"{surface} (±{_percent(weighing.skin)})",
        f"the balance (±{_percent(weighing.balance)})",
    ]
    if high > low:
        reasons.append(f"the range of SG ({_signed(least)} to {_signed(most)} %)")
    if weighing.scale > 0.0:
        reasons.append(f"the scale (±{_percent(3.0 * weighing.scale)})")
    return f"{', '.join(reasons[:-1])} and {reasons[-1]}"


def _signed(percent: float) -> str:
    return with_minus(f"{'+' if percent > 0.0 else ''}{plain(percent, 2)}")


def _percent(share: float) -> str:
    """Two digits, as far as a percentage needs them."""
    percent = 100.0 * share
    return f"{percent:.2f} %" if percent < 1.0 else f"{percent:.1f} %"
