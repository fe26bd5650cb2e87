"""Commands about written plans: verify, compare, test."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fitplan.cli.frame import ForceOption, JsonOption, app, console, exit_as, print_document, read_train, say
from fitplan.errors import FitplanError

if TYPE_CHECKING:
    from fitplan.model.train import Train


def train_of(folder: Path) -> Train | None:
    """Return the train that a folder's plan is of, where its files are still to be found and read."""
    from fitplan.files.catalogue import examples_folder
    from fitplan.files.owned_reading import standing_files

    name = standing_files(folder).train
    if not name:
        return None
    path = folder / name if "/" in name else examples_folder() / name / "train.yaml"
    try:
        return read_train(str(path)) if path.is_file() else None
    except FitplanError:
        return None  # it has changed so much that it can no longer be read: nothing to compare with


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
    from fitplan.files.plan_json import read_plan
    from fitplan.recheck import recheck
    from fitplan.report.documents import VerificationDocument
    from fitplan.report.terminal.tables import print_verification
    from fitplan.surface import verdict

    folder = plan_file if plan_file.is_dir() else plan_file.parent
    read = read_plan(plan_file)
    report = recheck(read, read_train(train) if train else train_of(folder))
    if as_json:
        print_document(
            VerificationDocument(
                report.holds,
                read.works,
                verdict(read),
                report.problems,
                report.checked,
                report.trusted,
            )
        )
    else:
        print_verification(report, read, console())
    exit_as(report.holds and read.works)


@app.command("test")
def judge_readings(
    readings: Annotated[
        Path, typer.Argument(metavar="READINGS", help="The plan's lists/meter.csv with readings filled in.")
    ],
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json, or the folder it is in.")],
    as_json: JsonOption = False,
) -> None:
    """Judge meter readings of the finished harness: what is wrong, what it means, and where to look.

    A reading is a number such as 0.4, 1.2k or 5.02 V, or OL for an open circuit. Exit status 1 when one is
    wrong or missing.
    """
    from fitplan.files.plan_json import read_plan
    from fitplan.files.readings import read_readings
    from fitplan.report.documents import ReadingsDocument
    from fitplan.report.terminal.readings import print_judged
    from fitplan.workbench.judging import judge

    meter = read_plan(plan_file).meter
    judged = judge(meter, read_readings(readings, {entry.number: entry.quantity for entry in meter.tests}))
    if as_json:
        print_document(ReadingsDocument.of(judged))
    else:
        print_judged(judged, meter, console())
    exit_as(judged.passed)


@app.command()
def freeze(
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json, or the folder it is in.")],
    train: Annotated[
        str, typer.Option(metavar="TRAIN", help="Its train file, where the folder does not name it.")
    ] = "",
) -> None:
    """Write a plan's places, pins, wires and their ways into its train file as built; all else stays.

    A later plan keeps them unless something must go, and says what is new, moved, unsoldered and cut again.
    """
    from os.path import normpath

    from fitplan.files.catalogue import examples_folder
    from fitplan.files.find import find_train
    from fitplan.files.freeze import frozen
    from fitplan.files.owned_reading import standing_files
    from fitplan.files.plan_json import read_plan
    from fitplan.files.write import write_file
    from fitplan.workbench.as_built import as_built_of

    plan = read_plan(plan_file)
    folder = plan_file if plan_file.is_dir() else plan_file.parent
    name = "" if train else standing_files(folder).train
    path = find_train(train) if train else folder / name if "/" in name else None
    if path is None or not path.is_file() or examples_folder() in path.resolve().parents:
        raise FitplanError(
            f"which file is to be frozen? {folder} names none of yours: say it with --train TRAIN"
        )
    there = as_built_of(plan)
    write_file(path, frozen(path.read_text(encoding="utf-8"), there).encode(), force=True)
    stays = f"{len(there.parts)} parts, {len(there.pins)} pins and {len(there.wires)} wires"
    say(f"{stays} as built in {normpath(path)}.")


@app.command()
def compare(
    plans: Annotated[
        list[Path], typer.Argument(metavar="PLAN…", help="Two or more plans, the first is the base.")
    ],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FILE", help="Write the comparison as a page.")
    ] = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Show what changed between plans: parts, places, lengths, hours, findings."""
    from fitplan.files.plan_json import read_plan
    from fitplan.files.write import check_file, write_file
    from fitplan.report.comparison import compare_plans, comparison_page, print_comparison
    from fitplan.report.documents import ComparisonDocument

    if len(plans) < 2:
        raise typer.BadParameter("give at least two plans to compare")
    if output is not None:
        check_file(output, force=force)
    read = [read_plan(path) for path in plans]
    compared = [compare_plans(read[0], other) for other in read[1:]]
    if output is not None:
        write_file(output, comparison_page(compared).encode(), force=force)
    if as_json:
        print_document(ComparisonDocument(tuple(compared)))
    else:
        for comparison in compared:
            print_comparison(comparison, console())
    exit_as(all(one.works for one in read))
