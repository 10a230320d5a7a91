"""Reading a plan.json back; one that is not as it was written is refused."""

import json
from pathlib import Path

from pydantic import ConfigDict

from optimizer.documents.plan import FORMAT, PlanFile
from optimizer.documents.record import checksum_of
from optimizer.errors import InputError
from optimizer.files.border import AnyTable, Table, checked_json
from optimizer.files.reading import PLAN, read_file

INTACT = "a plan's files must stay as kerfwise plan wrote them"
_NAME_ONE = "name the plan.json that kerfwise plan wrote"


class _Head(Table):
    """The key that distinguishes a plan.json of this format from other files."""

    model_config = ConfigDict(extra="ignore")

    format: str | None = None


def read_plan(path: Path) -> PlanFile:
    """The plan.json at ``path``.

    Raises InputError with one line where it is another file, has another format or was changed;
    NoSuchFileError where it is missing.
    """
    text = read_file(path, PLAN)
    head = _checked(_Head, text, path, _NAME_ONE)
    if head.format != FORMAT:
        raise InputError(f'{path}: is no plan of the format "{FORMAT}"; {_NAME_ONE}')
    plan = _checked(PlanFile, text, path, INTACT)
    if plan.checksum and plan.checksum != checksum_of(json.loads(text)):
        raise InputError(f"{path}: was changed since it was written; {INTACT}")
    return plan


def _checked(model: type[AnyTable], text: bytes, path: Path, mend: str) -> AnyTable:
    try:
        return checked_json(model, text, str(path))
    except InputError as error:
        raise InputError(f"{error}; {mend}") from None
