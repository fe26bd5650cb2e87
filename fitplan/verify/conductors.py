"""What is said of each wire but its way: gauge, thickness, colour, ends, allowances, current and drop.

Rules, with their tolerances:

* a wire is a conductor of the plan's catalogue in gauge and thickness, and no thinner than its role asks;
* all wires of a net have one role and one colour, a code of IEC 60757; nets that share a stretch or a
  coupling differ in colour while there are colours, and ground never looks like what is not ground;
* every allowance is worked out again from the train's settings (0.06 mm a joint), and the cut length is
  their sum, rounded up;
* a current is no less than what the loads on its net draw, and what the user gave for it where he did; the
  drop is current times the resistance of copper at 40 °C (IEC 60028) over the cut length (2 %);
* a wire that carries more than 711 circular mils an ampere allow is told of; what leads to one load alone
  carries what that draws.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import (
    Conductor,
    Lead,
    Load,
    OwnLeads,
)
from fitplan.model.found import Finding
from fitplan.model.nets import Net
from fitplan.model.part import Pin
from fitplan.model.solids import Vec, way_length
from fitplan.model.wired import Crossing, Wire, WireEnd
from fitplan.verify.couplings import pair_asks
from fitplan.verify.leads import check_gauge_of_own, own_leads
from fitplan.verify.nodes import switched_on
from fitplan.verify.result import Tally
from fitplan.verify.wire_currents import check_bears, check_drop

NEAR = 0.06
LIVE_V = 0.5
"""A load with less over it draws nothing."""
CODES = ("BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "GD", "TQ", "SR")
"""Letter codes of IEC 60757 that are given to wires (from memory)."""
_OVER_COUPLINGS = ("curves at couplings", "slack at couplings")
_KNOWN = (
    *_OVER_COUPLINGS,
    "pair drawn in at couplings",
    "lead-out",
    "not taut",
    "bends",
    "stripping",
    "splice overlap",
    "service loop",
)


def check_conductors(built: BuiltTrain, findings: tuple[Finding, ...], sheet: Tally) -> None:
    """Check what is said of all wires."""
    nets = {net.name: net for net in built.train.nets}
    for wire in built.harness.wires:
        sheet.count("conductors")
        net = nets.get(wire.net)
        if net is not None and wire.role != net.role:
            sheet.problem("wire", wire.label, f"is said to be {wire.role}; its net is {net.role}")
        _gauge(built, wire, findings, sheet)
        _strips(built, wire, sheet)
        _allowances(built, wire, sheet)
        check_drop(wire, sheet)
    _by_net(built, nets, sheet)
    _colours(built, sheet)


def _cables(built: BuiltTrain) -> Iterator[Lead | OwnLeads]:
    for name in built.train.wiring.leads:
        part = built.train.catalogue.get(name)
        if part is not None and (lead := part.figure(Lead)) is not None:
            yield lead
    for placement in built.placements:
        if (own := placement.part.figure(OwnLeads)) is not None:
            yield own


def _gauge(built: BuiltTrain, wire: Wire, findings: tuple[Finding, ...], sheet: Tally) -> None:
    wiring = built.train.wiring
    if wire.lead is not None:
        check_bears(built, wire, findings, sheet)
        return  # its cable is checked among the leads
    if own := own_leads(built, wire):
        check_gauge_of_own(wire, own, sheet)
        check_bears(built, wire, findings, sheet)
        return
    stock = [
        figures for part in built.train.catalogue.values() if (figures := part.figure(Conductor)) is not None
    ]
    # Room may be that of a lead that is thicker: one that could not be used, or one of the net's parts.
    cables = {one.outer_mm for one in _cables(built)}
    if stock and not any(
        one.awg == wire.awg
        and (one.outer_mm == wire.outer_mm or (one.outer_mm < wire.outer_mm and wire.outer_mm in cables))
        for one in stock
    ):
        message = f"AWG {wire.awg}, {wire.outer_mm:g} mm thick, is no wire of the plan's catalogue"
        sheet.problem("wire", wire.label, message)
    asked = built.train.catalogue.get(wiring.signal_wire if wire.role == "signal" else wiring.power_wire)
    least = asked.figure(Conductor) if asked is not None else None
    if least is not None and wire.awg > least.awg:
        message = f"AWG {wire.awg} is thinner than AWG {least.awg}, which is asked for {wire.role}"
        sheet.problem("wire", wire.label, message)
    check_bears(built, wire, findings, sheet)


def _strips(built: BuiltTrain, wire: Wire, sheet: Tally) -> None:
    allowances = built.train.wiring.allowances
    for end in (wire.start, wire.end):
        asked = allowances.splice_overlap if end.kind == "splice" else allowances.strip
        if (wire.lead is not None and not wire.lead.shortened) or _is_attached(built, end):
            asked = 0.0  # its ends are made
        if abs(end.strip_mm - asked) > 1e-6:
            message = f"is stripped {end.strip_mm:g} mm at {end.owner} {end.pin}; {asked:g} mm are asked"
            sheet.problem("wire", wire.label, message, abs(end.strip_mm - asked), "mm")


def _is_attached(built: BuiltTrain, end: WireEnd) -> bool:
    pins = built.pins_of(end.owner) if end.kind == "pin" else ()
    return any(pin.name == end.pin and pin.joint == "attached" for pin in pins)


def _allowances(built: BuiltTrain, wire: Wire, sheet: Tally) -> None:
    """Work out every allowance again, and the length to cut."""
    by = built.train.wiring.allowances
    ends = (wire.start, wire.end)
    inside = sum(way_length(leg.points) for leg in wire.legs)
    joints = _joints(built, wire)
    slack = built.train.wiring.coupling_slack
    # The free length is the longest distance and the larger of share and least: which, its length tells.
    drawn = {c.name: c.pair.more_mm if c.pair is not None else 0.0 for c, _ in joints}
    slacks = [
        (max(slack.least, (c.free_mm - 2 * drawn[c.name]) * slack.share / (1 + slack.share)) * part, c, part)
        for c, part in joints
    ]
    # Where a connector asks for more than every pose, curves and slack are known as a sum only.
    governed = any(abs(c.free_mm - 2 * drawn[c.name] - pair_asks(built, c)) < NEAR for c, _ in joints)
    exact = {
        "curves at couplings": sum(
            (c.free_mm - 2 * drawn[c.name] - c.straight_mm) * p - loose for loose, c, p in slacks
        ),
        "slack at couplings": sum(loose for loose, _, _ in slacks),
        # What passes a connector by in one piece is not drawn in with it.
        "pair drawn in at couplings": sum(2 * drawn[c.name] * p for c, p in joints if p < 1),
        "lead-out": by.lead_out * sum(end.kind != "splice" for end in ends),
        "not taut": inside * by.slack_share,
        "stripping": by.strip * sum(end.kind != "splice" and not _is_attached(built, end) for end in ends),
        "splice overlap": by.splice_overlap * sum(end.kind == "splice" for end in ends),
        "service loop": by.service_loop * sum(_comes_out(built, end) for end in ends),
    }
    if wire.lead is not None and not wire.lead.shortened:
        exact["stripping"] = 0.0
    bends = [by.per_bend * count for count in _bends(wire, by.bend_from_deg)]
    said: dict[str, float] = defaultdict(float)
    for what, amount in wire.allowances:
        said[what] += amount
    governed |= any(built.train.measured.coupling(c.ahead, c.behind) is not None for c, _ in joints)
    if governed:
        both = sum(exact.pop(what) for what in _OVER_COUPLINGS)
        over = sum(said[what] for what in _OVER_COUPLINGS)
        if abs(over - both) > NEAR * (1 + len(joints)):
            message = f"adds {over:.2f} mm over couplings; {both:.2f} mm are asked"
            sheet.problem("wire", wire.label, message, abs(over - both), "mm")
    known = {*_KNOWN, "surplus"} if wire.lead is not None else {*_KNOWN}
    unknown = sorted(set(said) - known)
    for what, amount in exact.items():
        sheet.count("allowances")
        more = what == "service loop" and said[what] > amount  # loops may be asked for other reasons, too
        if abs(said[what] - amount) > NEAR * (1 + len(joints)) and not more:
            message = f"adds {said[what]:.2f} mm for {what}; the settings ask for {amount:.2f} mm"
            sheet.problem("wire", wire.label, message, abs(said[what] - amount), "mm")
    if not bends[0] - NEAR <= said["bends"] <= bends[1] + NEAR:
        message = f"adds {said['bends']:.2f} mm for bends; its corners ask for {bends[1]:.2f} mm"
        sheet.problem("wire", wire.label, message, abs(said["bends"] - bends[1]), "mm")
    sheet.trust("allowances of other names", len(unknown), "they follow from no setting that is known here")
    if any(amount < 0 for what, amount in wire.allowances if what != "curves at couplings"):
        sheet.problem("wire", wire.label, "has an allowance below nothing")
    whole = wire.bare_mm + sum(said.values())
    if wire.lead is not None and not wire.lead.shortened:
        return  # as long as it is bought: checked among the leads
    steps = wire.cut_mm / by.rounding
    if abs(steps - round(steps)) > 1e-6 or not -NEAR <= wire.cut_mm - whole <= by.rounding + NEAR * 4:
        message = f"is cut {wire.cut_mm:g} mm; {whole:.1f} mm rounded up to {by.rounding:g} mm are asked"
        sheet.problem("wire", wire.label, message, wire.cut_mm - whole, "mm")


def _joints(built: BuiltTrain, wire: Wire) -> list[tuple[Crossing, float]]:
    found: list[tuple[Crossing, float]] = []
    for one, other in pairwise(wire.legs):
        passed = {(one.vehicle, one.leaves), (other.vehicle, other.enters)}
        for crossing in built.harness.crossings:
            sides = {(crossing.ahead, crossing.port_ahead), (crossing.behind, crossing.port_behind)}
            if passed == sides:
                found.append((crossing, 1.0))
                break
    for end in (wire.start, wire.end):
        if end.kind == "connector":
            found += [(item, 0.5) for item in built.harness.crossings if item.name == end.owner]
    return found


def _bends(wire: Wire, least_deg: float) -> tuple[int, int]:
    """Return how many corners turn by more than a limit, as few and as many as rounding of points allows."""
    surely = maybe = 0
    for leg in wire.legs:
        points = [one for one, before in zip(leg.points, (None, *leg.points), strict=False) if one != before]
        for a, b, c in zip(points, points[1:], points[2:], strict=False):
            turn = _turn_deg(a, b, c)
            surely += turn > least_deg + 0.5
            maybe += turn > least_deg - 0.5
    return surely, maybe


def _turn_deg(a: Vec, b: Vec, c: Vec) -> float:
    one, two = math.dist(a, b), math.dist(b, c)
    if one == 0 or two == 0:
        return 0.0
    dot = sum((q - p) * (r - q) for p, q, r in zip(a, b, c, strict=True))
    return math.degrees(math.acos(min(max(dot / one / two, -1.0), 1.0)))


def _comes_out(built: BuiltTrain, end: WireEnd) -> bool:
    """Return whether a wire's end is at a part that comes out again."""
    placement = built.placement(end.owner) if end.kind == "pin" else None
    if placement is None:
        return False
    if any(access.often for access in placement.part.access):
        return True
    need = next((need for need in built.train.needs if need.name == end.owner), None)
    if need is not None and need.exchange.wanted:
        return True
    for entry in built.exchanged:
        ways = (*entry.first, *([entry.last] if entry.last is not None else []))
        out = {name for way in ways for name in way.parts}
        if end.owner in out and (entry.often or entry.need == end.owner):
            return entry.need != end.owner or entry.last is None or end.owner in entry.last.parts
    return False


