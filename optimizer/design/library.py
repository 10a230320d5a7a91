"""Finds design files: the library's by name, the user's own by path."""

from functools import cache
from pathlib import Path

from optimizer.design.file import read_design
from optimizer.design.model import Design
from optimizer.errors import InputError, nearest
from optimizer.trade.calibrated import CalibratedOutline, outlines


@cache
def _home() -> Path:
    """The library's folder: inside an installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    shipped = package / "library"
    return shipped if shipped.is_dir() else package.parent / "designs"


def library() -> tuple[str, ...]:
    """The names of the library's designs, in alphabetical order."""
    return tuple(sorted(path.stem for path in _home().glob("*.toml")))


NO_HEART = (
    "a heart's cleft is hollow, and kerfwise cuts convex stones only: take a pear or a "
    "triangle-brilliant, and cut the cleft by hand"
)


def designs_to_choose_from() -> tuple[str, ...]:
    """The designs of the library from which a plan chooses where its order names none.

    Those with a flat base are left to orders that name them: light falls straight through it, and
    they would win by weight nearly everywhere.
    """
    return tuple(name for name in library() if load_design(name).promise.bottom != "flat")


def designs_by_outline() -> dict[str, tuple[str, ...]]:
    """The designs from which a plan chooses where its order names an outline, for each outline in
    alphabetical order. Designs with a flat base are left to orders that name them."""
    found: dict[str, tuple[str, ...]] = {}
    for name in designs_to_choose_from():
        outline = load_design(name).outline.name
        if outline is not None:
            found[outline] = (*found.get(outline, ()), name)
    return dict(sorted(found.items()))


def calibrated_designs() -> dict[str, CalibratedOutline]:
    """The library's designs that are traded in calibrated sizes, each with its outline."""
    known = {name: load_design(name).outline.calibrated for name in library()}
    return {name: outline for name, outline in known.items() if outline is not None}


def outline_designs() -> dict[str, CalibratedOutline]:
    """For each outline that is traded in calibrated sizes, the one design that stands for it."""
    return {outline.design: outline for outline in outlines()}


def load_design(name_or_path: str | Path) -> Design:
    """A design of the library by its name, or one of your own by the path of its .toml file.

    Raises InputError where there is none, or where the file is bad.
    """
    text = str(name_or_path)
    if text.endswith(".toml") or isinstance(name_or_path, Path):
        return read_design(Path(name_or_path))
    if text == "heart":
        raise InputError(NO_HEART)
    if text not in library():
        if text in (known := designs_by_outline()):
            raise InputError(
                f'"{text}" is an outline and no design: an order says outline = "{text}"; the '
                f"designs of it are {', '.join(known[text])}"
            )
        hint = nearest(text, library())
        raise InputError(
            f'no design is named "{text}"; {hint} (the path of your own file must end in .toml)'
        )
    return _from_library(text)


@cache
def _from_library(name: str) -> Design:
    return read_design(_home() / f"{name}.toml")
