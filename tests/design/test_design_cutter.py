"""The virtual cutter: every design over its whole range, and each fault told in words."""

import numpy as np
import pytest
from design_places import SAMPLE, ends
from scipy.spatial import ConvexHull

from optimizer.design import build_body, library, load_design
from optimizer.design.clipping import block, clipped, tidied
from optimizer.design.cutter import cuts, cutting_faults
from optimizer.design.library import _home
from optimizer.design.sequence import sequence


@pytest.mark.parametrize("name", library())
def test_a_person_can_cut_it_over_its_whole_range(name):
    design = load_design(name)
    for values in ends(design):
        assert cutting_faults(design, values) == [], values


@pytest.mark.parametrize("name", library())
def test_the_same_facets_meet_over_the_whole_range(name):
    """Where two ends of a range differ in which facets meet, an edge vanishes somewhere between,
    and is a sliver near there. Only a keel that may be a point has leave to."""
    design = load_design(name)
    bodies = [build_body(design, values) for values in ({}, *list(ends(design))[::3])]
    if design.promise.bottom != "keel or point":
        assert len({meeting(body) for body in bodies}) == 1


def meeting(body):
    """The facets that meet in each corner, by their numbers."""
    on = np.abs(body.vertices @ body.normals.T - body.offsets) < 1e-9
    return frozenset(tuple(np.flatnonzero(row).tolist()) for row in on)


@pytest.mark.parametrize("name", library())
def test_cut_in_order_the_stone_is_the_body(name):
    """Two ways to one solid: clipping in order, and half-spaces intersected at once by qhull."""
    design = load_design(name)
    body = build_body(design)
    *_, (_, solid) = cuts(sequence(design))
    assert set(solid.faces) == set(body.facet_names)
    far = np.linalg.norm(solid.corners[:, None] - body.vertices[None], axis=2)
    assert far.min(axis=1).max() < 1e-9
    assert far.min(axis=0).max() < 1e-9
    assert ConvexHull(solid.corners).volume == pytest.approx(body.unit_volume, rel=1e-9)


@pytest.mark.parametrize("name", SAMPLE)
def test_the_preform_leads_to_the_outline(name):
    """Each preform facet meets its girdle facet at one level, and all run to one point."""
    design = load_design(name)
    first, *others = sequence(design)
    point, line = first.spots[0][0], -build_body(design).girdle_share / 2.0
    distance = {
        setting: float(far)
        for step in others
        if step.tier.rule.side == "girdle"
        for setting, far in zip(step.tier.rule.settings, step.tier.distance, strict=True)
    }
    assert not first.is_final
    for setting, angle in zip(first.tier.rule.settings, first.tier.angles, strict=True):
        assert np.tan(angle) * distance[setting] == pytest.approx(line - point[2], abs=1e-12)
    assert first.normals @ point == pytest.approx(first.offsets, abs=1e-12)


def test_clipping_a_cube_by_closed_forms():
    cube = block(0.5)
    assert ConvexHull(tidied(cube).corners).volume == pytest.approx(1.0)
    halved = clipped(cube, "half", np.array([0.0, 0.0, 1.0]), 0.0)
    assert ConvexHull(tidied(halved).corners).volume == pytest.approx(0.5)
    corner = clipped(cube, "corner", np.ones(3) / np.sqrt(3.0), 0.5 / np.sqrt(3.0))
    assert ConvexHull(tidied(corner).corners).volume == pytest.approx(1.0 - 1.0 / 6.0)
    assert len(corner.faces["corner"]) == 3
    assert clipped(cube, "far", np.array([1.0, 0.0, 0.0]), 0.5) is cube
    assert "x" in clipped(cube, "x", np.array([1.0, 0.0, 0.0]), 0.25).faces
    assert "block 1" not in clipped(cube, "x", np.array([1.0, 0.0, 0.0]), 0.25).faces


def test_broken_promises_are_told_beside_what_went_wrong_before(tmp_path):
    broken = ("turns = 2", "turns = 4")
    cut_away = (ON_RIDGE, "the ridge of pavilion main, 80 percent in")
    lost = (
        '"the girdle line", "the ridge of crown main, 50 percent in"',
        '"the girdle line", "the ridge of crown main, 50.3 percent in"',
    )
    for fault, said in ((cut_away, "cut away"), (lost, "too short to be meant")):
        faults = cutting_faults(edited(tmp_path, "oval", broken, fault))
        assert any(said in each for each in faults), faults
        assert sum("not in the 4 that [finished] promises" in each for each in faults) == 1, faults


def edited(tmp_path, name, *changes):
    text = (_home() / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return load_design(path)


ON_RIDGE = "the ridge of pavilion main, 35 percent in"
FAULTS = [
    ("oval", ("turns = 2", "turns = 4"), "not in the 4 that [finished] promises"),
    ("oval", ('"keel"', '"point"'), "ends below in a keel place, not in the point promised"),
    ("oval", ('bottom = "keel"', 'bottom = "flat"'), "not in the flat promised"),
    # the point on the ridge lies beyond the ridge's end
    ("oval", (ON_RIDGE, "the ridge of pavilion main, 80 percent in"), "cut away"),
    # breaks and stars run to two points that nearly agree
    (
        "oval",
        (
            '"the girdle line", "the ridge of crown main, 50 percent in"',
            '"the girdle line", "the ridge of crown main, 50.3 percent in"',
        ),
        "too short to be meant",
    ),
    # the star passes above the point on the ridge
    (
        "oval",
        ('cut_to = ["the ridge of crown main, 50 percent in", "the table edge"]',
         'cut_to = ["the ridge of crown main, 40 percent in", "the table edge"]'),
        "is cut away before its turn comes",
    ),
    (
        "pear",
        ("turns = 1", "turns = 2"),
        "not in the 2 that [finished] promises",
    ),
    # shallow corners of a step cut whose edges nearly vanish
    (
        "cut-corner-rectangle",
        ("default = 0.16, low = 0.155, high = 0.18", "default = 0.19, low = 0.15, high = 0.19"),
        "too short to be meant",
    ),
    # a facet that the later ones take away
    (
        "long-hexagon",
        ("the slope of pavilion break, 30 percent in", "the slope of pavilion break, 0 percent in"),
        "leave nothing for it to cut",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("name", "change", "said"), FAULTS, ids=range(len(FAULTS)))
def test_each_fault_is_told_in_words(tmp_path, name, change, said):
    faults = cutting_faults(edited(tmp_path, name, change))
    assert any(said in fault for fault in faults), faults
    assert all("\n" not in fault for fault in faults)
