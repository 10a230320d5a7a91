"""Orders of several stones: the list of wanted stones, pairs, matches, prices."""

import json
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.order import Order, Workshop, load_order
from optimizer.order.demands import (
    LEAST_PLAY_PERCENT,
    DirectionDemand,
    LookDemand,
    SizeDemand,
    ZoneDemand,
)
from optimizer.order.file import example
from optimizer.order.several import AS_MANY, LookTolerance, Price, Several, Wanted
from optimizer.report.order_file import order_toml


def plan_json(folder: Path, **zone: object) -> None:
    """A plan of two stones, the second with a boundary."""
    document = json.loads(PLAN.read_text(encoding="utf-8"))
    (told,) = document["stones"]
    guidance = {**told["guidance"], "zone": zone or None}
    stone = {**told, "design": "pear", "parameters": {"crown": 35.0, "table": 0.5}}
    plain = {**stone, "width_mm": 6.0, "guidance": None}
    marked = {**stone, "design": "oval", "width_mm": 7.0, "guidance": guidance}
    document["stones"] = [plain, marked]
    (folder / "plan.json").write_text(json.dumps(document))


PLAN = Path(__file__).parents[1] / "documents" / "demo-plan.json"


ZONE = {
    "zone": "split", "colour": "violet", "tilt_deg": 4.0, "azimuth_deg": 178.0, "offset": 0.1,
    "share_percent": 45.0, "kind": "plane",
}  # fmt: skip


# --- the example ---------------------------------------------------------------------------------

BLOCKS = re.findall(r"(?:^# .*\n)+", example(), re.MULTILINE)
LINE = re.compile(r"^# (\w+ = |\[+\w+(\.\w+)?\]+$)")


def block(head: str, within: str = "") -> str:
    """The example's block under a head that also says ``within``, uncommented."""
    (found,) = (text for text in BLOCKS if f"# {head}\n" in text and within in text)
    lines = found.splitlines()
    return "\n".join(line[2:] if LINE.match(line) else line for line in lines)


def test_the_example_shows_the_defaults_of_several(read):
    assert read(block("[several]")).several == Several()


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        (
            "ring stone",
            Wanted("ring stone", ("oval",), size=SizeDemand((9.0, 9.0)), count=(1, 1), first=True),
        ),
        ("earrings", Wanted("earrings", ("pear",), count=(0, 4), pair_mm=0.1)),
        ("suite", Wanted("suite", ("oval", "round-brilliant"), calibrated=True)),
    ],
)
def test_each_wanted_stone_of_the_example(name, wanted, read):
    order = read(block("[[wanted]]", f'"{name}"'))
    assert order.wanted == (wanted,)
    assert order.several == Several()


def test_the_prices_of_the_example(read):
    prices = block("[[prices]]", '"oval"') + "\n" + block("[[prices]]", '"pear"')
    assert read(f"[several]\n{prices}").prices == (
        Price(((0.5, 20.0), (1.0, 45.0), (2.5, 80.0)), design="oval"),
        Price(((0.0, 30.0),), outline="pear"),
    )


def test_the_matches_of_the_example(read, tmp_path):
    (tmp_path / "left").mkdir()
    plan_json(tmp_path / "left")
    (one,) = read(block("[[wanted]]", '"second earring"')).wanted
    assert one == Wanted(
        "second earring", ("pear",), {"crown": 35.0, "table": 0.5}, SizeDemand((5.9, 6.1))
    )
    (one,) = read(block("[[wanted]]", '"lost stone"')).wanted
    assert one.size == SizeDemand(
        (pytest.approx(6.0), pytest.approx(6.2)), (pytest.approx(8.8), pytest.approx(9.0))
    )
    assert one.zone == ZoneDemand(
        "split", "violet", None, (40.0, 50.0), (0.05, pytest.approx(0.15)), (-1, 9), (-12, -2)
    )


def test_the_demo_order_of_several():
    order = load_order(Path(__file__).parents[2] / "scans" / "order-several.toml")
    assert order.several == Several(5)
    assert order.wanted == (
        Wanted("ring stone", ("oval", "cushion"), size=SizeDemand((5.0, 14.0))),
        Wanted(
            "earrings",
            ("pear",),
            size=SizeDemand((5.0, 9.0)),
            count=(2, 2),
            pair_mm=0.1,
            zone=ZoneDemand("split", "violet", keep_clear_mm=0.0),
        ),
    )


# --- what is read --------------------------------------------------------------------------------


