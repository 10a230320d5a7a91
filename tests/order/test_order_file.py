"""The order file and the workshop file."""

import re
import tomllib
from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.order import (
    DirectionDemand,
    LookDemand,
    Order,
    SizeDemand,
    Workshop,
    ZoneDemand,
    as_table,
    load_order,
)
from optimizer.order.demands import ZONE_WORDS
from optimizer.order.file import example
from optimizer.order.like import LikeTable
from optimizer.order.several import Several
from optimizer.order.several_file import PairTable, PriceTable, WantedTable
from optimizer.report.order_file import order_toml

EXAMPLE = example()


# --- the example --------------------------------------------------------------------------------

COMMENTED = re.compile(r"^# (\w+ = |\[\w+\]$|\[\[\w+\]\]$|\[wanted\.\w+\]$)")
SEVERAL = EXAMPLE[EXAMPLE.index("# Several stones") : EXAMPLE.index("# Your saw")]
OF_ONE = EXAMPLE.replace(SEVERAL, "")


def uncommented(text: str, which: re.Pattern[str] = COMMENTED) -> str:
    return "\n".join(line[2:] if which.match(line) else line for line in text.splitlines())


def test_the_example_asks_for_nothing_but_the_defaults(read):
    assert read(EXAMPLE) == Order()


def test_the_example_shows_every_key_of_an_order():
    table = tomllib.loads(uncommented(EXAMPLE))
    assert set(table) == {
        "design",
        "outline",
        "parameters",
        "size",
        "girdle",
        "zone",
        "direction",
        "look",
        "several",
        "wanted",
        "prices",
        "workshop",
        "rough",
    }
    kinds = {
        "size": SizeDemand, "zone": ZoneDemand, "direction": DirectionDemand, "look": LookDemand,
        "workshop": Workshop, "several": Several,
    }  # fmt: skip
    for key, kind in kinds.items():
        beside = {"light_loss_percent"} if key == "look" else set()  # the order's own
        assert set(table[key]) == {field.name for field in fields(kind)} | beside
    assert set(table["girdle"]) == {"least_mm", "least_percent"}
    assert keys(table["prices"]) == set(PriceTable.model_fields)
    as_above = {"outline", "parameters", "girdle", "zone", "direction", "look"}
    assert keys(table["wanted"]) == set(WantedTable.model_fields) - as_above
    for key, kind in (("pair", PairTable), ("like", LikeTable)):
        shown = keys([wanted[key] for wanted in table["wanted"] if key in wanted])
        assert shown == set(kind.model_fields)


def keys(tables: list[dict]) -> set[str]:
    return set().union(*tables)


@pytest.mark.parametrize("key", [line for line in OF_ONE.splitlines() if COMMENTED.match(line)])
def test_each_commented_line_of_the_example_is_right_once_uncommented(key, read):
    """With its table's head, and in [zone] with the name and colour that every zone needs."""
    wanted = {key}
    if not key.startswith("# ["):
        before = OF_ONE[: OF_ONE.index(key)].splitlines()
        heads = [line for line in before if re.match(r"^(# )?\[\w+\]", line)]
        wanted.update(heads[-1:])
    if "# [zone]" in wanted or key == "# [zone]":
        wanted |= {'# name = "split"', '# colour = "violet"'}
        if not key[2:].startswith(("keep", "share", "offset", "tilt", "azimuth")):
            wanted.add(next(line for line in OF_ONE.splitlines() if "tilt_deg" in line))
    if key in ("# [direction]", '# axis = "optic axis"       # or "growth axis"'):
        wanted |= {"# [direction]"}
        wanted.add(next(line for line in OF_ONE.splitlines() if "axis_to_table_deg" in line))
    if "# [look]" in wanted and not key[2:].startswith(("light", "window")):
        looks = OF_ONE[OF_ONE.index("# [look]") :].splitlines()[:4]
        assert [line.split()[1] for line in looks] == ["[look]", "zone", "colour", "face_percent"]
        wanted |= set(looks)
    text = "\n".join(line[2:] if line in wanted else line for line in OF_ONE.splitlines())
    order = read(text)
    assert (order != Order()) or key in ("# [parameters]", "# [size]")


