"""The look as people meet it: colours, turns, pictures, sentences."""

from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from optics_bodies import mirrored_share
from PIL import Image
from shapes import box as box_mesh

from optimizer.colours import decoded, encoded
from optimizer.design import build_body, load_design
from optimizer.design.model import Body
from optimizer.mesh import Mesh
from optimizer.optics.boundary_forms import plane_form
from optimizer.optics.colouring import CLEAR_TINT, Colouring, Tint, one_colour, tint_of
from optimizer.optics.eye import lattice
from optimizer.optics.face import incoming_light
from optimizer.optics.lights import LIGHTS
from optimizer.optics.look import CutStone, Look, look_at
from optimizer.optics.look_words import colour_lines, look_lines, look_warnings, short_line
from optimizer.optics.picture import face_picture, png, rocked_strip
from optimizer.optics.refraction import index_at
from optimizer.optics.shading import bands
from optimizer.rough.model import Colour, Slice
from optimizer.trade.materials import load_material

QUARTZ = load_material("quartz")
SKY = LIGHTS["open sky"]
GROUND = round(255 * 0.86)


def plate(thick: float = 0.4) -> CutStone:
    """A flat square plate, 10 mm wide and ``thick``·10 mm deep."""
    mesh: Mesh = box_mesh((1.0, 1.0, thick))
    normals = np.vstack([np.eye(3), -np.eye(3)])
    body = Body(
        normals, np.array([1.0, 1.0, thick] * 2) / 2.0, mesh.vertices, mesh.faces,
        np.zeros(len(mesh.faces), np.int64), ("side",) * 6, np.eye(3)[None], thick, 0.0,
    )  # fmt: skip
    return CutStone(body, 10.0, QUARTZ)


def hexagon(width: float) -> CutStone:
    return CutStone(build_body(load_design("long-hexagon"), {"crown": 36.0}), width, QUARTZ)


def tint(srgb: str, mm: float | None = 4.0) -> Tint:
    slices = () if mm is None else (Slice(srgb, mm),)
    return tint_of(Colour(srgb, srgb, slices))


def test_a_plate_shows_what_its_two_faces_mirror() -> None:
    """Looked at square, a plate mirrors R0 at the top and R0·(1 − R0)²·T² at its back and so on;
    through its back one looks on to darkness."""
    colour = tint("#7a4fb0")
    picture = face_picture(plate(), one_colour(colour), SKY, across=64)
    r = mirrored_share(index_at(QUARTZ, bands(1)[0].nm), 0.0)
    through = colour.dyes[0].colour(8.0)
    shown = r + r * (1 - r) ** 2 * through + r**3 * (1 - r) ** 2 * colour.dyes[0].colour(16.0)
    wanted = 255.0 * encoded(shown)
    np.testing.assert_allclose(picture[32, 32], wanted, atol=1.6)
    assert (picture[0] == GROUND).all()
    assert (np.ptp(picture[20:44, 20:44].reshape(-1, 3), axis=0) <= 1).all()


def test_edges_are_averaged() -> None:
    """A slanting edge takes shades between ground and stone, never others."""
    picture = face_picture(plate(), one_colour(CLEAR_TINT), SKY, turn=(0.0, 20.0), across=96)
    stone, ground = picture[48, 48].astype(int), GROUND
    assert picture.min() >= min(stone.min(), ground) - 130
    assert len(np.unique(picture[:, :, 0])) > 3


def test_rocked_views_are_the_stone_turned() -> None:
    cut = hexagon(8.0)
    forms = plane_form(cut.corners, 0.0, 0.0, 0.0)
    two = Colouring(tint("#7a4fb0", 12.0), tint("#e8b83a", 12.0), forms, zone="split")
    strip = rocked_strip(cut, two, SKY, across=24)
    rows, columns = strip.shape[0] // 2, strip.shape[1] // 5
    assert columns == 24
    assert rows < 20
    for row, column, turn in ((0, 0, (-20.0, 0.0)), (0, 4, (20.0, 0.0)), (1, 3, (0.0, 10.0))):
        view = strip[rows * row :, 24 * column :][:rows, :24]
        alone = face_picture(cut, two, SKY, turn=turn, across=24)
        np.testing.assert_array_equal(view, alone)
    np.testing.assert_array_equal(strip[:rows, 48:72], strip[rows:, 48:72])
    read = np.asarray(Image.open(BytesIO(png(strip))))
    np.testing.assert_array_equal(read, strip)


@pytest.fixture(scope="module")
def seen() -> tuple[CutStone, Look]:
    cut = hexagon(8.0)
    forms = plane_form(cut.corners, 0.0, 0.0, 0.2)
    two = Colouring(tint("#7a4fb0", 12.0), tint("#e8b83a", 12.0), forms, zone="split")
    return cut, look_at(cut, two, places=1200)


