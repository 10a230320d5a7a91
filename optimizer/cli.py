"""The command line: parse, call, print. Heavy libraries load inside the commands."""

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from optimizer import __version__
from optimizer.errors import AuditError, InputError

BAD_INPUT, NO_STONE, AUDIT_FAILED, STOPPED = 2, 3, 4, 130

app = typer.Typer(
    name="kerfwise",
    help="Plan how to cut a stone from a scanned piece of rough.",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

RoughFile = Annotated[Path, typer.Argument(metavar="ROUGH", help="A scan, or a rough file.")]
Unit = Annotated[
    str | None, typer.Option(help="Unit of a bare scan's numbers: um, mm, cm, m or in.")
]


class Effort(StrEnum):
    """How much work a search may do."""

    quick = "quick"
    normal = "normal"
    thorough = "thorough"


def _version(wanted: bool) -> None:
    if wanted:
        print(f"kerfwise {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which.")
    ] = False,
) -> None:
    """Plan how to cut a stone from a scanned piece of rough."""


@app.command()
def plan(
    rough: RoughFile,
    order: Annotated[
        Path | None, typer.Argument(metavar="[ORDER]", help="An order file; none: most carats.")
    ] = None,
    out: Annotated[Path, typer.Option(help="The folder to write.")] = ...,  # type: ignore[assignment]
    seed: Annotated[int, typer.Option(min=0, help="Same seed, same plan.")] = 0,
    effort: Annotated[Effort, typer.Option(help="How much work to do.")] = Effort.normal,
    unit: Unit = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite a full folder.")] = False,
) -> None:
    """Lay the best stone in the rough; write the plan, pictures and models to a folder."""
    from optimizer import load_order, load_rough, make_plan
    from optimizer.order import Order
    from optimizer.progress import watched
    from optimizer.report import check_out, summary, write_plan

    check_out(out, replace)
    asked = load_order(order) if order else Order()
    with watched() as watch:
        piece = load_rough(rough, unit=unit, rough_table=asked.rough)
        made = make_plan(piece, asked, seed=seed, effort=effort.value, watch=watch)
        if made.interrupted and not made.stones:
            raise KeyboardInterrupt
        write_plan(made, out, replace=replace)
    print("\n".join(summary(made)))
    print(f"\nAll files: {out}  (open {out / 'report.html'})")
    if not made.stones:
        raise typer.Exit(NO_STONE)


@app.command()
def check(rough: RoughFile, unit: Unit = None) -> None:
    """Say what the piece is, what was mended, and what is doubtful."""
    from optimizer import load_rough
    from optimizer.rough import describe

    print("\n".join(describe(load_rough(rough, unit=unit))))


@app.command()
def order(
    out: Annotated[Path | None, typer.Option(help="Write to this file, not to the screen.")] = None,
) -> None:
    """Write an example order with every line explained."""
    from optimizer.order_file import EXAMPLE

    if out is None:
        print(EXAMPLE, end="")
        return
    try:
        with out.open("x", encoding="utf-8") as file:
            file.write(EXAMPLE)
    except FileExistsError:
        raise InputError(f"{out}: is there already; name another file with --out") from None
    except OSError as error:
        raise InputError(f"{out}: can't be written ({error.strerror})") from None


@app.command()
def designs(
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="One design.")] = None,
    picture: Annotated[Path | None, typer.Option(help="Write its picture (SVG) here.")] = None,
) -> None:
    """List the design library, or show one design in detail."""
    from optimizer.design import build_body, describe, library, load_design, picture_svg

    if name is None:
        if picture is not None:
            raise InputError("--picture draws one design: give its NAME too")
        for known in library():
            print(f"{known:24}{load_design(known).summary}")
        return
    design = load_design(name)
    print("\n".join(describe(design)))
    if picture is not None:
        try:
            picture.write_text(picture_svg(build_body(design)), encoding="utf-8")
        except OSError as error:
            raise InputError(f"{picture}: can't be written ({error.strerror})") from None


def main() -> None:
    """Run the command line; every failure is one line on stderr and an exit status."""
    command = typer.main.get_command(app)
    try:
        status = command.main(prog_name="kerfwise", standalone_mode=False)
    except InputError as error:
        status = _told(str(error), BAD_INPUT)
    except AuditError as error:
        status = _told(
            f"the plan failed its own check, so nothing was written: {error}", AUDIT_FAILED
        )
    except KeyboardInterrupt:
        status = _told("stopped before any stone was found; nothing was written", STOPPED)
    except Exception as error:
        if not hasattr(error, "format_message"):  # the parser's own faults carry a message
            raise
        status = _told(f"{error.format_message()} (see kerfwise --help)", BAD_INPUT)
    sys.exit(status)


def _told(sentence: str, status: int) -> int:
    print("kerfwise: " + " ".join(sentence.split()), file=sys.stderr)
    return status
