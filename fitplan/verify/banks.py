"""Banks that feed a train: whether they stay on, how they are switched and charged, and what they plug into.

Worked out by means of this room alone, and held against what the plan says:

* the least that flows out of a bank: all that it feeds, without motors, what a signal pin switches and what
  has a duty of less than one; over its copper (`nodes`), through regulators by their kind. A finding must
  give it (5 % and 1 mA), and warn where it is less than what keeps the bank awake;
* a button and a charging socket in everyday use must be come by with the bank in its place; if not, a
  finding says so. On the way lie no bricks that hold loads, and nothing that is left over of a lead;
* where a lead is plugged into a board's only socket, a finding says that programming means unplugging.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import networkx as nx

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, Controller, Load, Regulator
from fitplan.model.found import Finding
from fitplan.model.part import Access, Part
from fitplan.model.solids import Box, axis_of, unit_vector
from fitplan.model.ways_in import Exchanged
from fitplan.verify.nodes import NodalNetwork, Node, parts_of, switched_on
from fitplan.verify.overlap import overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import PlacedPart, Site, core_of
from fitplan.verify.shapes import shape_of

_SHARE, _LEAST_MA = 0.05, 1.0
_FINGER = 6.0
_FEEDS = ("raw", "5v", "3v3", "supply")


def check_banks(
    built: BuiltTrain, sites: Mapping[str, Site], findings: tuple[Finding, ...], sheet: Tally
) -> None:
    """Check what a plan says of its banks and of the boards that they are plugged into."""
    parts = parts_of(built)
    banks = {name: bank for name, part in parts.items() if (bank := part.figure(Bank)) is not None}
    bench = switched_on(built) if banks else NodalNetwork()
    for name, bank in banks.items():
        if built.placement(name) is None:
            continue  # it has no place: nothing else is said of it
        sheet.count("banks")
        _awake(built, bench, parts, name, bank, findings, sheet)
        for site in sites.values():
            for placed in site.parts:
                if placed.name == name:
                    for access in placed.placement.part.access:
                        sheet.count("buttons and sockets of banks")
                        _come_by(built, site, placed, access, findings, sheet)
    _sockets(built, parts, findings, sheet)


def _awake(
    built: BuiltTrain,
    bench: NodalNetwork,
    parts: Mapping[str, Part],
    name: str,
    bank: Bank,
    findings: tuple[Finding, ...],
    sheet: Tally,
) -> None:
    """Hold the least current of a bank against what the plan says of it."""
    copper = bench.copper()
    own = [pin.name for pin in parts[name].pins if pin.role in ("plus", "supply", "5v")]
    plus = next(((name, pin) for pin in own if (name, pin) in bench.joined), None)
    if plus is None or plus not in copper:
        return
    least = _least_from(built, bench, parts, copper, plus, bank.out_v, frozenset({name}))
    told = [one for one in findings if one.subject == "supply" and one.where == name and one.unit == "mA"]
    told = [one for one in told if one.limit == bank.off_below_ma and "bank" in one.message]
    if len(told) != 1:
        sheet.problem("bank", name, f"{len(told)} findings say whether it stays on; expected one")
        return
    off = abs(told[0].figure - least)
    if off > _SHARE * least + _LEAST_MA:
        message = f"is said to give {told[0].figure:g} mA at the least; its loads come to {least:.1f} mA"
        sheet.problem("bank", name, message, off, "mA")
    if least < bank.off_below_ma - off - 0.05 and told[0].severity == "note":
        message = f"may switch itself off below {bank.off_below_ma:g} mA, and no caution says so"
        sheet.problem("bank", name, message, bank.off_below_ma - least, "mA")


def _least_from(
    built: BuiltTrain,
    bench: NodalNetwork,
    parts: Mapping[str, Part],
    copper: nx.Graph[Node],
    node: Node,
    volts: float,
    passed: frozenset[str],
) -> float:
    """Return what flows into the copper at a node at the least: loads there, and regulators' inputs."""
    piece = nx.node_connected_component(copper, node)
    owners = dict.fromkeys(owner for owner, pin in sorted(piece) if owner in parts and owner not in passed)
    total = 0.0
    for owner in owners:
        part = parts[owner]
        entries = [pin for pin in part.pins if (owner, pin.name) in piece and pin.role in _FEEDS]
        if entries:
            own, behind = part.figure(Regulator), part.figure(Controller)
            if (behind is None and own is None) or behind is not None:
                total += _steady(built, parts, owner)
    for item in (item for entry in built.train.vehicles for item in entry.vehicle.built_in):
        at = [node for node in piece if node[0].endswith(f"/{item.name}")]
        if at and not item.stall_ma and item.cells is None:
            total += item.current_ma
    for branch in bench.branches:
        if branch.kind != "regulator" or branch.input not in piece or branch.high in piece:
            continue
        figures = branch.figures
        if figures is None or branch.owner in passed or figures.out_v > 1000 or branch.high not in copper:
            continue
        given = min(figures.out_v, volts) if figures.kind == "linear" else figures.out_v
        below = _least_from(built, bench, parts, copper, branch.high, given, passed | {branch.owner})
        if figures.kind != "linear":
            below *= given / (volts * figures.efficiency)
        total += below + figures.quiescent_ma
        if parts[branch.owner].figure(Controller) is not None and branch.owner not in owners:
            total += _steady(built, parts, branch.owner)
    return total


