"""Lies that no other file tells, each just true and just no longer: names, ways, mounts, figures."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.buying import Article
from fitplan.model.found import Curve, Outcome, Plot, Table
from fitplan.model.meter import MeterCoverage, MeterPlan
from fitplan.model.needed import Exchange, FixedPlace, Need
from fitplan.model.part import Access, Mount
from fitplan.model.pins_used import PinUse
from fitplan.model.placed import Piece, Rebuild, Shelf
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitPlace, FitRow
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.vehicle import Vehicle
from fitplan.model.ways_in import AssemblyStep, Exchanged, Moves, SubassemblyPart, WayOut
from fitplan.model.wired import Splice, Unreached, WireEnd
from fitplan.verify import _everything_placed, _rebuilds, measure
from fitplan.verify.conductors import _comes_out
from fitplan.verify.couplings import check_couplings
from fitplan.verify.findings import check_findings
from fitplan.verify.lists import check_lists
from fitplan.verify.measure import can_be_measured, no_number_missing
from fitplan.verify.mounts import _away_from, check_mounts
from fitplan.verify.nets import check_nets
from fitplan.verify.nodes import switched_on
from fitplan.verify.overlap import overlap
from fitplan.verify.pin_map import check_pin_map
from fitplan.verify.result import Problem, Tally
from fitplan.verify.scene import sites_of
from fitplan.verify.shapes import Disc, Prism
from fitplan.verify.sliding import Mover, slide_apart, slide_out
from fitplan.verify.switched_on import check_switched_on
from fitplan.verify.wires import check_wires
from fitplan.verify.work import check_work
from tests.circuit.sample_parts import board, cells, fuse, switch
from tests.circuit.sample_parts import net as net_of
from tests.circuit.sample_parts import part as part_of
from tests.circuit.sample_parts import pin as pin_of
from tests.verify.test_volts_inside import built as circuit_of

from .lies import Check, built_with, harness_with, needs_with, placed_with, problems, train_with, wire_with
from .two_vehicles import BOARD, CELL_GND, EYE, FLOOR, LAMP, NEEDS, SPLICE_AT, WIRES, part, plan, put


def told(check: Check, *about: object) -> list[tuple[str, str]]:
    """Where and what, of all problems of one check."""
    return [(one.where, one.message) for one in problems(check, *about)]


def counted(check: Check, *about: object) -> dict[str, int]:
    sheet = Tally()
    check(*about, sheet)
    return {one.what: one.count for one in sheet.report().checked}


def trusted(check: Check, *about: object) -> list[str]:
    sheet = Tally()
    check(*about, sheet)
    return [one.what for one in sheet.report().trusted]


# -- wires -------------------------------------------------------------------------------------------------


def of_wires(made: Plan) -> list[tuple[str, str, float]]:
    found = problems(check_wires, made.built, sites_of(made.built))
    return [(one.where, one.message, one.figure) for one in found]


def test_wires_have_numbers_of_their_own_and_a_way() -> None:
    assert of_wires(plan()) == []
    twice = harness_with(plan(), wires=(*WIRES, WIRES[1], WIRES[1], WIRES[3]))
    assert of_wires(twice) == [
        ("wire 2", "two wires have this number", 0.0),
        ("wire 4", "two wires have this number", 0.0),
    ]
    lost = "has no way through vehicles of this train"
    light = WIRES[0].legs
    nowhere = ((), (replace(light[0], points=light[0].points[:1]), light[1]),
               (replace(light[0], vehicle="tender"), light[1]))  # fmt: skip
    for legs in nowhere:
        both = wire_with(wire_with(plan(), 1, legs=legs), 4, cut_mm=1000.0, legs=())
        assert [one[:2] for one in of_wires(both)] == [("wire 1 (light)", lost), ("wire 4 (ground)", lost)]


def test_wires_end_where_they_say() -> None:
    """In the vehicle of their way, at a port where they end in a connector, at a splice that is there."""
    there = wire_with(plan(), 1, end=replace(WIRES[0].end, vehicle="loco"))
    assert ("wire 1 (light)", "ends in loco, its way in wagon", 0.0) in of_wires(there)
    loose = wire_with(plan(), 4, start=WireEnd("connector", "none", "1", "loco", CELL_GND, 4.0))
    assert {message for _, message, _ in of_wires(loose)} >= {
        "ends at a connector but at no port",
        "ends at connector none, which is not there",
    }
    gone = [one[:2] for one in of_wires(harness_with(plan(), splices=()))]
    names = [f"wire {n} (ground)" for n in (2, 3, 4)]
    assert gone == [(name, "ends at splice S1, which is not there") for name in names]
    x, y, z = SPLICE_AT
    for away, far in ((0.09, False), (0.11, True)):
        moved = harness_with(plan(), splices=(Splice("S1", "ground", "loco", (x, y + away, z), (2, 3, 4)),))
        words = f"ends {away:.2f} mm from splice S1"
        assert of_wires(moved) == ([(name, words, away) for name in names] if far else [])
    elsewhere = harness_with(plan(), splices=(Splice("S1", "ground", "wagon", SPLICE_AT, (2, 3, 4)),))
    assert [one[1] for one in of_wires(elsewhere)] == ["ends 0.00 mm from splice S1"] * 3
    for other in (
        Splice("S1", "light", "loco", SPLICE_AT, (2, 3, 4)),
        Splice("S1", "ground", "loco", SPLICE_AT, (3, 4)),
    ):
        found = of_wires(harness_with(plan(), splices=(other,)))
        assert ("wire 2 (ground)", "is not among the wires of splice S1", 0.0) in found


@pytest.mark.parametrize(("beyond", "far"), [(19.9, False), (20.1, True)])
@pytest.mark.parametrize(("axis", "edge", "way"), [(1, 0.0, -1), (1, 48.0, 1), (0, 0.0, -1)])
def test_a_wire_is_nowhere_far_out_of_its_vehicle(
    axis: int, edge: float, way: int, beyond: float, far: bool
) -> None:
    """What runs out by 20 mm and less is looked at piece by piece."""
    point = [40.0, 24.0, 25.0]
    point[axis] = edge + way * beyond
    old = WIRES[3].legs[0]
    legs = (replace(old, points=(old.points[0], (point[0], point[1], point[2]), *old.points[1:])),)
    found = [one for one in of_wires(wire_with(plan(), 4, legs=legs)) if "beyond" in one[1]]
    assert found == (
        [("wire 4 (ground)", f"runs {beyond:.1f} mm beyond all of loco", pytest.approx(beyond))]
        if far
        else []
    )


# -- places, rebuilds, mounts ------------------------------------------------------------------------------


def test_parts_and_rebuilds_are_in_vehicles_of_the_train() -> None:
    """Each that is not is told, and those after it are looked at."""
    assert told(_everything_placed, plan(), sites_of(plan().built)) == []
    made = placed_with(placed_with(plan(), "board", vehicle="tender"), "lamp", vehicle="tram")
    assert told(_everything_placed, made, sites_of(made.built)) == [
        ("board", "is in tender, which is no vehicle"),
        ("lamp", "is in tram, which is no vehicle"),
    ]
    rows = (
        Rebuild("tender", ("shelf brick",), (), 0.0, 0.0, ""),
        Rebuild("loco", ("shelf brick", "no brick", "another"), (), 0.0, 0.0, ""),
    )
    made = built_with(plan(), rebuilds=rows)
    assert told(_rebuilds, made.built) == [
        ("tender", "is no vehicle of the train"),
        ("loco", "takes out another, which is no removable brick"),
        ("loco", "takes out no brick, which is no removable brick"),
    ]
    assert counted(_rebuilds, made.built) == {"rebuilds": 2}


def of_mounts(made: Plan, vehicle: str, needs: tuple[Need, ...] | None = None) -> tuple[Problem, ...]:
    by_name = {need.name: need for need in (needs or made.built.train.needs)}
    return problems(check_mounts, sites_of(made.built)[vehicle], by_name)


def test_a_part_that_nobody_asked_for() -> None:
    """It is told, and the parts beside it are still looked at."""
    left = tuple(need for need in NEEDS if need.name != "board")
    assert [one.message for one in of_mounts(plan(), "loco", left)] == ["board serves no need of the train"]
    site = sites_of(plan().built)["loco"]
    count = counted(check_mounts, site, {need.name: need for need in left})
    assert count["parts against their needs"] == 2


@pytest.mark.parametrize(
    ("mount", "pose", "words"),
    [
        ({"up": ("+z", "+x")}, "+x+y+z", ""),
        ({"up": ("+x",)}, "+x+y+z", "lamp has none of its sides +x up"),
        ({"up": ("+x", "-y")}, "+x+y+z", "lamp has none of its sides +x, -y up"),
        ({"turnable": False}, "+x+y+z", ""),
        ({"turnable": False}, "-x-y+z", "lamp may not be turned"),
        ({"upright": True}, "-x-y+z", ""),
        ({"upright": True}, "-x+y-z", "lamp must stand upright"),
    ],
)
def test_the_right_way_up(mount: dict[str, Any], pose: str, words: str) -> None:
    """Told as a problem; noted only where the user fixed pose and place."""
    old = plan().built.placement("lamp")
    assert old is not None
    made_part = replace(old.part, mount=replace(old.part.mount, **mount))
    low = [-min(0.0, *(6.0 * sign for sign in signs)) for signs in _signs(pose)]
    at: Vec = (20 + low[0], 20 + low[1], FLOOR + low[2])
    made = placed_with(plan(), "lamp", part=made_part, place=Place(pose_named(pose), at))
    made = needs_with(made, "lamp", candidates=(made_part,))
    assert [one.message for one in of_mounts(made, "wagon")] == ([words] if words else [])
    whole, half = FixedPlace("wagon", pose, at), FixedPlace("wagon", pose)
    assert of_mounts(needs_with(made, "lamp", pinned=whole), "wagon") == ()
    assert len(of_mounts(needs_with(made, "lamp", pinned=half), "wagon")) == bool(words)


def _signs(pose: str) -> list[tuple[int]]:
    """Which way each axis of a part runs in the vehicle, of a pose that turns none into another."""
    return [(1 if pose[2 * i] == "+" else -1,) for i in range(3)]


@pytest.mark.parametrize("looks", [("wagon", "no hole"), ("loco", "lamp hole")])
def test_a_window_that_is_not_there(looks: tuple[str, str]) -> None:
    found = of_mounts(needs_with(plan(), "eye", looks=looks), "wagon")
    assert [(one.where, one.message) for one in found] == [
        ("eye", f"must look out of {looks[1]} of {looks[0]}")
    ]


@pytest.mark.parametrize(
    "sits", [("loco", "motor", "side"), ("loco", "engine", "top"), ("wagon", "motor", "top")]
)
def test_a_face_that_is_not_there(sits: tuple[str, str, str]) -> None:
    found = of_mounts(needs_with(plan(), "emitter", sits=sits), "loco")
    assert [one.message for one in found] == [f"must sit on {sits[2]} of {sits[1]} in {sits[0]}"]


@pytest.mark.parametrize(
    ("low", "high", "figure", "blind"),
    [
        ((1, 25.0, 34), (3, 30.0, 40), 0.9, False),
        ((1, 20.0, 34), (3, 23.0, 40), 0.9, False),
        ((1, 20.0, 34), (3, 30.0, 36), 0.9, False),
        ((1, 20.0, 38), (3, 30.0, 44), 0.9, False),
        ((1, 23.95, 34), (3, 24.05, 40), None, True),
        ((1, 25.95, 34), (3, 30.0, 40), 0.0, None),
    ],
)
def test_what_stands_in_a_view(low: Vec, high: Vec, figure: float | None, blind: bool | None) -> None:
    """The eye's lens is 4 mm square about y = 24, z = 37: its edge may be hidden, its middle not."""
    size = (high[0] - low[0], high[1] - low[1], high[2] - low[2])
    thing = part("thing", Box((0, 0, 0), size), mount=Mount(needs_support=False))
    placed = (*plan().built.placements, put("thing", thing, "wagon", low))
    made = built_with(train_with(plan(), needs=(*NEEDS, Need("thing", (thing,)))), placements=placed)
    sheet = Tally()
    by_name = {need.name: need for need in made.built.train.needs}
    check_mounts(sites_of(made.built)["wagon"], by_name, sheet)
    report = sheet.report()
    notes = [one for one in report.notes if "in the view" in one.message]
    wrong = [one for one in report.problems if "in the view" in one.message]
    assert (len(notes), len(wrong)) == {None: (0, 0), False: (1, 0), True: (0, 1)}[blind]
    for one in (*notes, *wrong):
        assert one.subject == "view"
        assert figure is None or one.figure == pytest.approx(figure, abs=0.01)


