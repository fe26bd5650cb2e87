"""Of two things only one counts: what is passed over does not hide what comes after it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.as_built import NOTHING_BUILT
from fitplan.model.buying import Article
from fitplan.model.found import Finding, Outcome, Table
from fitplan.model.needed import Choice
from fitplan.model.part import Clearance, Part
from fitplan.model.pins_used import PinUse
from fitplan.model.placed import Fastening, Shelf
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.train import ADDED_WAGON, TrainVehicle
from fitplan.model.vehicle import OPEN_ENDS, BodySolid, Hole, Port, Vehicle
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.model.wired import PairDrawnIn
from fitplan.model.wiring_facts import LegBends
from fitplan.verify.bends import check_bends
from fitplan.verify.exchange import check_exchanges
from fitplan.verify.findings import SUBJECTS, check_findings
from fitplan.verify.fit import check_fit
from fitplan.verify.lists import check_lists
from fitplan.verify.open_ends import _opening_at, _wrong
from fitplan.verify.origin import check_origin
from fitplan.verify.pairs_inside import check_pairs_inside, drawn_in
from fitplan.verify.pin_map import check_pin_map
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of
from fitplan.verify.toppling import check_toppling
from tests.packing.small_trains import hollow

from .lies import Check, built_with, harness_with, needs_with, placed_with, problems
from .test_lies_in_space import HAND, PAIR, SWITCH, by, pair_in
from .test_toppling_said import FLOOR as DECK
from .test_toppling_said import bank, stood
from .two_vehicles import FLOOR, LAMP, WIRES, plan, wagon


def sheet_of(check: Check, *about: object) -> tuple[list[tuple[str, str]], dict[str, int], dict[str, int]]:
    """Return problems, what was counted, and what was taken on trust."""
    sheet = Tally()
    check(*about, sheet)
    report = sheet.report()
    return (
        [(one.where, one.message) for one in report.problems],
        {one.what: one.count for one in report.checked},
        {one.what: one.count for one in report.trusted},
    )


# -- bends -------------------------------------------------------------------------------------------------


def rows(**changes: Any) -> tuple[LegBends, ...]:
    """A row for each leg of the plan, told at its second point; the first of them may be told otherwise."""
    legs = [(wire, leg) for wire in WIRES for leg in wire.legs]
    made = [
        LegBends(w.number, leg.vehicle, w.outer_mm, len(leg.points) - 2, 9.0, leg.points[1], 9.0)
        for w, leg in legs
    ]
    return (replace(made[0], **changes), *made[1:])


def bent(*made: LegBends) -> tuple[list[tuple[str, str]], dict[str, int], dict[str, int]]:
    old: Plan = plan()
    facts = replace(old.built.harness.facts, bends=made)
    return sheet_of(check_bends, harness_with(old, facts=facts).built)


def test_rows_of_bends_are_told_of_each_leg() -> None:
    wrong, counted, trusted = bent(*rows())
    assert wrong == []
    assert counted == {"rows of bends": 6}
    assert trusted == {"room for bends": 6}
    for spot in (WIRES[0].legs[0].points[-1], WIRES[0].legs[0].points[2], WIRES[0].legs[0].points[0]):
        assert bent(*rows(at=spot))[0] == []
    x, y, z = WIRES[0].legs[0].points[1]
    where = "wire 1 (light)"
    for changes, words in (
        ({"at": (x, y, z - 0.5)}, "its tightest corner in loco is told 0.5 mm beside its way"),
        ({"corners": 3}, "turns at 3 corners; its way has 2"),
        ({"corners": -1}, "turns at -1 corners; its way has 2"),
        ({"outer_mm": 1.2}, "is told to be 1.2 mm thick, and is 1"),
        ({"tightest_mm": -0.1}, "has room for less than nothing at a corner"),
        ({"at_end_mm": -0.1}, "has room for less than nothing at a corner"),
    ):
        assert bent(*rows(**changes))[0] == [(where, words)]
    assert bent(*rows()[1:])[0] == [("wire 1", "its bends in loco are told, or it runs there: not both")]
    assert bent(*rows(), rows()[3])[0] == [("wire 3", "its bends in loco are told twice")]
    # A row of a wire that is not there is told, and those after it are looked at.
    lost = replace(rows()[0], wire=9)
    assert [one[1] for one in bent(lost, *rows(corners=5))[0]] == [
        "its bends in loco are told, or it runs there: not both",
        "turns at 5 corners; its way has 2",
    ]


# -- findings, lists, files --------------------------------------------------------------------------------

FINDING = Finding("wire", "note", "light", "is short", 1.0, 2.0, "mm", "nothing", "sum")
TABLE = Table("t", ("a",), (("b",),))


def test_checks_that_are_not_run_again_are_trusted() -> None:
    outcomes = tuple(Outcome(name, ()) for name in SUBJECTS)
    mine = tuple(
        replace(one, findings=(FINDING, FINDING), tables=(TABLE,))
        if one.subject in ("wire", "wiring")
        else one
        for one in outcomes
    )
    made = replace(plan(), outcomes=mine)
    wrong, counted, trusted = sheet_of(check_findings, made, lambda: outcomes[:-3])
    assert trusted == {"findings and tables of wiring": 3}
    _, _, trusted = sheet_of(check_findings, made, None)
    assert trusted == {"findings and tables of the checks": 4}
    wrong, counted, trusted = sheet_of(check_findings, made, lambda: mine)
    assert wrong == []
    assert trusted == {}
    assert counted == {
        "subjects of checks": len(SUBJECTS),
        "findings": 4,
        "findings found again": 4,
        "tables and plots made again": 2,
    }


@pytest.mark.parametrize("count", [0, 1, 3, 4, 6])
def test_three_rows_that_differ_are_named(count: int) -> None:
    names = [f"row {n}" for n in range(7)]
    said = tuple(Article("electronics", name, 1.0, 0.0, "pcs", ()) for name in names)
    fresh = tuple(replace(one, needed=2.0) if n < count else one for n, one in enumerate(said))
    made = replace(plan(), buying=said, outcomes=())
    wrong, counted, _ = sheet_of(check_lists, made, lambda: (made.meter, fresh))
    shown = [(name, "is not as it is made again") for name in names[: min(count, 3)]]
    more = [("list", f"and {count - 3} more rows are not")] if count > 3 else []
    assert wrong == shown + more
    assert counted == {"rows of lists made again": 7}


def test_what_the_plan_adds_is_not_in_the_files() -> None:
    """An added wagon, and what was taken from another plan; a wagon of another name is missed."""
    train = plan().built.train
    more = TrainVehicle(ADDED_WAGON, hollow(ADDED_WAGON, 8, 6, 8))
    added = replace(train, vehicles=(*train.vehicles, more))
    assert sheet_of(check_origin, added, train)[0] == []
    other = replace(train, vehicles=(*train.vehicles, replace(more, name="tender")))
    wrong, _, _ = sheet_of(check_origin, other, train)
    assert wrong == [("vehicles", "is not what the unchanged files say")]
    wrong, _, _ = sheet_of(check_origin, added, replace(train, vehicles=train.vehicles[:1]))
    assert wrong == [("vehicles", "is not what the unchanged files say")]
    assert train.as_built == NOTHING_BUILT


# -- pins and pairs ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kept", [0, 1, 2])
def test_pins_are_kept_free_by_every_need_that_asks_for_some(kept: int) -> None:
    """The first need makes no choice, the second has no place; the third keeps too few."""
    made = needs_with(plan(), "lamp", choice=Choice("lamp", pins=(("output", 2),)))
    made = needs_with(made, "board", choice=Choice("lamp", pins=(("output", 1),)))
    made = built_with(made, placements=tuple(one for one in made.built.placements if one.need != "board"))
    uses = tuple(PinUse("lamp", "IN", "", "", "output", "") for _ in range(kept))
    elsewhere = (PinUse("eye", "IN", "", "", "output", ""), PinUse("lamp", "IN", "light", "", "output", ""))
    made = built_with(made, pin_map=(*uses, *elsewhere))
    found = [one for one in problems(check_pin_map, made.built, ()) if "free" in one.message]
    words = f"keeps {kept} of 2 output pins free, and no finding says so"
    assert [(one.where, one.message, one.figure) for one in found] == [("lamp", words, 2 - kept)] * (kept < 2)


FORWARDS = PairDrawnIn("wagon", Box((61, 21, FLOOR), (71, 27, FLOOR + 4)), 14.0)
"""Behind the wagon's front hole, x from 72 to 80."""


