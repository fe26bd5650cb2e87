"""Wires that are leads as bought: their stock length, and the room that what is left over lies in.

A lead has one length. What its way and its allowances do not take is folded to and fro into a box of free
room that borders on its way: kept from the body, from parts and what these keep clear, from other wires, from
what was added, and from ways in everyday use. All stock lengths that reach are tried, the shortest first, and
for each all ways of folding; only when none has room must the lead be shortened and joined again.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, permutations

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.counting import sums_below
from fitplan.lattice.cover import TENTHS
from fitplan.lattice.frame import Frame
from fitplan.model.built import BuiltTrain
from fitplan.model.copper import awg_ohm_per_m
from fitplan.model.electrical import Connector, Lead, OwnLeads
from fitplan.model.led_through import goes_through
from fitplan.model.own_leads import made_of, own_lead_at
from fitplan.model.solids import Box, Vec
from fitplan.model.wired import BoughtLead, Unreached, Wire, WireEnd
from fitplan.packing.access.disassembly import rows_at
from fitplan.planning.everyday_ways import rows_of_everyday_ways
from fitplan.planning.filled_room import rows_of_additions
from fitplan.routing.harness.conductors import WARM_C, voltage_drop
from fitplan.routing.map.vehicle_map import VehicleMap

Mask = NDArray[np.bool_]
MOST_HAIRPINS = 10
"""A lead is folded to and fro no oftener (common practice, no source)."""
BESIDE = 1
"""Voxels between a lead's way and the box of its surplus at most."""
_STEP_MM = 0.4
_HAIR_MM = 0.1
_CUT_ENDS = ("stripping",)
NO_SURPLUS_MM = 1.0
"""So little hangs loose."""


def folds(surplus_mm: float, outer_mm: float, bend_mm: float) -> Iterator[tuple[float, float, float]]:
    """Yield long, wide and high of boxes that hold a surplus laid to and fro in hairpins, one on the other.

    The arcs are counted as nothing, so a box holds a little more than it must.
    """
    for hairpins in range(1, MOST_HAIRPINS + 1):
        long = surplus_mm / (2 * hairpins) + 2 * bend_mm + outer_mm
        yield (long, 2 * bend_mm + outer_mm, hairpins * outer_mm)


def with_leads(built: BuiltTrain) -> BuiltTrain:
    """Return the train with leads for wires where the user wants leads, each with room for its surplus."""
    wanted = {net.name: net.lead for net in built.train.nets if net.lead}
    wired = any(one.part.figure(OwnLeads) is not None for one in built.placements)
    if not wanted and not built.train.wiring.leads and not wired:
        return built
    rooms: dict[str, _Room] = {}
    made: dict[int, Wire] = {}
    for wire in built.harness.wires:
        own = [end for end in (wire.start, wire.end) if own_lead_at(built, end) is not None]
        if own:
            made[wire.number] = _with_own(built, wire, own, rooms)
            continue
        for part_id in [wanted[wire.net]] if wire.net in wanted else built.train.wiring.leads:
            lead = built.train.catalogue[part_id].figure(Lead)
            if lead is None or not (wire.net in wanted or _fits(built, wire, lead)):
                continue
            done = _as_lead(built, wire, part_id, lead, rooms)
            if wire.net in wanted or (done.lead is not None and not done.lead.shortened):
                made[wire.number] = done
                break
    wires = [made.get(wire.number, wire) for wire in built.harness.wires]
    wires += _returns(built, wires)
    lost = (*built.harness.unreached, *_returns_lost(built))
    return replace(built, harness=replace(built.harness, wires=tuple(wires), unreached=lost))


def _fits(built: BuiltTrain, wire: Wire, lead: Lead) -> bool:
    """Return whether a ready-made single lead serves as a wire: its ends, its gauge, its thickness."""
    ends = [_taken_at(built, end) for end in (wire.start, wire.end)]
    return (
        any(a in ends[0] and b in ends[1] for a, b in permutations((lead.first, lead.second)))
        and lead.awg <= wire.awg
        and lead.outer_mm <= wire.outer_mm + 1e-9
    )


