"""The published schemas are those of the models."""

import json
from pathlib import Path

import jsonschema
import pytest

from optimizer.documents.schema import PUBLISHED, schema_text

WRITTEN = Path(__file__).with_name("demo-plan.json")


@pytest.mark.parametrize("path", PUBLISHED, ids=lambda path: path.name)
def test_the_file_is_what_the_models_give(path):
    given = schema_text(*PUBLISHED[path])
    jsonschema.Draft202012Validator.check_schema(json.loads(given))
    assert json.loads(path.read_text(encoding="utf-8")) == json.loads(given), (
        "run python -m optimizer.documents.schema"
    )


def test_it_takes_a_plan_that_was_written_before():
    plan = json.loads(WRITTEN.read_text(encoding="utf-8"))
    (schema,) = (path for path in PUBLISHED if path.name == "plan.schema.json")
    jsonschema.validate(plan, json.loads(schema.read_text(encoding="utf-8")))