def test_what_contradicts_in_the_example_is_only_alike_or_clear_against_its_opposite(read):
    text = uncommented(OF_ONE)
    with pytest.raises(InputError, match=r"keep_clear_mm.*offset, share_percent.*keep one"):
        read(text)
    text = "\n".join(x for x in text.splitlines() if not x.startswith("keep_clear_mm"))
    with pytest.raises(InputError, match=r"balance_of_ends.*difference_of_ends.*drop one"):
        read(text)
    text = "\n".join(x for x in text.splitlines() if not x.startswith("difference_of_ends"))
    with pytest.raises(InputError, match="keep one of design and outline"):
        read(text)
    text = "\n".join(x for x in text.splitlines() if not x.startswith("outline"))
    order = read(text)
    assert order.zone == ZoneDemand(
        "split", "violet", None, (45, 55), (-0.1, 0.1), (-10, 10), (-10, 10)
    )
    assert order.size == SizeDemand((6.0, 9.0), (12.0, 12.0), (2.0, 1000.0))
    assert order.direction == DirectionDemand("optic axis", (80, 90), 5)
    assert order.rough == {"unit": "mm", "material": "quartz", "weighed_ct": 61.2}


# --- what is read -------------------------------------------------------------------------------


def test_an_empty_file_asks_for_the_most_carats(read):
    assert read("") == Order()


def test_a_single_number_is_both_ends(read):
    order = read("[size]\nwidth_mm = 5\ncarat = [1, 2]\n")
    assert order.size == SizeDemand(width_mm=(5.0, 5.0), carat=(1.0, 2.0))


def test_any_design_is_asked_for_by_leaving_it_out_or_by_the_word(read):
    assert read('design = "any"') == read("")
    with pytest.raises(InputError, match='names "any" beside other designs'):
        read('design = ["any", "oval"]')


def test_an_outline_stands_for_its_designs_with_a_point_or_a_keel(read):
    rounds = read('outline = "round"').designs
    assert {"round-brilliant", "round-step"} < set(rounds)
    assert "round-rose" not in rounds
    both = read('outline = ["round", "long hexagon"]').designs
    assert both == (*rounds, "long-hexagon")
    wanted = read('[several]\n[[wanted]]\nname = "one"\noutline = "round"\n').wanted
    assert wanted[0].designs == rounds
    with pytest.raises(InputError, match='names the unknown outline "rond"; did you mean "round"'):
        read('outline = "rond"')


def test_a_design_is_one_name_or_several_each_once(read):
    assert read('design = "oval"').designs == ("oval",)
    assert read('design = ["pear", "oval"]').designs == ("pear", "oval")
    with pytest.raises(InputError, match='"design" names "pear" twice; name each design once'):
        read('design = ["pear", "oval", "pear"]')
    with pytest.raises(InputError, match=r'"design" is an empty list; leave it out'):
        read("design = []")


def test_a_design_file_of_ones_own_is_found_from_the_order_file(read, tmp_path):
    order = read('design = ["oval", "mine/step.toml"]')
    assert order.designs == ("oval", str((tmp_path / "mine/step.toml").resolve()))
    assert order.design_names == ("oval", "step")


def test_the_workshop_may_have_a_file_of_its_own(read, tmp_path):
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop/mine.toml").write_text("kerf_mm = 0.3\nmost_cuts = 2\n")
    order = read('workshop = "shop/mine.toml"')
    assert order.workshop == replace(Workshop(), kerf_mm=0.3, most_cuts=2)
    (tmp_path / "shop/mine.toml").write_text("kerf_mm = -1\n")
    with pytest.raises(InputError, match=r'mine\.toml: key "kerf_mm" must be at least 0, got -1'):
        read('workshop = "shop/mine.toml"')