def _with_own(built: BuiltTrain, wire: Wire, ends: Sequence[WireEnd], rooms: dict[str, _Room]) -> Wire:
    """Return a wire made of leads that its parts come with: as they are where their ends fit, else cut.

    What is left over of a lead with a socket lies somewhere, like that of a lead as bought; where it has no
    room, or does not reach, the socket comes off.
    """
    leads = [lead for end in ends if (lead := own_lead_at(built, end)) is not None]
    far = wire.end if ends[0] is wire.start else wire.start
    before = next((one.cut_mm for one in built.train.as_built.wires if one.number == wire.number), math.inf)
    whole = before >= leads[0].length_mm - 1e-6  # what was cut once is not as it was bought
    if len(ends) == 1 and whole and leads[0].end != "bare" and leads[0].end in _taken_at(built, far):
        own = leads[0]
        as_bought = Lead("bare", own.end, (own.length_mm,), own.awg, own.outer_mm, own.bend_mm)
        placement = built.placement(ends[0].owner)
        assert placement is not None  # what has leads of its own is placed
        done = _as_lead(built, wire, placement.part.id, as_bought, rooms)
        if done.lead is not None and not done.lead.shortened:
            drop = _drop(done, own.awg, done.cut_mm)
            return replace(done, awg=own.awg, lead=replace(done.lead, own=True), drop_v=drop)
    by = built.train.wiring.allowances
    kept = []
    for what, amount in wire.allowances:
        less = by.strip * len(ends) if what == "stripping" else 0.0
        kept.append((what, round(amount - less, 2)))
    exact = wire.bare_mm + sum(amount for _, amount in kept)
    cut = round(math.ceil(exact / by.rounding - 1e-9) * by.rounding, 2)
    start, end = (
        replace(one, strip_mm=0.0) if any(one is own_end for own_end in ends) else one
        for one in (wire.start, wire.end)
    )
    made = replace(wire, allowances=tuple(one for one in kept if one[1]), cut_mm=cut, start=start, end=end)
    gauges = [lead.awg for lead in leads] + ([wire.awg] if made_of(built, made).spool_mm else [])
    awg = max(gauges)
    return replace(made, awg=awg, drop_v=_drop(wire, awg, cut))


def _drop(wire: Wire, awg: int, length_mm: float) -> float:
    """Return the volts lost in a lead: those of a short wire are rounded too much to be scaled."""
    ohm = awg_ohm_per_m(awg, WARM_C, stranded=True)
    return round(voltage_drop(wire.current_ma / 1000, length_mm / 1000, ohm), 5)


def _taken_at(built: BuiltTrain, end: WireEnd) -> tuple[str, ...]:
    """Return what of a single lead goes to an end of a wire; clamps hold a lead's pin like bare wire."""
    if end.kind == "connector":
        crossing = next(one for one in built.harness.crossings if one.name == end.owner)
        pair = built.train.catalogue[crossing.connector].figure(Connector)
        return ("socket",) if pair is not None and pair.sockets else ()
    joint = next((pin.joint for pin in built.pins_of(end.owner) if pin.name == end.pin), "")
    if end.kind != "pin":
        return ()
    if joint in ("screw", "lever"):
        return ("bare", "pin")
    return ("socket",) if joint == "header" else ("bare",) if joint == "solder" else ()


def _as_lead(built: BuiltTrain, wire: Wire, part_id: str, lead: Lead, rooms: dict[str, _Room]) -> Wire:
    """Return a wire as a lead: shortened, or lengthened where none reaches, when nothing else will do."""
    kept = tuple(entry for entry in wire.allowances if entry[0] not in _CUT_ENDS)
    needed = wire.bare_mm + sum(amount for _, amount in kept)
    reaching = [length for length in sorted(lead.lengths_mm) if length >= needed - 1e-9]
    vehicle = wire.legs[0].vehicle
    if not reaching:
        return replace(wire, lead=BoughtLead(part_id, max(lead.lengths_mm), vehicle, None, shortened=True))
    if not goes_through(built, wire):
        return replace(wire, lead=BoughtLead(part_id, reaching[0], vehicle, None, shortened=True))
    for length in reaching:
        surplus = length - needed
        fold = None
        if surplus > NO_SURPLUS_MM:
            found: list[tuple[float, int, str, Box]] = []
            for name in dict.fromkeys(leg.vehicle for leg in wire.legs):
                if name not in rooms:
                    rooms[name] = _Room.of(built, name)
                box = rooms[name].fold(wire, surplus, lead)
                if box is not None:
                    found.append((box.high[2], len(found), name, box))
            if not found:
                continue
            # Each vehicle that it runs through may carry what is left over; the lowest top does.
            *_, vehicle, fold = min(found)
            rooms[vehicle].take(fold)
        bought = BoughtLead(part_id, length, vehicle, fold)
        return _with_length(wire, length, (*kept, ("surplus", round(surplus, 2))), bought)
    return replace(wire, lead=BoughtLead(part_id, reaching[0], vehicle, None, shortened=True))