@pytest.mark.parametrize(
    ("fixed", "away"),
    [
        (FixedPlace("loco"), 0.0),
        (FixedPlace("loco", "+x+y+z"), 0.0),
        (FixedPlace("loco", "-x-y+z"), math.inf),
        (FixedPlace("loco", offset=(20, 10, FLOOR)), 0.0),
        (FixedPlace("loco", offset=(20, 12, FLOOR - 3)), 3.0),
        (FixedPlace("loco", offset=(21, 10, FLOOR)), 1.0),
        (FixedPlace("loco", towards=(("+x", "+x"),)), 0.0),
        (FixedPlace("loco", towards=(("+x", "+x"), ("+x", "-x"))), math.inf),
        (FixedPlace("loco", towards=(("plug", "-y"),)), 0.0),
        (FixedPlace("loco", towards=(("plug", "+z"),)), math.inf),
        (FixedPlace("loco", planes=(("-x", 20.0), ("+x", 40.0))), 0.0),
        (FixedPlace("loco", planes=(("-x", 18.0), ("+z", FLOOR + 5.5))), 2.0),
    ],
)
def test_how_far_a_part_lies_from_where_it_is_fixed(fixed: FixedPlace, away: float) -> None:
    """The board lies 20 to 40 mm along, its console at -y; the second socket does not count as its plug."""
    access = (
        Access("lid", "switch", "+z", True),
        Access("c", "console", "-y", True),
        Access("s", "socket", "+z", True),
    )
    placement = replace(plan().built.placements[0], part=replace(BOARD, access=access))
    assert _away_from(fixed, placement) == pytest.approx(away)
    bare = replace(placement, part=BOARD)
    if fixed.towards and fixed.towards[0][0] == "plug":
        assert math.isinf(_away_from(fixed, bare))


