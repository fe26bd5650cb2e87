"""What is built against what the plan makes of it: each thing is kept to the letter, or told as undone.

Held anew from the train and the harness alone: parts by their places, wires by number, ends, way and length,
splices by their wires. What the plan says must go is asked for a reason here as well, so its bound is held
too; only parts that are said to make room because a search refuted fewer are taken on trust.
"""

from __future__ import annotations

from itertools import pairwise

from fitplan.model.as_built import HAIR_MM, NO_REWORK, BuiltEnd, BuiltWire, Reworked
from fitplan.model.built import BuiltTrain
from fitplan.model.plan import Plan
from fitplan.model.wired import Wire, WireEnd
from fitplan.verify.result import Tally

Told = dict[tuple[str, str], Reworked]


def check_kept(plan: Plan, sheet: Tally) -> None:
    """Check everything that is built, and what is told of it."""
    built = plan.built
    before = built.train.as_built
    told: Told = {(one.thing, one.name): one for one in plan.rework.changes}
    if len(told) != len(plan.rework.changes):
        sheet.problem("as built", "rework", "tells a thing twice")
    if not (before.parts or before.wires):
        if plan.rework != NO_REWORK:
            sheet.problem("as built", "rework", "tells what changes or stays, and nothing was built")
        return
    kept_parts = _parts(built, told, sheet)
    kept_wires = _wires(built, told, sheet)
    _splices(built, told, sheet)
    if (kept_parts, kept_wires) != (plan.rework.kept_parts, plan.rework.kept_wires):
        message = f"counts {plan.rework.kept_parts} parts and {plan.rework.kept_wires} wires that stay"
        sheet.problem("as built", "rework", f"{message}; {kept_parts} and {kept_wires} do")
    gone = {one.name for one in plan.rework.changes if one.thing == "part" and one.must}
    must = 0
    for one in plan.rework.changes:
        sheet.count("changes of what is built")
        if one.change != "new" and one.must:
            must += one.change != "left at home"
            if not _has_to_go(one, built, gone):
                sheet.problem(
                    "as built", one.name, "is told to have to go, and nothing keeps it from staying"
                )
    if plan.rework.least != must + plan.rework.least_moved:
        message = f"says that no plan undoes less than {plan.rework.least}; {must} things have to go"
        sheet.problem("as built", "rework", message)
    if plan.rework.least_moved:
        sheet.trust("parts that must make room", plan.rework.least_moved, "refuted by the exact search alone")


def _parts(built: BuiltTrain, told: Told, sheet: Tally) -> int:
    now = {one.need: one for one in built.placements}
    there = {entry.name for entry in built.train.vehicles}
    needs = {need.name for need in built.train.needs}
    kept = 0
    for was in built.train.as_built.parts:
        sheet.count("parts that are built")
        here = now.get(was.need)
        change = ""
        if here is None:
            change = "left at home" if was.vehicle not in there and was.need not in needs else "taken out"
        elif here.part.id != was.part:
            change = "exchanged"
        elif (here.vehicle, here.place.pose.name) != (was.vehicle, was.pose) or not _near(
            here.place.offset, was.offset
        ):
            change = "moved"
        kept += not change
        _as_told("part", was.need, change, told, sheet)
        other = not change and was.on is not None and here is not None and here.shelf != was.on
        _as_told("addition", was.need, "built anew" if other else "", told, sheet)
    for name in now.keys() - {was.need for was in built.train.as_built.parts}:
        _as_told("part", name, "new", told, sheet)
    return kept


def _wires(built: BuiltTrain, told: Told, sheet: Tally) -> int:
    now = {wire.number: wire for wire in built.harness.wires if not wire.inside}
    there = {entry.name for entry in built.train.vehicles}
    kept = 0
    for was in built.train.as_built.wires:
        sheet.count("wires that are laid")
        wire = now.get(was.number)
        if wire is None:
            one = told.get(("wire", str(was.number)))
            away = not there & {leg.vehicle for leg in was.legs}
            ways = ("left at home",) if away else ("unsoldered", "unplugged")
            if one is None or one.change not in ways:
                sheet.problem("as built", f"wire {was.number}", "is no more, and that is not told")
            continue
        same = same_wire(wire, was)
        kept += same
        _as_told("wire", str(was.number), "" if same else "cut again", told, sheet)
    for number in now.keys() - {was.number for was in built.train.as_built.wires}:
        _as_told("wire", str(number), "new", told, sheet)
    return kept


