"""The wires of one vehicle as they hang together: pins, splices and ports, and what lies between."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, TypeAlias

from fitplan.model.built import BuiltTrain
from fitplan.model.part import PinJoint
from fitplan.model.solids import Vec
from fitplan.model.wired import Leg, Wire, WireEnd
from fitplan.model.work import HELD_LENGTHS, EndOf, Side

Knot: TypeAlias = tuple[Literal["pin", "splice", "port"], str, str]
"""A pin (owner, pin), a splice (name, ""), or a port with the number of the wire that goes through it."""


@dataclass(frozen=True)
class Strand:
    """What of a wire lies in one vehicle, from knot to knot.

    Attributes
    ----------
    points
        Its way there (mm), from ``first`` to ``last``.
    usable_mm
        Of its cut length, what can follow a part that hangs on it: all but what lies in joints, and without
        what lies outside of the vehicle.
    outside_mm
        What lies outside, and can be drawn in while its end is loose.
    arrives
        Its end at a port comes from a vehicle that was wired before, and does not give.
    """

    wire: Wire
    first: Knot
    last: Knot
    points: tuple[Vec, ...]
    usable_mm: float
    outside_mm: float
    arrives: bool = False

    def other(self, knot: Knot) -> Knot:
        """Return the knot at its far end."""
        return self.last if knot == self.first else self.first

    def points_from(self, knot: Knot) -> tuple[Vec, ...]:
        """Return its way beginning at one of its knots."""
        return self.points if knot == self.first else self.points[::-1]


@dataclass(frozen=True)
class Hanging:
    """The way from a pin to what holds the wires that hang on it: those wires, their points, their length."""

    wires: tuple[int, ...]
    points: tuple[Vec, ...]
    usable_mm: float
    held: Knot


class Loom:
    """All strands of one vehicle."""

    def __init__(self, built: BuiltTrain, vehicle: str) -> None:
        self.vehicle = vehicle
        self.strands = tuple(_strands(built, vehicle))
        self._at: dict[Knot, list[Strand]] = {}
        for strand in self.strands:
            for knot in (strand.first, strand.last):
                self._at.setdefault(knot, []).append(strand)
        self.owners = tuple(
            dict.fromkeys(k[1] for s in self.strands for k in (s.first, s.last) if k[0] == "pin")
        )

    def at_part(self, owner: str) -> tuple[Strand, ...]:
        """Return the strands that end at a pin of a part or of what is built in."""
        return tuple(
            s for s in self.strands if any(k[0] == "pin" and k[1] == owner for k in (s.first, s.last))
        )

    def knot_of(self, strand: Strand, owner: str) -> Knot:
        """Return the knot by which a strand ends at a part."""
        return next(k for k in (strand.first, strand.last) if k[0] == "pin" and k[1] == owner)

    def hanging(self, strand: Strand, knot: Knot, inside: frozenset[str]) -> Hanging | None:
        """Return what holds a strand that hangs on a part; None where all of it is loose.

        A splice is held where it lies once two of what it joins are held.

        Parameters
        ----------
        inside
            Parts and built-in things that are in the vehicle, with their ends of wires joined.
        """
        wires: list[int] = []
        points: list[Vec] = []
        usable = 0.0
        if not self._is_held(strand, knot, inside, {strand.wire.number}):
            return None
        while True:
            wires.append(strand.wire.number)
            points += strand.points_from(knot)[1 if points else 0 :]
            usable += strand.usable_mm
            knot = strand.other(knot)
            if knot[0] != "splice":
                return Hanging(tuple(wires), tuple(points), usable, knot)
            onwards = [
                other
                for other in self._at[knot]
                if other.wire.number not in wires
                and self._is_held(other, knot, inside, {*wires, other.wire.number})
            ]
            if len(onwards) != 1:
                return Hanging(tuple(wires), tuple(points), usable, knot)
            strand = onwards[0]

    def _is_held(self, strand: Strand, knot: Knot, inside: frozenset[str], seen: set[int]) -> bool:
        """Return whether anything on the far side of a strand is held; wires that were ``seen`` apart."""
        far = strand.other(knot)
        match far[0]:
            case "pin":
                return far[1] in inside
            case "port":
                return strand.arrives
            case _:
                onwards = [other for other in self._at[far] if other.wire.number not in seen]
                seen.update(other.wire.number for other in onwards)
                return any(self._is_held(other, far, inside, seen) for other in onwards)

    def ways_from(
        self, strand: Strand, knot: Knot, passed: frozenset[int] = frozenset()
    ) -> Iterator[tuple[tuple[Strand, ...], Knot]]:
        """Yield ways from an end of a strand, through splices, to pins and ports: strands, and that end.

        None takes a wire twice, or one of those that were ``passed``.
        """
        far, passed = strand.other(knot), passed | {strand.wire.number}
        if far[0] != "splice":
            yield (strand,), far
            return
        for other in self._at[far]:
            if other.wire.number not in passed:
                for more, last in self.ways_from(other, far, passed):
                    yield (strand, *more), last

    def together(self, strand: Strand) -> tuple[Strand, ...]:
        """Return all strands that splices join to one, itself among them."""
        found = [strand]
        for one in found:
            for knot in (one.first, one.last):
                if knot[0] == "splice":
                    found += [other for other in self._at[knot] if other not in found]
        return tuple(found)


def end_of(wire: Wire, owner: str, pin: str) -> EndOf:
    """Return which end of a wire is at a pin."""
    here = wire.start.kind == "pin" and (wire.start.owner, wire.start.pin) == (owner, pin)
    return (wire.number, "start" if here else "end")


def wire_end(wire: Wire, side: Side) -> WireEnd:
    """Return an end of a wire."""
    return wire.start if side == "start" else wire.end


def joint_of(built: BuiltTrain, end: WireEnd) -> PinJoint:
    """Return how a wire is fastened at an end: as its pin says; in splices soldered, at couplings crimped."""
    if end.kind == "connector":
        return "crimp"
    if end.kind == "splice":
        return "solder"
    return next((pin.joint for pin in built.pins_of(end.owner) if pin.name == end.pin), "solder")


def _strands(built: BuiltTrain, vehicle: str) -> Iterator[Strand]:
    for wire in built.harness.wires:
        if wire.inside:
            continue
        for place, leg in enumerate(wire.legs):
            if leg.vehicle == vehicle and len(leg.points) > 1:
                yield _strand(wire, place, leg)


def _strand(wire: Wire, place: int, leg: Leg) -> Strand:
    def knot(port: str, end: WireEnd) -> Knot:
        if port:
            return ("port", port, str(wire.number))
        return ("pin", end.owner, end.pin) if end.kind == "pin" else ("splice", end.owner, "")

    long = sum(math.dist(a, b) for a, b in pairwise(leg.points))
    give = wire.cut_mm - wire.bare_mm - sum(mm for what, mm in wire.allowances if what in HELD_LENGTHS)
    usable = long + max(give, 0.0)
    first, last = knot(leg.enters, wire.start), knot(leg.leaves, wire.end)
    return Strand(wire, first, last, leg.points, usable, wire.cut_mm - long, arrives=place > 0)
