"""The lists: what they say equals the plan, and no text in them is ever taken for a formula."""

from __future__ import annotations

import csv
import io
import zipfile
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from fitplan.model.electrical import CellPack
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import Access
from fitplan.model.placed import Fastening
from fitplan.model.plan import Plan
from fitplan.model.ways_in import Exchanged, SubassemblyPart, WayOut
from fitplan.report.lists.cautions import cautions_of
from fitplan.report.lists.every_list import all_lists
from fitplan.report.lists.harness_lists import (
    WASTE_SHARE,
    connector_list,
    cut_list,
    harness_list,
    join_list,
    total_list,
)
from fitplan.report.lists.parts_list import parts_list
from fitplan.report.lists.plan_list import PlanList, csv_bytes
from fitplan.report.lists.result_lists import (
    added_list,
    assembly_list,
    exchange_list,
    finding_list,
    option_list,
)
from fitplan.report.lists.spreadsheet import spreadsheet_bytes
from fitplan.report.lists.wording import clean, end_work, joint_at, shorten

from .sample import HOSTILE, sample_plan


@pytest.fixture(scope="module")
def plan() -> Plan:
    return sample_plan()


def read(sheet: PlanList) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(csv_bytes(sheet).decode("utf-8"), newline="")))


def test_harness_rows_equal_the_wires(plan: Plan) -> None:
    """Every wire has its row, with net, colour, gauge and cut length as planned."""
    rows = read(harness_list(plan))
    assert [int(row["wire"]) for row in rows] == [wire.number for wire in plan.built.harness.wires]
    for row, wire in zip(rows, plan.built.harness.wires, strict=True):
        assert (row["net"], row["colour (IEC 60757)"]) == (wire.net, wire.colour)
        assert int(row["gauge (AWG)"]) == wire.awg
        assert float(row["cut length (mm)"]) == wire.cut_mm
        assert float(row["bare way (mm)"]) == pytest.approx(wire.bare_mm, abs=0.051)
        assert all(leg.vehicle in row["way"] for leg in wire.legs)


def test_cut_list_holds_every_wire_once(plan: Plan) -> None:
    """The pieces of the cut list are the wires, each in one group of its own length, gauge and colour."""
    by_number = {wire.number: wire for wire in plan.built.harness.wires}
    seen: list[int] = []
    for row in read(cut_list(plan)):
        numbers = [int(word) for word in row["wires"].split()]
        assert len(numbers) == int(row["quantity"])
        for entry in numbers:
            assert by_number[entry].cut_mm == float(row["cut length (mm)"])
            assert by_number[entry].colour == row["colour"]
        seen += numbers
    assert sorted(seen) == sorted(by_number)


def test_totals_add_up(plan: Plan) -> None:
    """The totals are the sum of all cut lengths, and what is bought is more by the waste share."""
    rows = read(total_list(plan))
    cut = sum(float(row["cut (mm)"]) for row in rows)
    assert cut == pytest.approx(sum(wire.cut_mm for wire in plan.built.harness.wires))
    for row in rows:
        wanted = float(row["cut (mm)"]) * (1 + WASTE_SHARE)
        assert float(row["from the spool (mm)"]) == pytest.approx(wanted, abs=0.051)
    assert sum(int(row["pieces"]) for row in rows) == len(plan.built.harness.wires)


def test_joins_name_the_far_ends(plan: Plan) -> None:
    """Each wire of a splice is listed with the end that is not in that splice, each splice once."""
    rows = read(join_list(plan))
    harness = plan.built.harness
    names = {splice.name for splice in harness.splices}
    assert sum(row["joint"] in names for row in rows) == sum(len(splice.wires) for splice in harness.splices)
    assert all(row["goes to"] != f"splice {row['joint']}" for row in rows)


