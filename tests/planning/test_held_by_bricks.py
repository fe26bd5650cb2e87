"""A train in which a strap, a plate over two stacks and a plate from the roof hold parts, from end to end."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from fitplan.files.catalogue import read_catalogue
from fitplan.files.load_room import open_for_loads
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Access, Clearance, Part
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Direction, Vec
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid, Opening, Vehicle
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.report.drawings.drawing import Group, Rect
from fitplan.report.drawings.train_drawing import side_drawing, top_drawing
from fitplan.report.lists.build_sequence import build_sequence
from fitplan.report.lists.parts_list import parts_list
from fitplan.surface import verify_plan
from fitplan.workbench.buying import buying_list
from tests.packing.small_trains import block, hollow, train_of

FLOOR = 19.2
AT = (24, 17, FLOOR + 8.0)
"""Where the bank lies on its deck."""


def fixed(name: str, part: Part, vehicle: str, at: Vec) -> Need:
    return Need(name, (part,), pinned=FixedPlace(vehicle, "+x+y+z", at))


def deck() -> Vehicle:
    """An open deck with studs along both sides; between them a smooth step, and room too low for a plate."""
    body = (
        BodySolid(Box((0, 0, 16), (96, 48, FLOOR)), "fixed"),
        BodySolid(Box((0, 0, FLOOR), (96, 48, FLOOR + 12.8)), "free"),
        BodySolid(Box((16, 16, FLOOR), (36, 32, FLOOR + 8.0)), "fixed", smooth=True),
        BodySolid(Box((36, 16, FLOOR), (80, 32, FLOOR + 4.0)), "fixed", smooth=True),
    )
    bare = replace(hollow("deck", 12, 6, 6), top=FLOOR + 12.8, body=body, openings=(), ports=())
    return open_for_loads(replace(bare, floor_finish="studded"))


def trench() -> Vehicle:
    """A van with studs, of which something that is built in leaves one on either side of the middle."""
    van = hollow("van", 10, 6, 14)
    low = BodySolid(Box((8, 16, FLOOR), (72, 32, FLOOR + 9.6)), "fixed", smooth=True)
    return replace(van, floor_finish="studded", body=(*van.body, low))


def vault() -> Vehicle:
    """A van with a smooth floor, a roof that stays and a door in its side."""
    van = hollow("vault", 10, 6, 14)
    (roof,) = van.openings
    door = Opening("door", Box((8, 40, FLOOR), (72, 48, roof.box.low[2])), "+y")
    gap = BodySolid(door.box, "fixed")
    return replace(van, openings=(door,), body=(*van.body, gap))


def held_train() -> Train:
    bank = block("bank", (40, 14, 18), mass_g=72.0, pins=0)
    light, lamp = block("light", (32, 14, 6), mass_g=90.0, pins=0), block("lamp", (14, 8, 7), pins=0)
    return train_of(
        (deck(), trench(), vault()),
        (
            fixed("bank", bank, "deck", AT),
            fixed("light", light, "van", (24, 17, FLOOR + 4 * 3.2 + 1.7)),
            fixed("lamp", lamp, "vault", (24, 20, FLOOR + 20)),
        ),
    )


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_train(held_train(), PlanOptions())


def bricks_of(plan: Plan) -> Counter[str]:
    """Every brick, plate and tile that is added, by name."""
    pieces = [piece for one in plan.built.placements if one.shelf is not None for piece in one.shelf.parts]
    pieces += [piece for entry in plan.built.fastenings for piece in entry.bricks]
    return Counter(piece.name for piece in pieces if piece.name != "pad")


def test_each_is_proposed_placed_and_checked(plan: Plan) -> None:
    """The plan works and holds; 90 g over 1.6 N of studs are borne by a bridge, 72 g strapped down."""
    assert plan.works
    assert verify_plan(plan).problems == ()
    shelves = {one.need: one.shelf.kind for one in plan.built.placements if one.shelf is not None}
    assert shelves == {"light": "bridge", "lamp": "hanger"}
    (bank,) = [one for one in plan.built.placements if one.need == "bank"]
    assert not bank.steady
    over = next(entry for entry in plan.built.fastenings if "+z" in entry.ways)
    assert over.ways == ("-y", "+y", "+z")
    assert over.bricks[-1].name == "plate 1 × 4"
    (said,) = [one for one in plan.findings if one.subject == "support"]
    assert (said.severity, said.where) == ("note", "bank in deck")
    assert "as a strap over it" in said.message


def test_each_is_listed_and_bought(plan: Plan) -> None:
    """Each brick stands in the parts list and the list to buy as often as it is added."""
    wanted = bricks_of(plan)
    listed: Counter[str] = Counter()
    for row in parts_list(plan).rows:
        if str(row[2]) in wanted:
            listed[str(row[2])] += int(row[0])
    bought = {one.name: one.needed for one in buying_list(plan.built, plan.outcomes) if one.shop == "bricks"}
    assert listed == wanted
    assert bought == dict(wanted)


def test_each_is_in_the_picture(plan: Plan) -> None:
    """A rectangle for each piece, from the side and from above, none cut off by the edge of the sheet."""
    pieces = [box for one in plan.built.placements if one.shelf is not None for box in one.shelf.boxes]
    pieces += [piece.box for entry in plan.built.fastenings for piece in entry.bricks]
    for drawn in (side_drawing(plan), top_drawing(plan)):
        (added,) = [one for one in drawn.shapes if isinstance(one, Group) and one.key == "added"]
        rects = [one for one in added.shapes if isinstance(one, Rect)]
        assert len(rects) == len(pieces)
        assert all(one.x > 0 and one.x + one.w < drawn.width for one in rects)
        assert all(one.y > 0 and one.y + one.h < drawn.height for one in rects)


def test_each_is_in_the_order_of_work(plan: Plan) -> None:
    """Every fastening has a step of its own, in its own words, after its part is in."""
    rows = build_sequence(plan)
    told = [text for text in map(str, rows) if "fasten bank" in text]
    assert len(told) == len(plan.built.fastenings)
    for entry, text in zip(plan.built.fastenings, told, strict=True):
        assert entry.words in text
    acts = [(step.act, step.parts) for step in plan.work.steps]
    assert acts.index(("place", ("bank",))) < acts.index(("fasten", ("bank",)))


def banked(side: Direction, finger: Box | None) -> Plan:
    """Return the plan of the deck alone, its bank with a button on some side; a finger's room tells where."""
    bank = block("bank", (40, 14, 18), mass_g=72.0, pins=0)
    rooms = (Clearance("button", "finger", finger, "access"),) if finger is not None else ()
    bank = replace(bank, access=(Access("button", "switch", side, True),), clearances=rooms)
    return plan_train(
        train_of((deck(),), (fixed("bank", bank, "deck", (24, 17, FLOOR + 8.0)),)), PlanOptions()
    )


