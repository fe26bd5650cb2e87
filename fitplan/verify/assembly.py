"""The order of assembly replayed backwards: every part slides out again, and must touch nothing.

Steps are undone from the last to the first. While a step is undone its opening is open (what the body is made
of inside the opening's box is off), all parts of earlier steps are in, with their shelves, and those of later
steps are out. Parts that go in together leave as one, and are then slid off each other outside, the last that
was joined first.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fitplan.model.solids import opposite
from fitplan.model.ways_in import AssemblyStep, Moves
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site
from fitplan.verify.sliding import Mover, slide_apart, slide_out


def check_order(
    steps: Sequence[AssemblyStep],
    blocked: Sequence[str],
    parts: Sequence[str],
    vehicles: Sequence[str],
    sheet: Tally,
) -> None:
    """Check that steps are in order and in vehicles of the train, and that what is blocked has no step."""
    sheet.count("steps in order", len(steps))
    numbers = [step.number for step in steps]
    if any(later <= earlier for earlier, later in pairwise(numbers)):
        sheet.problem("assembly", "plan", "the steps are not numbered in the order of the list")
    for text in blocked:
        if not any(name in text for name in parts if name not in {n for step in steps for n in step.needs}):
            sheet.problem("assembly", "plan", f"says {text}; all parts that this names go in")
    for step in steps:
        if step.vehicle not in vehicles:
            sheet.problem("assembly", step.vehicle, f"step {step.number} is in no vehicle of the train")


def check_assembly(site: Site, steps: Sequence[AssemblyStep], blocked: Sequence[str], sheet: Tally) -> None:
    """Replay the steps of one vehicle backwards."""
    own = sorted((step for step in steps if step.vehicle == site.name), key=lambda step: step.number)
    parts = {part.name: part for part in site.parts}
    listed = [need for step in own for need in step.needs]
    for name in sorted(set(parts) - set(listed)):
        if any(name in text for text in blocked):
            sheet.note("assembly", site.name, f"{name} has no way in, as the plan says")
        else:
            sheet.problem("assembly", site.name, f"{name} is in no step of the assembly")
    for name in sorted({name for name in listed if listed.count(name) > 1 or name not in parts}):
        sheet.problem("assembly", site.name, f"{name} does not occur exactly once in the assembly")
    steps_left = [step for step in own if all(need in parts for need in step.needs)]
    numbers = [step.number for step in steps_left]
    if len(set(numbers)) != len(numbers):
        sheet.problem("assembly", site.name, "two steps have the same number")
    while steps_left:
        step = steps_left.pop()
        sheet.count("assembly steps replayed")
        opening = site.way_in(step.opening)
        if opening is None:
            message = f"{step.need} goes through {step.opening!r}, which is no opening and no open side"
            sheet.problem("assembly", site.name, message)
            continue
        # What has no step of its own is taken to be there all the time.
        before = {need for other in steps_left for need in other.needs}
        gone = set(listed) - before
        stay = [other for name, other in parts.items() if name not in gone]
        group = [parts[need] for need in step.needs]
        mover = Mover(" with ".join(step.needs), tuple(shape for part in group for shape in part.envelope))
        shelves = [*step.needs, *(other.name for other in stay)]
        slide_out(site, mover, back(step.moves), stay, shelves, opening, sheet, "assembly")
        for place in range(len(step.together), 0, -1):
            off = Mover(group[place].name, group[place].envelope)
            moves = back(step.together[place - 1].moves)
            slide_apart(site, off, moves, group[:place], sheet, "assembly")


def back(moves: Moves) -> Moves:
    """Return the moves that undo moves."""
    return tuple((opposite(way), distance) for way, distance in reversed(moves))