def test_azimuths_may_pass_half_a_turn(read):
    zone = '[zone]\nname = "a"\ncolour = "b"\n'
    assert read(f"{zone}azimuth_deg = [170, 190]").zone.azimuth_deg == (170.0, 190.0)
    assert read(f"{zone}azimuth_deg = [-180, 180]").zone.azimuth_deg == (-180.0, 180.0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[size]\ncarat = [2]", '"size.carat" must be a number or [least, greatest], got [2]'),
        ("[size]\ncarat = true", "got true"),
        ("[size]\ncarat = [1, inf]", 'the second of "size.carat" must be a finite number, got inf'),
        ("[size]\ncarat = 0", "must be above 0"),
        ("[size]\nwidth_mm = 1e9", "between 0 and 10,000"),
        ("[girdle]\nleast_percent = 31", "at most 30"),
        ("[girdle]\nleast_mm = nan", '"girdle.least_mm"'),
        ("[workshop]\nsaw_reach_mm = 0", "above 0"),
        ("[workshop]\nmost_cuts = 2.0", "a whole number"),
        ("[workshop]\nmost_cuts = 101", "at most 100"),
        ("workshop = 3", '"workshop" must be a table or the name of a workshop file, got 3'),
        ("design = [1]", "a name or a list of names, got [1]"),
        ("parameters = 3", '"parameters" must be a table of keys'),
        ("rough = 'quartz'", '"rough" must be a table of keys'),
        ("[[size]]\ncarat = 1", '"size" must be a table of keys'),
        ("[zone]\nname = 'a'\noffset = 0", '"zone.colour" is missing'),
        ("[zone]\nname = 'a'\ncolour = 'b'", "asks nothing about"),
        ("[zone]\nname='a'\ncolour='b'\ntilt_deg=[-91, 0]", "between -90 and 90"),
        ("[look]\nzone='a'\ncolour='b'", "asks for nothing; add one of face_percent"),
        ("[look]\nface_percent=50", "add zone and colour"),
        ("[look]\nzone='a'\nwindow_percent=5", "but asks nothing about it"),
        ("[look]\nbalance_of_ends=1.5", "at most 1"),
        ("[look]\nzone='a'\ncolour='b'\nbalance_of_ends=1", "ask for 0.98 or less"),
        ("[look]\ndifference_of_ends=1.5", "at most 1"),
        ("[look]\nzone='a'\ncolour='b'\ndifference_of_ends=0.97", "ask for 0.96 or less"),
        (
            "[look]\nzone='a'\ncolour='b'\nbalance_of_ends=0.6\ndifference_of_ends=0.5",
            "ends so alike differ by 0.4 at most",
        ),
        ("[look]\nzone='a'\ncolour='b'\nface_percent=50", "leave at least 4 % between its ends"),
        ("[look]\nzone='a'\ncolour='b'\nface_percent=100", "leave at least 2 % between"),
        (
            "[zone]\nname='a'\ncolour='b'\noffset=0\n[look]\nzone='a'\ncolour='c'\nface_percent=[40,60]",
            "name the same in both",
        ),
        ("[zone]\nname='a'\ncolour='b'\noffset=[-1.5, 0]", "between -1 and 1"),
        ("[zone]\nname='a'\ncolour='b'\nshare_percent=101", "between 0 and 100"),
        ("[zone]\nname='a'\ncolour='b'\nkeep_clear_mm=-1", "at least 0"),
        ("[zone]\nname='a'\ncolour='b'\nazimuth_deg=[170, -170]", "[170, 190]"),
        ("[zone]\nname='a'\ncolour='b'\nazimuth_deg=[-200, 200]", "more than a full turn"),
        ("[zone]\nname='a'\ncolour='b'\nkeep_clear_mm=1\noffset=0", "cross (offset): keep one"),
        ("[direction]", "asks for nothing; add axis_to_table_deg or cleavage_clear_deg"),
        ("[direction]\naxis_to_table_deg = [80, 91]", "between 0 and 90"),
        ("[direction]\naxis_to_table_deg = [90, 80]", "runs backwards"),
        ("[direction]\naxis_to_table_deg = -1", "between 0 and 90"),
        (
            "[direction]\ncleavage_clear_deg = -1",
            'clear_deg" must be at least 0',
        ),
        ("[direction]\ncleavage_clear_deg = 50", "at most 45"),
        ("[direction]\naxis = 'c axis'\ncleavage_clear_deg = 5", '"direction.axis"'),
    ],
)
def test_faults_name_file_and_key(text, said, read, tmp_path):
    with pytest.raises(InputError) as caught:
        read(text)
    assert str(caught.value).startswith(str(tmp_path / "order.toml"))
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