def test_one_stone_is_wanted_unless_several_are_asked_for(read):
    assert (read("").several, read("").wanted) == (None, ())
    assert read("[several]").several == Several(8, "carats", 0.0, "money")
    assert read('[[wanted]]\nname = "a"').several == Several()


@pytest.mark.parametrize(
    ("count", "read_as"),
    [("3", (3, 3)), ("[0, 4]", (0, 4)), (f'"{AS_MANY}"', None), ("[2, 2]", (2, 2))],
)
def test_counts(count, read_as, read):
    (wanted,) = read(f'[[wanted]]\nname = "a"\ncount = {count}').wanted
    assert wanted.count == read_as


@pytest.mark.parametrize(
    ("pair", "mm", "alike"),
    [
        ("0.25", 0.25, LookTolerance()),
        ("1", 1.0, LookTolerance()),
        ("{}", 0.1, LookTolerance()),
        ("{ offset = 0.2, mirrored = false }", 0.1, LookTolerance(offset=0.2, mirrored=False)),
    ],
)
def test_pairs(pair, mm, alike, read):
    (wanted,) = read(f'[[wanted]]\nname = "a"\npair = {pair}').wanted
    assert (wanted.pair_mm, wanted.alike, wanted.count) == (mm, alike, None)


def test_saws(read):
    order = read('[workshop]\nsaw = "wire"\ntwo_sided = true\nhold_mm = 3')
    assert order.workshop == Workshop(saw="wire", two_sided=True, hold_mm=3.0)
    with pytest.raises(InputError, match=r'"saw" must be \'blade\' or \'wire\''):
        read('[workshop]\nsaw = "laser"')


def test_a_wanted_stone_takes_from_the_order_what_it_does_not_say(read):
    order = read(
        'design = "pear"\nparameters = { length_to_width = 1.5 }\n[size]\nwidth_mm = [2, 9]\n'
        '[girdle]\nleast_mm = 0.3\n[[wanted]]\nname = "a"\n[[wanted]]\nname = "b"\n'
        'design = "oval"\nsize = { carat = 1 }\ngirdle = { least_percent = 4 }\n'
    )
    plain, own = map(order.of, order.wanted)
    whole = Order(("pear",), {"length_to_width": 1.5}, SizeDemand((2.0, 9.0)), 0.3)
    assert plain == whole
    assert own == Order(("oval",), {}, SizeDemand(carat=(1.0, 1.0)), 0.3, 4.0)


def test_a_design_of_ones_own_in_the_list_is_found_from_the_order_file(read, tmp_path):
    (wanted,) = read('[[wanted]]\nname = "a"\ndesign = "mine.toml"').wanted
    assert wanted.designs == (str((tmp_path / "mine.toml").resolve()),)


# --- stones that match ---------------------------------------------------------------------------


def test_a_match_by_plan_takes_design_angles_width_and_boundary(read, tmp_path):
    plan_json(tmp_path, **ZONE)
    like = '[wanted.like]\nplan = "plan.json"\nstone = 2\nwithin_mm = 0.05\n'
    (wanted,) = read(f'[[wanted]]\nname = "a"\n{like}').wanted
    zone = ZoneDemand(
        "split", "violet", None, (40.0, 50.0), (0.05, pytest.approx(0.15)), (-1.0, 9.0), (173, 183)
    )
    size = SizeDemand((pytest.approx(6.95), pytest.approx(7.05)))
    assert wanted == Wanted("a", ("oval",), {"crown": 35.0, "table": 0.5}, size, zone=zone)
    (other,) = read(f'[[wanted]]\nname = "a"\n{like}zone = "rim"\ncolour = "red"').wanted
    assert (other.zone.name, other.zone.colour) == ("rim", "red")
    assert other.zone.tilt_deg == (-1.0, 9.0)


@pytest.mark.parametrize(("offset", "share"), [(1.2, 0.0), (-1.0, 100.0)])
def test_a_stone_that_the_boundary_does_not_cross_is_matched_in_its_colour(
    offset, share, read, tmp_path
):
    plan_json(tmp_path, **{**ZONE, "offset": offset, "share_percent": share})
    (wanted,) = read('[[wanted]]\nname = "a"\nlike = { plan = "plan.json", stone = 2 }').wanted
    assert wanted.zone == ZoneDemand("split", "violet", share_percent=(share, share))


