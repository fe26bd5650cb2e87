"""Holes inside one vehicle that its wires pass: between which ends, and where on the wires.

A part comes in by its own way, a wire that leaves goes on past its port, and what is built in is come at
straight through what is open. From the outside by one such way, along the wires and out by the other is a way
round; what it passes once (`closed_rings`) keeps wires that are joined at both ends from being laid in.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TypeAlias

from fitplan.model.solids import AXES, Box, Direction, Vec, axis_of, is_forward, plane_of, way_length
from fitplan.model.vehicle import Port
from fitplan.model.ways_in import Moves
from fitplan.model.work import EASY_MM, InnerHole
from fitplan.packing.access.disassembly import Disassembly
from fitplan.packing.access.openings import is_open_side
from fitplan.workbench.closed_rings import ClosedRings, Passed, left_over
from fitplan.workbench.loom import Knot, Loom, Strand
from fitplan.workbench.reach import Surroundings
from fitplan.workbench.reach import along as beside

WaysOut: TypeAlias = Mapping[str, tuple[str, Moves]]
"""By part: the opening through which it comes out, and the moves."""
Terminal: TypeAlias = tuple[int, Knot]
"""A wire's number, and the pin or port that it ends at."""
_PAST_MM = 1.0
_WayOut: TypeAlias = tuple[tuple[Vec, ...], str]
"""Points from a terminal to the outside, and the lid that is off for it; empty: none."""


@dataclass(frozen=True)
class PassedHole:
    """A hole that is passed between two terminals.

    Attributes
    ----------
    wire
        The wire that lies in it; 0 where only a part passes it on its way.
    along
        How far from the first terminal, along the wires (mm).
    on_wire
        How far from where that wire begins in the vehicle (mm).
    upwards
        Whether it is passed upwards along its axis.
    """

    hole: InnerHole
    wire: int
    along: float
    on_wire: float
    upwards: bool


class InnerHoles:
    """All that is passed between the terminals of one vehicle's wires.

    Attributes
    ----------
    ways
        By which its parts come out.
    """

    def __init__(self, loom: Loom, body: Disassembly, around: Surroundings, ways: WaysOut) -> None:
        self.ways = dict(ways)
        self._body, self._around = body, around
        self._rings: dict[frozenset[str], ClosedRings] = {}
        self._outs: dict[Knot, _WayOut | None] = {}
        self._between: dict[tuple[Terminal, Terminal], tuple[PassedHole, ...]] = {}
        self._strands: dict[tuple[Terminal, Terminal], Sequence[Strand]] = {}
        for strand in loom.strands:
            for knot in (strand.first, strand.last):
                if knot[0] != "splice":
                    for strands, far in loom.ways_from(strand, knot):
                        pair = ((strand.wire.number, knot), (strands[-1].wire.number, far))
                        self._strands[pair] = strands
                        self._between[pair] = tuple(self._passed(strands, knot, far))
        self._on: dict[int, list[tuple[float, InnerHole]]] = {}
        for passed in (one for holes in self._between.values() for one in holes if one.wire):
            self._lies_in(passed)

    @property
    def pairs(self) -> Iterator[tuple[Terminal, Terminal]]:
        """The terminals between which holes are passed, each pair both ways round."""
        return (pair for pair, holes in self._between.items() if holes)

    def between(self, one: Terminal, other: Terminal) -> tuple[PassedHole, ...]:
        """Return what is passed from one terminal to another that wires join, in that order."""
        return self._between.get((one, other), ())

    @property
    def joined(self) -> Iterator[tuple[Terminal, Terminal]]:
        """All terminals that wires join, each pair both ways round."""
        return iter(self._between)

    def lies_shut(self, one: Terminal, other: Terminal) -> bool:
        """Whether holes are passed between two terminals, or would be with no lid off."""
        if self._between[one, other]:
            return True
        return any(self._passed(self._strands[one, other], one[1], other[1], shut=True))

    def on(self, wire: int) -> tuple[InnerHole, ...]:
        """Return the holes that a wire lies in, from where it begins in the vehicle on."""
        return tuple(hole for _, hole in sorted(self._on.get(wire, ()), key=lambda one: one[0]))

    def _lies_in(self, passed: PassedHole) -> None:
        """Note a hole for its wire: of two that are one the narrower, not of two in a row."""
        there = self._on.setdefault(passed.wire, [])
        for place, (along, hole) in enumerate(there):
            if _meet(hole, passed.hole) and abs(along - passed.on_wire) <= _length(hole, passed.hole):
                if min(passed.hole.size) < min(hole.size):
                    there[place] = (passed.on_wire, passed.hole)
                return
        there.append((passed.on_wire, passed.hole))

    # -- the way round ---------------------------------------------------------------------------------------

    def _passed(
        self, strands: Sequence[Strand], start: Knot, end: Knot, *, shut: bool = False
    ) -> Iterator[PassedHole]:
        """Yield what is passed on the way in to a terminal, along wires, and out from another.

        The lids by which both go in are off, or with ``shut`` none is.
        """
        points: list[Vec] = []
        begins: list[tuple[float, Strand, bool]] = []
        knot = start
        for strand in strands:
            begins.append((way_length(points), strand, knot == strand.first))
            points += strand.points_from(knot)[1 if points else 0 :]
            knot = strand.other(knot)
        one, other = self._out(start, points[0]), self._out(end, points[-1])
        if one is None or other is None:
            return
        rings = self.rings_with(frozenset() if shut else frozenset({one[1], other[1]} - {""}))
        before, wired = way_length(one[0]), way_length(points)
        way = (*reversed(one[0]), *points, *other[0])
        events = sorted(rings.passed(way), key=lambda event: event.along)
        left = left_over(events)
        ports = [port for kind, name, _ in (start, end) if kind == "port" and (port := self._port(name))]
        # A port is told of by itself; a room that borders on it may have a hole farther on.
        inner = [
            event
            for event in events
            if event.slab in left
            and not any(_lies_in_port(rings.opening(event.slab), port) for port in ports)
        ]
        for run in _runs(inner):
            lying = [event for event in run if 0.0 <= event.along - before <= wired]
            # What a part passes on its way in may go on where its wire lies.
            ahead = [event for event in run if event.along < before]
            for part in (ahead, [event for event in run if event.along > before + wired]):
                if part:
                    yield PassedHole(rings.hole([event.slab for event in part]), 0, 0.0, 0.0, run[0].upwards)
            # Each wire lies in its own stretch of what is passed: a splice may be in the midst of it.
            stretches: dict[int, list[Passed]] = {}
            for event in lying:
                number = sum(begin <= event.along - before for begin, _, _ in begins) - 1
                stretches.setdefault(number, []).append(event)
            for number, stretch in stretches.items():
                begin, strand, forwards = begins[number]
                for part in _narrow_parts(stretch, rings) or [stretch]:
                    along = part[0].along - before
                    from_here = along - begin
                    on_wire = from_here if forwards else way_length(strand.points) - from_here
                    hole = rings.hole([event.slab for event in part])
                    yield PassedHole(hole, strand.wire.number, along, on_wire, run[0].upwards)

    def _out(self, knot: Knot, at: Vec) -> _WayOut | None:
        """Return the way from a terminal to the outside; None where none is known."""
        if knot not in self._outs:
            self._outs[knot] = self._find_out(knot, at)
        return self._outs[knot]

    def _find_out(self, knot: Knot, at: Vec) -> _WayOut | None:
        kind, name, _ = knot
        if kind == "port":
            port = self._port(name)
            return None if port is None else (_straight(at, port.out, self._body.vehicle.hull), "")
        if name in self.ways:
            opening, moves = self.ways[name]
            points = [at]
            for way, far in moves:
                points.append(beside(points[-1], way, far))
            return tuple(points), self._lid(opening)
        for opening, one in self._body.openings.items():
            if name not in self._body.names and self._around.clear_for_tool(at, opening, frozenset()):
                return _straight(at, one.out, self._body.vehicle.hull), self._lid(opening)
        return None

    def through(self, opening: str) -> ClosedRings:
        """Return what is closed round while this opening is open."""
        return self.rings_with(frozenset({self._lid(opening)} - {""}))

    def _lid(self, opening: str) -> str:
        return "" if is_open_side(self._body.vehicle, opening) else opening

    def _port(self, name: str) -> Port | None:
        return self._body.vehicle.port(name)

    def rings_with(self, lids: frozenset[str]) -> ClosedRings:
        """Return what is closed round while these lids are off."""
        if lids not in self._rings:
            bodies = [self._body.body(lid) for lid in sorted(lids)] or [self._body.body("")]
            self._rings[lids] = ClosedRings(bodies, self._body.vehicle.hull)
        return self._rings[lids]