@given(data=st.binary(max_size=100) | st.text(max_size=60).map(str.encode))
def test_random_bytes_are_an_order_or_an_input_error(data, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "random.toml"
    path.write_bytes(data)
    try:
        assert isinstance(load_order(path), Order)
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017


# --- there and back ------------------------------------------------------------------------------

LENGTHS = st.floats(1e-3, 1e4)
NAMES = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), min_size=1, max_size=8)


def ranges(low: float, high: float) -> st.SearchStrategy:
    pairs = st.tuples(st.floats(low, high), st.floats(low, high))
    return st.none() | pairs.map(lambda ends: tuple(sorted(ends)))


SIZES = st.builds(SizeDemand, ranges(1e-3, 1e4), ranges(1e-3, 1e4), ranges(1e-3, 1e4))
ACROSS = st.builds(
    ZoneDemand,
    NAMES,
    NAMES,
    share_percent=ranges(0, 100),
    offset=ranges(-1, 1),
    tilt_deg=st.tuples(st.just(-90.0), st.floats(-90, 90)),
    azimuth_deg=ranges(-180, 180),
)
CLEAR = st.builds(ZoneDemand, NAMES, NAMES, keep_clear_mm=st.floats(0, 1e4))
DIRECTIONS = st.builds(
    DirectionDemand,
    st.sampled_from(["optic axis", "growth axis"]),
    axis_to_table_deg=st.tuples(st.floats(0, 45), st.floats(45, 90)),
    cleavage_clear_deg=st.none() | st.floats(0.1, 45),
) | st.builds(DirectionDemand, cleavage_clear_deg=st.floats(0.1, 45))
WORKSHOPS = st.builds(
    Workshop,
    *[st.floats(0, 1e4)] * 1,
    LENGTHS,
    *[st.floats(0, 1e4)] * 4,
    most_cuts=st.integers(0, 100),
)
ORDERS = st.builds(
    Order,
    designs=st.lists(NAMES.filter(lambda n: not n.endswith(".toml")), unique=True).map(tuple),
    parameters=st.dictionaries(NAMES, st.floats(-1e3, 1e3), max_size=3),
    size=SIZES,
    least_girdle_mm=st.floats(0, 1e4),
    least_girdle_percent=st.floats(0, 30),
    zone=st.none() | ACROSS | CLEAR,
    direction=st.none() | DIRECTIONS,
    look=st.none() | st.builds(LookDemand, light_return_percent=st.floats(0, 100)),
    workshop=WORKSHOPS,
    rough=st.none()
    | st.just({"material": "quartz", "zones": [{"name": "a", "normal": [0, 0, 1]}]}),
)


@given(order=ORDERS)
def test_an_order_written_is_the_order_read(order, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "written.toml"
    path.write_text(order_toml(order), encoding="utf-8")
    assert load_order(path) == order


def test_the_table_of_an_order_holds_its_defaults():
    table = as_table(Order())
    assert table["girdle"] == {"least_mm": 0.2, "least_percent": 2.0}
    assert table["workshop"]["kerf_mm"] == Workshop.kerf_mm
    assert "zone" not in table
    assert "direction" not in table
    assert "design" not in table


def test_each_thing_asked_of_a_boundary_has_its_words():
    keys = [field.name for field in fields(ZoneDemand) if field.name not in ("name", "colour")]
    whole = ZoneDemand("split", "violet", **dict.fromkeys(keys[1:], (0.0, 1.0)), keep_clear_mm=1.0)
    assert list(ZONE_WORDS) == list(whole.sentences()) == keys
