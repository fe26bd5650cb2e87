"""The order of work at the bench: parts and wires in one sequence, from cutting to the first run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.part import PinJoint
from fitplan.model.solids import Vec

Act: TypeAlias = Literal[
    "cut",
    "splice",
    "join",
    "crimp",
    "take out",
    "open",
    "thread",
    "place",
    "fasten",
    "house",
    "measure",
    "couple",
    "plug",
    "close",
    "run",
]
"""What is done in a step.

cut: cut to length, strip, label at both ends. splice: solder wires to each other, on the table or, where
one of them comes through a port, inside. join: fasten wires to pins, as `WorkStep.joint` says. crimp: put
contacts onto wires for a coupling's housing; house: push them into it.
thread: lead wires through a port. plug: a lead into its source, last of all. measure: readings of the meter.
"""
Spot: TypeAlias = Literal["table", "beside", "inside"]
"""On the table; beside the vehicle, with what hangs on wires that are in it; inside, through an opening."""
Side: TypeAlias = Literal["start", "end"]
EndOf: TypeAlias = tuple[int, Side]
"""An end of a wire, by the wire's number."""


@dataclass(frozen=True)
class Lifted:
    """A wire that hangs on a part while it goes in, and is held in the vehicle already.

    Attributes
    ----------
    wires
        From the part to where it is held: one, or several that splices join.
    held
        What holds it: ``owner.pin``, the name of a splice, or that of a port.
    leaves
        Points of its way (mm) from which it runs straight to the part's pin, for the part beside the vehicle
        and after each of its moves but the last.
    """

    end: EndOf
    wires: tuple[int, ...]
    held: str
    leaves: tuple[Vec, ...]


@dataclass(frozen=True)
class WorkStep:
    """One thing to do.

    Attributes
    ----------
    vehicle
        Empty on the table.
    parts
        What goes in, or what wires are joined to.
    wires, ends
        What is worked at; ``ends`` are those that are made or led through a port in this step.
    splice, port, opening, crossing
        Its name, where the act has one. ``opening`` is also what is open while something is done inside.
    bricks
        What a rebuild takes out.
    readings
        Numbers of the readings that are taken.
    blind
        Neither iron nor tweezers get there by a straight way that is known: it is felt for.
    """

    number: int
    act: Act
    spot: Spot
    vehicle: str = ""
    parts: tuple[str, ...] = ()
    wires: tuple[int, ...] = ()
    ends: tuple[EndOf, ...] = ()
    joint: PinJoint = "solder"
    splice: str = ""
    port: str = ""
    opening: str = ""
    crossing: str = ""
    bricks: tuple[str, ...] = ()
    readings: tuple[int, ...] = ()
    lifted: tuple[Lifted, ...] = ()
    blind: bool = False


@dataclass(frozen=True)
class WorkPlan:
    """All steps in order, and what is known of that order.

    Attributes
    ----------
    undone
        How often something done is taken back: a lid that was put on again in between, a wire that is too
        short for its part to hang beside the vehicle.
    iron_inside
        Joints that are soldered inside a vehicle.
    proved
        No order of the parts lets fewer steps be undone, nor as few with less soldering inside.
    short
        (wire, mm): what a wire lacks for its part to be joined outside.
    """

    steps: tuple[WorkStep, ...] = ()
    undone: int = 0
    iron_inside: int = 0
    proved: bool = True
    short: tuple[tuple[int, float], ...] = ()


NO_WORK = WorkPlan()
"""Nothing to do."""

TOOL_TIP_MM = (2.0, 12.0)
"""An iron's tip, or that of tweezers: wide and long (common practice, no source)."""
TOOL_SHAFT_MM = (6.0, 45.0)
"""Their shaft behind it: wide, and as far as it is slender (common practice, no source)."""
TOOL_GRIP_MM = 18.0
"""Handle and fingers behind that: wide (common practice, no source)."""
TOUCH_MM = 0.6
"""So far before a pin the tip's room begins: what it touches is no obstacle."""
HELD_LENGTHS = (
    "stripping",
    "splice overlap",
    "curves at couplings",
    "slack at couplings",
    "pair drawn in at couplings",
)
"""What of a cut length cannot follow a part: it lies in joints, or between vehicles."""