@pytest.mark.parametrize(
    ("made", "part", "words", "more"),
    [
        (FORWARDS, PAIR, [], 14.0),
        (None, PAIR, [], 0.0),
        (replace(FORWARDS, more_mm=13.95), PAIR, [], 13.95),
        (replace(FORWARDS, more_mm=13.85), PAIR,
         ["its pair lies 14.0 mm in, and its wires are 13.8 mm longer"], 13.85),
        (replace(FORWARDS, box=Box((62.05, 21, FLOOR), (72.05, 27, FLOOR + 4))), PAIR, [], 14.0),
        (replace(FORWARDS, box=Box((62.2, 21, FLOOR), (72.2, 27, FLOOR + 4))), PAIR,
         ["its pair does not lie behind front hole"], 14.0),
        (replace(FORWARDS, vehicle="tender"), PAIR,
         ["its pair is drawn into tender, behind no port of this coupling"], 0.0),
        # Across its way it may lie either way round, and touch the hole's edges.
        (replace(FORWARDS, box=Box((61, 22, FLOOR), (71, 26, FLOOR + 6))), PAIR, [], 14.0),
        (replace(FORWARDS, box=Box((61, 20, FLOOR), (71, 28, FLOOR + 6.4))),
         replace(PAIR, envelope=(Box((0, 0, 0), (10, 6.4, 8)),)), [], 14.0),
        (replace(FORWARDS, box=Box((61, 20, FLOOR), (71, 28, FLOOR + 6.6))),
         replace(PAIR, envelope=(Box((0, 0, 0), (10, 6.6, 8)),)),
         ["its pair of 8.0 × 6.6 mm does not pass front hole"], 14.0),
        (replace(FORWARDS, box=Box((61, 19.8, FLOOR), (71, 28, FLOOR + 6))),
         replace(PAIR, envelope=(Box((0, 0, 0), (10, 6, 8.2)),)),
         ["its pair of 8.2 × 6.0 mm does not pass front hole"], 14.0),
        (replace(FORWARDS, box=Box((60.8, 21, FLOOR), (71, 27, FLOOR + 4))), PAIR,
         ["its pair is drawn in at another size than it has",
          "its pair lies 14.1 mm in, and its wires are 14.0 mm longer"], 14.0),
    ],
)  # fmt: skip
def test_a_pair_behind_a_port_that_leads_forwards(
    made: PairDrawnIn | None, part: Part, words: list[str], more: float
) -> None:
    """Each just true and just no longer; what it takes with it on either side is what is told."""
    built = pair_in(made, part)
    (crossing,) = built.harness.crossings
    sheet = Tally()
    assert drawn_in(built, crossing, sheet) == more
    told = [one.message for one in sheet.report().problems]
    assert [one for one in told if "14.1 mm in" not in one] == [one for one in words if "14.1" not in one]
    assert {one.what: one.count for one in sheet.report().checked} == ({"pairs drawn in": 1} if made else {})


