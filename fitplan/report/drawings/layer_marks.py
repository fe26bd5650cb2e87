"""What is written round a layer: holes in its walls, studs, places of parts, names."""

from __future__ import annotations

import math

from fitplan.model.placed import Placement
from fitplan.model.solids import Box
from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.layer_frame import BODY, HEAD, SIDE, Box4, Flat, meets
from fitplan.report.drawings.layer_wires import is_free, text_boxes
from fitplan.report.drawings.pdf import fitted, text_width
from fitplan.report.drawings.slices import Section
from fitplan.report.drawings.vehicle_slices import VehicleSlices
from fitplan.report.lists.wording import number, shorten
from fitplan.units import STUD


def draw_openings(
    drawing: Drawing, bench: VehicleSlices, section: Section, flat: Flat, span: tuple[float, float]
) -> None:
    """Name ports and windows at the wall they are in."""
    vehicle = bench.entry.vehicle
    signs = [(port.name, port.box, port.out, "port") for port in vehicle.ports]
    open_ends = {(port.name, "port") for port in vehicle.ports if port.is_open_end}
    signs += [(window.name, window.box, window.out, "window") for window in vehicle.windows]
    for name, box, out, kind in signs:
        if not meets(box, section) or not span[0] <= box.center[0] <= span[1]:
            continue
        x0, y1 = flat((box.low[0], box.low[1]))
        x1, y0 = flat((box.high[0], box.high[1]))
        ink, dash = ("note", (0.5, 0.7)) if kind == "port" else ("open", (1.8, 0.7))
        drawing.rect(x0, y0, x1 - x0, y1 - y0, Pen(ink, 0.3, None, dash))
        label = fitted(name if (name, kind) in open_ends else f"{kind} {name}", 2.4, vehicle.width)
        middle = (y0 + y1) / 2
        if out in ("+x", "-x"):
            side = 1 if out == "+x" else -1
            edge = x1 if side > 0 else x0
            back, tip = edge + side * 0.8, edge + side * 2.4
            drawing.path([(back, middle - 1), (tip, middle), (back, middle + 1)], Pen(ink, 0.3))
            down = HEAD + vehicle.width / 2
            x = edge + (5.2 if side > 0 else -3.2)
            if kind == "window":
                x += 3.2 * side
            drawing.text(x, down, label, 2.4, "middle", ink=ink, turn=90)
        else:
            drawing.text((x0 + x1) / 2, y0 - 0.8, label, 2.4, "middle", ink=ink)


def write_name(drawing: Drawing, name: str, box: Box, flat: Flat, inside: Box4) -> None:
    """Write the name of something built in on it, as near to its middle as other text allows."""
    x, y = flat((box.center[0], box.center[1]))
    text = fitted(name, 2.6, box.size[0] - 1)
    half = text_width(text, 2.6) / 2
    taken = [one for shape in drawing.shapes for one in text_boxes(shape)]
    for down in (0.0, 4.0, -4.0, 8.0, -8.0, 12.0, -12.0):
        at = y + 0.9 + down
        if is_free((x - half, at - 2.1, x + half, at + 0.6), taken, inside):
            drawing.text(x, at, text, 2.6, "middle", ink="soft")
            return


def draw_ruler(drawing: Drawing, start: float, stop: float, y: float) -> None:
    """Write the number of each second stud, from the rear end, below the drawing."""
    for i in range(math.ceil(start / STUD - 1e-9), math.floor(stop / STUD + 1e-9) + 1):
        x = SIDE + i * STUD - start
        drawing.line(x, y + 0.8, x, y + (2.6 if i % 2 == 0 else 1.8), Pen("soft", 0.15))
        if i % 2 == 0:
            drawing.text(x, y + 5.4, str(i), 2.5, "middle", ink="soft")
    right = SIDE + stop - start
    drawing.text(right + 3.8, y + 5.4, "front", 2.6, ink="soft")
    drawing.path([(right + 1.6, y + 1.7), (right + 6.6, y + 1.7)], Pen("soft", 0.3))
    drawing.path([(right + 5.0, y + 0.7), (right + 6.6, y + 1.7), (right + 5.0, y + 2.7)], Pen("soft", 0.3))


def draw_measures(
    drawing: Drawing, no: int, placement: Placement, y: float, start: float, stop: float
) -> None:
    """Draw a part's extent as a bar, with its distances from the rear end and the right side."""
    low, high = placement.bounds.low, placement.bounds.high
    a, b = SIDE + max(low[0], start) - start, SIDE + min(high[0], stop) - start
    for x in (a, b):
        drawing.line(x, y - 0.6, x, y + 3.0, Pen("part-edge", 0.2))
    drawing.line(a, y + 1.2, b, y + 1.2, Pen("part-edge", 0.2))
    for x, way in ((a, 1), (b, -1)):
        drawing.path(
            [(x + way * 1.4, y + 0.7), (x, y + 1.2), (x + way * 1.4, y + 1.7)], Pen("part-edge", 0.2)
        )
    text = (
        f"{no} {shorten(placement.need, 30)}: {on_grid(low[0])} to {on_grid(high[0])} from the rear,"
        f" {on_grid(low[1])} to {on_grid(high[1])} from the right, {number(low[2])} mm up"
    )
    wide = text_width(text, BODY)
    right_room, left_room = SIDE + stop - start - b, a - SIDE
    if wide + 2 <= max(right_room, left_room):
        at, anchor = (b + 1.5, "start") if right_room >= left_room else (a - 1.5, "end")
    else:
        at, anchor = SIDE, "start"
        text = fitted(text, BODY, stop - start + SIDE)
        drawing.rect(SIDE - 0.6, y - 0.7, text_width(text, BODY) + 1.2, 4.2, Pen(None, 0, "paper"))
    drawing.text(at, y + 2.5, text, BODY, "start" if anchor == "start" else "end", ink="part-edge")


def on_grid(value: float) -> str:
    """Return a place as studs and the rest, ``"13 st + 5.0"``: what a person finds on the model."""
    studs = math.floor(value / STUD + 1e-6)
    rest = value - studs * STUD
    return f"{studs} st" if rest < 0.05 else f"{studs} st + {rest:.1f}"


def mark_joint(drawing: Drawing, x: float, y: float, high: float, text: str) -> None:
    """Mark where a vehicle that is longer than the paper goes on, on another drawing."""
    drawing.line(x, y - 2, x, y + high + 2, Pen("ink", 0.25, dash=(2.4, 0.8, 0.4, 0.8)))
    drawing.text(x, y - 2.6, text, 2.4, "middle")
