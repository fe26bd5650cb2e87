"""The order in which parts go into one vehicle with their wires: as little undone, as little soldered inside.

Looked for backwards, as parts come out: a state is what is still in, and which lid was taken off last; lids
stay off until all is in. What a part costs hangs on what is in beneath it alone, so the cheapest states are
taken first (uniform cost) and the first that is empty is least. Wires are joined to a part outside where they
reach; else inside, at the part or, once it is in, at the other end; where neither goes, they are too short.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace
from typing import TypeAlias

from fitplan.lattice.cover import TENTHS
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import opposite
from fitplan.model.ways_in import AssemblyStep, Moves, SubassemblyPart
from fitplan.model.work import EndOf, Lifted
from fitplan.packing.access.disassembly import Disassembly, Filling
from fitplan.packing.access.openings import is_open_side
from fitplan.workbench.inner_holes import InnerHoles, WaysOut
from fitplan.workbench.loom import Hanging, Knot, Loom, Strand, end_of, joint_of, wire_end
from fitplan.workbench.reach import Surroundings

MOST_STATES = 400
"""States that are looked at before an order is no longer proved least."""
_ROUNDS = 3
"""So often an order is looked for where its ways change what wires pass."""
Cost: TypeAlias = tuple[int, int, int, int, int, int]
"""Wires too short, soldered inside, openings changed, other joints inside, joints that are felt for, and what
goes in by a gap though by as few moves by a lid that is off: on wires of what goes in by that it hangs round
the body."""
_NONE: Cost = (0, 0, 0, 0, 0, 0)


@dataclass(frozen=True)
class PartJoints:
    """How the wires of what goes in by one step are joined.

    Attributes
    ----------
    outside, inside, late
        Ends that are joined before it goes in; at it, once it is in; and at other parts, once it is in.
    lifted
        What hangs on it while it goes in.
    blind
        Those of ``inside`` and ``late`` that no tool gets at by a straight way.
    short
        (wire, mm) that wires lack to hang on it.
    """

    outside: tuple[EndOf, ...] = ()
    inside: tuple[EndOf, ...] = ()
    late: tuple[EndOf, ...] = ()
    lifted: tuple[Lifted, ...] = ()
    blind: frozenset[EndOf] = frozenset()
    short: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True)
class WorkEntry:
    """One step of assembly, and how its wires are joined."""

    step: AssemblyStep
    joints: PartJoints


@dataclass(frozen=True)
class VehicleOrder:
    """How one vehicle is filled.

    Attributes
    ----------
    at_once, at_once_blind
        Ends at what is built in that are joined first of all.
    proved
        Whether no other order costs less.
    """

    vehicle: str
    entries: tuple[WorkEntry, ...]
    at_once: tuple[EndOf, ...]
    at_once_blind: frozenset[EndOf]
    proved: bool


class WorkSearch:
    """The search in one vehicle."""

    def __init__(
        self,
        built: BuiltTrain,
        vehicle: str,
        steps: Sequence[AssemblyStep],
        plugged_last: frozenset[EndOf] = frozenset(),
        filled: Filling = Disassembly,
        late: Callable[[], bool] = lambda: False,
    ) -> None:
        self._late = late
        self.built = built
        placed = [one for one in built.placements if one.vehicle == vehicle]
        shape = built.train.vehicle(vehicle).vehicle
        self.body = filled(shape, placed, built.taken_out(vehicle))
        self.loom = Loom(built, vehicle)
        self.around = Surroundings(self.body)
        self.steps = tuple(steps)
        self.holes = InnerHoles(self.loom, self.body, self.around, _ways_out(self.steps))
        self.vehicle = vehicle
        self._last = plugged_last
        self._wires = {wire.number: wire for wire in built.harness.wires}
        self._joints: dict[tuple[tuple[str, ...], frozenset[str], str, Moves], tuple[PartJoints, Cost]] = {}
        self.at_once, self.at_once_blind = self._built_in_first()

    def with_wires_of(self, built: BuiltTrain) -> WorkSearch:
        """Return the same search for the same places with wires of other lengths; what it learned is kept."""
        other = copy(self)
        other.built, other.loom, other._joints = built, Loom(built, self.vehicle), {}
        other._wires = {wire.number: wire for wire in built.harness.wires}
        return other

    def find(self) -> VehicleOrder:
        """Return the order that costs least, or, where that takes too long, that of assembly.

        What wires pass hangs on the ways that parts come in by: where an order takes others than were
        reckoned with it is looked for again.
        """
        for _ in range(_ROUNDS):
            order = self._find()
            ways = _ways_out([entry.step for entry in order.entries])
            if ways == self.holes.ways:
                break
            self.holes = InnerHoles(self.loom, self.body, self.around, ways)
            self._joints = {}
        return order

    def _find(self) -> VehicleOrder:
        units = [step.needs for step in self.steps]
        everything = frozenset(need for unit in units for need in unit)
        stuck = self.body.names - everything
        tie = itertools.count()
        # cost, parts left, tie, what is in, opening, order so far (first to come out first)
        heap: list[
            tuple[Cost, int, int, frozenset[str], str, tuple[tuple[tuple[str, ...], str, Moves], ...]]
        ] = [(_NONE, len(everything), next(tie), everything, "", ())]
        done: set[tuple[frozenset[str], str]] = set()
        looked = 0
        while heap and looked < MOST_STATES and not self._late():
            cost, _, _, left, opening, out = heapq.heappop(heap)
            if (left, opening) in done:
                continue
            done.add((left, opening))
            looked += 1
            if not left:
                return self._order(out, stuck, True)
            for unit, through, moves, lids in self._coming_out(units, left, stuck):
                inside = left - frozenset(unit)
                _, more = self._cost_of(unit, inside | stuck, through, moves)
                lid = "" if is_open_side(self.body.vehicle, through) else through
                changed = int(bool(lid) and lid != opening and bool(opening))
                more = (
                    more[0],
                    more[1],
                    more[2] + changed,
                    more[3],
                    more[4],
                    int(opening in lids or (not opening and bool(lids))),
                )
                a, b, c, d, e, f = (one + other for one, other in zip(cost, more, strict=True))
                state = (inside, lid or opening)
                if state not in done:
                    path = (*out, (unit, through, moves))
                    heapq.heappush(heap, ((a, b, c, d, e, f), len(inside), next(tie), *state, path))
        given = tuple((s.needs, s.opening, _back(s.moves)) for s in reversed(self.steps))
        return self._order(given, stuck, False)

    def _coming_out(
        self, units: Sequence[tuple[str, ...]], left: frozenset[str], stuck: frozenset[str]
    ) -> Iterator[tuple[tuple[str, ...], str, Moves, frozenset[str]]]:
        """Yield what can come out next, last in first, by which opening, and lids that would do for a gap.

        By a gap that is always open, such as a port, nothing comes by more moves than through a lid.
        """
        carriers = self.body.carriers(left)
        for unit in reversed(units):
            group = frozenset(unit)
            if not group <= left or (carriers - group) & group or self._carries_others(group, left):
                continue
            ways = [
                (opening, moves)
                for opening in self.body.openings
                if (moves := self.body.way_out(group, (left - group) | stuck, opening)) is not None
            ]
            gaps = {opening for opening, _ in ways if is_open_side(self.body.vehicle, opening)}
            most = min((len(moves) for opening, moves in ways if opening not in gaps), default=None)
            for opening, moves in ways:
                if most is None or opening not in gaps or len(moves) <= most:
                    alike = frozenset(
                        lid for lid, other in ways if lid not in gaps and len(other) == len(moves)
                    )
                    lids = alike if opening in gaps else frozenset()
                    yield unit, opening, tuple((way, far / TENTHS) for way, far in moves), lids

    def _carries_others(self, group: frozenset[str], left: frozenset[str]) -> bool:
        return any(self.body.carried(need) & left - group for need in group)

    def _order(
        self,
        out: Sequence[tuple[tuple[str, ...], str, Moves]],
        stuck: frozenset[str],
        proved: bool,
    ) -> VehicleOrder:
        inside = stuck
        entries: list[WorkEntry] = []
        together: dict[tuple[str, ...], tuple[SubassemblyPart, ...]] = {
            s.needs: s.together for s in self.steps
        }
        for number, (unit, opening, moves) in enumerate(reversed(out), 1):
            step = AssemblyStep(number, unit[0], self.vehicle, opening, _back(moves), together[unit])
            joints, _ = self._cost_of(unit, inside, opening, moves)
            entries.append(WorkEntry(step, joints))
            inside |= frozenset(unit)
        return VehicleOrder(self.vehicle, tuple(entries), self.at_once, self.at_once_blind, proved)

    def _built_in_first(self) -> tuple[tuple[EndOf, ...], frozenset[EndOf]]:
        """Return the ends at what is built in that are joined before any part is in, and the hidden ones."""
        found: list[EndOf] = []
        blind: set[EndOf] = set()
        for owner in self.loom.owners:
            if not self._is_built_in(owner):
                continue
            for strand in self.loom.at_part(owner):
                end = self._end(strand, owner)
                if self._tool_at(end, frozenset(), None):
                    found.append(end)
                elif not self._is_late(strand, owner):
                    found.append(end)
                    blind.add(end)
        return tuple(found), frozenset(blind)

    def _is_late(self, strand: Strand, owner: str) -> bool:
        """Return whether an end can wait for the part at the other end."""
        far = strand.other(self.loom.knot_of(strand, owner))
        return far[0] == "pin" and not self._is_built_in(far[1])

    def _cost_of(
        self, unit: tuple[str, ...], inside: frozenset[str], opening: str, moves: Moves
    ) -> tuple[PartJoints, Cost]:
        key = (unit, inside, opening, moves)
        if key not in self._joints:
            self._joints[key] = self._join(unit, inside, opening, moves)
        return self._joints[key]

    def _join(
        self, unit: tuple[str, ...], inside: frozenset[str], opening: str, moves: Moves
    ) -> tuple[PartJoints, Cost]:
        """Return how the wires of parts that go in as one are joined, and what it costs."""
        outside: list[EndOf] = []
        within: list[EndOf] = []
        late: list[EndOf] = []
        lifted: list[Lifted] = []
        short: list[tuple[int, float]] = []
        blind: set[EndOf] = set()
        full = inside | frozenset(unit)
        held = inside | {self._owner(end) for end in self.at_once}
        for owner in unit:
            for strand in self.loom.at_part(owner):
                end = self._end(strand, owner)
                if end in self._last:
                    continue
                knot = self.loom.knot_of(strand, owner)
                hanging = self.loom.hanging(strand, knot, held)
                if hanging is None:
                    outside.append(end)
                    far = strand.other(knot)
                    if far[0] == "pin" and self._is_built_in(far[1]) and far[1] not in held:
                        self._come_late(self._end(strand, far[1]), full, opening, late, blind)
                    continue
                rings = self.holes.through(opening) if self._in_holes(strand, knot, held) else None
                needed, leaves = self.around.leaves(hanging, moves, opening, inside, rings)
                if needed <= hanging.usable_mm + 1e-6:
                    outside.append(end)
                    lifted.append(Lifted(end, hanging.wires, _held_word(hanging), leaves))
                elif self._tool_at(end, full, opening):
                    within.append(end)
                elif (other := self._other_end(hanging)) is not None and self._tool_at(other, full, opening):
                    outside.append(end)
                    late.append(other)
                else:
                    within.append(end)
                    blind.add(end)
                    lack = needed - hanging.usable_mm
                    short.append((end[0], round(lack, 2)))
        joints = PartJoints(
            tuple(outside), tuple(within), tuple(late), tuple(lifted), frozenset(blind), tuple(short)
        )
        made = (*within, *late)
        iron = sum(self._joint(end) == "solder" for end in made)
        return joints, (len(short), iron, 0, len(made) - iron, len(blind), 0)

    def _in_holes(self, strand: Strand, knot: Knot, held: frozenset[str]) -> bool:
        """Return whether holes lie between a part and anything that is in and that its wires hang from."""
        return any(
            self.holes.between((strand.wire.number, knot), (strands[-1].wire.number, far))
            for strands, far in self.loom.ways_from(strand, knot)
            if (far[1] in held if far[0] == "pin" else strands[-1].arrives)
        )

    def _come_late(
        self, end: EndOf, inside: frozenset[str], opening: str, late: list[EndOf], blind: set[EndOf]
    ) -> None:
        late.append(end)
        if not self._tool_at(end, inside, opening):
            blind.add(end)

    def _other_end(self, hanging: Hanging) -> EndOf | None:
        """Return the end at which hanging wires are held, where that is a part's pin: it can wait."""
        kind, owner, pin = hanging.held
        if kind != "pin" or self._is_built_in(owner):
            return None
        return end_of(self._wires[hanging.wires[-1]], owner, pin)

    def _tool_at(self, end: EndOf, inside: frozenset[str], opening: str | None) -> bool:
        """Return whether a tool gets at an end of a wire: through this opening, or an open side.

        With None named, through any.
        """
        return self.around.clear_through_open(wire_end(self._wires[end[0]], end[1]).at, opening, inside)

    def _end(self, strand: Strand, owner: str) -> EndOf:
        knot = self.loom.knot_of(strand, owner)
        return end_of(strand.wire, knot[1], knot[2])

    def _owner(self, end: EndOf) -> str:
        return wire_end(self._wires[end[0]], end[1]).owner

    def _is_built_in(self, owner: str) -> bool:
        return owner not in self.body.names and self.built.train.built_in(owner) is not None

    def _joint(self, end: EndOf) -> str:
        return joint_of(self.built, wire_end(self._wires[end[0]], end[1]))


def _ways_out(steps: Sequence[AssemblyStep]) -> WaysOut:
    return {need: (step.opening, _back(step.moves)) for step in steps for need in step.needs}


def _back(moves: Moves) -> Moves:
    return tuple((opposite(way), far) for way, far in reversed(moves))


def _held_word(hanging: Hanging) -> str:
    kind, name, pin = hanging.held
    return f"{name}.{pin}" if kind == "pin" else name


def renumbered(entries: Sequence[WorkEntry], first: int) -> tuple[WorkEntry, ...]:
    """Return entries with their steps of assembly numbered from ``first``."""
    return tuple(
        replace(entry, step=replace(entry.step, number=number)) for number, entry in enumerate(entries, first)
    )
