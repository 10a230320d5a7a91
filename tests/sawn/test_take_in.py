"""What a real cut leaves: volumes by closed forms, weights, flaws, boundaries, stones' fates."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sawn_block import FIRST, HALF_LENGTH, KERF, SIDES

from optimizer.errors import InputError
from optimizer.mesh import Plane, volume
from optimizer.order import Order
from optimizer.order.several import Wanted
from optimizer.rough import load_rough
from optimizer.rough.rough_file.save import save_rough
from optimizer.sawn.fate import with_successors
from optimizer.sawn.new_face import plane_through
from optimizer.sawn.plan_folder import PlanFolder, PlannedStone
from optimizer.sawn.replan import order_left, stray_mm, take_in, tilt_deg
from optimizer.sawn.sawn_file import read_sawn_file

AREA = SIDES[1] * SIDES[2]
PER_MM3 = 2.65 / 200.0


@pytest.fixture
def sawn(planned: PlanFolder, tmp_path):
    def call(text: str):
        path = tmp_path / "sawn.toml"
        path.write_text(text)
        return take_in(planned, read_sawn_file(path), tmp_path, path.name)

    return call


def volumes(sawn) -> list[float]:
    return [piece.rough.volume_mm3 for piece in sawn.result.pieces]


def test_a_cut_as_planned_leaves_the_planned_pieces(sawn, planned):
    made = sawn("cut = 1")
    assert volumes(made) == pytest.approx([volume(planned.piece(k)) for k in (1, 2)], rel=1e-9)
    assert made.notes == ("Cut 1 ran as planned.",)
    assert made.warnings == ()
    (fate,) = made.fates
    assert fate.kept
    assert fate.gap_mm == pytest.approx(FIRST - KERF / 2.0 - (-6.0 + HALF_LENGTH))
    assert "still fits as planned" in fate.sentence


def test_the_second_cut_goes_through_the_piece_that_the_first_left(sawn, planned):
    made = sawn("cut = 2")
    assert volumes(made) == pytest.approx([volume(planned.piece(k)) for k in (3, 4)], rel=1e-9)
    names = [face.name for face in made.result.pieces[0].rough.reference_faces]
    assert names[:2] == ["sawn face of cut 2", "sawn face of cut 1"]
    assert any("taken to have run as planned" in text for text in made.warnings)


@pytest.mark.parametrize(("by_mm", "into"), [(0.0, 2), (0.3, 1), (1.7, 2)])
@pytest.mark.parametrize("tilt", [0.0, 2.0, 7.5])
def test_a_tilted_cut_by_its_closed_form(sawn, by_mm, into, tilt):
    """The cut's middle is the section's: a tilt about it leaves as much below as it takes, and the
    kerf measures its width over the cosine along the block."""
    turned = f", tilt_deg = {tilt}, most_at = [2.0, 6.0, 0.0]" if tilt else ""
    made = sawn(f"cut = 1\nmoved = {{ by_mm = {by_mm}, into_piece = {into}{turned} }}")
    middle = FIRST + (by_mm if into == 2 else -by_mm)
    half = KERF / 2.0 / np.cos(np.radians(tilt))
    expected = [AREA * (15.0 + middle - half), AREA * (15.0 - middle - half)]
    assert volumes(made) == pytest.approx(expected, rel=1e-9)
    assert stray_mm(made.planned, made.new) == pytest.approx(middle - FIRST, abs=1e-9)
    assert tilt_deg(made.planned, made.new) == pytest.approx(tilt, abs=1e-6)
    assert any("more than the saw_error_mm" in text for text in made.warnings) == (by_mm > 0.3)


def test_a_measured_kerf_counts(sawn):
    made = sawn("cut = 1\nkerf_mm = 0.9")
    assert sum(volumes(made)) == pytest.approx(AREA * (30.0 - 0.9), rel=1e-9)


def test_readings_move_the_cut(sawn):
    made = sawn("cut = 1\ndistances_mm = { 1 = 16.3, 2 = 16.3, 5 = 16.3 }")
    assert volumes(made)[0] == pytest.approx(AREA * 16.3, rel=1e-9)
    assert "strayed 0.50 mm into piece 1" in made.notes[0]


def test_pieces_are_rough_files_that_read_back(sawn, tmp_path):
    piece = sawn("cut = 1\nweights_ct = { 1 = 26.7 }").result.pieces[0]
    save_rough(piece.rough, tmp_path / "01.toml")
    rough = load_rough(tmp_path / "01.toml")
    assert rough.volume_mm3 == pytest.approx(piece.rough.volume_mm3, rel=1e-12)
    assert (rough.weighed_ct, rough.parent) == (26.7, "block")
    assert rough.scan_error_mm == 0.05
    faces = {face.name: face.plane for face in rough.reference_faces}
    assert list(faces) == ["sawn face of cut 1", "left", "base", "front"]
    assert faces["sawn face of cut 1"].offset == pytest.approx(1.8)


# --- stones ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("by_mm", "said"),
    [
        (1.9, "still fits as planned, 0.30 mm below"),
        (2.1, r"is lost: the saw left 0.10 mm over it, and it needs 0.25 mm"),
        (3.0, r"is lost: the saw went 0.80 mm into it"),
    ],
)
def test_a_stone_is_lost_where_the_saw_comes_too_near(sawn, by_mm, said):
    (fate,) = sawn(f"cut = 1\nmoved = {{ by_mm = {by_mm}, into_piece = 1 }}").fates
    assert said in fate.sentence
    assert fate.kept == ("still" in said)


def test_a_stone_sawn_through_its_middle_goes_to_the_larger_half(sawn):
    (fate,) = sawn("cut = 1\nmoved = { by_mm = 8.0, into_piece = 1 }").fates
    assert fate.gap_mm < -4.0
    assert fate.piece.rough.volume_mm3 > 0.0


@pytest.mark.parametrize(
    ("new", "outcome", "said"),
    [
        (
            [("oval", 2.0)],
            "moved",
            "elsewhere in its piece it still comes out, at 2.00 ct: the saw",
        ),
        ([("pear", 2.0), ("oval", 1.5)], "smaller", "a smaller one of 1.50 ct takes its place"),
        ([("pear", 3.0)], "other design", "a Pear of 3.00 ct takes its place"),
        ([], "lost", "is lost: the saw went 0.80 mm into it"),
    ],
)
def test_a_stone_that_only_moved_is_not_called_lost(sawn, new, outcome, said):
    (fate,) = sawn("cut = 1\nmoved = { by_mm = 3.0, into_piece = 1 }").fates
    fate = replace(fate, stone=replace(fate.stone, design="oval", carat=2.005))
    (fate,) = with_successors([fate], [(fate.piece, _plan_with(new))])
    assert fate.outcome == outcome
    assert said in fate.sentence


def test_two_stones_of_a_piece_never_share_a_successor(sawn):
    (fate,) = sawn("cut = 1\nmoved = { by_mm = 3.0, into_piece = 1 }").fates
    light, heavy, kept = (
        replace(fate, stone=replace(fate.stone, number=number, design="oval", carat=carat))
        for number, carat in ((1, 1.0), (2, 2.0), (3, 1.0))
    )
    kept = replace(kept, gap_mm=1.0)
    new = [("oval", 2.0), ("oval", 1.0)]
    all_three = with_successors([light, heavy, kept], [(fate.piece, _plan_with(new))])
    assert [one.outcome for one in all_three] == ["lost", "moved", "as planned"]


def _plan_with(stones):
    """A plan of which only the stones are asked: (design, carat) each."""
    return SimpleNamespace(
        stones=tuple(
            SimpleNamespace(
                design=SimpleNamespace(name=name, title=name.title()), carat=carat, wanted=""
            )
            for name, carat in stones
        )
    )


def test_what_is_left_of_a_list_of_wanted_stones():
    pair, drop = Wanted("pair", count=(2, 2), pair_mm=0.1), Wanted("drop", designs=("pear",))
    sized = Wanted("sized", calibrated=True)
    order = Order(designs=("oval",), wanted=(pair, drop, sized))

    def planned(*names):
        return [PlannedStone(k, "", 1.0, None, name) for k, name in enumerate(names, 1)]

    assert order_left(Order(), planned("")) == Order()
    assert order_left(order, planned("drop")) == order.of(drop)
    assert order_left(order, planned("drop")).designs == ("pear",)
    both = order_left(order, planned("pair", "pair", "drop")).wanted
    assert [(w.name, w.count, w.pair_mm) for w in both] == [
        ("pair", (0, 2), 0.1), ("drop", (0, 1), None),
    ]  # fmt: skip
    assert order_left(order, planned("pair", "drop")).wanted[0].pair_mm is None
    assert order_left(order, planned("sized")).wanted[0].calibrated


# --- weights --------------------------------------------------------------------------------------


def test_right_weights_are_taken_in_without_a_word(sawn):
    right = [AREA * side * PER_MM3 for side in (16.8, 12.8)]
    made = sawn(f"cut = 1\nweights_ct = {{ 1 = {right[0]:.3f}, 2 = {right[1]:.3f} }}")
    assert made.warnings == ()
    assert [piece.rough.weighed_ct for piece in made.result.pieces] == pytest.approx(
        right, abs=1e-3
    )
    assert "0.64 ct are gone" in made.notes[-1]  # 0.4 mm of kerf


def test_a_weight_that_the_cut_denies_is_told_with_where_it_would_agree(sawn):
    """A millimetre off the planned cut, which the balance knows and the file does not."""
    made = sawn(f"cut = 1\nweights_ct = {{ 1 = {AREA * 15.8 * PER_MM3:.3f} }}")
    (text,) = made.warnings
    assert "Piece 1 weighs 25.12 ct and by its volume 26.71 ct" in text
    assert "With the cut 1.00 mm nearer to its middle the two would agree" in text


@pytest.mark.parametrize(
    ("weights", "said"),
    [
        ("{ 1 = 12.0 }", "no error of model or balance is that large"),
        ("{ 1 = 5e-324 }", '"weights_ct.1" must be at least 0.00001'),
        ("{ 5 = 12.0 }", r"piece 5 is not left by this cut \(1 and 2\)"),
    ],
)
def test_gross_weights_are_refused(sawn, weights, said):
    with pytest.raises(InputError, match=said):
        sawn(f"cut = 1\nweights_ct = {weights}")


# --- what the new face showed ---------------------------------------------------------------------


def test_a_flaw_is_told_from_the_new_face_and_goes_where_it_reaches(sawn):
    made = sawn("""cut = 1