def test_tolerances_end_where_the_scales_do(read):
    (wanted,) = read(
        '[[wanted]]\nname = "a"\ndesign = "oval"\n[wanted.like]\nwidth_mm = 0.5\nwithin_mm = 1\n'
        'zone = "s"\ncolour = "v"\ntilt_deg = 88\noffset = -0.99\nshare_percent = 98\n'
    ).wanted
    assert wanted.size.width_mm == (0.0, 1.5)
    assert wanted.zone.tilt_deg == (83.0, 90.0)
    assert wanted.zone.offset == (-1.0, pytest.approx(-0.94))
    assert wanted.zone.share_percent == (93.0, 100.0)
    assert wanted.zone.azimuth_deg is None


# --- what is refused -----------------------------------------------------------------------------

A = '[[wanted]]\nname = "a"\n'
LOOK = "[look]\nzone='s'\ncolour='v'\nface_percent=[45, 55]\n"
BY_HAND = f"{A}design='oval'\n[wanted.like]\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[several]\nmost = 0", '"several.most" must be at least 1'),
        ("[several]\naim = 'gold'", "must be 'carats' or 'money'"),
        ("[several]\ncut_cost = -1", "at least 0"),
        ("[several]\ncurrency = ''", "one line of printable text"),
        ("[wanted]\nname = 'a'", '"wanted" is a list of tables: write the head of each in two'),
        ("[prices]\nper_carat = [[0, 1]]", '"prices" is a list of tables'),
        (
            "[[wanted]]",
            'in the first [[wanted]], key "name" is missing; add it, for one: name = "ring stone"',
        ),
        (f"{A}{A}", 'has 2 [[wanted]] named "a": give each its own name'),
        (f"{A}shape = 'oval'", 'in the first [[wanted]], key "shape" is not known'),
        (f"{A}count = [3, 1]", 'in the first [[wanted]], key "count" runs backwards: 3 to 1'),
        (f"{A}count = 0", "must ask for 1 to 100 stones, got 0"),
        (f"{A}count = 101", "must ask for 1 to 100 stones, got 101"),
        (f"{A}count = 2.0", f'must be a whole number, [least, most] or "{AS_MANY}", got 2.0'),
        (f"{A}count = 'many'", f'[least, most] or "{AS_MANY}", got "many"'),
        (f"{A}count = true", "got true"),
        (f"{A}count = 9", "at least 9 stones in its [[wanted]] and for at most 8 in all: raise"),
        (f"[several]\nmost = 2\n{A}count = 2\n[[wanted]]\nname='b'\nfirst=true", "at least 3"),
        (
            f"{A}pair = 0.1\ncount = 3",
            "the first [[wanted]] comes in pairs, so its count must be even",
        ),
        (f"{A}pair = 0.1\ncount = [2, 5]", "must be even, got [2, 5]"),
        (f"{A}pair = true", "how far the widths may differ in mm, or a table of tolerances"),
        (
            f"{A}pair = -1",
            'in the first [[wanted]], key "pair.width_mm" must be at least 0, got -1',
        ),
        (f"{A}pair = {{ depth = 1 }}", 'in the first [[wanted]], key "pair.depth" is not known'),
        (f"{A}first = true\ncount = 2", "is placed first, so its count must be 1"),
        (f"{A}first = true\ncount = [0, 1]", "is placed first, so its count must be 1"),
        (f"{A}first = true", 'the wanted "a" is placed first, so it needs a fixed size; give one'),
        (f"{A}first = true\nsize = {{ carat = [1, 2] }}", "so it needs a fixed size"),
        (f"{A}first = true\npair = 0.1", "is placed first and comes as a pair"),
        (
            f"{A}first = true\n[[wanted]]\nname='b'\nfirst = true",
            'places "a" and "b" first: only',
        ),
        (f"{A}zone = {{ name = 'x', colour = 'y' }}", "asks nothing about the boundary"),
        (
            f"{A}size = {{ carat = [2, 1] }}",
            'in the first [[wanted]], key "size.carat" runs backwards',
        ),
        (
            f"{A}zone = {{ name = 's', colour = 'w', offset = 0 }}\n{LOOK}",
            'the wanted "a": [look] asks about the v of "s" and [zone] about the w of "s"',
        ),
        (
            f"{A}like = {{}}",
            'key "like" needs plan, the path of a plan.json, or width',
        ),
        (
            f"{A}like = {{ width_mm = 3 }}",
            "like a stone measured by hand: name its one design",
        ),
        (f"{A}like = {{ plan = 'p.json', width_mm = 3 }}", "names a plan and gives width_mm by"),
        (f"{BY_HAND}stone = 2\nwidth_mm = 3", "gives the number of a stone but no plan"),
        (f"{BY_HAND}width_mm = 3\nzone = 's'", "names only one of zone and colour"),
        (
            f"{BY_HAND}width_mm = 3\noffset = 0",
            "gives offset without a boundary; add zone and colour",
        ),
        (f"{BY_HAND}width_mm = 3\nzone = 's'\ncolour = 'v'", "asks nothing about the boundary"),
        (f"{BY_HAND}width_mm = 0", "above 0"),
        (
            f"{A}size={{carat=1}}\nlike={{plan='p'}}",
            "like a finished stone, which already sets size:",
        ),
        (
            f"{A}calibrated=true\nlike={{plan='p'}}",
            "which already sets calibrated: drop one of them",
        ),
        (
            f"{A}parameters={{crown=35}}\nlike={{plan='p'}}",
            "which already sets parameters: drop one of them",
        ),
        (f"{A}like = {{ plan = 'none.json' }}", "none.json: there is no such file"),
        (f"{A}like = {{ plan = 'order.toml' }}", "order.toml: is not valid JSON"),
        (f"{A}like = {{ plan = '.' }}", "is a folder; name a file in it"),
        (
            f"{A}like = {{ plan = 'plan.json', stone = 3 }}",
            "has 2 stones, so there is no stone = 3",
        ),
        (
            f"{A}design = 'oval'\nlike = {{ plan = 'plan.json' }}",
            'the wanted "a": is like a stone of the design pear but names another',
        ),
        ("[[prices]]\nper_carat = [[0, 1]]", "has [[prices]] but asks for one stone"),
        (
            "[several]\n[[prices]]",
            'per_carat" is missing; add it, for one: per_carat = [[',
        ),
        ("[several]\n[[prices]]\nper_carat = []", "must hold at least 1"),
        (
            "[several]\n[[prices]]\nper_carat = [[0, -5]]",
            'the second of the first of "per_carat" must be at least 0, got -5',
        ),
        (
            "[several]\n[[prices]]\nper_carat = [[0, 1e308]]",
            'the second of the first of "per_carat" must be at most 1,000,000,000, got 1e+308',
        ),
        (
            "[several]\n[[prices]]\nper_carat = [[0]]",
            "list of [from carats, price per carat], got",
        ),
        ("[several]\n[[prices]]\nper_carat = [[0, -1]]", "must be at least 0, got -1"),
        ("[several]\n[[prices]]\nper_carat = [[0, nan]]", "must be a finite number, got nan"),
        (
            "[several]\n[[prices]]\nper_carat = [[1, 2], [1, 3]]",
            "must rise in weight, got 1 after",
        ),
        (
            "[several]\n[[prices]]\ndesign='oval'\noutline='oval'\nper_carat=[[0, 1]]",
            "names a design and an outline: keep one",
        ),
        ("[several]\n[[prices]]\noutline='ovl'\nper_carat=[[0, 1]]", 'did you mean "oval"?'),
        (
            "[several]\n[[prices]]\ndesign='ovl'\nper_carat=[[0, 1]]",
            'names the unknown design "ovl"',
        ),
        (
            "[several]\n" + 2 * "[[prices]]\ndesign='oval'\nper_carat=[[0, 1]]\n",
            'has 2 [[prices]] for "oval": keep one',
        ),
        ("[several]\n" + 2 * "[[prices]]\nper_carat=[[0, 1]]\n", "[[prices]] for any stone"),
    ],
)
def test_faults_name_file_and_key(text, said, read, tmp_path):
    plan_json(tmp_path)
    with pytest.raises(InputError) as caught:
        read(text)
    assert str(caught.value).startswith(str(tmp_path / "order.toml"))
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "content", [b"", b"[]", b'{"format": "other", "stones": []}', b"\xff", b"[" * 100_000, b"{}"]
)
def test_a_match_to_what_is_no_plan_is_refused(content, read, tmp_path):
    (tmp_path / "p.json").write_bytes(content)
    with pytest.raises(InputError, match=r'the wanted "a": .*p\.json: .*; name the plan\.json'):
        read(f"{A}like = {{ plan = 'p.json' }}")


