"""The command line: parse, call, print. Heavy libraries load inside the commands."""

import os
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer import __version__
from optimizer.errors import AuditError, InputError
from optimizer.running.giving_up import GIVEN_UP, STOPPED, give_up
from optimizer.running.memory import lacks_memory, ran_out, refuse_no_start
from optimizer.running.stopping import interrupt_handled_by, undisturbed
from optimizer.running.streams import make_streams_robust, print_error, print_lines, write_error

if TYPE_CHECKING:
    from optimizer.design.model import Design
    from optimizer.optics.look_options import LookOptions
    from optimizer.rough.model import Rough

DEFAULT_GAP = 1.0  # percent of the weight
DONE, BAD_INPUT, NO_STONE, AUDIT_FAILED = 0, 2, 3, 4

app = typer.Typer(
    name="kerfwise",
    help="Plan how to cut a stone from a scanned piece of rough.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def path(name: str) -> Path:
    """The path of this name; an empty name, which would mean the current folder, is refused."""
    if not name:
        raise typer.BadParameter("the name is empty")
    return Path(name)


RoughFile = Annotated[
    Path, typer.Argument(metavar="ROUGH", parser=path, help="A scan, or a rough file.")
]
Unit = Annotated[
    str | None, typer.Option(help="Unit of a bare scan's numbers: um, mm, cm, m or in.")
]
Workers = Annotated[
    int | None,
    typer.Option(
        metavar="COUNT", help="Threads to compute with; left out: one for each core. Same plan."
    ),
]


class EffortName(StrEnum):
    """How much work a search may do."""

    quick = "quick"
    normal = "normal"
    thorough = "thorough"


def _version(wanted: bool) -> None:
    if wanted:
        _print(f"kerfwise {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Plan how to cut a stone from a scanned piece of rough."""


@app.command()
def plan(
    rough: RoughFile,
    order: Annotated[
        Path | None,
        typer.Argument(metavar="ORDER", parser=path, help="An order file; none: most carats."),
    ] = None,
    out: Annotated[Path, typer.Option(parser=path, help="The folder to write.")] = ...,  # type: ignore[assignment]
    seed: Annotated[int, typer.Option(min=0, help="Same seed, same plan.")] = 0,
    effort: Annotated[EffortName, typer.Option(help="How much work to do.")] = EffortName.normal,
    prove: Annotated[
        bool, typer.Option("--prove", help="Tighten the bound on the weight down to --gap.")
    ] = False,
    gap: Annotated[
        float | None, typer.Option(min=0.0, help="Where --prove stops, percent of the weight: 1.")
    ] = None,
    unit: Unit = None,
    workers: Workers = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite a full folder.")] = False,
) -> None:
    """Place the best stone in the rough; write the plan, pictures and models to a folder."""
    from optimizer import load_order, load_rough, make_plan
    from optimizer.folder import whole_folder, writing
    from optimizer.offers.known_names import refuse_unknown_names
    from optimizer.order import Order
    from optimizer.progress import watched
    from optimizer.report import summary, write_plan
    from optimizer.rough.rough_file.facts import read_facts
    from optimizer.running.memory import refuse_too_many
    from optimizer.running.workers import use_workers

    use_workers(workers)
    if gap is not None and not prove:
        raise InputError("--gap says where --prove stops: give --prove too")
    with whole_folder(out, replace) as fresh, watched() as watch:
        asked = load_order(order) if order else Order()
        facts = read_facts(rough, asked.rough)
        refuse_unknown_names(asked, facts, order)
        refuse_too_many(facts.least_triangles, facts.scan.name, plan=True)
        piece = load_rough(rough, unit=unit, rough_table=asked.rough)
        made = make_plan(
            piece, asked, seed=seed, effort=effort.value,
            prove=prove, gap=DEFAULT_GAP if gap is None else gap, watch=watch,
        )  # fmt: skip
        with writing(out):
            write_plan(made, fresh)
        lines = summary(made)
    _print_summary(*lines, "", f"All files: {out}  (open {out / 'report.html'})")
    if not made.stones:
        raise typer.Exit(NO_STONE)


def _sawn_example(wanted: bool) -> None:
    if wanted:
        from optimizer.sawn.sawn_file import example

        _print(example().rstrip("\n"))
        raise typer.Exit


@app.command()
def sawn(
    folder: Annotated[
        Path, typer.Argument(metavar="PLAN", parser=path, help="The folder of a plan.")
    ],
    told: Annotated[
        Path,
        typer.Argument(metavar="SAWN", parser=path, help="A file that says where the saw went."),
    ],
    out: Annotated[Path, typer.Option(parser=path, help="The folder to write.")] = ...,  # type: ignore[assignment]
    effort: Annotated[
        EffortName | None, typer.Option(help="How much work to do; left out: as the plan did.")
    ] = None,
    workers: Workers = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite a full folder.")] = False,
    show: Annotated[
        bool,
        typer.Option("--example", callback=_sawn_example, is_eager=True, help="Show a SAWN file."),
    ] = False,
) -> None:
    """Take in where a saw cut really went and what it showed, and plan the rest anew."""
    from optimizer.files.reading import SETTINGS, read_file
    from optimizer.folder import whole_folder, writing
    from optimizer.progress import watched
    from optimizer.running.workers import use_workers
    from optimizer.sawn.plan_folder import read_plan_folder
    from optimizer.sawn.replan import replanned, take_in
    from optimizer.sawn.sawn_file import read_sawn_file
    from optimizer.sawn.words import sawn_lines
    from optimizer.sawn.write import write_sawn

    use_workers(workers)
    with whole_folder(out, replace) as fresh, watched() as watch:
        text, table = read_file(told, SETTINGS), read_sawn_file(told)
        plan = read_plan_folder(folder)
        cut = take_in(plan, table, told.parent, told.name)
        cut = replanned(cut, effort.value if effort else plan.effort, watch)
        with writing(out):
            write_sawn(cut, text, fresh)
        lines = sawn_lines(cut)
    _print_summary(*lines, "", f"All files: {out}")
    if not all(plan.stones for _, plan in cut.plans):
        raise typer.Exit(NO_STONE)


@app.command()
def check(
    rough: RoughFile,
    out: Annotated[
        Path | None,
        typer.Option(parser=path, help="Write a page to mark the piece on, and its picture, here."),
    ] = None,
    unit: Unit = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite a full folder.")] = False,
) -> None:
    """Say what the piece is, what was repaired, and what is doubtful."""
    from optimizer import load_rough
    from optimizer.folder import whole_folder, writing
    from optimizer.rough import describe, with_flats

    if out is None:
        if replace:
            raise InputError("--replace is for a folder to write: give --out too")
        _print(*describe(with_flats(load_rough(rough, unit=unit))))
        return
    from optimizer.marking import write_check

    with whole_folder(out, replace) as fresh:
        piece = with_flats(load_rough(rough, unit=unit))
        with writing(out):
            write_check(piece, fresh)
        lines = describe(piece)
    _print_summary(*lines, "", f"All files: {out}  (open {out / 'marking.html'} to mark the piece)")


@app.command()
def order(
    out: Annotated[
        Path | None, typer.Option(parser=path, help="Write to this file, not to the screen.")
    ] = None,
) -> None:
    """Write an example order with every line explained."""
    from optimizer.folder import write_new
    from optimizer.order.file import example

    if out is None:
        _print(example().rstrip("\n"))
    else:
        write_new(out, example().encode())


@app.command()
def designs(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="One design.")] = None,
    out: Annotated[
        Path | None,
        typer.Option(parser=path, help="Write design.json and its pictures to this folder."),
    ] = None,
    material: Annotated[
        str | None, typer.Option(help="Say which angles return most light in this species.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite a full folder.")] = False,
) -> None:
    """List the design library, or tell how one design is cut."""
    from optimizer.design import describe, library_lines, load_design, write_design
    from optimizer.folder import whole_folder, writing

    if name is None:
        for given, option in ((out is not None, "--out"), (material is not None, "--material")):
            if given:
                raise InputError(f"{option} is about one design: give its NAME too")
        _print(*library_lines())
        return
    if out is None and replace:
        raise InputError("--replace is for a folder to write: give --out too")
    design = load_design(name)
    lines = (*describe(design), *(() if material is None else _advice(design, material)))
    if out is not None:
        with whole_folder(out, replace) as fresh, writing(out):
            write_design(design, fresh)
    _print(*lines)


