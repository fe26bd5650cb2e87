"""Holes inside a vehicle in the order of work: what hangs on two parts is led through, or one of them passes.

From outside by the way that one part comes in, along the wires between both, and out by the way of the other
is a way round. A room that it passes once (`closed_round`) keeps the two, joined on the table, apart: their
last end is joined later, and wires that lie in narrow holes are led through before, with a loose end ahead;
or one of the parts, with all that hangs on it, is led through, and is small enough.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence, Set
from itertools import pairwise, product

from fitplan.model.plan import Plan
from fitplan.model.solids import AXES, Box, Vec, axis_of, is_forward, plane_of, unit_vector, way_length
from fitplan.model.vehicle import OPEN_SIDES, open_side
from fitplan.model.wired import Wire
from fitplan.model.work import EASY_MM, EndOf, InnerHole, WorkStep
from fitplan.verify.assembly import back
from fitplan.verify.closed_round import Cuts, Passing, cuts_of, once
from fitplan.verify.leads import plug_goes, plugs_on
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site
from fitplan.verify.sliding import STATES_IN_THE_WAY
from fitplan.verify.work_ends import SIDES, end_of, is_built_in
from fitplan.verify.work_tools import tool_passes
from fitplan.verify.work_ways import JoinedWay, JoinedWays, WayTip, leg_of, runs_of

_TOUCH = 0.05
_BESIDE = 1.0
"""So far beside the box of a hole (mm) a wire may run that lies in it."""


class LedThrough:
    """What has been led through holes inside vehicles, joined, placed and opened so far."""

    def __init__(self, plan: Plan, wires: Mapping[int, Wire], sites: Mapping[str, Site]) -> None:
        self.built, self.wires, self.sites = plan.built, wires, sites
        self.steps = {need: step for step in plan.assembly for need in step.needs}
        self._joined: dict[EndOf, WorkStep] = {}
        self._placed: dict[str, int] = {}
        self._lids: dict[str, list[tuple[int, str]]] = defaultdict(list)
        self._led: list[WorkStep] = []
        self._ways = JoinedWays(wires)

    def note(self, step: WorkStep) -> None:
        """Keep a step in mind."""
        if step.act in ("splice", "join", "plug"):
            self._joined |= dict.fromkeys(step.ends, step)
        elif step.act == "place":
            self._placed |= dict.fromkeys(step.parts, step.number)
        elif step.act == "open":
            self._lids[step.vehicle].append((step.number, step.opening))
        elif step.act == "thread" and step.hole is not None:
            self._led.append(step)

    # -- one step --------------------------------------------------------------------------------------------

    def faults(self, step: WorkStep, fast: Set[EndOf]) -> Iterator[str]:
        """Yield what is wrong with leading through a hole; ``fast`` are the ends that hold something."""
        hole = step.hole
        assert hole is not None
        body = self.sites[step.vehicle].opened_by([name for _, name in self._lids[step.vehicle]])
        if body.hits(_shrunk(hole.box), STATES_IN_THE_WAY):
            yield "leads through a hole where the body is"
        for number, side in step.ends:
            if not step.parts:
                if (number, side) in fast:
                    yield f"wire {number} hangs on something that does not go through the hole"
                cuts = self._cut(step.vehicle, step.number)
                if not _runs_in(hole, leg_of(self.wires[number], step.vehicle), cuts):
                    yield f"wire {number} does not lie in the hole"
                plugs = plugs_on(self.built, self.wires[number])
                if plugs and not plug_goes(plugs[SIDES.index(side)], hole.size):
                    yield f"the plug of wire {number} does not go through the hole"
        for owner in step.parts:
            yield from self._part_led(owner, step)

    def _part_led(self, owner: str, step: WorkStep) -> Iterator[str]:
        hanging = {end for end in self._joined if self._owner(end) == owner}
        if owner in self._placed or owner not in self.steps or not hanging:
            yield f"leads {owner}, which hangs on no wire beside the vehicle"
            return
        if set(step.ends) - hanging:
            yield f"names a wire that {owner} does not hang on"
        for path in self._ways.within(step.vehicle):
            mine = [tip for tip in path.tips if tip.owner == owner]
            others = [tip for tip in path.tips if tip.owner != owner]
            if not mine or not others or others[0].port or not all(end in self._joined for end in path.ends):
                continue
            other = others[0].owner
            lid = self.steps[other].opening if other in self.steps else ""
            off = {name for _, name in self._lids[step.vehicle]}
            if lid and lid not in off and lid not in OPEN_SIDES.values():
                yield f"leads {owner} in through {lid}, which is on"
            if not any(passed for passed in self._passed(path, step.vehicle, step.number)):
                yield f"draws {owner} through the hole, and its wires to {other} do not lie in it"

    # -- all of it -------------------------------------------------------------------------------------------

    def end(self, blocked: Sequence[str], sheet: Tally) -> None:
        """Tell what hangs on two parts and cannot be laid in; wires of which the plan says so are noted."""
        told: set[str] = set()
        for vehicle in self.sites:
            for path in self._ways.within(vehicle):
                sheet.count("ways along wires")
                fault = self._fault(path, vehicle)
                if fault is None:
                    continue
                said = {t for t in blocked for n, _ in path.wires if t.startswith(f"wire {n} ")}
                told |= said
                (sheet.note if said else sheet.problem)("work", f"step {fault[0]}", fault[1])
        for text in blocked:
            if text not in told:
                sheet.problem("work", "order", f"says {text}; all wires that this names are led")

    def _fault(self, path: JoinedWay, vehicle: str) -> tuple[int, str] | None:
        """Return the step in which a way along wires is closed though it cannot be laid in, and why."""
        if not all(end in self._joined for end in path.ends):
            return None  # never joined: that is told elsewhere
        joints = [self._joined[end] for end in path.ends]
        owners = [tip.owner for tip in path.tips if tip.owner]
        if any(owner not in self._placed and not is_built_in(self.built, owner) for owner in owners):
            return None
        last = max(joints, key=lambda step: step.number) if joints else None
        done = last.number if last is not None and not any(tip.port for tip in path.tips) else 10**9
        there = max([done, *(self._placed.get(owner, 0) for owner in owners)])
        told: str | None = None
        for passed in self._passed(path, vehicle, there):
            told = self._kept_out(path, passed, last, done, (vehicle, self._cut(vehicle, there)))
            if told is None:
                return None
        return None if told is None else (last.number if last is not None else 0, told)

    def _kept_out(
        self,
        path: JoinedWay,
        passed: Sequence[Passing],
        last: WorkStep | None,
        done: int,
        where: tuple[str, Cuts],
    ) -> str | None:
        """Return why wires are not led through what they pass; None where they are."""
        vehicle, cuts = where
        if not passed:
            return None
        for tip in path.tips:
            if tip.owner and self._was_led(tip.owner, done) and self._passes(tip.owner, path, passed, cuts):
                return None
        names = " and ".join(tip.owner or tip.port for tip in path.tips)
        numbers = ", ".join(str(number) for number, _ in path.wires)
        if last is not None and last.spot == "table" and not any(tip.port for tip in path.tips):
            return f"hangs {names} on wire {numbers} on the table, and they pass a hole that is closed round"
        for tip in path.tips:
            lid = self.steps[tip.owner].opening if tip.owner in self.steps else ""
            shut = {one.name for one in self.sites[vehicle].vehicle.openings} - self._off(vehicle, done)
            if lid in shut:
                return f"joins {names}, which a hole parts, while {lid} is on, by which {tip.owner} goes in"
        for number, run in runs_of(path, passed):
            for narrow, part in cuts.narrow(run, EASY_MM):
                if not self._was_threaded(number, part, done, cuts):
                    return f"joins {names}, and wire {number} was not led through a hole {narrow:.1f} mm wide"
            plugs = plugs_on(self.built, self.wires[number])
            if plugs and not all(any(cuts.lets_through(one.room, plug) for plug in plugs) for one in run):
                narrow = min(cuts.width(one.room) for one in run)
                return f"joins {names}, and no plug of wire {number} passes a hole {narrow:.1f} mm wide"
        return None

    def _was_led(self, owner: str, joined: int) -> bool:
        return any(
            owner in step.parts and joined < step.number < self._placed.get(owner, 0) for step in self._led
        )

    def _passes(self, owner: str, path: JoinedWay, passed: Sequence[Passing], cuts: Cuts) -> bool:
        """Return whether a part, and the splices that it draws along, pass all rooms."""
        placement = self.built.placement(owner)
        if placement is None:
            return False
        small, middle, _ = sorted(placement.part.bounds.size)
        return all(
            cuts.lets_through(one.room, (small, middle))
            and (not path.splices or cuts.width(one.room) > EASY_MM - 0.01)
            for one in passed
        )

    def _was_threaded(self, wire: int, run: Sequence[Passing], before: int, cuts: Cuts) -> bool:
        return any(
            step.number < before
            and not step.parts
            and wire in step.wires
            and step.hole is not None
            and any(_lies_at(step.hole, one, cuts) for one in run)
            for step in self._led
        )

    # -- ways ------------------------------------------------------------------------------------------------

    def held(self, end: EndOf, step: WorkStep) -> Cuts | None:
        """Return the body that keeps wires of a part that goes in in a hole; None where nothing does."""
        for path in self._ways.within(step.vehicle):
            far = path.tips[1]
            there = far.owner in self._placed or is_built_in(self.built, far.owner)
            if path.tips[0].end != end or path.tips[0].port or far.port or not there:
                continue
            ways = list(self._passed(path, step.vehicle, step.number))
            if all(one in self._joined for one in path.ends) and ways and all(ways):
                return self._cut(step.vehicle, step.number)
        return None

    def _passed(self, path: JoinedWay, vehicle: str, now: int) -> Iterator[list[Passing]]:
        """Yield what is passed once on each way round that a path closes; ``along`` is along the wires."""
        cuts = self._cut(vehicle, now)
        points: list[Vec] = []
        for _, more in path.wires:
            points += more[1 if points else 0 :]
        for one, other in product(*(self._ways_out(tip, vehicle) for tip in path.tips)):
            begin = way_length(one)
            passed = once(list(cuts.passed((*reversed(one), *points, *other))))
            found = [Passing(p.room, p.along - begin, p.at, p.side) for p in passed]
            yield [p for p in found if not self._in_a_port(p.at, path)]

    def _in_a_port(self, at: Vec, path: JoinedWay) -> bool:
        ports = [
            port.box
            for site in self.sites.values()
            for tip in path.tips
            if tip.port and (port := site.vehicle.port(tip.port)) is not None
        ]
        return any(
            all(a - _BESIDE < v < b + _BESIDE for a, v, b in zip(box.low, at, box.high, strict=True))
            for box in ports
        )

    def _off(self, vehicle: str, now: int) -> frozenset[str]:
        return frozenset(name for number, name in self._lids[vehicle] if number <= now)

    def _cut(self, vehicle: str, now: int) -> Cuts:
        return cuts_of(self.sites[vehicle].opened_by(self._off(vehicle, now)))

    def _ways_out(self, tip: WayTip, vehicle: str) -> list[tuple[Vec, ...]]:
        """Return the ways by which what is at a tip comes out: as its assembly says; else straight."""
        site = self.sites[vehicle]
        if tip.port:
            port = site.vehicle.port(tip.port)
            outs = [] if port is None else [port.out]
        elif tip.owner in self.steps:
            points = [tip.at]
            for way, far in back(self.steps[tip.owner].moves):
                points.append(_moved(points[-1], unit_vector(way), far))
            return [tuple(points)]
        elif is_built_in(self.built, tip.owner):
            ways = [*site.vehicle.openings]
            ways += [side for name in OPEN_SIDES.values() if (side := open_side(site.vehicle, name))]
            outs = [way.out for way in ways if tool_passes(site, (), tip.at, way)]
        else:
            outs = []
        found: list[tuple[Vec, ...]] = []
        for out in outs:
            edge, here = plane_of(site.vehicle.hull, out), tip.at[axis_of(out)]
            far = max(edge - here if is_forward(out) else here - edge, 0.0) + _BESIDE
            found.append((tip.at, _moved(tip.at, unit_vector(out), far)))
        return found

    def _owner(self, end: EndOf) -> str:
        there = end_of(self.wires[end[0]], end[1])
        return there.owner if there.kind == "pin" else ""


def _shrunk(box: Box) -> Box:
    (a, b, c), (d, e, f) = box.low, box.high
    return Box((a + _TOUCH, b + _TOUCH, c + _TOUCH), (d - _TOUCH, e - _TOUCH, f - _TOUCH))


def _lies_at(hole: InnerHole, passing: Passing, cuts: Cuts) -> bool:
    """Return whether a room that is passed is that of a hole."""
    axis = AXES.index(hole.axis)
    at = passing.at[axis]
    inside = hole.box.low[axis] - _BESIDE < at < hole.box.high[axis] + _BESIDE
    return axis == passing.room[0] and inside and cuts.together(axis, at, passing.at, hole.box.center)


def _runs_in(hole: InnerHole, points: Sequence[Vec], cuts: Cuts) -> bool:
    """Return whether a wire runs through the room of a hole, half-way along it."""
    axis = AXES.index(hole.axis)
    middle = hole.box.center[axis]
    for start, end in pairwise(points):
        if min(start[axis], end[axis]) <= middle <= max(start[axis], end[axis]) and start[axis] != end[axis]:
            share = (middle - start[axis]) / (end[axis] - start[axis])
            x, y, z = (a + share * (b - a) for a, b in zip(start, end, strict=True))
            if cuts.together(axis, middle, (x, y, z), hole.box.center):
                return True
    return False


def _moved(point: Vec, way: Vec, far: float) -> Vec:
    (x, y, z), (dx, dy, dz) = point, way
    return (x + far * dx, y + far * dy, z + far * dz)
