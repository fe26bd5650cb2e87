"""Commands that ask something of a train: plan, fit, sweep, check."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from fitplan.budget import Budget
from fitplan.cli.frame import (
    DeadlineOption,
    EffortOption,
    ForceOption,
    JsonOption,
    SeedOption,
    TrainArgument,
    TrainsArgument,
    app,
    console,
    exit_as,
    has_word,
    print_document,
    progress_bar,
    read_train,
    say,
)
from fitplan.errors import FitplanError

if TYPE_CHECKING:
    from fitplan.model.proposed import FitRow

WANTED = ("fitplan.planning.run", "fitplan.report.plan_folder")
"""What both processes want; the first has use for it from the first to the last."""
BESIDE = ("fitplan.kernels.ready", "fitplan.report.lists.spreadsheet", "fitplan.report.mesh_files")
"""What the second process alone loads while it has nothing else to do."""


class Paper(StrEnum):
    """Paper sizes of the printed sheets."""

    a4 = "A4"
    letter = "Letter"


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
    paper: Annotated[
        Paper, typer.Option(metavar="A4|Letter", help="Paper of the printed sheets.")
    ] = Paper.a4,
    force: ForceOption = False,
    keep: Annotated[
        Path | None,
        typer.Option(metavar="PLAN", help="A plan that is built: keep all of it that need not go."),
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Print all tables, not only what one screen takes.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Place every part, run every wire, check that it will work, and write the plan.

    With `--keep`, or where the train file says what is built, all of that stays unless something must go; the
    plan says what is new, moved, unsoldered and cut again.
    """
    from fitplan.processes import second_process, spare_the_collector

    spare_the_collector()
    budget = Budget.usual(effort=effort, deadline_s=deadline)
    with second_process(WANTED, BESIDE) as beside:
        read = read_train(train)
        if keep is not None:
            from dataclasses import replace

            from fitplan.files.plan_json import read_plan
            from fitplan.model.as_built import as_measured
            from fitplan.workbench.as_built import as_built_of

            read = replace(
                read, as_built=as_measured(as_built_of(read_plan(keep)), read.measured, read.catalogue)
            )
        if output is not None:
            from fitplan.files.owned_folder import check_folder
            from fitplan.report.always import ALWAYS

            check_folder(output, ALWAYS, force=force)
        from fitplan.planning.run import PlanOptions, plan_train

        with progress_bar(as_json) as progress:
            made = plan_train(read, PlanOptions(budget, seed), progress, beside)
            from fitplan.surface import confirm

            if output is None:
                confirm(made)
            else:
                from fitplan.files.owned_folder import write_owned
                from fitplan.report.plan_folder import Meanwhile, plan_files

                progress("writing", 0.95)
                size: Literal["A4", "Letter"] = "Letter" if paper is Paper.letter else "A4"
                meanwhile = Meanwhile.begin(made, size, beside)
                confirm(made)
                files = plan_files(made, size, meanwhile)
                write_owned(output, files, train=_seen_from(output, train), force=force)
    if as_json:
        from fitplan.files.plan_json import plan_to_json
        from fitplan.report.terminal.screen import escaped

        sys.stdout.write(escaped(plan_to_json(made).decode()))
    else:
        from fitplan.report.terminal.brief import print_brief
        from fitplan.report.terminal.tables import print_plan

        next_step = (
            f"Written to {output}: open {output / 'report.html'} to look at the train."
            if output is not None
            else "Next: fitplan plan … -o build writes the lists, the page and the sheets."
        )
        (print_plan if everything else print_brief)(made, console(), next_step)
    exit_as(made.works)


@app.command("write-out")
def write_out(train: TrainArgument) -> None:
    """Write the nets that `usual nets: yes` stands for into the train file, to be changed there."""
    from fitplan.files.document import Row, read_document
    from fitplan.files.find import find_train
    from fitplan.files.write import write_file
    from fitplan.files.write_out import written_out

    read = read_train(train)
    path = find_train(train)
    document = read_document(path, [])
    own = document.get("nets") if document is not None else None
    own = own if isinstance(own, Row) else Row()
    text = written_out(path.read_text(encoding="utf-8"), read.nets, own)
    write_file(path, text.encode(), force=True)
    say(f"{len(read.nets) - len(own)} nets written into {path}.")


@app.command()
def fit(
    train: TrainArgument,
    seed: SeedOption = 0,
    deadline: DeadlineOption = None,
    effort: EffortOption = 1.0,
    as_json: JsonOption = False,
) -> None:
    """Tell which of the allowed parts go into which vehicle, and why not."""
    from fitplan.checks import run_unplaced_checks
    from fitplan.model.verdict import fit_verdict
    from fitplan.planning.run import PlanOptions, fit_table
    from fitplan.report.terminal.tables import stops_of

    budget = Budget.usual(effort=effort, deadline_s=deadline)
    read = read_train(train)
    with progress_bar(as_json) as progress:
        rows = fit_table(read, PlanOptions(budget, seed), progress)
    stops = stops_of(run_unplaced_checks(read))
    _show_rows(rows, as_json, stops)
    if not as_json:
        say("\nNext: fitplan plan … chooses among them and runs the wires.")
    exit_as(fit_verdict(rows).holds and not stops)


@app.command()
def sweep(
    trains: TrainsArgument,
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
    """Ask of many parts of the catalogue which vehicles they would fit into, of one train or many."""
    from fitplan.model.verdict import fit_verdict
    from fitplan.planning.sweep import sweep_trains

    if output is not None:
        from fitplan.files.write import check_journal

        check_journal(output)
    asked = []
    for train in trains:
        read = read_train(train)
        parts = [part for part in read.catalogue.values() if has_word(part, word) and part.family != "wire"]
        if not parts:
            raise FitplanError(f"no part with {word!r} in its id, name or family; fitplan parts lists all")
        asked.append((read, parts))
    rows: list[FitRow] = []
    with progress_bar(as_json) as progress:
        swept = sweep_trains(asked, journal=output, processes=processes, seed=seed, progress=progress)
        for (read, _), own in zip(asked, swept, strict=True):
            # Of several trains each vehicle is told with its train.
            rows += own if len(asked) == 1 else [replace(r, vehicle=f"{read.name}: {r.vehicle}") for r in own]
    _show_rows(rows, as_json)
    exit_as(fit_verdict(rows).holds)


def _show_rows(rows: Sequence[FitRow], as_json: bool, stops: tuple[str, ...] = ()) -> None:
    from fitplan.model.verdict import fit_verdict
    from fitplan.report.documents import FitDocument
    from fitplan.report.terminal.tables import print_fit

    if as_json:
        print_document(FitDocument(fit_verdict(rows).verdict, tuple(rows), stops))
    else:
        print_fit(rows, console(), stops)


@app.command()
def check(train: TrainArgument, as_json: JsonOption = False) -> None:
    """Read a train and its files, and show what was understood, layer by layer."""
    from fitplan.checks import run_unplaced_checks
    from fitplan.report.documents import CheckDocument
    from fitplan.report.terminal.tables import print_check, print_outcomes, stops_of
    from fitplan.report.terminal.train_tables import print_train

    read = read_train(train)
    outcomes = run_unplaced_checks(read)
    if as_json:
        print_document(CheckDocument(read, tuple(outcomes)))
    else:
        print_check(stops_of(outcomes), console())
        print_train(read, console())
        print_outcomes(outcomes, console())
        say("\nNext: fitplan fit … tells what goes where; fitplan plan … makes the plan.")
    exit_as(not any(finding.severity == "stop" for outcome in outcomes for finding in outcome.findings))