def _advice(design: "Design", material: str) -> tuple[str, ...]:
    from optimizer.offers.angle_advice import advice_line, angle_advice
    from optimizer.trade.materials import load_material

    species = load_material(material)
    return "", advice_line(angle_advice(design, species), species)


@app.command()
def look(
    design: Annotated[str, typer.Argument(metavar="DESIGN", help="A design of the library.")],
    material: Annotated[str | None, typer.Option(help="The species: quartz.")] = None,
    width: Annotated[float, typer.Option(metavar="MM", help="Width of the stone, mm.")] = 10.0,
    settings: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="NAME=NUMBER", help="A parameter, such as crown=35."),
    ] = None,
    colour: Annotated[
        str | None,
        typer.Option(
            metavar="SRGB@MM",
            help="The colour of so many mm before white: 7a4fb0@5; by axis 705040/a08070@5.",
        ),
    ] = None,
    towards: Annotated[
        str | None, typer.Option(metavar="SRGB@MM", help="The same for one side of a boundary ...")
    ] = None,
    away: Annotated[
        str | None, typer.Option(metavar="SRGB@MM", help="... and for the other side.")
    ] = None,
    tilt: Annotated[
        float | None,
        typer.Option(help="Degrees by which the boundary's normal rises to the table: 0."),
    ] = None,
    azimuth: Annotated[
        float | None,
        typer.Option(help="Degrees from the length to that normal, seen from above: 0."),
    ] = None,
    offset: Annotated[
        float | None,
        typer.Option(help="-1 to 1 across the stone along that normal: 0, the middle."),
    ] = None,
    piece: Annotated[
        Path | None,
        typer.Option(
            metavar="ROUGH", parser=path, help="Take species, colours and axes from a rough file."
        ),
    ] = None,
    zone: Annotated[
        str | None, typer.Option(help="A boundary of the rough file: the first.")
    ] = None,
    axis_to_table: Annotated[
        float | None,
        typer.Option(help="Degrees between optic axis and table: as steep as possible."),
    ] = None,
    light: Annotated[str, typer.Option(help="open sky, clouded sky, lamp or side window.")] = (
        "clouded sky"
    ),
    rock: Annotated[
        bool, typer.Option("--rock", help="Show the stone rocked by 20 degrees, too.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option(parser=path, help="Write the picture (PNG) here.")
    ] = None,
) -> None:
    """Say how a stone looks face up, and write its picture."""
    from optimizer.folder import ask_new, write_new
    from optimizer.optics.lights import light_named
    from optimizer.optics.look import look_at
    from optimizer.optics.look_options import LookOptions, stone_of_options
    from optimizer.optics.look_words import LEFT_OUT, colour_lines, look_lines, look_warnings
    from optimizer.optics.picture import png, whole_picture

    if rock and out is None:
        raise InputError("--rock is for the picture: give --out too")
    if out is not None and out.suffix.lower() != ".png":
        raise InputError(f"{out}: the picture is a PNG; let its name end in .png")
    if out is not None:
        ask_new(out)
    lighting = light_named(light)
    asked = LookOptions(
        design, width, material, settings or (), colour, towards, away, tilt, azimuth, offset,
        axis_to_table, zone,
    )  # fmt: skip
    cut, colouring, notes = stone_of_options(
        asked, None if piece is None else _loaded(piece, asked)
    )
    figures = look_at(cut, colouring)
    if out is not None:
        write_new(out, png(whole_picture(cut, colouring, lighting, rock=rock)))
    warnings = [f"Warning: {text}" for text in look_warnings(figures, cut.material)]
    _print(*notes, *look_lines(figures), *colour_lines(colouring), *warnings, LEFT_OUT)
    if out is not None:
        _print(f"Picture: {out}, {light}{', rocked below' if rock else ''}")