def same_wire(wire: Wire, was: BuiltWire) -> bool:
    """Return whether a wire lies as it was built, between the same ends, and no longer."""
    ends = ((wire.start, was.start), (wire.end, was.end))
    ways = [(leg.vehicle, leg.enters, leg.leaves, len(leg.points)) for leg in wire.legs]
    return (
        (wire.net, wire.colour, wire.awg) == (was.net, was.colour, was.awg)
        and wire.cut_mm <= was.cut_mm + HAIR_MM
        and all(_same_end(end, other) for end, other in ends)
        and ways == [(leg.vehicle, leg.enters, leg.leaves, len(leg.points)) for leg in was.legs]
        and all(
            _near(point, other)
            for leg, there in zip(wire.legs, was.legs, strict=True)
            for point, other in zip(leg.points, there.points, strict=True)
        )
    )


def _same_end(end: WireEnd, was: BuiltEnd) -> bool:
    return (end.kind, end.owner, end.pin) == (was.kind, was.owner, was.pin)


def _splices(built: BuiltTrain, told: Told, sheet: Tally) -> None:
    now = {one.name: set(one.wires) for one in built.harness.splices}
    for splice in built.train.as_built.splices:
        sheet.count("splices that are soldered")
        wires = {
            wire.number
            for wire in built.train.as_built.wires
            for end in (wire.start, wire.end)
            if (end.kind, end.owner) == ("splice", splice.name)
        }
        if splice.name in now:
            change = "" if now[splice.name] == wires else "soldered again"
            _as_told("splice", splice.name, change, told, sheet)


def _as_told(thing: str, name: str, change: str, told: Told, sheet: Tally) -> None:
    one = told.get((thing, name))
    said = one.change if one is not None else ""
    if said != change:
        is_so, as_said = change or "as it was built", said or "kept"
        sheet.problem("as built", f"{thing} {name}", f"is {is_so}, and told as {as_said}")


def _has_to_go(one: Reworked, built: BuiltTrain, gone: set[str]) -> bool:
    """Return whether the train as it is now leaves a thing no place, whatever the plan."""
    train, before = built.train, built.train.as_built
    vehicles = [entry.name for entry in train.vehicles]
    needs = {need.name: need for need in train.needs}
    if one.thing == "part":
        was = next(part for part in before.parts if part.need == one.name)
        need = needs.get(one.name)
        return need is None or was.vehicle not in vehicles or was.part not in {p.id for p in need.candidates}
    if one.thing == "wire":
        wire = next(wire for wire in before.wires if str(wire.number) == one.name)
        return _wire_has_to_go(wire, built, gone)
    if one.thing == "splice":
        return any(
            _wire_has_to_go(wire, built, gone)
            for wire in before.wires
            for end in (wire.start, wire.end)
            if (end.kind, end.owner) == ("splice", one.name)
        )
    return False


def _wire_has_to_go(wire: BuiltWire, built: BuiltTrain, gone: set[str]) -> bool:
    vehicles = {entry.name: place for place, entry in enumerate(built.train.vehicles)}
    net = next((net for net in built.train.nets if net.name == wire.net), None)
    if net is None or any(leg.vehicle not in vehicles for leg in wire.legs):
        return True
    passed = [vehicles[leg.vehicle] for leg in wire.legs]
    if any(abs(a - b) != 1 for a, b in pairwise(passed)):
        return True
    owners = {ref.owner for ref in net.joins}
    for end, there in ((wire.start, passed[0]), (wire.end, passed[-1])):
        if end.kind == "pin" and (end.owner in gone or end.owner not in owners):
            return True
        if end.kind == "connector":
            mates = [
                vehicles.get(leg.vehicle, -9)
                for other in built.train.as_built.wires
                if other.number != wire.number and other.net == wire.net
                for its, leg in ((other.start, other.legs[0]), (other.end, other.legs[-1]))
                if its == end
            ]
            if not any(abs(mate - there) == 1 for mate in mates):
                return True
    return False


def _near(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return all(abs(a - b) <= HAIR_MM for a, b in zip(one, other, strict=True))
