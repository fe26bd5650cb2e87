"""The command line: thin commands that read, call one function and show what came back.

Exit status: 0 all is well; 1 the work was done, but something does not fit, is not decided, is not reached or
does not hold, or a stop stands; 2 the input is wrong, or a file cannot be read or written; 3 a fault of the
program; 130 broken off.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from fitplan import __version__
from fitplan.budget import Budget
from fitplan.errors import ContradictionError, FitplanError, InputError

if TYPE_CHECKING:
    from rich.console import Console

    from fitplan.model.part import Part
    from fitplan.model.solids import Direction
    from fitplan.model.train import Train
    from fitplan.planning.run import Progress

app = typer.Typer(
    name="fitplan",
    help="Plan where controllers, sensors, cells and wires go inside brick-built trains.",
    epilog="Start with: fitplan plan harbour-line -o build   (an example that comes with fitplan)",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
vehicle_app = typer.Typer(
    help="Make a vehicle file from a mesh or from a few measurements.", no_args_is_help=True
)
app.add_typer(vehicle_app, name="vehicle")

TrainArgument = Annotated[
    str,
    typer.Argument(metavar="TRAIN", help="A train file, a folder with a train.yaml, or an example's name."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead of tables.")]
SeedOption = Annotated[int, typer.Option(help="Seed of the searches; the same seed gives the same plan.")]
DeadlineOption = Annotated[
    float | None,
    typer.Option(
        metavar="SECONDS",
        min=0.1,
        help="Stop all searches by then; what is open is told. Without it they do a fixed amount of work.",
    ),
]
EffortOption = Annotated[
    float, typer.Option(metavar="FACTOR", min=0.01, help="So many times the usual work of the searches.")
]


BESIDE = ("fitplan.planning.run", "fitplan.report.sheets.printed_sheets")
"""What the second process loads while the first reads the files."""


class Paper(StrEnum):
    """Paper sizes of the printed sheets."""

    a4 = "A4"
    letter = "Letter"


class VehicleKind(StrEnum):
    """Kinds of vehicles."""

    loco = "loco"
    wagon = "wagon"
    railcar = "railcar"
    road = "road"


def _console(error: bool = False) -> Console:
    from fitplan.report.terminal.screen import console

    return console(error)


def _print_json(value: Any) -> None:
    from fitplan.report.terminal.screen import print_json

    print_json(value)


def _read_train(name: str) -> Train:
    from fitplan.files.find import find_train
    from fitplan.files.read import read_train

    return read_train(find_train(name))


def _seen_from(folder: Path, train: str) -> str:
    """Return where a train's file is as seen from a folder; an example by its name."""
    from fitplan.files.catalogue import examples_folder
    from fitplan.files.find import find_train

    path = find_train(train)
    if path.parent.parent == examples_folder():
        return path.parent.name
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive
        return ""


def _train_of(folder: Path) -> Train | None:
    """Return the train that a folder's plan is of, where its files are still to be found and read."""
    from fitplan.files.catalogue import examples_folder
    from fitplan.files.owned_reading import standing_files

    name = standing_files(folder).train
    if not name:
        return None
    path = folder / name if "/" in name else examples_folder() / name / "train.yaml"
    try:
        return _read_train(str(path)) if path.is_file() else None
    except FitplanError:
        return None  # it has changed so much that it can no longer be read: nothing to compare with


@contextmanager
def _progress(quiet: bool = False) -> Iterator[Progress]:
    """Show a bar on standard error while it is a terminal; otherwise say nothing."""
    if quiet or not sys.stderr.isatty():
        yield lambda stage, share: None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=_console(True),
        transient=True,
    ) as bar:
        task = bar.add_task("", total=1.0)
        yield lambda stage, share: bar.update(task, description=stage, completed=share)


def _version(wanted: bool) -> None:
    if wanted:
        sys.stdout.write(f"fitplan {__version__}\n")
        raise typer.Exit


def _exit_as(well: bool) -> None:
    """End a command whose work is done: status 1 unless all is well."""
    if not well:
        raise typer.Exit(1)


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


