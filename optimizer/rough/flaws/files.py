"""The meshes of flaws, written beside the rough file that names them."""

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from optimizer.rough.formats.ply import write_solid
from optimizer.rough.model import Flaw


def with_meshes_beside(flaws: Iterable[Flaw], path: Path) -> list[Flaw]:
    """Write the flaws' meshes beside the rough file; return the flaws with the files' names."""
    kept = []
    for number, flaw in enumerate(flaws, 1):
        beside = path.with_name(f"{path.stem}-flaw-{number}.ply")
        if flaw.mesh is not None:
            write_solid(beside, flaw.mesh)
            flaw = replace(flaw, file=beside.name)
        kept.append(flaw)
    return kept
