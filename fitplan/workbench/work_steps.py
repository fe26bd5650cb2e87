"""The steps of an order of work, written out one after the other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, CellPack
from fitplan.model.hands import passes
from fitplan.model.meter import MeterPlan, MeterStage
from fitplan.model.part import PinJoint
from fitplan.model.wired import Crossing, Splice, Wire
from fitplan.model.work import EndOf, Side, WorkStep
from fitplan.packing.access.openings import is_open_side
from fitplan.workbench.leading import Leading
from fitplan.workbench.loom import Knot, Strand, joint_of, wire_end
from fitplan.workbench.work_search import VehicleOrder, WorkEntry, WorkSearch

_COLD: tuple[MeterStage, ...] = ("continuity", "supply to ground", "neighbours")


class WorkSteps:
    """Puts all steps in order."""

    def __init__(
        self,
        built: BuiltTrain,
        orders: Sequence[VehicleOrder],
        searches: dict[str, WorkSearch],
        plugged_last: frozenset[EndOf],
        meter: MeterPlan,
        led: Mapping[str, Leading] = MappingProxyType({}),
    ) -> None:
        self.built = built
        self.orders = orders
        self.searches = searches
        self.meter = meter
        self.last = plugged_last
        self.led = {end for one in led.values() for end in one.ends}
        self.spliced_inside = {name for one in led.values() for name in one.splices}
        self.wires = {wire.number: wire for wire in built.harness.wires if not wire.inside}
        self.late = {end for order in orders for entry in order.entries for end in entry.joints.late}
        self.joined: set[EndOf] = set()
        self.lids: dict[str, dict[str, None]] = {}
        """What was opened, by vehicle, in that order."""

    def all(self) -> Iterator[WorkStep]:
        """Yield the steps; their numbers are still to be given."""
        yield from self._cutting()
        for splice in self.built.harness.splices:
            ends = tuple(self._splice_ends(splice.name))
            if not any(map(self._arrives, ends)) and splice.name not in self.spliced_inside:
                self.joined.update(ends)
                yield WorkStep(0, "splice", "table", wires=splice.wires, ends=ends, splice=splice.name)
        for order in self.orders:
            for entry in order.entries:
                yield from self._outside(entry, "table")
        yield from self._contacts(before=True)
        for order in self.orders:
            yield from self._vehicle(order)
        yield from self._tests()

    def _cutting(self) -> Iterator[WorkStep]:
        spools: dict[tuple[int, str], list[int]] = defaultdict(list)
        leads: list[int] = []
        for wire in self.wires.values():
            if wire.lead is None:
                spools[wire.awg, wire.colour].append(wire.number)
            elif wire.lead.shortened:
                leads.append(wire.number)
        for numbers in (*(spools[key] for key in sorted(spools)), leads):
            if numbers:
                yield WorkStep(0, "cut", "table", wires=tuple(numbers))

    def _splice_ends(self, name: str) -> Iterator[EndOf]:
        sides: tuple[Side, Side] = ("start", "end")
        for wire in self.wires.values():
            for side in sides:
                end = wire_end(wire, side)
                if (end.kind, end.owner) == ("splice", name):
                    yield (wire.number, side)

    def _outside(self, entry: WorkEntry, spot: str) -> Iterator[WorkStep]:
        """Yield the joints of an entry that are made on the table, or beside the vehicle."""
        for owner in entry.step.needs:
            ends = [
                end
                for end in entry.joints.outside
                if self._owner(end) == owner
                and end not in self.late
                and ((self._arrives(end) or end in self.led) == (spot == "beside"))
            ]
            yield from self._joined_beside(ends, owner, entry.step.vehicle if spot == "beside" else "")

    def _joined_beside(self, ends: Iterable[EndOf], owner: str, vehicle: str) -> Iterator[WorkStep]:
        """Yield the joints of ends at one part beside a vehicle; on the table where none is named."""
        for joint, group in self._by_joint(ends):
            self.joined.update(group)
            wires = tuple(dict.fromkeys(number for number, _ in group))
            yield WorkStep(
                0, "join", "beside" if vehicle else "table", vehicle, (owner,), wires, group, joint
            )

    def _inside(
        self, ends: Iterable[EndOf], vehicle: str, opening: str, blind: frozenset[EndOf]
    ) -> Iterator[WorkStep]:
        groups: dict[tuple[str, PinJoint, bool], list[EndOf]] = defaultdict(list)
        for end in ends:
            groups[self._owner(end), self._joint(end), end in blind].append(end)
        for (owner, joint, hidden), group in groups.items():
            self.joined.update(group)
            wires = tuple(dict.fromkeys(number for number, _ in group))
            yield WorkStep(
                0, "join", "inside", vehicle, (owner,), wires, tuple(group), joint, opening=opening,
                blind=hidden,
            )  # fmt: skip

    def _by_joint(self, ends: Iterable[EndOf]) -> list[tuple[PinJoint, tuple[EndOf, ...]]]:
        groups: dict[PinJoint, list[EndOf]] = defaultdict(list)
        for end in ends:
            groups[self._joint(end)].append(end)
        return [(joint, tuple(group)) for joint, group in groups.items()]

    def _contacts(self, *, before: bool, vehicle: str = "") -> Iterator[WorkStep]:
        """Yield crimping: on the table where housings pass their ports, else once the wires are through."""
        for crossing in self.built.harness.crossings:
            for side in (crossing.ahead, crossing.behind):
                if vehicle and side != vehicle:
                    continue
                ends = self._cavities(crossing, side)
                if ends and self._passes(crossing, side) == before:
                    wires = tuple(number for number, _ in ends)
                    spot = "table" if before else "beside"
                    where = "" if before else side
                    yield WorkStep(
                        0, "crimp", "table" if spot == "table" else "beside", where, wires=wires, ends=ends,
                        joint="crimp", crossing=crossing.name,
                    )  # fmt: skip

    def _vehicle(self, order: VehicleOrder) -> Iterator[WorkStep]:
        name = order.vehicle
        search = self.searches[name]
        bricks = tuple(sorted(self.built.taken_out(name)))
        if bricks:
            yield WorkStep(0, "take out", "inside", name, bricks=bricks)
        opened = ""
        first = order.entries[0].step.opening if order.entries else ""
        spliced_here = [
            splice
            for splice in self.built.harness.splices
            if splice.vehicle == name
            and (
                splice.name in self.spliced_inside or any(map(self._arrives, self._splice_ends(splice.name)))
            )
        ]
        if (order.at_once or spliced_here) and not first:
            first = next(iter(search.body.openings), "")
        opened, steps = self._open(name, first, opened)
        yield from steps
        led = [end for end in order.at_once if self._arrives(end)]
        here = [end for end in order.at_once if end not in led]
        opened, steps = self._built_in_joined(search, here, order.at_once_blind, opened)
        yield from steps
        threaded: set[tuple[int, str]] = set()
        inside: frozenset[str] = frozenset()
        going_in = {need for entry in order.entries for need in entry.step.needs}
        shut_out = {one.need for one in self.built.placements if one.vehicle == name} - going_in
        yield from self._thread(search, self._loose(search), threaded, opened, inside)
        for splice in spliced_here:
            yield self._spliced_inside(search, splice, opened)
        opened, steps = self._built_in_joined(search, led, order.at_once_blind, opened)
        yield from steps
        for entry in order.entries:
            opened, steps = self._open(name, entry.step.opening, opened)
            yield from steps
            full = inside | frozenset(entry.step.needs)
            strands = [
                one
                for owner in entry.step.needs
                for strand in search.loom.at_part(owner)
                for one in search.loom.together(strand)
            ]
            early = [s for s in strands if not search.around.mouths_clear(s, opened, full)]
            yield from self._thread(search, early, threaded, opened, inside)
            yield from self._outside(entry, "beside")
            yield WorkStep(
                0, "place", "inside", name, entry.step.needs, opening=entry.step.opening,
                lifted=entry.joints.lifted,
            )  # fmt: skip
            yield from self._thread(search, strands, threaded, opened, full)
            made = [end for end in entry.joints.inside if end not in self.late]
            made += [end for end in entry.joints.late if self._owner(end) not in shut_out]
            yield from self._inside(made, name, opened, entry.joints.blind)
            held = [f.need for f in self.built.fastenings if f.need in entry.step.needs]
            for need in held:
                yield WorkStep(0, "fasten", "inside", name, (need,), opening=opened)
            inside = full
        yield from self._thread(search, search.loom.strands, threaded, opened, inside)
        left = [end for end in self._ends_in(search) if end not in self.joined and end not in self.last]
        # What has no way in is wired beside its vehicle, as far as it can be.
        beside = [end for end in left if self._owner(end) in shut_out]
        for owner in dict.fromkeys(map(self._owner, beside)):
            yield from self._joined_beside([end for end in beside if self._owner(end) == owner], owner, name)
        left = [end for end in left if end not in beside]
        yield from self._inside(left, name, opened, frozenset(left))
        yield from self._contacts(before=False, vehicle=name)
        for crossing in self.built.harness.crossings:
            there = name in (crossing.ahead, crossing.behind)
            ends = self._cavities(crossing, name) if there else ()
            if ends:
                self.joined.update(ends)
                wires = tuple(number for number, _ in ends)
                yield WorkStep(
                    0, "house", "beside", name, wires=wires, ends=ends, joint="crimp", crossing=crossing.name
                )
        yield from self._measure(_COLD, name)

    def _spliced_inside(self, search: WorkSearch, splice: Splice, opened: str) -> WorkStep:
        """Return the soldering of a splice that a wire comes to through a port, once that is led through.

        On the table it cannot be made, as no splice goes through a port; parts are not in its way yet.
        """
        ends = tuple(self._splice_ends(splice.name))
        self.joined.update(ends)
        blind = not search.around.clear_through_open(splice.at, opened, frozenset())
        return WorkStep(
            0, "splice", "inside", search.vehicle, wires=splice.wires, ends=ends, splice=splice.name,
            opening=opened, blind=blind,
        )  # fmt: skip

    def _open(self, vehicle: str, opening: str, opened: str) -> tuple[str, list[WorkStep]]:
        """Return what is open now, and the step that opens it: none for open sides and lids that are off."""
        shape = self.built.train.vehicle(vehicle).vehicle
        if not opening or opening == opened:
            return opened, []
        if is_open_side(shape, opening):
            return (opened or opening), []
        off = opening in self.lids.setdefault(vehicle, {})
        self.lids[vehicle][opening] = None
        return opening, [] if off else [WorkStep(0, "open", "inside", vehicle, opening=opening)]

    def _built_in_joined(
        self, search: WorkSearch, ends: Iterable[EndOf], blind: frozenset[EndOf], opened: str
    ) -> tuple[str, list[WorkStep]]:
        """Return what is open then, and the steps that join ends at what is built in, before any part is in.

        Where no tool gets to an end through what is open, the opening through which it does is opened.
        """
        steps: list[WorkStep] = []
        left = list(ends)
        while left:
            now = [end for end in left if end in blind or self._reached(search, end, opened)]
            if now:
                steps += self._inside(now, search.vehicle, opened, blind)
                left = [end for end in left if end not in now]
                continue
            reached = {
                way: sum(self._reached(search, end, way) for end in left) for way in search.body.openings
            }
            opened, more = self._open(search.vehicle, max(reached, key=lambda way: reached[way]), opened)
            steps += more
        return opened, steps

    def _reached(self, search: WorkSearch, end: EndOf, opened: str) -> bool:
        """Return whether a tool gets to an end while no part is in and an opening is open."""
        at = wire_end(self.wires[end[0]], end[1]).at
        return search.around.clear_through_open(at, opened, frozenset())

    def _loose(self, search: WorkSearch) -> list[Strand]:
        """Return what is led through before any part: what only passes, and what arrives from before."""
        found: list[Strand] = []
        for strand in search.loom.strands:
            whole = search.loom.together(strand)
            alone = not any(
                knot[0] == "pin" and knot[1] in search.body.names for s in whole for knot in (s.first, s.last)
            )
            if alone or strand.arrives:
                found.append(strand)
        return found

    def _thread(
        self,
        search: WorkSearch,
        strands: Iterable[Strand],
        threaded: set[tuple[int, str]],
        opened: str,
        inside: frozenset[str],
    ) -> Iterator[WorkStep]:
        """Yield one step a port for the wires that are led through it now."""
        ports: dict[str, list[EndOf]] = defaultdict(list)
        hidden: set[str] = set()
        for strand in strands:
            for knot in (strand.first, strand.last):
                if knot[0] != "port" or (strand.wire.number, knot[1]) in threaded:
                    continue
                threaded.add((strand.wire.number, knot[1]))
                ports[knot[1]].append((strand.wire.number, self._led(strand, knot)))
                if not search.around.mouths_clear(strand, opened, inside):
                    hidden.add(knot[1])
        for port, ends in ports.items():
            wires = tuple(number for number, _ in ends)
            yield WorkStep(
                0, "thread", "inside", search.vehicle, wires=wires, ends=tuple(ends), port=port,
                opening=opened, blind=port in hidden,
            )  # fmt: skip

    def _led(self, strand: Strand, knot: Knot) -> Side:
        """Return which end of a wire goes first: the one on the far side; of one that arrives, its end."""
        outwards: Side = "end" if knot == strand.last else "start"
        if strand.arrives and knot == strand.first:
            return "end"
        return outwards

    def _tests(self) -> Iterator[WorkStep]:
        for crossing in self.built.harness.crossings:
            if crossing.connector:
                yield WorkStep(0, "couple", "beside", crossing=crossing.name, wires=crossing.joined)
        yield from self._measure(("coupled",), "")
        yield from self._measure(("source",), "")
        lasts = [end for end in sorted(self.last) if end[0] in self.wires]
        for end in lasts:
            wire = self.wires[end[0]]
            vehicle = wire_end(wire, end[1]).vehicle
            yield WorkStep(
                0, "plug", "inside", vehicle, (self._owner(end),), (end[0],), (end,), self._joint(end)
            )
        yield from self._measure(("power",), "")
        for order in self.orders:
            for name in self.lids.get(order.vehicle, {}):
                yield WorkStep(0, "close", "inside", order.vehicle, opening=name)
        yield WorkStep(0, "run", "beside")

    def _measure(self, stages: tuple[MeterStage, ...], vehicle: str) -> Iterator[WorkStep]:
        numbers = tuple(
            test.number
            for test in self.meter.tests
            if test.stage in stages and (not vehicle or test.vehicle == vehicle)
        )
        if numbers:
            yield WorkStep(0, "measure", "beside", vehicle, readings=numbers)

    def _ends_in(self, search: WorkSearch) -> Iterator[EndOf]:
        """Yield the ends at pins in one vehicle."""
        sides: tuple[Side, Side] = ("start", "end")
        for wire in self.wires.values():
            for side in sides:
                end = wire_end(wire, side)
                if end.kind == "pin" and end.vehicle == search.vehicle:
                    yield (wire.number, side)

    def _cavities(self, crossing: Crossing, vehicle: str) -> tuple[EndOf, ...]:
        sides: tuple[Side, Side] = ("start", "end")
        return tuple(
            (wire.number, side)
            for wire in self.wires.values()
            for side in sides
            if (end := wire_end(wire, side)).kind == "connector"
            and (end.owner, end.vehicle) == (crossing.name, vehicle)
        )

    def _passes(self, crossing: Crossing, vehicle: str) -> bool:
        """Return whether a housing goes through its port, end first, and its wires lie in no hole inside."""
        bare = any(self.searches[vehicle].holes.on(n) for n, _ in self._cavities(crossing, vehicle))
        pair = self.built.train.catalogue.get(crossing.connector)
        name = crossing.port_ahead if vehicle == crossing.ahead else crossing.port_behind
        port = self.built.train.vehicle(vehicle).vehicle.port(name)
        return not bare and (pair is None or port is None or passes(pair, port.opening))

    def _arrives(self, end: EndOf) -> bool:
        """Return whether a wire comes to this end from a vehicle that was wired before."""
        return end[1] == "end" and len(self.wires[end[0]].legs) > 1

    def _owner(self, end: EndOf) -> str:
        return wire_end(self.wires[end[0]], end[1]).owner

    def _joint(self, end: EndOf) -> PinJoint:
        wire = self.wires[end[0]]
        joint = joint_of(self.built, wire_end(wire, end[1]))
        made = wire.lead is not None and not wire.lead.shortened and joint != "attached"
        return "plug" if made else joint


def plugged_last(built: BuiltTrain) -> Iterator[EndOf]:
    """Yield the ends of bought leads at what feeds: they are plugged once all is soldered and measured."""
    sides: tuple[Side, Side] = ("start", "end")
    for wire in built.harness.wires:
        if wire.lead is None or wire.inside or wire.lead.shortened:
            continue
        for side in sides:
            if _feeds(built, wire, side):
                yield (wire.number, side)
                break


def _feeds(built: BuiltTrain, wire: Wire, side: Side) -> bool:
    end = wire_end(wire, side)
    placement = built.placement(end.owner) if end.kind == "pin" else None
    return placement is not None and any(placement.part.figure(kind) is not None for kind in (Bank, CellPack))