@app.command()
def plan(
    train: TrainArgument,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FOLDER", help="Write all files of the plan here."),
    ] = None,
    seed: SeedOption = 0,
    deadline: DeadlineOption = None,
    effort: EffortOption = 1.0,
    paper: Annotated[Paper, typer.Option(help="Paper of the printed sheets.")] = Paper.a4,
    force: Annotated[
        bool, typer.Option("--force", help="Replace files of the same names that fitplan did not write.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Place every part, run every wire, check that it will work, and write the plan."""
    from fitplan.processes import second_process, spare_the_collector

    spare_the_collector()
    budget = Budget.usual(effort=effort, deadline_s=deadline)
    with second_process(BESIDE) as beside:
        read = _read_train(train)
        if output is not None:
            from fitplan.files.owned_folder import check_folder
            from fitplan.report.plan_folder import ALWAYS

            check_folder(output, ALWAYS, force=force)
        from fitplan.files.plan_json import plan_to_json
        from fitplan.planning.run import PlanOptions, plan_train
        from fitplan.report.terminal.tables import print_plan
        from fitplan.surface import confirm

        with _progress(as_json) as progress:
            made = plan_train(read, PlanOptions(budget, seed), progress, beside)
            confirm(made)
            if output is not None:
                from fitplan.files.owned_folder import write_owned
                from fitplan.report.plan_folder import plan_files

                progress("writing", 0.95)
                size: Literal["A4", "Letter"] = "Letter" if paper is Paper.letter else "A4"
                write_owned(
                    output, plan_files(made, size, beside), train=_seen_from(output, train), force=force
                )
    if as_json:
        from fitplan.report.terminal.screen import escaped

        sys.stdout.write(escaped(plan_to_json(made).decode()))
    else:
        console = _console()
        print_plan(made, console)
        if output is not None:
            console.print(
                f"\nWritten to {output}: open {output / 'report.html'} to look at the train.", markup=False
            )
        else:
            console.print(
                "\nNext: fitplan plan … -o build writes the lists, the page and the sheets.", markup=False
            )
    _exit_as(made.works)


@app.command()
def fit(
    train: TrainArgument,
    seed: SeedOption = 0,
    deadline: DeadlineOption = None,
    effort: EffortOption = 1.0,
    as_json: JsonOption = False,
) -> None:
    """Tell which of the allowed parts go into which vehicle, and why not."""
    from fitplan.files.plain_json import to_plain
    from fitplan.model.verdict import fit_verdict
    from fitplan.planning.run import PlanOptions, fit_table
    from fitplan.report.terminal.tables import print_fit

    budget = Budget.usual(effort=effort, deadline_s=deadline)
    read = _read_train(train)
    with _progress(as_json) as progress:
        rows = fit_table(read, PlanOptions(budget, seed), progress)
    if as_json:
        _print_json(to_plain(rows))
    else:
        console = _console()
        print_fit(rows, console)
        console.print("\nNext: fitplan plan … chooses among them and runs the wires.", markup=False)
    _exit_as(fit_verdict(rows).holds)


@app.command()
def sweep(
    train: TrainArgument,
    word: Annotated[
        str, typer.Option("--parts", metavar="WORD", help="Only parts with this word in id, name or family.")
    ] = "controller",
    output: Annotated[
        Path | None,
        typer.Option(
            "--output", "-o", metavar="FILE", help="Journal of answers; a stopped sweep goes on from it."
        ),
    ] = None,
    processes: Annotated[
        int | None, typer.Option(min=1, help="How many work at once; one for each core when not given.")
    ] = None,
    seed: SeedOption = 0,
    as_json: JsonOption = False,
) -> None:
    """Ask of many parts of the catalogue which vehicle they would fit into, on all cores."""
    from fitplan.files.plain_json import to_plain
    from fitplan.model.verdict import fit_verdict
    from fitplan.planning.sweep import sweep as sweep_parts
    from fitplan.report.terminal.tables import print_fit

    read = _read_train(train)
    parts = [part for part in read.catalogue.values() if _has_word(part, word) and part.family != "wire"]
    if not parts:
        raise FitplanError(f"no part with {word!r} in its id, name or family; fitplan parts lists all")
    with _progress(as_json) as progress:
        rows = sweep_parts(read, parts, journal=output, processes=processes, seed=seed, progress=progress)
    if as_json:
        _print_json(to_plain(rows))
    else:
        print_fit(rows, _console())
    _exit_as(fit_verdict(rows).holds)


@app.command()
def cavities(
    vehicle: Annotated[Path, typer.Argument(metavar="VEHICLE", help="A vehicle file.")],
    least: Annotated[
        float, typer.Option(metavar="MM3", min=0, help="Leave out clear spaces smaller than this, in mm³.")
    ] = 1000.0,
    as_json: JsonOption = False,
) -> None:
    """List the clear spaces of a vehicle: volume, largest boxes, widest ball, necks, parts that pass."""
    from fitplan.files.catalogue import read_catalogue
    from fitplan.files.plain_json import to_plain
    from fitplan.files.read import read_vehicle
    from fitplan.meshes.cavities import cavities_of
    from fitplan.report.terminal.cavity_table import print_cavities

    found = cavities_of(read_vehicle(vehicle), read_catalogue().values(), least_mm3=least)
    if as_json:
        _print_json(to_plain(found))
    else:
        print_cavities(found, _console())


@vehicle_app.command("from-mesh")
def vehicle_from_mesh(
    mesh: Annotated[Path, typer.Argument(metavar="FILE", help="STL, OBJ, PLY, GLB, glTF, 3MF or OFF.")],
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="FILE", help="The vehicle file to write.")
    ],
    name: Annotated[str, typer.Option(help="What the vehicle is called.")] = "",
    units: Annotated[
        str, typer.Option(help="mm, cm, m, inch or stud; found by the stud grid when not given.")
    ] = "",
    up: Annotated[str, typer.Option(help="Which way of the file points up: +x, -x, +y …")] = "",
    front: Annotated[str, typer.Option(help="Which way of the file points to the front.")] = "",
    gap: Annotated[
        float,
        typer.Option(metavar="MM", min=0, help="Gaps up to this width count as closed; 32 when not given."),
    ] = 0.0,
    base: Annotated[
        float, typer.Option(metavar="MM", min=0, help="Height of the lowest point above the rail head.")
    ] = 0.0,
    kind: Annotated[VehicleKind, typer.Option(help="What kind of vehicle it is.")] = VehicleKind.loco,
    pitch: Annotated[float, typer.Option(metavar="MM", min=0.1, max=8.0, help="Edge of a voxel.")] = 0.8,
    closed: Annotated[
        list[str] | None,
        typer.Option(metavar="SIDE", help="A side that counts as closed, +z for an open wagon; repeatable."),
    ] = None,
    removable: Annotated[
        list[str] | None,
        typer.Option(metavar="OBJECT=BRICK", help="Objects or #colours of the file that may come out."),
    ] = None,
    least: Annotated[
        float, typer.Option("--least-cavity", metavar="MM3", min=0, help="Smaller clear spaces are left out.")
    ] = 1000.0,
) -> None:
    """Make a vehicle file from a mesh, with proposals for openings, windows and ports to confirm.

    Objects of the file named `removable: NAME`, `built in: NAME` or `keep-clear` say what may come out,
    what is in the vehicle already, and what must stay clear.
    """
    from fitplan.files.write import write_file
    from fitplan.meshes.from_mesh import MeshOptions
    from fitplan.meshes.from_mesh import vehicle_from_mesh as convert

    options = MeshOptions(
        name=name,
        kind=kind.value,
        units=units,
        up=_direction(up, "--up"),
        front=_direction(front, "--front"),
        pitch=pitch,
        gap=gap,
        closed=tuple(side for text in closed or [] if (side := _direction(text, "--closed")) is not None),
        base=base,
        least_cavity=least,
        removable=dict(_pair(text) for text in removable or []),
    )
    with _progress() as progress:
        made = convert(mesh, options, progress)
    sidecar = output.with_suffix(".npz")
    if made.sidecar:
        write_file(sidecar, made.body.sidecar())
    write_file(output, made.text(sidecar.name).encode())
    console = _console()
    for note in made.notes:
        console.print(f"· {note}", markup=False)
    console.print(f"\nWritten to {output}.\nNext: fitplan cavities {output}", markup=False)


