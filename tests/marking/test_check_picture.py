"""The check's picture: what is seen where, against closed forms, and that nothing is left out."""

from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from shapes import box, icosphere, moved, notched, pebble

from optimizer.marking.annotations import MOST_SPOTS, annotations_of
from optimizer.marking.picture import WIDE, check_png
from optimizer.mesh import Mesh, Plane, volume
from optimizer.rough.model import Ball, Colour, Flaw, Paint, ReferenceFace, Repair, Rough, Zone
from optimizer.trade.materials import load_material
from optimizer.view.letters import Pen, in_plain_letters
from optimizer.view.look import axis_views
from optimizer.view.raster import Frame, brightness, shading_normals, visible_triangles
from optimizer.view.skin import skin_line

X, Y, Z = np.eye(3)
ABOVE, FRONT, RIGHT = axis_views()


def framed(view, half, per_mm=20.0):
    """A square view of ``half`` mm about the origin."""
    dots = int(2 * half * per_mm)
    return Frame(view, np.array([-half, half]), per_mm, dots, dots)


@pytest.mark.parametrize("view", [ABOVE, FRONT, RIGHT])
def test_a_ball_is_a_disc_of_its_size_and_depth(view):
    """Closed form: area π r², and at each dot the depth sqrt(r² − x² − y²)."""
    frame = framed(view, 6.0)
    seen = visible_triangles(icosphere(5.0, 5), frame)
    area = (seen.owner >= 0).sum() / frame.pixels_per_mm**2
    assert area == pytest.approx(np.pi * 25.0, rel=3e-3)
    at = (np.arange(frame.columns) + 0.5) / frame.pixels_per_mm - 6.0
    x, y = np.meshgrid(at, -at)
    inner = np.hypot(x, y) < 4.8
    depth = np.sqrt(25.0 - x[inner] ** 2 - y[inner] ** 2)
    assert seen.nearest[inner] == pytest.approx(depth, abs=0.02)
    assert np.linalg.norm(seen.places(), axis=1) == pytest.approx(5.0, abs=0.02)


def test_a_sheet_without_gaps():
    """Every dot of a box's side is covered once, right up to where triangles meet."""
    frame = framed(FRONT, 6.0)
    seen = visible_triangles(box((8.0, 3.0, 6.0)), frame)
    assert (seen.owner >= 0).sum() == (8 * 20) * (6 * 20)
    assert set(seen.nearest[seen.owner >= 0].round(9)) == {1.5}


def test_what_lies_nearer_hides_what_lies_behind():
    """The notch's floor is hidden from the side, seen from above."""
    mesh = notched((20.0, 14.0, 12.0), 6.0)
    floor = np.array([[0.0, 0.0, 0.0]])  # the notch runs down to the middle
    assert visible_triangles(mesh, framed(ABOVE, 12.0)).unhidden(floor).all()
    assert not visible_triangles(mesh, framed(FRONT, 12.0)).unhidden(floor - 3.0 * Z).any()


def test_light_falls_from_the_upper_left():
    bright = brightness(shading_normals(box()), FRONT)
    normals = np.cross(*(box().triangles[:, k] - box().triangles[:, 0] for k in (1, 2)))
    top, left, right, under = (bright[np.argmax(normals @ way)] for way in (Z, -X, X, -Z))
    assert top > right > under
    assert left > under


def test_a_line_on_the_skin_of_a_ball_is_a_circle():
    mesh = icosphere(5.0, 5)
    ends = skin_line(mesh, mesh.vertices[:, 2] - 3.0)
    assert ends[..., 2] == pytest.approx(3.0)
    assert np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum() == pytest.approx(
        2 * np.pi * 4, rel=1e-3
    )


@pytest.fixture(scope="module")
def piece():
    stone = pebble(4, 9.0, 4)
    violet, yellow = Colour("violet", "#8a5cc2"), Colour("yellow", "#e8b83a")
    cloud = moved(icosphere(1.0, 1), np.eye(3), np.array([2.0, 1.0, 0.0]))
    flaws = (
        Flaw("bubble", np.array([[3.0, -2.0, 1.0]]), None, 0.0, 0.2, 0.2),
        Flaw("needle", np.array([[-2.0, 0, 0], [2.0, 1, 1]]), None, 0.0, 0.0, 0.2),
        Flaw("crack", np.zeros((1, 3)), X, np.inf, 0.0, 0.2),
        Flaw("cloud", cloud.vertices[:1], None, 0.0, 0.0, 0.2, cloud, "cloud.ply"),
    )
    zones = (
        Zone("split", Plane(Z, 1.0), violet, yellow),
        Zone("core", Ball(np.zeros(3), 8.0), violet, yellow),
    )
    spots = stone.vertices[::3]
    return Rough(
        scan="stück 色.ply", mesh=stone, mm_per_unit=1.0, watertight_as_read=True,
        repairs=(Repair("holes filled", spots), Repair("corners merged")), warnings=(),
        material=load_material("quartz"), weighed_ct=None, scan_error_mm=0.05, zones=zones,
        reference_faces=(ReferenceFace("top", Plane(Z, float(stone.vertices[:, 2].max()))),),
        optic_axis=Z, volume_mm3=volume(stone), flaws=flaws,
    )  # fmt: skip