def _steady(built: BuiltTrain, parts: Mapping[str, Part], owner: str) -> float:
    """Return what a part draws all the time; nothing where its need has a duty of less than one."""
    duty = next((need.duty for need in built.train.needs if need.name == owner), 1.0)
    figures = parts[owner].figure(Controller) or parts[owner].figure(Load)
    return figures.current_ma if figures is not None and duty >= 1 else 0.0


def _come_by(
    built: BuiltTrain,
    site: Site,
    bank: PlacedPart,
    access: Access,
    findings: tuple[Finding, ...],
    sheet: Tally,
) -> None:
    """Check that a button or socket is come by with the bank where it lies, past what holds loads."""
    where = f"{access.name} of {bank.name}"
    entry = next((one for one in built.exchanged if (one.need, one.access) == (bank.name, access.name)), None)
    if entry is None:
        sheet.problem("bank", site.name, f"nothing says how {where} is come by")
        return
    out = [name for way in (*entry.first, *((entry.last,) if entry.last else ())) for name in way.parts]
    told = any(
        one.subject == "access" and one.severity != "note" and where in one.message for one in findings
    )
    if (not entry.reached or bank.name in out or bank.name in entry.parts_out) and not told:
        sheet.problem(
            "bank", site.name, f"{where} is not come by with {bank.name} in its place, and no caution says so"
        )
    for name in dict.fromkeys(_in_the_way(built, site, bank, access, entry)):
        sheet.problem("bank", site.name, f"{name} lies where {where} is come by")


def _in_the_way(
    built: BuiltTrain, site: Site, bank: PlacedPart, access: Access, entry: Exchanged
) -> Iterator[str]:
    """Yield what was put in last, and lies on the way of a finger or plug."""
    if entry.last is None or entry.last.parts:
        return
    things = [
        (f"the {brick.name} beside {held.need}", brick.box)
        for held in built.fastenings
        for brick in held.bricks
        if held.vehicle == site.name
    ]
    things += [
        (f"what is left over of wire {wire.number}", wire.lead.fold)
        for wire in built.harness.wires
        if wire.lead is not None and wire.lead.fold is not None and wire.lead.vehicle == site.name
    ]
    for room in _rooms(bank, access):
        box = room
        for heading, distance in entry.last.moves:
            step = [amount * distance for amount in unit_vector(heading)]
            low = [min(a, a + by) for a, by in zip(box.low, step, strict=True)]
            high = [max(a, a + by) for a, by in zip(box.high, step, strict=True)]
            swept = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
            yield from (name for name, thing in things if overlap(core_of(swept), shape_of(thing)))
            moved = [[a + by for a, by in zip(end, step, strict=True)] for end in (box.low, box.high)]
            box = Box((moved[0][0], moved[0][1], moved[0][2]), (moved[1][0], moved[1][1], moved[1][2]))


def _rooms(bank: PlacedPart, access: Access) -> Iterator[Box]:
    """Yield the room before an access as boxes in the vehicle's frame: the part's own, else a finger's."""
    part, place = bank.placement.part, bank.placement.place
    axis, forwards = axis_of(access.side), access.side[0] == "+"
    envelope = part.bounds
    found = [
        one.solid.bounds
        for one in part.clearances
        if one.needed == "access"
        and (
            one.solid.bounds.high[axis] > envelope.high[axis]
            if forwards
            else one.solid.bounds.low[axis] < envelope.low[axis]
        )
    ]
    if not found:
        low, high = list(envelope.low), list(envelope.high)
        if forwards:
            low[axis], high[axis] = envelope.high[axis], envelope.high[axis] + _FINGER
        else:
            low[axis], high[axis] = envelope.low[axis] - _FINGER, envelope.low[axis]
        found = [Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))]
    for box in found:
        yield place.move_solid(box).bounds


def _sockets(
    built: BuiltTrain, parts: Mapping[str, Part], findings: tuple[Finding, ...], sheet: Tally
) -> None:
    """Check that a board whose socket a lead is plugged into is told to be programmed unplugged."""
    taken = {
        end.owner
        for wire in built.harness.wires
        if wire.lead is not None and not wire.lead.own
        for end in (wire.start, wire.end)
        if end.kind == "pin" and end.owner in parts and parts[end.owner].figure(Controller) is not None
        for pin in parts[end.owner].pins
        if pin.name == end.pin and pin.socket
    }
    told = {one.where for one in findings if one.subject == "leads" and one.unit == "sockets"}
    for name in sorted(taken):
        sheet.count("sockets taken by leads")
        if name not in told:
            sheet.problem("bank", name, "is fed by a lead in its socket, and nothing says to unplug it first")
    lost = {need.name for need in built.train.needs if built.placement(need.name) is None}
    waiting = {
        ref.owner
        for net in built.train.nets
        if any(other.owner in lost for other in net.joins)
        for ref in net.joins
    }
    for name in sorted(told - taken - waiting):  # what a part without a place would be plugged into stays
        sheet.problem("bank", name, "is said to have its socket taken; no lead is plugged into it")
