"""The list that is bought from, held against all that is cut, crimped, sleeved and added."""

from __future__ import annotations

from collections import Counter

from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.electrical import CellPack, OwnLeads
from fitplan.model.plan import Plan
from fitplan.model.wired import Wire
from fitplan.verify.result import Tally

_ALLOWED_M = 0.0005


def check_buying(plan: Plan, sheet: Tally) -> None:
    """Check that every part, wire, contact, splice, resistor and brick is in the list."""
    if not plan.buying:
        return
    built, buying = plan.built, plan.buying
    sheet.count("things to buy", len(buying))
    for one in buying:
        least = min(one.needed, one.spare, one.each, one.owned, one.needed + one.spare - one.owned)
        if least < -_ALLOWED_M:
            sheet.problem("buying", one.name, "is less than nothing", least)
    listed: Counter[str] = Counter()
    for one in buying:
        if one.part:
            listed[one.part] += int(one.needed)
    placed = Counter(placement.part.id for placement in built.placements)
    for part, count in placed.items():
        if listed[part] != count:
            sheet.problem("buying", part, f"is listed {listed[part]} times, placed {count} times")
    pairs = Counter(crossing.connector for crossing in built.harness.crossings if crossing.connector)
    for part, count in pairs.items():
        if listed[part] != count:
            sheet.problem("buying", part, f"is listed {listed[part]} times, for {count} couplings")
    leads = Counter(
        wire.lead.part_id
        for wire in built.harness.wires
        if wire.lead and not wire.inside and not wire.lead.own
    )
    for part, count in leads.items():
        if listed[part] != count:
            sheet.problem("buying", part, f"is listed {listed[part]} times, for {count} wires")
    for part in sorted(set(listed) - set(placed) - set(pairs) - set(leads)):
        sheet.problem("buying", part, "is listed, and nothing of this plan is of it")
    _owned(plan, sheet)
    _metres(plan, sheet)
    _joints(plan, sheet)
    wanted = Counter((found.where, one) for found in plan.findings for one in found.add)
    extra = [one for one in buying if one.shop == "findings ask for"]
    had = Counter((" ".join(one.serves), Asked(one.name, one.needed, one.unit)) for one in extra)
    for (where, asked), count in (wanted - had).items():
        sheet.problem("buying", where, f"a finding asks for {asked.name}, which the list has not", count)
    for (where, asked), count in (had - wanted).items():
        sheet.problem("buying", where, f"no finding asks for {asked.name}", count)
    for rebuild in built.rebuilds:
        for name in rebuild.remove:
            if not any(one.shop == "comes out" and one.name == name for one in buying):
                sheet.problem("buying", name, "comes out, and the list does not say so")


def _owned(plan: Plan, sheet: Tally) -> None:
    """Check that what is there already lies in the drawer or on a spool, and is no more than is wanted."""
    drawer, spools = Counter(dict(plan.built.train.owned.parts)), plan.built.train.wiring.spools
    stands, laid = _built_in(plan)
    drawer.update(stands)
    taken: Counter[str] = Counter()
    wire = 0.0
    for one in plan.buying:
        if not 0 <= one.owned <= one.needed + one.spare + _ALLOWED_M:
            sheet.problem("buying", one.name, "takes more from the drawer than is wanted", one.owned)
        if one.name.startswith("stranded wire"):
            wire += one.owned
        elif one.part:
            taken[one.part] += int(one.owned)
        elif one.owned > (one.needed if stands or laid else 0.0) + _ALLOWED_M:
            sheet.problem("buying", one.name, "is told to be there, and more than is built in", one.owned)
    for part, count in taken.items():
        if count > drawer.get(part, 0):
            sheet.problem("buying", part, f"takes {count} from a drawer with {drawer.get(part, 0)}", count)
    if wire > sum(spool.metres for spool in spools) + laid + _ALLOWED_M:
        sheet.problem("buying", "wire", "takes more from the spools than is on them", wire, "m")


def _built_in(plan: Plan) -> tuple[Counter[str], float]:
    """Return which parts stand as built, leads as bought with them, and how many metres of wire do.

    What is told of them is held against what was built elsewhere (`kept`).
    """
    built, before = plan.built, plan.built.train.as_built
    undone = {(one.thing, one.name) for one in plan.rework.changes}
    there = {one.need for one in before.parts if ("part", one.need) not in undone}
    parts = Counter(one.part.id for one in built.placements if one.need in there)
    numbers = {one.number for one in before.wires if ("wire", str(one.number)) not in undone}
    numbers |= {one.second for one in before.wires if one.second and one.number in numbers}
    wires = [wire for wire in built.harness.wires if wire.number in numbers]
    parts.update(wire.lead.part_id for wire in wires if wire.lead and not wire.inside and not wire.lead.own)
    return parts, sum(from_the_spool(built, wire)[0] for wire in wires if wire.lead is None) / 1000