# -- couplings, nets, pins ---------------------------------------------------------------------------------


def coupled(**changes: Any) -> Plan:
    (one,) = plan().built.harness.crossings
    return harness_with(plan(), crossings=(replace(one, **changes),))


def test_a_coupling_has_one_name_and_joins_neighbours() -> None:
    assert told(check_couplings, plan().built) == []
    (one,) = plan().built.harness.crossings
    found = told(check_couplings, harness_with(plan(), crossings=(one, one)).built)
    assert found == [("loco to wagon", "two crossings have this name")]
    turned = coupled(ahead="wagon", behind="loco", port_ahead="front hole", port_behind="rear hole")
    words = "joins wagon to loco, which do not follow it"
    assert (one.name, words) in told(check_couplings, turned.built)


def test_clips_are_set_where_it_hangs_too_low() -> None:
    """16.4 mm above the rail: none at a least of 16.4 mm, one at more."""
    (one,) = plan().built.harness.crossings
    for least, clip in ((one.sag_above_rail_mm, False), (one.sag_above_rail_mm + 0.1, True)):
        slack = replace(plan().built.train.wiring.coupling_slack, above_rail=least)
        for said in (False, True):
            made = coupled(clip=said)
            made = train_with(made, wiring=replace(made.built.train.wiring, coupling_slack=slack))
            words = f"16.4 mm above the rail, and clip is {said}"
            assert told(check_couplings, made.built) == ([] if said is clip else [(one.name, words)])


