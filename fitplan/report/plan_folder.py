"""Every file of a plan by name: what ``fitplan plan -o`` writes. The report names all the others."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from fitplan.checks.stopping import proposed_trip
from fitplan.files.plan_json import plan_schema, plan_to_json
from fitplan.model.bring_up import bring_up_tests
from fitplan.model.plan import Plan
from fitplan.pins.bring_up import bring_up_program
from fitplan.pins.header import pin_header
from fitplan.processes import SecondProcess, begin
from fitplan.report.drawings.drawing import Drawing, svg_bytes
from fitplan.report.drawings.end_view import window_drawings
from fitplan.report.drawings.layer_drawing import bench_of, layer_drawing
from fitplan.report.drawings.sheet_references import SheetReference
from fitplan.report.drawings.train_drawing import side_drawing, top_drawing
from fitplan.report.drawings.wiring_drawing import wiring_drawing
from fitplan.report.lists.every_list import all_lists
from fitplan.report.lists.plan_list import csv_bytes
from fitplan.report.mesh_files import mesh_files
from fitplan.report.page.page import page_bytes, page_template
from fitplan.report.sheets.pad import Paper
from fitplan.report.sheets.printed_sheets import printed_sheets
from fitplan.report.terminal.summary import summary_text


@dataclass(frozen=True)
class Meanwhile:
    """Files that may be made in a process of their own; each is called for what has come of it.

    Attributes
    ----------
    meshes
        Gives names, contents and what each mesh is.
    printed
        Gives the wiring drawing, and the printed sheets with what each of them shows.
    workbook
        Gives the workbook.
    """

    meshes: Callable[[], tuple[tuple[str, bytes, str], ...]]
    printed: Callable[[], tuple[Drawing, bytes, tuple[SheetReference, ...]]]
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
    files: dict[str, bytes] = {}
    about: dict[str, str] = {}

    def put(name: str, content: bytes | str, what: str) -> None:
        files[name] = content.encode("utf-8", "replace") if isinstance(content, str) else content
        about[name] = what

    put("sheets.pdf", b"", f"the sheets to print at 1:1, {paper}")
    put("summary.txt", summary_text(plan), "the plan in plain text")
    sheets = all_lists(plan)
    put("lists.xlsx", b"", "all lists as one workbook")
    for sheet in sheets:
        place = "" if sheet.name in {"parts", "harness", "bundles"} else "lists/"
        put(f"{place}{sheet.name}.csv", csv_bytes(sheet), f"{sheet.title}, as CSV")
    put("drawings/wiring.svg", b"", "the wiring drawing")
    put("drawings/train-side.svg", svg_bytes(side_drawing(plan)), "the train from its right side, 1:1")
    put("drawings/train-above.svg", svg_bytes(top_drawing(plan)), "the train from above, 1:1")
    for order, drawing in enumerate(window_drawings(plan), 1):
        put(f"drawings/window-{order}.svg", svg_bytes(drawing), f"{drawing.title}, 1:1")
    for order, entry in enumerate(plan.built.train.vehicles, 1):
        bench = bench_of(plan, entry)
        for layer, section in enumerate(bench.sections, 1):
            drawing = layer_drawing(plan, bench, section)
            what = f"{entry.name}: {drawing.title}, 1:1"
            put(f"drawings/vehicle-{order}-layer-{layer:02}.svg", svg_bytes(drawing), what)
    for name, content, what in meanwhile.meshes():
        put(name, content, what)
    if plan.built.pin_map:
        figures = []
        if (distance := proposed_trip(plan.built)) > 0:
            own = plan.built.train.running.trip_distance > 0
            whose = "as the train file says" if own else "the least that is safe, rounded up"
            figures.append(("TRIP_DISTANCE_MM", distance, f"brake at this reading, mm: {whose}"))
        header = pin_header(plan.built.pin_map, plan.built.train.name, figures)
        put("train_pins.h", header, "the pin map as a C header")
        for name, program in _programs(plan):
            put(name, program, "a program that tries what is on the pins, one thing after the other")
    put(
        "plan.json",
        plan_to_json(plan),
        "the whole plan, for other programs and for fitplan verify and compare",
    )
    schema = json.dumps(plan_schema(), indent=1, ensure_ascii=False, sort_keys=True) + "\n"
    put("plan.schema.json", schema, "the JSON Schema of plan.json")
    page_template()  # loaded while the sheets are waited for, as the page is filled in behind them
    wiring, files["sheets.pdf"], references = meanwhile.printed()
    files["drawings/wiring.svg"] = svg_bytes(wiring)
    page = page_bytes(plan, about, references, wiring)
    files["lists.xlsx"] = meanwhile.workbook()
    return {"report.html": page, **files}


def _programs(plan: Plan) -> Iterator[tuple[str, str]]:
    """Give the test program of each controller, by the name of its file."""
    tests = bring_up_tests(plan.built)
    controllers = list(dict.fromkeys(test.controller for test in tests))
    for order, controller in enumerate(controllers, 1):
        own = [test for test in tests if test.controller == controller]
        name = "bring_up.cpp" if len(controllers) == 1 else f"bring_up_{order}.cpp"
        title = plan.built.train.name
        yield name, bring_up_program(plan.built.pin_map, own, controller, "train_pins.h", title)


def _printed(plan: Plan, paper: Paper) -> tuple[Drawing, bytes, tuple[SheetReference, ...]]:
    """Return the wiring drawing, and the printed sheets that show it, too."""
    wiring = wiring_drawing(plan)
    return (wiring, *printed_sheets(plan, paper, wiring))


def _workbook(plan: Plan) -> bytes:
    """Return the workbook; its library takes long to load, so only who makes it loads it."""
    from fitplan.report.lists.spreadsheet import spreadsheet_bytes

    return spreadsheet_bytes(all_lists(plan))


def _meshes(plan: Plan) -> tuple[tuple[str, bytes, str], ...]:
    """Return the meshes of a plan."""
    return tuple(mesh_files(plan))