# --- there and back ------------------------------------------------------------------------------

NAMES = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), min_size=1, max_size=8)
DESIGNS = st.lists(st.sampled_from(["oval", "pear", "mine"]), unique=True).map(tuple)


def ranges(low: float, high: float) -> st.SearchStrategy:
    pairs = st.tuples(st.floats(low, high), st.floats(low, high))
    return pairs.map(lambda ends: tuple(sorted(ends)))


ZONES = st.builds(
    ZoneDemand,
    st.just("split"),
    st.just("violet"),
    keep_clear_mm=st.none(),
    share_percent=st.none() | ranges(0, 100),
    offset=st.none() | ranges(-1, 1),
    tilt_deg=ranges(-90, 90),
    azimuth_deg=st.none() | ranges(-180, 180),
)
FACES = ranges(0, 100).filter(lambda ends: ends[1] - ends[0] >= LEAST_PLAY_PERCENT)
LOOKS = st.builds(LookDemand, st.just("split"), st.just("violet"), FACES)
DEMANDS = {
    "designs": DESIGNS,
    "parameters": st.dictionaries(NAMES, st.floats(-1e3, 1e3), max_size=2),
    "zone": st.none() | ZONES,
    "direction": st.none() | st.builds(DirectionDemand, cleavage_clear_deg=st.floats(0.1, 45)),
    "look": st.none() | LOOKS,
}
SIZES = st.builds(SizeDemand, *[st.none() | ranges(1e-3, 1e4)] * 3)
FIXED = SizeDemand(carat=(1.5, 1.5))
ALIKE = st.builds(
    LookTolerance, st.floats(0, 180), st.floats(0, 180), st.floats(0, 2), mirrored=st.booleans()
)
TWOS = st.tuples(st.integers(0, 1), st.integers(1, 5)).map(lambda n: (2 * n[0], 2 * n[1]))
KINDS = st.one_of(
    st.fixed_dictionaries({"count": st.none() | st.tuples(st.integers(0, 2), st.integers(2, 100))}),
    st.just({"count": (1, 1), "first": True}),
    st.fixed_dictionaries({"count": st.none() | TWOS, "pair_mm": st.floats(0, 10), "alike": ALIKE}),
)