[[flaws]]
name = "feather"
point_mm = { "sawn face of cut 1" = 0.5, "base" = 4.0, "front" = 5.0 }
normal = [0, 1, 0]
across_mm = 2.0
""")
    stone_side, other = made.result.pieces
    (flaw,) = stone_side.rough.flaws
    assert flaw.ends[0] == pytest.approx([1.8 - 0.5, -1.0, -1.0])
    assert other.rough.flaws == (flaw,)  # 2 mm across, it passes the kerf
    assert made.fates[0].kept


def test_a_flaw_in_the_planned_stone_costs_it(sawn):
    made = sawn('cut = 1\n[[flaws]]\nname = "spot"\npoint_mm = [-6.0, 0.0, 0.0]\n')
    assert made.fates[0].sentence.endswith('it lies too near to "spot".')
    assert [len(piece.rough.flaws) for piece in made.result.pieces] == [1, 0]


def test_a_boundary_is_put_on_the_line_that_was_seen(sawn):
    """On the sawn face at x = 1.8 the boundary can't show where it was planned: there it runs at
    x = −6. Told by two places it goes through them and keeps its tilt as far as it can."""
    made = sawn("""cut = 1
[[boundaries]]
zone = "split"
points_mm = [[1.8, -6.0, -5.0], [1.8, 6.0, -5.0]]
""")
    for piece in made.result.pieces:
        plane = piece.rough.zones[0].plane
        assert plane.normal == pytest.approx([1.0, 0.0, 0.0])
        assert plane.offset == pytest.approx(1.8)
    assert "lies up to 7.80 mm from where it was thought to be, turned by 0.0°" in made.notes[1]


def boundary(zone: str, second: str) -> str:
    return f'[[boundaries]]\nzone = "{zone}"\npoints_mm = [[0, 0, 0], {second}]'


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ('[[flaws]]\nname = "x"\npoint_mm = [90, 0, 0]', '"x" reaches neither piece'),
        ('[[flaws]]\nname = "x"\npoint_mm = { a = 1, b = 2, base = 3 }', "names the face"),
        ('[[flaws]]\nname = "x"\npoint_mm = [0, 0, 0]\nseen_on = 3', "piece 3 is not left"),
        (boundary("spilt", "[0, 5, 0]"), 'did you mean "split"'),
        (boundary("split", "[0, 0.1, 0]"), "nearly at one spot"),
        (boundary("split", "[5, 0, 0]"), "nearly square to the boundary"),
        (boundary("split", "[5, 0, 0]") + "\nangle_to_face_deg = 60", "square to the new face"),
    ],
)  # fmt: skip
def test_what_can_not_have_been_seen_is_refused(sawn, entry, said):
    with pytest.raises(InputError, match=said):
        sawn(f"cut = 1\n{entry}\n")


def test_an_angle_to_the_face_settles_the_plane():
    old, face = Plane(np.array([1.0, 0.0, 0.0]), 0.0), Plane(np.array([0.0, 0.0, 1.0]), 2.0)
    points = np.array([[0.5, -3.0, 2.0], [0.5, 4.0, 2.0]])
    for angle in (30.0, 90.0, 140.0):
        plane = plane_through(old, points, face, angle)
        assert points @ plane.normal == pytest.approx(plane.offset)
        assert abs(plane.normal @ face.normal) == pytest.approx(abs(np.cos(np.radians(angle))))
        assert plane.normal @ old.normal > 0.0
    assert plane_through(old, points, face).normal == pytest.approx(old.normal)


# --- calls that don't fit -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", 'sawn.toml: key "cut" is missing; add it, for one: cut = 1'),
        ("cut = 0", 'key "cut" must be at least 1'),
        ("cut = 7", "cut 7 is not in .*, whose plan has 2"),
        ("cut = 1\nmvoed = 1", 'key "mvoed" is not known; did you mean "moved"'),
        ("cut = 1\nmoved = { by_mm = 1.0 }", 'key "moved.into_piece" is missing'),
        ("cut = 1\nmoved = { into_piece = 2, tilt_deg = 1.0 }", "tilt_deg and most_at together"),
        ("cut = 1\nmoved = { into_piece = 4, by_mm = 1.0 }", "piece 4 is not left by cut 1"),
        ("cut = 1\nmoved = { into_piece = 2, by_mm = 14.0 }", "misses the piece"),
        ("cut = 1\ndistances_mm = { one = 1.0 }", "use whole numbers as keys"),
        ("cut = 1\ndistances_mm = { 1 = 1.0, 01 = 2.0 }", '"01": use whole numbers as keys'),
        ("cut = 1\ndistances_mm = { 1 = 1e300 }", 'key "distances_mm.1" must be at most 1,000,000'),
        ("cut = 1\ndistances_mm = { 1 = 1.0 }\nmoved = { into_piece = 2 }", "keep one"),
        ("cut = 1\nmeasured_on = 1", "measured_on, which is about distances"),
        ("cut = 1\nweights_error_ct = 0.1", "weights_error_ct, which is about weights"),
        ("cut = 1\nmoved = { into_piece = 2, tilt_deg = 1, most_at = { a = 1, b = 2, c = 3 } }",
         "most_at names the face"),
    ],
)  # fmt: skip
def test_bad_files_are_one_clear_line(sawn, text, said):
    with pytest.raises(InputError, match=said) as refused:
        sawn(text)
    assert "\n" not in str(refused.value)
    assert str(refused.value).startswith("sawn.toml")
