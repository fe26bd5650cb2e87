"""What all commands share: the program, options that return, how results are printed and ended with."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fitplan import __version__

if TYPE_CHECKING:
    from rich.console import Console

    from fitplan.model.part import Part
    from fitplan.model.train import Train
    from fitplan.planning.run import Progress

app = typer.Typer(
    name="fitplan",
    help="Plan where controllers, sensors, cells and wires go inside brick-built trains.",
    epilog="Start with: fitplan plan harbour-line -o build   (an example that comes with fitplan)",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
vehicle_app = typer.Typer(
    help="Make a vehicle file from a mesh or from a few measurements.", no_args_is_help=True
)
app.add_typer(vehicle_app, name="vehicle")


def examples_with(incomplete: str) -> list[str]:
    """Return what a train's name may go on to; files are completed by the shell."""
    from fitplan.files.find import example_names

    return [name for name in example_names() if name.startswith(incomplete)]


def starters_with(incomplete: str) -> list[str]:
    """Return what the name of a starter or an example may go on to."""
    from fitplan.files.starter import gallery_names

    return [*(name for name in gallery_names() if name.startswith(incomplete)), *examples_with(incomplete)]


TrainArgument = Annotated[
    str,
    typer.Argument(
        metavar="TRAIN",
        help="A train file, a folder with a train.yaml, or an example's name.",
        autocompletion=examples_with,
    ),
]
TrainsArgument = Annotated[
    list[str],
    typer.Argument(
        metavar="TRAIN…",
        help="Train files, folders with a train.yaml, or names of examples.",
        autocompletion=examples_with,
    ),
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


ForceOption = Annotated[
    bool, typer.Option("--force", help="Replace what stands there and fitplan did not write.")
]


def console(error: bool = False) -> Console:
    """Return a console on standard output or standard error."""
    from fitplan.report.terminal.screen import console as made

    return made(error)


def print_document(value: Any) -> None:
    """Print one of the documents of ``report.documents`` as JSON."""
    from fitplan.report.documents import document
    from fitplan.report.terminal.screen import print_json

    print_json(document(value))


def say(text: str) -> None:
    """Print a text as it stands."""
    console().print(text, markup=False)


def read_train(name: str) -> Train:
    """Return the train of a file, a folder or an example's name."""
    from fitplan.files.find import find_train
    from fitplan.files.read import read_other_wirings, read_train
    from fitplan.planning.suitable_wiring import suitably_wired

    path = find_train(name)
    return suitably_wired(read_train(path), lambda: read_other_wirings(path))


@contextmanager
def progress_bar(quiet: bool = False) -> Iterator[Progress]:
    """Show a bar on standard error while it is a terminal; otherwise say nothing."""
    if quiet or not sys.stderr.isatty():
        yield lambda stage, share: None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=console(True),
        transient=True,
    ) as bar:
        task = bar.add_task("", total=1.0)
        yield lambda stage, share: bar.update(task, description=stage, completed=share)


def _version(wanted: bool) -> None:
    if wanted:
        sys.stdout.write(f"fitplan {__version__}\n")
        raise typer.Exit


def exit_as(well: bool) -> None:
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


def has_word(part: Part, word: str) -> bool:
    """Return whether a word is in a part's id, name or family."""
    return word.lower() in f"{part.id} {part.name} {part.family}".lower()
