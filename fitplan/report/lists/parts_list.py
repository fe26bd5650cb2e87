"""What to have on the bench: parts, connectors, bricks to add, tape, sleeves, leads, wire from the spool."""

from __future__ import annotations

from collections import defaultdict

from fitplan.model.buying import WASTE_SHARE
from fitplan.model.electrical import CellPack
from fitplan.model.own_leads import made_of
from fitplan.model.placed import SHELF_WORDS, TAPE_WIDTH
from fitplan.model.plan import Plan
from fitplan.model.wired import Wire
from fitplan.report.lists.plan_list import Cell, PlanList
from fitplan.report.lists.wording import colour_word


def parts_list(plan: Plan) -> PlanList:
    """Return what to have on the bench: parts, connector pairs, plates to add and wire from the spool."""
    rows: list[tuple[Cell, ...]] = []
    grouped: dict[tuple[str, str], list[str]] = defaultdict(list)
    for placement in plan.built.placements:
        grouped[placement.part.id, placement.vehicle].append(placement.need)
    catalogue = {placement.part.id: placement.part for placement in plan.built.placements}
    for (part_id, vehicle), needs in grouped.items():
        part = catalogue[part_id]
        notes = ["measure yours"] if part.typical else []
        notes += [note] if (note := plan.built.train.measured.part_note(part_id)) else []
        notes += [f"care: {caution}" for caution in part.cautions]
        rows.append((len(needs), "pcs", part.name, part_id, vehicle, ", ".join(needs), "; ".join(notes)))
        pack = part.figure(CellPack)
        if pack is not None and part.family == "cells":
            count = len(needs) * pack.cells
            what = f"{pack.chemistry} cell, {pack.cell_size}"
            rows.append((count, "pcs", what, "", vehicle, ", ".join(needs), "all of one kind and age"))
    for crossing in plan.built.harness.crossings:
        if crossing.connector:
            part_name = plan.built.train.catalogue.get(crossing.connector)
            name = part_name.name if part_name else crossing.connector
            where = f"{crossing.ahead} / {crossing.behind}"
            rows.append(
                (1, "pair", name, crossing.connector, where, f"coupling {crossing.name}", "plug and socket")
            )
    rows += _small_things(plan)
    for placement in plan.built.placements:
        if placement.shelf is not None:
            note = f"{SHELF_WORDS[placement.shelf.kind]}, carries the part"
            names = [piece.words for piece in placement.shelf.parts]
            rows += [
                (names.count(name), "pcs", name, "", placement.vehicle, placement.need, note)
                for name in dict.fromkeys(names)
            ]
    for fastening in plan.built.fastenings:
        names = [brick.words for brick in fastening.bricks]
        note = "as a strap over it" if "+z" in fastening.ways else "keeps it from sliding"
        rows += [
            (names.count(name), "pcs", name, "", fastening.vehicle, fastening.need, note)
            for name in dict.fromkeys(names)
        ]
    rows += _tape(plan)
    rows += _leads(plan)
    for gauge, colour, _count, _cut, buy in spool_totals(plan):
        name = f"stranded wire, AWG {gauge}, {colour_word(colour)}"
        rows.append(
            (round(buy / 1000, 2), "m", name, "", "train", "harness", f"with {WASTE_SHARE:.0%} waste")
        )
    columns = ("quantity", "unit", "part", "id", "where", "serves", "note")
    return PlanList("parts", "Parts", columns, tuple(rows))


def _tape(plan: Plan) -> list[tuple[Cell, ...]]:
    """Return the one row of double-sided tape: its whole length, and what lies on it."""
    taped = [one for one in plan.built.fastenings if one.tape_mm]
    if not taped:
        return []
    name = f"double-sided tape, {TAPE_WIDTH:g} mm wide"
    where = ", ".join(dict.fromkeys(one.vehicle for one in taped))
    needs = ", ".join(one.need for one in taped)
    note = ", ".join(f"{one.tape_mm:.0f} mm under {one.need}" for one in taped)
    whole = sum(one.tape_mm for one in taped)
    return [(whole, "mm", name, "", where, needs, note if len(taped) > 1 else "keeps it in place")]


def _small_things(plan: Plan) -> list[tuple[Cell, ...]]:
    """Return the resistors that are soldered into leads, their sleeves, and sleeves with numbers."""
    grouped: dict[tuple[str, str], list[str]] = defaultdict(list)
    for one in plan.built.resistors:
        if one.place == "lead":
            vehicle = plan.built.vehicle_of(one.owner) or ""
            grouped[one.words, vehicle].append(f"{one.owner}.{one.pin}")
    rows: list[tuple[Cell, ...]] = [
        (len(pins), "pcs", name, "", vehicle, ", ".join(pins), "soldered into the lead, under shrink sleeve")
        for (name, vehicle), pins in grouped.items()
    ]
    if joints := len(plan.built.harness.splices) + sum(len(pins) for pins in grouped.values()):
        rows.append((joints, "pcs", "shrink sleeve, 25 mm", "", "train", "splices, resistors", ""))
    marked = [wire.number for wire in plan.built.harness.wires if wire.sleeved]
    if marked:
        note = "one at each end, as colours do not tell these wires apart"
        numbers = ", ".join(str(mark) for mark in marked)
        rows.append((2 * len(marked), "pcs", "sleeve with a number", "", "train", f"wires {numbers}", note))
    return rows


def _leads(plan: Plan) -> list[tuple[Cell, ...]]:
    """Return the leads that are bought ready-made, one row a kind and length."""
    grouped: dict[tuple[str, float], list[Wire]] = defaultdict(list)
    for wire in plan.built.harness.wires:
        if wire.lead is not None and not wire.inside and not wire.lead.own:
            grouped[wire.lead.part_id, wire.lead.length_mm].append(wire)
    return [
        (
            len(wires),
            "pcs",
            f"{plan.built.train.catalogue[part_id].name}, {length:g} mm",
            part_id,
            "train",
            f"wires {', '.join(str(wire.number) for wire in wires)}",
            "cut and joined again" if any(one.lead and one.lead.shortened for one in wires) else "as it is",
        )
        for (part_id, length), wires in sorted(grouped.items())
    ]


def spool_totals(plan: Plan) -> list[tuple[int, str, int, float, float]]:
    """Gauge, colour, pieces, mm cut and mm to buy, thickest wire first."""
    groups: dict[tuple[int, str], list[Wire]] = defaultdict(list)
    for wire in (one for one in plan.built.harness.wires if one.lead is None):
        groups[wire.awg, wire.colour].append(wire)
    found = []
    for (awg, colour), wires in sorted(groups.items()):
        lengths = [length for wire in wires if (length := made_of(plan.built, wire).spool_mm)]
        if lengths:
            cut = sum(lengths)
            found.append((awg, colour, len(lengths), cut, cut * (1 + WASTE_SHARE)))
    return found