@pytest.mark.parametrize(
    ("side", "finger"),
    [
        ("+z", Box((28, 1, 18), (40, 13, 24))),
        ("+y", Box((28, 14, 3), (40, 20, 15))),
        ("+y", Box((0, 14, 3), (12, 20, 15))),
        ("+y", None),
    ],
)
def test_a_strap_lies_beside_a_button(side: Direction, finger: Box | None) -> None:
    """The bank that tips is pressed down where no finger goes; how that gets out is checked anew.

    Before a side on which nobody says where the button is, 6 mm are a finger's.
    """
    plan = banked(side, finger)
    finger = finger or Box((0, 14, 0), (40, 20, 18))
    assert plan.works
    assert verify_plan(plan).problems == ()
    low, high = ([a + b for a, b in zip(end, AT, strict=True)] for end in (finger.low, finger.high))
    pieces = [piece.box for entry in plan.built.fastenings for piece in entry.bricks]
    assert any("+z" in entry.ways for entry in plan.built.fastenings)
    for box in pieces:
        assert not all(min(box.high[k], high[k]) - max(box.low[k], low[k]) > 0.01 for k in range(3))


def test_a_button_is_asked_for_where_nobody_says_where_it_is() -> None:
    """No brick goes over the whole top, so nothing can press the bank: a stop says what to tell."""
    plan = banked("+z", None)
    support = [one for one in plan.findings if one.subject == "support"]
    (stop,) = [one for one in support if one.severity == "stop"]
    assert "rests on the body on one side only and would tip" in stop.message
    assert "tell where button of bank is, as clearances that are needed for access" in stop.remedy
    # Tape holds 72 g against sliding only, and nothing else is said.
    assert all("tipping" not in one.message for one in support if one is not stop)
    assert verify_plan(plan).problems == ()


def test_nothing_more_is_asked_where_the_button_itself_is_in_the_way() -> None:
    """The button lies over the end that must be pressed: then only room helps."""
    plan = banked("+z", Box((0, 1, 18), (12, 13, 24)))
    (stop,) = [one for one in plan.findings if one.severity == "stop"]
    assert stop.remedy.endswith("all such places are taken or too weak")


@pytest.mark.parametrize("high", [75.1, 70.0])
def test_a_pin_above_the_room_for_loads_is_told_as_that(high: float) -> None:
    """Loads reach up to 96 mm: a wire that would begin there has no room; the stop says what helps."""
    tall, lamp = block("tall", (14, 14, high), pins=1), block("lamp", (14, 8, 7), pins=1)
    needs = (
        fixed("tall", tall, "deck", (81, 1, FLOOR + 1.7)),
        fixed("lamp", lamp, "deck", (80, 34, FLOOR + 1.7)),
    )
    made = train_of((deck(),), needs, (("n", ("tall.p0", "lamp.p0")),))
    plan = plan_train(replace(made, catalogue=read_catalogue()), PlanOptions())
    told = "its wire would begin 96.0 mm above the rail, and loads with their wires reach up to 96 mm there"
    said = [one for one in plan.findings if told in one.message]
    assert len(said) == len(plan.built.harness.unreached) == (high > 75)
    assert all(one.remedy.endswith("write a greater load height for the vehicle") for one in said)