def test_joins_list_pins_with_several_wires(plan: Plan) -> None:
    """A pin at which two wires are soldered together is a joint of the list; one with one wire is not."""
    first = plan.built.harness.wires[0]
    more = replace(plan.built.harness, wires=(*plan.built.harness.wires, replace(first, number=900)))
    rows = read(join_list(replace(plan, built=replace(plan.built, harness=more))))
    pin = f"{first.start.owner}.{first.start.pin}"
    assert first.start.kind == "pin"
    assert [int(row["wire"]) for row in rows if row["joint"] == pin] == [first.number, 900]


def test_connectors_are_listed_cavity_by_cavity(plan: Plan) -> None:
    """At each coupling every cavity has one wire on either side, of one net, and no wire is left out."""
    rows = read(connector_list(plan))
    by_number = {wire.number: wire for wire in plan.built.harness.wires}
    for crossing in plan.built.harness.crossings:
        mine = [row for row in rows if row["coupling"] == crossing.name]
        assert [int(row["cavity"]) for row in mine] == list(range(1, crossing.conductors + 1))
        assert [f"{row['cavity']} {row['net']}" for row in mine] == list(crossing.pin_order)
        assert sorted(int(row["wire ahead"].split()[0]) for row in mine) == sorted(crossing.wires)
        for row in mine:
            behind = by_number[int(row["wire behind"].split()[0])]
            assert behind.net == row["net"]
            assert crossing.behind in {leg.vehicle for leg in behind.legs}


def test_tape_stands_in_the_parts_list_once(plan: Plan) -> None:
    """Whatever it lies under: one row with the whole length, and how much of it goes where."""
    one, other = plan.built.placements[:2]
    strips = tuple(
        Fastening(part.need, part.vehicle, (), (), length) for part, length in ((one, 15.0), (other, 25.0))
    )
    taped = replace(plan, built=replace(plan.built, fastenings=strips))
    (row,) = [entry for entry in parts_list(taped).rows if "tape, " in str(entry[2])]
    assert row[:2] == (40.0, "mm")
    assert row[-1] == f"15 mm under {one.need}, 25 mm under {other.need}"


def test_parts_list_counts_every_placement(plan: Plan) -> None:
    """Pieces from the catalogue in the parts list are as many as parts with a place; wire is in metres."""
    rows = read(parts_list(plan))
    placed = {placement.part.id for placement in plan.built.placements}
    assert sum(int(row["quantity"]) for row in rows if row["id"] in placed) == len(plan.built.placements)
    metres = sum(float(row["quantity"]) for row in rows if row["unit"] == "m")
    cut = sum(wire.cut_mm for wire in plan.built.harness.wires) / 1000
    assert metres == pytest.approx(cut * (1 + WASTE_SHARE), abs=0.06)


def test_findings_and_options_come_in_order(plan: Plan) -> None:
    """Stops stand before cautions before notes; the option that is followed stands first."""
    assert [row["weight"] for row in read(finding_list(plan))] == ["stop", "caution", "note"]
    options = read(option_list(plan))
    assert [row["state"] for row in options] == ["followed", "not taken"]
    assert options[1]["why"] == (
        "worse in conductors across by 4, wire by 640 mm;"
        " better in bricks removed by 2, mass off balance by 5 g;"
        " weighs 237.5 more by the train's weights"
    )


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_names_are_text_in_csv(name: str) -> None:
    """A CSV cell never starts like a formula, and the name is still there to read."""
    plan = sample_plan(name)
    # a name that itself starts with the hostile text is the worst case
    sheet = PlanList("x", "x", ("name", "n"), ((name, -1.5), (f" {name}", 2)))
    for made in (sheet, *all_lists(plan)):
        for row in csv.reader(io.StringIO(csv_bytes(made).decode("utf-8"), newline="")):
            for cell in row:
                is_number = cell.lstrip("-").replace(".", "", 1).isdigit()
                assert is_number or not cell.lstrip().startswith(("=", "+", "-", "@"))
    assert clean(name) in csv_bytes(sheet).decode("utf-8").replace('""', '"')


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_names_are_text_in_the_workbook(name: str) -> None:
    """No cell of the workbook is a formula, and each hostile name is kept as it reads."""
    sheet = PlanList("x", "x", ("name", "n"), ((name, 1.0),))
    book = load_workbook(io.BytesIO(spreadsheet_bytes((sheet, parts_list(sample_plan(name))))))
    for page in book.worksheets:
        for row in page.iter_rows():
            assert all(cell.data_type in "sn" for cell in row)
    assert book.worksheets[0]["A2"].value == clean(name)