def test_vehicles_that_cannot_be_posed_are_taken_on_trust() -> None:
    """Axles at one place; a curve tighter than three quarters of the longest wheelbase."""
    loco, wagon = plan().built.train.vehicles

    def with_axles(at: tuple[float, ...], radius: float = 320.0) -> list[str]:
        wheels = replace(wagon.vehicle.wheels, at=at, driven=(False,) * len(at))
        made = train_with(
            plan(), vehicles=(loco, replace(wagon, vehicle=replace(wagon.vehicle, wheels=wheels)))
        )
        made = train_with(made, track=replace(made.built.train.track, radius=radius))
        return trusted(check_couplings, made.built)

    assert with_axles((20.0, 60.0)) == []
    assert with_axles((40.0, 40.0)) == ["lengths over loco to wagon"]
    spans = max(40.0, max(loco.vehicle.wheels.at) - min(loco.vehicle.wheels.at))
    assert with_axles((20.0, 60.0), 0.75 * spans - 0.1) == ["lengths over loco to wagon"]


def test_nets_are_those_of_the_train_and_in_one_piece() -> None:
    made = wire_with(plan(), 1, net="nothing")
    assert ("nothing", "has wires but is no net of the train") in told(check_nets, made.built)
    ends = [WireEnd("splice", name, "", "loco", SPLICE_AT, 8.0) for name in ("S2", "S3")]
    apart = replace(WIRES[3], number=9, start=ends[0], end=ends[1])
    found = [
        one
        for one in problems(check_nets, harness_with(plan(), wires=(*WIRES, apart)).built)
        if one.subject == "net"
    ]
    assert [(one.where, one.message, one.figure) for one in found] == [
        ("ground", "falls apart into 2 pieces", 2)
    ]


def pins_told(rows: tuple[PinUse, ...], *stops: Any) -> list[tuple[str, str]]:
    return told(check_pin_map, built_with(plan(), pin_map=rows).built, stops)


def test_rows_of_the_pin_map_do_what_there_is() -> None:
    (row,) = plan().built.pin_map
    assert pins_told((row,)) == []
    strange = replace(row, does="juggle")
    assert pins_told((strange,)) == [("board.OUT", "is said to do 'juggle', which no pin does")]
    both = replace(row, does="output and juggle")
    assert pins_told((both,)) == [("board.OUT", "is said to do 'output and juggle', which no pin does")]
    nowhere = replace(row, pin="A7")
    assert pins_told((nowhere, strange))[:2] == [
        ("board.A7", "is no pin of the train"),
        ("board.OUT", "is said to do 'juggle', which no pin does"),
    ]
    assert ("board", "light is on 2 of its pins") in pins_told((row, row))
    assert pins_told(()) == [("board", "has no pin for light, and no finding says so")]