def _loaded(path: Path, asked: "LookOptions") -> "Rough":
    from optimizer import load_rough
    from optimizer.optics.look_options import refuse_unknown_options
    from optimizer.rough.rough_file.facts import read_facts

    refuse_unknown_options(asked, read_facts(path))
    return load_rough(path)


def main() -> None:
    """Run the command line; every failure is one line on stderr and an exit status."""
    make_streams_robust()
    with interrupt_handled_by(give_up):
        status = _status(sys.argv[1:])
    if status == STOPPED:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)  # sys.exit would first wait for the threads that still compute
    sys.exit(status)


def _status(arguments: list[str]) -> int:
    # Not command.main(): it answers Ctrl-C and a closed pipe in its own way, without a sentence.
    try:
        _refuse_missing_folder()
        refuse_no_start()
        with typer.main.get_command(app).make_context("kerfwise", arguments) as context:
            context.command.invoke(context)
    except typer.Exit as ended:
        return ended.exit_code or _unprinted()
    except InputError as error:
        return _fail(str(error), BAD_INPUT)
    except AuditError as error:
        return _fail(
            f"the plan failed its own check, so nothing was written: {error}", AUDIT_FAILED
        )
    except KeyboardInterrupt:
        return _fail(GIVEN_UP, STOPPED)
    except Exception as error:
        if lacks_memory(error):
            return _fail(ran_out(error), BAD_INPUT)
        if not hasattr(error, "format_message"):  # the parser's own faults carry a message
            raise
        asked = getattr(error, "ctx", None)
        command = asked.command_path if asked else "kerfwise"
        return _fail(f"{error.format_message()} (see {command} --help)", BAD_INPUT)
    return DONE


def _unprinted() -> int:
    """The status after help, which the parser prints: bad where nothing could be printed."""
    reason = write_error(sys.stdout)
    return _fail(f"what was asked for can't be printed ({reason})", BAD_INPUT) if reason else DONE


def _refuse_missing_folder() -> None:
    """Refuse a working folder that no longer exists, in which libraries would end the process."""
    try:
        os.getcwd()
    except OSError:
        raise InputError("the folder you are in is gone; change to another") from None


def _print(*lines: str) -> None:
    """Print the command's result. Raises InputError where it can't be printed."""
    print_lines(*lines)
    if reason := write_error(sys.stdout):
        raise InputError(f"what was asked for can't be printed ({reason})")


def _print_summary(*lines: str) -> None:
    """Print a summary of files already written. Where it can't be printed, only a line says so."""
    with undisturbed():
        print_lines(*lines)
    if reason := write_error(sys.stdout):
        print_error(f"kerfwise: all is written, but the summary can't be printed ({reason})")


def _fail(sentence: str, status: int) -> int:
    print_error("kerfwise: " + " ".join(sentence.split()))
    return status
