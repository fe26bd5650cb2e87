"""The catalogue as a whole: what is in it, and that every entry hangs together."""

from __future__ import annotations

import re
from collections import Counter

import pytest
import yaml

from fitplan.files.catalogue import catalogue_folder, read_catalogue
from fitplan.files.families import FAMILIES
from fitplan.model.electrical import Bank, CellPack, Charger, Connector, Load, Regulator
from fitplan.model.part import Part
from fitplan.model.solids import Vec, axis_of, unit_vector
from tests.catalog.shape import distance, inside, overlap

CATALOGUE = read_catalogue([catalogue_folder()])
PARTS = list(CATALOGUE.values())
BY_ID = pytest.mark.parametrize("part", PARTS, ids=lambda part: part.id)

ASKED = {
    "controller": 6, "cells": 11, "pouch": 3, "bank": 2, "regulator": 4, "charger": 1, "ranger": 1,
    "sensor": 4, "emitter": 2, "lamp": 3, "sounder": 1, "driver": 1, "switch": 1,
    "connector": 8, "wire": 7, "lead": 9, "junction": 1, "servo": 2, "camera": 2,
    "display": 2, "coil": 2,
}  # fmt: skip
"""How many parts of a family a maker can expect at least."""


def test_there_are_at_least_48_parts_in_all_families() -> None:
    """Every family has the parts that a maker can expect, and there are no others."""
    count = Counter(part.family for part in PARTS)
    assert len(PARTS) >= 48
    assert set(count) == set(FAMILIES) == set(ASKED)
    assert {name: n for name, n in ASKED.items() if count[name] < n} == {}


def test_ids_are_unique_over_all_files() -> None:
    """No id stands twice, in one file or in two."""
    ids: list[str] = []
    for path in sorted(catalogue_folder().glob("*.yaml")):
        document = yaml.safe_load(path.read_text(encoding="utf-8"))
        ids += [str(entry["id"]) for entry in document["parts"]]
        ids += [f"{entry['id']}-pins" for entry in document["parts"] if "pin rows" in entry]
        ids += [f"{entry['id']}-leads" for entry in document["parts"] if "wired" in entry]
    assert [name for name, n in Counter(ids).items() if n > 1] == []
    assert set(ids) == set(CATALOGUE)


def test_all_kinds_of_cell_pack_and_regulator_are_there() -> None:
    """One to four AA and AAA, one and two 18650, a 9 V block; every kind of regulator."""
    packs = [pack for part in PARTS if (pack := part.figure(CellPack)) is not None]
    have = {(pack.cell_size, pack.cells) for pack in packs}
    assert {(size, n) for size in ("LR6", "LR03") for n in (1, 2, 3, 4)} <= have
    assert {("19/66", 1), ("19/66", 2), ("6LR61", 1)} <= have
    assert {pack.chemistry for pack in packs} == {"alkaline", "nimh", "li-ion"}
    regulators = [part.figure(Regulator) for part in PARTS if part.family == "regulator"]
    kinds = {regulator.kind for regulator in regulators if regulator is not None}
    assert kinds == {"linear", "step-up", "step-down", "step-up-down"}


def test_connectors_come_in_two_three_four_and_six_ways() -> None:
    """Keyed pairs and pin headers both."""
    have = {(c.keyed, c.cavities) for part in PARTS if (c := part.figure(Connector)) is not None}
    assert have == {(keyed, ways) for keyed in (True, False) for ways in (2, 3, 4, 6)}


@BY_ID
def test_parts_are_described_by_what_they_are(part: Part) -> None:
    """A name is a description, not a type number: no capitals or letters run into three figures and more."""
    allowed = {"TO-220"}  # a package of a published standard
    odd = [word for word in re.findall(r"\b[A-Za-z]{1,5}-?\d{3,}\w*\b", part.name) if word not in allowed]
    assert odd == []
    assert len(part.name.split()) >= 2
    if part.family not in ("pouch", "cells"):
        assert not re.search(r"\d{3,}", part.id)


@BY_ID
def test_outlines_from_hearsay_say_so(part: Part) -> None:
    """Where an outline is typical, the source tells the user to measure or to cut."""
    if part.typical:
        assert re.search(r"measure yours|cut it as you need", part.source), part.source
    assert part.source