# -- figures, lists, findings ------------------------------------------------------------------------------

FAR = 20_000.0


def measured(made: Plan) -> list[tuple[str, str]]:
    sheet = Tally()
    held = can_be_measured(made, sheet)
    found = [(one.where, one.message) for one in sheet.report().problems]
    assert held == (not found)
    return found


def shaped(**changes: Any) -> Plan:
    loco, wagon = plan().built.train.vehicles
    return train_with(plan(), vehicles=(replace(loco, vehicle=replace(loco.vehicle, **changes)), wagon))


def _shape() -> Vehicle:
    return plan().built.train.vehicles[0].vehicle


def far(value: float) -> list[tuple[str, str, Plan]]:
    """Plans with one figure each, where it stands, and how it is told."""
    shape = _shape()
    box = Box((0, 0, 0), (1, 1, value))
    lies = FitPlace("board", "board", Place(pose_named("+x+y+z"), (0, 0, value)))
    row = FitRow("board", "board", "loco", "fits", "", "", places=(lies,))
    step = AssemblyStep(1, "board", "loco", "roof", (("-z", value),))
    with_it = SubassemblyPart("cell", (("-z", value),))
    leg = replace(WIRES[0].legs[0], points=((0.0, 0.0, value), *WIRES[0].legs[0].points[1:]))
    stretch, splice = plan().built.harness.stretches[0], plan().built.harness.splices[0]
    (crossing,) = plan().built.harness.crossings
    pin = replace(BOARD.pins[0], at=(0.0, value, 0.0))
    return [
        ("body", "loco", shaped(body=(*shape.body, replace(shape.body[0], solid=box)))),
        ("opening", "loco", shaped(openings=(replace(shape.openings[0], box=box),))),
        (
            "window",
            "loco",
            shaped(windows=(replace(plan().built.train.vehicles[1].vehicle.windows[0], box=box),)),
        ),
        ("port", "loco", shaped(ports=(replace(shape.ports[0], box=box),))),
        ("coupling", "loco", shaped(couplings=(replace(shape.couplings[0], length=value),))),
        ("wheels", "loco", shaped(wheels=replace(shape.wheels, wheel_radius=value))),
        ("built in", "loco", shaped(built_in=(replace(shape.built_in[0], solids=(box,)),))),
        ("base", "loco", shaped(base=value)),
        ("top", "loco", shaped(top=value)),
        ("place", "board", placed_with(plan(), "board", place=Place(pose_named("+x+y+z"), (value, 0, 0)))),
        ("shelf", "board", placed_with(plan(), "board", shelf=Shelf("plates", (Piece("plate", box),), 1))),
        ("envelope", "board", placed_with(plan(), "board", part=replace(BOARD, envelope=(box,)))),
        (
            "clearance",
            "board",
            placed_with(
                plan(), "board", part=replace(BOARD, clearances=(replace(BOARD.clearances[0], solid=box),))
            ),
        ),
        ("pin", "board", placed_with(plan(), "board", part=replace(BOARD, pins=(pin,)))),
        ("mount", "eye", placed_with(plan(), "eye", part=replace(EYE, mount=replace(EYE.mount, lens=box)))),
        ("wire", "wire 1", wire_with(plan(), 1, legs=(leg, WIRES[0].legs[1]))),
        ("stretch", "B1", harness_with(plan(), stretches=(replace(stretch, length_mm=value),))),
        ("splice", "S1", harness_with(plan(), splices=(replace(splice, at=(value, 0.0, 0.0)),))),
        ("crossing", "loco to wagon", harness_with(plan(), crossings=(replace(crossing, free_mm=value),))),
        ("move", "step 1", replace(plan(), assembly=(step,))),
        (
            "together",
            "step 1",
            replace(plan(), assembly=(replace(step, moves=(("-z", 1.0),), together=(with_it,)),)),
        ),
        ("row", "row of board", replace(plan(), fit=(row,))),
    ]


@pytest.mark.parametrize("number", range(22))
def test_each_figure_is_of_a_models_size(number: int) -> None:
    assert measured(far(FAR)[number][2]) == []
    for value in (FAR + 1, -FAR - 1, math.nan, math.inf):
        _, where, made = far(value)[number]
        assert measured(made) == [(where, f"holds the figure {value:g}; nothing more was checked")]


