"""Bodies as functions of their parameters: what is fixed, what moves, what is refused."""

import numpy as np
import pytest
from design_places import SAMPLE, between, ends

from optimizer.design import build_body, full_parameters, load_design, tiers
from optimizer.design.body import LEAST_FACET
from optimizer.errors import InputError


@pytest.fixture(scope="module", params=SAMPLE)
def design(request):
    return load_design(request.param)


def facet_areas(body):
    corners = body.vertices[body.faces]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.bincount(body.facet_of_face, np.linalg.norm(cross, axis=1) / 2.0)


def test_same_facets_in_the_same_order_over_the_whole_range(design):
    usual = build_body(design)
    for values in (*ends(design), *between(design, 2, 1)):
        body = build_body(design, values)
        assert body.facet_names == usual.facet_names
        # angles may change with the parameters; azimuths are the gear's and never do
        sides = np.arctan2(body.normals[:, 1], body.normals[:, 0])
        upright = np.abs(body.normals[:, 2]) < 1.0
        usual_sides = np.arctan2(usual.normals[:, 1], usual.normals[:, 0])
        turn = np.abs(np.exp(1j * sides) - np.exp(1j * usual_sides))[upright]
        assert turn.max() < 1e-12
        assert facet_areas(body).min() >= LEAST_FACET


def test_names_count_settings_in_the_order_of_the_tiers(design):
    expected = [
        row.name if angle == 0.0 else f"{row.name} {setting}"
        for row in tiers(design, {})
        for setting, angle in zip(row.settings, row.angles_deg, strict=True)
    ]
    body = build_body(design)
    assert list(body.facet_names) == expected
    assert len(set(expected)) == len(expected)


def test_tiers_agree_with_the_facets(design):
    body = build_body(design)
    rows = [row for row in tiers(design, {}) for _ in row.settings]
    settings = np.array([s for row in tiers(design, {}) for s in row.settings])
    angle = np.degrees(np.arccos(np.abs(body.normals[:, 2]).clip(0.0, 1.0)))
    assert angle == pytest.approx(
        [a for row in tiers(design, {}) for a in row.angles_deg], abs=1e-6
    )
    side = {"crown": 1.0, "girdle": 0.0, "pavilion": -1.0}
    assert (np.sign(body.normals[:, 2]) == [side[row.side] for row in rows]).all()
    azimuth = 2.0 * np.pi * settings / design.gear
    flat = np.hypot(body.normals[:, 0], body.normals[:, 1])
    assert body.normals[:, 0] == pytest.approx(flat * np.cos(azimuth), abs=1e-12)
    assert body.normals[:, 1] == pytest.approx(flat * np.sin(azimuth), abs=1e-12)


def test_angles_follow_the_parameters_that_they_refer_to(design):
    values = {name: design.parameters[name].high for name in ("crown", "pavilion")}
    followed = set()
    for rule, row in zip(design.rules, tiers(design, values), strict=True):
        if rule.angle is not None and rule.angle.of in values:
            followed.add(rule.angle.of)
            asked = values[rule.angle.of] + rule.angle.plus
            at = row.settings if rule.angle.at is None else (rule.angle.at,)
            found = [row.angles_deg[row.settings.index(setting)] for setting in at]
            assert found == pytest.approx([asked] * len(at), abs=1e-12)
    assert followed == set(values)


def test_parameters_left_out_take_their_defaults(design):
    known = design.parameters
    values = full_parameters(design, {"crown": known["crown"].low})
    assert list(values) == list(known)
    assert values["crown"] == known["crown"].low
    assert values["pavilion"] == known["pavilion"].default


def test_unknown_parameter_names_the_nearest():
    with pytest.raises(InputError, match=r'oval has no parameter "tabel"; did you mean "table"\?'):
        build_body(load_design("oval"), {"tabel": 0.5})


@pytest.mark.parametrize("value", [0.2, 0.9, float("nan")])
def test_out_of_range_names_parameter_and_range(value):
    with pytest.raises(InputError, match=r"oval: table is .*between 0\.45 and 0\.65"):
        build_body(load_design("oval"), {"table": value})


def test_the_girdle_band_is_the_thicker_of_parameter_and_least_share(design):
    thin, thick = design.parameters["girdle"].low, design.parameters["girdle"].high
    assert build_body(design, {"girdle": thick}, least_girdle_share=thin).girdle_share == thick
    body = build_body(design, {"girdle": thin}, least_girdle_share=thick)
    assert body.girdle_share == thick
    band = np.abs(body.vertices[:, 2]).min()
    assert band == pytest.approx(thick / 2.0, abs=1e-12)


def test_the_girdle_moves_the_halves_and_nothing_else(design):
    ends = design.parameters["girdle"].low, design.parameters["girdle"].high
    thin, thick = (build_body(design, {"girdle": g}) for g in ends)
    assert thin.normals == pytest.approx(thick.normals, abs=1e-15)
    rise = thick.offsets - thin.offsets
    assert rise == pytest.approx((ends[1] - ends[0]) / 2.0 * np.abs(thin.normals[:, 2]), abs=1e-14)


