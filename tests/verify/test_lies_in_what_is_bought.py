"""Leads as bought and the list that is bought from: true as drawn up by hand, and one lie at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Article, Asked
from fitplan.model.electrical import CellPack, Lead
from fitplan.model.found import Finding, Outcome
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from fitplan.model.operation import Running, Track
from fitplan.model.part import Clearance, Mount, Part, Pin
from fitplan.model.pins_used import Resistor
from fitplan.model.placed import Fastening, Piece, Placement, Rebuild, Shelf
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.wired import BoughtLead, Harness, Leg, Wire, WireEnd
from fitplan.verify.buying import check_buying
from fitplan.verify.leads import check_leads
from fitplan.verify.result import Problem, Tally
from fitplan.verify.scene import sites_of
from tests.packing.small_trains import hollow

from . import two_vehicles
from .lies import built_with, harness_with, problems

FLOOR = 19.2
BOX = (Box((0, 0, 0), (10, 10, 8)),)
CONTACTS = ("plus", "plus"), ("minus", "ground")


def socketed(name: str, socket: str, x: float, way: str) -> Part:
    pins = tuple(
        Pin(pin, role, (x, 5, 4), way, joint="plug", socket=socket)  # type: ignore[arg-type]
        for pin, role in CONTACTS
    )
    return Part(name, name, "part", BOX, 5.0, "invented for a test", pins=pins, mount=Mount())


BANK, BOARD = socketed("bank", "type A", 10, "+x"), socketed("board", "micro-B", 0, "-x")
# 4 mm thick, bends of 8 mm: hairpins are 20 mm wide, and each holds twice its length less 20 mm.
LEAD = Part(
    "lead", "lead", "lead", BOX, 9.0, "invented",
    electrical=(Lead("type A", "micro-B", (100.0, 150.0, 200.0), 24, 4.0, 8.0),),
)  # fmt: skip
FOLD = Box((40, 17.5, 21.2), (90, 37.5, 25.2))
BOUGHT = BoughtLead("lead", 150.0, "wagon", FOLD)
WAY = ((20.0, 15.0, 23.2), (110.0, 15.0, 23.2))


def end(owner: str, pin: str, at: tuple[float, float, float]) -> WireEnd:
    return WireEnd("pin", owner, pin, "wagon", at, 0.0)


def conductor(number: int, net: str, role: str, pin: str, **more: Any) -> Wire:
    legs = (Leg("wagon", WAY),)
    ends = end("bank", pin, WAY[0]), end("board", pin, WAY[1])
    cut = (90.0, (("surplus", 60.0),), 150.0)
    return Wire(number, net, role, "BK", 24, 4.0, *ends, legs, *cut, 500.0, 0.1, lead=BOUGHT, **more)  # type: ignore[arg-type]


PLUS, MINUS = conductor(1, "five", "supply", "plus"), conductor(2, "ground", "ground", "minus", inside=1)
OTHER = replace(
    PLUS, number=3, net="light", lead=None, outer_mm=1.0,
    legs=(Leg("wagon", ((30.0, 39.0, 23.2), (120.0, 39.0, 23.2))),),
)  # fmt: skip


def led(*wires: Wire, beside: Part | None = None, **changes: Any) -> BuiltTrain:
    """A bank, a board, the lead between them, and whatever else there is."""
    parts = [BANK, BOARD, *([beside] if beside else [])]
    places = ((10, 10, FLOOR), (110, 10, FLOOR), (125, 10, FLOOR))
    placed = tuple(
        Placement(part.id, part, "wagon", Place(pose_named("+x+y+z"), at), "the body")
        for part, at in zip(parts, places, strict=False)
    )
    nets = (
        Net("five", "supply", (PinRef("bank", "plus"), PinRef("board", "plus")), lead="lead"),
        Net("ground", "ground", (PinRef("bank", "minus"), PinRef("board", "minus"))),
    )
    brick = ("brick", Box((40, 24, FLOOR), (48, 32, FLOOR + 9.6)), 1.0)
    made = Train(
        "led", (TrainVehicle("wagon", hollow("wagon", 20, 6, 10, removable=(brick,))),),
        tuple(Need(part.id, (part,)) for part in parts), nets, Track(radius=320.0), Running(speed=300.0),
        catalogue={"lead": LEAD},
    )  # fmt: skip
    out = (Rebuild("wagon", ("brick",), (), 1.0, 1.0, "carried"),)
    built = BuiltTrain(made, placed, Harness(wires=wires or (PLUS, MINUS)), (), rebuilds=out)
    return replace(built, **changes)


SHORTENED = Finding("leads", "caution", "five", "is shortened", 1.0, 0.0, "mm", "join it", "ours")


def of_leads(built: BuiltTrain, *findings: Finding) -> tuple[Problem, ...]:
    sheet = Tally()
    check_leads(built, sites_of(built), findings, sheet)
    return sheet.report().problems


def bought(**changes: Any) -> BuiltTrain:
    """Both conductors with another lead."""
    lead = replace(BOUGHT, **changes)
    return led(replace(PLUS, lead=lead), replace(MINUS, lead=lead))


def both(**changes: Any) -> BuiltTrain:
    return led(replace(PLUS, **changes), replace(MINUS, **changes))


def folded(box: Box, *more: Wire, **changes: Any) -> BuiltTrain:
    lead = replace(BOUGHT, fold=box)
    return led(replace(PLUS, lead=lead), replace(MINUS, lead=lead), *more, **changes)


def cut_short(**changes: Any) -> BuiltTrain:
    """A lead that is cut to 100 mm of 150 and joined again."""
    lead = replace(BOUGHT, shortened=True, fold=None, **changes)
    parts = {"cut_mm": 100.0, "allowances": (("splice", 10.0),), "lead": lead}
    return led(replace(PLUS, **parts), replace(MINUS, **parts))  # type: ignore[arg-type]


def test_a_lead_that_is_joined_again_wants_an_iron() -> None:
    """Where there is none a caution is too little."""
    built = cut_short()
    bare = replace(built, train=replace(built.train, wiring=replace(built.train.wiring, solder=False)))
    (problem,) = of_leads(bare, SHORTENED)
    assert problem.message == "is joined again without an iron, and that stops nothing"
    assert of_leads(bare, replace(SHORTENED, severity="stop")) == ()


def test_leads_that_are_what_they_are_said_to_be() -> None:
    """With its surplus in two hairpins' room to the tenth, shortened and told, and turned end for end."""
    assert of_leads(led()) == ()
    assert of_leads(led(PLUS, MINUS, OTHER)) == ()
    assert of_leads(cut_short(), SHORTENED) == ()
    assert of_leads(folded(Box((40, 17.5, 21.2), (89.96, 37.5, 25.2)))) == ()
    assert of_leads(folded(Box((40, 17.5, 19.3), (75, 37.5, 27.3)))) == ()  # two hairpins one on the other
    turned = {"start": PLUS.end, "end": PLUS.start, "legs": (Leg("wagon", WAY[::-1]),)}
    back = {**turned, "start": MINUS.end, "end": MINUS.start}
    assert of_leads(led(replace(PLUS, **turned), replace(MINUS, **back))) == ()  # type: ignore[arg-type]
    plain = replace(PLUS, lead=None)
    assert of_leads(led(plain), replace(SHORTENED, message="no lead reaches")) == ()