def test_everything_known_has_its_number_and_words(piece):
    annotations = annotations_of(piece)
    said = [annotation.words for annotation in annotations]
    for words in ("colour boundary split", "colour boundary core", "flaw bubble", "flaw needle",
                  "flaw crack", "flaw cloud", "reference face top", "optic axis",
                  "mended: holes filled", "mended: corners merged"):  # fmt: skip
        assert sum(words in line for line in said) == 1, words
    assert len(said) == 10
    mended = annotations[-2]
    assert 0 < len(mended.spots) <= MOST_SPOTS


def dots_of(png):
    return np.asarray(Image.open(BytesIO(png)).convert("RGB")).astype(int)


@pytest.fixture(scope="module")
def picture(piece):
    return check_png(piece)


def test_the_picture_shows_boundary_flaws_and_repairs_in_their_colours(piece, picture):
    whole = dots_of(picture)
    assert whole.shape[1] == WIDE
    for name, gone, least in (
        ("zones", (), 2_000),
        ("flaws", (), 2_000),
        ("reference_faces", (), 50),
        ("repairs", (), 2_000),
    ):
        without = dots_of(check_png(replace(piece, **{name: gone})))
        rows = min(len(whole), len(without), 500)  # the views, not the legend
        changed = (whole[:rows] != without[:rows]).any(axis=2).sum()
        assert changed > least, name


def test_the_same_piece_gives_the_same_picture(piece, picture):
    assert check_png(piece) == picture


def test_a_plain_piece_has_a_picture_too(piece):
    bare = replace(piece, zones=(), flaws=(), reference_faces=(), repairs=(), optic_axis=None)
    for shape in (box((40.0, 2.0, 1.0)), box((1.0, 1.0, 60.0))):
        thin = replace(bare, mesh=shape, volume_mm3=volume(shape))
        assert dots_of(check_png(thin)).shape[1] == WIDE


def test_the_rule_is_as_long_as_it_says():
    """A box 20 mm wide from the front: the rule's dots against the box's."""
    side = box((20.0, 20.0, 20.0))
    rough = Rough(
        scan="box", mesh=side, mm_per_unit=1.0, watertight_as_read=True, repairs=(), warnings=(),
        material=load_material("quartz"), weighed_ct=None, scan_error_mm=0.05, zones=(),
        reference_faces=(), optic_axis=None, volume_mm3=8000.0,
    )  # fmt: skip
    dots = dots_of(check_png(rough))
    paper = np.array([250, 246, 238])
    row = dots[96 + 200]
    columns = np.flatnonzero((np.abs(row - paper) > 20).any(axis=1))
    box_dots = np.flatnonzero(np.diff(columns) > 5)[0] + 1
    rule = dots[50:58, WIDE - 500 :]
    longest = max((np.abs(line - paper) > 60).any(axis=1).sum() for line in rule)
    ratio = longest / box_dots * 20.0
    assert min(abs(ratio - mm) / mm for mm in (5.0, 10.0)) < 0.02


def test_colours_part_where_the_boundary_runs():
    """Not where triangles end: a box of 12, three quarters of its front violet."""
    side = box((20.0, 20.0, 20.0))
    zone = Zone("split", Plane(X, -5.0), Colour("violet", "#8a5cc2"), Colour("yellow", "#e8b83a"))
    rough = Rough(
        scan="box", mesh=side, mm_per_unit=1.0, watertight_as_read=True, repairs=(), warnings=(),
        material=load_material("quartz"), weighed_ct=None, scan_error_mm=0.05, zones=(zone,),
        reference_faces=(), optic_axis=None, volume_mm3=8000.0,
    )  # fmt: skip
    row = dots_of(check_png(rough))[96 + 300, : WIDE // 3]
    violet = (row[:, 2] > row[:, 0] + 10).sum()
    yellow = (row[:, 0] > row[:, 2] + 40).sum()
    assert violet / (violet + yellow) == pytest.approx(0.75, abs=0.02)


def test_letters_that_the_typeface_lacks():
    assert in_plain_letters("Größe 3 × 2 mm³ −1°") == "Grosse 3 x 2 mm3 -1°"
    assert in_plain_letters("色 b") == "? b"


def test_words_are_folded_between_words():
    pen = Pen(2)
    text = "one two three four five six seven eight nine ten " * 5
    lines = pen.folded(text, 600)
    assert " ".join(lines) == text.strip()
    assert max(map(pen.wide, lines)) <= 600


def test_paint_is_shown(piece):
    red = np.tile([1.0, 0.0, 0.0], (len(piece.mesh.vertices), 1))
    scan_colours = replace(piece, zones=(), paint=Paint(piece.mesh.vertices, red))
    dots = dots_of(check_png(scan_colours))
    assert ((dots[..., 0] > 120) & (dots[..., 1] < 40)).sum() > 50_000


def test_a_mesh_has_no_side_that_is_left_out():
    """Turned inside out, the far side is seen instead."""
    ball = icosphere(5.0, 3)
    inside_out = Mesh(ball.vertices, ball.faces[:, ::-1])
    near = visible_triangles(ball, framed(ABOVE, 6.0)).nearest
    far = visible_triangles(inside_out, framed(ABOVE, 6.0)).nearest
    assert near.max() == pytest.approx(5.0, abs=0.05)
    assert far[np.isfinite(far)].min() == pytest.approx(-5.0, abs=0.05)
