"""Every vehicle layer by layer at 1:1, cut at studs where it is longer than the paper."""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.plan import Plan
from fitplan.report.drawings.drawing import Pen
from fitplan.report.drawings.layer_drawing import Layers, is_blank, layer_drawing, layer_title
from fitplan.report.drawings.layer_frame import BODY, LINE, SIDE
from fitplan.report.drawings.pdf import text_width, wrapped
from fitplan.report.lists.wording import shorten
from fitplan.report.sheets.pad import EDGE, Pad
from fitplan.units import STUD


def layer_sheets(pad: Pad, plan: Plan, layers: Layers) -> None:
    """Draw every vehicle layer by layer, two or three to a sheet; blank layers are told in a line.

    Where the sheet has no room for that line, it stands on one sheet at the end with those of other vehicles.
    """
    left_over: list[str] = []
    for bench, drawings in layers:
        entry = bench.entry
        blank = [section for section in bench.sections if is_blank(plan, bench, section)]
        titles = "; ".join(layer_title(section) for section in blank)
        if len(blank) == len(bench.sections):
            left_over += _lines(f"{shorten(entry.name, 40)}: nothing to do in any layer.", pad.width)
            continue
        size = f"{entry.vehicle.studs_long} × {entry.vehicle.studs_wide} studs"
        turned = ", its front looks backwards in the train" if entry.turned else ""
        pad.turn(f"{shorten(entry.name, 40)}, layer by layer, 1:1 ({size}{turned})")
        _key(pad)
        for window in windows(entry.vehicle.length, pad.width - 2 * SIDE):
            for section, whole in zip(bench.sections, drawings, strict=True):
                if any(section is one for one in blank):
                    continue
                drawing = layer_drawing(plan, bench, section, window) if window else whole
                if drawing.height > pad.room:
                    pad.turn(pad.title)
                    _key(pad)
                pad.page.place(drawing, EDGE, pad.y)
                pad.y += drawing.height
        said = _lines(f"Nothing to do in these layers: {titles}.", pad.width) if blank else []
        if LINE * len(said) <= pad.room:
            _write(pad, said)
        else:
            left_over += _lines(
                f"{shorten(entry.name, 40)}: nothing to do in these layers: {titles}.", pad.width
            )
    if left_over:
        pad.turn("Layers with nothing to do")
        _write(pad, left_over)


def _lines(text: str, width: float) -> list[str]:
    return list(wrapped(text, BODY, width, most=8))


def _write(pad: Pad, lines: Sequence[str]) -> None:
    for line in lines:
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


def _key(pad: Pad) -> None:
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