def _with_length(
    wire: Wire, length: float, allowances: tuple[tuple[str, float], ...], bought: BoughtLead
) -> Wire:
    return replace(
        wire,
        allowances=tuple(entry for entry in allowances if entry[1]),
        cut_mm=length,
        drop_v=_drop(wire, wire.awg, length),
        start=replace(wire.start, strip_mm=0.0),
        end=replace(wire.end, strip_mm=0.0),
        lead=bought,
    )


def _returns(built: BuiltTrain, wires: Sequence[Wire]) -> Iterator[Wire]:
    """Yield for each lead that plugs in its second conductor, which brings ground."""
    before = {wire.number: wire.second for wire in built.train.as_built.wires if wire.second}
    number = max(built.train.as_built.highest, *(wire.number for wire in wires), 0)
    leads = {net.name for net in built.train.nets if net.lead}
    for wire in wires:
        if wire.net not in leads:
            continue
        pins = [_ground_at(built, end.owner, end.pin) for end in (wire.start, wire.end)]
        net = next(
            (
                net
                for net in built.train.nets
                for ref in net.joins
                if net.role == "ground" and ref.owner in (wire.start.owner, wire.end.owner)
            ),
            None,
        )
        if net is None or not pins[0] or not pins[1]:
            continue
        mine = before.get(wire.number, 0)
        number += not mine
        beside = next((one for one in wires if one.net == net.name), wire)
        share = beside.current_ma / wire.current_ma if wire.current_ma else 0.0
        yield replace(
            wire,
            number=mine or number,
            net=net.name,
            role="ground",
            colour=beside.colour,
            start=replace(wire.start, pin=pins[0]),
            end=replace(wire.end, pin=pins[1]),
            current_ma=beside.current_ma,
            drop_v=round(wire.drop_v * share, 5),
            sleeved=beside.sleeved,
            detours=(),
            inside=wire.number,
        )


def _returns_lost(built: BuiltTrain) -> Iterator[Unreached]:
    """Yield the pins whose ground would come with a lead that itself reaches nothing."""
    lost = {one.net for one in built.harness.unreached}
    reached = {wire.net for wire in built.harness.wires}
    told = {(one.owner, one.pin) for one in built.harness.unreached}
    for net in built.train.nets:
        if not net.lead or net.name not in lost or net.name in reached:
            continue
        for end in (one for one in net.joins if built.placement(one.owner) is not None):
            pin = _ground_at(built, end.owner, end.pin)
            for ground in built.train.nets:
                asked = any((ref.owner, ref.pin) == (end.owner, pin) for ref in ground.joins)
                if ground.role == "ground" and asked and (end.owner, pin) not in told:
                    reason = f"it comes with the lead of {net.name}, which is not reached"
                    yield Unreached(ground.name, end.owner, pin, reason)


def _ground_at(built: BuiltTrain, owner: str, pin: str) -> str:
    """Return the ground contact of the socket that a pin belongs to."""
    pins = built.pins_of(owner)
    own = next(one for one in pins if one.name == pin)
    return next(
        (one.name for one in pins if one.role == "ground" and one.socket == own.socket and own.socket), ""
    )


