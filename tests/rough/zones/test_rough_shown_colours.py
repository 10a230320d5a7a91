"""How colours show through the stone: stated, read from photos, by axis, and written back."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough import describe, load_rough, save_rough, write_ply
from optimizer.rough.model import NOT_STATED, Colour, Rough, Slice

ZONE = 'scan = "piece.ply"\nunit = "mm"\nmaterial = "quartz"\n{facts}\n[[zones]]\nname = "split"\n'
SPLIT = "point_mm = [20.0, -3, 7]\nnormal = [2, 0, 0]\ntowards = {towards}\naway = {away}\n"
PLAIN = '{ colour = "yellow" }'
OTHER = '{ colour = "violet" }'


@pytest.fixture
def folder(tmp_path: Path, box: Mesh) -> Path:
    write_ply(tmp_path / "piece.ply", box)
    return tmp_path


def loaded(folder: Path, towards: str, away: str = PLAIN, facts: str = "") -> Rough:
    text = (ZONE + SPLIT).format(facts=facts, towards=towards, away=away)
    (folder / "piece.toml").write_text(text, encoding="utf-8")
    return load_rough(folder / "piece.toml")


def one_colour(folder: Path, body: str, facts: str = "") -> Rough:
    text = 'scan = "piece.ply"\nunit = "mm"\nmaterial = "quartz"\n'
    (folder / "piece.toml").write_text(f"{text}{facts}\n[body_colour]\n{body}\n", encoding="utf-8")
    return load_rough(folder / "piece.toml")


TOLD = {
    '{ colour = "violet" }': Colour("violet", NOT_STATED[0]),
    '{ colour = "violet", srgb = "#7a4fb0" }': Colour("violet", "#7a4fb0"),
    '{ colour = "violet", srgb = "#7a4fb0", shows_at_mm = 5.0 }': Colour(
        "violet", "#7a4fb0", (Slice("#7a4fb0", 5.0),)
    ),
    '{ colour = "v", srgb = "#7a4fb0", shows_at_mm = 5.0, slices = [{ mm = 2.0, srgb = "#b59adb" }'
    " ] }": Colour("v", "#7a4fb0", (Slice("#7a4fb0", 5.0), Slice("#b59adb", 2.0))),
    '{ colour = "v", slices = [{ mm = 2.0, srgb = "#b59adb" }, { mm = 4.0, srgb = "#7a4fb0" }] }': (
        Colour("v", "#b59adb", (Slice("#b59adb", 2.0), Slice("#7a4fb0", 4.0)))
    ),
    '{ colour = "v", srgb = "#112233", slices = [{ mm = 2.0, srgb = "#b59adb" }] }': Colour(
        "v", "#112233", (Slice("#b59adb", 2.0),)
    ),
}
AXES = "optic_axis = [0, 0, 2]\nsecond_axis = [0, 3, 0.01]"
TWO = '{ colour = "smoky", shows_at_mm = 3.0, axis_srgb = ["#705040", "#a08070"] }'
THREE = '{ colour = "smoky", axis_srgb = ["#705040", "#a08070", "#c0a090"] }'


@pytest.mark.parametrize("text", TOLD)
def test_a_colour_is_read_and_comes_back_as_it_was_written(folder: Path, text: str) -> None:
    rough = loaded(folder, text)
    assert rough.zones[0].towards == TOLD[text]
    save_rough(rough, folder / "back.toml")
    again = load_rough(folder / "back.toml")
    assert (again.zones[0].towards, again.zones[0].away) == (TOLD[text], rough.zones[0].away)


def test_what_shows_is_stated_estimated_or_unknown() -> None:
    assert Colour("violet", NOT_STATED[0]).shown == ()
    assert Colour("violet", "#7a4fb0").shown == (Slice("#7a4fb0", None),)
    assert Colour("v", "#7a4fb0", (Slice("#b59adb", 2.0),)).shown == (Slice("#b59adb", 2.0),)


def test_colours_by_axis_need_the_axes(folder: Path) -> None:
    rough = loaded(folder, TWO, facts=AXES)
    assert rough.zones[0].towards.by_axis == (Slice("#705040", 3.0), Slice("#a08070", 3.0))
    np.testing.assert_allclose(rough.second_axis, [0.0, 1.0, 0.0], atol=1e-12)
    with pytest.raises(InputError, match=r"^piece.toml: axis_srgb of smoky needs .* optic_axis$"):
        loaded(folder, TWO)
    with pytest.raises(InputError, match="has three colours: add second_axis"):
        loaded(folder, THREE, facts="optic_axis = [0, 0, 2]")
    with pytest.raises(InputError, match=r"second_axis stands 45.0° to optic_axis"):
        loaded(folder, THREE, facts="optic_axis = [0, 0, 2]\nsecond_axis = [0, 1, -1]")
    with pytest.raises(InputError, match="second_axis needs the first"):
        loaded(folder, OTHER, facts="second_axis = [0, 1, -1]")


def test_colours_by_axis_need_a_species_that_has_them(folder: Path) -> None:
    one_colour(folder, 'colour = "red"\naxis_srgb = ["#705040", "#a08070"]', AXES)
    file = folder / "piece.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("quartz", "spinel"), encoding="utf-8")
    with pytest.raises(InputError, match=r"^piece.toml: axis_srgb of red .* spinel shows one col"):
        load_rough(file)


def test_a_piece_of_one_colour_and_its_axes_come_back(folder: Path) -> None:
    rough = one_colour(
        folder, 'colour = "smoky"\naxis_srgb = ["#705040", "#a08070", "#c0a090"]', AXES
    )
    save_rough(rough, folder / "back.toml")
    again = load_rough(folder / "back.toml")
    assert again.body_colour == rough.body_colour
    assert again.body_colour is not None
    assert [one.mm for one in again.body_colour.by_axis] == [None] * 3
    np.testing.assert_allclose(again.second_axis, rough.second_axis, atol=1e-12)


@pytest.mark.parametrize(
    ("towards", "said"),
    [
        ('{ colour = "v", shows_at_mm = 2.0 }', "has shows_at_mm without the colour"),
        ('{ colour = "v", srgb = "#112233", shows_at_mm = 0.0 }', "must be above 0"),
        ('{ colour = "v", slices = [{ mm = 2.0 }] }', "must have either srgb or photo"),
        ('{ colour = "v", slices = [{ srgb = "#112233" }] }', "for one: mm = 2.0"),
        ('{ colour = "v", slices = [{ mm = 2.0, photo = "no.png" }] }', "there is no such file"),
        ('{ colour = "v", slices = [{ mm = 2.0, photo = "piece.ply" }] }', "no picture that is"),
        (
            '{ colour = "v", axis_srgb = ["#112233", "#112233"], '
            'slices = [{ mm = 1.0, srgb = "#112233" }] }',
            "keep one",
        ),
        ('{ colour = "v", axis_srgb = ["#112233"] }', "must hold at least 2"),
    ],
)
def test_a_wrong_colour_is_one_line_that_names_the_key(
    folder: Path, towards: str, said: str
) -> None:
    with pytest.raises(InputError) as caught:
        loaded(folder, towards)
    assert str(caught.value).startswith("piece.toml: in the first [[zones]], ")
    assert "towards" in str(caught.value)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def photo(path: Path, paper: tuple[int, ...], stone: tuple[int, ...], **extra: object) -> None:
    dots = np.empty((90, 120, len(paper)), np.uint8)
    dots[:] = paper
    dots[20:70, 20:100] = stone
    Image.fromarray(dots).save(path, **extra)


SLICE = '{ colour = "v", slices = [{ mm = 1.5, photo = "slice.png" }] }'


def test_a_photo_gives_the_colour_of_twice_the_thickness(folder: Path) -> None:
    photo(folder / "slice.png", (255, 255, 255), (0x7A, 0x4F, 0xB0))
    rough = loaded(folder, SLICE)
    assert rough.zones[0].towards.slices == (Slice("#7a4fb0", 3.0),)
    (note,) = rough.notes
    assert "slice.png: 1.5 mm on white paper look #7a4fb0" in note
    assert "overexposed" in note
    assert any(note in line for line in describe(rough))


def test_the_paper_is_the_white_point(folder: Path) -> None:
    """Half the light, and warmer: the ratio in linear light is the same."""

    def srgb(linear: float) -> int:
        return round(255 * (1.055 * linear ** (1 / 2.4) - 0.055))

    shown = np.array([0.4, 0.2, 0.6])
    warm = np.array([0.6, 0.5, 0.4])
    photo(folder / "slice.png", tuple(map(srgb, warm)), tuple(map(srgb, warm * shown)))
    text = loaded(folder, SLICE).zones[0].towards.slices[0].srgb
    found = [int(text[k : k + 2], 16) for k in (1, 3, 5)]
    np.testing.assert_allclose(found, [srgb(x) for x in shown], atol=1.5)


def test_the_photo_s_own_profile_counts(folder: Path) -> None:
    """The same numbers under the sRGB profile are the same colour."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    photo(folder / "slice.png", (230, 230, 230), (122, 79, 176), icc_profile=profile)
    with_profile = loaded(folder, SLICE).zones[0].towards
    photo(folder / "slice.png", (230, 230, 230), (122, 79, 176))
    assert with_profile == loaded(folder, SLICE).zones[0].towards
    photo(folder / "slice.png", (230, 230, 230), (122, 79, 176), icc_profile=b"none")
    with pytest.raises(InputError, match="profile that can't be used"):
        loaded(folder, SLICE)


@pytest.mark.parametrize(
    ("paper", "stone", "said"),
    [
        ((40, 40, 40), (20, 20, 20), "no white paper at its rim, but #282828"),
        ((250, 250, 250, 0), (90, 60, 120, 255), "transparent"),
    ],
)
def test_a_photo_without_paper_is_refused(
    folder: Path, paper: tuple[int, ...], stone: tuple[int, ...], said: str
) -> None:
    photo(folder / "slice.png", paper, stone)
    with pytest.raises(InputError, match=said):
        loaded(folder, SLICE)


def test_a_slice_that_fills_the_photo_is_refused(folder: Path) -> None:
    dots = np.full((90, 120, 3), 250, np.uint8)
    dots[:, :60] = (160, 120, 200)
    Image.fromarray(dots).save(folder / "slice.png")
    with pytest.raises(InputError, match="not evenly white"):
        loaded(folder, SLICE)


def test_one_colour_and_zones_are_not_both(folder: Path) -> None:
    with pytest.raises(InputError, match="body_colour and zones both"):
        loaded(folder, OTHER, facts='body_colour = { colour = "smoky" }')
