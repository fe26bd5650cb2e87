"""The list that is bought from: parts, contacts, sleeves, bricks, wire, and what findings ask for."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace

from fitplan.model.built import BuiltTrain
from fitplan.model.buying import SHOPS, WASTE_SHARE, Article, Shop, Unit
from fitplan.model.coupling_halves import socket_side
from fitplan.model.electrical import Bank, CellPack, Charger, Conductor, Connector, Fuse
from fitplan.model.found import Outcome
from fitplan.model.own_leads import made_of
from fitplan.model.part import Part, PinJoint
from fitplan.model.placed import TAPE_WIDTH
from fitplan.model.train import ADDED_WAGON
from fitplan.model.wired import Splice, Wire, WireEnd
from fitplan.workbench.heat_shrink import resistor_sleeve, sleeve_for
from fitplan.workbench.owned import less_what_is_owned, less_what_stands
from fitplan.workbench.standing import standing_train

_SPOILT_SHARE = 0.15
"""Share of contacts and sleeves that are spoilt (common practice, no source)."""
_SOLDER_MM = 15.0
"""Solder wire of 0.7 mm for a joint (common practice, no source)."""
_LEADED = ("switch", "emitter", "lamp", "sounder")
"""Families whose pins are tags or leads in the air, which want a sleeve each."""
_PIN_SLEEVE_MM = 12.0
_CONTACTS: dict[PinJoint, str] = {"crimp": "crimp contact", "header": "socket contact for pins at 2.54 mm"}


def buying_list(built: BuiltTrain, outcomes: Iterable[Outcome]) -> tuple[Article, ...]:
    """Return everything to have for a plan, grouped by shop; what stands as it was built is there already."""
    found = [*_taken(built), *_asked_for(outcomes), *_coming_out(built)]
    if (there := standing_train(built)) is not None:
        found = list(less_what_stands(found, _taken(there)))
    found = list(less_what_is_owned(found, built.train.owned, built.train.wiring.spools))
    return tuple(sorted(found, key=lambda article: SHOPS.index(article.shop)))


def _taken(built: BuiltTrain) -> list[Article]:
    """Return everything that a train takes to build."""
    return [
        *_parts(built),
        *_couplings(built),
        *_contacts_at_pins(built),
        *_resistors(built),
        *_sleeves(built),
        *_marks(built),
        *_leads(built),
        *_wire(built),
        *_bricks(built),
        *_workshop(built),
    ]


def _parts(built: BuiltTrain) -> Iterator[Article]:
    grouped: dict[str, list[str]] = defaultdict(list)
    known: dict[str, Part] = {}
    where: dict[str, dict[str, None]] = defaultdict(dict)
    for one in built.placements:
        grouped[one.part.id].append(one.need)
        known[one.part.id] = one.part
        where[one.part.id][one.vehicle] = None
    for name, needs in grouped.items():
        part = known[name]
        pack = part.figure(CellPack)
        apart = pack is not None and part.family == "cells"
        power = any(part.figure(kind) is not None for kind in (CellPack, Bank, Charger))
        notes = ["measure yours"] if part.typical else []
        notes += [note] if (note := built.train.measured.part_note(name)) else []
        notes += [f"care: {caution}" for caution in part.cautions]
        primary = apart and pack is not None and pack.chemistry == "alkaline"
        places = ", ".join(where[name])
        shop: Shop = "cells and power" if power else "electronics"
        price = 0.0 if primary else part.price
        yield _article(shop, part.name, len(needs), 0, needs, places, name, "; ".join(notes), price)
        if apart and pack is not None:
            what = f"{pack.chemistry} cell, {pack.cell_size}"
            count = len(needs) * pack.cells
            each = part.price / pack.cells if primary else 0.0
            note = "all of one kind and age"
            yield _article("cells and power", what, count, 0, needs, places, "", note, each)
        if part.figure(Bank) is not None and not _by_lead(built, needs):
            what = "USB lead for the bank, plug A, two conductors, to be cut"
            yield _article(
                "cells and power", what, len(needs), 0, needs, places, "", "red is plus, measure it"
            )
        fuse = part.figure(Fuse)
        if fuse is not None and not fuse.resettable:
            yield _article("electronics", f"spare fuse for {part.name}", 0, 2, needs, places)


def _couplings(built: BuiltTrain) -> Iterator[Article]:
    ends: dict[str, dict[str, set[str]]] = defaultdict(lambda: {"plug": set(), "socket": set()})
    pairs: dict[str, list[str]] = defaultdict(list)
    for crossing in built.harness.crossings:
        if crossing.connector:
            pairs[crossing.connector].append(crossing.name)
            row = built.train.catalogue[crossing.connector].figure(Connector)
            made = row is not None and row.sockets
            for end in _ends(built, "connector", crossing.name, spooled=made):
                half = "socket" if end.vehicle == socket_side(built, crossing) else "plug"
                ends[crossing.connector][half].add(f"{crossing.name} {end.pin}")
    for name, couplings in pairs.items():
        part = built.train.catalogue.get(name)
        figures = part.figure(Connector) if part is not None else None
        title = part.name if part is not None else name
        pins = figures is not None and figures.sockets
        what = title if pins else f"housings, plug and socket: {title}"
        note = f"{figures.cavities} cavities" if figures is not None else ""
        price = part.price if part is not None else 0.0
        serves = [f"coupling {one}" for one in couplings]
        yield replace(
            _article(
                "wire and crimping",
                title if row else f"housings, plug and socket: {title}",
                len(couplings),
                0,
                serves,
            ),
            unit="pair",
            part=name,
            note=note,
            each=price,
        )
        for half, what in (("plug", "socket" if pins else "pin"), ("socket", "socket")):
            if pins and not ends[name][half]:
                continue  # leads as bought have their sockets
            count = len(ends[name][half])
            spare = max(2, math.ceil(_SPOILT_SHARE * count))
            yield _article(
                "wire and crimping", f"{what} contact for {title}", count, spare, serves, note="one a wire"
            )


def _contacts_at_pins(built: BuiltTrain) -> Iterator[Article]:
    counts: dict[PinJoint, dict[str, int]] = defaultdict(dict)
    headers: dict[str, int] = {}
    for wire in _spooled(built):
        for end in (wire.start, wire.end):
            pin = next((one for one in built.pins_of(end.owner) if one.name == end.pin), None)
            if end.kind == "pin" and pin is not None and pin.joint in _CONTACTS:
                counts[pin.joint][end.owner] = counts[pin.joint].get(end.owner, 0) + 1
    for one in built.placements:
        pins = sum(pin.joint == "header" for pin in one.part.pins)
        if pins:
            headers[one.need] = pins
    for joint, owners in counts.items():
        total = sum(owners.values())
        spare = max(2, math.ceil(_SPOILT_SHARE * total))
        yield _article("wire and crimping", _CONTACTS[joint], total, spare, list(owners), note="one a wire")
    for count in sorted(set(headers.values())):
        needs = [need for need, pins in headers.items() if pins == count]
        yield _article("electronics", f"pin header, 2.54 mm, {count} pins", len(needs), 0, needs)
        wired = [need for need in needs if need in counts["header"]]
        if wired:
            what = f"housing for socket contacts, 2.54 mm, {count} ways"
            yield _article("wire and crimping", what, len(wired), 0, wired)


def _resistors(built: BuiltTrain) -> Iterator[Article]:
    grouped: dict[str, list[str]] = defaultdict(list)
    for one in built.resistors:
        if one.place == "lead":
            grouped[one.words].append(f"{one.owner}.{one.pin}")
    for name, pins in grouped.items():
        note = "series E24, 5 %; soldered into the lead"
        yield _article("electronics", name, len(pins), 1, pins, note=note)


def _sleeves(built: BuiltTrain) -> Iterator[Article]:
    """Yield heat-shrink by diameter: for each splice, each resistor in a lead, each tag or lead."""
    grouped: dict[tuple[float, float], list[str]] = defaultdict(list)
    for joint, (diameter, length) in sleeved_joints(built).items():
        grouped[diameter, length].append(joint)
    for (diameter, length), joints in sorted(grouped.items()):
        spare = max(1, math.ceil(_SPOILT_SHARE * len(joints)))
        what = f"heat-shrink 2:1, {diameter:g} mm before shrinking, cut to {length:g} mm"
        yield _article("wire and crimping", what, len(joints), spare, joints)


def sleeved_joints(built: BuiltTrain) -> dict[str, tuple[float, float]]:
    """Return diameter and length (mm) of the heat-shrink of every joint that wants one, by its name."""
    found: dict[str, tuple[float, float]] = {}
    wires = {wire.number: wire for wire in built.harness.wires}
    for splice in built.harness.splices:
        found[f"splice {splice.name}"] = (sleeve_for(_outers(splice, wires)), 25.0)
    for one in built.resistors:
        if one.place == "lead":
            found[f"{one.owner}.{one.pin} resistor"] = resistor_sleeve(one.rated_w)
    for wire in _spooled(built):
        for number in range(made_of(built, wire).joints):
            found[f"wire {wire.number} joint {number + 1}"] = (sleeve_for([wire.outer_mm] * 2), 25.0)
    families = {one.need: one.part for one in built.placements}
    at: dict[tuple[str, str], list[float]] = defaultdict(list)
    for wire in _spooled(built):
        for end in (wire.start, wire.end):
            part = families.get(end.owner)
            if end.kind != "pin" or part is None:
                continue
            leaded = part.family in _LEADED or part.figure(Fuse) is not None
            if leaded and part.pin(end.pin).joint == "solder":
                at[end.owner, end.pin].append(wire.outer_mm)
    for (owner, pin), outers in at.items():
        if f"{owner}.{pin} resistor" not in found:
            found[f"{owner}.{pin}"] = (sleeve_for(outers), _PIN_SLEEVE_MM)
    return found


def _outers(splice: Splice, wires: dict[int, Wire]) -> list[float]:
    return [wires[number].outer_mm for number in splice.wires if number in wires]


def _marks(built: BuiltTrain) -> Iterator[Article]:
    wires = built.harness.wires
    marked = [f"wire {wire.number}" for wire in wires if wire.sleeved]
    if marked:
        note = "one at each end, as colours do not tell these wires apart"
        yield _article("wire and crimping", "sleeve with a number", 2 * len(marked), 0, marked, note=note)


def _by_lead(built: BuiltTrain, needs: Iterable[str]) -> bool:
    """Return whether one of these is joined by a lead as it is bought."""
    owners = set(needs)
    return any(
        wire.lead is not None and {wire.start.owner, wire.end.owner} & owners for wire in built.harness.wires
    )


def _leads(built: BuiltTrain) -> Iterator[Article]:
    """Yield the leads that are bought ready-made; a return in a lead's jacket comes with it."""
    grouped: dict[tuple[str, float], list[Wire]] = defaultdict(list)
    for wire in built.harness.wires:
        if wire.lead is not None and not wire.lead.own:
            grouped[wire.lead.part_id, wire.lead.length_mm].append(wire)
    for (name, length), wires in sorted(grouped.items()):
        part = built.train.catalogue[name]
        count = sum(not wire.inside for wire in wires)
        cut = any(wire.lead is not None and wire.lead.shortened for wire in wires)
        note = "cut and joined again" if cut else "as it is"
        serves = [f"wire {wire.number}" for wire in wires]
        what = f"{part.name}, {length:g} mm"
        yield _article("wire and crimping", what, count, 0, serves, "", name, note, part.price)