def _by_net(built: BuiltTrain, nets: dict[str, Net], sheet: Tally) -> None:
    of_net: dict[str, list[Wire]] = defaultdict(list)
    for wire in built.harness.wires:
        of_net[wire.net].append(wire)
    for name, wires in sorted(of_net.items()):
        sheet.count("nets of one kind of wire")
        for what, values in (
            ("colours", {wire.colour for wire in wires}),
            ("gauges", {str(wire.awg) for wire in wires if not wire.inside and not own_leads(built, wire)}),
        ):
            if len(values) > 1:
                sheet.problem("net", name, f"has wires of several {what}: {', '.join(sorted(values))}")
        net = nets.get(name)
        if net is None:
            continue
        most = max(wire.current_ma for wire in wires)
        if net.current_ma > 0 and abs(most - net.current_ma) > 0.01 * net.current_ma + 1e-3:
            message = f"carries {most:g} mA; the train file says {net.current_ma:g} mA"
            sheet.problem("net", name, message, abs(most - net.current_ma), "mA")
        # Where a supply was measured, what hangs from it draws less or more than parts say of themselves.
        drawn = 0.0 if built.train.measured.supplies else _drawn(built, net)
        if net.current_ma == 0 and most < drawn * 0.99 - 1e-3 and _is_live(built, name):
            message = f"carries {most:g} mA; the loads on it draw {drawn:g} mA"
            sheet.problem("net", name, message, drawn - most, "mA")
        ceiling = _ceiling(built)
        if net.current_ma == 0 and most > ceiling:
            message = f"carries {most:g} mA; everything together cannot draw more than {ceiling:.0f} mA"
            sheet.problem("net", name, message, most - ceiling, "mA")
        currents = {wire.current_ma for wire in wires}
        if len(currents) > 1:
            sheet.problem("net", name, f"has wires of several currents: {sorted(currents)}")