def _metres(plan: Plan, sheet: Tally) -> None:
    cut: dict[str, float] = {}
    for wire in (one for one in plan.built.harness.wires if one.lead is None):
        name = f"stranded wire, AWG {wire.awg}, {wire.colour}"
        spool, _ = from_the_spool(plan.built, wire)
        if spool:
            cut[name] = cut.get(name, 0.0) + spool / 1000
    listed = {one.name: one.needed for one in plan.buying if one.name.startswith("stranded wire")}
    for name in sorted(cut.keys() | listed.keys()):
        if abs(cut.get(name, 0.0) - listed.get(name, 0.0)) > _ALLOWED_M:
            sheet.problem(
                "buying", name, "is listed with another length than is cut", listed.get(name, 0.0), "m"
            )


def from_the_spool(built: BuiltTrain, wire: Wire) -> tuple[float, int]:
    """Return the mm of a wire that its parts' own leads do not give, laps counted, and the joints in it."""
    given = []
    for end in (wire.start, wire.end):
        placed = built.placement(end.owner) if end.kind == "pin" else None
        if placed is None or all(pin.name != end.pin or pin.joint != "attached" for pin in placed.part.pins):
            continue
        given += [one.length_mm for one in placed.part.electrical if isinstance(one, OwnLeads)]
    lap = 2 * built.train.wiring.allowances.splice_overlap
    if not given:
        return wire.cut_mm, 0
    least = len(given) - 1
    if sum(given) >= wire.cut_mm + least * lap:
        return 0.0, least
    return wire.cut_mm + len(given) * lap - sum(given), len(given)


def _joints(plan: Plan, sheet: Tally) -> None:
    """Every cavity has its contact, every splice and resistor its sleeve, every holder its cells."""
    built = plan.built
    # What a finding asks for beside the plan is not built in.
    taken = [one for one in plan.buying if one.shop != "findings ask for"]
    ends = {
        (end.owner, end.pin, end.vehicle)
        for wire in built.harness.wires
        for end in (wire.start, wire.end)
        if end.kind == "connector" and not (wire.lead is not None and not wire.lead.shortened)
    }
    contacts = sum(
        one.needed
        for one in taken
        if " contact for " in one.name and not one.name.startswith("socket contact for pins at")
    )
    if contacts != len(ends):
        sheet.problem(
            "buying", "contacts", f"{contacts:g} are listed for {len(ends)} cavities", contacts, "pcs"
        )
    sleeved = [joint for one in taken if one.name.startswith("heat-shrink") for joint in one.serves]
    resistors = [one for one in built.resistors if one.place == "lead"]
    lengthwise = [
        f"wire {wire.number} joint {number}"
        for wire in built.harness.wires
        if wire.lead is None
        for number in range(1, from_the_spool(built, wire)[1] + 1)
    ]
    for joint in (
        [f"splice {one.name}" for one in built.harness.splices]
        + [f"{one.owner}.{one.pin} resistor" for one in resistors]
        + lengthwise
    ):
        if sleeved.count(joint) != 1:
            sheet.problem("buying", joint, f"has {sleeved.count(joint)} sleeves in the list")
    bought = sum(one.needed for one in taken if one.name.startswith("resistor "))
    if bought != len(resistors):
        sheet.problem("buying", "resistors", f"{bought:g} are listed, {len(resistors)} soldered in", bought)
    packs = [
        placement.part.figure(CellPack) for placement in built.placements if placement.part.family == "cells"
    ]
    cells = sum(pack.cells for pack in packs if pack is not None)
    listed = sum(one.needed for one in plan.buying if " cell, " in one.name and not one.part)
    if cells != listed:
        sheet.problem("buying", "cells", f"{listed:g} are listed for holders of {cells}", listed)
    pieces: Counter[str] = Counter()
    for placement in built.placements:
        if placement.shelf is not None:
            pieces.update(piece.words for piece in placement.shelf.parts)
    for fastening in built.fastenings:
        pieces.update(brick.words for brick in fastening.bricks)
    for name, count in pieces.items():
        here = sum(one.needed for one in taken if one.name == name and one.shop != "comes out")
        if here != count:
            sheet.problem("buying", name, f"is listed {here:g} times, needed {count} times", here)
