"""The wiring drawing: parts as boxes, pins as rows, wires in their colours, splices dots, couplings breaks.

Vehicles stand side by side, the train's front to the right, each with its parts one above the other and a
channel of upright tracks beside them. Wires to other vehicles run along the trunk at the foot.
"""

from __future__ import annotations

from fitplan.model.plan import Plan
from fitplan.model.wired import Crossing
from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.pdf import fitted, wrapped
from fitplan.report.drawings.wiring_layout import (
    BOX,
    HEAD,
    PLUG,
    ROW,
    TRACK,
    DrawingLayout,
    VehicleColumn,
    pin_label,
    wires_by_pin,
)
from fitplan.report.drawings.wiring_paths import DOT, coupling_middle, joined, ordered_layout, ways
from fitplan.report.lists.connector_cavities import cavities
from fitplan.report.lists.wording import colour_hex, shorten

_WIRE = 0.75


def wiring_drawing(plan: Plan) -> Drawing:
    """Return the wiring drawing of a plan; its size follows from what is drawn."""
    layout = ordered_layout(plan)
    drawing = Drawing(layout.width, layout.height, "Wiring drawing")
    for column in layout.columns.values():
        _head(drawing, column)
    for crossing in plan.built.harness.crossings:
        if crossing.ahead in layout.columns and crossing.behind in layout.columns:
            _break(drawing, crossing, layout)
    _wires(drawing, plan, layout)
    for column in layout.columns.values():
        _boxes(drawing, plan, column)
    _pins(drawing, plan, layout)
    _splices(drawing, plan, layout)
    for crossing in plan.built.harness.crossings:
        if crossing.ahead in layout.columns and crossing.behind in layout.columns:
            _plugs(drawing, plan, crossing, layout)
    return drawing


