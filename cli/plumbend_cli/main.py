"""The commands: each reads its words, calls the library, shows a page. What is heavy is imported inside."""

from __future__ import annotations

import atexit
import gc
import io
import os
import sys
from typing import Annotated

import typer

from plumbend.errors import PlumbendError
from plumbend.shop import Begins, Marks, MeasuredFrom
from plumbend.units import Units
from plumbend_cli.options import bend_radius, one_of, stations_said, trim_left, units_said, why_asked

_UNITS = "[in|mm]"

app = typer.Typer(
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # rich's help machinery costs more than the whole of typer
)


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"plumbend {version('plumbend')}")
        raise typer.Exit


_JobFile = Annotated[str, typer.Argument(help="The job file.")]
_AsJson = Annotated[bool, typer.Option("--json", help="Write the result as JSON, and nothing else.")]
_ShownIn = Annotated[
    Units | None,
    typer.Option(parser=units_said, metavar=_UNITS, help="Write lengths in these instead of the job's own."),
]


def _refuse_units_with_json(json: bool, units: Units | None) -> None:
    if json and units:
        raise typer.BadParameter("JSON is always in mm and degrees. Leave --units out.", param_hint="--units")


@app.callback(invoke_without_command=True)
def plumbend(
    context: typer.Context,
    _version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version and stop."),
    ] = False,
) -> None:
    """From points measured on a vehicle to the bend program of a tube.

    Without a command, in a terminal, it offers to start a job or to go on with one in the folder.
    """
    if context.invoked_subcommand is not None:
        return
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        typer.echo(context.get_help())
        raise typer.Exit(2)
    from pathlib import Path

    from plumbend_cli.session.beginning import offer
    from plumbend_cli.session.terminal import PlainTerminal

    offer(PlainTerminal(), Path())


@app.command(epilog="Example: plumbend new stretcher-rail.toml")
def new(
    job: Annotated[
        str | None, typer.Argument(help="The job file, new or begun; left out, it is named after its title.")
    ] = None,
) -> None:
    """Measure a tube step by step: asks, takes readings, and saves every answer at once.

    Stop at any time; the same command goes on where it stopped.
    """
    from pathlib import Path

    from plumbend_cli.session.beginning import run_session
    from plumbend_cli.session.terminal import PlainTerminal

    run_session(PlainTerminal(), job, Path())


@app.command(epilog="Example: plumbend solve samples/stretcher-rail.toml")
def solve(
    job: _JobFile,
    json: _AsJson = False,
    units: _ShownIn = None,
    keep: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help="A point or reading that is never left out, though it looks wrong; may be said again.",
        ),
    ] = None,
    why: Annotated[
        bool,
        typer.Option("--why", help="Tell what each ± comes from, and how far an error moves the far end."),
    ] = False,
    gap: Annotated[
        str | None,
        typer.Option(metavar="LENGTH", help="With --why: the chance that both ends land within so much."),
    ] = None,
    begin: Annotated[
        Begins | None,
        typer.Option(
            parser=one_of("start", "far", "middle"),
            metavar="[start|far|middle]",
            help="Bend from the start end, from the far end, or from the middle outwards.",
        ),
    ] = None,
    marks: Annotated[
        Marks | None,
        typer.Option(
            parser=one_of("start", "middle", "both"),
            metavar="[start|middle|both]",
            help="Pen marks at the start of each bend, at its middle, or at both.",
        ),
    ] = None,
    measure: Annotated[
        MeasuredFrom | None,
        typer.Option(
            parser=one_of("end", "last bend"),
            metavar='[end|"last bend"]',
            help="Marks all from one hooked end, or each from the end of the last bend.",
        ),
    ] = None,
    trim: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH", help="What to leave on each end to be trimmed off; an inch or 25 mm if nothing says."
        ),
    ] = None,
) -> None:
    """Work out the bend program of every tube of a job.

    How you work at the bender is said once, in the shop file under [habit]; --begin, --marks, --measure and --trim
    overrule it for this run.

    Ends with status 0 where all are solved, 2 where a file cannot be read or understood, 3 where some tube
    cannot be bent, or does not say on which of several dies.
    """
    _refuse_units_with_json(json, units)
    if gap is not None and not why:
        raise typer.BadParameter("It goes with --why. Say that too.", param_hint="--gap")
    from plumbend.job.reader import read_job
    from plumbend.making.habit import habit_of
    from plumbend.shop import Ways
    from plumbend.solving import solve as solve_job
    from plumbend_cli.scan_progress import ScanProgress

    with ScanProgress(wanted=not json) as progress:
        read = read_job(job, progress)
        shown_in = units or read.units
        ways = Ways(marks, measure, begin, None if trim is None else trim_left(trim, read.units))
        habit = habit_of(ways.over(read.ways), read.units)
        result = solve_job(read, shown_in, keep or (), why_asked(gap, shown_in) if why else None, habit, progress)
    if json:
        from json import dumps

        from plumbend.job.result_json import result_to_json

        typer.echo(dumps(result_to_json(result), indent=2, allow_nan=False))
    else:
        from plumbend_cli.page import show
        from plumbend_cli.solve_page import solve_page

        show(solve_page(read, result, shown_in))
    for tube in result.tubes:
        if not tube.solved:
            why_not = "has an end that cannot be cut as asked" if tube.only_ends_refused else "cannot be bent as asked"
            why_not = "waits for its die to be named" if tube.dies else why_not
            typer.echo(f"{job}: {tube.name} {why_not}.", err=True)
    raise typer.Exit(result.exit_status)


