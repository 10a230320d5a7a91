"""The largest usual sizes in an offcut, against plates whose answer is a closed form."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of, sound_plan

from optimizer.audit.fittings import fittings_fit
from optimizer.errors import AuditError
from optimizer.offcuts import sizes
from optimizer.offcuts.sizes import SEARCHED, largest_fittings, with_sizes
from optimizer.offers.offer import offers
from optimizer.order import Order, SizeDemand
from optimizer.placement.search import QUIET, Watch
from optimizer.rough.model import Flaw
from optimizer.trade.calibrated import outlines

ORDER = Order()
SKIN = 0.05 + ORDER.workshop.clean_up_mm  # the scan error of rough_of, and what is ground off


def depth_of(design: str, width: float, length: float) -> float:
    size = SizeDemand((width, width), (length, length))
    want = offers(rough_of(shapes.box()), Order(designs=(design,), size=size))[0][0].want
    return want.body.depth_at(width)


@pytest.fixture(scope="module")
def plate():
    """Wide, and so thick that a round of 9 mm just lies in it and one of 10 mm does not."""
    thick = 2.0 * SKIN + 0.5 * (
        depth_of("round-brilliant", 9, 9) + depth_of("round-brilliant", 10, 10)
    )
    rough = rough_of(shapes.box((40.0, 40.0, thick)))
    return rough, thick, largest_fittings([rough], ORDER, 0, QUIET)[0]


def test_in_a_plate_the_depth_decides(plate):
    _, _, found = plate
    (round_one,) = (fitting for fitting in found if fitting.outline == "round")
    assert round_one.placement.pose.width == pytest.approx(9.0)
    assert round_one.name == "round 9 mm"


def test_of_two_designs_of_one_outline_the_larger_is_told(plate, monkeypatch):
    rough, _, _ = plate
    outline = next(one for one in outlines() if one.name == "oval")

    def largest(*designs: str):
        monkeypatch.setattr(sizes, "outline_designs", lambda: dict.fromkeys(designs, outline))
        ((found,),) = largest_fittings([rough], ORDER, 0, QUIET)
        return found.design, found.name

    shallow, deep = largest("oval"), largest("cut-corner-rectangle")
    assert (shallow[1], deep[1]) == ("oval 9 × 11 mm", "oval 7 × 9 mm")
    assert largest("oval", "cut-corner-rectangle") == shallow
    assert largest("cut-corner-rectangle", "oval") == shallow


def test_each_outline_gives_the_largest_that_the_depth_lets_in(plate):
    """Laid flat, a stone needs its depth and twice the skin; tilted, none that is wider than deep
    needs less."""
    _, thick, found = plate
    assert {fitting.outline for fitting in found} == {outline.name for outline in outlines()}
    for fitting in found:
        outline = next(one for one in outlines() if one.name == fitting.outline)
        fit = [
            size.width_mm * size.length_mm
            for size in outline.sizes
            if depth_of(fitting.design, size.width_mm, size.length_mm) + 2.0 * SKIN <= thick
        ]
        laid = fitting.placement
        area = laid.pose.width * laid.body.length_at(laid.pose.width)
        assert area == pytest.approx(max(fit)), fitting.name


def test_the_heaviest_come_first_and_keep_the_skin(plate):
    rough, _, found = plate
    assert [f.carat for f in found] == sorted((f.carat for f in found), reverse=True)
    half = np.ptp(rough.mesh.vertices, axis=0) / 2.0
    for fitting in found:
        corners = fitting.placement.mesh().vertices
        assert (half - np.abs(corners).max(axis=0)).min() >= SKIN - 1e-9
        assert fitting.placement.clearance_mm >= SKIN


def test_a_piece_too_small_for_any_gives_none():
    assert largest_fittings([rough_of(shapes.box((2.0, 2.0, 1.0)))], ORDER, 0, QUIET) == [()]


def test_a_flaw_is_kept_clear_of(plate):
    rough, thick, _ = plate
    sheet = Flaw("feather", np.zeros((1, 3)), np.array([0.0, 0.0, 1.0]), np.inf, 0.0, 0.2)
    (found,) = largest_fittings([replace(rough, flaws=(sheet,))], ORDER, 0, QUIET)
    assert found  # in one half of the plate's thickness
    for fitting in found:
        assert abs(fitting.placement.mesh().vertices[:, 2]).min() >= 0.2 - 1e-9
        assert fitting.placement.body.depth_at(fitting.placement.pose.width) < thick / 2.0


# --- in a plan ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def sized():
    return with_sizes(sound_plan(), QUIET)


def test_only_the_heaviest_offcuts_are_looked_into(sized):
    told = [o for o in sized.sawing.offcuts if o.fittings is not None]
    most = max(sized.sawing.offcuts, key=lambda offcut: offcut.carat)
    assert len(told) == SEARCHED["quick"] == 1
    assert told[0].piece == most.piece
    assert told[0].fittings


def test_the_audit_measures_them_anew(sized):
    assert "each lies in its offcut" in fittings_fit(sized)
    assert fittings_fit(sound_plan()) is None
    offcut = next(o for o in sized.sawing.offcuts if o.fittings)
    first = offcut.fittings[0]
    pose = first.placement.pose
    moved = replace(pose, translation=pose.translation + np.array([0.0, 0.0, 3.0]))
    broken = (
        replace(first, placement=replace(first.placement, pose=moved)),
        replace(first, carat=first.carat * 1.001),
    )
    for wrong in broken:
        offcuts = (replace(offcut, fittings=(wrong,)),)
        with pytest.raises(AuditError, match=first.outline):
            fittings_fit(replace(sized, sawing=replace(sized.sawing, offcuts=offcuts)))


def test_once_stopped_nothing_is_looked_into():
    stopped = with_sizes(sound_plan(), Watch(lambda: True))
    assert all(offcut.fittings is None for offcut in stopped.sawing.offcuts)
