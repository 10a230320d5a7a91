"""design.json read as an outsider reads it: half-spaces, meets and volume by scipy and numpy."""

import io
import json

import numpy as np
import pytest
from design_places import SAMPLE
from PIL import Image
from scipy.spatial import ConvexHull, HalfspaceIntersection

from optimizer.design import load_design, write_design
from optimizer.design.document import design_document

LEAN = {"crown": 1.0, "girdle": 0.0, "pavilion": -1.0}


def planes(told, final):
    """{(tier, setting): (normal, distance)} by the published meaning of the file."""
    found = {}
    for tier in told["tiers"]:
        if tier["final"] is final:
            for facet in tier["facets"]:
                azimuth = 2.0 * np.pi * facet["setting"] / told["gear"]
                lean = np.radians(facet["angle_deg"])
                flat = np.sin(lean) * np.array([np.cos(azimuth), np.sin(azimuth)])
                up = LEAN[tier["side"]] * np.cos(lean)
                found[tier["name"], facet["setting"]] = np.array([*flat, up]), facet["distance"]
    return found


@pytest.mark.parametrize("name", SAMPLE)
def test_the_file_holds_the_whole_stone(name):
    told = json.loads(json.dumps(design_document(load_design(name))))
    assert told["format"] == "kerfwise-design/1"
    facets = planes(told, True)
    halves = np.array([[*normal, -distance] for normal, distance in facets.values()])
    hull = ConvexHull(HalfspaceIntersection(halves, np.zeros(3)).intersections)
    assert hull.volume == pytest.approx(told["volume"], rel=1e-9)
    corners = np.array([meet["point"] for meet in told["meets"]])
    assert (corners @ halves[:, :3].T + halves[:, 3]).max() < 1e-9
    assert ConvexHull(corners).volume == pytest.approx(told["volume"], rel=1e-9)
    assert len(ConvexHull(corners).vertices) == len(corners)
    for meet in told["meets"]:
        assert len(meet["facets"]) >= 3
        for facet in meet["facets"]:
            normal, distance = facets[facet["tier"], facet["setting"]]
            assert normal @ meet["point"] == pytest.approx(distance, abs=1e-9)


@pytest.mark.parametrize("name", SAMPLE)
def test_the_preform_holds_the_stone_and_gives_its_outline(name):
    told = design_document(load_design(name))
    girdle = {s: d for (_, s), (n, d) in planes(told, True).items() if abs(n[2]) < 1e-12}
    corners = np.array([meet["point"] for meet in told["meets"]])
    heights = set()
    for (_, setting), (normal, distance) in planes(told, False).items():
        assert (corners @ normal).max() < distance + 1e-9
        across = np.hypot(*normal[:2])
        heights.add(round((distance - across * girdle[setting]) / normal[2], 9))
    assert len(heights) == 1  # one level line
    apexes = [distance / normal[2] for normal, distance in planes(told, False).values()]
    assert np.ptp(apexes) < 1e-9  # one point


def test_pictures_show_the_stone(tmp_path):
    write_design(load_design("pear"), tmp_path)
    drawing = (tmp_path / "design.svg").read_text(encoding="utf-8")
    picture = Image.open(io.BytesIO((tmp_path / "design.png").read_bytes()))
    wide, high = (int(n) for n in drawing.split('viewBox="0 0 ')[1].split('"')[0].split())
    assert picture.size == (2 * wide, 2 * high)
    ink = np.asarray(picture.convert("L")) < 128
    assert 0.002 < ink.mean() < 0.1
