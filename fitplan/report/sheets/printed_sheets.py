"""Printed sheets at 1:1: every vehicle layer by layer, the steps of assembly, lists to tick, the wiring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, TypeAlias

from fitplan.model.plan import Plan
from fitplan.report.drawings.bench_drawing import board_drawing, connector_face, label_drawings
from fitplan.report.drawings.connector_drawing import connector_faces
from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.end_view import window_drawings
from fitplan.report.drawings.layer_drawing import (
    BODY,
    LINE,
    SIDE,
    bench_of,
    is_blank,
    layer_drawing,
    layer_title,
)
from fitplan.report.drawings.pdf import fitted, pdf_bytes, text_width, wrapped
from fitplan.report.drawings.scene import body_edges
from fitplan.report.drawings.step_drawing import step_drawing
from fitplan.report.drawings.train_drawing import side_drawing
from fitplan.report.drawings.wiring_drawing import wiring_drawing
from fitplan.report.drawings.wiring_layout import BREAK, wiring_layout
from fitplan.report.lists.bring_up_list import bring_up_list
from fitplan.report.lists.build_sequence import build_sequence, sequence_list
from fitplan.report.lists.buying_list import buying_list
from fitplan.report.lists.cautions import cautions_of
from fitplan.report.lists.harness_lists import (
    Cell,
    PlanList,
    connector_list,
    coupling_list,
    cut_list,
    from_to_list,
    join_list,
    parts_list,
)
from fitplan.report.lists.meter_list import READING, coverage_words, meter_stages
from fitplan.report.lists.orientation import orientation
from fitplan.report.lists.result_lists import (
    added_list,
    assembly_list,
    exchange_list,
    finding_list,
    fit_list,
    pin_list,
)
from fitplan.report.lists.verdict_words import summarise
from fitplan.report.lists.wording import headline, number, sentence, shorten, tells_a_figure
from fitplan.report.sheets.sheet_table import table_columns, table_row_height, write_head, write_row
from fitplan.units import STUD

Paper: TypeAlias = Literal["A4", "Letter"]
PAPERS: dict[Paper, tuple[float, float]] = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9)}
"""Width and height in mm, lying: ISO 216 and ANSI/ASME Y14.1."""
EDGE = 9.0
TOP = 20.0
BOTTOM = 13.0
_MOST_REFUSED = 5
CHECK = 100.0
"""Length of the ruler that is measured after printing, in mm."""


@dataclass
class _Pad:
    """Sheets of one paper, filled from the top; a new one is begun when the next thing does not fit."""

    paper: Paper
    train: str
    pages: list[Drawing] = field(default_factory=list)
    y: float = 0.0
    title: str = ""

    @property
    def page(self) -> Drawing:
        """The sheet that is being filled."""
        return self.pages[-1]

    @property
    def width(self) -> float:
        """Room across, in mm."""
        return PAPERS[self.paper][0] - 2 * EDGE

    @property
    def room(self) -> float:
        """Room left on the sheet, in mm."""
        return PAPERS[self.paper][1] - BOTTOM - self.y

    def turn(self, title: str) -> None:
        """Begin a new sheet."""
        wide, high = PAPERS[self.paper]
        self.pages.append(Drawing(wide, high, title))
        self.title, self.y = title, TOP

    def keep(self, height: float) -> None:
        """Begin a new sheet with the same title when less than ``height`` is left on this one."""
        if height > self.room and self.y > TOP:
            self.turn(self.title)

    def table(self, sheet: PlanList, ticks: bool = False, heading: bool = True, boxes: str = "") -> None:
        """Write a list over as many sheets as it takes.

        ``ticks`` puts a box before each row, ``boxes`` one into each cell of the column of this name.
        """
        columns = table_columns(sheet, self.width - (6.0 if ticks else 0.0), boxes)
        boxed = sheet.columns.index(boxes) if boxes else -1
        left = EDGE + (6.0 if ticks else 0.0)
        first = table_row_height(sheet.rows[0], columns) if sheet.rows else 6.0
        self.keep(18.0 + first)
        if heading:
            self.page.text(EDGE, self.y + 4.4, sheet.title, 4.0, bold=True)
            self.y += 6.4
        self.y += write_head(self.page, columns, left, self.y)
        if not sheet.rows:
            self.page.text(left, self.y + 3.6, "none", BODY, ink="soft")
            self.y += 6.0
        for row in sheet.rows:
            high = table_row_height(row, columns)
            if high > self.room:
                self.turn(self.title)
                self.page.text(EDGE, self.y + 4.4, f"{sheet.title}, continued", 4.0, bold=True)
                self.y += 6.4
                self.y += write_head(self.page, columns, left, self.y)
            if ticks:
                self.page.rect(EDGE + 0.6, self.y + 0.9, 3.2, 3.2, Pen("ink", 0.3))
            write_row(self.page, row, columns, left, self.y, high)
            if boxes:
                x = left + sum(column.width for column in columns[:boxed])
                self.page.rect(x + 1.0, self.y + 0.5, columns[boxed].width - 2.0, 4.3, Pen("ink", 0.25))
            self.y += high
        if sheet.note:
            self.page.text(left, self.y + 3.8, sheet.note, BODY, ink="soft")
            self.y += 5.0
        self.y += 5.0


def sheets_bytes(plan: Plan, paper: Paper = "A4") -> bytes:
    """Return the printed sheets of a plan as a PDF. Same plan, same bytes."""
    return pdf_bytes(sheet_pages(plan, paper), f"{plan.built.train.name}: sheets")


def sheet_pages(plan: Plan, paper: Paper = "A4") -> list[Drawing]:
    """Return the printed sheets of a plan as drawings, each as large as the paper.

    Of a train that lacks places for its parts they say why; there is nothing to cut, join or tick off.
    """
    pad = _Pad(paper, plan.built.train.name)
    if plan.unplaced:
        _refusal(pad, plan)
        _layers(pad, plan)
    else:
        _cover(pad, plan)
        _layers(pad, plan)
        _bench_work(pad, plan)
    _findings(pad, plan)
    for place, page in enumerate(pad.pages, 1):
        _frame(page, plan, place, len(pad.pages))
    return pad.pages


def _bench_work(pad: _Pad, plan: Plan) -> None:
    """Write what is done at the bench: buying, assembly, cutting, joining, wiring, pins."""
    if plan.buying:
        pad.turn("What to buy")
        pad.table(_without_empty(buying_list(plan)), ticks=True)
    _steps(pad, plan)
    pad.turn("Cut list")
    pad.table(cut_list(plan), ticks=True)
    _wires_told_apart(pad, plan)
    pad.turn("Joints, connectors and couplings")
    for sheet in (join_list(plan), connector_list(plan), coupling_list(plan)):
        pad.table(sheet, ticks=sheet.name != "couplings")
    for drawing in connector_faces(plan):
        pad.keep(drawing.height)
        pad.page.place(drawing, EDGE, pad.y, min(1.0, pad.width / drawing.width))
        pad.y += drawing.height
    _wiring(pad, plan)
    _meter(pad, plan)
    pad.turn("Pin map")
    pad.table(pin_list(plan))
    if plan.built.pin_map:
        pad.table(bring_up_list(plan), ticks=True, boxes="seen")


def _refusal(pad: _Pad, plan: Plan) -> None:
    """Say in red that there is nothing to build yet, what is short, and what was asked of each vehicle."""
    pad.turn("Not to be built as it is")
    top = pad.y
    pad.y += 3
    for line in wrapped(sentence(headline(plan)[1]), 6.2, pad.width - 8, most=3):
        pad.page.text(EDGE + 4, pad.y + 6.0, line, 6.2, bold=True, ink="stop")
        pad.y += 8.0
    for need, why in plan.unplaced[:_MOST_REFUSED]:
        text = f"{shorten(need, 60)} has no place. {sentence(shorten(why, 400))}"
        for line in wrapped(text, 3.8, pad.width - 8, most=4):
            pad.page.text(EDGE + 4, pad.y + 4.6, line, 3.8)
            pad.y += 5.2
        pad.y += 1.0
    if len(plan.unplaced) > _MOST_REFUSED:
        pad.page.text(EDGE + 4, pad.y + 4.6, f"and {len(plan.unplaced) - _MOST_REFUSED} more parts", 3.8)
        pad.y += 5.2
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
    _cautions(pad, plan)
    names = {need for need, _ in plan.unplaced}
    whole = fit_list(plan)
    rows = tuple(row for row in whole.rows if row[0] in names)
    pad.table(replace(whole, title="What was asked of each vehicle, and what is short", rows=rows))


def _frame(page: Drawing, plan: Plan, place: int, count: int) -> None:
    """Draw the head of a sheet, a rail under it, and the check ruler at its foot."""
    right = page.width - EDGE
    page.text(EDGE, 11.5, fitted(page.title, 5.4, page.width * 0.55, True), 5.4, bold=True)
    name = fitted(shorten(plan.built.train.name, 80), BODY, page.width * 0.3)
    page.text(right, 8.0, name, BODY, "end")
    page.text(right, 12.8, f"sheet {place} of {count}", BODY, "end", ink="soft")
    page.line(EDGE, 14.2, right, 14.2, Pen("ink", 0.5))
    for step in range(int((right - EDGE) // 4) + 1):
        page.rect(EDGE + step * 4, 14.9, 1.6, 0.9, Pen(None, 0, "faint"))
    y = page.height - 6.5
    page.line(EDGE, y, EDGE + CHECK, y, Pen("ink", 0.25))
    for step in range(int(CHECK) // 10 + 1):
        long = 2.4 if step % 5 == 0 else 1.5
        page.line(EDGE + step * 10, y - long, EDGE + step * 10, y, Pen("ink", 0.25))
    text = f"Print at 100 %. This ruler must measure {number(CHECK)} mm, else the drawings are not 1:1."
    page.text(EDGE + CHECK + 4, y, text, BODY, ink="soft")


def _cover(pad: _Pad, plan: Plan) -> None:
    pad.turn("The train and its parts")
    page = pad.page
    lines = wrapped(f"{sentence(headline(plan)[1])} {sentence(summarise(plan))}", 4.2, pad.width, most=4)
    for line in lines:
        page.text(EDGE, pad.y + 4.6, line, 4.2)
        pad.y += 5.8
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


def _layers(pad: _Pad, plan: Plan) -> None:
    for entry in plan.built.train.vehicles:
        bench = bench_of(plan, entry)
        size = f"{entry.vehicle.studs_long} × {entry.vehicle.studs_wide} studs"
        turned = ", its front looks backwards in the train" if entry.turned else ""
        pad.turn(f"{shorten(entry.name, 40)}, layer by layer, 1:1 ({size}{turned})")
        _key(pad)
        blank = [section for section in bench.sections if is_blank(plan, bench, section)]
        for window in windows(entry.vehicle.length, pad.width - 2 * SIDE):
            for section in bench.sections:
                if any(section is one for one in blank):
                    continue
                drawing = layer_drawing(plan, bench, section, window)
                if drawing.height > pad.room:
                    pad.turn(pad.title)
                    _key(pad)
                pad.page.place(drawing, EDGE, pad.y)
                pad.y += drawing.height
        if blank:
            titles = "; ".join(layer_title(section) for section in blank)
            for line in wrapped(f"Nothing to do in these layers: {titles}.", BODY, pad.width, most=8):
                pad.keep(LINE)
                pad.page.text(EDGE, pad.y + 3.4, line, BODY)
                pad.y += LINE


def windows(length: float, room: float) -> list[tuple[float, float] | None]:
    """Return the pieces that a vehicle is drawn in: one (None) when it fits, else pieces of whole studs."""
    if length <= room:
        return [None]
    studs = int(room // STUD)
    count = -(-round(length / STUD) // studs)
    each = -(-round(length / STUD) // count)
    return [
        (place * each * STUD, min((place + 1) * each * STUD, length))
        for place in range(count)
        if place * each * STUD < length
    ]


def _key(pad: _Pad) -> None:
    """Explain the signs of the layer drawings in one line."""
    page, x, y = pad.page, EDGE, pad.y + 1.0

    def sign(text: str, width: float = 7.0) -> float:
        nonlocal x
        page.text(x + width + 1.2, y + 2.8, text, BODY, ink="soft")
        at = x
        x += width + 3.6 + text_width(text, BODY)
        return at

    at = sign("brick")
    page.rect(at, y, 7, 3.2, Pen("brick-edge", 0.25, "brick"))
    page.circle(at + 3.5, y + 1.6, 1.2, Pen("brick-edge", 0.12))
    at = sign("may be taken out")
    page.rect(at, y, 7, 3.2, Pen("brick-edge", 0.2, "paper", (1.2, 0.8)))
    page.hatch(at, y, 7, 3.2, Pen("brick-edge", 0.1), 3.2)
    at = sign("take out")
    page.hatch(at, y, 7, 3.2, Pen("stop", 0.22), 1.5)
    page.rect(at, y, 7, 3.2, Pen("stop", 0.4, None, (2.0, 0.9)))
    at = sign("add")
    page.rect(at, y, 7, 3.2, Pen("new-edge", 0.35, None, (1.6, 0.8)))
    at = sign("keep clear")
    page.rect(at, y, 7, 3.2, Pen(None, 0, "keep"))
    page.hatch(at, y, 7, 3.2, Pen("stop", 0.12), 2.4)
    page.hatch(at, y, 7, 3.2, Pen("stop", 0.12), 2.4, falling=True)
    at = sign("part")
    page.rect(at, y, 7, 3.2, Pen("part-edge", 0.35, "part"))
    at = sign("above or below")
    page.rect(at, y, 7, 3.2, Pen("part-edge", 0.2, None, (1.0, 0.8)))
    at = sign("wire; dot: up or down")
    page.line(at, y + 1.6, at + 4.6, y + 1.6, Pen("ink", 0.7))
    page.circle(at + 6, y + 1.6, 0.8, Pen("ink", 0.12, "ink"))
    pad.y += 6.0


def _steps(pad: _Pad, plan: Plan) -> None:
    pad.turn("Order of assembly")
    rows = assembly_list(plan).rows
    numbers = [step.number for step in build_sequence(plan) if step.kind == "part"]
    edges = {
        name: body_edges(plan, plan.built.train.vehicle(name))
        for name in dict.fromkeys(step.vehicle for step in plan.assembly)
    }
    hold = {p.need: f"{orientation(p)[0].upper()}{orientation(p)[1:]}" for p in plan.built.placements}
    across = 3
    gap = 5.0
    wide = (pad.width - gap * (across - 1)) / across
    high = 78.0
    for place, (step, row) in enumerate(zip(plan.assembly, rows, strict=True)):
        column = place % across
        if column == 0 and place and pad.y + 2 * high + gap > PAPERS[pad.paper][1] - BOTTOM:
            pad.turn(pad.title)
        elif column == 0 and place:
            pad.y += high + gap
        x, y = EDGE + column * (wide + gap), pad.y
        page = pad.page
        page.rect(x, y, wide, high, Pen("soft", 0.2))
        page.rect(x + 2.5, y + 2.5, 3.6, 3.6, Pen("ink", 0.3))
        title = fitted(f"{numbers[place]}  {shorten(str(row[1]), 60)}", 4.0, wide - 12, True)
        page.text(x + 8, y + 5.8, title, 4.0, bold=True)
        page.place(step_drawing(plan, step, edges[step.vehicle], wide - 4, high - 30), x + 2, y + 9)
        text = (
            f"{hold[step.need]}. Into {shorten(str(row[2]), 60)} through {shorten(str(row[3]), 60)}: {row[4]}"
        )
        for line, words in enumerate(wrapped(text, BODY, wide - 5, most=4)):
            page.text(x + 2.5, y + high - 16.0 + line * LINE, words, BODY)
    pad.y += high + gap
    if plan.assembly or plan.built.harness.wires:
        pad.turn("Building, step by step")
        pad.table(sequence_list(plan), ticks=True, heading=False)
    for text in plan.assembly_blocked:
        pad.keep(6)
        why = fitted(f"No order: {shorten(text, 300)}", BODY, pad.width)
        pad.page.text(EDGE, pad.y + 3, why, BODY, ink="stop")
        pad.y += 5
    if not plan.assembly:
        pad.page.text(EDGE, TOP + 4, "There is no order of assembly in this plan.", BODY)
        pad.y += 8
    if any(placement.shelf is not None for placement in plan.built.placements):
        pad.table(added_list(plan), ticks=True)
    if plan.built.exchanged:
        pad.table(exchange_list(plan))


def _wiring(pad: _Pad, plan: Plan) -> None:
    """Place the wiring drawing: as a whole when it stays readable, else cut at couplings into sheets."""
    drawing = wiring_drawing(plan)
    pad.turn("Wiring drawing")
    scale = min(1.0, pad.width / drawing.width, pad.room / drawing.height)
    if scale >= 0.55:
        pad.page.place(drawing, EDGE + (pad.width - drawing.width * scale) / 2, pad.y, scale)
        return
    pieces, scale = _wiring_pieces(plan, drawing, pad)
    for place, (low, high) in enumerate(pieces):
        if place:
            pad.turn(f"Wiring drawing, part {place + 1}")
        page = pad.page
        page.place(drawing, EDGE - low * scale, pad.y, scale)
        # what belongs to the neighbouring pieces is covered with paper
        right = EDGE + (high - low) * scale
        page.rect(-10000, 0, 10000 + EDGE - 0.1, page.height, Pen(None, 0, "#ffffff"))
        page.rect(right + 0.1, 0, 10000, page.height, Pen(None, 0, "#ffffff"))
        for x, cut in ((EDGE, place > 0), (right, place + 1 < len(pieces))):
            if cut:
                pen = Pen("ink", 0.25, dash=(2.4, 0.8, 0.4, 0.8))
                page.line(x, TOP, x, page.height - BOTTOM, pen)


def _wiring_pieces(plan: Plan, drawing: Drawing, pad: _Pad) -> tuple[list[tuple[float, float]], float]:
    """Cut the wiring drawing at couplings into pieces as wide as the sheet, and return their scale."""
    scale = min(0.8, pad.room / drawing.height)
    pieces: list[tuple[float, float]] = []
    low = last = 0.0
    for cut in (*wiring_layout(plan).cuts, drawing.width):
        if (cut - low + BREAK) * scale > pad.width and last > low:
            pieces.append((low, last))
            low = last
        last = cut
    pieces.append((low, drawing.width))
    # each coupling that is cut stands whole on both sheets
    half = BREAK / 2 - 1
    shown = [(max(0.0, low - half), min(drawing.width, high + half)) for low, high in pieces]
    widest = max(high - low for low, high in shown)
    return shown, min(scale, pad.width / widest)


def _wires_told_apart(pad: _Pad, plan: Plan) -> None:
    """Write each wire from end to end, its labels at true size, faces of connectors and boards with pins."""
    if not plan.built.harness.wires:
        return
    pad.turn("From-to list")
    pad.table(from_to_list(plan), ticks=True)
    pad.turn("Labels for both ends of each wire, 1:1")
    text = "Cut on the outer lines, lay round the wire at the dashes, stick both halves together."
    pad.page.text(EDGE, pad.y + 3.6, text, BODY, ink="soft")
    pad.y += 6.5
    _rows_of(pad, label_drawings(plan), 3.0)
    pad.turn("Connectors from the wire side, boards from above")
    faces = [
        connector_face(plan, crossing, vehicle)
        for crossing in plan.built.harness.crossings
        if crossing.connector
        for vehicle in (crossing.ahead, crossing.behind)
    ]
    boards = [
        board_drawing(plan, one.need, one.part) for one in plan.built.placements if len(one.part.pins) >= 3
    ]
    _rows_of(pad, faces, 6.0)
    _rows_of(pad, sorted(boards, key=lambda drawing: drawing.height), 6.0)


def _rows_of(pad: _Pad, drawings: Sequence[Drawing], gap: float) -> None:
    """Place drawings side by side, row after row, over as many sheets as it takes."""
    row: list[Drawing] = []

    def put() -> None:
        high = max(drawing.height for drawing in row)
        scale = min(1.0, (PAPERS[pad.paper][1] - BOTTOM - TOP) / high)
        pad.keep(high * scale)
        x = EDGE
        for drawing in row:
            pad.page.place(drawing, x, pad.y, scale)
            x += drawing.width * scale + gap
        pad.y += high * scale + gap

    for drawing in drawings:
        if row and sum(one.width + gap for one in row) + drawing.width > pad.width:
            put()
            row = []
        row.append(drawing)
    if row:
        put()


def _meter(pad: _Pad, plan: Plan) -> None:
    """Write the meter sequence, stage by stage, each reading with a box to write it into."""
    if not plan.meter.tests:
        return
    pad.turn("Meter before the switch")
    for text in (coverage_words(plan.meter.coverage), plan.meter.held and f"{sentence(plan.meter.held)}"):
        for line in wrapped(text, BODY, pad.width, most=4) if text else ():
            pad.page.text(EDGE, pad.y + 3.6, line, BODY)
            pad.y += 4.8
    pad.y += 2
    for stage, state, sheet in meter_stages(plan):
        lines = wrapped(state, BODY, pad.width, most=3)
        pad.keep(30.0 + 4.4 * len(lines))
        pad.page.text(EDGE, pad.y + 4.4, sentence(stage).rstrip("."), 4.0, bold=True)
        pad.y += 6.4
        for line in lines:
            pad.page.text(EDGE, pad.y + 3.4, line, BODY, ink="soft")
            pad.y += 4.6
        pad.table(_without_empty(sheet), boxes=READING, heading=False)


def _without_empty(sheet: PlanList) -> PlanList:
    """Return a list without the columns that hold nothing, but for that of the readings."""
    keep = [
        place
        for place, name in enumerate(sheet.columns)
        if name == READING or any(row[place] != "" for row in sheet.rows)
    ]
    columns = tuple(sheet.columns[place] for place in keep)
    return replace(sheet, columns=columns, rows=tuple(tuple(row[i] for i in keep) for row in sheet.rows))


def _findings(pad: _Pad, plan: Plan) -> None:
    pad.turn("Findings")
    findings = finding_list(plan)
    keep = [findings.columns.index(name) for name in ("weight", "where", "finding", "what to do")]
    rows = tuple(
        (*(row[place] for place in keep[:3]), _against(row[4], row[5], row[6]), row[keep[3]])
        for row in findings.rows
        if row[0] != "note"
    )
    columns = ("weight", "where", "finding", "figure / limit", "what to do")
    note = f"Notes, {len(findings.rows) - len(rows)} in all, stand on the page and in summary.txt."
    pad.table(PlanList("findings", "Findings", columns, rows, note))


def _cautions(pad: _Pad, plan: Plan) -> None:
    """Write the usual cautions; they stand on page one."""
    pad.page.text(EDGE, pad.y + 4.4, "Care", 4.0, bold=True)
    pad.y += 7
    for text in cautions_of(plan):
        lines = wrapped(text, BODY, pad.width - 8)
        pad.keep(5 * len(lines) + 2)
        pad.page.path(
            [(EDGE + 1, pad.y + 3), (EDGE + 2.8, pad.y - 0.2), (EDGE + 4.6, pad.y + 3)],
            Pen("caution", 0.4),
            True,
        )
        for line in lines:
            pad.page.text(EDGE + 7, pad.y + 2.8, line, BODY)
            pad.y += LINE
        pad.y += 0.6


def _against(figure: Cell, limit: Cell, unit: Cell) -> str:
    if not tells_a_figure(str(unit)):
        return ""
    return f"{number(float(figure), 3)} / {number(float(limit), 3)} {unit}"