def _spooled(built: BuiltTrain) -> list[Wire]:
    """Return the wires that are cut from the spool."""
    return [wire for wire in built.harness.wires if wire.lead is None]


def _wire(built: BuiltTrain) -> Iterator[Article]:
    groups: dict[tuple[int, str], list[Wire]] = defaultdict(list)
    for wire in _spooled(built):
        groups[wire.awg, wire.colour].append(wire)
    for (awg, colour), wires in sorted(groups.items()):
        cut = sum(made_of(built, wire).spool_mm for wire in wires) / 1000
        if not cut:
            continue
        numbers = [f"wire {wire.number}" for wire in wires]
        name = f"stranded wire, AWG {awg}, {colour}"
        article = _article("wire and crimping", name, cut, WASTE_SHARE * cut, numbers, note="with waste")
        yield replace(article, unit="m", each=_price_of_wire(built, awg))


def _price_of_wire(built: BuiltTrain, awg: int) -> float:
    """Return the price of a metre of wire of a gauge; 0 where the catalogue has none."""
    stock = (part for part in built.train.catalogue.values() if part.price)
    return next(
        (one.price for one in stock if (wire := one.figure(Conductor)) is not None and wire.awg == awg), 0.0
    )


def _bricks(built: BuiltTrain) -> Iterator[Article]:
    grouped: dict[tuple[Shop, str], dict[str, int]] = defaultdict(dict)
    where: dict[str, dict[str, None]] = defaultdict(dict)

    def add(name: str, owner: str, vehicle: str) -> None:
        soft = name.startswith(("a pad", "a block"))
        needs = grouped["tools and tape" if soft else "bricks", name]
        needs[owner] = needs.get(owner, 0) + 1
        where[name][vehicle] = None

    for placement in built.placements:
        for piece in placement.shelf.parts if placement.shelf is not None else ():
            add(piece.words, placement.need, placement.vehicle)
    for fastening in built.fastenings:
        for piece in fastening.bricks:
            add(piece.words, fastening.need, fastening.vehicle)
    for entry in built.train.vehicles:
        for hole in entry.vehicle.holes:
            for _ in range(hole.bricks if hole.kind == "brick with a hole" else 0):
                add("a brick of 1 × 1 studs with a hole", hole.name, entry.name)
    for entry in built.train.vehicles:
        if entry.name == ADDED_WAGON:
            wagon = entry.vehicle
            name = f"a wagon to build: {wagon.name}, {wagon.size_words}"
            serves = [one.need for one in built.placements if one.vehicle == entry.name]
            yield _article("bricks", name, 1, 0, serves, entry.name, note="its wheels and couplings, too")
    for (shop, name), needs in grouped.items():
        yield _article(shop, name, sum(needs.values()), 0, list(needs), ", ".join(where[name]))
    taped = [one for one in built.fastenings if one.tape_mm]
    if taped:
        length = sum(one.tape_mm for one in taped)
        name = f"double-sided tape, {TAPE_WIDTH:g} mm wide"
        article = _article("tools and tape", name, length, 0, [one.need for one in taped])
        yield replace(article, unit="mm", where=", ".join(dict.fromkeys(one.vehicle for one in taped)))