def test_a_pair_passes_the_port_of_its_own_vehicle() -> None:
    """Of two ports of one name, in the loco a small one: the wagon's is passed."""
    built = pair_in(FORWARDS)
    loco, behind = built.train.vehicles
    small = tuple(replace(one, box=Box((0, 23, FLOOR), (8, 24, FLOOR + 1))) for one in loco.vehicle.ports)
    vehicles = (replace(loco, vehicle=replace(loco.vehicle, ports=small)), behind)
    made = replace(built, train=replace(built.train, vehicles=vehicles))
    (crossing,) = made.harness.crossings
    sheet = Tally()
    assert drawn_in(made, crossing, sheet) == 14.0
    assert sheet.report().problems == ()


def test_every_pair_is_held_against_its_vehicle() -> None:
    """A joint without one, one drawn into no vehicle, and then one that runs into the wall."""
    built = pair_in(replace(FORWARDS, box=Box((66, 21, FLOOR), (76, 27, FLOOR + 7))))
    (crossing,) = built.harness.crossings
    lost = replace(crossing, pair=replace(FORWARDS, vehicle="tender"))
    three = (replace(crossing, pair=None), lost, crossing)
    made = replace(built, harness=replace(built.harness, crossings=three))
    found = [one.message for one in problems(check_pairs_inside, made, sites_of(made))]
    assert found == ["its pair in wagon runs into fixed"]


