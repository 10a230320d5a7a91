"""A plan's folder read back: its rough, order, pieces, cuts and stones."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from pydantic import ConfigDict, Field

from optimizer.border import Table, checked
from optimizer.errors import InputError
from optimizer.guidance.model import Distance
from optimizer.mesh import Mesh, Plane, volume
from optimizer.order import Order, load_order
from optimizer.reading import PLAN, NoSuchFileError, read_file
from optimizer.report.document import FORMAT
from optimizer.rough import load_rough
from optimizer.rough.keys import Number, Point
from optimizer.rough.model import Rough
from optimizer.rough.repair.solidify import unchanged_solid
from optimizer.rough.scan_file import read_mesh
from optimizer.sawing.model import Cut

SAME_WEIGHT = 1e-6  # of a piece: rounding is far below, another piece far above
INTACT = "a plan's folder must stay as kerfwise plan wrote it"


class _Part(Table):
    """Part of plan.json: what is asked for, whatever else stands there."""

    model_config = ConfigDict(extra="ignore", strict=True, frozen=True)


Index = Annotated[int, Field(ge=0)]


class _DistancePart(_Part):
    start: str
    end: str
    start_mm: Point
    end_mm: Point
    mm: Number
    how: str


class _CutPart(_Part):
    piece: Index
    below: Annotated[list[Index], Field(min_length=1)]
    above: Annotated[list[Index], Field(min_length=1)]
    point_mm: Point
    normal: Point
    kerf_mm: Annotated[float, Field(ge=0.0)]
    depth_mm: Number
    reason: str
    distances: list[_DistancePart] = Field(default_factory=list)


class _PiecePart(_Part):
    id: Index
    from_cut: Index | None
    side: str | None
    mesh: str
    carat: Annotated[float, Field(gt=0.0)]


class _StonePart(_Part):
    design: str
    carat: Annotated[float, Field(gt=0.0)]
    mesh: str
    piece: Index
    wanted: str | None = None


class _Maker(_Part):
    seed: int
    effort: str


class _RoughPart(_Part):
    scan: str


class _PlanPart(_Part):
    status: str
    rough: _RoughPart
    made_by: _Maker
    stones: list[_StonePart]
    pieces: Annotated[list[_PiecePart], Field(min_length=1)]
    cuts: list[_CutPart]


@dataclass(frozen=True)
class PlannedStone:
    """A finished stone of the plan, scan frame; ``number`` counts from 1."""

    number: int
    design: str
    carat: float
    mesh: Mesh
    wanted: str | None  # the name of what was asked of it, in an order of several


@dataclass(frozen=True)
class PlannedCut:
    """A cut as it was planned, and the readings that were to check it."""

    number: int  # from 1
    cut: Cut
    distances: tuple[Distance, ...]

    def side_of(self, piece: int) -> str | None:
        """On which side of the cut a piece lies that it leaves; None of any other piece."""
        return "below" if piece in self.cut.below else "above" if piece in self.cut.above else None


@dataclass(frozen=True)
class PlanFolder:
    """A plan with stones and cuts, as its folder tells it."""

    folder: Path
    rough: Rough
    order: Order
    seed: int
    effort: str
    cuts: tuple[PlannedCut, ...]
    stones: tuple[PlannedStone, ...]
    _told: _PlanPart

    def cut(self, number: int) -> PlannedCut:
        """Cut ``number``, counted from 1. Raises InputError where the plan has no such cut."""
        if not 1 <= number <= len(self.cuts):
            raise InputError(
                f"cut {number} is not in {self.folder}, whose plan has {len(self.cuts)}"
            )
        return self.cuts[number - 1]

    def piece(self, number: int) -> Mesh:
        """A piece's mesh. Raises InputError where the file isn't that piece."""
        if number == 0:
            return self.rough.mesh
        told = self._piece(number)
        mesh = _mesh(self.folder, told.mesh)
        carat = volume(mesh) * self.rough.material.sg / 200.0
        if abs(carat - told.carat) > SAME_WEIGHT * told.carat:
            raise InputError(
                f"{self.folder / told.mesh}: weighs {carat:.4f} ct and not the {told.carat:.4f} ct "
                f"of plan.json; {INTACT}"
            )
        return mesh

    def faces_left(self, piece: int) -> Iterator[tuple[int, Plane]]:
        """The planned faces of earlier cuts that a piece may have, the last cut's first: the
        cut's number, and the plane with its normal out of the piece."""
        at = self._piece(piece)
        while at.from_cut is not None:
            cut = self.cut(at.from_cut + 1)
            yield cut.number, cut.cut.face(above=at.side == "above")
            at = self._piece(cut.cut.piece)

    def stones_under(self, piece: int) -> tuple[PlannedStone, ...]:
        """The stones that are planned in a piece, whatever cuts it still takes to free them."""
        within = {piece}
        for cut in (planned.cut for planned in self.cuts):  # a piece is cut after it was made
            if cut.piece in within:
                within |= {*cut.below, *cut.above}
        homes = [told.piece for told in self._told.stones]
        return tuple(s for s, home in zip(self.stones, homes, strict=True) if home in within)

    def _piece(self, number: int) -> _PiecePart:
        for told in self._told.pieces:
            if told.id == number:
                return told
        raise InputError(f"{self.folder / 'plan.json'}: piece {number} is missing; {INTACT}")


