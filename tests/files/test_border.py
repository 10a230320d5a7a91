"""The border: what a TOML file may hold, and how a fault is said."""

import re
from pathlib import Path
from typing import Annotated, Any, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field

from optimizer.errors import InputError, nearest
from optimizer.files.border import OneLine, Table, checked, checked_json, shown
from optimizer.files.toml_file import read_toml


class Inner(Table):
    """A table inside another."""

    depth: Annotated[float, Field(gt=0.0, le=9.0, allow_inf_nan=False)] = 1.0
    label: OneLine | None = None


class Outer(Table):
    """A table with one of everything."""

    name: Annotated[str, Field(examples=["quartz"])]
    count: Annotated[int, Field(ge=0, lt=5)] = 0
    flag: bool = False
    kind: Literal["box", "ball"] = "box"
    point: Annotated[list[float], Field(min_length=3, max_length=3)] | None = None
    inner: Inner = Inner()
    many: list[Inner] = Field(default_factory=list)


GOOD: dict[str, Any] = {"name": "a"}


def fault(**keys: object) -> str:
    with pytest.raises(InputError) as caught:
        checked(Outer, {**GOOD, **keys}, "piece.toml")
    said = str(caught.value)
    assert said.startswith("piece.toml: ")
    assert "\n" not in said
    return said.removeprefix("piece.toml: ")


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"name": 3}, 'key "name" must be text, got 3'),
        ({"count": 1.5}, 'key "count" must be a whole number, got 1.5'),
        ({"count": "1"}, 'key "count" must be a whole number, got "1"'),
        ({"count": True}, 'key "count" must be a whole number, got true'),
        ({"count": -1}, 'key "count" must be at least 0, got -1'),
        ({"count": 5}, 'key "count" must be below 5, got 5'),
        ({"flag": 1}, 'key "flag" must be true or false, got 1'),
        ({"kind": "bal"}, "key \"kind\" must be 'box' or 'ball', got \"bal\""),
        ({"point": [1, 2]}, 'key "point" must hold at least 3, got [1, 2]'),
        ({"point": [1, 2, 3, 4]}, 'key "point" must hold at most 3, got [1, 2, 3, 4]'),
        ({"point": [1, 2, "x"]}, 'the third of "point" must be a number, got "x"'),
        ({"point": [1, {}, 3]}, 'the second of "point" must be a number, got {}'),
        ({"point": 4}, 'key "point" must be a list, got 4'),
        ({"inner": 3}, 'key "inner" must be a table of keys, got 3'),
        ({"inner": {"depth": 0}}, 'key "inner.depth" must be above 0, got 0'),
        ({"inner": {"depth": 10}}, 'key "inner.depth" must be at most 9, got 10'),
        ({"inner": {"depth": float("nan")}}, 'key "inner.depth" must be a finite number, got nan'),
        ({"inner": {"label": "a\nb"}}, 'key "inner.label" must be one line of printable text'),
        ({"inner": {"label": ""}}, 'key "inner.label" must be one line of printable text, got ""'),
        ({"inner": {"label": "a\u2028b"}}, 'key "inner.label" must be one line of printable text'),
        ({"inner": {"dept": 1}}, 'key "inner.dept" is not known; did you mean "depth"?'),
        (
            {"many": [{}, {"dept": 1}]},
            'in the second [[many]], key "dept" is not known; did you mean "depth"?',
        ),
        ({"count": 10**400}, 'key "count" is too large a number, of some 400 digits'),
        ({"count": -(2**70)}, 'key "count" is too large a number, of some 21 digits'),
        ({"point": [1, 2, 16**5000]}, 'the third of "point" is too large a number, of some 6,021'),
        ({"inner": {"label": "a\x1b[2J"}}, 'key "inner.label" must be one line of printable text'),
        ({"inner": {"label": "a\u202eb"}}, 'key "inner.label" must be one line of printable text'),
        (
            {"inner": {"label": "a" * 201}},
            'key "inner.label" has 201 letters; a name has at most 200',
        ),
        ({"many": [{}, {"label": ""}]}, 'in the second [[many]], key "label" must be one line'),
        ({"many": [{}, 5]}, 'the second of "many" must be a table of keys, got 5'),
        ({"nmae": "b"}, 'key "nmae" is not known; did you mean "name"?'),
        ({"zzzzz": 1}, 'key "zzzzz" is not known; known: count, flag, inner, kind'),
    ],
)
def test_each_fault_names_the_key_what_it_must_be_and_what_it_is(keys, said):
    assert said in fault(**keys)


def test_a_fault_in_json_is_placed_by_jsons_own_words():
    """After ECMA-404 and the usual notation of a value's path: members by points, from 0."""
    with pytest.raises(InputError) as caught:
        checked_json(Outer, b'{"name": "a", "many": [{}, {"depth": 0}]}', "piece.json")
    assert str(caught.value) == 'piece.json: key "many[1].depth" must be above 0, got 0'
    with pytest.raises(InputError, match=r'"point\[2\]" must be a number, got "x"'):
        checked_json(Outer, b'{"name": "a", "point": [1, 2, "x"]}', "piece.json")


def test_what_is_missing_comes_with_an_example():
    with pytest.raises(
        InputError, match=r'key "name" is missing; add it, for one: name = "quartz"'
    ):
        checked(Outer, {}, "piece.toml")


def test_a_misspelt_key_is_named_rather_than_the_one_it_leaves_missing():
    with pytest.raises(InputError, match='key "nam" is not known'):
        checked(Outer, {"nam": "a"}, "piece.toml")


