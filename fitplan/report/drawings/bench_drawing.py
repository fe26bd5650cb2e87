"""For the bench while wires are made: labels at true size, faces of connectors, boards with their pins."""

from __future__ import annotations

import math

from fitplan.model.coupling_halves import contacts_word
from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.model.plugged import PLUG
from fitplan.model.wired import Crossing, Wire, WireEnd
from fitplan.report.drawings.drawing import Anchor, Drawing, Pen
from fitplan.report.drawings.pdf import fitted, text_width
from fitplan.report.lists.connector_cavities import cavities
from fitplan.report.lists.wording import colour_hex, end_word

FLAG = (26.0, 9.0)
"""Length and height in mm of one half of a label: both halves stick to each other behind the wire."""
_LABEL, _SMALLEST = 2.4, 1.7
"""Size of a label's lines in mm, and how small they get before they are cut (5 pt)."""
_PITCH = 11.0
_SCALE = 2.0
_ROW = 4.2


def label_drawing(wire: Wire, end: WireEnd) -> Drawing:
    """Return the label of one end of a wire at 1:1: two like halves, and between them the wire's girth."""
    girth = math.pi * wire.outer_mm
    long, high = FLAG
    page = Drawing(2 * long + girth, high, f"wire {wire.number}")
    page.rect(0, 0, 2 * long + girth, high, Pen("faint", 0.15))
    far = wire.end if end is wire.start else wire.start
    lines = ((wire.net, f", {wire.colour}"), (end_word(end), ""), (f"to {end_word(far)}", ""))
    for left in (0.0, long + girth):
        page.text(left + 1.2, 6.4, str(wire.number), 5.4, bold=True)
        for row, (text, after) in enumerate(lines):
            words, size = _on_a_label(text, after, long - 9, bold=row == 0)
            page.text(
                left + 8.4, 2.9 + 2.6 * row, words, size, bold=row == 0, ink="soft" if row == 2 else "ink"
            )
    for x in (long, long + girth):
        page.line(x, 0, x, high, Pen("faint", 0.15, dash=(0.8, 0.8)))
    return page


def _on_a_label(text: str, after: str, width: float, *, bold: bool) -> tuple[str, float]:
    """Return a line of a label and its size in mm: it gets smaller, then what is before its end is cut."""
    size = _LABEL * min(1.0, width / max(text_width(text + after, _LABEL, bold), 1e-9))
    size = max(size, _SMALLEST)
    return fitted(text, size, width - text_width(after, size, bold), bold) + after, size


def label_drawings(plan: Plan) -> list[Drawing]:
    """Return the labels of all wires, both ends one after the other."""
    return [label_drawing(wire, end) for wire in plan.built.harness.wires for end in (wire.start, wire.end)]


def connector_face(plan: Plan, crossing: Crossing, vehicle: str) -> Drawing:
    """Return a half of a coupling connector as seen from the side where its wires go in.

    The halves are mirror images of each other, since they look at each other; the key points up in
    both. The numbers on the housing itself go before this drawing.
    """
    filled = cavities(plan, crossing.name, crossing.ahead)
    numbers = list(filled)
    ahead = vehicle == crossing.ahead
    part = plan.built.train.catalogue.get(crossing.connector)
    most = max((int(name) for name in numbers if name.isdecimal()), default=len(numbers))
    for word in (part.name if part is not None else "").split():
        if word.isdecimal() and int(word) >= most:
            most = int(word)
            break
    order = [str(place) for place in range(1, most + 1)] if most >= len(numbers) else numbers
    if not ahead:
        order.reverse()
    page = Drawing(max(74.0, len(order) * _PITCH + 4), 32.0, f"{crossing.name}, {vehicle}")
    contacts = contacts_word(plan.built, crossing, vehicle)
    title = fitted(f"{crossing.name}, half of {vehicle}, {contacts}, wire side", 3.6, page.width, True)
    page.text(0, 3.6, title, 3.6, bold=True)
    top = 8.0
    wide = len(order) * _PITCH
    page.rect(2, top, wide, 12.0, Pen("part-edge", 0.4, "part"), 1.0)
    page.rect(2 + wide / 2 - 4, top - 2.0, 8.0, 2.0, Pen("part-edge", 0.4, "part"))
    for place, number in enumerate(order):
        x = 2 + (place + 0.5) * _PITCH
        pair = filled.get(number, (None, None))
        wire = pair[0 if ahead else 1]
        page.text(x, top + 3.4, number, 2.8, "middle", bold=number == "1")
        page.circle(x, top + 7.6, 2.6, Pen("ink", 0.3, colour_hex(wire.colour) if wire else "paper"))
        page.text(x, top + 15.4, str(wire.number) if wire else "empty", 2.8, "middle", bold=wire is not None)
        if wire is not None:
            page.text(x, top + 18.8, wire.colour, 2.6, "middle", ink="soft")
            page.text(x, top + 22.2, fitted(wire.net, 2.4, _PITCH - 1), 2.4, "middle", ink="soft")
    return page