@vehicle_app.command("measure")
def vehicle_measure(
    form: Annotated[str, typer.Argument(help="The body form; leave it out for the list.")] = "",
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FILE", help="The vehicle file to write.")
    ] = None,
    name: Annotated[str, typer.Option(help="What the vehicle is called.")] = "",
    smooth: Annotated[bool, typer.Option("--smooth", help="The floor shows no studs inside.")] = False,
    given: Annotated[
        list[str] | None, typer.Option("--set", metavar="KEY=NUMBER", help="Answer a question beforehand.")
    ] = None,
    defaults: Annotated[
        bool, typer.Option("--defaults", help="Ask nothing; take the usual figures.")
    ] = False,
) -> None:
    """Make a vehicle file from the few dimensions that a ruler gives, for common body forms."""
    from fitplan.files.write import write_file
    from fitplan.meshes.forms import FORMS, form_named, measure
    from fitplan.meshes.vehicle_text import vehicle_yaml

    console = _console()
    if not form:
        for entry in FORMS:
            console.print(f"{entry.name:12} {entry.text}", markup=False)
        console.print("\nNext: fitplan vehicle measure 'hood loco' -o loco.yaml", markup=False)
        return
    chosen = form_named(form)
    answers = dict(_answer(text) for text in given or [])
    if not defaults:
        for question in chosen.questions:
            if question.key not in answers:
                answers[question.key] = typer.prompt(
                    f"{question.text} ({question.unit})", default=question.default, type=int
                )
    text = vehicle_yaml(measure(chosen, answers, name=name, studded=not smooth))
    if output is None:
        sys.stdout.write(text)
        return
    write_file(output, text.encode())
    console.print(
        f"Written to {output}: correct it in the text.\nNext: fitplan cavities {output}", markup=False
    )