@app.command(epilog="Example: plumbend check samples/stretcher-rail.toml")
def check(
    job: _JobFile,
    json: _AsJson = False,
    units: _ShownIn = None,
    keep: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME", help="A reading that is never left out, by its number or its line; may be said again."
        ),
    ] = None,
) -> None:
    """Work out the places of a job's bases and points, and find the readings that cannot be right."""
    _refuse_units_with_json(json, units)
    from plumbend.errors import BadFile, Mistake
    from plumbend.job.reader import read_job

    read = read_job(job)
    if read.frame is None:
        what = "it has no readings of the vehicle to check"
        raise BadFile([Mistake(job, None, "", what, "Its points are typed with their places: solve it.")])
    from dataclasses import replace

    from plumbend.advice import measure_next
    from plumbend.survey import frame_report, survey

    shown_in = units or read.units
    found = survey(read, read.frame, shown_in, keep or ())
    frame = replace(frame_report(found), next=measure_next(read, found, shown_in))
    if json:
        from json import dumps

        from plumbend.job.frame_report import check_to_json

        typer.echo(dumps(check_to_json(read.title, frame), indent=2, allow_nan=False))
    else:
        from plumbend_cli.check_page import check_page
        from plumbend_cli.page import show

        show(check_page(read.title, frame, shown_in))


@app.command(
    epilog="Example: plumbend draw samples/stretcher-frame.toml --what template --tube brace --out brace.pdf",
)
def draw(
    job: _JobFile,
    what: Annotated[
        str, typer.Option(parser=one_of("template"), metavar="[template]", help="The cut of a tube's end, unrolled.")
    ],
    out: Annotated[
        str, typer.Option(metavar="FILE", help="The file to write: .pdf to print, .svg or .dxf for a cutter.")
    ],
    tube: Annotated[str | None, typer.Option(metavar="NAME", help="Of this tube alone.")] = None,
    end: Annotated[str | None, typer.Option(metavar="NAME", help="Of this end alone, by its point.")] = None,
    paper: Annotated[
        str | None,
        typer.Option(
            parser=one_of("a4", "letter"),
            metavar="[a4|letter]",
            help="Paper of the PDF; Letter for a job in inches and A4 for one in mm, if not said.",
        ),
    ] = None,
    stations: Annotated[
        int | None,
        typer.Option(
            parser=stations_said, metavar="[8|16|24]", help="Lines of the PDF's table round the tube; 16 if not said."
        ),
    ] = None,
) -> None:
    """Draw templates of the cut ends at true scale: to wrap round the tube, or as flat patterns for a cutter.

    Ends with status 0 where the file is written, 2 where something cannot be read or understood, 3 where a tube or an
    end cannot be made.
    """
    from plumbend_cli.templates.command import DRAWINGS, Wanted

    told, unsolved = DRAWINGS[what](job, Wanted(out, tube, end, paper, stations))
    for line in told:
        typer.echo(line)
    for line in unsolved:
        typer.echo(line, err=True)
    raise typer.Exit(3 if unsolved else 0)


@app.command(epilog="Example: plumbend calibrate shop.toml --die 5-1/2")
def calibrate(
    shop: Annotated[str, typer.Argument(help="The shop file.")],
    die: Annotated[str | None, typer.Option(metavar="NAME", help="The die; left out, it is asked for.")] = None,
) -> None:
    """Work out from test bends what a die does: reference offset, radius, stock used, springback.

    Takes further test bends, shows the figures with their ±, says which test bend to make next, and writes them into
    the shop file where you say so.
    """
    from datetime import date

    from plumbend_cli.session.calibrating import run_calibration
    from plumbend_cli.session.terminal import PlainTerminal

    run_calibration(PlainTerminal(), shop, die, date.today().isoformat())


@app.command(epilog="Example: plumbend convert corners.csv --clr 5-1/2 --units in")
def convert(
    clr: Annotated[str, typer.Option(help="Centreline radius of the die.", metavar="LENGTH")],
    units: Annotated[
        Units,
        typer.Option(parser=units_said, metavar=_UNITS, help="What bare numbers are, and lengths are written in."),
    ],
    file: Annotated[str, typer.Argument(help="A CSV file; - or nothing reads what is typed.")] = "-",
) -> None:
    """Turn the corners of a tube into its bend program, or a program into corners.

    Corners are rows of forward, left, up; a program is rows of straight, turn, bend, and a last straight.
    """
    from pathlib import Path

    from plumbend.job.shape_csv import TYPED, read_shape
    from plumbend_cli.convert_page import convert_page
    from plumbend_cli.page import show

    radius = bend_radius(clr, units)
    name, source = (TYPED, _typed_text()) if file == "-" else (file, Path(file))
    show(convert_page(name, read_shape(source, units), radius, units))


def _typed_text() -> str:
    if sys.stdin.isatty():
        typer.echo("Type a line each: forward, left, up of the corners; or straight, turn, bend.", err=True)
        typer.echo(f"{'Ctrl-Z and Enter' if sys.platform == 'win32' else 'Ctrl-D'} ends it.", err=True)
    return sys.stdin.read()


def run() -> None:
    """The program: a user's mistake ends in words on standard error and an exit status, never a traceback."""
    # the matrices are small: more threads for linear algebra wait for each other and cost time on a busy machine
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # whoever reads the files looks through every installed package for plug-ins: none is wanted, and it takes long
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # a run is over in a second: looking for what it will not use again takes a tenth of that
    gc.disable()
    # and when it ends, all goes with the process: looking through it once more would take as long again
    atexit.register(gc.freeze)
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # an old code page must not cost anyone his numbers
    try:
        app()
    except PlumbendError as mistake:
        typer.echo(str(mistake), err=True)
        sys.exit(mistake.exit_status)
    finally:
        gc.enable()
