"""Which ends of wires are led through holes inside a vehicle before they are joined, and which parts are.

Where two parts with a hole between them (`inner_holes`) hang on each other from the table on, one of them
must pass that hole, with all that hangs on it; else that end of the wire which is joined last is left loose,
led through, and joined beside the vehicle.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from fitplan.model.built import BuiltTrain
from fitplan.model.led_through import plug_at, slips
from fitplan.model.work import EASY_MM, EndOf, InnerHole, Side
from fitplan.packing.access.openings import is_open_side
from fitplan.workbench.inner_holes import PassedHole, Terminal
from fitplan.workbench.loom import end_of, joint_of, wire_end
from fitplan.workbench.work_search import VehicleOrder, WorkSearch

_Pair: TypeAlias = tuple[Terminal, Terminal]


@dataclass(frozen=True)
class LedPart:
    """A part that is led on the wires that it hangs on, through this hole, before it goes in."""

    owner: str
    ends: tuple[EndOf, ...]
    hole: InnerHole


@dataclass
class Leading:
    """What is led in one vehicle.

    Attributes
    ----------
    ends
        Ends that are joined beside the vehicle, once they are led through.
    parts
        Parts that are led, by name.
    splices
        Splices that are made inside: they do not pass a hole that lies between two of them.
    lids
        Lids that are taken off before ends are led: by them goes in what comes along.
    blocked
        Why wires are not led, by number.
    """

    ends: set[EndOf] = field(default_factory=set)
    parts: dict[str, LedPart] = field(default_factory=dict)
    splices: set[str] = field(default_factory=set)
    lids: dict[EndOf, tuple[str, ...]] = field(default_factory=dict)
    blocked: dict[int, str] = field(default_factory=dict)


def leading(built: BuiltTrain, search: WorkSearch, order: VehicleOrder) -> Leading:
    """Return what is led where parts go in in an order."""
    return _Leads(built, search, order).found


class _Leads:
    """Finds what is led: ends first, where neither part passes; then part by part."""

    def __init__(self, built: BuiltTrain, search: WorkSearch, order: VehicleOrder) -> None:
        self.built, self.search = built, search
        self.found = Leading()
        self._wires = {wire.number: wire for wire in built.harness.wires}
        self._turn = {n: i for i, entry in enumerate(order.entries) for n in entry.step.needs}
        self._lids, self._off = self._lids_of(order)
        self._joined_inside = {
            end: turn
            for turn, entry in enumerate(order.entries)
            for end in (*entry.joints.inside, *entry.joints.late)
        }
        late = {end for entry in order.entries for end in entry.joints.late}
        self._table = {
            end
            for entry in order.entries
            for end in entry.joints.outside
            if end not in late and not (end[1] == "end" and len(self._wires[end[0]].legs) > 1)
        }
        self._hopeless: set[_Pair] = set()
        self._splice_inside()
        self._inside = self.found.splices | {
            end.owner
            for wire in built.harness.wires
            for end in (wire.end,)
            if end.kind == "splice" and len(wire.legs) > 1
        }
        self._open_for_splices()
        for pair in self._left():
            if self._too_early(pair) and not any(self._passes(one[1][1], pair) for one in pair):
                self._loosen(pair)
        in_turn = sorted(self._turn, key=lambda name: self._turn[name])
        while left := self._left():
            if not any(self._lead(owner) for owner in in_turn if owner not in self.found.parts):
                self._loosen(left[0])
        self._tie_again()
        self._open_for_ends()
        self._made_up()

    def _is_off(self, terminal: Terminal, turn: int) -> bool:
        """Return whether the lid by which a part goes in is off in another's turn; for what has none, yes."""
        lid = self._lids.get(terminal[1][1], "")
        return not lid or lid in self._off[turn]

    def _lids_of(self, order: VehicleOrder) -> tuple[dict[str, str], list[tuple[str, ...]]]:
        """Return by part the lid that it goes in by, and by turn those that are off."""
        lids: dict[str, str] = {}
        off: list[tuple[str, ...]] = []
        for entry in order.entries:
            opening = entry.step.opening
            lid = "" if is_open_side(self.search.body.vehicle, opening) else opening
            lids |= dict.fromkeys(entry.step.needs, lid)
            off.append(tuple(lids.values()))
        return lids, off

    # -- which pairs are left --------------------------------------------------------------------------------

    def _left(self) -> list[_Pair]:
        """Return the ends that hang on each other too early for a hole that lies between them."""
        return [pair for pair in self.search.holes.pairs if pair[0] < pair[1] and self._too_early(pair)]

    def _too_early(self, pair: _Pair) -> bool:
        """Return whether two ends are joined on the table though a hole lies between them.

        With one of them loose it is led; but what no splice passes must lie in the wire of that very end.
        """
        led = any(one[1][1] in self.found.parts for one in pair)
        if led or pair in self._hopeless or any(name in self._inside for name in self._splices(pair)):
            return False
        loose = {number for number, knot in pair if self._end((number, knot)) not in self._table}
        for one, other in (pair, pair[::-1]):
            # What is built in is joined first, while the other hangs beside its lid.
            if self._end(one) in self.search.at_once and other[0] not in loose and not self._is_off(other, 0):
                return True
        tight = {one.wire for one in self._holes(pair) if one.wire and min(one.hole.size) < EASY_MM}
        return not loose or not tight <= loose

    def _splices(self, pair: _Pair) -> Iterator[str]:
        """Yield the splices between two terminals."""
        loom = self.search.loom
        start = next(one for one in loom.strands if one.wire.number == pair[0][0])
        for strands, far in loom.ways_from(start, pair[0][1]):
            if (strands[-1].wire.number, far) == pair[1]:
                for strand in strands:
                    yield from (knot[1] for knot in (strand.first, strand.last) if knot[0] == "splice")

    def _holes(self, pair: _Pair) -> tuple[PassedHole, ...]:
        return self.search.holes.between(*pair)

    def _end(self, terminal: Terminal) -> EndOf | None:
        number, (kind, owner, pin) = terminal
        return end_of(self._wires[number], owner, pin) if kind == "pin" else None

    # -- ends ------------------------------------------------------------------------------------------------

    def _loosen(self, pair: _Pair) -> None:
        """Leave that end loose whose wire lies in a hole that no splice passes; else the one joined last."""
        holes = [passed.hole for passed in self._holes(pair)]
        tight = {one.wire for one in self._holes(pair) if one.wire and min(one.hole.size) < EASY_MM}
        on_table = [one for one in pair if self._end(one) in self._table]
        if not on_table:
            self._hopeless.add(pair)  # a hole between two splices, or all that can be is loose
            return
        other = max(on_table, key=lambda one: (one[0] in tight, self._turn.get(one[1][1], -1)))
        one = pair[0] if other == pair[1] else pair[1]
        last = self._end(other)
        assert last is not None
        if self._turn.get(one[1][1]) == self._turn.get(other[1][1]):
            self._hopeless.add(pair)
            self._block(last, holes, "both its ends go in at once; if another order helps is not decided")
        elif joint_of(self.built, wire_end(self._wires[last[0]], last[1])) == "attached":
            why = f"{other[1][1]} comes with it; cut it, and join it again once it is through"
            self._hopeless.add(pair)
            self._block(last, holes, why)
        else:
            self._table.discard(last)
            self.found.ends.add(last)

    def _tie_again(self) -> None:
        """Have ends joined on the table that were left loose in vain, as others came to be led later."""
        hanging = {owner: len(self._hanging(owner)) for owner in self.found.parts}
        for end in sorted(self.found.ends):
            self._table.add(end)
            alike = all(len(self._hanging(owner)) == known for owner, known in hanging.items())
            if self._left() or not alike:
                self._table.discard(end)
            else:
                self.found.ends.discard(end)

    def _block(self, end: EndOf, holes: Sequence[InnerHole], why: str) -> None:
        wire, vehicle = self._wires[end[0]], self.search.vehicle
        least = min(holes, key=lambda hole: min(hole.size))
        self.found.blocked[end[0]] = f"{wire.label} in {vehicle} is not led through {least.words}: {why}"

    def _made_up(self) -> None:
        """Tell the leads as bought whose plugs do not pass the holes that they lie in."""
        for strand in self.search.loom.strands:
            wire = strand.wire
            holes = self.search.holes.on(wire.number)
            if wire.lead is None or wire.lead.shortened or not holes:
                continue
            sides: tuple[Side, Side] = ("start", "end")
            thick = [plug_at(self.built, wire_end(wire, side)) for side in sides]
            narrow = [[hole for hole in holes if not slips(plug, hole.size)] for plug in thick]
            if all(narrow):
                why = "neither of its plugs passes; take a brick with a larger hole, or wire from the spool"
                self._block((wire.number, "end"), narrow[0], f"{why}, one end soldered once it is through")
                continue
            # The end whose plug passes is led: it is not in its socket yet.
            for side, hindered in zip(sides, reversed(narrow), strict=True):
                if hindered and (wire.number, side) in self._table:
                    self._table.discard((wire.number, side))
                    self.found.ends.add((wire.number, side))

    def _splice_inside(self) -> None:
        """Have one of two splices made inside where a hole lies between them that they do not pass."""
        for strand in self.search.loom.strands:
            holes = self.search.holes.on(strand.wire.number)
            if (
                strand.first[0] == strand.last[0] == "splice"
                and any(min(hole.size) < EASY_MM for hole in holes)
                and not {strand.first[1], strand.last[1]} & self.found.splices
            ):
                self.found.splices.add(strand.last[1])

    def _open_for_splices(self) -> None:
        """Have lids off when splices are made inside: by them go in the parts that hang on these beside."""
        for pair in self.search.holes.joined:
            end, lid = self._end(pair[0]), self._lids.get(pair[0][1][1], "")
            inside = self._inside & set(self._splices(pair))
            if end in self._table and lid and inside and self.search.holes.lies_shut(*pair):
                for name in inside:
                    self._have_off(self._end_at(name), lid)

    def _open_for_ends(self) -> None:
        """Have lids off when ends are joined that were loose: by them goes in what hangs on these beside."""
        for one, other in self.search.holes.pairs:
            end, there = self._end(one), self._end(other)
            turn = self._turn.get(one[1][1], 0) if end in self.found.ends else None
            if end is not None and end in self._joined_inside:
                turn = self._joined_inside[end]
            if turn is None or there is None or self._is_off(other, turn):
                continue
            earlier = self._turn.get(other[1][1], -1) < turn
            if there in self._table or (there in self.found.ends and earlier):
                self._have_off(end, self._lids[other[1][1]])

    def _have_off(self, end: EndOf | None, lid: str) -> None:
        """Have a lid off before an end is joined."""
        if end is not None and lid not in self.found.lids.get(end, ()):
            self.found.lids[end] = (*self.found.lids.get(end, ()), lid)

    def _end_at(self, splice: str) -> EndOf | None:
        """Return one of the ends that meet in a splice."""
        sides: tuple[Side, Side] = ("start", "end")
        return next(
            (
                (wire.number, side)
                for wire in self.built.harness.wires
                for side in sides
                if (there := wire_end(wire, side)).kind == "splice" and there.owner == splice
            ),
            None,
        )

    # -- parts -----------------------------------------------------------------------------------------------

    def _passes(self, owner: str, pair: _Pair) -> bool:
        """Return whether a part passes all that lies between two ends, and the splices between them do."""
        placement = self.search.body.placements.get(owner)
        holes = self._holes(pair)
        if placement is None:
            return False
        if any(self._splices(pair)) and any(min(one.hole.size) < EASY_MM for one in holes):
            return False
        return all(slips(placement.part.bounds.size, one.hole.size) for one in holes)

    def _lead(self, owner: str) -> bool:
        """Lead a part on the wires that it hangs on, where it passes; tell whether."""
        pairs = self._hanging(owner)
        if not self._led_alike(owner, pairs):
            return False
        least = min((one.hole for one in self._holes(pairs[0])), key=lambda hole: min(hole.size))
        ends = dict.fromkeys(end for pair in pairs if (end := self._end(pair[0])) is not None)
        self.found.parts[owner] = LedPart(owner, tuple(ends), least)
        return True

    def _led_alike(self, owner: str, pairs: Sequence[_Pair]) -> bool:
        """Return whether a part passes all that lies between it and the others that it hangs on.

        The same must lie between it and each of them: what is drawn along through the hole lies right only
        then. None of them lies beside a lid that is still on.
        """
        kinds = {
            () if one[1][1] in self.found.parts else tuple((h.hole, h.upwards) for h in self._holes(pair))
            for pair in pairs
            for one in pair[1:]
        }
        return (
            len(kinds) == 1
            and all(self._holes(pair) and self._passes(owner, pair) for pair in pairs)
            and all(self._is_off(other, self._turn[owner]) for _, other in pairs)
        )

    def _hanging(self, owner: str) -> list[_Pair]:
        """Return the ends of a part from which it hangs before it goes in, each with what it hangs on."""
        loom, found = self.search.loom, []
        for strand in loom.at_part(owner):
            knot = loom.knot_of(strand, owner)
            for strands, far in loom.ways_from(strand, knot):
                pair = ((strand.wire.number, knot), (strands[-1].wire.number, far))
                if self._hangs_on(*pair):
                    found.append(pair)
        return found

    def _hangs_on(self, one: Terminal, other: Terminal) -> bool:
        """Return whether a part hangs by an end on something else before it goes in."""
        there, turn = self._end(other), self._turn[one[1][1]]
        earlier = self._turn.get(other[1][1], -1) < turn
        held = there in self._table or there in self.search.at_once or (there in self.found.ends and earlier)
        if there is not None and self._joined_inside.get(there, turn) < turn:
            held = True  # with an iron in the vehicle, once that was in
        return self._end(one) in self._table and held and one[1][1] != other[1][1]