def board_drawing(plan: Plan, need: str, part: Part) -> Drawing:
    """Return a board from above at 2:1: names of its pins, the first one square, wires that go there."""
    along_x = part.bounds.size[0] >= part.bounds.size[1]

    def seen(x: float, y: float) -> tuple[float, float]:
        """Across and down on the drawing, in mm of the part, from any corner."""
        return (-y, -x) if along_x else (x, -y)

    corners = [seen(x, y) for x, y, _ in (part.bounds.low, part.bounds.high)]
    (left_edge, right_edge), (upper, lower) = (sorted(values) for values in zip(*corners, strict=True))
    pins = [(pin.name, *seen(pin.at[0], pin.at[1])) for pin in part.pins]
    # a lead's end may lie beside the part that it belongs to
    west, east = (
        edge(limit, *(x for _, x, _ in pins)) for edge, limit in ((min, left_edge), (max, right_edge))
    )
    north, south = (edge(limit, *(y for _, _, y in pins)) for edge, limit in ((min, upper), (max, lower)))
    wide, high = east - west, south - north
    at: dict[str, list[Wire]] = {}
    for wire in plan.built.harness.wires:
        for end in (wire.start, wire.end):
            if (end.kind, end.owner) == ("pin", need):
                at.setdefault(end.pin, []).append(wire)
    side = 40.0
    box_w, box_h = wide * _SCALE, high * _SCALE
    sides: dict[bool, list[tuple[float, float, str]]] = {True: [], False: []}
    for name, x, y in pins:
        sides[x - west < wide / 2].append(((y - north) * _SCALE, (x - west) * _SCALE, name))
    most = max(len(rows) for rows in sides.values())
    page = Drawing(2 * side + box_w, max(box_h, most * _ROW) + 8.0, need)
    page.text(0, 3.6, fitted(f"{need}: {part.name}", 3.6, page.width, True), 3.6, bold=True)
    top = 6.0
    x, y = side + (left_edge - west) * _SCALE, top + (upper - north) * _SCALE
    wide, high = (right_edge - left_edge) * _SCALE, (lower - upper) * _SCALE
    page.rect(x, y, wide, high, Pen("part-edge", 0.4, "part"))
    for room in part.clearances:
        if room.name == PLUG:
            low, far = (seen(*corner[:2]) for corner in (room.solid.bounds.low, room.solid.bounds.high))
            (x0, x1), (y0, y1) = sorted((low[0], far[0])), sorted((low[1], far[1]))
            at_x, at_y = side + (x0 - west) * _SCALE, top + (max(y0, north) - north) * _SCALE
            high_seen = (min(y1, south) - max(y0, north)) * _SCALE
            page.rect(at_x, at_y, (x1 - x0) * _SCALE, high_seen, Pen("part-edge", 0.25, dash=(1.2, 0.8)))
    first = part.pins[0].name
    for left, rows in sides.items():
        level = top
        for y, x, name in sorted(rows):
            level = max(level + _ROW, top + y + 1.0) if level > top else max(top + 3.0, top + y + 1.0)
            wires = at.get(name, [])
            px, py = side + x, top + y
            edge = side - 3.0 if left else side + box_w + 3.0
            page.line(px, py, edge, level - 1.0, Pen("grid", 0.2))
            fill = colour_hex(wires[0].colour) if wires else "paper"
            if name == first:
                page.rect(px - 1.1, py - 1.1, 2.2, 2.2, Pen("ink", 0.3, fill))
            else:
                page.circle(px, py, 1.1, Pen("ink", 0.3, fill))
            told = ", ".join(f"{wire.number} {wire.colour}" for wire in wires)
            text = f"{name}  {told}" if told else name
            x_text = edge - 0.6 if left else edge + 0.6
            anchor: Anchor = "end" if left else "start"
            page.text(x_text, level, fitted(text, 2.8, side - 12), 2.8, anchor, bold=bool(told))
    return page