def test_the_figures_of_every_turn_are_those_of_that_turn(seen: tuple[CutStone, Look]) -> None:
    """Against the face asked for alone; named the other way round, the shares add up to 1."""
    cut, look = seen
    assert [one.turn for one in look.by_turn[:3]] == [(0.0, 0.0), (-20.0, 0.0), (-10.0, 0.0)]
    assert look.upright.zone is not None
    old = look.colouring
    turned = Colouring(old.second, old.first, old.forms, inside=False, zone="split")
    other = look_at(cut, turned, places=1200, turns=((0.0, 0.0), (0.0, 20.0)))
    for one, two in zip((look.by_turn[0], look.by_turn[8]), other.by_turn, strict=True):
        assert one.turn == two.turn
        assert one.light == two.light
        assert one.zone is not None
        assert two.zone is not None
        assert one.zone.share + two.zone.share == pytest.approx(1.0, abs=1e-9)
    low, high = look.span(lambda s: s.zone.share if s.zone else 0.0)
    assert 0.05 < low <= look.upright.zone.share <= high < 0.6


def test_a_tone_is_the_mean_of_the_face_wholly_of_one_colour(seen: tuple[CutStone, Look]) -> None:
    cut, look = seen
    face = cut.face(lattice(np.full(2, -8.0), np.full(2, 8.0), 12000), (0.0, 0.0), 1)
    violet = look.colouring.first
    mean = one_colour(violet).colours(face, incoming_light(face, SKY))[face.hit].mean(axis=0)
    told = [int(look.tones[0].srgb[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    np.testing.assert_allclose(decoded(np.array(told)), mean, atol=0.01)


def test_three_colours_alike_are_one() -> None:
    cut = hexagon(6.0)
    slices = (Slice("#a08070", 5.0),) * 3
    by_axis = tint_of(Colour("smoky", "#a08070", by_axis=slices))
    plain = one_colour(tint("#a08070", 5.0))
    axes = replace(one_colour(by_axis), axes=np.eye(3))
    one, two = (look_at(cut, each, places=400, turns=((0, 0),)).tones[0] for each in (plain, axes))
    assert two.lightness == pytest.approx(one.lightness, abs=0.1)
    assert two.chroma == pytest.approx(one.chroma, abs=0.1)


def test_sentences_say_each_figure_and_how_well_colours_are_known(
    seen: tuple[CutStone, Look],
) -> None:
    _, look = seen
    told = " ".join(look_lines(look))
    for word in ("Light return", "Window", "Extinction", "Contrast", "halves", "ends", "balance"):
        assert word in told
    assert f"#7a4fb0 is {100 * look.upright.zone.share:.0f} % of what the face shows" in told
    assert colour_lines(look.colouring) == []
    assert "clear stone" in colour_lines(one_colour(CLEAR_TINT))[0]
    assert "5 mm is taken" in colour_lines(one_colour(tint("#7a4fb0", None)))[0]
    green = tint_of(Colour("green", "#00ff00", (Slice("#00ff00", 1.0), Slice("#ff0000", 2.0))))
    assert "off by ΔE" in colour_lines(one_colour(green))[0]


def test_too_dark_too_pale_and_blurred_are_warned_of() -> None:
    cut = hexagon(10.0)

    def warned(srgb: str, mm: float) -> str:
        look = look_at(cut, one_colour(tint(srgb, mm)), places=300, turns=((0.0, 0.0),))
        return " ".join(look_warnings(look, QUARTZ))

    assert "too dark where it is #402060: its face comes to lightness" in warned("#402060", 2.0)
    assert "is pale where it is #d0c0e0" in warned("#d0c0e0", 400.0)
    assert warned("#8a5cc2", 20.0) == ""
    assert warned("#ffffff", 20.0) == ""  # meant to be colourless
    look = look_at(cut, one_colour(CLEAR_TINT), places=300, turns=((0.0, 0.0),))
    (blur,) = look_warnings(look, load_material("zircon"))
    assert "Double refraction of zircon" in blur


def test_colours_that_the_face_does_not_tell_apart_are_said_to_be_so() -> None:
    cut = hexagon(10.0)
    forms = plane_form(cut.corners, 0.0, 0.0, 0.1)

    def told(one: str, other: str, mm: float) -> tuple[str, str, str]:
        first, second = replace(tint(one, mm), name="plum"), replace(tint(other, mm), name="brown")
        two = Colouring(first, second, forms, zone="split")
        look = look_at(cut, two, places=400, turns=((0.0, 0.0), (0.0, 20.0)))
        return short_line(look), " ".join(look_lines(look)), " ".join(look_warnings(look, QUARTZ))

    for mm, warned in ((0.5, "Too little colour shows to tell plum and brown apart"), (12.0, "")):
        short, lines, warnings = told("#4a2f63", "#594433", mm)
        assert ("plum and brown can't be told apart" in short) == bool(warned)
        assert ("does not tell plum and brown apart, so no share" in lines) == bool(warned)
        assert warned in warnings
    assert "look alike" in told("#8a5cc2", "#8a5cc2", 12.0)[2]
    assert "look alike" in told("#8a5cc2", "#8a5cc1", 12.0)[2]
    assert "% of the face shows enough colour" in told("#4a2f63", "#594433", 6.0)[2]
