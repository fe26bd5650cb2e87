"""The lists of a harness: wires from end to end, bundles, cuts, joins, connectors, couplings, totals."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from fitplan.model.buying import WASTE_SHARE
from fitplan.model.own_leads import made_of, own_lead_at
from fitplan.model.plan import Plan
from fitplan.model.wired import Crossing, Stretch, Wire, WireEnd
from fitplan.report.lists.connector_cavities import cavities
from fitplan.report.lists.parts_list import spool_totals
from fitplan.report.lists.plan_list import Cell, Columns, PlanList, list_of
from fitplan.report.lists.wording import (
    allowance_word,
    end_word,
    end_work,
    joint_at,
    millimetres,
    resistor_at,
    threaded_first,
    way_word,
)


def _end_work(plan: Plan, wire: Wire, end: WireEnd) -> str:
    own = own_lead_at(plan.built, end)
    if wire.lead is not None and not wire.lead.shortened:
        return "plug in" if own is None else f"its own lead of {millimetres(own.length_mm)}"
    if own is not None:
        made = made_of(plan.built, wire)
        used = next(length for owner, length in made.own if owner == end.owner)
        cut = f", cut to {millimetres(used)}" if used < own.length_mm else ""
        joined = " and joined to what is missing, under shrink sleeve" if made.joints else ""
        return f"its own lead of {millimetres(own.length_mm)}{cut}{joined}"
    work = end_work(end, joint_at(plan.built, end))
    between = resistor_at(plan.built, wire, end)
    if between is not None:
        work += f" with {between.words} between"
    return work + threaded_first(plan.built, end)


def harness_list(plan: Plan) -> PlanList:
    """Return one row a wire: what it is, where it runs, how long to cut it and what becomes of its ends."""
    columns: Columns[Wire] = (
        ("wire", lambda wire: wire.number),
        ("net", lambda wire: wire.net),
        ("colour (IEC 60757)", _colour),
        ("gauge (AWG)", lambda wire: wire.awg),
        ("from", lambda wire: end_word(wire.start)),
        ("to", lambda wire: end_word(wire.end)),
        ("way", way_word),
        ("bare way (mm)", lambda wire: round(wire.bare_mm, 1)),
        ("allowances (mm)", allowance_word),
        ("cut length (mm)", lambda wire: round(wire.cut_mm, 1)),
        ("ends", lambda wire: " / ".join(_end_work(plan, wire, end) for end in (wire.start, wire.end))),
        ("longer than its shortest way (mm)", _detours),
    )
    return list_of("harness", "Harness", columns, plan.built.harness.wires)


def _colour(wire: Wire) -> str:
    return f"{wire.colour}, sleeves {wire.number}" if wire.sleeved else wire.colour


def from_to_list(plan: Plan) -> PlanList:
    """Return one row a wire, short enough for the bench: its name, where from, where to, how long."""
    columns: Columns[Wire] = (
        ("wire", lambda wire: wire.number),
        ("net", lambda wire: wire.net),
        ("colour", lambda wire: wire.colour),
        ("AWG", lambda wire: wire.awg),
        ("from", lambda wire: end_word(wire.start)),
        ("in", lambda wire: wire.start.vehicle),
        ("to", lambda wire: end_word(wire.end)),
        ("in ", lambda wire: wire.end.vehicle),
        ("cut (mm)", lambda wire: round(wire.cut_mm, 1)),
    )
    return list_of("from-to", "From-to list", columns, plan.built.harness.wires, "Colours by IEC 60757.")


def _detours(wire: Wire) -> str:
    """Return how many mm a wire is longer than its shortest way, by the reason."""
    found: dict[str, float] = {}
    for entry in wire.detours:
        found[entry.why] = found.get(entry.why, 0.0) + entry.more_mm
    return ", ".join(f"{more:.1f} {why}" for why, more in found.items())


def bundle_list(plan: Plan) -> PlanList:
    """Return one row a stretch of wires that share a way."""
    columns: Columns[Stretch] = (
        ("stretch", lambda stretch: stretch.name),
        ("vehicle", lambda stretch: stretch.vehicle),
        ("port", lambda stretch: stretch.port),
        ("conductors", lambda stretch: stretch.conductors),
        ("diameter (mm)", lambda stretch: round(stretch.diameter_mm, 2)),
        ("length (mm)", lambda stretch: round(stretch.length_mm, 1)),
        ("wires", lambda stretch: _wire_numbers(stretch.wires)),
    )
    return list_of("bundles", "Bundles", columns, plan.built.harness.stretches)


def cut_list(plan: Plan) -> PlanList:
    """Return the wires grouped by what is cut the same: length, gauge, colour and stripping at both ends."""
    groups: dict[tuple[int, str, float, float, float], list[int]] = defaultdict(list)
    for wire in (one for one in plan.built.harness.wires if one.lead is None):
        key = (wire.awg, wire.colour, round(wire.cut_mm, 1), wire.start.strip_mm, wire.end.strip_mm)
        groups[key].append(wire.number)
    rows = tuple(
        (len(wires), round(cut, 1), awg, colour, strip_a, strip_b, _wire_numbers(wires))
        for (awg, colour, cut, strip_a, strip_b), wires in sorted(groups.items())
    )
    columns = (
        "quantity",
        "cut length (mm)",
        "gauge (AWG)",
        "colour",
        "strip start (mm)",
        "strip end (mm)",
        "wires",
    )
    return PlanList("cuts", "Cut list", columns, rows)


def join_list(plan: Plan) -> PlanList:
    """Return each splice, and each pin with several wires, with the wires that meet there."""
    harness = plan.built.harness
    by_number = {wire.number: wire for wire in harness.wires}
    rows: list[tuple[Cell, ...]] = []
    for splice in harness.splices:
        for position, wire_number in enumerate(splice.wires, 1):
            wire = by_number.get(wire_number)
            if wire is None:
                continue
            far = wire.end if _is_end(wire.start, splice.name) else wire.start
            rows.append(
                (
                    splice.name,
                    splice.net,
                    splice.vehicle,
                    position,
                    wire.number,
                    wire.colour,
                    wire.awg,
                    end_word(far),
                )
            )
    rows += _shared_pins(harness.wires)
    columns = ("joint", "net", "vehicle", "no.", "wire", "colour", "gauge (AWG)", "goes to")
    return PlanList("joins", "Join list", columns, tuple(rows))


def _shared_pins(wires: Sequence[Wire]) -> list[tuple[Cell, ...]]:
    """Return rows for the pins at which several wires are soldered or clamped together."""
    at: dict[tuple[str, str], list[tuple[Wire, WireEnd, WireEnd]]] = {}
    for wire in wires:
        for here, far in ((wire.start, wire.end), (wire.end, wire.start)):
            if here.kind == "pin":
                at.setdefault((here.owner, here.pin), []).append((wire, here, far))
    return [
        (
            f"{owner}.{pin}",
            wire.net,
            here.vehicle,
            position,
            wire.number,
            _colour(wire),
            wire.awg,
            end_word(far),
        )
        for (owner, pin), meeting in at.items()
        if len(meeting) > 1
        for position, (wire, here, far) in enumerate(meeting, 1)
    ]


def connector_list(plan: Plan) -> PlanList:
    """Return each coupling connector cavity by cavity, with the wire that ends there on either side."""
    rows: list[tuple[Cell, ...]] = []
    for crossing in plan.built.harness.crossings:
        for cavity, pair in cavities(plan, crossing.name, crossing.ahead).items():
            net = next(wire.net for wire in pair if wire is not None)
            wires = [f"{wire.number} {wire.colour} AWG {wire.awg}" if wire else "" for wire in pair]
            number_or_name: Cell = int(cavity) if cavity.isdecimal() else cavity
            rows.append((crossing.name, crossing.connector, number_or_name, net, *wires))
    columns = ("coupling", "connector", "cavity", "net", "wire ahead", "wire behind")
    return PlanList("connectors", "Connectors", columns, tuple(rows), "Both halves are wired in this order.")


def coupling_list(plan: Plan) -> PlanList:
    """Return what crosses each coupling and how long the wires over it must be."""
    columns: Columns[Crossing] = (
        ("coupling", lambda crossing: crossing.name),
        ("ahead", lambda crossing: crossing.ahead),
        ("behind", lambda crossing: crossing.behind),
        ("port ahead", lambda crossing: crossing.port_ahead),
        ("port behind", lambda crossing: crossing.port_behind),
        ("conductors", lambda crossing: crossing.conductors),
        ("diameter (mm)", lambda crossing: round(crossing.diameter_mm, 2)),
        ("straight (mm)", lambda crossing: round(crossing.straight_mm, 1)),
        ("free length (mm)", lambda crossing: round(crossing.free_mm, 1)),
        ("governing pose", lambda crossing: crossing.governing),
        ("sag above rail (mm)", lambda crossing: round(crossing.sag_above_rail_mm, 1)),
        ("clip", lambda crossing: "clip" if crossing.clip else "none"),
        ("connector", lambda crossing: crossing.connector),
        ("wires", lambda crossing: _wire_numbers(crossing.wires)),
    )
    return list_of("couplings", "Couplings", columns, plan.built.harness.crossings)


def total_list(plan: Plan) -> PlanList:
    """Return wire per gauge and colour: pieces, metres cut, metres to buy with the waste allowance."""
    rows = tuple(
        (awg, colour, count, round(cut, 1), round(buy, 1))
        for awg, colour, count, cut, buy in spool_totals(plan)
    )
    columns = ("gauge (AWG)", "colour", "pieces", "cut (mm)", "from the spool (mm)")
    return PlanList("totals", "Totals per colour and gauge", columns, rows, f"With {WASTE_SHARE:.0%} waste.")


def _wire_numbers(numbers: Iterable[int]) -> str:
    return " ".join(str(entry) for entry in numbers)


def _is_end(end: WireEnd, splice: str) -> bool:
    return end.kind == "splice" and end.owner == splice