def test_what_is_right_comes_through_unchanged():
    table = checked(Outer, {"name": "石", "inner": {"depth": 2, "label": "Größe"}}, "x")
    assert (table.name, table.inner.depth, table.inner.label) == ("石", 2.0, "Größe")


def test_long_values_are_cut_short():
    assert shown("x" * 200) == '"' + "x" * 56 + "..."
    assert shown("石") == '"石"'


def test_files_that_are_no_toml(tmp_path: Path):
    with pytest.raises(InputError, match=r"gone\.toml: there is no such file"):
        read_toml(tmp_path / "gone.toml")
    with pytest.raises(InputError, match="is a folder"):
        read_toml(tmp_path)
    (tmp_path / "a.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="is not text in UTF-8"):
        read_toml(tmp_path / "a.toml")
    (tmp_path / "a.toml").write_text("a = 1\na = 2\n")
    with pytest.raises(InputError, match=r"not a valid TOML file.*line 2"):
        read_toml(tmp_path / "a.toml")
    (tmp_path / "a.toml").write_text("a = " + "[" * 100_000)
    with pytest.raises(InputError, match="not a valid TOML file"):
        read_toml(tmp_path / "a.toml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[size]\n[size]\n", "line 2: the table [size] is given twice: join the two"),
        ("[a.b]\n[a.b]\n", "line 2: the table [a.b] is given twice: join the two"),
        ("a = 1\na = 2\n", "line 2: a name is given twice: keep one"),
        ("a = { b = 1, b = 2 }", "line 1: a name is given twice: keep one"),
        ("a = { b = 1 }\na.c = 2", "at the end: a table is continued that is complete"),
        ("[[a]]\n[a]\nb = 1", "line 2: the table [a] is given twice"),
        ("width_mm\n", 'line 1: a key needs "=" and a value'),
        ("a = 1 b = 2", "line 1: more follows the value"),
        ("= 3", "line 1: a line begins with a key"),
        ("[size\nb = 1", "line 1: the head of a table lacks its closing bracket"),
        ("a = [1, 2", "at the end: a list lacks its closing bracket"),
        ("a = [1 2]", "line 1: a list lacks its closing bracket"),
        ("a = { b = 1", "at the end: a table in braces lacks its closing brace }"),
        ('a = "oval\nb = 1', "line 1: a text lacks its closing quotation mark"),
        ("a = 'oval", "at the end: a text lacks its closing quotation mark"),
        ("a = 'x\x01'", "line 1: a character that no text may hold"),
        ('a = "C:\\scans"', "line 1: a backslash stands in a text"),
        ("a = 1999-02-30", "line 1: a date or time that does not exist"),
        ("a = oval", "line 1: a value is missing or can't be read"),
        ("a = ", "at the end: a value is missing"),
        ("!!", "line 1: a line begins with a key"),
    ],
)
def test_faults_of_the_text_are_told_in_our_words_with_the_line(
    tmp_path: Path, text: str, said: str
) -> None:
    (tmp_path / "a.toml").write_text(text)
    with pytest.raises(InputError) as caught:
        read_toml(tmp_path / "a.toml")
    reason = str(caught.value).partition("is not a valid TOML file: ")[2]
    assert reason.startswith(said)
    assert not re.search(r"Cannot|Expected|Invalid|namespace|column|\(at", reason)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a = " + "[" * 5000, "it is nested too deep"),
        ("a = " + "{ a = " * 5000, "it is nested too deep"),
        ("a = 1" + 5000 * "0", "a number has thousands of digits"),
        ("a." * 400_000 + "b = 1", "a key has over 50 parts"),  # minutes in the parser
        ('"x" . ' * 51 + "b = 1", "a key has over 50 parts"),
    ],
)
def test_what_would_break_or_hold_the_parser(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "a.toml").write_text(text)
    with pytest.raises(InputError, match=f"is not a valid TOML file: {said}"):
        read_toml(tmp_path / "a.toml")


def test_many_words_and_points_are_no_long_key(tmp_path: Path) -> None:
    text = "a = [" + "1.5, " * 99 + "]\nb = 'e.g. " + "one. two. " * 20 + "'\n"
    (tmp_path / "a.toml").write_text(text)
    assert len(read_toml(tmp_path / "a.toml")["a"]) == 99


def test_a_byte_order_mark_is_no_fault(tmp_path: Path):
    (tmp_path / "a.toml").write_bytes(b"\xef\xbb\xbfa = 1\r\n")
    assert read_toml(tmp_path / "a.toml") == {"a": 1}


PLAIN = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5))
ANY = st.recursive(
    PLAIN,
    lambda v: st.lists(v, max_size=3) | st.dictionaries(st.text(max_size=5), v, max_size=3),
    max_leaves=6,
)


@given(st.dictionaries(st.sampled_from([*Outer.model_fields, "x"]), ANY, max_size=5))
def test_whatever_comes_is_taken_or_refused_in_one_line(content):
    try:
        checked(Outer, content, "piece.toml")
    except InputError as error:
        assert str(error).startswith("piece.toml: ")  # noqa: PT017


def test_the_nearest_word_or_all_of_them():
    assert nearest("ovel", ["pear", "oval"]) == 'did you mean "oval"?'
    assert nearest("xyz", ["pear", "oval"]) == "known: oval, pear"
    assert nearest("xyz", []) == "none is defined"