# -- room, exchange, toppling ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "needed", "told"),
    [
        ("plug", "always", True),
        ("plug", "access", False),
        ("lens", "always", False),
        ("lens", "access", False),
    ],
)
def test_clearances_that_are_kept_always_keep_off_bricks(kind: Any, needed: Any, told: int) -> None:
    """A lens needs a view instead; what is kept for access is asked where it is used. One after another."""
    rooms = (
        Clearance("first", kind, Box((-14, 0, 0), (0, 6, 6)), needed),
        Clearance("second", "plug", Box((-13, 0, 0), (0, 6, 6)), "always"),
    )
    made = placed_with(plan(), "lamp", part=replace(LAMP, clearances=rooms))
    found = [one for one in problems(check_fit, sites_of(made.built)["wagon"]) if "short" in one.message]
    assert ["first" in one.message for one in found] == [True, False][not told :]
    if told:
        # 14 mm before x 20: 2 mm of it in the wall up to 8 mm.
        assert found[0].figure == pytest.approx(1.999, abs=2e-3)
    _, counted, _ = sheet_of(check_fit, sites_of(made.built)["wagon"])
    assert counted["clearances against a body"] == 1 + told
    assert counted["clearances against parts"] == 1 + (needed == "always")


def test_the_hull_is_kept_to_a_thousandth() -> None:
    site = sites_of(plan().built)["wagon"]
    hull = site.vehicle.hull
    for axis in range(3):
        for sign in (-1, 1):
            for out, told in ((0.0005, False), (0.002, True), (3.0, True)):
                at = [20.0, 20.0, 30.0]
                at[axis] = hull.high[axis] - 6 + out if sign > 0 else hull.low[axis] - out
                place = Place(pose_named("+x+y+z"), (at[0], at[1], at[2]))
                made = placed_with(plan(), "lamp", place=place)
                found = [
                    one for one in problems(check_fit, sites_of(made.built)["wagon"]) if one.subject == "hull"
                ]
                words = f"lamp stands {out:.2f} mm out of the hull along {'xyz'[axis]}"
                assert [one.message for one in found] == [words] * told
                assert all(one.figure == pytest.approx(out, abs=1e-3) for one in found)


def test_pairs_of_parts_and_of_their_solids_are_counted() -> None:
    """A board of two solids, a cell and an emitter: three pairs, 2 + 2 + 1 of solids."""
    site = sites_of(plan().built)["loco"]
    wrong, counted, _ = sheet_of(check_fit, site)
    assert wrong == []
    assert counted["pairs of parts"] == 3
    assert counted["pairs of envelope solids"] == 5
    assert counted["envelope solids against a body"] == 4
    assert counted["parts inside their vehicle's hull"] == 3


