"""Printed sheets at 1:1: every vehicle layer by layer, the steps of assembly, lists to tick, the wiring."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.found import Finding
from fitplan.model.plan import Plan
from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.end_view import window_drawings
from fitplan.report.drawings.layer_drawing import Layers, layers_of
from fitplan.report.drawings.layer_frame import BODY, LINE
from fitplan.report.drawings.pdf import fitted, pdf_bytes, wrapped
from fitplan.report.drawings.sheet_references import SheetReference, sheet_references
from fitplan.report.drawings.train_drawing import side_drawing
from fitplan.report.drawings.wiring_drawing import wiring_drawing
from fitplan.report.lists.cautions import cautions_of
from fitplan.report.lists.parts_list import parts_list
from fitplan.report.lists.plan_list import PlanList
from fitplan.report.lists.proof_words import plain_proof
from fitplan.report.lists.result_lists import fit_list
from fitplan.report.lists.verdict_words import summarise
from fitplan.report.lists.wording import headline, number, sentence, shorten, tells_a_figure
from fitplan.report.sheets.bench_sheets import bench_sheets
from fitplan.report.sheets.layer_sheets import layer_sheets
from fitplan.report.sheets.pad import EDGE, Pad, Paper, without_empty

_MOST_REFUSED = 5
CHECK = 100.0
"""Length of the ruler that is measured after printing, in mm."""


def printed_sheets(
    plan: Plan, paper: Paper = "A4", wiring: Drawing | None = None, layers: Layers | None = None
) -> tuple[bytes, tuple[SheetReference, ...]]:
    """Return the printed sheets as a PDF, and what each of them shows.

    ``wiring`` and ``layers``: these drawings, where they are there already.
    """
    pages = sheet_pages(plan, paper, wiring, layers)
    return pdf_bytes(pages, f"{plan.built.train.name}: sheets"), sheet_references(pages)


def sheet_pages(
    plan: Plan, paper: Paper = "A4", wiring: Drawing | None = None, layers: Layers | None = None
) -> list[Drawing]:
    """Return the printed sheets of a plan as drawings, each as large as the paper.

    Of a train that lacks places for its parts they say why; there is nothing to cut, join or tick off.
    """
    pad = Pad(paper, plan.built.train.name)
    layers = layers_of(plan) if layers is None else layers
    if plan.unplaced:
        _refusal(pad, plan)
        layer_sheets(pad, plan, layers)
    else:
        _cover(pad, plan)
        layer_sheets(pad, plan, layers)
        bench_sheets(pad, plan, wiring or wiring_drawing(plan))
    _findings(pad, plan)
    for place, page in enumerate(pad.pages, 1):
        _frame(page, plan, place, len(pad.pages))
    return pad.pages


def _refusal(pad: Pad, plan: Plan) -> None:
    """Say in red that there is nothing to build yet, what is short, and what was asked of each vehicle."""
    pad.turn("Not to be built as it is")
    top = pad.y
    pad.y += 3
    head = wrapped(sentence(headline(plan)[1]), 6.2, pad.width - 8, most=3)
    pad.write(head, 6.2, 6.0, 8.0, indent=4, bold=True, ink="stop")
    for need, why in plan.unplaced[:_MOST_REFUSED]:
        text = f"{shorten(need, 60)} has no place. {sentence(shorten(why, 400))}"
        lines = wrapped(text, 3.8, pad.width - 8, bold=True, most=4)
        pad.write(lines, 3.8, 4.6, 5.2, indent=4, bold=True)
        proof = next((row.proof for row in plan.fit if row.need == need and row.verdict == "cannot fit"), "")
        lines = wrapped(" ".join(plain_proof(proof)), BODY, pad.width - 8, most=6)
        pad.write(lines, BODY, 4.2, LINE, indent=4)
        pad.y += 1.5
    if len(plan.unplaced) > _MOST_REFUSED:
        pad.write([f"and {len(plan.unplaced) - _MOST_REFUSED} more parts"], 3.8, 4.6, 5.2, indent=4)
    pad.y += 3
    pad.page.rect(EDGE, top, pad.width, pad.y - top, Pen("stop", 0.9))
    pad.y += 4
    for drawing in window_drawings(plan):
        scale = min(1.0, pad.width / drawing.width)
        pad.keep(drawing.height * scale + 8.0)
        pad.page.text(
            EDGE, pad.y + 4.6, fitted(sentence(drawing.title), 3.8, pad.width, True), 3.8, bold=True
        )
        pad.page.place(drawing, EDGE, pad.y + 7.0, scale)
        pad.y += drawing.height * scale + 10.0
    _closest_and_cautions(pad, plan)
    names = {need for need, _ in plan.unplaced}
    asked = fit_list(plan).without("pose").without("cost").without("proof")
    rows = tuple(row for row in asked.rows if row[0] in names)
    asked = replace(asked, title="What was asked of each vehicle, and what is short", rows=rows)
    pad.table(without_empty(asked))


def _closest_and_cautions(pad: Pad, plan: Plan) -> None:
    """Draw where each part comes closest to a place, and write the cautions beside it."""
    drawing = side_drawing(plan)
    half = pad.width / 2 - 4.0
    scale = min(1.0, half / drawing.width, 70.0 / drawing.height)
    high = drawing.height * scale
    pad.keep(high + 8.0)
    top = pad.y
    pad.page.place(drawing, EDGE, top, scale)
    said = f"Scale 1:{number(1 / scale, 2)}. Red: where each part comes closest to a place; green: its room."
    for line in wrapped(said, BODY, half):
        pad.page.text(EDGE, top + high + 3.6, line, BODY, ink="soft")
        high += LINE
    _cautions(pad, plan, half + 8.0)
    pad.y = max(pad.y, top + high + 5.0)


def _frame(page: Drawing, plan: Plan, place: int, count: int) -> None:
    """Draw the head of a sheet, a rail under it, and the check ruler at its foot."""
    right = page.width - EDGE
    page.text(EDGE, 11.5, fitted(page.title, 5.4, page.width * 0.55, True), 5.4, bold=True)
    name = fitted(shorten(plan.built.train.name, 80), BODY, page.width * 0.3)
    page.text(right, 8.0, name, BODY, "end")
    page.text(right, 12.8, f"sheet {place} of {count}", BODY, "end", ink="soft")
    page.line(EDGE, 14.2, right, 14.2, Pen("ink", 0.5))
    sleeper = Pen(None, 0, "faint")
    for step in range(int((right - EDGE) // 4) + 1):
        page.rect(EDGE + step * 4, 14.9, 1.6, 0.9, sleeper)
    y = page.height - 6.5
    page.line(EDGE, y, EDGE + CHECK, y, Pen("ink", 0.25))
    for step in range(int(CHECK) // 10 + 1):
        long = 2.4 if step % 5 == 0 else 1.5
        page.line(EDGE + step * 10, y - long, EDGE + step * 10, y, Pen("ink", 0.25))
    text = f"Print at 100 %. This ruler must measure {number(CHECK)} mm, else the drawings are not 1:1."
    page.text(EDGE + CHECK + 4, y, text, BODY, ink="soft")


def _cover(pad: Pad, plan: Plan) -> None:
    pad.turn("The train and its parts")
    page = pad.page
    lines = wrapped(f"{sentence(headline(plan)[1])} {sentence(summarise(plan))}", 4.2, pad.width, most=4)
    pad.write(lines, 4.2, 4.6, 5.8)
    drawing = side_drawing(plan)
    scale = min(1.0, pad.width / drawing.width, 62.0 / drawing.height)
    page.place(drawing, EDGE, pad.y + 2, scale)
    pad.y += drawing.height * scale + 4
    page.text(EDGE, pad.y, f"Scale 1:{number(1 / scale, 2)}. Numbers as in the list below.", BODY, ink="soft")
    pad.y += 3
    _cautions(pad, plan)
    pad.y += 2
    rows = tuple(
        (place, entry.need, entry.part.name, entry.vehicle, entry.carried_by)
        for place, entry in enumerate(plan.built.placements, 1)
    )
    pad.table(PlanList("numbers", "Parts by number", ("no.", "need", "part", "vehicle", "carried by"), rows))
    if not plan.buying:
        pad.table(parts_list(plan), ticks=True)


def _findings(pad: Pad, plan: Plan) -> None:
    if plan.unplaced:
        pad.turn("Findings")
    pad.section("Findings")
    rows = tuple(
        (found.severity, found.where, found.message, _against(found), found.remedy)
        for found in plan.findings
        if found.severity != "note"
    )
    columns = ("weight", "where", "finding", "figure / limit", "what to do")
    note = f"Notes, {len(plan.findings) - len(rows)} in all, stand on the page and in summary.txt."
    pad.table(PlanList("findings", "Findings", columns, rows, note))


def _cautions(pad: Pad, plan: Plan, right: float = 0.0) -> None:
    """Write the usual cautions, so far from the edge (mm); they stand on page one."""
    left = EDGE + right
    pad.page.text(left, pad.y + 4.4, "Care", 4.0, bold=True)
    pad.y += 7
    for text in cautions_of(plan):
        lines = wrapped(text, BODY, pad.width - 8 - right)
        pad.keep(5 * len(lines) + 2)
        sign = [(left + 1, pad.y + 3), (left + 2.8, pad.y - 0.2), (left + 4.6, pad.y + 3)]
        pad.page.path(sign, Pen("caution", 0.4), True)
        for line in lines:
            pad.page.text(left + 7, pad.y + 2.8, line, BODY)
            pad.y += LINE
        pad.y += 0.6


def _against(found: Finding) -> str:
    if not tells_a_figure(found.unit):
        return ""
    return f"{number(found.figure, 3)} / {number(found.limit, 3)} {found.unit}"
