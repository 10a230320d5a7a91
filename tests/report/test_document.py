"""plan.json: its published shape, and what its numbers promise."""

import copy
import json
import math
from dataclasses import replace
from importlib.resources import files

import jsonschema
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.documents.plan import ObjectiveRecord
from optimizer.errors import AuditError
from optimizer.offers.bound import Bound
from optimizer.order import SizeDemand
from optimizer.plan_model import Plan
from optimizer.report.document import plan_file
from optimizer.report.document.numbers import rounded_down
from optimizer.report.document.plan import objective
from optimizer.report.figures import gap_percent


@pytest.fixture(scope="module")
def schema() -> jsonschema.Draft202012Validator:
    text = files("optimizer.documents").joinpath("plan.schema.json").read_text(encoding="utf-8")
    published = json.loads(text)
    jsonschema.Draft202012Validator.check_schema(published)
    return jsonschema.Draft202012Validator(published)


def as_read(plan: Plan) -> dict:
    return json.loads(json.dumps(plan_file(plan).values(), allow_nan=False))


def test_every_status_has_the_published_shape(schema, plan, plan_without_stone):
    proved = replace(plan_without_stone, status="impossible", ruled_out_by=())
    for each in (plan, replace(plan, interrupted=True), plan_without_stone, proved):
        schema.validate(as_read(each))


def test_the_crystal_s_directions_are_told(plan):
    told = as_read(plan)["stones"][0]["guidance"]["direction"]
    facet = {"cleavage_deg": 7.3, "cleavage_facet": "table"}
    assert told == {"axes_to_table_deg": {"optic axis": 0.0}, **facet}


def tables(value, path=()):
    """Every JSON object inside ``value`` with its path."""
    if isinstance(value, dict):
        yield path
        for key, inner in value.items():
            yield from tables(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from tables(inner, (*path, index))


OPEN = {"parameters", "covers", "timing_s"}  # tables whose keys are names


def test_the_schema_refuses_an_unknown_key_in_every_table(schema, plan):
    document = as_read(plan)
    strict = [path for path in tables(document) if not OPEN & set(path)]
    assert len(strict) > 15
    for path in strict:
        changed = copy.deepcopy(document)
        table = changed
        for step in path:
            table = table[step]
        table["surprise"] = 1
        assert not schema.is_valid(changed), path


def test_the_schema_refuses_each_missing_key(schema, plan):
    document = as_read(plan)
    for key in document:
        assert not schema.is_valid({k: v for k, v in document.items() if k != key}), key


def test_reasons_stand_only_where_no_stone_was_found(schema, plan, plan_without_stone):
    found, missing = as_read(plan), as_read(plan_without_stone)
    assert "ruled_out_by" not in found
    assert missing["ruled_out_by"][0]["stone"]["carat"] == plan.stones[0].carat
    assert not schema.is_valid(found | {"ruled_out_by": []})
    assert "nearest_orders" not in found
    (near,) = missing["nearest_orders"]
    assert near["changes"] == [
        {
            "wanted": "", "table": "size", "key": "width_mm", "ordered": [30.0, 30.0],
            "works": [12.5, 12.5],
        }
    ]  # fmt: skip
    assert near["stones"][0]["carat"] == plan.stones[0].carat
    assert not schema.is_valid(found | {"nearest_orders": []})
    assert not schema.is_valid(missing | {"stones": found["stones"]})


def test_numbers_keep_every_digit(plan):
    stone = as_read(plan)["stones"][0]
    pose = plan.stones[0].placement.pose
    assert np.array_equal(stone["rotation"], pose.rotation)
    assert np.array_equal(stone["translation_mm"], pose.translation)
    assert stone["volume_mm3"] == plan.stones[0].volume_mm3


def test_the_pose_lays_the_body_where_the_mesh_is(plan):
    """x_scan = translation + rotation·x_stone, spelled out from the file's own numbers."""
    stone = as_read(plan)["stones"][0]
    corners = plan.stones[0].placement.body.vertices_at(stone["width_mm"])
    laid = [
        [
            stone["translation_mm"][i] + sum(stone["rotation"][i][k] * x[k] for k in range(3))
            for i in range(3)
        ]
        for x in corners
    ]
    assert np.allclose(laid, plan.stones[0].placement.mesh().vertices, atol=1e-12)


def test_weights_and_yield_are_those_of_the_volumes(plan):
    document = as_read(plan)
    rough, stone = document["rough"], document["stones"][0]
    assert rough["carat"] == pytest.approx(rough["volume_mm3"] * rough["sg"] / 200.0, rel=1e-15)
    assert stone["carat"] == pytest.approx(stone["volume_mm3"] * rough["sg"] / 200.0, rel=1e-15)
    assert document["total_carat"] == stone["carat"]
    assert document["yield_percent"] == pytest.approx(100 * stone["carat"] / rough["carat"])
    assert document["bound"]["gap_percent"] == pytest.approx(25.0)


@given(st.floats(0.0, 1e4))
def test_a_clearance_is_never_promised_too_large(clearance):
    written = rounded_down(clearance)
    assert clearance - 1.0001e-4 < written <= clearance + 1e-8


def test_a_clearance_at_its_demand_reads_as_the_demand():
    """The last bits of rounding must not make 0.22 look like a broken promise."""
    assert rounded_down(0.21999999999999997) == 0.22
    assert rounded_down(0.2199) == 0.2199


def test_clearance_is_rounded_down_in_the_file(plan):
    assert plan.stones[0].placement.clearance_mm == 1.4567891
    assert as_read(plan)["stones"][0]["clearance_mm"] == 1.4567


def test_a_number_that_is_none_is_refused_not_written(plan):
    broken = replace(plan, timing_s={"total": math.nan})
    with pytest.raises(AuditError, match=r'"timing_s.total" must be a finite number, got NaN'):
        plan_file(broken)


def test_without_a_stone_the_bound_has_no_gap():
    assert gap_percent(Bound(3.0, {}, (), ()), 0.0) is None


def test_a_fixed_size_aims_at_the_clearance(plan):
    fixed = replace(plan, order=replace(plan.order, size=SizeDemand(width_mm=(6.0, 6.0))))
    window = replace(plan, order=replace(plan.order, size=SizeDemand(width_mm=(5.0, 6.0))))
    assert objective(fixed) == ObjectiveRecord(kind="clearance", value=1.4567, unit="mm")
    weighed = replace(plan, order=replace(plan.order, size=SizeDemand(carat=(2.0, 2.0))))
    assert objective(weighed).kind == "clearance"
    carat = plan.stones[0].carat
    assert objective(window) == ObjectiveRecord(kind="carat", value=carat, unit="ct")


def test_the_order_of_mappings_does_not_show(plan):
    turned = replace(plan, timing_s=dict(reversed(plan.timing_s.items())))
    assert json.dumps(plan_file(turned).values()) == json.dumps(plan_file(plan).values())


def test_pieces_and_cuts_refer_to_each_other(plan):
    document = as_read(plan)
    ids = [piece["id"] for piece in document["pieces"]]
    assert ids == [0, 1, 2]
    for index, cut in enumerate(document["cuts"]):
        for side in ("below", "above"):
            for piece in cut[side]:
                entry = document["pieces"][ids.index(piece)]
                assert (entry["from_cut"], entry["side"]) == (index, side)
    assert document["stones"][0]["piece"] in ids
    assert document["pieces"][0]["mesh"] == "rough.ply"