def test_one_wrong_exchange_does_not_hide_the_next() -> None:
    """Of what is nowhere, of what is elsewhere, and of what is come by as a user does not allow."""
    made = placed_with(plan(), "lamp", part=replace(LAMP, access=(SWITCH,)))
    nowhere = replace(by(SWITCH, HAND), need="horn")
    elsewhere = replace(by(SWITCH, HAND), vehicle="loco")
    wrong = by(SWITCH, WayOut((), "door", (("+z", 40.0),)))
    good = by(SWITCH, HAND)
    ways: tuple[Exchanged, ...] = (nowhere, elsewhere, wrong, good)
    made = built_with(made, exchanged=ways)
    found, counted, _ = sheet_of(check_exchanges, made.built, sites_of(made.built), ())
    messages = [one[1] for one in found]
    assert messages[:3] == [
        "how button of lamp is come by is not said exactly once",
        "horn is exchanged, but is nowhere",
        "lamp is here, not in loco",
    ]
    assert "button of lamp: 'door' is not to be opened for it" in messages
    assert counted["what must be reached"] == 1
    assert counted["accesses as their parts have them"] == 2
    assert counted["ways out replayed"] == 2


@pytest.mark.parametrize(
    "first",
    [
        {"part": bank(Box((0, 0, 0), (9.5, 30, 62)), needs_support=False)},
        {"part": bank(Box((0, 0, 0), (9.5, 30, 62)), mass=1.0)},
        {"steady": False},
        {"shelf": "clip"},
        {"strapped": True},
    ],
)
def test_what_is_passed_over_does_not_hide_a_load_that_topples(first: dict[str, Any]) -> None:
    slab = bank(Box((0, 0, 0), (9.5, 30, 62)))
    part = first.pop("part", slab)
    held = (Fastening("bank", "v", ("+x", "+z")),) if first.pop("strapped", False) else ()
    if first.get("shelf"):
        first = {"shelf": Shelf("clip", (), 0, True)}
    made = stood(part, at=(20.0, 9.0, DECK), others=((slab, (75.0, 9.0, DECK)),), fastenings=held, **first)
    found, counted, _ = sheet_of(check_toppling, made, sites_of(made), set())
    assert [one[1].partition(" at ")[0] for one in found] == [
        "more 0 topples towards +x",
        "more 0 topples towards -x",
    ]
    assert counted == {"loads that stand": 1}


# -- open ends ---------------------------------------------------------------------------------------------


def open_at(out: str, *, deep: float = 8.0, **gap: float) -> tuple[TrainVehicle, Port]:
    """A box of bricks without a wall at one end; its bricks end ``deep`` mm before that of the footprint."""
    old = wagon()
    length, width = old.length, old.width
    box, room = Box((0, 0, 16), (length - deep, width, 54.4)), Box((8, 8, FLOOR), (length - deep, 40, 51.2))
    low, high = [length - deep, 8.0, FLOOR], [length, 40.0, 51.2]
    for name, value in gap.items():
        side, axis = (low, high)["high" in name], "xyz".index(name[0])
        side[axis] = value
    made = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
    if out == "-x":
        box, room, made = (
            Box((length - one.high[0], *one.low[1:]), (length - one.low[0], *one.high[1:]))
            for one in (box, room, made)
        )
    body = (BodySolid(box, "fixed"), BodySolid(room, "free"))
    port = Port(OPEN_ENDS[out], made, out)  # type: ignore[index, arg-type]
    vehicle: Vehicle = replace(old, body=body, ports=(port,), openings=())
    return TrainVehicle("wagon", vehicle), port


def wrong(entry: TrainVehicle, port: Port, *coupled: str) -> list[str]:
    return list(_wrong(entry, port, coupled))  # type: ignore[arg-type]


NO_GAP = "is no gap at the end of the footprint"


