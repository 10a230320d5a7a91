"""plan.json read again: as it was written, by older versions too, or refused in one line."""

import copy
import json
import math
import random
from pathlib import Path
from typing import Any

import pytest

from optimizer.documents.plan import PlanFile
from optimizer.documents.read import read_plan
from optimizer.errors import InputError
from optimizer.files.border import checked_json

WRITTEN = Path(__file__).with_name("demo-plan.json")  # before there were models of it
LATER = {  # keys that plans of this format had not from the beginning
    (): ("notes",),
    ("rough",): ("name",),
    ("stones", 0): ("boundary_look", "wanted", "money"),
    ("cuts", 0): ("sides", "fence", "last_face", "angle_to_last_deg", "distances"),
}


@pytest.fixture(scope="module")
def good() -> dict[str, Any]:
    return json.loads(WRITTEN.read_text(encoding="utf-8"))


def changed(good: dict[str, Any], path: tuple[str | int, ...], value: object) -> dict[str, Any]:
    """The document with another value at a path."""
    document = table = copy.copy(good)
    for step in path[:-1]:  # copies of what leads there: the rest is only read
        table[step] = copy.copy(table[step])
        table = table[step]
    table[path[-1]] = value
    return document


def refusal(document: object, folder: Path) -> str:
    """The one line that says why a document is refused, less the file's name and the mend."""
    path = folder / "plan.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_plan(path)
    said = str(caught.value)
    assert "\n" not in said
    assert said.startswith(f"{path}: ")
    assert said.endswith("; a plan's files must stay as kerfwise plan wrote them")
    return said.removeprefix(f"{path}: ")


def test_a_plan_written_before_reads_and_writes_to_the_last_letter(good):
    plan = read_plan(WRITTEN)
    assert plan.text() == WRITTEN.read_text(encoding="utf-8")
    assert plan.stones[0].guidance.zone.zone == "split"
    assert plan.cuts[0].point_mm == tuple(good["cuts"][0]["point_mm"])


def test_a_sealed_plan_reads_and_writes_to_the_last_letter(tmp_path):
    sealed = read_plan(WRITTEN).sealed()
    path = tmp_path / "plan.json"
    path.write_text(sealed.text(), encoding="utf-8")
    assert read_plan(path).text() == sealed.text()
    assert sealed.sealed().checksum == sealed.checksum


def test_keys_that_older_plans_lack_have_defaults(good, tmp_path):
    older = copy.deepcopy(good)
    for path, keys in LATER.items():
        table: Any = older
        for step in path:
            table = table[step]
        for key in keys:
            del table[key]
    (tmp_path / "plan.json").write_text(json.dumps(older))
    plan = read_plan(tmp_path / "plan.json")
    assert (plan.notes, plan.stones[0].wanted, plan.stones[0].money) == ((), "", None)
    assert (plan.cuts[0].sides, plan.cuts[0].fence, plan.cuts[0].distances) == (1, None, ())