def test_workbook_has_a_sheet_for_each_list_with_its_rows(plan: Plan) -> None:
    """Reading the workbook back gives every list with all rows; none is empty, all have filters."""
    sheets = [sheet for sheet in all_lists(plan) if sheet.rows]
    book = load_workbook(io.BytesIO(spreadsheet_bytes(all_lists(plan))))
    assert book.sheetnames == [sheet.title for sheet in sheets]
    for sheet in sheets:
        page = book[sheet.title]
        assert page.freeze_panes == "A2"
        assert page.auto_filter.ref == page.dimensions
        assert page.sheet_properties.pageSetUpPr.fitToPage
        found = [tuple("" if c is None else c for c in row) for row in page.iter_rows(values_only=True)]
        assert found[0] == sheet.columns
        assert found[1:] == list(sheet.rows)


def test_workbook_bytes_are_the_same_twice(plan: Plan) -> None:
    """The workbook holds no clock: same lists, same bytes; every entry bears the fixed time."""
    first, second = (spreadsheet_bytes(all_lists(plan)) for _ in range(2))
    assert first == second
    with zipfile.ZipFile(io.BytesIO(first)) as archive:
        assert {entry.date_time[0] for entry in archive.infolist()} == {2000}
        assert b"2000-01-01T00:00:00Z</dcterms:modified>" in archive.read("docProps/core.xml")


def test_what_is_added_is_listed_with_its_place(plan: Plan) -> None:
    """A plate under a part is listed with its size in studs, where it stands and on how many studs."""
    (row,) = added_list(plan).rows
    said = dict(zip(added_list(plan).columns, row, strict=True))
    assert (said["what"], said["piece"], said["size (mm)"]) == (
        "plates under it",
        "plate 3 × 6",
        "48 × 24 × 3.2",
    )
    assert (said["studs from the rear"], said["studs from the right"], said["underside (mm)"]) == (
        "14",
        "1",
        28.0,
    )
    assert (said["on studs"], said["pieces"]) == (18, 1)
    assert any(entry[2] == "plate 3 × 6" for entry in parts_list(plan).rows)


def test_steps_of_several_parts_say_how_they_are_put_together(plan: Plan) -> None:
    """A step of two parts names both, the moves that join them outside, and the way in as one."""
    step = plan.assembly[0]
    other = SubassemblyPart(plan.assembly[1].need, (("-x", 12.0),))
    grouped = replace(plan, assembly=(replace(step, together=(other,)), *plan.assembly[2:]))
    row = assembly_list(grouped).rows[0]
    assert row[1] == f"{step.need} with {other.need}"
    assert str(row[4]).startswith(
        f"put together outside: to {step.need} comes {other.need} towards the rear 12 mm"
    )
    assert str(row[4]).endswith(f"then as one: {assembly_list(plan).rows[0][4]}")


def test_what_comes_out_is_listed_in_order(plan: Plan) -> None:
    """Bricks first, then parts with their ways, then the way of the part itself."""
    cells, other = (placement.need for placement in plan.built.placements[:2])
    up = (("+z", 40.0),)
    entry = Exchanged(
        cells, plan.built.placements[0].vehicle, "cells", True, True, True, ("grille",),
        (WayOut((other,), "roof", up),), WayOut((cells,), "roof", up),
    )  # fmt: skip
    made = replace(plan, built=replace(plan.built, exchanged=(entry,)))
    (row,) = exchange_list(made).rows
    assert row[5] == "roof"
    assert row[6] == f"brick grille, then {other} (up 40 mm)"
    assert row[7] == f"{cells}: up 40 mm"