def _runs(events: Sequence[Passed]) -> list[list[Passed]]:
    """Return what is passed one after the other without a gap, slab by slab, each run by itself."""
    runs: list[list[Passed]] = []
    last: dict[int, list[Passed]] = {}
    for event in events:
        axis, place, _ = event.slab
        run = last.get(axis)
        if run is not None and run[-1].upwards == event.upwards and abs(run[-1].slab[1] - place) == 1:
            run.append(event)
        else:
            last[axis] = [event]
            runs.append(last[axis])
    return runs


def _narrow_parts(run: Sequence[Passed], rings: ClosedRings) -> list[list[Passed]]:
    """Return what is narrow in a run, each narrow part of it by itself: a closed room parts two holes."""
    kinds = groupby(run, key=lambda event: min(rings.opening(event.slab).size) < EASY_MM)
    return [list(part) for narrow, part in kinds if narrow]


def _length(one: InnerHole, other: InnerHole) -> float:
    """Return how long the longer of two holes is along its axis."""
    return max(one.deep, other.deep)


def _meet(one: InnerHole, other: InnerHole) -> bool:
    """Return whether two holes along one axis meet there."""
    axis = AXES.index(one.axis)
    low = max(one.box.low[axis], other.box.low[axis])
    return one.axis == other.axis and low <= min(one.box.high[axis], other.box.high[axis])


def _lies_in_port(hole: InnerHole, port: Port) -> bool:
    """Return whether a room is a port's, and does not go on farther behind it."""
    axis, (low, high) = AXES.index(hole.axis), (port.box.low, port.box.high)
    if axis == axis_of(port.out) and not (
        low[axis] - _PAST_MM <= hole.box.low[axis] and hole.box.high[axis] <= high[axis] + _PAST_MM
    ):
        return False
    return all(a - _PAST_MM < at < b + _PAST_MM for a, at, b in zip(low, hole.box.center, high, strict=True))


def _straight(at: Vec, out: Direction, hull: Box) -> tuple[Vec, ...]:
    """Return the straight way from a point to beyond the hull."""
    edge, here = plane_of(hull, out), at[axis_of(out)]
    return (at, beside(at, out, max(edge - here if is_forward(out) else here - edge, 0.0) + _PAST_MM))
