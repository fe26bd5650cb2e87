"""Leads as bought: which are taken, what is left over of them, their volts, and work without an iron."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitplan.checks.ends import circuit_of
from fitplan.checks.sources import PRACTICE
from fitplan.checks.supply_limits import links_of
from fitplan.checks.without_iron import without_an_iron
from fitplan.circuit.cells import source_of
from fitplan.circuit.discharge import solve_state
from fitplan.circuit.leads import lead_ohms
from fitplan.circuit.supply_tree import Supply, nominal_volts
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Controller
from fitplan.model.forms import PLUGGED
from fitplan.model.found import Finding, Outcome, Table
from fitplan.model.led_through import drawn_out_at, goes_through
from fitplan.model.own_leads import made_of
from fitplan.model.solids import Box
from fitplan.model.wired import Crossing, Wire, WireEnd
from fitplan.pins.train_circuit import TrainCircuit
from fitplan.units import STUD

SUBJECT = "leads"
_LENGTHS = "the lengths that it is sold in, and the way that was found"


def check_leads(built: BuiltTrain, known: TrainCircuit | None = None) -> Outcome:
    """Judge leads as bought, the supply through them, and what needs an iron where there is to be none."""
    findings = [*_lengths(built), *_own(built), *_across(built), *_plugged(built)]
    findings += _volts(built, circuit_of(built, known).supply)
    if not built.train.wiring.solder:
        findings += without_an_iron(built)
    rows = tuple(
        (
            wire.number,
            wire.net,
            f"{'its own, of ' if wire.lead.own else ''}{built.train.catalogue[wire.lead.part_id].name}",
            round(wire.lead.length_mm),
            round(surplus_of(wire)),
            _place(wire),
        )
        for wire in built.harness.wires
        if wire.lead is not None and not wire.inside
    )
    columns = ("wire", "net", "lead", "length (mm)", "left over (mm)", "where it lies")
    return Outcome(SUBJECT, tuple(findings), (Table("Leads as bought", columns, rows),) if rows else ())


def surplus_of(wire: Wire) -> float:
    """Return how much of a lead is left over, in mm."""
    return sum(amount for what, amount in wire.allowances if what == "surplus")


def _place(wire: Wire) -> str:
    if wire.lead is None or wire.lead.fold is None:
        return "cut and joined again" if wire.lead is not None and wire.lead.shortened else "nothing to stow"
    box = wire.lead.fold
    size = " × ".join(f"{edge:.1f}" for edge in box.size)
    x, y, z = box.low
    return f"{wire.lead.vehicle}, folded into {size} mm at x {x:.0f}, y {y:.0f}, z {z:.0f}"


def _lengths(built: BuiltTrain) -> Iterator[Finding]:
    for wire in built.harness.wires:
        if wire.inside or wire.lead is None:
            continue
        where = wire.label
        longest = wire.lead.length_mm
        if wire.lead.shortened and wire.cut_mm > longest:
            lead = wire.lead.part_id
            yield Finding(
                SUBJECT, "stop", where,
                f"no {lead} reaches: {wire.cut_mm:.0f} mm are wanted, the longest is {longest:.0f} mm",
                round(wire.cut_mm, 1), longest, "mm",
                "move the two closer to each other, or take a lead that is sold longer", _LENGTHS,
            )  # fmt: skip
        elif wire.lead.shortened:
            solder = built.train.wiring.solder
            bought = f"a lead of {wire.lead.length_mm:.0f} mm"
            why = f"there is no room for what {bought} has too much"
            remedy = "make room beside its way, or take a lead that is sold shorter"
            if not goes_through(built, wire):
                why = f"the plugs of {bought} do not go through the ports on its way"
                remedy = "make the ports wider, or move the two into one vehicle"
            yield Finding(
                SUBJECT, "caution" if solder else "stop", where,
                f"{why}: cut it to {wire.cut_mm:.0f} mm and join it again, each conductor for itself, under "
                "shrink sleeve" + ("" if solder else "; that wants an iron"),
                round(wire.lead.length_mm - wire.cut_mm, 1), 0.0, "mm",
                f"cut and join it, or {remedy}" if solder else remedy, _LENGTHS,
            )  # fmt: skip
        else:
            yield Finding(
                SUBJECT, "note", where,
                f"{'take its own' if wire.lead.own else 'buy the'} lead of {wire.lead.length_mm:.0f} mm; "
                f"{surplus_of(wire):.0f} mm are left over: "
                f"{_place(wire)}",
                round(surplus_of(wire), 1), wire.lead.length_mm, "mm", _tied(built, wire), _LENGTHS,
            )  # fmt: skip


def _tied(built: BuiltTrain, wire: Wire) -> str:
    """Return what is to be done with what is left over of a lead: what stands up to what is beside it."""
    fold = wire.lead.fold if wire.lead is not None else None
    if wire.lead is None or fold is None:
        return "nothing to do"
    if fold.size[2] <= min(fold.size[:2]):
        return "tie what is left over together where it lies"
    gaps = [
        (_apart(fold, one.bounds), one.need) for one in built.placements if one.vehicle == wire.lead.vehicle
    ]
    beside = min(gaps, default=(math.inf, ""))
    to = f"tape it to {beside[1]}" if beside[0] <= STUD else "tape its foot down"
    return f"tie what is left over together: it stands {fold.size[2]:.0f} mm high, so {to}"


def _apart(one: Box, other: Box) -> float:
    """Return how far two boxes lie from each other, in mm."""
    gaps = [max(other.low[i] - one.high[i], one.low[i] - other.high[i], 0.0) for i in range(3)]
    return math.hypot(*gaps)


def _own(built: BuiltTrain) -> Iterator[Finding]:
    """Tell what is made of leads that parts come with: cut, or joined to what is missing."""
    for wire in built.harness.wires:
        made = made_of(built, wire)
        if not made.own:
            continue
        pieces = " and ".join(
            f"{length:.0f} mm of the lead that {owner} comes with" for owner, length in made.own
        )
        more = f" and {made.spool_mm:.0f} mm of wire joined to it" if made.spool_mm else ""
        stop = made.joints and not built.train.wiring.solder
        yield Finding(
            SUBJECT, "stop" if stop else "note", wire.label,
            f"is {pieces}{more}" + (f": {made.joints} joints to solder" if stop else ""),
            float(made.joints), 0.0, "joints",
            "move the two closer, or take leads that reach" if stop
            else "solder and sleeve it before it is laid" if made.joints else "cut it where it arrives",
            "lengths from the parts' figures and the way that was found",
        )  # fmt: skip


def _across(built: BuiltTrain) -> Iterator[Finding]:
    """Tell of leads that run over couplings in one piece: what parting the vehicles means."""
    for wire in built.harness.wires:
        if len(wire.legs) < 2 or wire.lead is None or wire.inside:
            continue
        for crossing in built.harness.crossings:
            if wire.number not in crossing.wires:
                continue
            often = built.train.parted(crossing.ahead, crossing.behind)
            end = drawn_out_at(built, wire, crossing.ahead, crossing.behind)
            port = crossing.port_ahead if end in _ends_at(wire, crossing) else crossing.port_behind
            yield Finding(
                SUBJECT, "caution" if often == "daily" or end is None else "note",
                wire.label,
                f"runs over {crossing.name} in one piece: to part {crossing.ahead} from {crossing.behind} "
                + ("undo where it was cut and joined: neither of its plugs passes the ports" if end is None
                else f"unplug it at {end.owner} and draw it out through {port}"),
                crossing.free_mm, 0.0, "mm",
                "have the two in one vehicle, or part it there" if often == "daily"
                else "join it there by a connector pair, or make the ports wider" if end is None
                else "switch the train off before you unplug it",
                "plugs of leads as bought stay on them; common practice, no source",
            )  # fmt: skip


def _ends_at(wire: Wire, crossing: Crossing) -> tuple[WireEnd, ...]:
    """Return the end of a wire that lies on the side of the vehicle ahead of a coupling."""
    order = [leg.vehicle for leg in wire.legs]
    return (wire.start,) if order.index(crossing.ahead) < order.index(crossing.behind) else (wire.end,)


def _plugged(built: BuiltTrain) -> Iterator[Finding]:
    """Tell which boards have their socket taken, so that programming means unplugging."""
    lost = {one.net for one in built.harness.unreached}
    waiting = {
        ref.owner for net in built.train.nets if net.lead and net.name in lost for ref in net.joins
    }  # of what the lead does not reach nothing is taken
    for placement in built.placements:
        part = placement.part
        if placement.need in waiting:
            continue
        taken = any(pin.joint == "plug" and pin.socket for pin in part.pins) and part.id.endswith(PLUGGED)
        if taken and part.figure(Controller) is not None:
            yield Finding(
                SUBJECT, "note", placement.need,
                "its socket is taken by the lead that feeds it: to program it, unplug that lead first; two "
                "that feed it at once may harm both", 1.0, 1.0, "sockets",
                "unplug the lead before the computer is plugged in", PRACTICE,
            )  # fmt: skip


def _volts(built: BuiltTrain, supply: Supply) -> Iterator[Finding]:
    """Tell what arrives behind a lead at peak current, and what the board passes on."""
    train, plugged = built.train, _with_leads_plugged_in(built)
    for tree in supply.trees:
        state = None
        for link, _ in links_of(tree.root, nominal_volts(tree.source)):
            controller = link.part.figure(Controller)
            if controller is None or link.kind != "controller" or not (link.socket or link.owner in plugged):
                continue
            if state is None:
                source = source_of(tree.source)
                flow = solve_state(source, tree.root, 1.0, True, {}).flow
                ohms = lead_ohms(train, built.harness, tree, flow)
                state = solve_state(source, tree.root, 1.0, True, ohms)
            volts, _ = state.flow.inputs.get(link.owner, (0.0, 0.0))
            passed, behind = volts - controller.usb_drop_v, "diode"
            if not link.socket and link.regulator is not None:
                passed, behind = min(link.regulator.out_v, volts - link.regulator.dropout_v), "regulator"
            others = sum(fed.peak_ma for fed in link.below.everything() if fed.owner != link.owner)
            more = f"; it passes on {others:.0f} mA at its 5 V pin" if link.socket else ""
            low = passed < controller.brown_out_v
            yield Finding(
                SUBJECT, "stop" if low else "note", link.owner,
                f"behind the lead from {tree.owner} there are {volts:.2f} V at peak, behind its own {behind} "
                f"{passed:.2f} V{more}",
                round(passed, 3), controller.brown_out_v, "V",
                "take a shorter lead, or feed it at its 5 V pin by wires" if low else "nothing to do",
                f"drop of the lead from its gauge and length, of the {behind} from the part's figures",
            )  # fmt: skip


def _with_leads_plugged_in(built: BuiltTrain) -> frozenset[str]:
    """Return what has a lead as bought plugged into a socket."""
    leads = [wire for wire in built.harness.wires if wire.lead is not None and not wire.lead.own]
    ends = [end for wire in leads if not wire.inside for end in (wire.start, wire.end) if end.kind == "pin"]
    return frozenset(
        end.owner
        for end in ends
        if any(pin.name == end.pin and pin.socket for pin in built.pins_of(end.owner))
    )