def _workshop(built: BuiltTrain) -> Iterator[Article]:
    joints = len(built.harness.splices)
    joints += sum(
        end.kind == "pin"
        and next((p.joint for p in built.pins_of(end.owner) if p.name == end.pin), "solder") == "solder"
        for wire in _spooled(built)
        for end in (wire.start, wire.end)
    )
    if joints:
        metres = round(joints * _SOLDER_MM / 1000, 2)
        article = _article("tools and tape", "solder wire with flux, 0.7 mm", metres, 0, [f"{joints} joints"])
        yield replace(article, unit="m")


def _asked_for(outcomes: Iterable[Outcome]) -> Iterator[Article]:
    for outcome in outcomes:
        for found in outcome.findings:
            for asked in found.add:
                note = f"{found.severity} of {found.subject}: {found.remedy}"
                article = _article(
                    "findings ask for", asked.name, asked.quantity, 0, [found.where], note=note
                )
                yield replace(article, unit=asked.unit)


def _coming_out(built: BuiltTrain) -> Iterator[Article]:
    for rebuild in built.rebuilds:
        for name in rebuild.remove:
            yield _article("comes out", name, 1, 0, [rebuild.vehicle], rebuild.vehicle, note="kept")


def _ends(built: BuiltTrain, kind: str, owner: str, *, spooled: bool = False) -> list[WireEnd]:
    """Return the ends of wires at something; ``spooled``: not those of leads as they are bought."""
    return [
        end
        for wire in built.harness.wires
        if not (spooled and wire.lead is not None and not wire.lead.shortened)
        for end in (wire.start, wire.end)
        if (end.kind, end.owner) == (kind, owner)
    ]


def _article(
    shop: Shop,
    name: str,
    needed: float,
    spare: float,
    serves: Iterable[str],
    where: str = "",
    part: str = "",
    note: str = "",
    each: float = 0.0,
) -> Article:
    unit: Unit = "pcs"
    return Article(shop, name, float(needed), float(spare), unit, tuple(serves), where, part, note, each)
