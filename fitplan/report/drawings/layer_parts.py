"""Parts of a layer with their pins and numbers, and splices."""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Cylinder, Solid
from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.layer_frame import TOUCH, Flat, meets
from fitplan.report.drawings.pdf import fitted, text_width
from fitplan.report.drawings.slices import Section
from fitplan.report.drawings.vehicle_slices import VehicleSlices
from fitplan.report.lists.wording import shorten


def draw_pins(
    drawing: Drawing, placement: Placement, section: Section, flat: Flat, span: tuple[float, float]
) -> None:
    """Draw a part's pins in a layer as dots, pin 1 as a square."""
    for place, pin in enumerate(placement.part.pins):
        at = placement.place.move(pin.at)
        if not (section.low - TOUCH <= at[2] <= section.high + TOUCH and span[0] <= at[0] <= span[1]):
            continue
        x, y = flat(at)
        if place == 0 and len(placement.part.pins) > 1:
            drawing.rect(x - 0.7, y - 0.7, 1.4, 1.4, Pen("part-edge", 0.2, "paper"))
        else:
            drawing.circle(x, y, 0.5, Pen("part-edge", 0.15, "paper"))


def draw_part(
    drawing: Drawing,
    no: int,
    placement: Placement,
    section: Section,
    flat: Flat,
    span: tuple[float, float],
    bricks: Sequence[Box],
) -> None:
    """Draw a part: filled where the layer meets it, dashed above and below, and what carries it."""
    solids = placement.solids
    title = shorten(f"{placement.need}: {placement.part.name}", 120)
    with drawing.group(f"part-{no - 1}", title):
        for solid in sorted(solids, key=lambda entry: entry.bounds.high[2]):
            box = solid.bounds
            cut = meets(box, section)
            fill = "part" if cut else None
            dash = () if cut else (1.0, 0.8)
            pen = Pen("part-edge", 0.35 if cut else 0.2, fill, dash)
            _solid(drawing, solid, flat, pen, span)
        for box in (*(placement.shelf.boxes if placement.shelf is not None else ()), *bricks):
            if meets(box, section):
                _solid(drawing, box, flat, Pen("new-edge", 0.35, None, (1.6, 0.8)), span)


def label_part(
    drawing: Drawing, no: int, placement: Placement, section: Section, flat: Flat, span: tuple[float, float]
) -> None:
    """Write a part's number on it, and its name where that has room."""
    shown = [solid.bounds for solid in placement.solids if meets(solid.bounds, section)]
    if not shown:
        return
    large = max(shown, key=lambda box: box.size[0] * box.size[1])
    middle = min(max(large.center[0], span[0] + 4), span[1] - 4)
    x, y = flat((middle, large.center[1]))
    drawing.circle(x, y, 2.3, Pen("part-edge", 0.25, "paper"))
    drawing.text(x, y + 1.1, str(no), 3.2, "middle", bold=True, ink="part-edge")
    room = large.size[0] / 2 - 4
    text = shorten(placement.need, 60)
    if text_width(text, 2.8, True) < room + large.size[0] / 2 - 4 and large.size[1] > 9:
        drawing.text(
            x, y + 5.4, fitted(text, 2.8, large.size[0] - 1, True), 2.8, "middle", bold=True, halo=True
        )


def _solid(drawing: Drawing, solid: Solid, flat: Flat, pen: Pen, span: tuple[float, float]) -> None:
    box = solid.bounds
    if box.high[0] <= span[0] or box.low[0] >= span[1]:
        return
    if isinstance(solid, Cylinder) and solid.axis == "z" and span[0] <= box.low[0] and box.high[0] <= span[1]:
        x, y = flat(solid.start)
        drawing.circle(x, y, solid.radius, pen)
        return
    x0, y1 = flat((max(box.low[0], span[0]), box.low[1]))
    x1, y0 = flat((min(box.high[0], span[1]), box.high[1]))
    drawing.rect(x0, y0, x1 - x0, y1 - y0, pen)


def draw_splices(
    drawing: Drawing,
    plan: Plan,
    bench: VehicleSlices,
    section: Section,
    flat: Flat,
    span: tuple[float, float],
) -> None:
    """Draw the splices that lie in a layer, with their names."""
    low, high = section.low - TOUCH, section.high + TOUCH
    for splice in plan.built.harness.splices:
        if (
            splice.vehicle == bench.entry.name
            and low <= splice.at[2] <= high
            and span[0] <= splice.at[0] <= span[1]
        ):
            x, y = flat(splice.at)
            drawing.circle(x, y, 1.1, Pen("paper", 0.2, "ink"))
            drawing.text(x + 1.6, y - 1.0, shorten(splice.name, 12), 2.4, bold=True, halo=True)