def _pair(text: str) -> tuple[str, str]:
    name, equals, brick = text.partition("=")
    if not equals or not name.strip() or not brick.strip():
        raise FitplanError(f"found --removable {text!r}; expected OBJECT=BRICK, such as '#ff0000=grille'")
    return name.strip(), brick.strip()


def _answer(text: str) -> tuple[str, int]:
    key, _, value = text.partition("=")
    try:
        return key.strip(), int(value)
    except ValueError:
        raise FitplanError(f"found --set {text!r}; expected KEY=NUMBER, such as long=24") from None


def _direction(text: str, option: str) -> Direction | None:
    from fitplan.model.solids import DIRECTIONS

    if not text:
        return None
    for direction in DIRECTIONS:
        if direction == text:
            return direction
    raise FitplanError(f"found {option} {text!r}; expected one of {', '.join(DIRECTIONS)}")


def _has_word(part: Part, word: str) -> bool:
    return word.lower() in f"{part.id} {part.name} {part.family}".lower()


@app.command()
def check(train: TrainArgument, as_json: JsonOption = False) -> None:
    """Read a train and its files, and show what was understood, layer by layer."""
    from fitplan.checks import run_unplaced_checks
    from fitplan.files.plain_json import to_plain
    from fitplan.report.terminal.tables import print_outcomes, print_train

    read = _read_train(train)
    outcomes = run_unplaced_checks(read)
    if as_json:
        _print_json({"train": to_plain(read), "outcomes": to_plain(outcomes)})
    else:
        console = _console()
        print_train(read, console)
        print_outcomes(outcomes, console)
        console.print(
            "\nNext: fitplan fit … tells what goes where; fitplan plan … makes the plan.", markup=False
        )
    _exit_as(not any(finding.severity == "stop" for outcome in outcomes for finding in outcome.findings))


@app.command()
def verify(
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json, or the folder it is in.")],
    train: Annotated[
        str, typer.Option(metavar="TRAIN", help="Its train, to tell whether its files have changed since.")
    ] = "",
    as_json: JsonOption = False,
) -> None:
    """Check a written plan again, with code that shares nothing with the search.

    It bears the plan's own verdict, too: exit status 1 when something in it does not hold, and also when the
    plan itself says that something does not fit, reach, go in or run.
    """
    from fitplan.files.plain_json import to_plain
    from fitplan.files.plan_json import read_plan
    from fitplan.model.verdict import verdict_words
    from fitplan.recheck import recheck
    from fitplan.report.terminal.tables import print_verification

    folder = plan_file if plan_file.is_dir() else plan_file.parent
    read = read_plan(plan_file)
    report = recheck(read, _read_train(train) if train else _train_of(folder))
    if as_json:
        _print_json(
            {"holds": report.holds, "works": read.works, "verdict": verdict_words(read), **to_plain(report)}
        )
    else:
        print_verification(report, read, _console())
    _exit_as(report.holds and read.works)