def _drawn(built: BuiltTrain, net: Net) -> float:
    """Return what the loads on a supply net draw on average, in mA."""
    if net.role != "supply":
        return 0.0
    total = 0.0
    for ref in net.joins:
        placement = built.placement(ref.owner)
        if placement is None:
            continue
        figures = placement.part.figure(Load)
        pins = [pin for pin in placement.part.pins if ref.pin in (pin.name, pin.role)]
        if figures is not None and any(_is_fed(pin) for pin in pins):
            total += figures.current_ma * built.train.need(ref.owner).duty
    return total


def _is_live(built: BuiltTrain, net: str) -> bool:
    """Return whether a load on a net has volts: with the train switched on, whatever was planned of it."""
    bench = switched_on(built)
    loads = [one for one in bench.branches if one.kind == "load" and net in bench.joined.get(one.high, ())]
    return any(bench.across(load) > LIVE_V for load in loads)


def _is_fed(pin: Pin) -> bool:
    return pin.role == "supply"


def _ceiling(built: BuiltTrain) -> float:
    """Return more than all parts and motors can draw together, through the worst regulator, in mA."""
    total = 10.0
    for placement in built.placements:
        for figures in placement.part.electrical:
            for name in ("current_ma", "peak_ma", "quiescent_ma", "start_ma", "out_ma", "continuous_ma"):
                total += getattr(figures, name, 0.0)
            inner = getattr(figures, "regulator", None)
            total += getattr(inner, "quiescent_ma", 0.0) + getattr(inner, "start_ma", 0.0)
    for entry in built.train.vehicles:
        total += sum(max(item.current_ma, item.stall_ma) for item in entry.vehicle.built_in)
    return 4 * total


