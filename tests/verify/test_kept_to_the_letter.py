"""What is built of the small plan against another plan: each thing kept or told, one change at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.as_built import AsBuilt, BuiltEnd, BuiltLeg, BuiltWire, Rework, Reworked
from fitplan.model.placed import Piece, Shelf
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.wired import Splice
from fitplan.verify.kept import check_kept
from fitplan.workbench.as_built import as_built_of

from .lies import built_with, harness_with, placed_with, problems, train_with, wire_with
from .two_vehicles import BOARD, PLACEMENTS, WIRES, plan

BEFORE = as_built_of(plan())
LAMP_AT = PLACEMENTS[3].place.offset
KEEPS = "is told to have to go, and nothing keeps it from staying"


def change(what: str, thing: str, name: str, *, must: bool = False) -> Reworked:
    return Reworked(what, thing, name, "", "", must=must)  # type: ignore[arg-type]


def told(now: Plan, *changes: Reworked, before: AsBuilt = BEFORE, **rework: Any) -> list[str]:
    """What is wrong with a plan after the small one was built; five parts and four wires are said to stay."""
    said = Rework(changes, **{"kept_parts": 5, "kept_wires": 4, **rework})
    made = replace(train_with(now, as_built=before), rework=said)
    return [f"{one.where}: {one.message}" for one in problems(check_kept, made)]


def laid(at: Vec, pose: str = "+x+y+z") -> Place:
    return Place(pose_named(pose), at)


def shifted(by: float) -> Vec:
    return (LAMP_AT[0], LAMP_AT[1] + by, LAMP_AT[2])


def without(*needs: str) -> Plan:
    """The plan without some parts; their needs stay."""
    return built_with(plan(), placements=tuple(one for one in PLACEMENTS if one.need not in needs))


def test_all_that_stays_is_counted() -> None:
    assert told(plan()) == []
    assert told(plan(), kept_parts=4) == ["rework: counts 4 parts and 4 wires that stay; 5 and 4 do"]
    assert told(plan(), kept_wires=5) == ["rework: counts 5 parts and 5 wires that stay; 5 and 4 do"]
    assert told(plan(), least=1) == ["rework: says that no plan undoes less than 1; 0 things have to go"]
    assert told(plan(), least=2, least_moved=2) == []


def test_where_nothing_is_built_nothing_is_told() -> None:
    nothing = "rework: tells what changes or stays, and nothing was built"
    assert told(plan(), before=AsBuilt()) == [nothing]
    assert told(plan(), before=AsBuilt(), kept_parts=0, kept_wires=0) == []
    new = change("new", "part", "lamp")
    assert told(plan(), new, before=AsBuilt(), kept_parts=0, kept_wires=0) == [nothing]
    parts_alone = replace(BEFORE, wires=(), splices=())
    news = [change("new", "wire", f"{one.number}") for one in WIRES]
    assert told(plan(), *news, before=parts_alone, kept_wires=0) == []
    wires_alone = replace(BEFORE, parts=())
    news = [change("new", "part", one.need) for one in PLACEMENTS]
    assert told(plan(), *news, before=wires_alone, kept_parts=0) == []


PARTS: list[tuple[Plan, str, int]] = [
    (placed_with(plan(), "lamp", place=laid(shifted(0.019))), "", 5),
    (placed_with(plan(), "lamp", place=laid(shifted(0.021))), "moved", 4),
    (placed_with(plan(), "lamp", place=laid(LAMP_AT, "-x-y+z")), "moved", 4),
    (placed_with(plan(), "lamp", vehicle="loco"), "moved", 4),
    (placed_with(plan(), "lamp", part=replace(BOARD, id="another")), "exchanged", 4),
    (without("lamp"), "taken out", 4),
]  # fmt: skip


@pytest.mark.parametrize(("now", "what", "stay"), PARTS)
def test_parts_are_kept_or_told(now: Plan, what: str, stay: int) -> None:
    others = {"moved", "exchanged", "taken out", "left at home", "new"} - {what}
    said = (change(what, "part", "lamp"),) if what else ()
    assert told(now, *said, kept_parts=stay) == []
    for other in others:
        words = f"part lamp: is {what or 'as it was built'}, and told as {other}"
        assert told(now, change(other, "part", "lamp"), kept_parts=stay) == [words]
    if what:
        assert told(now, kept_parts=stay) == [f"part lamp: is {what}, and told as kept"]


def test_parts_that_are_new_or_stay_at_home() -> None:
    before = replace(BEFORE, parts=tuple(one for one in BEFORE.parts if one.need != "eye"))
    assert told(plan(), change("new", "part", "eye"), before=before, kept_parts=4) == []
    assert told(plan(), before=before, kept_parts=4) == ["part eye: is new, and told as kept"]
    # It is at home where both its vehicle and its need are no more; with one of them it was taken out.
    now = without("lamp", "eye")
    needs = tuple(one for one in now.built.train.needs if one.name not in ("lamp", "eye"))
    loco_alone = now.built.train.vehicles[:1]
    home = [change("left at home", "part", "lamp"), change("left at home", "part", "eye")]
    out = [change("taken out", "part", "lamp"), change("taken out", "part", "eye")]
    for changes, said in (
        ({"needs": needs, "vehicles": loco_alone}, home),
        ({"needs": needs}, out),
        ({"vehicles": loco_alone}, out),
    ):
        assert told(train_with(now, **changes), *said, kept_parts=3) == []
    assert told(train_with(now, needs=needs, vehicles=loco_alone), *home, kept_parts=3, least=2)[:1] == [
        "rework: says that no plan undoes less than 2; 0 things have to go"
    ]


def rerouted(number: int, leg: int, **values: Any) -> Plan:
    wire = next(one for one in WIRES if one.number == number)
    legs = list(wire.legs)
    legs[leg] = replace(legs[leg], **values)
    return wire_with(plan(), number, legs=tuple(legs))


def nudged(by: float) -> tuple[Vec, ...]:
    """The way of wire 4 with its middle corner beside where it was."""
    a, (x, y, z), c = WIRES[3].legs[0].points
    return (a, (x, y + by, z), c)


WIRES_CUT = [
    (wire_with(plan(), 4, net="light"), False),
    (wire_with(plan(), 4, colour="RD"), False),
    (wire_with(plan(), 4, awg=26), False),
    (wire_with(plan(), 4, cut_mm=WIRES[3].cut_mm + 0.1), False),
    (wire_with(plan(), 4, cut_mm=WIRES[3].cut_mm - 5), True),
    (wire_with(plan(), 4, start=replace(WIRES[3].start, pin="plus")), False),
    (wire_with(plan(), 4, start=replace(WIRES[3].start, owner="board")), False),
    (wire_with(plan(), 4, end=replace(WIRES[3].end, owner="S2")), False),
    (wire_with(plan(), 4, end=replace(WIRES[3].end, kind="pin")), False),
    (wire_with(plan(), 4, start=replace(WIRES[3].start, at=(0.0, 0.0, 0.0))), True),
    (rerouted(4, 0, points=nudged(0.01)), True),
    (rerouted(4, 0, points=nudged(0.03)), False),
    (rerouted(4, 0, points=WIRES[3].legs[0].points[::2]), False),
    (rerouted(4, 0, vehicle="wagon"), False),
    (rerouted(4, 0, enters="rear hole"), False),
    (rerouted(4, 0, leaves="rear hole"), False),
]  # fmt: skip


@pytest.mark.parametrize(("now", "same"), WIRES_CUT)
def test_wires_are_kept_or_cut_again(now: Plan, same: bool) -> None:
    again = change("cut again", "wire", "4")
    if same:
        assert told(now) == []
        assert told(now, again) == ["wire 4: is as it was built, and told as cut again"]
    else:
        assert told(now, again, kept_wires=3) == []
        assert told(now, kept_wires=3) == ["wire 4: is cut again, and told as kept"]


def test_wires_that_are_no_more() -> None:
    """Unsoldered or unplugged; one that lies in vehicles alone that stayed at home is there with them."""
    now = harness_with(plan(), wires=WIRES[:3])
    assert told(now, change("unsoldered", "wire", "4"), kept_wires=3) == []
    assert told(now, change("unplugged", "wire", "4"), kept_wires=3) == []
    lost = ["wire 4: is no more, and that is not told"]
    assert told(now, kept_wires=3) == lost
    assert told(now, change("cut again", "wire", "4"), kept_wires=3) == lost
    assert told(now, change("left at home", "wire", "4"), kept_wires=3) == lost
    wagon_alone = train_with(now, vehicles=now.built.train.vehicles[1:])
    assert told(wagon_alone, change("left at home", "wire", "4"), kept_wires=3) == []
    assert told(wagon_alone, change("unsoldered", "wire", "4"), kept_wires=3) == lost
    before = replace(BEFORE, wires=BEFORE.wires[:3])
    soldered = change("soldered again", "splice", "S1")
    new = change("new", "wire", "4")
    assert told(plan(), new, soldered, before=before, kept_wires=3) == []
    assert told(plan(), soldered, before=before, kept_wires=3) == ["wire 4: is new, and told as kept"]
    # What is inside a lead that has two conductors is no wire of its own.
    inside = harness_with(plan(), wires=(*WIRES, replace(WIRES[0], number=5, inside=1)))
    assert told(inside) == []


def test_splices_are_kept_or_soldered_again() -> None:
    old = plan().built.harness.splices[0]
    again = change("soldered again", "splice", "S1")
    for wires in ((2, 3), (2, 3, 4, 1)):
        now = harness_with(plan(), splices=(replace(old, wires=wires),))
        assert told(now, again) == []
        assert told(now) == ["splice S1: is soldered again, and told as kept"]
    assert told(harness_with(plan(), splices=(replace(old, wires=(4, 3, 2)),))) == []
    assert told(plan(), again) == ["splice S1: is as it was built, and told as soldered again"]
    gone: tuple[Splice, ...] = ()
    assert told(harness_with(plan(), splices=gone)) == []


def test_a_thing_is_told_once() -> None:
    moved = change("moved", "part", "lamp")
    now = placed_with(plan(), "lamp", place=laid(shifted(1)))
    assert told(now, moved, moved, kept_parts=4) == ["rework: tells a thing twice"]


def needing(*names: str, **changes: Any) -> Plan:
    """The plan with these needs alone."""
    needs = tuple(one for one in plan().built.train.needs if one.name in names)
    return train_with(plan(), needs=needs, **changes)


ALL = ("board", "lamp", "cell", "eye", "emitter")
FIRST = plan().built.train.vehicles[:1]
OTHER_LAMP = tuple(
    replace(one, candidates=(BOARD,)) if one.name == "lamp" else one for one in plan().built.train.needs
)


@pytest.mark.parametrize(
    ("now", "has_to"),
    [
        (plan(), False),
        (needing("board", "cell", "eye", "emitter"), True),
        (needing(*ALL, vehicles=FIRST), True),
        (train_with(plan(), needs=OTHER_LAMP), True),
    ],
)
def test_a_part_has_to_go_where_the_train_has_no_place_for_it(now: Plan, has_to: bool) -> None:
    """Its need is gone, its vehicle, or it is none of those that would do."""
    moved = placed_with(now, "lamp", place=laid(shifted(1)))
    said = change("moved", "part", "lamp", must=True)
    assert told(moved, said, kept_parts=4, least=1) == ([] if has_to else [f"lamp: {KEEPS}"])
    assert told(moved, said, kept_parts=4, least=0) == [
        *([] if has_to else [f"lamp: {KEEPS}"]),
        "rework: says that no plan undoes less than 0; 1 things have to go",
    ]  # fmt: skip


END_1, END_2 = BuiltEnd("pin", "board", "OUT"), BuiltEnd("pin", "lamp", "IN")
IN, OUT = BuiltEnd("connector", "C1", "2"), BuiltEnd("connector", "C2", "2")


def way(*vehicles: str) -> tuple[BuiltLeg, ...]:
    return tuple(BuiltLeg(one, ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0))) for one in vehicles)


def wire(number: int, start: BuiltEnd, end: BuiltEnd, *vehicles: str, net: str = "light") -> BuiltWire:
    return BuiltWire(number, net, "YE", 28, 100.0, start, end, way(*vehicles))


FAR = wire(9, END_1, END_2, "loco", "wagon")
TO_C = wire(9, END_1, IN, "loco")
FROM_C = wire(8, IN, END_2, "wagon")


def train_of(*names: str) -> Plan:
    """The plan with vehicles of these names in this order."""
    loco, wagon = plan().built.train.vehicles
    return train_with(plan(), vehicles=tuple(replace(loco if n == "loco" else wagon, name=n) for n in names))


@pytest.mark.parametrize(
    ("wires", "now", "has_to"),
    [
        ((FAR,), plan(), False),
        ((FAR,), train_of("wagon", "loco"), False),
        ((FAR,), train_of("loco", "more", "wagon"), True),
        ((FAR,), train_of("loco"), True),
        ((wire(9, END_1, END_2, "loco"),), plan(), False),
        ((wire(9, END_1, END_2, "loco", "wagon", net="dark"),), plan(), True),
        ((wire(9, BuiltEnd("pin", "eye", "OUT"), END_2, "loco", "wagon"),), plan(), True),
        ((wire(9, END_1, BuiltEnd("pin", "eye", "OUT"), "loco", "wagon"),), plan(), True),
        ((wire(9, BuiltEnd("splice", "S7"), END_2, "loco", "wagon"),), plan(), False),
        ((TO_C, FROM_C), plan(), False),
        ((TO_C, FROM_C), train_of("wagon", "loco"), False),
        ((TO_C, FROM_C), train_of("loco", "more", "wagon"), True),
        ((TO_C, FROM_C), train_of("more", "loco", "wagon"), False),
        ((TO_C, FROM_C), train_of("more", "wagon", "loco"), False),
        ((TO_C, FROM_C), train_of("loco"), True),
        ((TO_C,), plan(), True),
        ((TO_C, replace(FROM_C, net="ground")), plan(), True),
        ((TO_C, wire(8, OUT, END_2, "wagon")), plan(), True),
        ((TO_C, wire(8, IN, END_2, "loco")), plan(), True),
        ((TO_C, wire(8, END_2, IN, "wagon")), plan(), False),
        ((TO_C, wire(8, IN, END_2, "wagon", "loco")), plan(), False),
        ((TO_C, wire(8, END_2, IN, "loco", "wagon")), plan(), False),
        ((wire(9, IN, END_1, "loco"), FROM_C), plan(), False),
        ((wire(9, IN, END_1, "loco"), wire(8, IN, END_2, "loco")), plan(), True),
        ((TO_C, wire(7, IN, END_2, "loco"), FROM_C), plan(), False),
    ],
)
def test_a_wire_has_to_go_where_its_ends_are_no_more(
    wires: tuple[BuiltWire, ...], now: Plan, has_to: bool
) -> None:
    """Its net, a vehicle on its way, two that were coupled, a part at its end, what its contact meets."""
    before = replace(BEFORE, wires=(*BEFORE.wires, *wires))
    said = [change("unsoldered", "wire", f"{one.number}", must=one is wires[0]) for one in wires]
    found = [words for words in told(now, *said, before=before, least=1) if words.startswith("9: ")]
    assert found == ([] if has_to else [f"9: {KEEPS}"])


def test_wires_go_with_the_part_that_they_end_at() -> None:
    """A part that has to go takes its wires along, one that is moved does not; a splice goes with a wire."""
    now = placed_with(needing("board", "cell", "eye", "emitter"), "lamp", place=laid(shifted(1)))
    now = harness_with(now, wires=WIRES[1:])
    lamp = change("moved", "part", "lamp", must=True)
    gone = change("unsoldered", "wire", "1", must=True)
    assert told(now, lamp, gone, kept_parts=4, kept_wires=3, least=2) == []
    freely = replace(lamp, must=False)
    assert told(now, freely, gone, kept_parts=4, kept_wires=3, least=1) == [f"1: {KEEPS}"]
    splice = change("soldered again", "splice", "S1", must=True)
    other = harness_with(now, splices=(replace(now.built.harness.splices[0], wires=(2, 3)),))
    assert told(other, lamp, gone, splice, kept_parts=4, kept_wires=3, least=3) == []
    assert told(other, freely, splice, kept_parts=4, kept_wires=3, least=1) == [
        "wire 1: is no more, and that is not told", f"S1: {KEEPS}"
    ]  # fmt: skip
    pin = change("moved", "pin", "board.OUT", must=True)
    assert told(plan(), pin, least=1) == [f"board.OUT: {KEEPS}"]


def test_what_is_new_or_stays_at_home_is_not_counted_among_what_must_go() -> None:
    now = train_with(without("lamp", "eye"), vehicles=FIRST)
    needs = tuple(one for one in now.built.train.needs if one.name not in ("lamp", "eye"))
    now = train_with(now, needs=needs)
    home = [change("left at home", "part", name, must=True) for name in ("lamp", "eye")]
    assert told(now, *home, kept_parts=3, least=0) == []
    before = replace(BEFORE, parts=tuple(one for one in BEFORE.parts if one.need != "eye"))
    assert told(plan(), change("new", "part", "eye", must=True), before=before, kept_parts=4) == []


def test_what_carries_a_part_is_kept_or_told() -> None:
    """Where the part stays and another addition is under it, or none; what moved is told as such alone."""
    pad = Shelf("pad", (Piece("pad", Box((1, 1, 20), (9, 9, 22))),), 0)
    mine = next(one for one in BEFORE.parts if one.need == "lamp")
    others = tuple(one for one in BEFORE.parts if one is not mine)
    before = replace(BEFORE, parts=(*others, replace(mine, on=pad)))
    anew = change("built anew", "addition", "lamp")
    assert told(placed_with(plan(), "lamp", shelf=pad), before=before) == []
    assert told(plan(), anew, before=before) == []
    assert told(plan(), before=before) == ["addition lamp: is built anew, and told as kept"]
    as_it_was = ["addition lamp: is as it was built, and told as built anew"]
    assert told(placed_with(plan(), "lamp", shelf=pad), anew, before=before) == as_it_was
    moved = placed_with(plan(), "lamp", place=laid(shifted(1.0)))
    assert told(moved, change("moved", "part", "lamp"), before=before, kept_parts=4) == []