@pytest.mark.parametrize("out", ["+x", "-x"])
def test_an_open_end_is_as_large_as_its_room(out: str) -> None:
    """Up to two studs deep; half a millimetre less on any side is told, and any more is not free."""
    other = "-x" if out == "+x" else "+x"
    for deep in (0.0, 8.0, 16.0):
        assert wrong(*open_at(out, deep=deep), out) == []
    assert [one.partition(":")[0] for one in wrong(*open_at(out, deep=16.1), out)] == [NO_GAP]
    entry, port = open_at(out)
    assert wrong(entry, port, out, other) == []
    assert wrong(entry, port, other) == wrong(entry, port) == ["nothing is coupled there"]
    assert wrong(entry, replace(port, name=OPEN_ENDS[other]), out) == [f"leads {out}, which is another end"]  # type: ignore[index]
    for changes in ({"y_low": 8.6}, {"y_high": 39.4}, {"z_low": FLOOR + 0.6}, {"z_high": 50.6}):
        assert wrong(*open_at(out, **changes), out) == ["the room goes on beside it"]
    for changes in ({"y_low": 8.4}, {"y_high": 39.6}, {"z_low": FLOOR + 0.4}, {"z_high": 50.8}):
        assert wrong(*open_at(out, **changes), out) == []
    for changes in ({"y_low": 7.8}, {"y_high": 40.2}, {"z_low": FLOOR - 0.2}, {"z_high": 51.4}):
        assert wrong(*open_at(out, **changes), out) == ["is not free over all of its opening"]
    for changes in ({"y_low": 40.0}, {"x_high": 79.9}, {"x_high": 80.1}):
        assert [one.partition(":")[0] for one in wrong(*open_at(out, **changes), out)] == [NO_GAP]
    # Bricks that stand in the gap, and 0.2 mm behind it.
    length = entry.vehicle.length
    for low, high, told in ((73, 74, True), (71.85, 71.95, True), (71.5, 71.75, False)):
        x = (low, high) if out == "+x" else (length - high, length - low)
        post = BodySolid(Box((x[0], 20, 30), (x[1], 22, 32)), "fixed")
        vehicle = replace(entry.vehicle, body=(*entry.vehicle.body, post))
        found = wrong(replace(entry, vehicle=vehicle), port, out)
        assert found == ["is not free over all of its opening"] * told


@pytest.mark.parametrize("out", ["+x", "-x"])
def test_no_port_is_drawn_at_an_open_end(out: str) -> None:
    entry, port = open_at(out)
    drawn = replace(port, name="hole")
    two = replace(entry, vehicle=replace(entry.vehicle, ports=(port, drawn)))
    assert wrong(two, port, out) == ["a port is drawn at the same end"]
    far = replace(entry, vehicle=replace(entry.vehicle, ports=(port, replace(drawn, out="+y"))))
    assert wrong(far, port, out) == []
    hole = Hole("hole", "brick left out", port.box, "x", out, 1, 2.0)  # type: ignore[arg-type]
    assert wrong(replace(two, vehicle=replace(two.vehicle, holes=(hole,))), port, out) == []


@pytest.mark.parametrize("out", ["+x", "-x"])
@pytest.mark.parametrize(("wide", "high", "found"), [(5.0, 5.0, True), (3.1, 9.0, False), (9.0, 3.1, False)])
def test_a_square_of_a_plate_is_found_where_it_is_free(
    out: Any, wide: float, high: float, found: bool
) -> None:
    """At points 1.6 mm apart, three by three: 4.8 mm always hold them, 3.1 never."""
    old = wagon()
    for low in ((30.0, 20.0), (12.3, 33.7)):
        gap: tuple[Vec, Vec] = ((0.0, low[0], low[1]), (80.0, low[0] + wide, low[1] + high))
        body = (old.body[0], BodySolid(Box(*gap), "free"))
        entry = TrainVehicle("wagon", replace(old, body=body, ports=(), openings=()))
        point = _opening_at(entry, out)
        assert (point is not None) == found
        if point is not None:
            assert point[0] == (79.9 if out == "+x" else 0.1)
            assert low[0] + 1.59 < point[1] < low[0] + wide - 1.59
            assert low[1] + 1.59 < point[2] < low[1] + high - 1.59
    shut = TrainVehicle("wagon", replace(old, body=old.body[:1], ports=(), openings=()))
    assert _opening_at(shut, out) is None
