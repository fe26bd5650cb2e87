"""The order of work replayed: nothing is done before what it needs, nor after what shuts it off.

What is kept in mind while the steps go by: which wires are cut, which ends are joined, through which ports
they go, which parts are in, which lid is off. Tools are straight: tip, shaft and grip, round, through what is
open; a wire that hangs on a part while it goes in must be as long as the way that the plan names for it,
which crosses nothing. That no order would let less be undone is taken on trust.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from itertools import pairwise

from fitplan.model.plan import Plan
from fitplan.model.solids import Vec
from fitplan.model.vehicle import OPEN_SIDES, open_side
from fitplan.model.wired import Crossing
from fitplan.model.work import EndOf, WorkStep
from fitplan.verify.assembly import back
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site
from fitplan.verify.work_ends import (
    SIDES,
    end_of,
    ends_at,
    housing_passes,
    is_built_in,
    joint_at,
    port_faults,
)
from fitplan.verify.work_hanging import HangingWires
from fitplan.verify.work_holes import LedThrough
from fitplan.verify.work_shape import said_amiss
from fitplan.verify.work_tools import tool_passes

_COLD = ("continuity", "supply to ground", "neighbours", "coupled")


def check_work(plan: Plan, sites: Mapping[str, Site], sheet: Tally) -> None:
    """Replay a plan's order of work."""
    steps = plan.work.steps
    if not steps:
        if plan.buying and (plan.built.placements or plan.built.harness.wires):
            sheet.problem("work", "order", "has no steps")
        else:
            sheet.note("work", "order", "has no steps")
        return
    if [step.number for step in steps] != list(range(1, len(steps) + 1)):
        sheet.problem("work", "order", "is not numbered through")
    if any(one.spot != "table" and other.spot == "table" for one, other in pairwise(steps)):
        sheet.problem("work", "order", "goes back to the table once work in the vehicles has begun")
    replay = _Replay(plan, sites, sheet)
    for step in steps:
        sheet.count("steps of work replayed")
        replay.take(step)
    replay.end()
    short = len(plan.work.short)
    if plan.work.undone != replay.reopened + short:
        message = f"says that {plan.work.undone} steps are undone; {replay.reopened + short} are"
        sheet.problem("work", "order", message)
    if plan.work.iron_inside != replay.iron:
        message = f"says that {plan.work.iron_inside} joints are soldered inside; {replay.iron} are"
        sheet.problem("work", "order", message)
    sheet.trust("orders of work with less undone", 1, "no other order is looked for")