def test_footprints_and_bodies_are_of_a_models_size(monkeypatch: pytest.MonkeyPatch) -> None:
    words = "holds a footprint of {} × {} studs; nothing more was checked"
    for long, wide, held in (
        (1, 100_000, True),
        (11, 9091, False),
        (0, 6, False),
        (-2, -3, False),
        (10, 0, False),
    ):
        assert measured(shaped(studs_long=long, studs_wide=wide)) == (
            [] if held else [("loco", words.format(long, wide))]
        )
    most = max(len(entry.vehicle.body) for entry in plan().built.train.vehicles)
    monkeypatch.setattr(measure, "MOST_SOLIDS", most)
    assert measured(plan()) == []
    monkeypatch.setattr(measure, "MOST_SOLIDS", len(_shape().body) - 1)
    assert ("loco", f"holds a body of {len(_shape().body)} solids; nothing more was checked") in measured(
        plan()
    )


def test_five_such_figures_are_told_and_how_many_more() -> None:
    wires = tuple(replace(one, bare_mm=math.inf) for one in WIRES)
    for vehicles, rest in ((1, 0), (2, 1)):
        entries = tuple(
            replace(entry, vehicle=replace(entry.vehicle, top=math.inf)) if n < vehicles else entry
            for n, entry in enumerate(plan().built.train.vehicles)
        )
        found = measured(train_with(harness_with(plan(), wires=wires), vehicles=entries))
        assert len(found) == 5 + rest
        assert ("plan", "and 1 more such figures") in found or not rest


def test_nothing_is_not_a_number() -> None:
    assert told(no_number_missing, plan()) == []
    wrong = "holds a figure that is not a number"
    assert told(no_number_missing, wire_with(plan(), 2, drop_v=math.nan)) == [("harness", wrong)]
    outcome = Outcome("wire", (), tables=(Table("t", ("a",), ((math.nan,),)),))
    assert told(no_number_missing, replace(plan(), outcomes=(outcome,))) == [("results", wrong)]
    assert counted(no_number_missing, plan()) == {"figures that are numbers": 2}


def listed(said: MeterPlan, fresh: MeterPlan) -> list[tuple[str, str]]:
    made = replace(plan(), meter=said, outcomes=(Outcome("wire", ()),))
    return told(check_lists, made, lambda: (fresh, ()))


def test_what_a_sequence_covers_and_why_it_is_held_back() -> None:
    plain = MeterPlan()
    assert listed(plain, plain) == []
    other = replace(plain, coverage=replace(MeterCoverage(), **{_first_number(): 7}))
    wrong = ("coverage", "is not what the sequence covers when it is made again")
    assert listed(other, plain) == listed(plain, other) == [wrong]
    held = replace(plain, held="the cells are shorted")
    assert listed(plain, held) == [("sequence", "is held back for another reason: the cells are shorted")]
    assert listed(held, plain) == [("sequence", "is held back for another reason: none")]


def _first_number() -> str:
    return next(name for name, value in vars(MeterCoverage()).items() if isinstance(value, int))


def test_tables_and_plots_are_those_of_a_second_run() -> None:
    table = Table("t", ("a",), ((1.0,), ("x",)))
    plot = Plot("p", "x", "y", (Curve("c", (0.0, 1.0), (2.0, 3.0)),), (("limit", 4.0),))
    sound = Outcome("wire", (), (table,), (plot,))

    def compared(said: Outcome, fresh: Outcome) -> list[str]:
        made = replace(plan(), outcomes=(said,))
        found = problems(check_findings, made, lambda: (fresh,))
        return [
            one.message.split(" that ")[0]
            for one in found
            if "has a table" in one.message or "has a plot" in one.message
        ]

    assert compared(sound, sound) == []
    for changed in (
        replace(table, rows=((1.0,), ("y",))),
        replace(table, rows=table.rows[:1]),
        replace(table, title="u"),
    ):
        assert compared(replace(sound, tables=(changed,)), sound) == ["has a table"]
    assert compared(replace(sound, tables=()), sound) == ["has a table"]
    assert compared(replace(sound, tables=(table, table)), sound) == ["has a table"]
    for other in (replace(plot, limits=()), replace(plot, curves=(Curve("c", (0.0, 1.0), (2.0, 3.1)),))):
        assert compared(replace(sound, plots=(other,)), sound) == ["has a plot"]
    assert compared(replace(sound, plots=()), sound) == ["has a plot"]


# -- ways out, work ----------------------------------------------------------------------------------------


def slid(need: str, moves: Moves, *, apart_from: tuple[str, ...] = ()) -> list[str]:
    """What is told of a part that slides out of the open roof, or off others outside."""
    site = sites_of(plan().built)["loco"]
    by_name = {one.name: one for one in site.parts}
    mover, sheet = Mover(need, by_name[need].envelope), Tally()
    if apart_from:
        slide_apart(site, mover, moves, [by_name[name] for name in apart_from], sheet, "assembly")
    else:
        slide_out(site, mover, moves, (), (), site.vehicle.openings[0], sheet, "assembly")
    return [one.message for one in sheet.report().problems]


