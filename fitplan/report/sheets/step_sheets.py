"""Every step of the order of work as a picture with a box to tick, what is in the hand, and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

from fitplan.model.plan import Plan
from fitplan.report.drawings.drawing import Pen
from fitplan.report.drawings.layer_frame import BODY, LINE
from fitplan.report.drawings.pdf import fitted, wrapped
from fitplan.report.drawings.scene import body_edges
from fitplan.report.drawings.step_drawing import step_drawing
from fitplan.report.drawings.work_drawing import work_drawing
from fitplan.report.lists.build_sequence import build_sequence
from fitplan.report.lists.order_words import order_words
from fitplan.report.lists.standing import left_of, standing_of
from fitplan.report.lists.wording import sentence, shorten
from fitplan.report.sheets.pad import EDGE, Pad

ACROSS = 4
_GAP = 3.5
_PICTURES = (23.0, 21.0, 19.0, 17.0)
"""Heights of the pictures, in mm: lower ones where that brings another row onto a sheet."""
_FRAME = 10.0
"""What the frame of a step takes beside picture and text, in mm."""
_MOST_LINES = 14


def step_sheets(pad: Pad, plan: Plan) -> None:
    """Write all steps, one small picture each; only what is new in a step stands out in its picture."""
    steps = list(zip(plan.work.steps, build_sequence(plan), strict=True))
    if not steps:
        return
    pad.turn("Order of assembly")
    pad.write(wrapped(order_words(plan), BODY, pad.width), BODY, 2.5, LINE, ink="soft")
    pad.y += 2.0
    edges = {entry.name: body_edges(plan, entry) for entry in plan.built.train.vehicles}
    parts = {placement.need: place for place, placement in enumerate(plan.built.placements)}
    entries = {step.needs: step for step in plan.assembly}
    wide = (pad.width - _GAP * (ACROSS - 1)) / ACROSS
    texts = [
        [
            *wrapped(sentence(said.words), BODY, wide - 4, most=_MOST_LINES),
            *wrapped(f"In the hand: {said.hand}.", BODY, wide - 4),
        ]
        for _, said in steps
    ]
    firsts = range(0, len(steps), ACROSS)
    lines = [LINE * max(map(len, texts[first : first + ACROSS])) for first in firsts]
    laid: frozenset[int] = frozenset()
    there = standing_of(plan)
    below, picture_high = 0, 0.0
    for row_number, first in enumerate(firsts):
        if not below:
            if row_number:
                pad.turn(pad.title)
            below, picture_high = _rows_on_a_sheet(lines[row_number:], pad.room)
        below -= 1
        high = _FRAME + picture_high + lines[row_number]
        row = zip(steps[first : first + ACROSS], texts[first : first + ACROSS], strict=True)
        for column, ((step, said), text) in enumerate(row):
            x, y = EDGE + column * (wide + _GAP), pad.y
            page = pad.page
            page.rect(x, y, wide, high, Pen("soft", 0.2))
            page.rect(x + 2.0, y + 2.0, 3.4, 3.4, Pen("ink", 0.3))
            if said.stands:
                page.path([(x + 2.6, y + 3.7), (x + 3.4, y + 4.7), (x + 5.0, y + 2.6)], Pen("ink", 0.4))
            title = f"{said.number}  {said.vehicle or 'the table'}"
            page.text(x + 7.0, y + 4.9, fitted(title, 3.4, wide - 9, True), 3.4, bold=True)
            if step.act == "place" and step.parts in entries:
                entry = entries[step.parts]
                picture = step_drawing(plan, entry, edges[step.vehicle], wide - 3, picture_high)
                with page.group(f"part-{parts[entry.need]}", shorten(entry.need, 120)):
                    page.place(picture, x + 1.5, y + 6.5)
            else:
                body = edges.get(step.vehicle, [])
                picture = work_drawing(plan, left_of(step, there), body, laid, wide - 3, picture_high)
                page.place(picture, x + 1.5, y + 6.5)
            for number, words in enumerate(text):
                page.text(x + 2.0, y + 10.5 + picture_high + number * LINE, words, BODY)
            laid |= frozenset(said.wires)
        pad.y += high + _GAP


def _rows_on_a_sheet(lines: Sequence[float], room: float) -> tuple[int, float]:
    """Return how many rows of steps a sheet takes, at least one, and how high their pictures are.

    Parameters
    ----------
    lines
        Height of each row's text in mm.
    room
        Height that is left on the sheet, in mm.
    """

    def taken(picture: float) -> int:
        ends = accumulate(_FRAME + picture + text + _GAP for text in lines)
        return max(1, sum(end - _GAP <= room for end in ends))

    return max((taken(picture), picture) for picture in _PICTURES)