MIRRORED = [[1, 0, 0], [0, 1, 0], [0, 0, -1]]
LEANING = [[1, 0, 0], [0.6, 0.8, 0], [0, 0, 1]]
STONE, CUT = ("stones", 0), ("cuts", 0)


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("rough", "sg"), 3.9, '"rough" says 60.6684 carat; its volume and specific gravity give'),
        (("checksum",), "0" * 64, "was changed since it was written"),
        (("checksum",), "0", 'checksum" must match '),
        ((*CUT, "normal"), [0, 0, 0], "must be a direction of length 1, got one of length 0"),
        ((*CUT, "normal"), [0, 0, 1e300], 'normal[2]" must be at most 1,000,000,000,000'),
        ((*CUT, "normal"), [0, 0, 2], "must be a direction of length 1, got one of length 2"),
        ((*CUT, "normal"), [1, 0], "must hold at least 3, got [1, 0]"),
        ((*CUT, "point_mm"), [0, -1e300, 0], 'point_mm[1]" must be at least -1,000,000'),
        ((*CUT, "point_mm"), [0, 0, math.nan], 'point_mm[2]" must be a finite number'),
        ((*CUT, "kerf_mm"), math.inf, 'kerf_mm" must be a finite number, got Infinity'),
        ((*CUT, "kerf_mm"), 1e5, 'kerf_mm" must be at most 10,000, got 100000.0'),
        ((*CUT, "kerf_mm"), -0.4, 'kerf_mm" must be at least 0, got -0.4'),
        ((*CUT, "sides"), 3, 'sides" must be at most 2, got 3'),
        ((*CUT, "distances", 0, "mm"), 1e300, 'distances[0].mm" must be at most 1,000,000'),
        ((*CUT, "distances", 0, "mm"), 1.0, 'distances[0]" says 1 mm, and its points lie 22.9071'),
        ((*STONE, "rotation"), MIRRORED, "must be a proper rotation"),
        ((*STONE, "rotation"), LEANING, "must be a proper rotation"),
        ((*STONE, "rotation", 0), [2, 0, 0], "must be a direction of length 1"),
        ((*STONE, "width_mm"), 0, 'width_mm" must be above 0, got 0'),
        ((*STONE, "mesh"), "../stone.ply", 'mesh" must match '),
        ((*STONE, "mesh"), "/dev/zero", 'mesh" must match '),
        ((*STONE, "mesh"), "stones/01.ply\n", 'mesh" must match '),
        (("pieces", 1, "mesh"), "pieces/../../01.ply", 'mesh" must match '),
        (("made_by", "seed"), -1, 'made_by.seed" must be at least 0, got -1'),
        (("made_by", "effort"), "glance", "'quick', 'normal' or 'thorough', got \"glance\""),
        (("total_carat",), "1", 'total_carat" must be a number, got "1"'),
        (("surprise",), 1, 'key "surprise" is not known'),
        (("stones",), [], 'says "found" with 0 in its'),
        (("status",), "impossible", 'says "impossible" with 1 in its'),
        (("ruled_out_by",), [], "must have ruled_out_by where no stone was found, and only there"),
        (("pieces", 1, "id"), 7, "must number its pieces from 0, in order"),
        (("pieces", 1, "from_cut"), 1, "has pieces other than those that its cuts leave"),
        (("pieces", 1, "side"), None, "has pieces other than those that its cuts leave"),
        (("pieces", 0, "from_cut"), 0, "has pieces other than those that its cuts leave"),
        ((*CUT, "piece"), 1, "saws piece 1 in cut 1, but no earlier cut leaves it whole"),
        (("cuts", 1, "piece"), 0, "saws piece 0 in cut 2, but no earlier cut leaves it whole"),
        ((*CUT, "below"), [0], "has piece 0 come from two places"),
        ((*CUT, "below"), [], 'below" must hold at least 1'),
        ((*STONE, "piece"), 99, "has a stone or offcut in piece 99, which no cut leaves"),
        (("offcuts", 0, "piece"), 99, "has a stone or offcut in piece 99, which no cut leaves"),
        (
            (*STONE, "guidance", "dopping_flat", "sawn_by"), 6,
            "has a dopping flat that no cut leaves",
        ),
    ],
)  # fmt: skip
def test_a_changed_value_is_refused_by_name(path, value, said, good, tmp_path):
    assert said in refusal(changed(good, path, value), tmp_path)


def leaves(value: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The path of each number, word and truth value inside."""
    inner = value.items() if isinstance(value, dict) else enumerate(value)  # type: ignore[arg-type]
    return [
        leaf
        for key, one in inner
        for leaf in (leaves(one, (*path, key)) if isinstance(one, dict | list) else [(*path, key)])
    ]


HOSTILE = (1e300, -1e300, math.nan, math.inf, -1, {}, [[]], "../" * 9, 10**30)


def test_no_hostile_value_anywhere_is_more_than_an_input_error(good):
    """Some pairs of a leaf and a hostile value, the same in each run."""
    pairs = [(leaf, value) for leaf in leaves(good) for value in HOSTILE]
    refused = 0
    for leaf, value in random.Random(0).sample(pairs, 150):
        text = json.dumps(changed(good, leaf, value)).encode()
        try:
            checked_json(PlanFile, text, "plan.json")
        except InputError:
            refused += 1
    assert refused > 100


def test_what_is_no_plan_is_told_from_a_changed_one(tmp_path):
    path = tmp_path / "plan.json"
    for content, said in (
        (b"", "is not valid JSON: EOF"),
        (b"\xff", "is not valid JSON"),
        (b"[" * 100_000, "is not valid JSON: recursion limit"),
        (b'{"format": ' + b"9" * 5000 + b"}", "is not valid JSON: number out of range"),
        (b"[]", "must be a table of keys, got []"),
        (b"{}", 'is no plan of the format "kerfwise-plan/1"'),
        (b'{"format": "kerfwise-plan/2"}', 'is no plan of the format "kerfwise-plan/1"'),
        (b'{"format": 1}', 'key "format" must be text, got 1'),
    ):
        path.write_bytes(content)
        with pytest.raises(InputError) as caught:
            read_plan(path)
        assert str(caught.value).startswith(f"{path}: {said}")
        assert str(caught.value).endswith("; name the plan.json that kerfwise plan wrote")
