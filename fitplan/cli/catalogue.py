"""Commands to begin with: a starter, and the parts of the catalogue."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from fitplan.cli.frame import (
    ForceOption,
    JsonOption,
    app,
    console,
    has_word,
    print_document,
    say,
    starters_with,
)
from fitplan.errors import FitplanError


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="The folder to make; it must not exist yet.")],
    example: Annotated[
        str | None,
        typer.Option(
            "--from",
            metavar="NAME",
            help="A copy of this starter or example: railcar, shunter, tank engine, coach, double-deck, "
            "tipper, tram, road vehicle …",
            autocompletion=starters_with,
        ),
    ] = None,
) -> None:
    """Make a train to start from: commented files that plan as they stand."""
    from fitplan.files.starter import write_copy, write_starter

    if example is None:
        write_starter(folder)
    else:
        write_copy(folder, example)
    say(f"Made {folder}.\nNext: fitplan plan {folder / 'train.yaml'} -o build")


@app.command()
def parts(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[WORD] | show ID | copy ID | measure ID",
            help="Only parts with this word; or show, copy or measure, and a part's id.",
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="With copy and measure: the part file to write."),
    ] = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """List the parts of the catalogue, all or those with a word in them; show one, copy one, or measure one.

    fitplan parts · fitplan parts ranger · fitplan parts show controller-compact-5v ·
    fitplan parts copy controller-compact-5v -o parts/mine.yaml ·
    fitplan parts measure controller-compact-5v -o parts/mine.yaml asks for the figures of a board like it,
    one a line; an empty line keeps what it proposes, and answers may come from a file.
    """
    given = words or []
    if given[:1] == ["copy"] and len(given) == 2:
        _copy_part(given[1], output, force)
    elif given[:1] == ["measure"] and len(given) == 2:
        _measure_part(given[1], output, force)
    elif output is not None:
        raise FitplanError("--output goes with copy or measure, and an id: fitplan parts copy ID -o FILE")
    elif given[:1] == ["show"] and len(given) == 2:
        _show_part(given[1], as_json)
    else:
        _list_parts(" ".join(given), as_json)


def _copy_part(part_id: str, output: Path | None, force: bool) -> None:
    from fitplan.files.part_copy import part_copy
    from fitplan.files.write import check_file, write_file
    from fitplan.report.terminal.screen import visible

    text = part_copy(part_id)
    if output is None:
        sys.stdout.write(visible(text))
        return
    check_file(output, force=force)
    output.parent.mkdir(parents=True, exist_ok=True)
    write_file(output, text.encode(), force=force)
    say(f"Written to {output}: put in what you measured.\nNext: fitplan check TRAIN reads it")


def _measure_part(part_id: str, output: Path | None, force: bool) -> None:
    from fitplan.files.part_measure import DRAWING, measured_part, questions
    from fitplan.files.write import check_file, write_file
    from fitplan.report.terminal.screen import visible

    if output is not None:
        check_file(output, force=force)
    asked = questions(part_id)
    typer.echo(DRAWING, err=True)
    answers: dict[str, str] = {}
    for one in asked:
        unit = " (mm)" if one.is_length else ""
        typer.echo(f"{one.text}{unit} [{visible(one.default)}]: ", err=True, nl=False)
        line = sys.stdin.readline()
        answers[one.key] = line.strip()
        if not line.endswith("\n"):
            typer.echo("", err=True)
    text = measured_part(part_id, answers)
    if output is None:
        sys.stdout.write(visible(text))
        return
    output.parent.mkdir(parents=True, exist_ok=True)
    write_file(output, text.encode(), force=force)
    say(f"Written to {output}: look through its pins and figures.\nNext: fitplan check TRAIN reads it")


def _show_part(part_id: str, as_json: bool) -> None:
    from fitplan.errors import nearest_name
    from fitplan.files.catalogue import read_catalogue
    from fitplan.report.documents import PartsDocument
    from fitplan.report.terminal.catalogue_tables import part_details

    catalogue = read_catalogue()
    if part_id not in catalogue:
        hint = nearest_name(part_id, catalogue)
        raise FitplanError(f"no part {part_id!r} in the catalogue{': ' + hint if hint else ''}")
    if as_json:
        print_document(PartsDocument((catalogue[part_id],)))
    else:
        console().print(part_details(catalogue[part_id]))


def _list_parts(word: str, as_json: bool) -> None:
    from fitplan.files.catalogue import read_catalogue
    from fitplan.report.documents import PartsDocument
    from fitplan.report.terminal.catalogue_tables import parts_table

    found = [part for part in read_catalogue().values() if has_word(part, word)]
    if as_json:
        print_document(PartsDocument(tuple(found)))
    elif found:
        console().print(parts_table(found))
    else:
        raise FitplanError(f"no part with {word!r} in its id, name or family; fitplan parts lists all")


@app.command()
def schema(
    name: Annotated[str, typer.Argument(metavar="[DOCUMENT]", help="Which; all are listed without it.")] = "",
) -> None:
    """Print the JSON Schema of what a command prints under --json."""
    from fitplan.report.documents import COMMANDS
    from fitplan.report.documents import schema as schema_of
    from fitplan.report.terminal.screen import print_json

    if name:
        print_json(schema_of(name))
    else:
        for document, commands in COMMANDS.items():
            say(f"{document:14} {', '.join(commands)}")
        say("\nNext: fitplan schema plan > plan.schema.json")
