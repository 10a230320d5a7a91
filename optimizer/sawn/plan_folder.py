"""A plan's folder read back: its rough, order, pieces, cuts and stones."""

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer.documents.plan import PlanFile
from optimizer.documents.read import INTACT, read_plan
from optimizer.documents.sawing import CutRecord
from optimizer.documents.stones import StoneRecord
from optimizer.errors import InputError
from optimizer.files.reading import NoSuchFileError
from optimizer.guidance.model import Distance
from optimizer.mesh import Mesh, Plane, volume
from optimizer.order import Order, load_order
from optimizer.rough import load_rough
from optimizer.rough.formats.read import read_mesh
from optimizer.rough.model import Rough
from optimizer.rough.repair.solidify import unchanged_solid
from optimizer.sawing.model import SawCut

SAME_WEIGHT = 1e-6  # of a piece: rounding is far below, another piece far above


@dataclass(frozen=True)
class PlannedStone:
    """A finished stone of the plan, scan frame; ``number`` counts from 1."""

    number: int
    design: str
    carat: float
    mesh: Mesh
    wanted: str  # the name of what was asked of it, in an order of several; else empty


@dataclass(frozen=True)
class PlannedCut:
    """A cut as it was planned, and the readings that were to check it."""

    number: int  # from 1
    cut: SawCut
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
    _file: PlanFile

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
        told = self._file.pieces[number]
        return _mesh(self.folder, told.mesh, told.carat, self.rough)

    def sawn_faces(self, piece: int) -> Iterator[tuple[int, Plane]]:
        """The planned faces of earlier cuts that a piece may have, the last cut's first: the
        cut's number, and the plane with its normal out of the piece."""
        at = self._file.pieces[piece]
        while at.from_cut is not None:
            cut = self.cut(at.from_cut + 1)
            yield cut.number, cut.cut.face(above=at.side == "above")
            at = self._file.pieces[cut.cut.piece]

    def stones_under(self, piece: int) -> tuple[PlannedStone, ...]:
        """The stones that are planned in a piece, whatever cuts it still takes to free them."""
        within = {piece}
        for cut in (planned.cut for planned in self.cuts):  # a piece is cut after it was made
            if cut.piece in within:
                within |= {*cut.below, *cut.above}
        homes = [told.piece for told in self._file.stones]
        return tuple(s for s, home in zip(self.stones, homes, strict=True) if home in within)


def read_plan_folder(folder: Path) -> PlanFolder:
    """The plan that ``kerfwise plan`` wrote to ``folder``.

    Raises InputError, one line, where it is no such folder, was changed, or holds no stone.
    """
    told = _plan(folder)
    if not told.stones:
        raise InputError(f"{folder}: this plan found no stone, so there is nothing to saw")
    rough, order = _rough(folder, told), load_order(folder / "order.toml")
    return PlanFolder(
        folder=folder,
        rough=rough,
        order=order,
        seed=told.made_by.seed,
        effort=told.made_by.effort,
        cuts=tuple(_cut(number, cut) for number, cut in enumerate(told.cuts, 1)),
        stones=tuple(_stone(folder, told, k, rough, order) for k in range(len(told.stones))),
        _file=told,
    )


def _plan(folder: Path) -> PlanFile:
    try:
        return read_plan(folder / "plan.json")
    except NoSuchFileError:
        raise InputError(
            f"{folder}: holds no plan.json; name the folder that kerfwise plan wrote"
        ) from None


def _rough(folder: Path, told: PlanFile) -> Rough:
    path = folder / "rough.toml"
    if not os.path.lexists(path):
        raise InputError(f"{folder}: has no rough.toml, as older plans have not; plan it again")
    rough = replace(load_rough(path), scan=told.rough.scan)
    _must_weigh(path, rough.carat, told.rough.carat)
    return rough


def _stone(folder: Path, told: PlanFile, index: int, rough: Rough, order: Order) -> PlannedStone:
    one, number = told.stones[index], index + 1
    if not _is_asked(one, order):
        kind = f'"{one.wanted}" of the design {one.design}' if one.wanted else one.design
        raise InputError(
            f"{folder / 'plan.json'}: stone {number} is a {kind}, for which order.toml does not "
            f"ask; {INTACT}"
        )
    mesh = _mesh(folder, one.mesh, one.carat, rough)
    return PlannedStone(number, one.design, one.carat, mesh, one.wanted)


def _is_asked(stone: StoneRecord, order: Order) -> bool:
    """Whether the order leaves room for such a stone, by name and design."""
    asked = [order.of(one) for one in order.wanted if one.name == stone.wanted]
    return any(
        not one.designs or stone.design in one.design_names
        for one in (asked if order.wanted else [order])
    )


def _mesh(folder: Path, name: str, carat: float, rough: Rough) -> Mesh:
    """A mesh of the folder, which must weigh so many carats; a link that leads out is refused."""
    path = folder / name
    if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder)):
        raise InputError(f"{path}: leads to a file outside its folder; {INTACT}")
    mesh = unchanged_solid(read_mesh(path), 1.0, path.name).mesh
    _must_weigh(path, volume(mesh) * rough.material.sg / 200.0, carat)
    return mesh


def _must_weigh(path: Path, carat: float, told: float) -> None:
    if abs(carat - told) > SAME_WEIGHT * abs(told):
        raise InputError(
            f"{path}: weighs {carat:.4f} ct and not the {told:.4f} ct of plan.json; {INTACT}"
        )


def _cut(number: int, told: CutRecord) -> PlannedCut:
    centre = np.array(told.point_mm)
    plane = Plane.through(centre, np.array(told.normal))
    cut = SawCut(
        told.piece, told.below, told.above, plane, centre, told.kerf_mm, told.depth_mm, told.reason
    )
    distances = tuple(
        Distance(d.start, d.end, np.array(d.start_mm), np.array(d.end_mm), d.mm, d.how)
        for d in told.distances
    )
    return PlannedCut(number, cut, distances)