def _colours(built: BuiltTrain, sheet: Tally) -> None:
    for wire in built.harness.wires:
        if wire.colour not in CODES:
            sheet.problem("wire", wire.label, f"{wire.colour!r} is no colour code of IEC 60757 for a wire")
    grounds = {wire.colour: wire for wire in built.harness.wires if wire.role == "ground"}
    nets = {wire.net for wire in built.harness.wires}
    enough = True
    for wire in built.harness.wires:
        spools = built.train.wiring.spools
        enough = len(nets) <= len({spool.colour for spool in spools}) if spools else len(nets) < len(CODES)
        if wire.role != "ground" and wire.colour in grounds and enough:
            message = f"is {wire.colour}, as {grounds[wire.colour].net} is, which is ground"
            sheet.problem("colour", wire.label, message)
    by_number = {wire.number: wire for wire in built.harness.wires}
    companies: list[tuple[str, Iterable[int]]] = [(item.name, item.wires) for item in built.harness.stretches]
    companies += [(item.name, item.wires) for item in built.harness.crossings]
    told: set[tuple[str, str]] = set()
    for where, numbers in companies:
        sheet.count("companies of colours")
        wires = {by_number[n].net: by_number[n] for n in numbers if n in by_number}
        for one in wires.values():
            for other in wires.values():
                pair = (one.net, other.net)
                if one.net >= other.net or one.colour != other.colour or pair in told:
                    continue
                told.add(pair)
                ground = (one.role == "ground") != (other.role == "ground")
                told_apart = one.sleeved and other.sleeved
                if (ground and enough) or (not told_apart and len(wires) <= len(CODES) // 2):
                    message = f"{one.net} and {other.net} run side by side in {where}, both {one.colour}"
                    sheet.problem("colour", where, message)
