"""Banks that feed a train: whether they stay on, how they are switched and charged, and what they plug into.

Worked out by means of this room alone, and held against what the plan says:

* the least that flows out of a bank: all that it feeds, without motors, what a signal pin switches and what
  has a duty of less than one; over its copper (`nodes`), through regulators by their kind. A finding must
  give it (5 % and 1 mA), and warn where it is less than what keeps the bank awake;
* a button and a charging socket in everyday use must be come by with the bank in its place; if not, a
  finding says so. On the way lie no bricks that hold loads, and nothing that is left over of a lead;
* where a lead is plugged into a board's only socket, a finding says that programming means unplugging, and
  one what arrives behind a bank's lead at peak: the bank's volts less what the peaks of all it feeds lose
  in both conductors of the lead, and less the board's own diode (`VOLTS_NEAR`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, Controller
from fitplan.model.found import Finding
from fitplan.model.part import Access, Part
from fitplan.model.solids import Box, bounds_of, unit_vector
from fitplan.model.ways_in import Exchanged
from fitplan.verify.before_access import rooms_before
from fitplan.verify.drawn import Feeding, peak_ma, steady_ma
from fitplan.verify.nodes import NodalNetwork, parts_of, switched_on
from fitplan.verify.overlap import overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import PlacedPart, Site, core_of
from fitplan.verify.shapes import shape_of
from fitplan.verify.wire_currents import ohm_per_m

_SHARE, _LEAST_MA = 0.05, 1.0
VOLTS_NEAR = 0.012
"""Volts behind a lead are told to two places, and peaks flow through copper that is as warm as it is."""


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
    _behind_leads(built, bench, parts, banks, findings, sheet)


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
    feeding = Feeding(built, bench, parts, steady_ma)
    least = feeding.from_node(plus, bank.out_v, frozenset({name}))
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
    for room in rooms_before(bank, access):
        box = room.bounds
        for heading, distance in entry.last.moves:
            step = [amount * distance for amount in unit_vector(heading)]
            moved = [[a + by for a, by in zip(end, step, strict=True)] for end in (box.low, box.high)]
            there = Box((moved[0][0], moved[0][1], moved[0][2]), (moved[1][0], moved[1][1], moved[1][2]))
            swept = bounds_of((box, there))
            yield from (name for name, thing in things if overlap(core_of(swept), shape_of(thing)))
            box = there


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


def _behind_leads(
    built: BuiltTrain,
    bench: NodalNetwork,
    parts: Mapping[str, Part],
    banks: Mapping[str, Bank],
    findings: tuple[Finding, ...],
    sheet: Tally,
) -> None:
    """Hold the volts behind a lead from a bank to a board's socket against its length and gauge."""
    for wire in built.harness.wires:
        ends = {end.owner: end for end in (wire.start, wire.end) if end.kind == "pin"}
        bank = next((name for name in ends if name in banks), None)
        boards = [name for name in ends if name in parts and parts[name].figure(Controller) is not None]
        board = boards[0] if boards else None
        if wire.lead is None or wire.lead.own or wire.inside or bank is None or board is None:
            continue
        sheet.count("volts behind leads")
        figures = parts[board].figure(Controller)
        told = [one for one in findings if one.where == board and "behind the lead from" in one.message]
        if figures is None or len(told) != 1:
            sheet.problem(
                "bank", board, f"{len(told)} findings say what arrives behind its lead; expected one"
            )
            continue
        peak = Feeding(built, bench, parts, peak_ma).from_node(
            (bank, ends[bank].pin), banks[bank].out_v, frozenset({bank})
        )
        both = [one for one in built.harness.wires if one is wire or one.inside == wire.number]
        lost = peak / 1000 * sum(ohm_per_m(one.awg) * one.cut_mm / 1000 for one in both)
        volts = banks[bank].out_v - lost
        passed = _behind_board(parts[board], ends[board].pin, figures, volts)
        said = re.findall(r"([\d.]+) V", told[0].message)
        for text, right in zip(said, (volts, passed), strict=False):
            if abs(float(text) - right) > VOLTS_NEAR:
                message = f"is said to have {text} V behind its lead; {peak:.0f} mA leave {right:.2f} V"
                sheet.problem("bank", board, message, abs(float(text) - right), "V")
        if passed < figures.brown_out_v - VOLTS_NEAR and told[0].severity != "stop":
            sheet.problem("bank", board, f"stops below {figures.brown_out_v:g} V behind its lead; no stop")


def _behind_board(part: Part, pin: str, figures: Controller, volts: float) -> float:
    """Return the volts of a board's rail: behind the regulator of a raw pin, else behind its own diode."""
    raw = any(one.name == pin and one.role == "raw" for one in part.pins)
    if raw and figures.regulator is not None:
        return min(figures.regulator.out_v, volts - figures.regulator.dropout_v)
    return volts - figures.usb_drop_v
