"""Ways along wires inside a vehicle, from one pin or port to another, through splices."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fitplan.model.solids import Vec, way_length
from fitplan.model.wired import Wire
from fitplan.model.work import EndOf, Side
from fitplan.verify.closed_round import Passing
from fitplan.verify.work_ends import SIDES, end_of


@dataclass(frozen=True)
class WayTip:
    """Where a way along wires ends: a pin, by the end of its wire, or a port."""

    end: EndOf
    owner: str
    port: str
    at: Vec


@dataclass(frozen=True)
class JoinedWay:
    """A way along wires from one tip to another: wires with their points in that order, and all joints."""

    tips: tuple[WayTip, WayTip]
    wires: tuple[tuple[int, tuple[Vec, ...]], ...]
    ends: tuple[EndOf, ...]
    splices: int

    def wire_at(self, along: float) -> int:
        """Return the wire so far along (mm); 0 before the first and behind the last."""
        gone = 0.0
        for number, points in self.wires:
            if gone <= along <= gone + way_length(points):
                return number
            gone += way_length(points)
        return 0


class JoinedWays:
    """All ways along wires, vehicle by vehicle."""

    def __init__(self, wires: Mapping[int, Wire]) -> None:
        self._wires = wires
        self._known: dict[str, list[JoinedWay]] = {}

    def within(self, vehicle: str) -> list[JoinedWay]:
        """Return all ways along wires in a vehicle, each both ways round."""
        if vehicle not in self._known:
            self._known[vehicle] = self._find(vehicle)
        return self._known[vehicle]

    def _find(self, vehicle: str) -> list[JoinedWay]:
        ends: dict[tuple[str, str], list[tuple[int, Side]]] = defaultdict(list)
        for number, wire in self._wires.items():
            for side in SIDES:
                if self._kind(wire, side, vehicle) == "splice":
                    ends["splice", end_of(wire, side).owner].append((number, side))
        found: list[JoinedWay] = []

        def walk(tip: WayTip, number: int, side: Side, before: JoinedWay | None) -> None:
            wire = self._wires[number]
            points = leg_of(wire, vehicle)
            far: Side = "end" if side == "start" else "start"
            here = ((number, side),) if self._kind(wire, side, vehicle) != "port" else ()
            there = ((number, far),) if self._kind(wire, far, vehicle) != "port" else ()
            wires = (*(before.wires if before else ()), (number, points if side == "start" else points[::-1]))
            joints = (*(before.ends if before else ()), *here, *there)
            splices = before.splices if before else 0
            if self._kind(wire, far, vehicle) == "splice":
                so_far = JoinedWay((tip, tip), wires, joints, splices + 1)
                for other, back_side in ends["splice", end_of(wire, far).owner]:
                    if other not in {one for one, _ in wires}:
                        walk(tip, other, back_side, so_far)
            else:
                found.append(JoinedWay((tip, self._tip(wire, far, vehicle)), wires, joints, splices))

        for number, wire in self._wires.items():
            for side in SIDES:
                if leg_of(wire, vehicle) and self._kind(wire, side, vehicle) != "splice":
                    walk(self._tip(wire, side, vehicle), number, side, None)
        return found

    def _kind(self, wire: Wire, side: Side, vehicle: str) -> str:
        """Return what a wire's end is in a vehicle: a pin, a splice, or the port that it goes on through."""
        legs = [leg for leg in wire.legs if leg.vehicle == vehicle and len(leg.points) > 1]
        if not legs:
            return ""
        port = legs[0].enters if side == "start" else legs[0].leaves
        return "port" if port else end_of(wire, side).kind

    def _tip(self, wire: Wire, side: Side, vehicle: str) -> WayTip:
        leg = next(one for one in wire.legs if one.vehicle == vehicle and len(one.points) > 1)
        at = leg.points[0] if side == "start" else leg.points[-1]
        port = leg.enters if side == "start" else leg.leaves
        return WayTip((wire.number, side), "" if port else end_of(wire, side).owner, port, at)


def leg_of(wire: Wire, vehicle: str) -> tuple[Vec, ...]:
    """Return the points of a wire in a vehicle; none where it is not there."""
    return next((leg.points for leg in wire.legs if leg.vehicle == vehicle and len(leg.points) > 1), ())


def runs_of(path: JoinedWay, passed: Sequence[Passing]) -> Iterator[tuple[int, list[Passing]]]:
    """Yield what wires pass without a gap, cut by cut, with the wire that lies there."""
    runs: list[tuple[int, list[Passing]]] = []
    for axis in range(3):
        for one in (p for p in passed if p.room[0] == axis):
            wire = path.wire_at(one.along)
            last = runs[-1][1][-1].room if runs and runs[-1][0] == wire else (-1, 0, 0)
            if last[0] == axis and abs(last[1] - one.room[1]) == 1:
                runs[-1][1].append(one)
            else:
                runs.append((wire, [one]))
    runs.sort(key=lambda run: run[1][0].along)
    yield from (run for run in runs if run[0])