@dataclass
class _Room:
    """The free room of a vehicle: what folds take is taken from it."""

    frame: Frame
    free: Mask
    wires: dict[int, Mask]

    @classmethod
    def of(cls, built: BuiltTrain, vehicle: str) -> _Room:
        inside = tuple(one for one in built.placements if one.vehicle == vehicle)
        map_ = VehicleMap.of(vehicle, built.train.vehicle(vehicle).vehicle, inside, built.taken_out(vehicle))
        free = map_.free.copy()
        for port in map_.vehicle.ports:
            free[map_.port_window(port)] = False
        kept = [rows_at(one.place, [entry.solid for entry in one.part.clearances]) for one in inside]
        kept += [rows_of_additions(built, vehicle), rows_of_everyday_ways(built, vehicle)]
        for row in np.concatenate(kept).tolist():
            low, high = (tuple(value / TENTHS for value in half) for half in (row[:3], row[3:]))
            box = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
            free[map_.frame.box_slice(box, "outward")] = False
        wires: dict[int, Mask] = {}
        for wire in built.harness.wires:
            for leg in wire.legs:
                if leg.vehicle == vehicle:
                    filled = _filled(map_.frame, leg.points, wire.outer_mm)
                    wires[wire.number] = wires.get(wire.number, False) | filled
        return cls(map_.frame, free, wires)

    def fold(self, wire: Wire, surplus_mm: float, lead: Lead) -> Box | None:
        """Return a free box beside a wire's way that holds its surplus, the lowest top first; or None."""
        free = self.free.copy()
        for number, filled in self.wires.items():
            if number != wire.number:
                free &= ~filled
        blocked, near = sums_below(~free), sums_below(_grown(self.wires[wire.number], BESIDE))
        shapes = {
            tuple(math.ceil(edge / self.frame.pitch - 1e-9) for edge in sides)
            for fold in folds(surplus_mm, lead.outer_mm, lead.bend_mm)
            for sides in permutations(fold)
        }
        best: tuple[int, ...] | None = None
        for shape in sorted(shapes):
            if any(size > most for size, most in zip(shape, free.shape, strict=True)):
                continue
            places = np.argwhere((_counts(blocked, shape) == 0) & (_counts(near, shape) > 0))
            if len(places):
                x, y, z = places[np.lexsort((places[:, 1], places[:, 0], places[:, 2]))[0]].tolist()
                found = (z + shape[2], math.prod(shape), z, x, y, *shape)
                best = found if best is None else min(best, found)
        return self._in_mm(best) if best is not None else None

    def take(self, box: Box) -> None:
        """Take a box from the free room."""
        self.free[self.frame.box_slice(box, "inward")] = False

    def _in_mm(self, found: tuple[int, ...]) -> Box:
        """Return a box of voxels in mm."""
        at, shape = (found[3], found[4], found[2]), found[5:]
        low = [round(o + one * self.frame.pitch, 4) for o, one in zip(self.frame.origin, at, strict=True)]
        high = [round(one + size * self.frame.pitch, 4) for one, size in zip(low, shape, strict=True)]
        return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _filled(frame: Frame, points: Sequence[Vec], outer_mm: float) -> Mask:
    """Return (x, y, z) bool, True in every voxel that a wire is in, or as good as."""
    found = np.zeros(frame.shape, dtype=np.bool_)
    reach = outer_mm / 2 + _HAIR_MM
    for one, two in pairwise(points):
        count = max(math.ceil(math.dist(one, two) / _STEP_MM), 1)
        for at in np.linspace(one, two, count + 1).tolist():
            low, high = [value - reach for value in at], [value + reach for value in at]
            found[frame.box_slice(Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), "outward")] = (
                True
            )
    return found


def _grown(mask: Mask, by: int) -> Mask:
    found = mask.copy()
    for axis in range(3):
        wide = found.copy()
        for step in range(1, by + 1):
            ahead = [slice(None)] * 3
            behind = [slice(None)] * 3
            ahead[axis], behind[axis] = slice(step, None), slice(None, -step)
            wide[tuple(ahead)] |= found[tuple(behind)]
            wide[tuple(behind)] |= found[tuple(ahead)]
        found = wide
    return found


def _counts(sums: NDArray[np.int32], shape: Sequence[int]) -> NDArray[np.int32]:
    """Return for each place of a box of this shape how many set voxels lie in it."""
    found = sums
    for axis, size in enumerate(shape):
        ahead, behind = [slice(None)] * 3, [slice(None)] * 3
        ahead[axis], behind[axis] = slice(size, None), slice(None, -size)
        found = found[tuple(ahead)] - found[tuple(behind)]
    return found
