"""What all tables of plan.json and sawn.json have in common."""

import hashlib
import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from pydantic import ConfigDict, ValidationError

from optimizer.errors import AuditError
from optimizer.files.border import Table, first_fault, json_place_words


class Record(Table):
    """A table of these files. Keys that older plans lack have a default. All keys are always
    written, so the published schema requires them."""

    model_config = ConfigDict(json_schema_serialization_defaults_required=True)


class Document(Record):
    """A whole file."""

    def values(self) -> dict[str, Any]:
        """Its plain numbers, strings, lists and tables."""
        return self.model_dump(mode="json")

    def text(self) -> str:
        """The file's text."""
        return json.dumps(self.values(), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def checksum_of(values: dict[str, Any]) -> str:
    """The SHA-256 of a document's values as JSON with sorted keys, without blanks, in ASCII. The
    checksum itself is left out, and times, which alone differ between two equal plans."""
    sealed = {key: value for key, value in values.items() if key not in ("checksum", "timing_s")}
    text = json.dumps(sealed, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


@contextmanager
def well_formed(name: str) -> Iterator[None]:
    """Raise AuditError where a record made inside this context breaks its published bounds."""
    try:
        yield
    except ValidationError as error:
        fault = first_fault(error, Record, json_place_words)
        raise AuditError(f"{name}: {error.title}: {fault}") from error
