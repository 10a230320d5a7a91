"""The unit that a scan's own format brings along, against the one that the user states."""

from optimizer.errors import InputError
from optimizer.rough.formats.scan import FileUnit
from optimizer.rough.scale.units import FITS_MM
from optimizer.wording.plain_number import plain

_SAME = 1e-9  # relative: two ways to write one factor


def with_file_unit(
    stated: float | None, unit: FileUnit | None, longest: float, measured: bool, name: str
) -> tuple[float | None, tuple[str, ...]]:
    """(mm per unit where the user or the file states it, what was taken for granted).

    ``unit`` is the file's, ``longest`` the scan's longest side in its own numbers.
    Where the scale was ``measured``, what the format's specification alone says does not count.
    Raises InputError where both state one and they differ, or where nobody does and what the
    format's specification says makes no believable piece.
    """
    if unit is None or (stated is not None and abs(stated / unit.mm - 1.0) < _SAME):
        return stated, ()
    if measured and stated is None and not unit.firm:
        return None, ()
    if stated is not None:
        if unit.firm:
            raise InputError(
                f"{name}: {unit.words}, {plain(unit.mm)} mm, but {plain(stated)} mm a unit is "
                "stated beside it; keep one, or save the scan anew"
            )
        return stated, (f"{unit.words}, but {plain(stated)} mm a unit is stated: that is taken",)
    longest_mm = longest * unit.mm
    if not unit.firm and not FITS_MM[0] <= longest_mm <= FITS_MM[1]:
        raise InputError(
            f"{name}: no unit is stated; {unit.words}, which makes the longest side "
            f"{plain(longest_mm, 4)} mm, no size for a piece to cut; state the unit it was "
            "saved in, with --unit or unit = in a rough file"
        )
    return unit.mm, () if unit.firm else (f"no unit is stated: {unit.words}, and that is taken",)