def test_a_step_has_moves_and_ends_outside() -> None:
    assert slid("board", (("+z", 40.0),)) == []
    for moves in ((), (("+z", 45.0), ("-z", -1.0))):
        assert slid("board", moves) == ["the step of board has no moves"]
    # The roof ends 35.2 mm above the floor on which the board lies.
    assert slid("board", (("+z", 35.3),)) == []
    assert slid("board", (("+z", 35.1),)) == ["board is not yet out of the hull after its moves"]


def test_what_goes_in_as_one_comes_apart_outside() -> None:
    """The cell lies 8 mm above the board in y: along x it must pass all of it, 20 mm from 16 to 40."""
    assert slid("cell", (("+y", 1.0),), apart_from=("board",)) == []
    away = "cell is not yet off the others after its moves"
    assert slid("cell", (("-y", 9.0),), apart_from=("board",))[-1] == away
    assert slid("cell", (("+x", 30.0), ("-y", 20.0)), apart_from=("board",)) == []


def test_work_that_has_no_steps() -> None:
    """A plan with a list to buy and something to build has an order of work; else its lack is noted."""
    bought = replace(plan(), buying=(Article("electronics", "lamp", 1.0, 0.0, "pcs", ("lamp",)),))
    for made, wrong in ((plan(), False), (bought, True), (harness_with(bought, wires=()), True)):
        assert told(check_work, made, sites_of(made.built)) == ([("order", "has no steps")] if wrong else [])
    bare = built_with(harness_with(bought, wires=()), placements=())
    assert told(check_work, bare, sites_of(bare.built)) == []
    wires_only = built_with(bought, placements=())
    assert told(check_work, wires_only, sites_of(wires_only.built)) == [("order", "has no steps")]


# -- ends that come out, joints, interrupters, lead-outs ---------------------------------------------------


def comes_out(often: bool = False, wanted: bool = False, *entries: Exchanged) -> bool:
    """Whether a loop is asked for at the lamp's pin, whose part has an access that is used so."""
    access = (Access("lid", "switch", "+z", often),)
    made = placed_with(plan(), "lamp", part=replace(LAMP, access=access))
    made = needs_with(made, "lamp", exchange=Exchange(wanted=wanted))
    return _comes_out(built_with(made, exchanged=entries).built, WIRES[0].end)


def test_ends_at_what_comes_out_have_a_loop() -> None:
    """What is used often, is to be exchanged, or comes out itself or for what is exchanged often."""
    out, eye, hand = (WayOut(parts, "roof", (("+z", 40.0),)) for parts in (("lamp",), ("eye",), ()))
    mine = Exchanged("lamp", "wagon", "lid", False, True, last=out)
    other = Exchanged("eye", "wagon", "lid", False, True, first=(out,), last=eye)
    assert not comes_out()
    assert comes_out(often=True)
    assert comes_out(wanted=True)
    assert comes_out(False, False, mine)
    assert not comes_out(False, False, replace(mine, last=hand))
    assert not comes_out(False, False, other)
    assert comes_out(False, False, replace(other, often=True))
    assert not comes_out(False, False, replace(other, often=True, first=()))
    assert comes_out(False, False, replace(other, often=True, first=(), last=out))
    assert comes_out(False, False, replace(other, first=()), mine)
    # Its own button is come by with it in its place, after it came out for something else.
    assert not comes_out(False, False, replace(mine, first=(out,), last=hand))
    built = plan().built
    assert not _comes_out(built, replace(WIRES[0].end, kind="splice"))
    assert not _comes_out(built, replace(WIRES[0].end, owner="loco/motor"))


@pytest.mark.parametrize("by", [-0.11, -0.09, 0.09, 0.11])
def test_the_straight_distance_over_a_joint_is_told_to_a_tenth(by: float) -> None:
    (one,) = plan().built.harness.crossings
    found = problems(check_couplings, coupled(straight_mm=one.straight_mm + by).built)
    assert [(p.message, p.figure) for p in found] == (
        [(f"says {one.straight_mm + by:.1f} mm on straight track; it is 8.0 mm", pytest.approx(0.11))]
        if abs(by) > 0.1
        else []
    )


def test_a_pin_that_is_still_to_be_chosen_is_missed_where_something_else_is_there() -> None:
    """Of a net of the board alone nobody asks for a pin; beside a lamp it is no pin, and must be told."""
    bare = built_with(plan(), pin_map=())
    missed = ("light", "board.* is no pin, and the plan does not say so")
    assert missed in told(check_nets, bare.built)
    lost = Unreached("light", "board", "", "no pin is left")
    assert missed not in told(check_nets, harness_with(bare, unreached=(lost,)).built)
    left = tuple(one for one in plan().built.placements if one.need != "lamp")
    assert missed not in told(check_nets, built_with(bare, placements=left).built)