def _head(drawing: Drawing, column: VehicleColumn) -> None:
    name = fitted(shorten(column.name, 60), 4.4, column.right - column.left, True)
    drawing.text(column.left, 8.5, name, 4.4, bold=True)
    drawing.line(column.left, 10.5, column.right, 10.5, Pen("soft", 0.5))
    for step in range(int((column.right - column.left) // 4)):
        drawing.rect(column.left + step * 4, 11.0, 1.6, 0.9, Pen(None, 0, "faint"))


def _wires(drawing: Drawing, plan: Plan, layout: DrawingLayout) -> None:
    """Draw all wires, later ones over earlier ones: each has a rim in the colour of the paper."""
    paths = ways(plan, layout)
    for wire in sorted(
        plan.built.harness.wires, key=lambda entry: (entry.number in layout.lanes, entry.number)
    ):
        way = paths.get(wire.number)
        if way is None:
            continue
        with drawing.group(f"wire-{wire.number}", shorten(f"wire {wire.number}, {wire.net}", 120)):
            drawing.path(way, Pen("paper", 2.0 if len(way) > 2 else 1.2))
            drawing.path(way, Pen("soft", _WIRE + 0.35))
            drawing.path(way, Pen(colour_hex(wire.colour), _WIRE))


def _pins(drawing: Drawing, plan: Plan, layout: DrawingLayout) -> None:
    """Write at each pin which wires it takes; several leave it side by side: the pin joins them."""
    for (vehicle, _, _), wires in wires_by_pin(plan).items():
        if vehicle not in layout.columns:
            continue
        rise = min(1.3 * (len(wires) - 1) / 2, (ROW - 1.4) / 2)
        x, y = layout.columns[vehicle].left + BOX, layout.row_y(wires[0][0])
        if rise:
            drawing.rect(x - 0.9, y - rise - 0.7, 1.8, 2 * rise + 1.4, Pen("part-edge", 0.25, "paper"))
        drawing.text(x + 1.6, y - rise - 0.9, pin_label(wires), 2.4, halo=True)


def _boxes(drawing: Drawing, plan: Plan, column: VehicleColumn) -> None:
    keys = {entry.need: (f"part-{i}", entry.part.name) for i, entry in enumerate(plan.built.placements)}
    for box in column.boxes:
        if box.kind != "part":
            continue
        key, name = keys.get(box.owner, ("", ""))
        with drawing.group(key, shorten(f"{box.owner}: {name}", 120)):
            high = box.bottom - box.top
            for step in range(4):
                drawing.rect(
                    column.left + 2.5 + step * 3.2, box.top - 0.8, 1.9, 0.8, Pen("part-edge", 0.2, "part")
                )
            drawing.rect(column.left, box.top, BOX, high, Pen("part-edge", 0.35, "paper"), 0.8)
            drawing.rect(column.left, box.top, BOX, ROW, Pen("part-edge", 0.35, "part"), 0.8)
            owner = fitted(shorten(box.owner, 60), 3.2, BOX - 3, True)
            drawing.text(column.left + 1.5, box.top + 3.2, owner, 3.2, bold=True)
            room = max(1, int((high - ROW - 1) / 3.3))
            for line, words in enumerate(wrapped(shorten(name, 80), 2.6, BOX - 17, most=min(room, 5))):
                drawing.text(column.left + 1.5, box.top + ROW + 3.2 + line * 3.3, words, 2.6, ink="soft")
            for pin, y in box.rows.items():
                drawing.text(column.left + BOX - 2.4, y + 1.1, fitted(shorten(pin, 40), 3.0, 13), 3.0, "end")
                drawing.rect(column.left + BOX - 0.9, y - 0.9, 1.8, 1.8, Pen("part-edge", 0.25, "paper"))


def _splices(drawing: Drawing, plan: Plan, layout: DrawingLayout) -> None:
    """Draw each splice as a dot with its name, and where its wires join; they are named beside it."""
    colours = {wire.number: wire.colour for wire in plan.built.harness.wires}
    for place, ends in joined(plan).items():
        splice = plan.built.harness.splices[place]
        ends = [(key, end) for key, end in ends if end.vehicle in layout.columns]
        if not ends:
            continue
        column = layout.columns[ends[0][1].vehicle]
        y = layout.row_y(ends[0][0])
        with drawing.group(f"splice-{place}", shorten(f"splice {splice.name}, {splice.net}", 120)):
            for key, end in ends:
                drawing.circle(layout.track_x(end.vehicle, key), y, 1.0, Pen(None, 0, "ink"))
            x = column.left + BOX - DOT
            drawing.circle(x, y, 1.6, Pen(None, 0, "ink"))
            drawing.text(x - 3, y + 1.2, shorten(splice.name, 16), 3.2, "end", bold=True)
            listed = ", ".join(str(key[0]) for key, _ in ends)
            label = fitted(f"{listed} {colours[ends[0][0][0]]}", 2.4, column.lead + DOT)
            drawing.text(x + 2.4, y - 0.9, label, 2.4, halo=True)


def _break(drawing: Drawing, crossing: Crossing, layout: DrawingLayout) -> None:
    """Draw the gap between two vehicles as two broken lines, with how many conductors cross it."""
    middle = coupling_middle(layout, crossing)
    bottom = layout.foot + layout.lane_count * TRACK + 4
    for x in (middle - 1.6, middle + 1.6):
        steps = int((bottom - HEAD) // 4)
        points = [(x + (0.7 if step % 2 else -0.7), HEAD + step * 4) for step in range(steps + 1)]
        drawing.path(points, Pen("soft", 0.3))
    drawing.text(middle, 8.5, shorten(crossing.name, 12), 4.4, "middle", bold=True)
    drawing.text(middle, 12.8, str(crossing.conductors), 3.2, "middle", ink="soft")


def _plugs(drawing: Drawing, plan: Plan, crossing: Crossing, layout: DrawingLayout) -> None:
    """Draw each cavity of a connector pair at its lane, round on the side behind and square ahead."""
    middle = coupling_middle(layout, crossing)
    for cavity, pair in cavities(plan, crossing.name, crossing.ahead).items():
        for wire, side in zip(pair, (1, -1), strict=True):
            if wire is None or wire.number not in layout.lanes:
                continue
            x, y = middle + side * PLUG, layout.lane_y(wire.number)
            drawing.rect(x - 2.0, y - 1.2, 4.0, 2.4, Pen("ink", 0.25, "paper"), 0.9 if side < 0 else 0.0)
            drawing.text(x, y + 0.85, shorten(cavity, 4), 2.4, "middle")
            label = f"{wire.number} {wire.colour}"
            drawing.text(x + side * 2.6, y - 0.75, label, 2.2, "start" if side > 0 else "end", halo=True)
