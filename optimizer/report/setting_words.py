"""How a piece is set for a saw cut, in plain sentences."""

from collections.abc import Iterator

from optimizer.report.html import degrees, millimetres
from optimizer.sawing.model import SawCut


def depth_words(cut: SawCut) -> str:
    """How deep the blade goes, and from how many sides."""
    deep = f"{millimetres(cut.depth_mm, 1)} deep"
    return deep if cut.sides == 1 else f"{deep} from each of two sides"


def setting_words(cut: SawCut) -> Iterator[str]:
    """What guides the piece, and the angle to the face sawn last."""
    setting = cut.setting
    if setting is None:
        return
    if setting.face is None:
        yield (
            "No flat of the piece is parallel or square to the cut: bed the piece in plaster or "
            "dop it."
        )
    elif setting.square:
        yield f"Lay {setting.face} flat on the saw's table: the cut runs square to it."
    else:
        away = "" if setting.face_mm is None else f", {millimetres(setting.face_mm)} from the kerf"
        yield f"Put {setting.face} against the fence{away}: the cut runs parallel to it."
    if cut.sides == 2:
        yield "Saw halfway, turn the piece over and saw from the other side to meet the first half."
    if setting.last is not None and setting.last_deg is not None and setting.last != setting.face:
        yield f"The cut stands at {degrees(setting.last_deg)} to {setting.last}."