def edited(tmp_path, name, old, new):
    text = load_path(name).read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / f"{name}.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return load_design(path)


def load_path(name):
    from optimizer.design.library import _home

    return _home() / f"{name}.toml"


MAINS = "settings = [0, 12, 24, 36, 48, 60, 72, 84]\n"
TO_BREAK = 'cut_to = ["the girdle line", "the ridge of crown main, 50 percent in"]'
TO_STAR = 'cut_to = ["the ridge of crown main, 50 percent in", "the table edge"]'
AT_SIDE = 'angle = { of = "crown", at = 24 }\n'
TO_TABLE = 'cut_to = ["the girdle corner", "the table corner"]'
BREAKDOWNS = [
    (
        # breaks shallower than the mains leave the mains nothing
        "oval",
        'cut_to = ["the girdle line", "the ridge of pavilion main, 35 percent in"]',
        'angle = 40\ncut_to = "the girdle line"',
        'facet "pavilion main 0" is lost',
    ),
    (
        "cut-corner-rectangle",
        'settings = [0, 24, 48, 72]\ncut_to = "the slope of pavilion step, 65 percent in"',
        f'{MAINS}cut_to = "the slope of pavilion step, 65 percent in"',
        'facet "pavilion main 12" is lost',
    ),
    (
        "long-hexagon",
        'settings = [8, 24, 40, 56, 72, 88]\ncut_to = "the slope of crown break, 35 percent in"',
        'settings = [8, 24, 40, 56, 72]\ncut_to = "the slope of crown break, 35 percent in"',
        "crown main has no facet at setting 88",
    ),
    ("long-hexagon", 'cut_to = "the width"', 'cut_to = "the length"', "can't be reached from all"),
    (
        "long-hexagon",
        "settings = [8, 40, 56, 88]",
        "settings = [8, 24, 56, 88]",
        "have one setting",
    ),
    ("long-hexagon", 'cut_to = "the tip"', 'cut_to = "the outline"', "needs a curve"),
    (
        "long-hexagon",
        'angle = { of = "crown", minus = 10 }',
        'angle = { of = "crown", minus = 40 }',
        "must lie between 0 and 90",
    ),
    (
        "oval",
        f'side = "crown"\nsettings = [6, 18, 30, 42, 54, 66, 78, 90]\n{TO_STAR}',
        f'side = "crown"\nsettings = [0, 18, 30, 42, 54, 66, 78, 90]\n{TO_STAR}',
        "setting 0 must lie between two facets of crown main",
    ),
    (
        "oval",
        f'{MAINS}cut_to = "the girdle corner"',
        f'{MAINS}cut_to = "the girdle line"',
        "no girdle facet lies at setting 0",
    ),
    (
        "round-brilliant",
        TO_STAR,
        'angle = 10\ncut_to = "the slope of crown break, 0 percent in"',
        "crown break has no facet at setting 6",
    ),
    (
        # a facet that falls away too steeply cuts the table down
        "oval",
        f"settings = [6, 18, 30, 42, 54, 66, 78, 90]\n{TO_STAR}",
        'angle = 34\nsettings = [24, 72]\ncut_to = "the slope of crown main, 20 percent in"',
        "a later tier cuts into it",
    ),
    (
        "round-brilliant",
        TO_BREAK,
        'angle = 38\ncut_to = "the slope of crown main, 10 percent in"',
        "crown main has no facet at setting 3",
    ),
    ("oval", AT_SIDE, "", "nothing says yet how high the table corner lies"),
    ("oval", "edges = [6, 18, 30,", "edges = [6, 30,", "has no edge at setting 18"),
    (
        "oval",
        "edges = [6, 18, 30, 42, 54, 66, 78, 90]\nends = [0.8, 0.8]\n",
        "edges = [6, 7, 18, 30, 42, 54, 66, 78, 90]\nends = [3, 3]\n",
        '"ends" leaves the table no length',
    ),
    (
        "oval",
        "ends = [0.8, 0.8]",
        "ends = [2.8, 2.8]",
        "the table's edge",
    ),
    (
        "cushion",
        '"the meet of pavilion side and pavilion end"',
        '"the meet of pavilion side and pavilion side"',
        "meet in no single point",
    ),
    (
        "oval",
        '"the ridge of crown main, 50 percent in", "the table edge"]',
        '"the ridge of crown main, 120 percent in", "the table edge"]',
        "lies beyond the end",
    ),
]


@pytest.mark.parametrize(("name", "old", "new", "said"), BREAKDOWNS, ids=range(len(BREAKDOWNS)))
def test_a_design_that_does_not_work_says_which_facet(tmp_path, name, old, new, said):
    with pytest.raises(InputError) as problem:
        build_body(edited(tmp_path, name, old, new))
    assert said in str(problem.value)
    assert "\n" not in str(problem.value)


