"""The other form of a part that is also sold ready-wired: the same with leads of its own.

Its pins are where the leads leave it; a series resistor is in the lead already.
"""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.electrical import OwnLeads, SeriesResistor
from fitplan.model.part import WIRES_OF_JOINT, Part

WIRED_ENDING = "-leads"
"""What the id of the ready-wired form has more than that of the bare one."""


def wired_form(part: Part, leads: OwnLeads) -> Part:
    """Return a part with a lead of its own at every pin that takes a wire.

    Raises
    ------
    ValueError
        When it has no pin that a wire could be fastened to.
    """
    if all(pin.joint == "plug" for pin in part.pins):
        raise ValueError(f"{part.id}: no pin takes a wire")
    end = {"bare": "bare ends", "socket": "a socket at each end", "pin": "a pin at each end"}[leads.end]
    return replace(
        part,
        id=part.id + WIRED_ENDING,
        name=f"{part.name}, ready-wired with leads of {leads.length_mm:g} mm, {end}",
        pins=tuple(
            pin if pin.joint == "plug" else replace(pin, joint="attached", wires=WIRES_OF_JOINT["attached"])
            for pin in part.pins
        ),
        electrical=(
            *(
                replace(one, place="board") if isinstance(one, SeriesResistor) else one
                for one in part.electrical
            ),
            leads,
        ),
        cautions=part.cautions
        if leads.end == "bare"
        else tuple(one for one in part.cautions if one != "soldering"),
        source=f"{part.source}; length and gauge of its leads from memory, not confirmed",
    )
