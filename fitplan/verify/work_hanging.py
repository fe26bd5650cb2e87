"""What hangs on a part while it goes in: each wire is as long as the way that the plan names for it.

That way crosses nothing solid.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Set
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Vec, unit_vector, way_length
from fitplan.model.vehicle import Opening
from fitplan.model.ways_in import Moves
from fitplan.model.wired import Wire, WireEnd
from fitplan.model.work import HELD_LENGTHS, EndOf, Lifted, WorkStep
from fitplan.verify.closed_round import Cuts
from fitplan.verify.distance import line_to_shape
from fitplan.verify.scene import Site
from fitplan.verify.shapes import Shape, eroded
from fitplan.verify.sliding import STATES_IN_THE_WAY
from fitplan.verify.work_ends import end_of, ends_at, is_built_in

_RUB = 0.25
"""What a straight piece of wire may rub along, in mm."""
_NEAR = 0.1
_GIVE = 0.01


class HangingFault(NamedTuple):
    """What does not hold, with a figure where there is one."""

    message: str
    figure: float = 0.0
    unit: str = ""


@dataclass(frozen=True)
class HangingWires:
    """A vehicle at the moment when a part goes in through an opening.

    ``placed`` are the parts that are in, ``joined`` the ends of wires that are joined.
    """

    built: BuiltTrain
    wires: Mapping[int, Wire]
    site: Site
    opening: Opening | None
    placed: Collection[str]
    joined: Set[EndOf]

    def faults(
        self, step: WorkStep, moves_out: Moves, in_holes: Callable[[EndOf], Cuts | None]
    ) -> Iterator[HangingFault]:
        """Check every wire that hangs on a part that goes in, and is held in the vehicle.

        ``in_holes`` gives the body that keeps it in a hole, where one does.
        """
        named = {one.end: one for one in step.lifted}
        if len(named) != len(step.lifted) or set(named) - self.joined:
            yield HangingFault("names a wire that does not hang on what goes in")
        for number, side in sorted(self.joined):
            end = end_of(self.wires[number], side)
            if end.kind != "pin" or end.owner not in step.parts:
                continue
            held = self._is_held((number, side), set())
            if held and (number, side) not in named:
                yield HangingFault(f"wire {number} hangs on {end.owner} and is held in the vehicle")
            elif held:
                lifted, cuts = named[number, side], in_holes((number, side))
                yield from self._too_short(lifted, end, step.parts, moves_out)
                if cuts is not None:
                    yield from self._past_holes(lifted, moves_out, cuts)

    def _is_held(self, end: EndOf, seen: set[int]) -> bool:
        """Return whether what is on the far side of an end is held in a vehicle."""
        number, side = end
        seen.add(number)
        far: EndOf = (number, "end" if side == "start" else "start")
        wire = self.wires[number]
        here = end_of(wire, far[1])
        leg = wire.legs[0] if side == "start" else wire.legs[-1]
        if (leg.leaves if side == "start" else leg.enters) and leg.vehicle == self.site.name:
            return side == "end" and len(wire.legs) > 1  # it comes from a vehicle that was wired before
        if here.kind == "pin":
            inside = here.owner in self.placed or is_built_in(self.built, here.owner)
            return inside and far in self.joined
        if here.kind != "splice" or far not in self.joined:
            return False
        return any(
            self._is_held((n, s), seen)
            for n, s in sorted(ends_at(self.wires, "splice", here.owner))
            if n not in seen
        )

    def _too_short(
        self, lifted: Lifted, end: WireEnd, going_in: Collection[str], moves_out: Moves
    ) -> Iterator[HangingFault]:
        way = self._way(lifted)
        if way is None:
            yield HangingFault(f"wire {lifted.end[0]} does not run as it hangs")
            return
        points, usable = way
        if len(lifted.leaves) != len(moves_out):
            yield HangingFault(f"wire {lifted.end[0]} is not said to reach after each move")
            return
        stay = [part for part in self.site.parts if part.name in self.placed and part.name not in going_in]
        shapes = [shape for part in stay for shape in part.core]
        at, gone = end.at, 0.0
        for (heading, far), leaves in zip(moves_out, reversed(lifted.leaves), strict=True):
            x, y, z = unit_vector(heading)
            at = (at[0] + far * x, at[1] + far * y, at[2] + far * z)
            gone += far
            if math.dist(leaves, end.at) < _NEAR:
                # From where its pin was it goes straight where that is clear, else as the part went.
                straight = self.opening is None or not self._crossed(self.opening, end.at, at, shapes)
                needed = way_length(points) + (math.dist(end.at, at) if straight else gone)
            else:
                behind = _behind(points, leaves)
                if behind is None:
                    yield HangingFault(f"wire {lifted.end[0]} leaves its way where it does not run")
                    continue
                needed = behind + math.dist(leaves, at)
                if self.opening is not None and self._crossed(self.opening, leaves, at, shapes):
                    yield HangingFault(f"wire {lifted.end[0]} would hang through something solid")
            if needed > usable + _GIVE:
                lack = needed - usable
                yield HangingFault(f"wire {lifted.end[0]} is {lack:.1f} mm too short to hang", lack, "mm")

    def _past_holes(self, lifted: Lifted, moves_out: Moves, cuts: Cuts) -> Iterator[HangingFault]:
        """Check that wires hang through the same holes as they lie in."""
        way = self._way(lifted)
        points = way[0] if way is not None else ()
        outs = list(points[:1])
        for heading, far in moves_out if outs else ():
            (x, y, z), (dx, dy, dz) = outs[-1], unit_vector(heading)
            outs.append((x + far * dx, y + far * dy, z + far * dz))
        for place, leaves in enumerate(reversed(lifted.leaves), 1):
            back = _ahead_of(points, leaves)
            if math.dist(leaves, outs[0]) < _NEAR:
                continue  # it follows the part
            if not cuts.same([leaves, *back, *outs], [leaves, *outs[place:]]):
                yield HangingFault(f"wire {lifted.end[0]} would hang past a hole that it lies in")

    def _way(self, lifted: Lifted) -> tuple[tuple[Vec, ...], float] | None:
        """Return the points of what hangs, from the part's pin on, and how much of it can follow."""
        points: list[Vec] = []
        usable = 0.0
        end = lifted.end
        for place, number in enumerate(lifted.wires):
            wire = self.wires.get(number)
            if wire is None or number != end[0]:
                return None
            forwards = end[1] == "start"
            leg = wire.legs[0] if forwards else wire.legs[-1]
            if leg.vehicle != self.site.name:
                return None
            more = leg.points if forwards else leg.points[::-1]
            points += more[1 if points else 0 :]
            give = wire.cut_mm - wire.bare_mm - sum(mm for w, mm in wire.allowances if w in HELD_LENGTHS)
            usable += way_length(more) + max(give, 0.0)
            if place + 1 < len(lifted.wires):
                far = end_of(wire, "end" if forwards else "start")
                onwards = [
                    e for e in ends_at(self.wires, "splice", far.owner) if e[0] == lifted.wires[place + 1]
                ]
                if far.kind != "splice" or not onwards:
                    return None
                end = onwards[0]
        return tuple(points), usable

    def _crossed(self, opening: Opening, start: Vec, end: Vec, shapes: Iterable[Shape]) -> bool:
        if any(line_to_shape(start, end, shape) <= 0.0 and _deep(start, end, shape) for shape in shapes):
            return True
        body = self.site.opened(opening)
        count = max(1, math.ceil(math.dist(start, end)))
        low, high = self.site.vehicle.hull.low, self.site.vehicle.hull.high
        for step in range(1, count):
            share = step / count
            x, y, z = (a + share * (b - a) for a, b in zip(start, end, strict=True))
            inside = all(lo < v < hi for lo, v, hi in zip(low, (x, y, z), high, strict=True))
            near = [(dx, dy, dz) for dx in (-_RUB, _RUB) for dy in (-_RUB, _RUB) for dz in (-_RUB, _RUB)]
            if inside and all(
                body.state_at((x + dx, y + dy, z + dz)) in STATES_IN_THE_WAY for dx, dy, dz in near
            ):
                return True
        return False


