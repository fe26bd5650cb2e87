"""Ends where no brick is and no port is drawn: wires go out there, and the plan has a port for it.

Rules, with their tolerances:

* such a port is at a coupled end, alone there, and reaches back from the end of the footprint by two studs at
  the most;
* nothing is drawn in it, and behind it, 0.2 mm deep, all is free as the vehicle is drawn;
* it is as wide and as high as the room: half a millimetre more on any side is not all free;
* where the plan says that an end has no port, no square of a plate is free at that end (at points 1.6 mm
  apart).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Direction, Vec
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import OPEN_ENDS, STATES, Port
from fitplan.verify.body import Body
from fitplan.verify.result import Tally
from fitplan.verify.scene import drawn_body

BACK = 16.0
"""So far an open end may reach back from the end of the footprint, in mm."""
DEEP, MORE, APART = 0.2, 0.5, 1.6
NEAR = 0.01
_CLOSED = " has no wire port"


def check_open_ends(built: BuiltTrain, sheet: Tally) -> None:
    """Check every open end of the train against the bodies as they are drawn."""
    order = built.train.vehicles
    closed = {one.reason.partition(_CLOSED)[0] for one in built.harness.unreached if _CLOSED in one.reason}
    for number, entry in enumerate(order):
        coupled: list[Direction] = [entry.towards("ahead")] if number else []
        coupled += [entry.towards("behind")] if number + 1 < len(order) else []
        for port in entry.vehicle.ports:
            if port.name in OPEN_ENDS.values():
                sheet.count("open ends")
                for wrong in _wrong(entry, port, coupled):
                    sheet.problem("open end", f"{entry.name}, {port.name}", wrong)
        for out in coupled:
            if entry.name in closed and not any(port.out == out for port in entry.vehicle.ports):
                sheet.count("closed ends")
                if (point := _opening_at(entry, out)) is not None:
                    told = ", ".join(f"{value:.1f}" for value in point)
                    sheet.problem(
                        "open end", f"{entry.name}, {OPEN_ENDS[out]}", f"no port, and free at {told} mm"
                    )


def _wrong(entry: TrainVehicle, port: Port, coupled: Collection[Direction]) -> Iterator[str]:
    vehicle, box = entry.vehicle, port.box
    if OPEN_ENDS.get(port.out) != port.name:
        yield f"leads {port.out}, which is another end"
        return
    if port.out not in coupled:
        yield "nothing is coupled there"
    opened = [hole.name for hole in vehicle.holes]
    if any(one.out == port.out and one != port and one.name not in opened for one in vehicle.ports):
        yield "a port is drawn at the same end"
    at_end = (vehicle.length - box.high[0]) if port.out == "+x" else box.low[0]
    if abs(at_end) > NEAR or box.size[0] > BACK + NEAR or min(box.size[1:]) <= 0:
        yield f"is no gap at the end of the footprint: {box.low} to {box.high}"
        return
    body = _drawn(entry)
    if not _is_open(body, port, box):
        yield "is not free over all of its opening"
    for axis in (1, 2):
        low, high = vehicle.hull.low[axis], vehicle.hull.high[axis]
        for a, b in ((box.low[axis] - MORE, box.low[axis]), (box.high[axis], box.high[axis] + MORE)):
            if low <= a and b <= high and _is_open(body, port, box.with_span(axis, a, b)):
                yield "the room goes on beside it"


def _is_open(body: Body, port: Port, gap: Box) -> bool:
    """Return whether nothing is drawn in a gap up to the end, and right behind it all is free."""
    inner = (gap.low[0] - DEEP, gap.low[0]) if port.out == "+x" else (gap.high[0], gap.high[0] + DEEP)
    if body.hits(gap.with_span(0, *inner), [state for state in STATES if state != "free"]):
        return False
    return gap.size[0] <= NEAR or not body.hits(gap, [state for state in STATES if state != "outside"])


def _drawn(entry: TrainVehicle) -> Body:
    return Body(entry.vehicle.hull, "outside", drawn_body(entry.vehicle, frozenset()))


def _opening_at(entry: TrainVehicle, out: Direction) -> Vec | None:
    """Return the middle of a free square of a plate at an end; None where there is none."""
    body, hull = _drawn(entry), entry.vehicle.hull
    x = hull.high[0] - DEEP / 2 if out == "+x" else hull.low[0] + DEEP / 2
    counts = [int((hull.high[k] - hull.low[k]) / APART) for k in (1, 2)]
    free = {
        (i, k)
        for i in range(counts[0])
        for k in range(counts[1])
        if body.state_at((x, hull.low[1] + (i + 0.5) * APART, hull.low[2] + (k + 0.5) * APART)) == "free"
    }
    for i, k in sorted(free):
        if all((i + di, k + dk) in free for di in range(3) for dk in range(3)):
            return (x, hull.low[1] + (i + 1.5) * APART, hull.low[2] + (k + 1.5) * APART)
    return None
