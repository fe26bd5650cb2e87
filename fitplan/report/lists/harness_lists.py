"""The lists of a plan as plain tables: parts, harness, bundles, and what the bench wants of the harness.

Each function makes one `PlanList`; `csv_bytes` writes one as CSV, `fitplan.report.lists.spreadsheet` all of
them as a workbook, and the page and the printed sheets show the same rows.
"""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from fitplan.model.buying import WASTE_SHARE
from fitplan.model.electrical import CellPack
from fitplan.model.own_leads import made_of, own_lead_at
from fitplan.model.placed import SHELF_WORDS, TAPE_WIDTH
from fitplan.model.plan import Plan
from fitplan.model.wired import Wire, WireEnd
from fitplan.report.lists.connector_cavities import cavities
from fitplan.report.lists.wording import (
    allowance_word,
    clean,
    colour_word,
    end_word,
    end_work,
    joint_at,
    millimetres,
    number,
    resistor_at,
    threaded_first,
    way_word,
)

Cell: TypeAlias = str | float | int

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
"""What makes a spreadsheet take a text for a formula when it stands first in a CSV cell."""


@dataclass(frozen=True)
class PlanList:
    """One list: file name without ending, title, column heads (with units), rows of text and numbers."""

    name: str
    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""

    def without(self, column: str) -> PlanList:
        """Return the list but for one of its columns."""
        at = self.columns.index(column)
        rows = tuple((*row[:at], *row[at + 1 :]) for row in self.rows)
        return replace(self, columns=(*self.columns[:at], *self.columns[at + 1 :]), rows=rows)


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
    for gauge, colour, _count, _cut, buy in _spool_totals(plan):
        name = f"stranded wire, AWG {gauge}, {colour_word(colour)}"
        rows.append(
            (round(buy / 1000, 2), "m", name, "", "train", "harness", f"with {WASTE_SHARE:.0%} waste")
        )
    columns = ("quantity", "unit", "part", "id", "where", "serves", "note")
    return PlanList("parts", "Parts", columns, tuple(rows))


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


def harness_list(plan: Plan) -> PlanList:
    """Return one row a wire: what it is, where it runs, how long to cut it and what becomes of its ends."""
    rows = tuple(
        (
            wire.number,
            wire.net,
            f"{wire.colour}, sleeves {wire.number}" if wire.sleeved else wire.colour,
            wire.awg,
            end_word(wire.start),
            end_word(wire.end),
            way_word(wire),
            round(wire.bare_mm, 1),
            allowance_word(wire),
            round(wire.cut_mm, 1),
            " / ".join(_end_work(plan, wire, end) for end in (wire.start, wire.end)),
            ", ".join(f"{more:.1f} {why}" for why, more in _detours(wire).items()),
        )
        for wire in plan.built.harness.wires
    )
    columns = (
        "wire",
        "net",
        "colour (IEC 60757)",
        "gauge (AWG)",
        "from",
        "to",
        "way",
        "bare way (mm)",
        "allowances (mm)",
        "cut length (mm)",
        "ends",
        "longer than its shortest way (mm)",
    )
    return PlanList("harness", "Harness", columns, rows)


def from_to_list(plan: Plan) -> PlanList:
    """Return one row a wire, short enough for the bench: its name, where from, where to, how long."""
    rows = tuple(
        (
            wire.number,
            wire.net,
            wire.colour,
            wire.awg,
            end_word(wire.start),
            wire.start.vehicle,
            end_word(wire.end),
            wire.end.vehicle,
            round(wire.cut_mm, 1),
        )
        for wire in plan.built.harness.wires
    )
    columns = ("wire", "net", "colour", "AWG", "from", "in", "to", "in ", "cut (mm)")
    return PlanList("from-to", "From-to list", columns, rows, "Colours by IEC 60757.")


def _detours(wire: Wire) -> dict[str, float]:
    """Return how many mm a wire is longer than its shortest way, by the reason."""
    found: dict[str, float] = {}
    for entry in wire.detours:
        found[entry.why] = found.get(entry.why, 0.0) + entry.more_mm
    return found


def bundle_list(plan: Plan) -> PlanList:
    """Return one row a stretch of wires that share a way."""
    rows = tuple(
        (
            stretch.name,
            stretch.vehicle,
            stretch.port,
            stretch.conductors,
            round(stretch.diameter_mm, 2),
            round(stretch.length_mm, 1),
            _wire_numbers(stretch.wires),
        )
        for stretch in plan.built.harness.stretches
    )
    columns = ("stretch", "vehicle", "port", "conductors", "diameter (mm)", "length (mm)", "wires")
    return PlanList("bundles", "Bundles", columns, rows)


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
            f"{wire.colour}, sleeves {wire.number}" if wire.sleeved else wire.colour,
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
    rows = tuple(
        (
            crossing.name,
            crossing.ahead,
            crossing.behind,
            crossing.port_ahead,
            crossing.port_behind,
            crossing.conductors,
            round(crossing.diameter_mm, 2),
            round(crossing.straight_mm, 1),
            round(crossing.free_mm, 1),
            crossing.governing,
            round(crossing.sag_above_rail_mm, 1),
            "clip" if crossing.clip else "none",
            crossing.connector,
            _wire_numbers(crossing.wires),
        )
        for crossing in plan.built.harness.crossings
    )
    columns = (
        "coupling",
        "ahead",
        "behind",
        "port ahead",
        "port behind",
        "conductors",
        "diameter (mm)",
        "straight (mm)",
        "free length (mm)",
        "governing pose",
        "sag above rail (mm)",
        "clip",
        "connector",
        "wires",
    )
    return PlanList("couplings", "Couplings", columns, rows)


def total_list(plan: Plan) -> PlanList:
    """Return wire per gauge and colour: pieces, metres cut, metres to buy with the waste allowance."""
    rows = tuple(
        (awg, colour, count, round(cut, 1), round(buy, 1))
        for awg, colour, count, cut, buy in _spool_totals(plan)
    )
    columns = ("gauge (AWG)", "colour", "pieces", "cut (mm)", "from the spool (mm)")
    return PlanList("totals", "Totals per colour and gauge", columns, rows, f"With {WASTE_SHARE:.0%} waste.")


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula: cleaned, with an apostrophe where it must."""
    text = clean(text)
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA_STARTS) else text


def csv_bytes(sheet: PlanList) -> bytes:
    """Return a list as CSV (RFC 4180, UTF-8, CRLF); text that looks like a formula gets an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(sheet.columns)
    for row in sheet.rows:
        writer.writerow([safe_text(cell) if isinstance(cell, str) else number(cell, 4) for cell in row])
    return out.getvalue().encode("utf-8")


def _spool_totals(plan: Plan) -> list[tuple[int, str, int, float, float]]:
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


def _wire_numbers(numbers: Iterable[int]) -> str:
    return " ".join(str(entry) for entry in numbers)


def _is_end(end: WireEnd, splice: str) -> bool:
    return end.kind == "splice" and end.owner == splice
