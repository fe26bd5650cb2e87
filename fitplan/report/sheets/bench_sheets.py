"""What is done at the bench: buying, assembly step by step, cutting, joining, wiring, the meter, pins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.report.drawings.bench_drawing import board_drawing, connector_face, label_drawings
from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.layer_frame import BODY
from fitplan.report.drawings.pdf import fitted, wrapped
from fitplan.report.drawings.sheet_references import sheet_references, sheets_of
from fitplan.report.drawings.templates import plug_labels, template_drawings
from fitplan.report.drawings.wiring_layout import BREAK, wiring_layout
from fitplan.report.lists.bring_up_list import bring_up_list
from fitplan.report.lists.buying_list import buying_list
from fitplan.report.lists.harness_lists import (
    connector_list,
    coupling_list,
    cut_list,
    from_to_list,
    join_list,
)
from fitplan.report.lists.meter_list import READING, coverage_words, meter_stages
from fitplan.report.lists.plan_list import PlanList
from fitplan.report.lists.result_lists import added_list, exchange_list, pin_list
from fitplan.report.lists.rework_list import rework_list
from fitplan.report.lists.wording import sentence, shorten
from fitplan.report.sheets.pad import BOTTOM, EDGE, PAPERS, TOP, Pad, without_empty
from fitplan.report.sheets.step_sheets import step_sheets

_LINE = 6.5
"""Height of a line of text above drawings, in mm."""


def bench_sheets(pad: Pad, plan: Plan, wiring: Drawing) -> None:
    """Write what is done at the bench: buying, assembly, cutting, joining, wiring, pins."""
    rework = rework_list(plan)
    if rework is not None:
        pad.turn("What changes of what is built")
        pad.table(without_empty(rework), ticks=True)
    if plan.buying:
        pad.turn("What to buy")
        pad.table(without_empty(buying_list(plan)), ticks=True)
    _steps(pad, plan)
    pad.section("Cut list")
    pad.table(cut_list(plan), ticks=True)
    _wires_told_apart(pad, plan)
    joints = [sheet for sheet in (join_list(plan), connector_list(plan), coupling_list(plan)) if sheet.rows]
    if joints:
        pad.section("Joints, connectors and couplings")
    for sheet in joints:
        pad.table(sheet, ticks=sheet.name != "couplings")
    _wiring(pad, plan, wiring)
    _meter(pad, plan)
    pad.section("Pin map")
    pad.table(pin_list(plan))
    if plan.built.pin_map:
        pad.table(bring_up_list(plan), ticks=True, boxes="seen")


def _steps(pad: Pad, plan: Plan) -> None:
    if plan.work.steps:
        step_sheets(pad, plan)
    else:
        pad.turn("Order of assembly")
    for text in (*plan.assembly_blocked, *plan.work.blocked):
        pad.keep(6)
        why = fitted(f"No order: {shorten(text, 300)}", BODY, pad.width)
        pad.write([why], BODY, 3, 5, ink="stop")
    if not plan.assembly:
        pad.page.text(EDGE, TOP + 4, "There is no order of assembly in this plan.", BODY)
        pad.y += 8
    if any(placement.shelf is not None for placement in plan.built.placements):
        pad.table(added_list(plan), ticks=True)
    if plan.built.exchanged:
        pad.table(exchange_list(plan))


def _wiring(pad: Pad, plan: Plan, drawing: Drawing) -> None:
    """Place the wiring drawing: as a whole when it stays readable, else cut at couplings into sheets."""
    pad.turn("Wiring drawing")
    scale = min(1.0, pad.width / drawing.width, pad.room / drawing.height)
    if scale >= 0.55:
        pad.page.place(drawing, EDGE + (pad.width - drawing.width * scale) / 2, pad.y, scale)
        pad.y += drawing.height * scale + 4.0
        return
    pieces, scale = _wiring_pieces(plan, drawing, pad)
    for place, (low, high) in enumerate(pieces):
        if place:
            pad.turn(f"Wiring drawing, part {place + 1}")
        page = pad.page
        page.place(drawing.piece(low, high), EDGE - low * scale, pad.y, scale)
        # what belongs to the neighbouring pieces is covered with paper
        right = EDGE + (high - low) * scale
        page.rect(-10000, 0, 10000 + EDGE - 0.1, page.height, Pen(None, 0, "#ffffff"))
        page.rect(right + 0.1, 0, 10000, page.height, Pen(None, 0, "#ffffff"))
        for x, cut in ((EDGE, place > 0), (right, place + 1 < len(pieces))):
            if cut:
                pen = Pen("ink", 0.25, dash=(2.4, 0.8, 0.4, 0.8))
                page.line(x, TOP, x, page.height - BOTTOM, pen)
    # the strip down to the foot belongs to the drawing: its covers reach to the edges
    pad.y += pad.room


def _wiring_pieces(plan: Plan, drawing: Drawing, pad: Pad) -> tuple[list[tuple[float, float]], float]:
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


def _wires_told_apart(pad: Pad, plan: Plan) -> None:
    """Write each wire from end to end, its labels at true size, faces of connectors and boards with pins."""
    if not plan.built.harness.wires:
        return
    pad.section("From-to list")
    layers = [one for one in sheet_references(pad.pages) if ", layer by layer" in one.title]
    pad.table(_with_layers(from_to_list(plan), sheets_of(layers)), ticks=True)
    text = "Cut on the outer lines, lay round the wire at the dashes, stick both halves together."
    _drawings(pad, "Labels for both ends of each wire, 1:1", label_drawings(plan), 3.0, text)
    _drawings(pad, "Labels for the vehicles' plugs, 1:1", plug_labels(plan), 3.0)
    _drawings(pad, "Templates of the ends, 1:1", template_drawings(plan), 6.0)
    faces = [
        connector_face(plan, crossing, vehicle)
        for crossing in plan.built.harness.crossings
        if crossing.connector
        for vehicle in (crossing.ahead, crossing.behind)
    ]
    boards = [
        board_drawing(plan, one.need, one.part)
        for one in plan.built.placements
        if len(one.part.pins) >= 3 or (len(one.part.pins) == 2 and _turned_round_easily(one.part))
    ]
    shown = (*faces, *sorted(boards, key=lambda drawing: drawing.height))
    _drawings(pad, "Connectors from the wire side, boards from above", shown, 6.0)


def _turned_round_easily(part: Part) -> bool:
    """Return whether wires are joined to pins of a part that tell nothing of themselves, and do not plug."""
    return (
        all(pin.joint not in ("plug", "attached") for pin in part.pins)
        and len({pin.role for pin in part.pins}) > 1
    )


def _with_layers(sheet: PlanList, drawn: Mapping[str, tuple[int, ...]]) -> PlanList:
    """Return the from-to list with the sheets on which each wire is drawn among the bricks."""
    listed = [", ".join(map(str, drawn.get(f"wire-{row[0]}", ()))) for row in sheet.rows]
    rows = tuple((*row, pages) for row, pages in zip(sheet.rows, listed, strict=True))
    return replace(sheet, columns=(*sheet.columns, "on sheets"), rows=rows)


def _drawings(pad: Pad, title: str, drawings: Sequence[Drawing], gap: float, text: str = "") -> None:
    """Place drawings side by side under a title, row after row, over as many sheets as it takes."""
    rows: list[list[Drawing]] = []
    for drawing in drawings:
        if not rows or sum(one.width + gap for one in rows[-1]) + drawing.width > pad.width:
            rows.append([])
        rows[-1].append(drawing)
    most = PAPERS[pad.paper][1] - BOTTOM - TOP
    for number, row in enumerate(rows):
        high = max(drawing.height for drawing in row)
        scale = min(1.0, most / high)
        if number:
            pad.keep(high * scale)
        else:
            pad.section(title, heading=True, first=high * scale + (_LINE if text else 0.0))
            if text:
                pad.write([text], BODY, 3.6, _LINE, ink="soft")
        x = EDGE
        for drawing in row:
            pad.page.place(drawing, x, pad.y, scale)
            x += drawing.width * scale + gap
        pad.y += high * scale + gap


def _meter(pad: Pad, plan: Plan) -> None:
    """Write the meter sequence, stage by stage, each reading with a box to write it into."""
    if not plan.meter.tests:
        return
    pad.turn("Meter before the switch")
    for text in (coverage_words(plan.meter.coverage), plan.meter.held and f"{sentence(plan.meter.held)}"):
        if text:
            pad.write(wrapped(text, BODY, pad.width, most=4), BODY, 3.6, 4.8)
    pad.y += 2
    for stage, state, sheet in meter_stages(plan):
        lines = wrapped(state, BODY, pad.width, most=3)
        pad.keep(30.0 + 4.4 * len(lines))
        pad.write([sentence(stage).rstrip(".")], 4.0, 4.4, 6.4, bold=True)
        pad.write(lines, BODY, 3.4, 4.6, ink="soft")
        pad.table(without_empty(sheet), boxes=READING, heading=False)
