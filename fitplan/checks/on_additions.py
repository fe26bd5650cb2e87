"""What stands on an addition and could come off it: pushed sideways in a tumble, or at the edge of its pads.

Pushed is what is stuck to the addition and has nothing beside it; the push comes at the height of its middle.
Each stud holds `STUD_HOLDS_N` in the middle of its foot (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fitplan.checks.toppling import HANGS, foot_of, middle_of
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.facts import STUD_HOLDS_N, mass_of, sideways_n
from fitplan.model.found import Finding
from fitplan.model.placed import Fastening, Placement, Shelf
from fitplan.model.solids import PLACE_WORDS, Box
from fitplan.units import STUD

SUBJECT = "support"
PAST_MIDDLE = 2.0
"""So far, in mm, what carries a heavy part reaches past its middle: play of bricks and of cells."""
_NEAR = 0.01


def added_to_badly(
    built: BuiltTrain, placement: Placement, held: Sequence[Fastening], *, heavy: bool
) -> Iterator[Finding]:
    """Yield what is to be said of a part on an addition; of its middle only where it is heavy."""
    where, mass = f"{placement.need} in {placement.vehicle}", mass_of(placement.part)
    bears, push = borne_sideways_n(placement), sideways_n(placement.part)
    ways = [way for entry in held if entry.tape_mm for way in entry.ways]
    if ways and bears is not None and bears < push:
        sides = ", ".join(PLACE_WORDS[way] for way in ways)
        yield Finding(
            SUBJECT,
            "caution" if heavy else "note",
            where,
            f"{placement.need} ({mass:.0f} g) is stuck to {placement.carried_by}, with nothing close {sides}:"
            f" in a tumble, at 1 g sideways, {push:.1f} N push it, and the studs under it bear {bears:.1f} N",
            round(bears, 2),
            round(push, 2),
            "N",
            "press bricks onto studs close beside it, or build what carries it on more studs",
            "moments about the edges of its feet; a stud holds 1 N, a lead draws with 0.5 N: common practice,"
            " no source",
            add=(Asked("plates or a bracket"),) if heavy else (),
        )
    past = past_middle(built, placement) if heavy else PAST_MIDDLE
    if past < PAST_MIDDLE and not any("+z" in entry.ways for entry in held):
        yield Finding(
            SUBJECT,
            "caution",
            where,
            f"{placement.need} ({mass:.0f} g) rests on {placement.carried_by}, and on nothing more than"
            f" {past:.1f} mm past its middle: cells or bricks a little aside tip it",
            round(past, 1),
            PAST_MIDDLE,
            "mm",
            "give it room for plates under its free end, or for a plate over it on stacks beside it"
            + told_where(placement),
            "what touches it from below, and the middle of its volume; 2 mm are common practice, no source",
            add=(Asked("plates or a bracket"),),
        )


def told_where(placement: Placement) -> str:
    """Return what is to be told of a heavy part so that a plate over it is looked for at all.

    Before a button or socket in everyday use the whole side is kept free as long as nobody says where on it
    that is.
    """
    whole = [
        access
        for access in placement.part.access
        if access.often
        and access.kind != "cells"
        and placement.place.pose.turn_direction(access.side) != "-z"
        and not placement.part.rooms_of(access)
    ]
    names = " and ".join(access.name for access in whole)
    if not whole:
        return ""
    are, whose = ("is", "its") if len(whole) == 1 else ("are", "their")
    return (
        f"; tell where {names} of {placement.need} {are}, as clearances that are needed for access:"
        f" until then {whose} whole side is kept free, and no brick goes before it"
    )


def past_middle(built: BuiltTrain, placement: Placement) -> float:
    """Return how far (mm) what carries a part on an addition reaches past its middle on the worst side.

    As far as is asked for where it stands on no addition, or hangs at one.
    """
    if placement.shelf is None or placement.shelf.kind in HANGS or not placement.steady:
        return PAST_MIDDLE
    foot, middle = foot_of(built, placement), middle_of(placement)
    reach = min(min(foot.high[i] - middle[i], middle[i] - foot.low[i]) for i in (0, 1))
    return max(reach, 0.0)


def borne_sideways_n(placement: Placement) -> float | None:
    """Return the push in N that the studs under what carries a part bear; None where there are none."""
    shelf = placement.shelf
    if shelf is None or not shelf.studs:
        return None
    feet = _ends(shelf) if shelf.kind == "bridge" else [_foot(shelf)]
    studs = shelf.studs * STUD_HOLDS_N / len(feet)
    levels = [foot.high[2] if shelf.kind == "hanger" else foot.low[2] for foot in feet]
    height = max(abs(middle_of(placement)[2] - min(levels)), _NEAR)
    most = studs * len(feet)
    for axis in (0, 1):
        low, high = min(foot.low[axis] for foot in feet), max(foot.high[axis] for foot in feet)
        for edge in (low, high):
            most = min(most, sum(studs * abs(foot.center[axis] - edge) for foot in feet) / height)
    return most


def _foot(shelf: Shelf) -> Box:
    """Return the piece of an addition that stands on the body, or hangs from it."""
    boxes = [piece.box for piece in shelf.parts if piece.name != "pad"]
    if shelf.kind == "hanger":
        return max(boxes, key=lambda box: box.high[2])
    return min(boxes, key=lambda box: box.low[2])


def _ends(shelf: Shelf) -> list[Box]:
    """Return the two ends of a plate over two stacks, down to where each stands."""
    boxes = [piece.box for piece in shelf.parts if piece.name != "pad"]
    plate = max(boxes, key=lambda box: box.size[0] + box.size[1])
    axis = 0 if plate.size[0] > plate.size[1] else 1
    found = []
    for start in (plate.low[axis], plate.high[axis] - STUD):
        foot = min(box.low[2] for box in boxes if abs(box.low[axis] - start) < _NEAR or box is plate)
        found.append(plate.with_span(axis, start, start + STUD).with_span(2, foot, plate.high[2]))
    return found
