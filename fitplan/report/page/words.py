"""What the page says of everything that can be chosen: a name, a line of detail, and where to go from there.

A key is ``part-0``, ``wire-12``, ``splice-1``, ``net-ground``, ``ghost-0``, ``vehicle-1``, or a place or
several keys that a finding speaks of (`findings`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

from fitplan.model.plan import Plan
from fitplan.model.solids import EDGE_WORDS
from fitplan.model.wired import Wire, WireEnd
from fitplan.report.drawings.ghosts import ghosts_of
from fitplan.report.drawings.scene import FAMILY_COLOURS, OTHER_FAMILY
from fitplan.report.lists.connector_cavities import cavities
from fitplan.report.lists.result_lists import place_key
from fitplan.report.lists.wording import (
    clean,
    colour_hex,
    colour_word,
    edges_word,
    end_word,
    millimetres,
    number,
    way_word,
)

Words: TypeAlias = dict[str, dict[str, Any]]
"""By key: ``name``, ``detail``; where there are any: ``net``, ``keys`` (shown with it), ``links``, ``at``,
and the numbers of the printed ``sheets``."""
_MOST_LINKS = 24


def page_words(plan: Plan, sheets: Mapping[str, tuple[int, ...]] | None = None) -> Words:
    """Return the words for each part, wire, splice, net, vehicle and part without a place.

    Parameters
    ----------
    sheets
        For each key the numbers of the printed sheets that it is drawn on.
    """
    words: Words = {**_parts(plan), **_wires(plan), **_splices(plan), **_ghosts(plan)}
    for place, entry in enumerate(plan.built.train.vehicles):
        size = f"{entry.vehicle.studs_long} × {entry.vehicle.studs_wide} studs"
        words[f"vehicle-{place}"] = {"name": clean(entry.name), "detail": size}
    for key, pages in (sheets or {}).items():
        if key in words:
            words[key]["sheets"] = list(pages)
    return words


def part_cards(plan: Plan) -> list[dict[str, str]]:
    """Return what the list beside the picture says of each part."""
    return [
        {
            "key": f"part-{place}",
            "number": str(place + 1),
            "name": clean(placement.need),
            "what": clean(placement.part.name),
            "where": clean(placement.vehicle),
            "colour": FAMILY_COLOURS.get(placement.part.family, OTHER_FAMILY),
        }
        for place, placement in enumerate(plan.built.placements)
    ]


def wire_cards(plan: Plan) -> list[dict[str, str]]:
    """Return what the list beside the picture says of each wire."""
    return [
        {
            "key": f"wire-{wire.number}",
            "number": str(wire.number),
            "name": clean(wire.net),
            "code": clean(wire.colour),
            "colour": colour_hex(wire.colour),
            "ends": f"{clean(end_word(wire.start))} to {clean(end_word(wire.end))}",
        }
        for wire in plan.built.harness.wires
    ]


def lines(plan: Plan) -> dict[int, tuple[int, ...]]:
    """Return for each wire the wires that it is one line with, through the cavities of all couplings."""
    root = {wire.number: wire.number for wire in plan.built.harness.wires}

    def first(wire: int) -> int:
        while root[wire] != wire:
            wire = root[wire]
        return wire

    for crossing in plan.built.harness.crossings:
        for one, two in cavities(plan, crossing.name, crossing.ahead).values():
            if one is not None and two is not None:
                root[first(two.number)] = first(one.number)
    joined: dict[int, list[int]] = {}
    for wire in root:
        joined.setdefault(first(wire), []).append(wire)
    return {wire: tuple(joined[first(wire)]) for wire in root}


def _parts(plan: Plan) -> Words:
    words: Words = {}
    for place, placement in enumerate(plan.built.placements):
        size = edges_word(placement.part.bounds.size)
        detail = f"{clean(placement.part.name)}, {size} mm, in {clean(placement.vehicle)}"
        detail += (
            f", carried by {clean(placement.carried_by)}; to keep it there: {clean(place_key(placement))}"
        )
        links = [
            _wire_link(wire, clean(end.pin))
            for wire in plan.built.harness.wires
            for end in (wire.start, wire.end)
            if end.kind == "pin" and end.owner == placement.need
        ]
        words[f"part-{place}"] = {
            "name": f"{place + 1} {clean(placement.need)}",
            "detail": detail,
            "links": links[:_MOST_LINKS],
        }
    return words


def _wires(plan: Plan) -> Words:
    words: Words = {}
    through = lines(plan)
    nets: dict[str, list[Wire]] = {}
    for wire in plan.built.harness.wires:
        nets.setdefault(wire.net, []).append(wire)
        ends = f"{clean(end_word(wire.start))} to {clean(end_word(wire.end))}"
        detail = f"{ends}, {colour_word(wire.colour)}, AWG {wire.awg}, cut {millimetres(wire.cut_mm)}"
        line = through[wire.number]
        if len(line) > 1:
            others = [str(one) for one in line if one != wire.number]
            detail += f"; one line with {'wire' if len(others) == 1 else 'wires'} {', '.join(others)}"
        words[f"wire-{wire.number}"] = {
            "name": f"wire {wire.number} {clean(wire.colour)}, {clean(wire.net)}",
            "detail": f"{detail}; {clean(way_word(wire))}",
            "net": f"net-{wire.net}",
            "keys": [f"wire-{one}" for one in line],
            "links": [link for end in (wire.start, wire.end) for link in _end_links(plan, wire, end)],
        }
    for net, wires in nets.items():
        listed = ", ".join(str(wire.number) for wire in wires)
        words[f"net-{net}"] = {
            "name": f"net {clean(net)}",
            "detail": f"wires {listed}",
            "keys": [f"wire-{wire.number}" for wire in wires],
            "links": [_wire_link(wire) for wire in wires][:_MOST_LINKS],
        }
    return words


def _splices(plan: Plan) -> Words:
    words: Words = {}
    wires = {wire.number: wire for wire in plan.built.harness.wires}
    for place, splice in enumerate(plan.built.harness.splices):
        joined = ", ".join(str(entry) for entry in splice.wires)
        words[f"splice-{place}"] = {
            "name": f"splice {clean(splice.name)}",
            "detail": f"{clean(splice.net)} in {clean(splice.vehicle)}, wires {joined}",
            "links": [_wire_link(wires[entry]) for entry in splice.wires if entry in wires],
        }
    return words


def _ghosts(plan: Plan) -> Words:
    words: Words = {}
    for place, ghost in enumerate(ghosts_of(plan)):
        lacks = [
            f"{number(lack, 1)} mm of {axis}"
            for lack, axis in zip(ghost.short, EDGE_WORDS, strict=True)
            if lack
        ]
        detail = f"{clean(ghost.part.name)} in {clean(ghost.vehicle)}: {' and '.join(lacks)} short"
        words[f"ghost-{place}"] = {"name": f"{clean(ghost.need)}: no place", "detail": detail}
    return words


def _wire_link(wire: Wire, at: str = "") -> list[str]:
    said = f"{wire.number} {clean(wire.colour)} {clean(wire.net)}"
    return [f"wire-{wire.number}", f"{at}: {said}" if at else said]


def _end_links(plan: Plan, wire: Wire, end: WireEnd) -> list[list[str]]:
    """Return what a wire's end leads to: its part, its splice, or the wire in the same cavity."""
    if end.kind == "pin":
        for place, placement in enumerate(plan.built.placements):
            if placement.need == end.owner:
                return [[f"part-{place}", clean(end_word(end))]]
        return []
    if end.kind == "splice":
        names = [splice.name for splice in plan.built.harness.splices]
        return [[f"splice-{names.index(end.owner)}", clean(end_word(end))]] if end.owner in names else []
    for other in plan.built.harness.wires:
        for its in (other.start, other.end):
            if (its.kind, its.owner, its.pin) == (end.kind, end.owner, end.pin) and other is not wire:
                return [[f"wire-{other.number}", f"{clean(end_word(end))}, on as wire {other.number}"]]
    return []
