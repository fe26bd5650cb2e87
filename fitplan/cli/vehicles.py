"""Commands about one vehicle: from a mesh, from measurements, its clear spaces."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fitplan.cli.frame import (
    ForceOption,
    JsonOption,
    app,
    console,
    print_document,
    progress_bar,
    say,
    vehicle_app,
)
from fitplan.errors import FitplanError

if TYPE_CHECKING:
    from fitplan.meshes.running_gear import Gear
    from fitplan.model.solids import Direction


class VehicleKind(StrEnum):
    """Kinds of vehicles."""

    loco = "loco"
    wagon = "wagon"
    railcar = "railcar"
    road = "road"


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
    from fitplan.files.read import read_vehicle
    from fitplan.meshes.cavities import cavities_of
    from fitplan.report.documents import CavitiesDocument
    from fitplan.report.terminal.cavity_table import print_cavities

    found = cavities_of(read_vehicle(vehicle), read_catalogue().values(), least_mm3=least)
    if as_json:
        print_document(CavitiesDocument(tuple(found)))
    else:
        print_cavities(found, console())


@vehicle_app.command()
def photo(
    output: Annotated[Path, typer.Option("--output", "-o", metavar="FILE", help="The page to write.")],
    force: ForceOption = False,
) -> None:
    """Write a page that takes measures from a photograph of a side by clicking; it needs no network."""
    from fitplan.files.write import check_file, write_file
    from fitplan.report.photo import photo_page

    check_file(output, force=force)
    write_file(output, photo_page(), force=force)
    say(f"Written to {output}: open it in a browser.\nNext: fitplan vehicle measure, with what it gives")


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
        float | None,
        typer.Option(metavar="MM", min=0, help="Height of the body's lowest point above the rail head."),
    ] = None,
    kind: Annotated[
        VehicleKind, typer.Option(metavar="loco|wagon|railcar|road", help="What kind of vehicle it is.")
    ] = VehicleKind.loco,
    pitch: Annotated[float, typer.Option(metavar="MM", min=0.1, max=8.0, help="Edge of a voxel.")] = 0.8,
    closed: Annotated[
        list[str] | None,
        typer.Option(metavar="SIDE", help="A side that counts as closed, +z for an open wagon; repeatable."),
    ] = None,
    removable: Annotated[
        list[str] | None,
        typer.Option(metavar="OBJECT=BRICK", help="Objects or #colours of the file that may come out."),
    ] = None,
    objects: Annotated[
        list[str] | None,
        typer.Option(
            "--object", metavar="OBJECT=WHAT", help="It is a wheel, coupling, body, or apart; repeatable."
        ),
    ] = None,
    least: Annotated[
        float, typer.Option("--least-cavity", metavar="MM3", min=0, help="Smaller clear spaces are left out.")
    ] = 1000.0,
    force: ForceOption = False,
) -> None:
    """Make a vehicle file from a mesh, with proposals for openings, windows and ports to confirm.

    Objects of the file named `removable: NAME`, `built in: NAME` or `keep-clear` say what may come out,
    what is in the vehicle already, and what must stay clear.
    """
    from fitplan.files.write import check_file, write_file
    from fitplan.meshes.from_mesh import MeshOptions
    from fitplan.meshes.from_mesh import vehicle_from_mesh as convert
    from fitplan.meshes.read_back import written
    from fitplan.report.terminal.mesh_screen import print_mesh

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
        objects=dict(_object(text) for text in objects or []),
    )
    sidecar = output.with_suffix(".npz")
    if sidecar == output:
        raise FitplanError(f"found -o {output}; expected the name of a vehicle file, such as loco.yaml")
    check_file(output, force=force)
    check_file(sidecar, force=force)
    with progress_bar() as progress:
        made = convert(mesh, options, progress)
    for path, data in written(made, mesh, output):
        write_file(path, data, force=force)
    print_mesh(made, console())
    say(f"\nWritten to {output}.\nNext: fitplan cavities {output}")


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
    force: ForceOption = False,
) -> None:
    """Make a vehicle file from the few dimensions that a ruler gives, for common body forms."""
    from fitplan.files.write import check_file, write_file
    from fitplan.meshes.forms import FORMS, form_named, measure
    from fitplan.meshes.vehicle_text import vehicle_yaml

    if not form:
        for entry in FORMS:
            say(f"{entry.name:12} {entry.text}")
        say("\nNext: fitplan vehicle measure 'hood loco' -o loco.yaml")
        return
    chosen = form_named(form)
    if output is not None:
        check_file(output, force=force)
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
    write_file(output, text.encode(), force=force)
    say(f"Written to {output}: correct it in the text.\nNext: fitplan cavities {output}")


def _pair(text: str) -> tuple[str, str]:
    name, equals, brick = text.partition("=")
    if not equals or not name.strip() or not brick.strip():
        raise FitplanError(f"found --removable {text!r}; expected OBJECT=BRICK, such as '#ff0000=grille'")
    return name.strip(), brick.strip()


def _object(text: str) -> tuple[str, Gear]:
    from fitplan.meshes.running_gear import KINDS

    name, _, what = text.rpartition("=")
    for kind in KINDS:
        if name.strip() and what.strip() == kind:
            return name.strip(), kind
    raise FitplanError(f"found --object {text!r}; expected OBJECT=WHAT, one of {', '.join(KINDS)}")


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