@BY_ID
def test_pins_are_on_the_part(part: Part) -> None:
    """Every pin lies on one of the part's solids, or stands out no more than 2 mm."""
    far = {pin.name: d for pin in part.pins if (d := min(distance(pin.at, s) for s in part.envelope)) > 2.0}
    assert far == {}


@BY_ID
def test_wires_can_leave_every_pin(part: Part) -> None:
    """From each pin a straight 4 mm along its exit meets nothing of the part itself."""
    blocked = []
    for pin in part.pins:
        step = unit_vector(pin.exit)
        for k in range(2, 41):
            at: Vec = (
                pin.at[0] + step[0] * k / 10,
                pin.at[1] + step[1] * k / 10,
                pin.at[2] + step[2] * k / 10,
            )
            if any(inside(at, solid) for solid in part.envelope):
                blocked.append(pin.name)
                break
    assert blocked == []


@BY_ID
def test_room_is_kept_before_pins_that_leave_sideways_and_over_sockets(part: Part) -> None:
    """A wire soldered on an edge needs some millimetres to turn off, and a plugged lead its housing."""
    rooms = [one.solid.bounds for one in part.clearances if one.kind in ("lead", "plug", "finger")]
    for pin in part.pins:
        axis = axis_of(pin.exit)
        socket = pin.joint == "header" and pin.exit == "+z"
        if axis == 2 and not socket:
            continue
        ahead = unit_vector(pin.exit)
        point = [pin.at[i] + 2.2 * ahead[i] for i in range(3)]
        assert any(
            all(room.low[i] - 0.6 <= point[i] <= room.high[i] + 0.6 for i in range(3))
            and room.size[axis] >= (7.9 if socket else 1.9)
            for room in rooms
        ), pin.name


@BY_ID
def test_clearances_are_outside_the_envelope(part: Part) -> None:
    """Room for plugs, lenses and air is not filled by the part itself; leads may start at their pins."""
    for clearance in part.clearances:
        if clearance.kind == "lead":
            continue
        for solid in part.envelope:
            assert overlap(clearance.solid.bounds, solid.bounds) < 1e-6, clearance.name


@BY_ID
def test_pins_of_one_part_are_apart(part: Part) -> None:
    """No two pins share a place."""
    places = [pin.at for pin in part.pins]
    assert len(set(places)) == len(places)


@BY_ID
def test_cautions_stand_where_something_can_hurt(part: Part) -> None:
    """Lithium cells, mains chargers, primary cells: the caution goes with the part."""
    pack, bank, charger = part.figure(CellPack), part.figure(Bank), part.figure(Charger)
    if (pack is not None and pack.chemistry == "li-ion") or bank is not None or charger is not None:
        assert "lithium" in part.cautions
    if pack is not None and pack.chemistry == "alkaline":
        assert "primary-cells" in part.cautions
    if bank is not None or charger is not None:
        assert "mains-charger" in part.cautions


@BY_ID
def test_what_is_fed_has_a_supply_and_a_ground(part: Part) -> None:
    """A load can be wired: a ground, and a pin that is fed or driven."""
    if part.figure(Load) is None:
        return
    roles = {pin.role for pin in part.pins}
    assert "ground" in roles
    assert roles & {"supply", "signal"}


def test_boards_can_be_exchanged() -> None:
    """Controllers name their ground, raw input and rails alike, so that one net list serves all of them."""
    for part in PARTS:
        if part.family == "controller":
            roles = {pin.name: pin.role for pin in part.pins}
            assert roles["GND"] == "ground"
            assert roles["VIN"] == "raw"
            assert roles.get("5V", "5v") == "5v"
            assert roles.get("3V3", "3v3") == "3v3"
            assert "5V" in roles or "3V3" in roles


def test_sources_of_power_have_a_plus_and_a_minus() -> None:
    """Every holder, pouch and bank has one plus and one minus, and the minus is ground."""
    for part in PARTS:
        if part.family in ("cells", "pouch", "bank"):
            assert {pin.name: pin.role for pin in part.pins} == {"plus": "plus", "minus": "ground"}