def read_plan_folder(folder: Path) -> PlanFolder:
    """The plan that ``kerfwise plan`` wrote to ``folder``.

    Raises InputError, one line, where it is no such folder, was changed, or holds no stone.
    """
    told = checked(_PlanPart, _document(folder), str(folder / "plan.json"))
    if told.status != "found" or not told.stones:
        raise InputError(f"{folder}: this plan found no stone, so there is nothing to saw")
    if not (folder / "rough.toml").is_file():
        raise InputError(f"{folder}: has no rough.toml, as older plans have not; plan it again")
    stones = tuple(
        PlannedStone(number, one.design, one.carat, _mesh(folder, one.mesh), one.wanted)
        for number, one in enumerate(told.stones, 1)
    )
    return PlanFolder(
        folder=folder,
        rough=replace(load_rough(folder / "rough.toml"), scan=told.rough.scan),
        order=load_order(folder / "order.toml"),
        seed=told.made_by.seed,
        effort=told.made_by.effort,
        cuts=tuple(_cut(number, cut) for number, cut in enumerate(told.cuts, 1)),
        stones=stones,
        _told=told,
    )


def _document(folder: Path) -> dict[str, Any]:
    path = folder / "plan.json"
    try:
        data = json.loads(read_file(path, PLAN))
    except NoSuchFileError:
        raise InputError(
            f"{folder}: holds no plan.json; name the folder that kerfwise plan wrote"
        ) from None
    except InputError:
        raise
    except (ValueError, RecursionError):
        raise InputError(f"{path}: is not valid JSON; {INTACT}") from None
    found = data.get("format") if isinstance(data, dict) else None
    if found != FORMAT:
        raise InputError(f'{path}: its format is not "{FORMAT}"; name a folder of kerfwise plan')
    return dict(data)


def _mesh(folder: Path, name: str) -> Mesh:
    """A mesh of the folder; a name that leads out of it is refused."""
    path = folder / name
    if not path.resolve().is_relative_to(folder.resolve()):
        raise InputError(f"{folder / 'plan.json'}: names a file outside its folder; {INTACT}")
    return unchanged_solid(read_mesh(path), 1.0, path.name).mesh


def _cut(number: int, told: _CutPart) -> PlannedCut:
    centre = np.array(told.point_mm, float)
    plane = Plane.through(centre, np.array(told.normal, float))
    cut = Cut(
        told.piece, tuple(told.below), tuple(told.above), plane, centre, told.kerf_mm,
        told.depth_mm, told.reason,
    )  # fmt: skip
    distances = tuple(
        Distance(
            d.start, d.end, np.array(d.start_mm, float), np.array(d.end_mm, float), d.mm, d.how
        )
        for d in told.distances
    )
    return PlannedCut(number, cut, distances)
