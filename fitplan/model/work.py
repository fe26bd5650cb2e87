"""The order of work at the bench: parts and wires in one sequence, from cutting to the first run."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.part import PinJoint
from fitplan.model.solids import AXES, Axis, Box, Direction, Vec, axis_of
from fitplan.units import STUD

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
thread: lead wires through a port or a hole inside, or with them the part that they hang on. plug: a lead
into its source, last of all. measure: readings of the meter.
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
class InnerHole:
    """A hole inside a vehicle that the body closes all round, its lids off: nothing is laid into it sideways.

    ``axis``: along which wires pass it. ``box``: the largest that passes it, in the vehicle's frame (mm).
    """

    axis: Axis
    box: Box

    @property
    def size(self) -> tuple[float, float]:
        """Its two edges across the way through it (mm), in the order of the axes."""
        one, other = (edge for i, edge in enumerate(self.box.size) if i != AXES.index(self.axis))
        return (one, other)

    @property
    def words(self) -> str:
        """It in words: how large, and where, as bricks are counted (studs from one on)."""
        a, b = self.size
        low, high = self.box.low, self.box.high
        spans = []
        for axis in (0, 1):
            first, last = math.floor(low[axis] / STUD + 0.01) + 1, math.ceil(high[axis] / STUD - 0.01)
            spans.append(f"studs {first} to {last}" if first < last else f"stud {first}")
        return (
            f"the hole of {a:.1f} × {b:.1f} mm inside ({spans[0]} from the rear, "
            f"{spans[1]} from the right, {low[2]:.1f} mm above the rail)"
        )

    def is_mouth_of(self, box: Box, out: Direction) -> bool:
        """Return whether it is the way that an opening leaves clear: most of its area."""
        axis = AXES.index(self.axis)
        others = [i for i in range(3) if i != axis]
        shared = math.prod(
            max(min(self.box.high[i], box.high[i]) - max(self.box.low[i], box.low[i]), 0.0) for i in others
        )
        return axis == axis_of(out) and 2 * shared > math.prod(box.size[i] for i in others)

    @property
    def deep(self) -> float:
        """How long it is along the way through it (mm)."""
        return self.box.size[AXES.index(self.axis)]


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
    hole
        What wires are led through where that is no port. With ``parts`` the part is led on its wires.
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
    hole: InnerHole | None = None
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
        How often something done is taken back: a lid that is taken off again (lids stay off until all is in,
        so no plan has one), a wire that is too short for its part to hang beside the vehicle.
    iron_inside
        Joints that are soldered inside a vehicle.
    proved
        No order of the parts lets fewer steps be undone, nor as few with less soldering inside.
    short
        (wire, mm): what a wire lacks for its part to be joined outside.
    blocked
        What keeps wires from being led through a hole inside a vehicle, a sentence each.
    """

    steps: tuple[WorkStep, ...] = ()
    undone: int = 0
    iron_inside: int = 0
    proved: bool = True
    short: tuple[tuple[int, float], ...] = ()
    blocked: tuple[str, ...] = ()


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
EASY_MM = 6.4
"""Through a gap so wide both ways a bare wire is drawn without a word, and a splice with its sleeve, 3.2 mm
thick, passes beside wires (common practice, no source)."""
HELD_LENGTHS = (
    "stripping",
    "splice overlap",
    "curves at couplings",
    "slack at couplings",
    "pair drawn in at couplings",
)
"""What of a cut length cannot follow a part: it lies in joints, or between vehicles."""