def test_a_girdle_that_is_not_level_is_refused(tmp_path):
    # one crown break left out: the main beside it leaves the band higher there
    settings = "settings = [3, 9, 15, 21, 27, 33, 39, 45, 51, 57, 63, 69, 75, 81, 87, 93]"
    shorter = settings.replace(", 93", "")
    design = edited(tmp_path, "oval", f"{settings}\n{TO_BREAK}", f"{shorter}\n{TO_BREAK}")
    with pytest.raises(InputError, match="the girdle is not level"):
        build_body(design)


def test_two_places_give_each_setting_its_own_angle():
    """On the oval, by hand: through the girdle's edge and a point of the mains' ridge."""
    design = load_design("oval")
    rows = {row.name: row for row in tiers(design, {})}
    body = build_body(design)
    numbers = {name: k for k, name in enumerate(body.facet_names)}
    for setting, low, high in ((3, 0, 12), (9, 0, 12), (15, 12, 24), (21, 12, 24)):
        edge = np.cross(body.normals[numbers[f"girdle {setting}"]], [0.0, 0.0, 1.0])
        on_edge = body.offsets[numbers[f"girdle {setting}"]] * body.normals[
            numbers[f"girdle {setting}"]
        ] - [0.0, 0.0, body.girdle_share / 2.0]
        mains = [numbers[f"pavilion main {at}"] for at in (low, high)]
        ours = numbers[f"pavilion break {setting}"]
        # where the break, the two mains and nothing else pass: the ridge's end
        point = np.linalg.solve(body.normals[[*mains, ours]], body.offsets[[*mains, ours]])
        normal = np.cross(edge, point - on_edge)
        angle = np.degrees(np.arccos(abs(normal[2]) / np.linalg.norm(normal)))
        row = rows["pavilion break"]
        assert row.angles_deg[row.settings.index(setting)] == pytest.approx(angle, abs=1e-9)
    ends = [np.linalg.solve(body.normals[k], body.offsets[k]) for k in (
        [numbers["pavilion main 0"], numbers["pavilion main 12"], numbers["pavilion break 3"]],
        [numbers["pavilion main 0"], numbers["pavilion main 12"], numbers["pavilion break 9"]],
    )]  # fmt: skip
    assert ends[0] == pytest.approx(ends[1], abs=1e-12)


def test_the_axis_may_stand_off_the_middle_of_the_length():
    """A regular triangle about its own centre; its inscribed circle has a third of its height as
    radius."""
    body = build_body(load_design("triangle-step"))
    height = np.sqrt(3.0) / 2.0
    low, high = body.vertices[:, 0].min(), body.vertices[:, 0].max()
    assert (low, high) == pytest.approx((-height / 3.0, 2.0 * height / 3.0), abs=1e-12)
    assert len(body.rotations) == 3
    upright = body.normals[:, 2] == 0.0
    assert body.offsets[upright] == pytest.approx([height / 3.0] * 3, abs=1e-12)
    assert body.vertices[np.argmin(body.vertices[:, 2]), :2] == pytest.approx([0.0, 0.0], abs=1e-12)


def test_an_outline_that_comes_out_too_wide_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"the width runs from -0\.5196\d* to 0\.5196\d* of the w"):
        build_body(edited(tmp_path, "triangle-step", "0.8660254037844386", "0.9"))


def test_rings_of_steps_run_to_points_of_their_own_at_level_lines():
    """A cushion's stepped pavilion: each ring is a pyramid over the outline, so that the tangent of
    an angle and the facet's distance from the axis have one product; rings meet at one level."""
    design = load_design("cushion-mixed")
    body = build_body(design)
    numbers = {name: k for k, name in enumerate(body.facet_names)}
    rows = {row.name: row for row in tiers(design, {})}
    girdle = rows["girdle"].settings
    far = np.array([body.offsets[numbers[f"girdle {setting}"]] for setting in girdle])
    for name in ("pavilion break", "pavilion step", "pavilion main"):
        depth = np.tan(np.radians(rows[name].angles_deg)) * far
        assert depth == pytest.approx(np.full(len(girdle), depth[0]), rel=1e-12)
    corners_of = [
        set(body.faces[body.facet_of_face == k].ravel().tolist()) for k in range(len(body.normals))
    ]
    for one, other in (("break", "step"), ("step", "main")):
        shared = {
            corner
            for setting in girdle
            for corner in corners_of[numbers[f"pavilion {one} {setting}"]]
            & corners_of[numbers[f"pavilion {other} {setting}"]]
        }
        heights = body.vertices[sorted(shared), 2]
        assert len(shared) == len(girdle)
        assert np.ptp(heights) < 1e-12


def test_half_sides_meet_at_the_side_point():
    body = build_body(load_design("square-mixed"))
    girdle = np.abs(np.abs(body.vertices[:, 2]) - body.girdle_share / 2.0) < 1e-12
    middle = girdle & (np.abs(body.vertices[:, 0]) < 1e-12)
    assert np.abs(body.vertices[middle, 1]) == pytest.approx([0.5] * 4, abs=1e-12)
