"""The published schemas of plan.json and sawn.json (JSON Schema, draft 2020-12).

python -m optimizer.documents.schema        write both files anew from the models
"""

import json
from pathlib import Path
from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from optimizer.documents.plan import FORMAT, PlanFile
from optimizer.documents.record import Document
from optimizer.documents.sawn import SAWN_FORMAT, SawnFile

PUBLISHED: dict[Path, tuple[str, type[Document]]] = {
    Path(__file__).with_name("plan.schema.json"): (FORMAT, PlanFile),
    Path(__file__).with_name("sawn.schema.json"): (SAWN_FORMAT, SawnFile),
}


class _Plain(GenerateJsonSchema):
    """A generator that gives keys no titles, which would only repeat the key."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def default_schema(self, schema: Any) -> dict[str, Any]:
        return self.generate_inner(schema["schema"])  # all keys are written: none has a default

    def literal_schema(self, schema: Any) -> dict[str, Any]:
        words = schema["expected"]  # pydantic's own form differs from version to version
        kind = {"type": "string"} if isinstance(words[0], str) else {}
        return {**kind, "enum": words} if len(words) > 1 else {**kind, "const": words[0]}

    def normalize_name(self, name: str) -> str:
        return super().normalize_name(name).removesuffix("Record")


def schema_text(name: str, model: type[Document]) -> str:
    """A model's published schema. It describes files as they are written, so all keys are
    required."""
    schema = model.model_json_schema(mode="serialization", schema_generator=_Plain)
    for part in schema["$defs"].values():
        part.pop("title", None)  # its key under $defs says the same
    head = {"$schema": _Plain.schema_dialect, "$id": name}
    return json.dumps(head | schema, indent=2, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the published files."""
    for path, (name, model) in PUBLISHED.items():
        path.write_text(schema_text(name, model), encoding="utf-8")


if __name__ == "__main__":
    main()
