"""Every step of the order of work as a picture with a box to tick, what is in the hand, and what to do."""

from __future__ import annotations

from fitplan.model.plan import Plan
from fitplan.report.drawings.drawing import Pen
from fitplan.report.drawings.layer_frame import BODY, LINE
from fitplan.report.drawings.pdf import fitted, wrapped
from fitplan.report.drawings.scene import body_edges
from fitplan.report.drawings.step_drawing import step_drawing
from fitplan.report.drawings.work_drawing import work_drawing
from fitplan.report.lists.build_sequence import build_sequence, order_words
from fitplan.report.lists.wording import sentence, shorten
from fitplan.report.sheets.pad import BOTTOM, EDGE, PAPERS, Pad

ACROSS = 4
_GAP = 3.5
_PICTURE = 23.0
_MOST_LINES = 14


def step_sheets(pad: Pad, plan: Plan) -> None:
    """Write all steps, one small picture each; only what is new in a step stands out in its picture."""
    steps = list(zip(plan.work.steps, build_sequence(plan), strict=True))
    if not steps:
        return
    pad.turn("Order of assembly")
    for said_of_all in wrapped(order_words(plan), BODY, pad.width):
        pad.page.text(EDGE, pad.y + 2.5, said_of_all, BODY, ink="soft")
        pad.y += LINE
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
    laid: frozenset[int] = frozenset()
    for first in range(0, len(steps), ACROSS):
        high = 10.0 + _PICTURE + LINE * max(map(len, texts[first : first + ACROSS]))
        if pad.y + high > PAPERS[pad.paper][1] - BOTTOM:
            pad.turn(pad.title)
        row = zip(steps[first : first + ACROSS], texts[first : first + ACROSS], strict=True)
        for column, ((step, said), text) in enumerate(row):
            x, y = EDGE + column * (wide + _GAP), pad.y
            page = pad.page
            page.rect(x, y, wide, high, Pen("soft", 0.2))
            page.rect(x + 2.0, y + 2.0, 3.4, 3.4, Pen("ink", 0.3))
            title = f"{said.number}  {said.vehicle or 'the table'}"
            page.text(x + 7.0, y + 4.9, fitted(title, 3.4, wide - 9, True), 3.4, bold=True)
            if step.act == "place" and step.parts in entries:
                entry = entries[step.parts]
                picture = step_drawing(plan, entry, edges[step.vehicle], wide - 3, _PICTURE)
                with page.group(f"part-{parts[entry.need]}", shorten(entry.need, 120)):
                    page.place(picture, x + 1.5, y + 6.5)
            else:
                body = edges.get(step.vehicle, [])
                picture = work_drawing(plan, step, body, laid, wide - 3, _PICTURE)
                page.place(picture, x + 1.5, y + 6.5)
            for number, words in enumerate(text):
                page.text(x + 2.0, y + 10.5 + _PICTURE + number * LINE, words, BODY)
            laid |= frozenset(said.wires)
        pad.y += high + _GAP
