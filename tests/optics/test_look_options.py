"""What the options of ``kerfwise look`` say of a stone, with and without a piece of rough."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of

from optimizer.errors import InputError
from optimizer.mesh import Plane
from optimizer.optics.look_map import normal_of
from optimizer.optics.look_options import LookOptions, stone_of_options
from optimizer.rough.model import Ball, Colour, Slice, Zone
from optimizer.trade.materials import load_material

SPLIT = Zone(
    "split", Plane(np.array([0.8, 0.0, 0.6]), 0.7), Colour("violet", "#8a5cc2"),
    Colour("yellow", "#e8b83a"),
)  # fmt: skip
AXIS = np.array([0.36, 0.48, 0.8])
BOTH = Colour("brown", "#705040", by_axis=(Slice("#705040", 5.0), Slice("#a08070", 5.0)))


@pytest.fixture(scope="module")
def piece():
    return replace(rough_of(shapes.ellipsoid(), (SPLIT,)), optic_axis=AXIS)


def asked(**options):
    return LookOptions("long-hexagon", 8.0, **options)


@pytest.mark.parametrize("place", [(0.0, 0.0, 0.0), (20.0, 130.0, 0.4), (-90.0, 0.0, -0.7)])
@pytest.mark.parametrize("to_table", [None, 20.0, 35.0])
def test_a_pieces_boundary_and_axis_run_as_told(piece, place, to_table):
    tilt, azimuth, offset = place
    told = asked(tilt=tilt, azimuth=azimuth, offset=offset, axis_to_table=to_table)
    between = np.degrees(np.arcsin(AXIS @ SPLIT.plane.normal))  # of the axis to the boundary
    if abs(tilt) == 90.0 and to_table is not None and abs(to_table - between) > 1e-6:
        with pytest.raises(InputError, match=f"can stand {between:.0f} to {between:.0f} degrees"):
            stone_of_options(told, piece)
        return
    cut, colouring, lines = stone_of_options(told, piece)
    form = colouring.forms[0]
    normal = normal_of(tilt, azimuth)
    assert np.allclose(form[6:9], normal, atol=1e-12)
    reach = cut.corners @ normal
    place_mm = (reach.max() + reach.min()) / 2.0 + offset * np.ptp(reach) / 2.0
    assert -form[9] == pytest.approx(place_mm, abs=1e-9)
    assert np.allclose(colouring.axes @ colouring.axes.T, np.eye(3), atol=1e-12)
    assert colouring.axes[0] @ normal == pytest.approx(AXIS @ SPLIT.plane.normal)
    stands = np.degrees(np.arcsin(abs(colouring.axes[0, 2])))
    if to_table is not None:
        assert stands == pytest.approx(to_table, abs=1e-6)
    else:  # as steep as it goes: the two angles add up, by spherical trigonometry
        most = min(90.0, abs(tilt) + np.degrees(np.arccos(AXIS @ SPLIT.plane.normal)))
        assert stands == pytest.approx(most if abs(tilt) < 90.0 else between, abs=1e-6)
    assert f"{stands:.0f}° to the table" in lines[1]


def test_a_piece_of_one_colour_is_turned_by_its_axis_alone(piece):
    plain = replace(piece, zones=(), body_colour=BOTH)
    _, colouring, _ = stone_of_options(asked(axis_to_table=30.0), plain)
    assert colouring.first.by_axis
    assert np.allclose(colouring.axes[0], [np.cos(np.pi / 6), 0.0, 0.5])
    with pytest.raises(InputError, match="no boundary to lay"):
        stone_of_options(asked(tilt=3.0), plain)


def test_colours_along_the_axes_are_those_of_a_rough_file(piece):
    _, told, _ = stone_of_options(asked(colour="705040/a08070@5", axis_to_table=30.0), None)
    _, known, _ = stone_of_options(
        asked(axis_to_table=30.0), replace(piece, zones=(), body_colour=BOTH)
    )
    for one, other in zip(told.first.dyes, known.first.dyes, strict=True):
        assert np.array_equal(one.per_mm, other.per_mm)
    assert np.allclose(told.axes[0], known.axes[0])


ROUND = replace(SPLIT, boundary=Ball(np.zeros(3), 2.0))


@pytest.mark.parametrize(
    ("options", "change", "said"),
    [
        ({"zone": "splt"}, {}, 'did you mean "split"'),
        ({"zone": "split"}, {"zones": ()}, "it has none"),
        ({"colour": "112233"}, {}, "--colour and --piece both say"),
        ({"axis_to_table": 5.0}, {"optic_axis": None}, "has no optic axis"),
        ({}, {"zones": (ROUND,)}, "is not flat"),
    ],
)
def test_what_a_piece_has_not_is_said(piece, options, change, said):
    with pytest.raises(InputError, match=said):
        stone_of_options(asked(**options), replace(piece, **change))


def test_a_species_of_one_colour_has_none_along_axes():
    assert load_material("spinel").pleochroism == "none"
    with pytest.raises(InputError, match="spinel shows one colour in all directions"):
        stone_of_options(asked(material="spinel", colour="705040/a08070@5"), None)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"towards": "7a4fb0@12", "away": "e8b83a", "offset": 1.5}, "--offset is 1.5; give"),
        ({"towards": "7a4fb0@12", "away": "e8b83a", "tilt": 91.0}, "--tilt is 91; give degrees"),
        ({"towards": "7a4fb0@12"}, "give --away too"),
        ({"colour": "7a4fb0@0"}, "is no colour"),
        ({"colour": "violet"}, '--colour "violet" is no colour'),
        ({"colour": "7a4fb0@1.2.3"}, "is no colour"),
        ({"colour": "7a4fb0@5", "towards": "7a4fb0@5"}, "--colour is for a stone of one colour"),
        ({"away": "7a4fb0@5"}, "give --towards too"),
        ({"colour": "7a4fb0@5", "tilt": 0.0}, "give --towards and --away"),
        ({"towards": "7a4fb0", "away": "e8b83a", "tilt": float("nan")}, "--tilt is nan"),
        ({"material": "quarz"}, 'did you mean "quartz"'),
        ({"settings": ("croun=35",)}, 'did you mean "crown"'),
        ({"colour": "705040/a08070@5,112233@3"}, "along the axes at one thickness only"),
        ({"axis_to_table": 5.0}, "--axis-to-table turns the optic axis"),
        ({"zone": "split"}, "give --piece too"),
        ({"settings": ("crown=nan",)}, "is not NAME=NUMBER"),
        ({"settings": ("crown=99",)}, "must lie between"),
    ],
)  # fmt: skip
def test_an_odd_option_is_one_line(options, said):
    with pytest.raises(InputError, match=said):
        stone_of_options(asked(**options), None)


@pytest.mark.parametrize("width", [0.0, float("nan")])
def test_a_stone_without_width_is_refused(width):
    with pytest.raises(InputError, match=f"--width is {width:g}; give millimetres"):
        stone_of_options(LookOptions("long-hexagon", width), None)
