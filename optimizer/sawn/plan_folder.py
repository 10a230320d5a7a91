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
    wanted: str  # the name of its [[wanted]] entry in an order of several stones; else empty


@dataclass(frozen=True)
class PlannedCut:
    """A cut as it was planned, and the distances listed to find and check it."""

    number: int  # from 1
    cut: SawCut
    distances: tuple[Distance, ...]

    def side_of(self, piece: int) -> str | None:
        """The side of the cut on which a piece lies; None where the cut doesn't leave it."""
        return "below" if piece in self.cut.below else "above" if piece in self.cut.above else None


@dataclass(frozen=True)
class PlanFolder:
    """A plan with stones and cuts, read from its folder."""

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
        record = self._file.pieces[number]
        return _mesh(self.folder, record.mesh, record.carat, self.rough)

    def sawn_faces(self, piece: int) -> Iterator[tuple[int, Plane]]:
        """The planned faces of earlier cuts that a piece may have, the last cut first: the cut's
        number, and the plane with its normal out of the piece."""
        at = self._file.pieces[piece]
        while at.from_cut is not None:
            cut = self.cut(at.from_cut + 1)
            yield cut.number, cut.cut.face(above=at.side == "above")
            at = self._file.pieces[cut.cut.piece]

    def stones_under(self, piece: int) -> tuple[PlannedStone, ...]:
        """The stones planned in a piece or in the pieces that are cut from it."""
        within = {piece}
        for cut in (planned.cut for planned in self.cuts):  # a piece is listed before it is cut
            if cut.piece in within:
                within |= {*cut.below, *cut.above}
        homes = [stone.piece for stone in self._file.stones]
        return tuple(s for s, home in zip(self.stones, homes, strict=True) if home in within)


def read_plan_folder(folder: Path) -> PlanFolder:
    """The plan that ``kerfwise plan`` wrote to ``folder``.

    Raises InputError, one line, where it is another folder, was changed, or holds no stone.
    """
    plan_file = _plan(folder)
    if not plan_file.stones:
        raise InputError(f"{folder}: this plan found no stone, so there is nothing to saw")
    rough, order = _rough(folder, plan_file), load_order(folder / "order.toml")
    return PlanFolder(
        folder=folder,
        rough=rough,
        order=order,
        seed=plan_file.made_by.seed,
        effort=plan_file.made_by.effort,
        cuts=tuple(_cut(number, cut) for number, cut in enumerate(plan_file.cuts, 1)),
        stones=tuple(
            _stone(folder, number, record, rough, order)
            for number, record in enumerate(plan_file.stones, 1)
        ),
        _file=plan_file,
    )


def _plan(folder: Path) -> PlanFile:
    if folder.name == "plan.json" and folder.is_file():
        raise InputError(f"{folder}: is a file; name the folder that holds it, {folder.parent}")
    try:
        return read_plan(folder / "plan.json")
    except NoSuchFileError:
        raise InputError(
            f"{folder}: holds no plan.json; name the folder that kerfwise plan wrote"
        ) from None


def _rough(folder: Path, plan_file: PlanFile) -> Rough:
    path = folder / "rough.toml"
    if not os.path.lexists(path):
        raise InputError(f"{folder}: has no rough.toml, as older plans have not; plan it again")
    rough = replace(load_rough(path), scan=plan_file.rough.scan)
    _must_weigh(path, rough.carat, plan_file.rough.carat)
    return rough


def _stone(
    folder: Path, number: int, record: StoneRecord, rough: Rough, order: Order
) -> PlannedStone:
    if not _is_asked(record, order):
        design = record.design
        kind = f'"{record.wanted}" of the design {design}' if record.wanted else design
        raise InputError(
            f"{folder / 'plan.json'}: stone {number} is a {kind}, for which order.toml does not "
            f"ask; {INTACT}"
        )
    mesh = _mesh(folder, record.mesh, record.carat, rough)
    return PlannedStone(number, record.design, record.carat, mesh, record.wanted)


def _is_asked(stone: StoneRecord, order: Order) -> bool:
    """Whether the order allows a stone of this name and design."""
    asked = [order.of(one) for one in order.wanted if one.name == stone.wanted]
    return any(
        not one.designs or stone.design in one.design_names
        for one in (asked if order.wanted else [order])
    )


def _mesh(folder: Path, name: str, carat: float, rough: Rough) -> Mesh:
    """A mesh of the folder, which must weigh ``carat``. A link that leads out of the folder is
    refused."""
    path = folder / name
    if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder)):
        raise InputError(f"{path}: leads to a file outside its folder; {INTACT}")
    mesh = unchanged_solid(read_mesh(path), 1.0, path.name).mesh
    _must_weigh(path, volume(mesh) * rough.material.sg / 200.0, carat)
    return mesh


def _must_weigh(path: Path, carat: float, stated: float) -> None:
    if abs(carat - stated) > SAME_WEIGHT * abs(stated):
        raise InputError(
            f"{path}: weighs {carat:.4f} ct and not the {stated:.4f} ct of plan.json; {INTACT}"
        )


def _cut(number: int, record: CutRecord) -> PlannedCut:
    centre = np.array(record.point_mm)
    plane = Plane.through(centre, np.array(record.normal))
    cut = SawCut(
        piece=record.piece,
        below=record.below,
        above=record.above,
        plane=plane,
        centre=centre,
        kerf_mm=record.kerf_mm,
        depth_mm=record.depth_mm,
        reason=record.reason,
    )
    distances = tuple(
        Distance(d.start, d.end, np.array(d.start_mm), np.array(d.end_mm), d.mm, d.how)
        for d in record.distances
    )
    return PlannedCut(number, cut, distances)
