"""Every file of a plan by name: what ``fitplan plan -o`` writes. The report names all the others."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from fitplan.checks.stopping import proposed_trip
from fitplan.files.plan_json import plan_schema, plan_to_json
from fitplan.model.bring_up import bring_up_tests
from fitplan.model.plan import Plan
from fitplan.pins.bring_up import bring_up_program
from fitplan.pins.header import pin_header
from fitplan.processes import SecondProcess, begin
from fitplan.report.drawings.drawing import Drawing, svg_bytes
from fitplan.report.drawings.end_view import window_drawings
from fitplan.report.drawings.layer_drawing import Layers, layers_of
from fitplan.report.drawings.sheet_references import SheetReference
from fitplan.report.drawings.train_drawing import side_drawing, top_drawing
from fitplan.report.drawings.wiring_drawing import wiring_drawing
from fitplan.report.lists.every_list import all_lists
from fitplan.report.lists.plan_list import csv_bytes
from fitplan.report.page.page import page_bytes, page_template
from fitplan.report.sheets.pad import Paper
from fitplan.report.sheets.printed_sheets import printed_sheets
from fitplan.report.terminal.summary import summary_text

NamedFile: TypeAlias = tuple[str, bytes, str]
"""The name of a file, its content, and what it is."""


@dataclass(frozen=True)
class Meanwhile:
    """Files that may be made in a process of their own; each is called for what has come of it.

    Attributes
    ----------
    meshes
        Gives names, contents and what each mesh is.
    printed
        Gives the wiring drawing, each layer as a file, and the printed sheets with what each of them shows.
    workbook
        Gives the workbook.
    """

    meshes: Callable[[], tuple[NamedFile, ...]]
    printed: Callable[[], tuple[Drawing, tuple[NamedFile, ...], bytes, tuple[SheetReference, ...]]]
    workbook: Callable[[], bytes]

    @classmethod
    def begin(cls, plan: Plan, paper: Paper, beside: SecondProcess | None) -> Meanwhile:
        """Have them made in a process of its own, where there is one; else when they are asked for."""
        return cls(
            begin(beside, _meshes, plan), begin(beside, _printed, plan, paper), begin(beside, _workbook, plan)
        )


def plan_files(plan: Plan, paper: Paper = "A4", meanwhile: Meanwhile | None = None) -> dict[str, bytes]:
    """Return every output of a plan: contents by name, the report first, which names all the others.

    The same plan gives the same bytes.

    Parameters
    ----------
    meanwhile
        What is made of the same plan for the same paper meanwhile.
    """
    meanwhile = meanwhile or Meanwhile.begin(plan, paper, None)
    lists, drawings, others = list(_lists(plan)), list(_drawings(plan)), list(_other_files(plan))
    page_template()  # loaded while the sheets are waited for, as the page is filled in behind them
    wiring, layers, sheets, references = meanwhile.printed()
    named: list[NamedFile] = [
        ("sheets.pdf", sheets, f"the sheets to print at 1:1, {paper}"),
        ("summary.txt", _encoded(summary_text(plan)), "the plan in plain text"),
        ("lists.xlsx", b"", "all lists as one workbook"),
        *lists,
        ("drawings/wiring.svg", svg_bytes(wiring), "the wiring drawing"),
        *drawings,
        *layers,
        *meanwhile.meshes(),
        *others,
    ]
    page = page_bytes(plan, {name: what for name, _, what in named}, references, wiring)
    files = {"report.html": page, **{name: content for name, content, _ in named}}
    files["lists.xlsx"] = meanwhile.workbook()
    return files


def _encoded(text: str) -> bytes:
    return text.encode("utf-8", "replace")


def _lists(plan: Plan) -> Iterator[NamedFile]:
    for sheet in all_lists(plan):
        place = "" if sheet.name in {"parts", "harness", "bundles"} else "lists/"
        yield f"{place}{sheet.name}.csv", csv_bytes(sheet), f"{sheet.title}, as CSV"


def _drawings(plan: Plan) -> Iterator[NamedFile]:
    """Give the drawings of the train, and those of windows."""
    yield "drawings/train-side.svg", svg_bytes(side_drawing(plan)), "the train from its right side, 1:1"
    yield "drawings/train-above.svg", svg_bytes(top_drawing(plan)), "the train from above, 1:1"
    for order, drawing in enumerate(window_drawings(plan), 1):
        yield f"drawings/window-{order}.svg", svg_bytes(drawing), f"{drawing.title}, 1:1"


def _layer_files(layers: Layers) -> Iterator[NamedFile]:
    for order, (bench, drawings) in enumerate(layers, 1):
        for layer, drawing in enumerate(drawings, 1):
            what = f"{bench.entry.name}: {drawing.title}, 1:1"
            yield f"drawings/vehicle-{order}-layer-{layer:02}.svg", svg_bytes(drawing), what


def _other_files(plan: Plan) -> Iterator[NamedFile]:
    """Give the pin map, programs, and the plan for other programs."""
    if plan.built.pin_map:
        figures = []
        if (distance := proposed_trip(plan.built)) > 0:
            own = plan.built.train.running.trip_distance > 0
            whose = "as the train file says" if own else "the least that is safe, rounded up"
            figures.append(("TRIP_DISTANCE_MM", distance, f"brake at this reading, mm: {whose}"))
        header = pin_header(plan.built.pin_map, plan.built.train.name, figures)
        yield "train_pins.h", _encoded(header), "the pin map as a C header"
        for name, program in _programs(plan):
            what = "a program that tries what is on the pins, one thing after the other"
            yield name, _encoded(program), what
    what = "the whole plan, for other programs and for fitplan verify and compare"
    yield "plan.json", plan_to_json(plan), what
    schema = json.dumps(plan_schema(), indent=1, ensure_ascii=False, sort_keys=True) + "\n"
    yield "plan.schema.json", _encoded(schema), "the JSON Schema of plan.json"


def _programs(plan: Plan) -> Iterator[tuple[str, str]]:
    """Give the test program of each controller, by the name of its file."""
    tests = bring_up_tests(plan.built)
    controllers = list(dict.fromkeys(test.controller for test in tests))
    for order, controller in enumerate(controllers, 1):
        own = [test for test in tests if test.controller == controller]
        name = "bring_up.cpp" if len(controllers) == 1 else f"bring_up_{order}.cpp"
        title = plan.built.train.name
        yield name, bring_up_program(plan.built.pin_map, own, controller, "train_pins.h", title)


def _printed(
    plan: Plan, paper: Paper
) -> tuple[Drawing, tuple[NamedFile, ...], bytes, tuple[SheetReference, ...]]:
    """Return the wiring drawing, each layer as a file, and the printed sheets, which show these, too."""
    wiring, layers = wiring_drawing(plan), layers_of(plan)
    return (wiring, tuple(_layer_files(layers)), *printed_sheets(plan, paper, wiring, layers))


def _workbook(plan: Plan) -> bytes:
    """Return the workbook; its library takes long to load, so only who makes it loads it."""
    from fitplan.report.lists.spreadsheet import spreadsheet_bytes

    return spreadsheet_bytes(all_lists(plan))


def _meshes(plan: Plan) -> tuple[NamedFile, ...]:
    """Return the meshes of a plan; their library takes long to load, so only who makes them loads it."""
    from fitplan.report.mesh_files import mesh_files

    return tuple(mesh_files(plan))