def test_what_is_done_to_an_end_is_what_its_pin_asks(plan: Plan) -> None:
    """A wire at a pin with a socket is crimped, at a lever clamped, and soldered at a pad."""
    wire = plan.built.harness.wires[0]
    assert wire.start.kind == "pin"
    words = {}
    for joint in ("solder", "lever", "header"):
        placements = tuple(
            replace(
                place,
                part=replace(place.part, pins=tuple(replace(pin, joint=joint) for pin in place.part.pins)),
            )
            for place in plan.built.placements
        )
        words[joint] = end_work(wire.start, joint_at(replace(plan.built, placements=placements), wire.start))
    assert words["solder"].endswith("solder to pin")
    assert words["lever"].endswith("clamp under the lever")
    assert words["header"].endswith("crimp a socket")


def test_cells_are_bought_beside_their_holder() -> None:
    """A holder of four has a row of four cells, all of one kind."""
    plan = sample_plan()
    rows = [row for row in parts_list(plan).rows if "cell," in str(row[2])]
    packs = [pack for place in plan.built.placements if (pack := place.part.figure(CellPack)) is not None]
    assert [row[0] for row in rows] == [pack.cells for pack in packs]
    assert packs


def test_a_controller_fed_at_its_rail_is_not_plugged_in_meanwhile() -> None:
    """With something else at its 5 V rail and a socket of its own the caution stands; else it does not."""
    plan = sample_plan()
    brain = next(place for place in plan.built.placements if place.part.family == "controller")
    rail = next(pin for pin in brain.part.pins if pin.role == "5v")
    pins = [(place.need, pin) for place in plan.built.placements for pin in place.part.pins]
    source = next((need, pin.name) for need, pin in pins if pin.role == "plus")
    socket = Access("USB socket", "console", "+x", often=False)
    part = replace(brain.part, access=(socket,))
    places = tuple(replace(one, part=part) if one is brain else one for one in plan.built.placements)
    fed = Net("fed", "supply", (PinRef(brain.need, rail.name), PinRef(*source)))
    for nets, told in (((), False), ((fed,), True)):
        train = replace(plan.built.train, nets=nets)
        made = replace(plan, built=replace(plan.built, train=train, placements=places))
        assert any(text.startswith("Two supplies") for text in cautions_of(made)) == told


@given(st.text(max_size=120), st.integers(2, 100))
def test_shortened_texts_fit_and_keep_both_ends(text: str, most: int) -> None:
    """No longer than asked; what is left is the text's beginning and end."""
    whole, short = clean(text), shorten(text, most)
    assert len(short) <= most
    if short == whole:
        return
    cuts = [place for place, character in enumerate(short) if character == "…"]
    assert any(whole.startswith(short[:cut]) and whole.endswith(short[cut + 1 :]) for cut in cuts)


def test_shortened_texts_end_with_whole_words() -> None:
    text = "Add for front eyes in the shunter a bracket and two plates"
    assert shorten(text, 40) == "Add for front eyes in the … two plates"


def test_whole_clauses_are_left_out_first() -> None:
    """What is missing and what would be enough stay; the clause between them goes."""
    text = (
        "20.8 mm of height are missing: the part takes 63.4 × 16.0 × 57.5 mm, railcar has 63.4 × 16.0 × "
        "36.7 mm clear for it; 63.4 × 16.0 × 63.5 mm would be enough"
    )
    assert shorten(text, 90) == "20.8 mm of height are missing: … 63.4 × 16.0 × 63.5 mm would be enough"
    assert "…" in shorten(text, 40)


def test_a_long_verdict_keeps_whole_sentences() -> None:
    """Sentences in the middle go first, then the last; what follows a colon stays with what is before it."""
    text = "All has a place: the board lies in the loco. Take out: one brick. And: one plate more. Done."
    assert shorten(text, 72) == "All has a place: the board lies in the loco. … Done."
    told = "Not decided: there is no place for the eye. In the wagon: no room is found; " + "measure it, " * 9
    short = "Not decided: there is no place for the eye. In the wagon: no room is found; …"
    assert shorten(told, 92) == short