class _Replay:
    """What has been done so far."""

    def __init__(self, plan: Plan, sites: Mapping[str, Site], sheet: Tally) -> None:
        self.plan, self.built, self.sites, self.sheet = plan, plan.built, sites, sheet
        self.wires = {wire.number: wire for wire in plan.built.harness.wires if not wire.inside}
        self.cut = {w.number for w in self.wires.values() if w.lead is not None and not w.lead.shortened}
        self.joined: set[EndOf] = set()
        self.crimped: set[EndOf] = set()
        self.housed: set[EndOf] = set()
        self.through: set[tuple[int, str, str]] = set()
        self.placed: list[str] = []
        self.opened: dict[str, list[str]] = defaultdict(list)
        self.closed: set[tuple[str, str]] = set()
        self.read: list[int] = []
        self.fastened: Counter[str] = Counter()
        self.coupled: Counter[str] = Counter()
        self.bricks: Counter[tuple[str, str]] = Counter()
        self.spliced: Counter[str] = Counter()
        self.place = 0
        self.iron = 0
        self.reopened = 0
        self.ran = False
        self.live = False
        self.holes = LedThrough(plan, self.wires, sites)
        self.stages = {test.number: test.stage for test in plan.meter.tests}

    def wrong(self, step: WorkStep, message: str, figure: float = 0.0, unit: str = "") -> None:
        """Write down what does not hold in a step."""
        self.sheet.problem("work", f"step {step.number}", message, figure, unit)

    def take(self, step: WorkStep) -> None:
        """Take a step."""
        if self.ran:
            self.wrong(step, "comes after the first run")
        if any(number not in self.wires for number in (*step.wires, *(n for n, _ in step.ends))):
            self.wrong(step, "works at a wire that there is not")
            return
        if step.vehicle and step.vehicle not in self.sites:
            self.wrong(step, f"is in {step.vehicle}, which is no vehicle")
            return
        for words in said_amiss(step, self.built):
            self.wrong(step, words)
        if step.act != "cut" and any(number not in self.cut for number in step.wires):
            self.wrong(step, "works at a wire that is not cut yet")
        if step.act not in ("cut", "couple") and {n for n, _ in step.ends} != set(step.wires):
            self.wrong(step, "names other wires than it works at")
        acts = {
            "cut": self._cut,
            "splice": self._splice,
            "join": self._join,
            "plug": self._plug,
            "crimp": self._crimp,
            "house": self._house,
            "take out": self._take_out,
            "open": self._open,
            "thread": self._thread,
            "place": self._place,
            "fasten": self._fasten,
            "measure": self._measure,
            "couple": self._couple,
            "close": self._close,
            "run": self._run,
        }
        acts[step.act](step)
        self.holes.note(step)

    def _cut(self, step: WorkStep) -> None:
        kinds = {(w.awg, w.colour, w.lead is None) for w in (self.wires[n] for n in step.wires)}
        if len(kinds) != 1 or step.spot != "table":
            self.wrong(step, "cuts wires of several kinds, or not on the table")
        if self.cut & set(step.wires):
            self.wrong(step, "cuts a wire again, or one that is bought ready-made")
        self.cut |= set(step.wires)

    def _splice(self, step: WorkStep) -> None:
        ends = set(ends_at(self.wires, "splice", step.splice))
        self.spliced[step.splice] += 1
        if set(step.ends) != ends or step.spot == "beside":
            self.wrong(step, f"splice {step.splice} joins other ends than the harness has there")
        if step.spot == "inside":
            self.iron += len(step.ends)
            splice = next((one for one in self.built.harness.splices if one.name == step.splice), None)
            if splice is None or splice.vehicle != step.vehicle:
                self.wrong(step, f"splice {step.splice} is not in {step.vehicle}")
                return
            self._reached(step, splice.at, f"splice {step.splice}")
        for number, side in ends:
            led = side == "end" and len(self.wires[number].legs) > 1
            if led and not self._all_through(
                number, step.vehicle or end_of(self.wires[number], side).vehicle
            ):
                self.wrong(step, f"wire {number} is not led through its port yet")
        self._made(step)

    def _made(self, step: WorkStep) -> None:
        if self.joined & set(step.ends) or len(set(step.ends)) != len(step.ends):
            self.wrong(step, "joins an end that is joined already")
        self.joined |= set(step.ends)
        if self.live and step.joint == "solder":
            self.wrong(step, "solders after the cells are in")

    def _join(self, step: WorkStep) -> None:
        for number, side in step.ends:
            end = end_of(self.wires[number], side)
            if end.kind != "pin" or step.parts != (end.owner,):
                self.wrong(step, f"wire {number} does not end at {', '.join(step.parts)}")
            if joint_at(self.built, self.wires[number], end) != step.joint:
                self.wrong(step, f"fastens wire {number} otherwise than its pin says")
            inside = end.owner in self.placed or is_built_in(self.built, end.owner)
            if inside != (step.spot == "inside"):
                self.wrong(step, f"joins {end.owner} {step.spot}, where it is not")
            if step.spot == "inside":
                self._reached(step, end.at, f"{end.owner}.{end.pin}")
        if step.spot == "inside" and step.joint == "solder":
            self.iron += len(step.ends)
        self._made(step)

    def _plug(self, step: WorkStep) -> None:
        for number, side in step.ends:
            wire = self.wires[number]
            if wire.lead is None or wire.lead.shortened or step.parts != (end_of(wire, side).owner,):
                self.wrong(step, f"wire {number} is no lead to be plugged there")
        if self._cold_left():
            self.wrong(step, "plugs what feeds before all is measured without it")
        self._made(step)

    def _crimp(self, step: WorkStep) -> None:
        crossing = self._crossing(step)
        for number, side in step.ends:
            end = end_of(self.wires[number], side)
            if crossing is None or (end.kind, end.owner) != ("connector", crossing.name):
                self.wrong(step, f"wire {number} has no contact there")
                continue
            if not housing_passes(self.built, crossing, end.vehicle) and not self._all_through(
                number, end.vehicle
            ):
                self.wrong(step, f"wire {number} is crimped before it is led through its port")
        if self.crimped & set(step.ends):
            self.wrong(step, "crimps a contact twice")
        self.crimped |= set(step.ends)

    def _house(self, step: WorkStep) -> None:
        crossing = self._crossing(step)
        there = ends_at(self.wires, "connector", crossing.name) if crossing is not None else {}
        here = {key for key, end in there.items() if end.vehicle == step.vehicle}
        if set(step.ends) != here:
            self.wrong(step, "fills a housing with other wires than end there")
        for number, side in step.ends:
            if (number, side) not in self.crimped:
                self.wrong(step, f"wire {number} has no contact yet")
            if not self._all_through(number, step.vehicle):
                self.wrong(step, f"wire {number} is not led through its port yet")
        if self.housed & set(step.ends):
            self.wrong(step, "fills a housing twice")
        self.housed |= set(step.ends)

    def _take_out(self, step: WorkStep) -> None:
        if any(self.built.vehicle_of(need) == step.vehicle for need in self.placed):
            self.wrong(step, "takes bricks out once parts are in")
        self.bricks.update((step.vehicle, brick) for brick in step.bricks)

    def _open(self, step: WorkStep) -> None:
        names = [one.name for one in self.sites[step.vehicle].vehicle.openings]
        if step.opening not in names:
            self.wrong(step, f"opens {step.opening!r}, which is no opening")
        if step.opening in self.opened[step.vehicle]:
            self.reopened += 1
        self.opened[step.vehicle].append(step.opening)

    def _thread(self, step: WorkStep) -> None:
        self._is_open(step)
        fast = self.joined | self.housed
        if step.hole is not None:
            for words in self.holes.faults(step, fast | self.crimped):
                self.wrong(step, words)
            return
        for number, side in step.ends:
            for words in port_faults(self.built, self.wires[number], side, step, fast, self.crimped):
                self.wrong(step, words)
            if (number, step.vehicle, step.port) in self.through:
                self.wrong(step, f"wire {number} is led through {step.port} twice")
            self.through.add((number, step.vehicle, step.port))

    def _place(self, step: WorkStep) -> None:
        order = self.plan.assembly
        if self.place >= len(order) or order[self.place].needs != step.parts:
            self.wrong(step, "brings in other parts than the assembly does next")
            return
        entry = order[self.place]
        self.place += 1
        if (entry.vehicle, entry.opening) != (step.vehicle, step.opening):
            self.wrong(step, "does not go the way that the assembly names")
        self._is_open(step)
        moves_out = back(entry.moves)
        site = self.sites[step.vehicle]
        opening = site.way_in(step.opening)
        hanging = HangingWires(self.built, self.wires, site, opening, self.placed, self.joined)
        for fault in hanging.faults(step, moves_out, lambda end: self.holes.held(end, step)):
            self.wrong(step, *fault)
        self.placed += step.parts

    def _fasten(self, step: WorkStep) -> None:
        for need in step.parts:
            self.fastened[need] += 1
            if need not in self.placed:
                self.wrong(step, f"fastens {need}, which is not in")

    def _measure(self, step: WorkStep) -> None:
        for number in step.readings:
            if number not in self.stages:
                self.wrong(step, f"takes reading {number}, which there is not")
                continue
            self.read.append(number)
            if self.stages[number] in ("source", "power"):
                self.live = True
                if self._cold_left():
                    self.wrong(step, "puts cells in before all is measured without them")

    def _couple(self, step: WorkStep) -> None:
        crossing = self._crossing(step)
        self.coupled[step.crossing] += 1
        ends = ends_at(self.wires, "connector", step.crossing)
        if crossing is None or not crossing.connector or not self.housed.issuperset(ends):
            self.wrong(step, "couples what has no housings yet")

    def _close(self, step: WorkStep) -> None:
        if step.opening not in self.opened[step.vehicle]:
            self.wrong(step, f"closes {step.opening}, which was not opened")
        if set(self.stages) - set(self.read):
            self.wrong(step, "closes before all readings are taken")
        self.closed.add((step.vehicle, step.opening))

    def _run(self, step: WorkStep) -> None:
        self.ran = True
        for vehicle, names in self.opened.items():
            for name in names:
                if (vehicle, name) not in self.closed:
                    self.wrong(step, f"{name} of {vehicle} is still open")

    def end(self) -> None:
        """Say what was never done."""

        def left(what: str, count: int) -> None:
            if count:
                self.sheet.problem("work", "order", f"never {what}", count)

        self.holes.end(self.plan.work.blocked, self.sheet)
        stuck = {one.need for one in self.built.placements} - {n for s in self.plan.assembly for n in s.needs}
        ends = [(w.number, side, end_of(w, side)) for w in self.wires.values() for side in SIDES]
        pins = {(number, side) for number, side, end in ends if end.kind == "pin"}
        cavities = {(number, side) for number, side, end in ends if end.kind == "connector"}
        out = {(number, side) for number, side, end in ends if end.kind == "pin" and end.owner in stuck}
        ports = {
            (w.number, leg.vehicle, port)
            for w in self.wires.values()
            for leg in w.legs
            for port in (leg.enters, leg.leaves)
            if port
        }
        left("cuts some wires", len(set(self.wires) - self.cut))
        left("joins some ends at pins", len(pins - self.joined - out))
        left("crimps some contacts", len(cavities - self.crimped))
        left("fills some housings", len(cavities - self.housed))
        left("leads some wires through their ports", len(ports - self.through))
        left("brings some parts in", len(self.plan.assembly) - self.place)
        splices = Counter(one.name for one in self.built.harness.splices)
        if splices != self.spliced:
            left("makes, or makes twice, some splices", 1)
        if Counter(f.need for f in self.built.fastenings if f.need not in stuck) != self.fastened:
            left("fastens, or fastens twice, some parts", 1)
        if Counter(c.name for c in self.built.harness.crossings if c.connector) != self.coupled:
            left("couples, or couples twice, some vehicles", 1)
        if Counter((r.vehicle, b) for r in self.built.rebuilds for b in r.remove) != self.bricks:
            left("takes out the bricks of the rebuild", 1)
        if sorted(self.read) != sorted(self.stages):
            left("takes, or takes twice, some readings", 1)
        if not self.ran:
            left("runs the train", 1)

    # -- geometry ----------------------------------------------------------------------------------------

    def _is_open(self, step: WorkStep) -> None:
        shape = self.sites[step.vehicle].vehicle
        declared = {one.name for one in shape.openings}
        if step.opening in declared and step.opening not in self.opened[step.vehicle]:
            self.wrong(step, f"{step.opening} is not open")
        if step.opening and step.opening not in declared and step.opening not in OPEN_SIDES.values():
            self.wrong(step, f"{step.opening!r} is no opening")

    def _reached(self, step: WorkStep, at: Vec, name: str) -> None:
        """Check that a tool gets to a joint through what is open."""
        self._is_open(step)
        if step.blind:
            self.sheet.note("work", f"step {step.number}", f"{name} is felt for")
            return
        site = self.sites[step.vehicle]
        declared = [one for one in site.vehicle.openings if one.name == step.opening]
        ways = declared + [
            side for name in OPEN_SIDES.values() if (side := open_side(site.vehicle, name)) is not None
        ]
        if not any(tool_passes(site, self.placed, at, way) for way in ways):
            self.wrong(step, f"no tool gets to {name}")

    # -- what belongs to what ----------------------------------------------------------------------------

    def _cold_left(self) -> bool:
        """Return whether a reading is left that is taken before cells are in."""
        return any(stage in _COLD and number not in self.read for number, stage in self.stages.items())

    def _crossing(self, step: WorkStep) -> Crossing | None:
        return next((one for one in self.built.harness.crossings if one.name == step.crossing), None)

    def _all_through(self, number: int, vehicle: str) -> bool:
        return all(
            (number, vehicle, port) in self.through
            for leg in self.wires[number].legs
            if leg.vehicle == vehicle
            for port in (leg.enters, leg.leaves)
            if port
        )
