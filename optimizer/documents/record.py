"""What all parts of plan.json and sawn.json have in common."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from pydantic import ConfigDict, ValidationError

from optimizer.errors import AuditError
from optimizer.files.border import Table, first_fault


class Record(Table):
    """A table of these files. A key with a default is one that older plans lack; it is always
    written, so the published schema requires it."""

    model_config = ConfigDict(json_schema_serialization_defaults_required=True)


class Document(Record):
    """A whole file."""

    def values(self) -> dict[str, Any]:
        """Its plain numbers, strings, lists and tables."""
        return self.model_dump(mode="json")

    def text(self) -> str:
        """As it is written."""
        return json.dumps(self.values(), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


@contextmanager
def well_formed(name: str) -> Iterator[None]:
    """What is told of a result must lie within the bounds that are published: AuditError else."""
    try:
        yield
    except ValidationError as error:
        fault = first_fault(error, Record)
        raise AuditError(f"{name}: {error.title}: {fault}") from error