@st.composite
def wanted_lists(draw: st.DrawFn) -> tuple[Wanted, ...]:
    found: list[Wanted] = []
    for name in draw(st.lists(NAMES, max_size=3, unique=True)):
        kind = draw(KINDS)
        if kind.get("first") and any(one.first for one in found):
            continue
        given = draw(st.fixed_dictionaries(DEMANDS))
        girdle = draw(st.tuples(st.none() | st.floats(0, 1e4), st.none() | st.floats(0, 30)))
        calibrated = draw(st.booleans())
        size = FIXED if kind.get("first") else draw(st.none() | SIZES)
        found.append(
            Wanted(
                name, size=size, least_girdle_mm=girdle[0], least_girdle_percent=girdle[1],
                calibrated=calibrated, **given, **kind,
            )
        )  # fmt: skip
    return tuple(found)


STEPS = st.lists(
    st.tuples(st.floats(0, 1e9), st.floats(0, 1e9)), min_size=1, max_size=3,
    unique_by=lambda step: step[0],
).map(lambda steps: tuple(sorted(steps)))  # fmt: skip
PRICES = st.lists(
    st.one_of(
        st.builds(Price, STEPS),
        st.builds(Price, STEPS, design=st.sampled_from(["oval", "pear"])),
        st.builds(Price, STEPS, outline=st.sampled_from(["oval", "round"])),
    ),
    max_size=3,
    unique_by=lambda price: (price.design, price.outline),
).map(tuple)
SEVERAL = st.builds(
    Several, st.integers(6, 100), st.sampled_from(["carats", "money"]), st.floats(0, 1e6), NAMES
)


@given(
    order=st.builds(
        Order,
        **DEMANDS,
        size=SIZES,
        workshop=st.builds(
            Workshop, saw=st.sampled_from(["blade", "wire"]), two_sided=st.booleans(),
            hold_mm=st.floats(0, 1e4),
        ),
        several=SEVERAL,
        wanted=wanted_lists(),
        prices=PRICES,
    )
)  # fmt: skip
def test_an_order_written_is_the_order_read(order, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "several.toml"
    path.write_text(order_toml(order), encoding="utf-8")
    assert load_order(path) == order


@pytest.mark.parametrize("key", ["wanted", "prices"])
def test_an_empty_list_asks_for_nothing_and_is_refused(read, key):
    with pytest.raises(InputError, match=f'key "{key}" is an empty list: write a table for each'):
        read(f"{key} = []")