@app.command()
def compare(
    plans: Annotated[
        list[Path], typer.Argument(metavar="PLAN…", help="Two or more plans, the first is the base.")
    ],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FILE", help="Write the comparison as a page.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Show what changed between plans: parts, places, lengths, hours, findings."""
    from fitplan.files.plain_json import to_plain
    from fitplan.files.plan_json import read_plan
    from fitplan.report.comparison import compare_plans, comparison_page, print_comparison

    if len(plans) < 2:
        raise typer.BadParameter("give at least two plans to compare")
    read = [read_plan(path) for path in plans]
    compared = [compare_plans(read[0], other) for other in read[1:]]
    if output is not None:
        from fitplan.files.write import write_file

        write_file(output, comparison_page(compared).encode())
    if as_json:
        _print_json(to_plain(tuple(compared)))
    else:
        for comparison in compared:
            print_comparison(comparison, _console())
    _exit_as(all(one.works for one in read))


@app.command()
def new(folder: Annotated[Path, typer.Argument(help="The folder to make; it must not exist yet.")]) -> None:
    """Make a starter train: a few commented files that plan as they stand."""
    from fitplan.files.starter import write_starter

    write_starter(folder)
    _console().print(f"Made {folder}.\nNext: fitplan plan {folder / 'train.yaml'} -o build", markup=False)


@app.command()
def parts(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[WORD] | show ID", help="Only parts with this word; or show and a part's id."
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """List the parts of the catalogue, all or those with a word in them, or show one of them.

    fitplan parts · fitplan parts ranger · fitplan parts show controller-compact-5v
    """
    given = words or []
    if given[:1] == ["show"] and len(given) == 2:
        _show_part(given[1], as_json)
    else:
        _list_parts(" ".join(given), as_json)


def _show_part(part_id: str, as_json: bool) -> None:
    from fitplan.errors import nearest_name
    from fitplan.files.catalogue import read_catalogue
    from fitplan.files.plain_json import to_plain
    from fitplan.report.terminal.tables import print_part

    catalogue = read_catalogue()
    if part_id not in catalogue:
        hint = nearest_name(part_id, catalogue)
        raise FitplanError(f"no part {part_id!r} in the catalogue{': ' + hint if hint else ''}")
    if as_json:
        _print_json(to_plain(catalogue[part_id]))
    else:
        print_part(catalogue[part_id], _console())


def _list_parts(word: str, as_json: bool) -> None:
    from fitplan.files.catalogue import read_catalogue
    from fitplan.files.plain_json import to_plain
    from fitplan.report.terminal.tables import print_parts

    found = [part for part in read_catalogue().values() if _has_word(part, word)]
    if as_json:
        _print_json([to_plain(part) for part in found])
    elif found:
        print_parts(found, _console())
    else:
        raise FitplanError(f"no part with {word!r} in its id, name or family; fitplan parts lists all")


FAULT = 3
"""Exit status when the program itself is at fault."""


def main() -> None:
    """Run the command line; whatever goes wrong ends in one clear text and an exit status of the table."""
    _open_streams()
    try:
        app()
    except SystemExit as ending:
        sys.exit(_flushed(ending.code))
    except InputError as error:
        count = len(error.mistakes)
        many = f"{count} mistake{'s' if count != 1 else ''} found; nothing was written."
        _complain(f"{error}\n{many}")
        sys.exit(2)
    except FitplanError as error:
        _complain(f"fitplan: {error}")
        sys.exit(2)
    except ContradictionError as error:
        _complain(f"fitplan: {error}")
        sys.exit(FAULT)
    except BrokenPipeError:
        _let_go(sys.stdout)
        sys.exit(0)
    except KeyboardInterrupt:
        _complain("Stopped; nothing was half-written.")
        sys.exit(130)
    except OSError as error:
        _let_go(sys.stdout)
        _complain(f"fitplan: cannot read or write: {error.strerror or error}")
        sys.exit(2)
    except Exception as error:
        if os.environ.get("FITPLAN_TRACEBACK"):
            raise
        reason = " ".join(f"{type(error).__name__}: {error}".split())[:200]
        _complain(
            f"fitplan: a fault of the program, not of your files ({reason}). Nothing was half-written.\n"
            "Please report it with the command and the files; FITPLAN_TRACEBACK=1 shows where it happened."
        )
        sys.exit(FAULT)


def _open_streams() -> None:
    """Give the program streams to write to, also where the caller has closed them."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - for good
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")


def _flushed(code: Any) -> Any:
    """Write what is still held back; return the exit status, another one when that fails."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _let_go(sys.stdout)
    except (OSError, ValueError) as error:
        _let_go(sys.stdout)
        _complain(f"fitplan: cannot write the output: {getattr(error, 'strerror', None) or error}")
        return 2
    return code


def _let_go(stream: Any) -> None:
    """Let a stream that cannot be written lead nowhere, so that the end of the program is quiet."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _complain(text: str) -> None:
    from fitplan.report.terminal.screen import visible

    try:
        sys.stderr.write(visible(text) + "\n")
        sys.stderr.flush()
    except (OSError, ValueError):
        _let_go(sys.stderr)