@pytest.mark.parametrize(
    ("kinds", "idle"),
    [
        (("switch", "switch"), set()),
        (("fuse", "fuse"), set()),
        (("switch", "fuse"), {"one", "two"}),
        (("switch", "link"), {"one"}),
        (("fuse", "link"), {"one"}),
    ],
)
def test_switches_and_fuses_side_by_side(kinds: tuple[str, str], idle: set[str]) -> None:
    """Two of one kind interrupt together; beside a link or another kind nothing is interrupted."""
    things = {
        "switch": switch(),
        "fuse": fuse(),
        "link": part_of("link", pins=[pin_of("a", "supply"), pin_of("b", "supply")]),
    }
    one, two = (things[kind] for kind in kinds)
    parts = {"cells": cells(), "one": one, "two": two, "board": board()}
    nets = (
        net_of("ground", "ground", "cells.minus", "board.GND"),
        net_of("plus", "supply", "cells.plus", "one.a", "two.a"),
        net_of("on", "supply", "one.b", "two.b", "board.VIN"),
    )
    made = circuit_of(parts, nets)
    found = {p.where for p in problems(check_switched_on, made, ()) if "interrupts nothing" in p.message}
    assert found == idle


def test_a_board_without_a_regulator_makes_its_low_rail_of_five_volts() -> None:
    """One whose own regulator gives 3.3 V makes no second one from its 5 V pin."""
    nets = (
        net_of("ground", "ground", "cells.minus", "board.GND"),
        net_of("plus", "supply", "cells.plus", "board.5V"),
    )
    bench = switched_on(circuit_of({"cells": cells(3), "board": board(regulator=None)}, nets))
    low = bench.volts["board", "3V3"] - bench.volts["", "ground"]
    assert low == pytest.approx(3.3, abs=0.02)
    rails = [one for one in bench.branches if one.kind == "regulator"]
    assert [(one.high, one.input) for one in rails] == [(("board", "3V3"), ("board", "5V"))]


@pytest.mark.parametrize("entered", ["VIN", "USB"])
def test_a_board_is_fed_by_whichever_of_its_raw_pins_is_joined(entered: str) -> None:
    """One for wires and one in a socket, both ahead of its regulator: the source gives what it draws."""
    made = board()
    raw = next(one for one in made.pins if one.role == "raw")
    pins = tuple(one for one in made.pins if one.role != "raw")
    pins += (replace(raw, name="VIN"), replace(raw, name="USB", socket="micro-B"))
    nets = (
        net_of("ground", "ground", "cells.minus", "board.GND"),
        net_of("plus", "supply", "cells.plus", f"board.{entered}"),
    )
    built = circuit_of({"cells": cells(6), "board": replace(made, pins=pins)}, nets)
    bench = switched_on(built)
    (source,) = [one for one in bench.branches if one.kind == "source"]
    assert abs(bench.current_ma(source)) > 0.5
    assert not [one for one in problems(check_switched_on, built, ()) if "feeds nothing" in one.message]


@pytest.mark.parametrize(("deep", "words"), [(0.15, ""), (0.25, "0.3"), (1.05, "1.1")])
def test_a_lead_out_may_graze_what_is_not_its_own(deep: float, words: str) -> None:
    """By up to two points a tenth apart; more is told with how far it runs in it."""
    x, y, z = WIRES[0].start.at
    thing = part("thing", Box((0, 0, 0), (deep, 4, 4)), mount=Mount(needs_support=False))
    placed = (*plan().built.placements, put("thing", thing, "loco", (x + 2.0, y - 2, z - 2)))
    made = built_with(train_with(plan(), needs=(*NEEDS, Need("thing", (thing,)))), placements=placed)
    found = [one for one in of_wires(made) if "through thing" in one[1] and "lead-out" in one[1]]
    assert [one[1] for one in found] == (
        [f"its lead-out at board runs {words} mm through thing"] if words else []
    )


def test_round_things_across_each_other_meet_only_inside_a_box() -> None:
    """One along x, one along y, both through a point; a box beside either holds nothing of both."""
    along, across = Prism(0, Disc((0.0, 0.0), 2.0), -5, 5), Prism(1, Disc((0.0, 0.0), 2.0), -5, 5)
    assert overlap(along, across)
    assert overlap(along, across, Box((-1, -1, -1), (1, 1, 1)))
    assert not overlap(along, across, Box((2.5, -1, -1), (4, 1, 1)))
    assert not overlap(along, across, Box((-1, 2.5, -1), (1, 4, 1)))
    assert not overlap(along, across, Box((-1, -1, 2.5), (1, 1, 4)))
    assert not overlap(along, Prism(1, Disc((0.0, 4.1), 2.0), -5, 5))
