"""A plan on one screen of 24 × 80: verdict, places, what to do, wires, and the verdict at the end again."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from rich.console import Console
from rich.text import Text

from fitplan.model.as_built import REWORK
from fitplan.model.plan import Plan
from fitplan.report.lists.actions import actions_of
from fitplan.report.lists.rework_list import rework_words
from fitplan.report.lists.verdict_words import summarise
from fitplan.report.lists.wording import clean, counted, headline, number, shorten
from fitplan.report.terminal.tables import SEVERITY_SIGNS, verdict_text

WIDE = 80
SCREEN = 24
"""Lines of the screen that is aimed at."""
_FRAME = 8
"""Lines of it that go to the verdict, at the beginning and at the end, to wires and to what comes next."""
PLACES = 8
"""More parts than this are told vehicle by vehicle, not one by one."""
ACTIONS = 5
_ABOUT = 24
_MISSING = 4
_UNDONE = 3


def print_brief(plan: Plan, console: Console, next_step: str = "") -> None:
    """Print a plan as briefly as one screen asks, and what comes next; `print_plan` prints all of it."""
    verdict, words = headline(plan)
    console.print(verdict_text(verdict, shorten(summarise(plan), 3 * WIDE), words))
    console.print()
    ahead = (*_places(plan), *_missing(plan), *_rework(plan))
    for line in (*ahead, *_actions(plan, SCREEN - len(ahead) - _FRAME), _wires(plan)):
        console.print(line)
    if next_step:
        console.print(Text(next_step))
    # What stood first has gone out of sight on a small screen.
    console.print(verdict_text(verdict, words=shorten(words, WIDE - 2)))


def _places(plan: Plan) -> Iterator[Text]:
    placements = plan.built.placements
    if len(placements) <= PLACES:
        for place in placements:
            where = ", ".join(number(value) for value in place.bounds.low)
            line = f"{shorten(place.need, 16):<17}{shorten(place.part.name, 30):<31}"
            yield Text(f"  {line}{shorten(place.vehicle, 12):<13}{where}")
        return
    for entry in plan.built.train.vehicles:
        inside = [place.need for place in placements if place.vehicle == entry.name]
        if inside:
            yield Text(shorten(f"  {clean(entry.name)}: {', '.join(inside)}", WIDE))


def _missing(plan: Plan) -> Iterator[Text]:
    told = [f"{need} has no place: {why}" for need, why in plan.unplaced]
    told += [f"{one.where} is not reached ({one.net}): {one.reason}" for one in plan.unreached]
    for line in told[:_MISSING]:
        # what is missing stands first: what is too long loses its end
        text = Text(f"✕ {clean(line)}", "red")
        text.truncate(WIDE, overflow="ellipsis")
        yield text
    if len(told) > _MISSING:
        yield Text(f"✕ and {len(told) - _MISSING} more", "red")


def _rework(plan: Plan) -> Iterator[Text]:
    """Yield what stays of what is built, and the first things that are undone of it."""
    if words := rework_words(plan):
        for line in textwrap.wrap(words, WIDE):
            yield Text(line)
        undone = [one for one in plan.rework.changes if one.change in REWORK]
        for one in undone[:_UNDONE]:
            yield Text(shorten(f"  {one.change}: {clean(one.words)}: {clean(one.why)}", WIDE))
        if len(undone) > _UNDONE:
            yield Text(f"  and {len(undone) - _UNDONE} more: lists/rework.csv has all")


def _actions(plan: Plan, room: int) -> Iterator[Text]:
    """Yield what to do first, a line each; what stops the train gets what lines are left of ``room``."""
    ordered = actions_of(plan)
    spare = room - min(len(ordered), ACTIONS + 1)
    for one in ordered[:ACTIONS]:
        sign, style = SEVERITY_SIGNS[one.weight]
        words = f"{sign} {shorten(one.about.split(', ', 1)[-1], _ABOUT)}: {clean(one.words)}"
        lines = textwrap.wrap(words, WIDE, subsequent_indent="  ")
        more = min(len(lines) - 1, spare) if one.weight == "stop" else 0
        more = max(more, 0)
        spare -= more
        for line in lines[:more]:
            yield Text(line, style)
        # figures stand first in what is to be done: what is too long loses its end
        last = Text(" ".join([lines[more], *(line.strip() for line in lines[more + 1 :])]), style)
        last.truncate(WIDE, overflow="ellipsis")
        yield last
    if len(ordered) > ACTIONS:
        yield Text(f"  and {counted(len(ordered) - ACTIONS, 'more thing')} to do: --all shows them")


def _wires(plan: Plan) -> Text:
    harness = plan.built.harness
    metres = sum(wire.cut_mm for wire in harness.wires) / 1000
    across = ", ".join(f"{one.conductors} over {one.name}" for one in harness.crossings)
    counts = [f"{sum(one.severity == weight for one in plan.findings)} {weight}" for weight in SEVERITY_SIGNS]
    line = f"{counted(len(harness.wires), 'wire')}, {number(metres, 2)} m; {across or 'none across'}"
    return Text(shorten(f"{line}; findings: {', '.join(counts)}", WIDE))