KEPT = Part(
    "kept", "kept", "part", BOX, 1.0, "invented",
    clearances=(Clearance("plug", "plug", Box((-50, 10, 0), (-40, 20, 8))),),
)  # fmt: skip
WIDE = replace(KEPT, clearances=(), envelope=(Box((-50, 10, 0), (-40, 20, 8)),))
PEG = Piece("peg", Box((60, 30, 22), (68, 36, 30)))
CASES: dict[str, tuple[BuiltTrain, str]] = {
    "no such lead": (bought(part_id="rope"), "is no lead of the plan's catalogue"),
    "another than its net asks for": (bought(part_id="rope"), "its net asks for lead"),
    "a length that is not sold": (bought(length_mm=149.0), "is 149 mm long, which lead is not sold in"),
    "another gauge": (both(awg=26), "AWG 26, 4 mm thick"),
    "another diameter": (both(outer_mm=3.0), "AWG 24, 3 mm thick"),
    "an end that fits not": (
        led(replace(PLUS, start=PLUS.end, legs=PLUS.legs), MINUS), "which fits its ends not"
    ),
    "cut longer": (both(cut_mm=150.2), "is 150.2 mm long; the lead is 150 mm"),
    "a way that makes less": (both(bare_mm=89.8), "make 149.8 mm"),
    "no room for what is left over": (bought(fold=None), "60 mm too much, and a place for it: not both"),
    "room for nothing": (
        both(allowances=(("joint", 60.0),)), "has 0 mm too much, and a place for it: not both"
    ),
    "room too short by a quarter of a millimetre": (
        folded(Box((40, 17.5, 21.2), (89.8, 37.5, 25.2))), "the room for it holds 59.6 mm"
    ),
    "room too low": (folded(Box((40, 17.5, 21.2), (90, 37.5, 25.1))), "the room for it holds 0.0 mm"),
    "room too narrow": (folded(Box((40, 17.5, 21.2), (90, 37.4, 25.2))), "the room for it holds 0.0 mm"),
    "room elsewhere": (bought(vehicle="tender"), "lies in tender, where it does not run"),
    "room far beside": (folded(Box((40, 20.2, 21.2), (90, 40.0, 25.2))), "lies 5.2 mm beside its way"),
    "room in the wall": (folded(Box((40, 20.1, 21.2), (90, 40.1, 25.2))), "runs into fixed"),
    "a brick that stays": (led(rebuilds=()), "runs into removable brick"),
    "room in a part": (led(beside=WIDE), "runs into kept in wagon"),
    "room where a plug goes": (led(beside=KEPT), "runs into plug of kept in wagon"),
    "a brick beside a part": (
        led(fastenings=(Fastening("board", "wagon", ("+x",), (PEG,)),)), "runs into the peg beside board"
    ),
    "a wire through it": (
        led(PLUS, MINUS, replace(OTHER, legs=(Leg("wagon", ((60.0, 37.8, 23.2), (60.0, 37.8, 40.0))),))),
        "runs into wire 3 (light) in wagon",
    ),
    "shortened, and something left over": (
        led(replace(PLUS, lead=replace(BOUGHT, shortened=True)), MINUS), "and something is left over"
    ),
    "shortened, and untold": (cut_short(), "and nothing says so"),
    "a wire where its net asks for a lead": (led(replace(PLUS, lead=None)), "which its net asks for"),
    "no ground with it": (led(PLUS), "brings no ground"),
    "inside another": (led(PLUS, replace(MINUS, inside=7)), "is said to run inside wire 7, and does not"),
    "inside, on another way": (
        led(PLUS, replace(MINUS, legs=(Leg("wagon", WAY[::-1]),))), "is said to run inside wire 1"
    ),
    "inside, no ground": (led(PLUS, replace(MINUS, role="signal")), "is no ground of its length"),
    "inside, another length": (led(PLUS, replace(MINUS, cut_mm=140.0)), "is no ground of its length"),
    "inside, to the other contact": (
        led(PLUS, replace(MINUS, start=PLUS.start)), "ends at bank.plus, no ground contact"
    ),
    "inside, to another part": (
        led(PLUS, replace(MINUS, start=replace(MINUS.start, owner="board"))), "ends at board.minus"
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_lie_about_a_lead_is_told(case: str) -> None:
    """Each alone, just beyond what is allowed."""
    built, words = CASES[case]
    told = of_leads(built)
    assert any(words in problem.message for problem in told), told


def test_two_leads_in_one_room() -> None:
    """What is left over of two leads lies apart, or it is told."""
    second = replace(PLUS, number=4), replace(MINUS, number=5, inside=4)
    told = [one.message for one in of_leads(led(PLUS, MINUS, *second))]
    assert "what is left over lies in that of wire 1 (five)" in told


# -- the list ----------------------------------------------------------------------------------------------

PACK = replace(
    two_vehicles.CELL, family="cells", electrical=(CellPack("alkaline", "AA", 3, 2500.0, 0.15, 2000.0),)
)
SHELF = Shelf("shelf", (Piece("plate 1 × 2", Box((0, 0, 0), (8, 16, 3.2))),), 2)
REMEDY = "put a pad under the lamp"
REBUILT = Rebuild("loco", ("shelf brick",), (), 2.0, 2.0, "carried")


def article(name: str, needed: float, part: str = "", shop: str = "electronics", **more: Any) -> Article:
    return Article(shop, name, needed, 1.0, "pcs", more.pop("serves", ("lamp",)), part=part, **more)  # type: ignore[arg-type]


def shopped(*changes: tuple[str, Article | None]) -> Plan:
    """The plan of two vehicles with a list of all that it takes, some of it changed or left out."""
    plan = two_vehicles.plan()
    placed = []
    for one in plan.built.placements:
        part = PACK if one.need == "cell" else one.part
        placed.append(replace(one, part=part, shelf=SHELF if one.need == "lamp" else None))
    resistor = Resistor("lamp", "IN", "light", 100.0, 8.0, 0.01, 0.25, "lead")
    pegs = Fastening("board", "loco", ("+x",), (Piece("brick 1 × 1", Box((0, 0, 0), (8, 8, 9.6))),))
    # A finding may ask for things of a kind that the plan takes as well.
    add = (Asked(REMEDY), Asked("resistor 10 kΩ, 0.25 W"))
    finding = Finding("support", "caution", "lamp", "tips", 1.0, 0.0, "mm", REMEDY, "ours", add)
    plan = built_with(
        plan, placements=tuple(placed), resistors=(resistor,), fastenings=(pegs,), rebuilds=(REBUILT,)
    )
    plan = replace(plan, outcomes=(Outcome("support", (finding,)),))
    cut = {wire.colour: 0.0 for wire in plan.built.harness.wires}
    for wire in plan.built.harness.wires:
        cut[wire.colour] += wire.cut_mm / 1000
    words = [piece.words for piece in (*SHELF.parts, *pegs.bricks)]
    listed = {
        **{one.part.id: article(one.part.name, 1.0, one.part.id) for one in plan.built.placements},
        **{code: article(f"stranded wire, AWG 28, {code}", metres) for code, metres in cut.items()},
        "sleeve": article("heat-shrink 3.2 mm", 12.0, serves=("splice S1", "lamp.IN resistor")),
        "resistor": article("resistor 100 Ω, 0.25 W", 1.0),
        "cells": article("alkaline cell, AA", 3.0),
        "plate": article(words[0], 1.0, shop="bricks"),
        "peg": article(words[1], 1.0, shop="bricks"),
        "remedy": article(REMEDY, 1.0, shop="findings ask for"),
        "divider": article("resistor 10 kΩ, 0.25 W", 1.0, shop="findings ask for"),
        "out": article("shelf brick", 1.0, shop="comes out"),
    }
    listed |= {key: value for key, value in changes if value is not None}
    gone = {key for key, value in changes if value is None}
    return replace(plan, buying=tuple(one for key, one in listed.items() if key not in gone))


def test_a_list_that_is_whole() -> None:
    """Parts, wire, sleeves, resistors, cells, bricks, what findings ask for and what comes out."""
    assert problems(check_buying, shopped()) == ()
    assert problems(check_buying, replace(shopped(), buying=())) == ()


MISSED: dict[str, tuple[tuple[str, Article | None], str]] = {
    "a part left out": (("lamp", None), "is listed 0 times, placed 1 times"),
    "a part twice": (("lamp", article("lamp", 2.0, "lamp")), "is listed 2 times, placed 1 times"),
    "less than nothing": (("resistor", article("resistor 1 Ω", 1.0, each=-1.0)), "is less than nothing"),
    "a part of no use": (("x", article("horn", 1.0, "horn")), "nothing of this plan is of it"),
    "no wire of a colour": (("BK", None), "is listed with another length than is cut"),
    "wire that is not cut": (("x", article("stranded wire, AWG 28, RD", 0.1)), "with another length"),
    "no sleeve": (
        ("sleeve", article("heat-shrink 3.2 mm", 12.0, serves=("splice S1",))),
        "has 0 sleeves in the list",
    ),
    "a sleeve twice": (
        ("x", article("heat-shrink 4.8 mm", 12.0, serves=("splice S1",))), "has 2 sleeves in the list"
    ),
    "no resistor": (("resistor", None), "0 are listed, 1 soldered in"),
    "a cell too few": (("cells", article("alkaline cell, AA", 2.0)), "2 are listed for holders of 3"),
    "no plate": (("plate", None), "is listed 0 times, needed 1 times"),
    "no brick beside": (("peg", None), "is listed 0 times, needed 1 times"),
    "a remedy": (("remedy", None), "which the list has not"),
    "what comes out": (("out", None), "comes out, and the list does not say so"),
    "it comes out of a shop": (("out", article("shelf brick", 1.0)), "comes out, and the list does not"),
    "contacts": (("x", article("crimp contact for it", 2.0)), "2 are listed for 0 cavities"),
}  # fmt: skip


@pytest.mark.parametrize("case", MISSED)
def test_what_the_list_misses_is_told(case: str) -> None:
    """One article changed."""
    change, words = MISSED[case]
    told = problems(check_buying, shopped(change))
    assert len(told) == 1
    assert words in told[0].message


def test_couplings_and_leads_are_in_the_list() -> None:
    """A pair for each coupling that has one, its contacts, and each lead once, whatever runs in it."""
    plan = shopped()
    crossing = replace(plan.built.harness.crossings[0], connector="pair")
    wires = list(plan.built.harness.wires)
    wires[0] = replace(wires[0], end=replace(wires[0].end, kind="connector"))
    coupled = harness_with(plan, crossings=(crossing,), wires=tuple(wires))
    told = {problem.message for problem in problems(check_buying, coupled)}
    assert told == {"is listed 0 times, for 1 couplings", "0 are listed for 1 cavities"}
    more = (article("pair", 1.0, "pair"), article("crimp contact for it", 1.0))
    assert problems(check_buying, replace(coupled, buying=(*plan.buying, *more))) == ()
    leads = replace(PLUS, number=8), replace(MINUS, number=9, inside=8)
    led_too = harness_with(plan, wires=(*plan.built.harness.wires, *leads))
    (told_lead,) = problems(check_buying, led_too)
    assert told_lead.message == "is listed 0 times, for 1 wires"
    assert problems(check_buying, replace(led_too, buying=(*plan.buying, article("lead", 1.0, "lead")))) == ()
