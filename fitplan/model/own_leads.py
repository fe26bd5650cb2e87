"""Leads that a part comes with: what of a wire they make, and what must be joined to them.

A pin whose joint is ``attached`` has its wire from the start: of a holder, a switch, a ready-wired lamp.
Such a lead is cut to what the wire wants; where it is too short, wire from the spool is joined to it, and
where both ends have one, the two are joined to each other.
"""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.model.as_built import BuiltEnd
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import OwnLeads
from fitplan.model.part import Part
from fitplan.model.wired import Wire, WireEnd


@dataclass(frozen=True)
class MadeOf:
    """What a wire is made of.

    Attributes
    ----------
    own
        Owner, and mm of the lead that it comes with; no entry: all is cut from the spool.
    spool_mm
        What is cut from the spool, with what lies in joints.
    joints
        How many joints lie in its length.
    """

    own: tuple[tuple[str, float], ...]
    spool_mm: float
    joints: int


def own_lead_at(built: BuiltTrain, end: WireEnd | BuiltEnd) -> OwnLeads | None:
    """Return the lead that comes with the part at an end of a wire; None where none does."""
    if end.kind != "pin" or not any(
        pin.name == end.pin and pin.joint == "attached" for pin in built.pins_of(end.owner)
    ):
        return None
    placement = built.placement(end.owner)
    part: Part | None = placement.part if placement is not None else None
    return part.figure(OwnLeads) if part is not None else None


def made_of(built: BuiltTrain, wire: Wire) -> MadeOf:
    """Return what a wire is made of; of a lead as bought nothing is cut."""
    if wire.lead is not None:
        return MadeOf((), 0.0, 0)
    found = [
        (end.owner, lead.length_mm)
        for end in (wire.start, wire.end)
        if (lead := own_lead_at(built, end)) is not None
    ]
    lap = 2 * built.train.wiring.allowances.splice_overlap
    whole = sum(length for _, length in found)
    if not found:
        return MadeOf((), wire.cut_mm, 0)
    if len(found) == 1:
        owner, length = found[0]
        if length >= wire.cut_mm:
            return MadeOf(((owner, wire.cut_mm),), 0.0, 0)
        return MadeOf(tuple(found), round(wire.cut_mm + lap - length, 2), 1)
    (one, first), (other, second) = found
    asked = wire.cut_mm + lap
    if whole >= asked:
        used = min(first, max(asked - second, asked / 2))
        return MadeOf(((one, round(used, 2)), (other, round(asked - used, 2))), 0.0, 1)
    return MadeOf(tuple(found), round(wire.cut_mm + 2 * lap - whole, 2), 2)