def _behind(points: tuple[Vec, ...], at: Vec) -> float | None:
    """Return how much of a way lies beyond a point on it; None where the point is not on it."""
    left = way_length(points)
    best: float | None = None
    for one, other in pairwise(points):
        long = math.dist(one, other)
        step = [b - a for a, b in zip(one, other, strict=True)]
        share = sum((p - a) * s for p, a, s in zip(at, one, step, strict=True)) / (long * long or 1.0)
        share = min(max(share, 0.0), 1.0)
        x, y, z = (a + share * s for a, s in zip(one, step, strict=True))
        if math.dist((x, y, z), at) < _NEAR:
            best = left - share * long
        left -= long
    return best


def _ahead_of(points: tuple[Vec, ...], at: Vec) -> list[Vec]:
    """Return the points of a way before one on it, the nearest first."""
    behind = _behind(points, at)
    left = way_length(points)
    found: list[Vec] = []
    for one, other in pairwise(points):
        if behind is None or left <= behind:
            break
        found.insert(0, one)
        left -= math.dist(one, other)
    return found


def _deep(start: Vec, end: Vec, shape: Shape) -> bool:
    """Return whether a line runs into a shape, and does not only rub along it."""
    inner = eroded(shape, _RUB)
    return inner is not None and line_to_shape(start, end, inner) <= 0.0
