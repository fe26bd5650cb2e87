"""Steps of leading wires through holes inside a vehicle, put between those of an order of work.

A wire is led just before its last end is joined, that end first, or where it goes on through a port, then;
where a part would be in the way, before that goes in. A part is led just before it goes in, and before all
that is done at its wires beside the vehicle.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from fitplan.model.work import EASY_MM, EndOf, InnerHole, Side, WorkStep
from fitplan.units import STUD
from fitplan.workbench.leading import Leading
from fitplan.workbench.loom import Knot, Strand, end_of
from fitplan.workbench.work_search import WorkSearch


def with_leading(
    steps: Sequence[WorkStep], searches: Mapping[str, WorkSearch], led: Mapping[str, Leading]
) -> Iterator[WorkStep]:
    """Yield steps, numbered or not, with those of leading between them.

    A lid that is taken off to get at a hole stays off: it is not taken off again, and put on at last.
    """
    before: dict[int, list[WorkStep]] = {}
    off: dict[str, int] = {}
    close: list[WorkStep] = []
    for name, search in searches.items():
        for place, step in _LeadingSteps(steps, search, led[name]).steps():
            before.setdefault(place, []).append(step)
            if step.act == "open":
                off.setdefault(_lid(step), place)
                if not any(s.act == "close" and _lid(s) == _lid(step) for s in steps):
                    close.append(WorkStep(0, "close", "inside", name, opening=step.opening))
    for place, step in enumerate(steps):
        yield from before.get(place, ())
        if step.act == "run":
            yield from close
        if step.act != "open" or off.get(_lid(step), len(steps)) > place:
            yield step


def _lid(step: WorkStep) -> str:
    return f"{step.vehicle}: {step.opening}"


@dataclass(frozen=True)
class _Led:
    """A wire that is led through holes in this order, before a step, this end first."""

    place: int
    end: EndOf
    holes: tuple[InnerHole, ...]


class _LeadingSteps:
    """What is led in one vehicle."""

    def __init__(self, steps: Sequence[WorkStep], search: WorkSearch, leading: Leading) -> None:
        self._steps, self._search, self._leading = steps, search, leading
        self._lids: dict[str, int] = {}
        self._done: dict[tuple[EndOf, str], int] = {}
        for place, step in enumerate(steps):
            for end in step.ends:
                if step.act == "thread" and step.vehicle == search.vehicle:
                    self._done[(end[0], "end"), step.port] = place
                elif step.act in ("splice", "join", "plug"):
                    self._done[end, ""] = place

    def steps(self) -> Iterator[tuple[int, WorkStep]]:
        """Yield the steps of leading, and before which step of the order each comes.

        A lid that is wanted off later, and then earlier, is taken off once.
        """
        for place, step in list(self._all()):
            if step.act != "open" or self._lids[step.opening] == place:
                yield place, step

    def _all(self) -> Iterator[tuple[int, WorkStep]]:
        wanted = [
            (place, lid)
            for end, lids in self._leading.lids.items()
            for lid in lids
            if (place := self._done.get((end, ""))) is not None and self._steps[place].spot != "table"
        ]
        for place, lid in sorted(wanted):  # the first that wants it off has it taken off for all
            yield from self._taken_off(lid, place)
        for owner, part in self._leading.parts.items():
            place = self._before_part(owner)
            if place is not None:
                off, inside = self._so_far(place)
                yield place, self._step(part.hole, part.ends, off, inside, (owner,))
        by_place: dict[int, list[_Led]] = {}
        for strand in self._search.loom.strands:
            led = self._led(strand)
            if led is not None:
                by_place.setdefault(led.place, []).append(led)
        for place in sorted(by_place):
            group = by_place[place]
            for lid in dict.fromkeys(lid for one in group for lid in self._leading.lids.get(one.end, ())):
                yield from self._taken_off(lid, place)
            off, inside = self._so_far(place)
            for hole in _in_turn(one.holes for one in group):
                if not self._clear(hole, off, inside):
                    yield from self._taken_off(self._lid_over(hole, off, inside), place)
                    off, inside = self._so_far(place)
                ends = tuple(one.end for one in group if hole in one.holes)
                yield place, self._step(hole, ends, off, inside)

    def _taken_off(self, lid: str, place: int) -> Iterator[tuple[int, WorkStep]]:
        """Yield the step that takes a lid off before another, unless it is off by then."""
        if lid and lid not in self._so_far(place)[0]:
            self._lids[lid] = place
            yield place, WorkStep(0, "open", "inside", self._search.vehicle, opening=lid)

    def _clear(self, hole: InnerHole, off: Sequence[str], inside: frozenset[str]) -> bool:
        return self._search.around.both_mouths_clear(hole, frozenset(off), inside)

    def _lid_over(self, hole: InnerHole, off: Sequence[str], inside: frozenset[str]) -> str:
        """Return a lid that lets tweezers get at a hole once it is off, too; empty where none does."""
        names = [one.name for one in self._search.body.vehicle.openings if one.name not in off]
        return next((name for name in names if self._clear(hole, (*off, name), inside)), "")

    def _step(
        self, hole: InnerHole, ends: tuple[EndOf, ...], off: Sequence[str], inside: frozenset[str],
        parts: tuple[str, ...] = (),
    ) -> WorkStep:  # fmt: skip
        wires = tuple(dict.fromkeys(number for number, _ in ends))
        opening, blind = off[-1] if off else "", not parts and not self._clear(hole, off, inside)
        return WorkStep(
            0, "thread", "inside", self._search.vehicle, parts, wires, ends, hole=hole, opening=opening,
            blind=blind,
        )  # fmt: skip

    def _so_far(self, place: int) -> tuple[tuple[str, ...], frozenset[str]]:
        """Return the lids that are off before a step, the one taken off last at the end, and what is in."""
        off = {name: at for name, at in self._lids.items() if at <= place}
        inside: frozenset[str] = frozenset()
        for number, step in enumerate(self._steps[:place]):
            if step.vehicle == self._search.vehicle and step.act == "open":
                off.setdefault(step.opening, number)
            elif step.vehicle == self._search.vehicle and step.act == "place":
                inside |= frozenset(step.parts)
        return tuple(sorted(off, key=lambda name: off[name])), inside

    def _before_part(self, owner: str) -> int | None:
        """Return the first of the steps beside the vehicle that lead up to a part's going in."""
        place = next((i for i, s in enumerate(self._steps) if s.act == "place" and owner in s.parts), None)
        while place is not None and place > 0:
            step = self._steps[place - 1]
            if step.act != "thread" and not (step.act == "join" and step.spot == "beside"):
                break
            place -= 1
        return place

    def _led(self, strand: Strand) -> _Led | None:
        """Return when and how a wire is led; None where it is not."""
        number = strand.wire.number
        holes = self._told(number)
        if not holes or number in self._leading.blocked:
            return None
        if "port" in (strand.first[0], strand.last[0]):
            out = strand.last[0] == "port" or not strand.arrives
            port = strand.last if strand.last[0] == "port" else strand.first
            at = self._done.get(((number, "end"), port[1]))
            if at is None:
                return None
            side: Side = "end" if strand.arrives or port == strand.last else "start"
            in_turn = holes if side == "end" else holes[::-1]
            return _Led(self._early(at, holes) if out else at + 1, (number, side), in_turn)
        knots = (strand.first, strand.last)
        first, last = (self._done.get(((number, self._side(strand, knot)), "")) for knot in knots)
        if first is None or last is None or self._steps[max(first, last)].spot == "table":
            return None  # both were joined on the table: the part at one of them is led
        backwards = first > last
        knot = strand.first if backwards else strand.last
        end = (number, self._side(strand, knot))
        return _Led(self._early(max(first, last), holes), end, holes[::-1] if backwards else holes)

    def _told(self, wire: int) -> tuple[InnerHole, ...]:
        """Return those holes of a wire that are told of.

        Wide ones go without a word, but for one of less than a stud where an end is left loose.
        """
        holes = self._search.holes.on(wire)
        told = tuple(hole for hole in holes if min(hole.size) < EASY_MM)
        if not told and any(number == wire for number, _ in self._leading.ends):
            low = [hole for hole in holes if min(hole.size) < STUD]
            told = tuple(sorted(low, key=lambda hole: (min(hole.size), hole.box.low))[:1])
        return told

    def _early(self, place: int, holes: tuple[InnerHole, ...]) -> int:
        """Return the step before which wires are led: the last when tweezers get at all mouths."""
        for earlier in range(place, -1, -1):
            off, inside = self._so_far(earlier)
            if all(self._clear(hole, off, inside) for hole in holes):
                return earlier
            if not off and not inside:
                break
        return place

    def _side(self, strand: Strand, knot: Knot) -> Side:
        """Return which end of its wire a strand has at a pin or splice."""
        if knot[0] == "pin":
            return end_of(strand.wire, knot[1], knot[2])[1]
        return "start" if knot == strand.first else "end"


def _in_turn(orders: Iterable[tuple[InnerHole, ...]]) -> list[InnerHole]:
    """Return all holes, each once, those of the wire that passes most first."""
    found: dict[InnerHole, None] = {}
    for holes in sorted(orders, key=len, reverse=True):
        found.update(dict.fromkeys(holes))
    return list(found)
