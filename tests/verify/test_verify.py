"""A plan that holds, and the same plan with one thing wrong at a time."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from fitplan.model.electrical import Connector
from fitplan.model.needed import FixedPlace
from fitplan.model.part import Clearance, Mount
from fitplan.model.pins_used import PinUse
from fitplan.model.placed import Piece, Placement, Rebuild, Shelf
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.model.ways_in import AssemblyStep
from fitplan.model.wired import Leg, Unreached, Wire, WireEnd
from fitplan.verify import Problem, verify
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, standing
from fitplan.verify.wires import leg_is_free

from .two_vehicles import BOARD, FLOOR, LAMP, LAMP_IN, SPLICE_AT, loco, part, plan, put

PAIR = Connector(cavities=2, awg_min=22, awg_max=30, max_ma=1000.0, keyed=True)


COUNTED = {
    "figures of a model's size": 1,
    "figures that are numbers": 2,
    "needs": 5,
    "parts inside their vehicle's hull": 5,
    "envelope solids against a body": 6,  # the board has two
    "clearances against a body": 1,
    "things built in against bricks": 1,
    "pairs of parts": 4,  # three in the loco, one in the wagon
    "pairs of envelope solids": 6,
    "clearances against parts": 2,  # the board's plug against two neighbours
    "parts against their needs": 5,
    "poses against mount rules": 5,
    "parts carried from below": 4,  # the eye needs no support
    "parts on faces": 1,
    "lenses at windows": 1,
    "wires": 4,
    "wire ends": 8,
    "straight pieces of wires": 24,
    "lead-outs": 5,
    "wire lengths": 4,
    "taut ways": 6,  # two wires in two vehicles, two in one
    "conductors": 4,
    "allowances": 32,  # eight of each wire
    "nets of one kind of wire": 2,
    "companies of colours": 3,  # two stretches and a coupling
    "nets": 2,
    "pins joined": 5,
    "pins with wires": 5,
    "splices": 1,
    "rows of the pin map": 1,
    "pins of the circuit": 4,
    "branches of the circuit": 4,
    "rows of the pin map worked out": 1,
    "ends that the pin map fills": 1,
    "crossings": 1,
    "stretches": 2,
    "ports with wires": 2,
    "stretches where wires run": 2,
    "joints posed": 1,
    "bundles over couplings": 1,
    "orders of cavities": 1,
    "steps in order": 5,
    "assembly steps replayed": 5,
    "swept solids": 9,
    "verdicts": 1,
    "ports that wires go through": 2,
}
"""How much of each kind there is in the plan drawn up by hand."""


def with_built(old: Plan, **changes: object) -> Plan:
    return replace(old, built=replace(old.built, **changes))


def with_place(old: Plan, need: str, **changes: object) -> Plan:
    placements = tuple(
        replace(entry, **changes) if entry.need == need else entry for entry in old.built.placements
    )
    return with_built(old, placements=placements)


def shifted(old: Plan, need: str, x: float, y: float, z: float) -> Plan:
    place = next(entry.place for entry in old.built.placements if entry.need == need)
    at = place.offset
    return with_place(old, need, place=Place(place.pose, (at[0] + x, at[1] + y, at[2] + z)))


def turned(old: Plan, need: str, pose: str, offset: tuple[float, float, float]) -> Plan:
    return with_place(old, need, place=Place(pose_named(pose), offset))


def with_harness(old: Plan, **changes: object) -> Plan:
    return with_built(old, harness=replace(old.built.harness, **changes))


def with_wire(old: Plan, number: int, change: Callable[[Wire], Wire]) -> Plan:
    wires = old.built.harness.wires
    return with_harness(old, wires=tuple(change(w) if w.number == number else w for w in wires))


def with_leg(old: Plan, number: int, which: int, change: Callable[[Leg], Leg]) -> Plan:
    def one(wire: Wire) -> Wire:
        return replace(
            wire, legs=tuple(change(leg) if i == which else leg for i, leg in enumerate(wire.legs))
        )

    return with_wire(old, number, one)


def with_body(old: Plan, name: str, *solids: BodySolid) -> Plan:
    vehicles = tuple(
        replace(entry, vehicle=replace(entry.vehicle, body=(*entry.vehicle.body, *solids)))
        if entry.name == name
        else entry
        for entry in old.built.train.vehicles
    )
    return with_built(old, train=replace(old.built.train, vehicles=vehicles))


def with_vehicle(old: Plan, name: str, change: Callable[[Vehicle], Vehicle]) -> Plan:
    vehicles = tuple(
        replace(entry, vehicle=change(entry.vehicle)) if entry.name == name else entry
        for entry in old.built.train.vehicles
    )
    return with_built(old, train=replace(old.built.train, vehicles=vehicles))


def with_steps(old: Plan, *steps: AssemblyStep) -> Plan:
    numbers = {step.number for step in steps}
    kept = tuple(step for step in old.assembly if step.number not in numbers)
    return replace(old, assembly=(*kept, *steps))


def found(broken: Plan, subject: str, words: str) -> Problem:
    """The one problem of a subject whose message has these words."""
    report = verify(broken)
    assert not report.holds
    assert "does not hold" in report.summary
    matching = [p for p in report.problems if p.subject == subject and words in p.message]
    assert matching, report.problems
    return matching[0]


def test_the_plan_holds_and_says_what_was_checked() -> None:
    """Nothing is wrong with the plan drawn up by hand, and every sort of check had something to do."""
    report = verify(plan())
    assert report.problems == ()
    assert report.holds
    counts = {entry.what: entry.count for entry in report.checked}
    assert counts == COUNTED
    assert {(entry.what, entry.count) for entry in report.trusted} == {
        ("shortest ways of wires", 6),
        ("which wires share a stretch", 2),
        ("that wires lie side by side", 2),
        ("words of what carries parts", 5),
        ("vehicles, needs, nets and parts", 7),
    }
    assert report.summary.startswith(
        f"The plan holds. {sum(counts.values())} checks: 5 needs, 4 pairs of parts"
    )


def test_parts_that_overlap() -> None:
    """The round cell moved onto the board's edge: 3-4-5 says that it must give way by 0.5 mm."""
    problem = found(shifted(plan(), "cell", 0, -9.5, 0), "overlap", "board and cell")
    assert problem.figure == pytest.approx(0.5, abs=3e-3)
    assert problem.unit == "mm"
    assert problem.where == "loco"


@pytest.mark.parametrize(("by", "holds"), [(0.0005, True), (0.002, False)])
def test_a_thousandth_of_a_millimetre_is_the_tolerance(by: float, holds: bool) -> None:
    """A part half a thousandth in the wall passes, two thousandths do not."""
    old = shifted(plan(), "lamp", -12 - by, 0, 0)
    problems = [p for p in verify(old).problems if p.subject == "body"]
    assert (problems == []) is holds


def test_a_part_in_the_wall() -> None:
    """The lamp 1.5 mm in the wall: how deep, and in what."""
    problem = found(shifted(plan(), "lamp", -13.5, 0, 0), "body", "lamp runs")
    assert problem.figure == pytest.approx(1.5, abs=1e-3)
    assert "fixed bricks" in problem.message


def test_a_part_in_something_built_in() -> None:
    """The emitter 0.4 mm in the motor that it sits on."""
    problem = found(shifted(plan(), "emitter", 0, 0, -0.4), "body", "built-in motor")
    assert problem.figure == pytest.approx(0.4, abs=1e-3)


def test_keep_clear_space_is_kept() -> None:
    """Where a link moves, no part may be, though nothing solid is there."""
    old = with_body(plan(), "wagon", BodySolid(Box((22, 20, FLOOR), (24, 30, FLOOR + 2)), "keep-clear"))
    assert found(old, "body", "lamp runs").message.startswith("lamp runs 2.000 mm into keep-clear space")


def test_a_removable_brick_is_in_the_way_until_it_is_out() -> None:
    """A part in a removable brick is a fault; with the brick taken out by a rebuild it is none."""
    old = shifted(plan(), "emitter", 8, -22, -10.8)
    assert "removable shelf brick" in found(old, "body", "emitter runs").message
    rebuilt = with_built(old, rebuilds=(Rebuild("loco", ("shelf brick",), (), 2.0, 2.0, "carried"),))
    assert [p for p in verify(rebuilt).problems if p.subject == "body"] == []
    cheap = with_built(old, rebuilds=(Rebuild("loco", ("shelf brick",), (), 1.5, 1.5, "carried"),))
    assert found(cheap, "rebuild", "its bricks cost 2").figure == pytest.approx(0.5)
    wrong = with_built(old, rebuilds=(Rebuild("loco", ("roof beam",), (), 2.0, 2.0, "carried"),))
    found(wrong, "rebuild", "no removable brick")


def test_studs_stand_on_a_studded_floor() -> None:
    """On a studded floor a part laid flat on the floor runs 1.7 mm into the studs."""
    old = with_vehicle(plan(), "wagon", lambda vehicle: replace(vehicle, floor_finish="studded"))
    problem = found(old, "body", "lamp runs")
    assert "a floor stud" in problem.message
    assert problem.figure == pytest.approx(1.7, abs=1e-3)


def test_clearances_are_kept() -> None:
    """A lamp in front of the plug, and a wall in it."""
    old = with_place(plan(), "lamp", vehicle="loco", place=Place(pose_named("+x+y+z"), (42.5, 10.0, FLOOR)))
    problem = found(old, "clearance", "lamp stands")
    assert "the plug clearance of board" in problem.message
    assert problem.figure == pytest.approx(1.5, abs=1e-3)
    walled = with_body(plan(), "loco", BodySolid(Box((43, 8, FLOOR), (45, 12, FLOOR + 8)), "fixed"))
    assert found(walled, "clearance", "plug clearance of board").figure == pytest.approx(1.0, abs=2e-3)


def test_what_stands_out_of_the_hull() -> None:
    """A part above the roof stands out of the hull by so much."""
    assert found(shifted(plan(), "lamp", 0, 0, 40), "hull", "along z").figure == pytest.approx(10.8)


def block(box: Box) -> Shelf:
    """Something printed that carries a part."""
    return Shelf("block", (Piece("block", box),), 0)


def test_a_wire_does_not_run_through_what_carries_a_part() -> None:
    """A block in the way of the wire to the port is told with the wire's number."""
    old = with_place(plan(), "board", shelf=block(Box((4, 20, 21), (9, 28, 24))))
    assert "what carries board" in found(old, "wire", "what carries board").message


def test_a_shelf_takes_room_too() -> None:
    """A shelf drawn into the wall, and one drawn into a part."""
    in_wall = with_place(plan(), "eye", shelf=block(Box((6, 20, 30), (12, 28, 34))))
    assert found(in_wall, "shelf", "fixed bricks").where == "wagon"
    in_part = with_place(plan(), "eye", shelf=block(Box((20, 20, FLOOR), (24, 28, 30))))
    assert "runs into lamp" in found(in_part, "shelf", "runs into lamp").message


def test_nothing_floats() -> None:
    """A lamp 0.5 mm above the floor is carried by nothing; on a shelf it is."""
    old = shifted(plan(), "lamp", 0, 0, 0.5)
    found(old, "support", "under lamp")
    shelf = with_place(old, "lamp", shelf=block(Box((20, 20, FLOOR), (26, 26, FLOOR + 0.5))))
    assert [p for p in verify(shelf).problems if p.subject == "support"] == []


def test_what_would_tip_is_noted() -> None:
    """A part on a brick under one edge only is noted, where the plan itself says that it would tip."""
    post = BodySolid(Box((20, 20, FLOOR), (21, 26, FLOOR + 5)), "fixed")
    old = shifted(with_body(plan(), "wagon", post), "lamp", 0, 0, 5)
    assert "is said to stand" in found(old, "support", "beside what carries it").message
    old = with_place(old, "lamp", steady=False)
    report = verify(old)
    assert [p for p in report.problems if p.subject == "support"] == []
    assert [n.message for n in report.notes if n.subject == "support"] == [
        "lamp is carried on one side only: fix it against tipping"
    ]


def test_looks_out_of_its_window() -> None:
    """Beside the window's outline, behind the wall, and turned away: each is told."""
    assert found(shifted(plan(), "eye", 0, 8, 0), "mount", "outside the window").figure == pytest.approx(2.0)
    assert found(shifted(plan(), "eye", 9, 0, 0), "mount", "out of the wall").figure == pytest.approx(6.0)
    assert "does not look" in found(turned(plan(), "eye", "+x+y+z", (10, 20, 34)), "mount", "eye").message


def test_the_view_is_free() -> None:
    """A post across the middle of the window is a fault; one at its edge is noted."""
    across = BodySolid(Box((0, 23, 32), (2, 25, 44)), "fixed")
    assert found(with_body(plan(), "wagon", across), "view", "eye").figure == pytest.approx(2.0, abs=0.01)
    edge = BodySolid(Box((0, 25.5, 32), (2, 32, 44)), "fixed")
    report = verify(with_body(plan(), "wagon", edge))
    assert [p for p in report.problems if p.subject == "view"] == []
    assert [n.figure for n in report.notes if n.subject == "view"] == [pytest.approx(0.4, abs=0.01)]


def test_sits_on_its_face() -> None:
    """Above the face, beside it, and turned over: each is told."""
    assert found(shifted(plan(), "emitter", 0, 0, 0.4), "mount", "plane of top").figure == pytest.approx(0.4)
    assert found(shifted(plan(), "emitter", 6, 0, 0), "mount", "beside top").figure == pytest.approx(3.0)
    over = turned(plan(), "emitter", "+x-y-z", (57, 35, 34))
    assert "does not turn its sitting side" in found(over, "mount", "emitter").message


def test_stands_upright() -> None:
    """A board on its edge breaks its mount rule; pinned there by the user it is only noted."""
    old = turned(plan(), "board", "+x+z-y", (20, 20, FLOOR + 10))
    found(old, "mount", "board must stand upright")
    upright = FixedPlace("loco", "+x+z-y", (20.0, 20.0, FLOOR + 10))
    needs = tuple(
        replace(need, pinned=upright) if need.name == "board" else need for need in old.built.train.needs
    )
    pinned = with_built(old, train=replace(old.built.train, needs=needs))
    report = verify(pinned)
    assert [p for p in report.problems if p.subject == "mount"] == []
    assert "board must stand upright" in [n.message for n in report.notes]
    elsewhere = shifted(pinned, "board", 1, 0, 0)
    assert found(elsewhere, "need", "not where it was pinned").figure == pytest.approx(1.0)


def test_needs_are_served() -> None:
    """A part that was not asked for, one in a wrong vehicle, one missing, one placed twice."""
    other = replace(BOARD, id="other board")
    assert "other board" in found(with_place(plan(), "board", part=other), "need", "not among").message
    found(with_place(plan(), "board", vehicle="wagon"), "need", "not in loco")
    old = plan()
    less = with_built(old, placements=old.built.placements[1:])
    found(less, "need", "the plan does not say so")
    owned = [
        p for p in verify(replace(less, unplaced=(("board", "too long"),))).problems if p.where == "board"
    ]
    assert [p for p in owned if p.subject == "need"] == []
    twice = with_built(old, placements=(*old.built.placements, old.built.placements[0]))
    assert found(twice, "need", "placed 2 times").figure == 2
    found(replace(old, unplaced=(("board", "too long"),)), "need", "says it has none")


def test_a_wire_through_a_part() -> None:
    """Wire 3 led through the lamp's middle height, and one that only comes too near the cell."""
    through = with_leg(
        plan(), 3, 1, lambda leg: replace(leg, points=((79.6, 24.0, 22.0), (10.0, 23.0, 22.0), LAMP_IN))
    )
    assert "of lamp near" in found(through, "wire", "its middle line comes within 0.000 mm").message
    near = with_leg(
        plan(),
        1,
        0,
        lambda leg: replace(
            leg, points=(leg.points[0], (44.0, 15.0, 20.4), (44.0, 27.9, 24.2), (0.4, 27.9, 22.0))
        ),
    )
    problem = found(near, "wire", "of cell near")
    assert problem.figure > 0


def test_a_wire_through_a_wall() -> None:
    """Wire 1 led to a port by a way through the wall beside it."""
    wall = BodySolid(Box((50, 8, FLOOR), (52, 40, FLOOR + 20)), "fixed")
    problem = found(with_body(plan(), "wagon", wall), "wire", "of fixed near")
    assert "in wagon" in problem.message


def test_a_wire_in_keep_clear_space_and_outside() -> None:
    """Wires keep off moving links, and do not run outside the body."""
    link = BodySolid(Box((50, 20, FLOOR), (52, 30, FLOOR + 20)), "keep-clear")
    found(with_body(plan(), "wagon", link), "wire", "of keep-clear near")
    gap = BodySolid(Box((50, 20, FLOOR), (52, 30, FLOOR + 20)), "outside")
    found(with_body(plan(), "wagon", gap), "wire", "of outside near")


@pytest.mark.parametrize(("height", "holds"), [(22.44, True), (22.56, False)])
def test_a_wire_needs_its_radius_less_the_tolerance(height: float, holds: bool) -> None:
    """A lid 0.45 mm above the middle line of a 1 mm wire passes, and 0.04 mm nearer it does not."""
    # Far from ends and ports the line between (40, 24, 22) and (30, 24, 22.2) rises to 22.1 at x = 35.
    lid = BodySolid(Box((34.9, 20, 45.1 - height), (35.1, 30, 40)), "fixed")
    problems = [p for p in verify(with_body(plan(), "wagon", lid)).problems if p.subject == "wire"]
    assert (problems == []) is holds


def test_wire_ends_meet_their_pins() -> None:
    """An end beside its pin, at a pin that is not there, at no splice, and a gap in the way."""
    moved = with_wire(plan(), 2, lambda wire: replace(wire, start=replace(wire.start, at=(20.0, 15.0, 21.2))))
    assert found(moved, "wire", "from board.GND").figure == pytest.approx(1.0)
    renamed = with_wire(plan(), 2, lambda wire: replace(wire, start=replace(wire.start, pin="XX")))
    found(renamed, "wire", "board.XX, which is not there")
    lost = with_wire(plan(), 2, lambda wire: replace(wire, end=replace(wire.end, owner="S9")))
    found(lost, "wire", "splice S9, which is not there")
    gap = with_leg(plan(), 4, 0, lambda leg: replace(leg, points=leg.points[:-1]))
    assert found(gap, "wire", "from its end").figure > 5


def test_wires_go_through_ports_and_crossings() -> None:
    """A wire that ends beside its port, through no port, or over a coupling that does not count it."""
    beside = with_leg(plan(), 3, 0, lambda leg: replace(leg, points=(SPLICE_AT, (10.0, 34.0, 22.0))))
    assert found(beside, "wire", "beside it").figure == pytest.approx(6.0)
    found(with_leg(plan(), 3, 0, lambda leg: replace(leg, leaves="side door")), "wire", "no port of loco")
    old = plan()
    crossing = replace(old.built.harness.crossings[0], wires=(1,))
    uncounted = with_harness(old, crossings=(crossing,))
    found(uncounted, "wire", "no crossing counts it")
    problem = found(uncounted, "crossing", "counts wires 1; the wires that cross are 1, 3")
    assert problem.figure == 1


def test_lengths_add_up() -> None:
    """A bare length that is not the way's, a cut that is short, and a joint without its slack."""
    longer = with_wire(plan(), 1, lambda wire: replace(wire, bare_mm=wire.bare_mm + 3))
    assert found(longer, "wire", "mm bare").figure == pytest.approx(3.0, abs=0.02)
    short = with_wire(plan(), 1, lambda wire: replace(wire, cut_mm=wire.cut_mm - 10))
    assert "cut" in found(short, "wire", "shorter than its way").message
    taut = with_wire(plan(), 1, lambda wire: replace(wire, allowances=(("slack at couplings", 5.0),)))
    assert found(taut, "wire", "less over its couplings").figure == pytest.approx(1.0, abs=0.02)


def test_a_lead_out_has_an_end() -> None:
    """A lead-out of 20 mm is none; one through the wall is told."""
    far = with_leg(
        plan(), 1, 1, lambda leg: replace(leg, points=((79.6, 24.0, 22.0), (46.0, 24.0, 22.0), LAMP_IN))
    )
    assert found(far, "wire", "is 20.0 mm long").figure == pytest.approx(20.0, abs=0.01)
    post = BodySolid(Box((27, 20, FLOOR), (29, 26, FLOOR + 20)), "fixed")
    assert found(with_body(plan(), "wagon", post), "wire", "its lead-out at lamp runs").figure >= 1.9


def test_nets_hang_together() -> None:
    """A net without one of its wires is not whole; the plan may own up to it."""
    old = plan()
    less = with_harness(old, wires=old.built.harness.wires[:3])
    found(less, "net", "not joined to the rest of the net: cell.minus")
    owned = with_harness(
        less, unreached=(Unreached("ground", "cell", "minus", "no way is wide enough"),), splices=()
    )
    assert [p for p in verify(owned).problems if p.subject == "net"] == []
    assert "not joined, as the plan says: cell.minus" in [n.message for n in verify(owned).notes]


def test_no_net_reaches_a_pin_of_another() -> None:
    """The light's wire ended at the lamp's ground joins two nets and misses its own pin."""
    crossed = with_wire(plan(), 1, lambda wire: replace(wire, end=replace(wire.end, pin="GND")))
    found(crossed, "net", "has a wire at lamp.GND, which it does not join")
    assert found(crossed, "net", "is joined by ground and light").where == "lamp.GND"
    found(crossed, "net", "not joined to the rest of the net: lamp.IN")


def test_splices_name_their_wires() -> None:
    """A splice that names a wire that does not end there, and one with a single wire."""
    old = plan()
    splice = old.built.harness.splices[0]
    found(with_harness(old, splices=(replace(splice, wires=(1, 2, 3, 4)),)), "splice", "names wire 1")
    found(with_harness(old, splices=(replace(splice, wires=(2,)),)), "splice", "fewer than two wires")
    found(
        with_harness(old, splices=(replace(splice, wires=(2, 3)),)), "wire", "not among the wires of splice"
    )


def test_the_pin_map_uses_a_pin_once() -> None:
    """A pin for two nets, a pin that is not there, a net that is not there; a spare pin is no fault."""
    old = plan()
    row = old.built.pin_map[0]
    twice = with_built(old, pin_map=(row, PinUse("board", "OUT", "ground", "cell.minus", "output", "OUT")))
    assert found(twice, "pin map", "OUT is used by ground and light").figure == 2
    found(with_built(old, pin_map=(row, replace(row, pin="D99"))), "pin map", "no pin D99")
    found(with_built(old, pin_map=(replace(row, program="7"),)), "pin map", "is called 7 in programs")
    found(
        with_built(old, pin_map=(row, replace(row, pin="GND", net="horn", program="GND"))),
        "pin map",
        "which is no net",
    )
    spare = with_built(old, pin_map=(row, replace(row, pin="GND", net="", does="any signal", program="GND")))
    assert [p for p in verify(spare).problems if p.subject == "pin map"] == []


def test_stretches_and_ports_count_what_passes() -> None:
    """A stretch with another vehicle's wire, a port with an uncounted wire, a port filled too far."""
    old = plan()
    one, two = old.built.harness.stretches
    found(
        with_harness(old, stretches=(replace(one, wires=(1, 3)), replace(two, wires=(1, 2, 3)))),
        "stretch",
        "wire 2",
    )
    missing = with_harness(old, stretches=(replace(one, wires=(1,)), two))
    assert found(missing, "port", "wires 3 pass").where == "loco, rear hole"
    thick = with_wire(plan(), 1, lambda wire: replace(wire, outer_mm=9.0))
    assert found(thick, "port", "no bundle is that dense").figure > 1


def test_figures_of_bundles_and_joints() -> None:
    """A bundle thinner than its wires or longer than its way, and a joint shorter than the gap it bridges."""
    old = plan()
    one, two = old.built.harness.stretches
    thin = with_harness(old, stretches=(replace(one, diameter_mm=1.2), two))
    assert found(thin, "stretch", "the sections of its wires").figure == pytest.approx(2**0.5 - 1.2, abs=1e-3)
    long = with_harness(old, stretches=(replace(one, length_mm=15.0), two))
    assert found(long, "stretch", "its way is 11.6 mm").figure == pytest.approx(3.4)
    # Both couplings reach 4 mm, so the end faces are 8 mm apart, and so are the mouths of the ports.
    crossing = replace(old.built.harness.crossings[0], free_mm=7.0, straight_mm=7.0)
    short = with_harness(old, crossings=(crossing,))
    assert found(short, "crossing", "8.0 mm apart").figure == pytest.approx(1.0)
    lost = with_harness(old, crossings=(replace(crossing, port_ahead="side door"),))
    found(lost, "crossing", "side door of loco, which is not there")


def test_assembly_is_replayed() -> None:
    """A step through a wall, one in the wrong order, one that does not get out, one missing."""
    sideways = with_steps(plan(), AssemblyStep(4, "lamp", "wagon", "roof", (("-y", 60.0),)))
    found(sideways, "assembly", "into fixed")
    found(sideways, "assembly", "does not leave through roof")
    short = with_steps(plan(), AssemblyStep(4, "lamp", "wagon", "roof", (("-z", 20.0),)))
    assert found(short, "assembly", "not yet out of the hull").figure == pytest.approx(15.2)
    old = plan()
    less = replace(old, assembly=old.assembly[1:])
    found(less, "assembly", "board is in no step")
    blocked = replace(less, assembly_blocked=("board has no way in",))
    assert [p for p in verify(blocked).problems if p.subject == "assembly"] == []
    through_nothing = with_steps(plan(), AssemblyStep(4, "lamp", "wagon", "hatch", (("-z", 40.0),)))
    found(through_nothing, "assembly", "which is no opening")
    straight_in = with_steps(plan(), AssemblyStep(5, "eye", "wagon", "roof", (("-z", 36.0),)))
    found(straight_in, "assembly", "eye, move 1 out (+z 36.0 mm): runs")


def test_order_matters_where_one_part_lies_over_another() -> None:
    """With a second lamp on top of the first, the lower must go in first."""
    old = plan()
    upper = Placement(
        "emitter",
        old.built.placements[2].part,
        "wagon",
        Place(pose_named("+x+y+z"), (21, 21, FLOOR + 6)),
        "lamp",
    )
    placements = tuple(upper if entry.need == "emitter" else entry for entry in old.built.placements)
    swapped = with_built(old, placements=placements)
    right = with_steps(swapped, AssemblyStep(9, "emitter", "wagon", "roof", (("-z", 40.0),)))
    right = replace(right, assembly=tuple(s for s in right.assembly if s.number != 3))
    assert [p for p in verify(right).problems if p.subject == "assembly"] == []
    wrong = replace(
        right, assembly=tuple(replace(s, number=0) if s.number == 9 else s for s in right.assembly)
    )
    assert "into emitter" in found(wrong, "assembly", "lamp, move 1 out").message


def test_a_connector_joins_a_net_over_a_coupling() -> None:
    """Wires cut at a coupling connector: the same cavity joins them, another one does not."""
    old = plan()
    crossing = replace(old.built.harness.crossings[0], connector="pair", free_mm=15.0)

    def cut(wire: Wire, number: int, which: int, cavity: str) -> Wire:
        leg = wire.legs[which]
        point = leg.points[-1] if which == 0 else leg.points[0]
        splices = (wire.start if which == 0 else wire.end).kind == "splice"
        end = WireEnd("connector", crossing.name, cavity, leg.vehicle, point, 4.0)
        way = verify_length(leg)
        bends = sum(amount for what, amount in wire.allowances if what == "bends") * (which == 0)
        overlap = (("splice overlap", 8.0),) if splices else ()
        strips = 4.0 if splices else 8.0
        allowances = (
            ("slack at couplings", 3.5), ("not taut", 0.04 * way), ("bends", bends),
            ("stripping", strips), *overlap,
        )  # fmt: skip
        bare = way + crossing.straight_mm / 2
        length = math.ceil((bare + sum(amount for _, amount in allowances)) / 5) * 5.0
        made = replace(
            wire, number=number, legs=(leg,), bare_mm=bare, allowances=allowances, cut_mm=length,
            drop_v=0.010 * 0.2345 * length / 1000,
        )  # fmt: skip
        return replace(made, end=end) if which == 0 else replace(made, start=end)

    one, three = old.built.harness.wires[0], old.built.harness.wires[2]

    def parted(cavity: str) -> Plan:
        wires = (
            cut(one, 1, 0, "2"), cut(one, 5, 1, cavity), old.built.harness.wires[1],
            cut(three, 3, 0, "1"), cut(three, 6, 1, "1"), old.built.harness.wires[3],
        )  # fmt: skip
        first, second = old.built.harness.stretches
        stretches = (first, replace(second, wires=(5, 6)))
        train = old.built.train
        pair = part("pair", Box((0, 0, 0), (5, 5, 5)), mount=Mount(), electrical=(PAIR,))
        train = replace(
            train, wiring=replace(train.wiring, coupling_connector="pair"), catalogue={"pair": pair}
        )
        return with_built(
            with_harness(old, wires=wires, crossings=(crossing,), stretches=stretches), train=train
        )

    assert verify(parted("2")).problems == ()
    found(parted("7"), "net", "not joined to the rest")


def verify_length(leg: Leg) -> float:
    return sum(
        sum((b - a) ** 2 for a, b in zip(p, q, strict=True)) ** 0.5
        for p, q in zip(leg.points, leg.points[1:], strict=False)
    )


@pytest.mark.parametrize(("kind", "kept"), [("plug", True), ("lens", True), ("lead", False), ("air", False)])
def test_wires_keep_out_of_clearances_but_those_that_are_theirs(kind: str, kept: bool) -> None:
    """Room before the lamp, across its two wires: for leads and air it may hold wires."""
    lamp = next(entry.part for entry in plan().built.placements if entry.need == "lamp")
    room = Clearance("room", kind, Box((14, 0, 0), (18, 6, 6)))  # type: ignore[arg-type]
    told = verify(with_place(plan(), "lamp", part=replace(lamp, clearances=(room,)))).problems
    assert any("room" in problem.message for problem in told) is kept, told


def test_allowances_of_other_names_are_taken_on_trust() -> None:
    """3 mm for a label: nothing asks for it, and the length is rounded up from it."""
    old = with_wire(plan(), 4, lambda wire: replace(wire, allowances=(*wire.allowances, ("label", 3.0))))
    old = with_wire(old, 4, lambda wire: replace(wire, cut_mm=5.0 * math.ceil(
        (wire.bare_mm + sum(amount for _, amount in wire.allowances)) / 5)))  # fmt: skip
    old = with_wire(old, 4, lambda wire: replace(wire, drop_v=0.010 * 0.2345 * wire.cut_mm / 1000))
    report = verify(old)
    assert report.problems == ()
    assert ("allowances of other names", 1) in {(entry.what, entry.count) for entry in report.trusted}


def test_a_pin_has_no_more_wires_than_it_takes() -> None:
    """Two more wires at a soldered pin are one too many."""
    good = plan()
    first = good.built.harness.wires[0]
    more = tuple(replace(first, number=900 + i) for i in range(2))
    broken = with_harness(good, wires=(*good.built.harness.wires, *more))
    problem = found(broken, "pin", "takes 2 (solder)")
    assert problem.where.count(".") >= 1
    assert not any(one.subject == "pin" for one in verify(good).problems)


@pytest.mark.parametrize(
    ("apart", "through", "holds"), [(1.5, 0.0, True), (30.0, 0.0, False), (1.5, -1.0, False)]
)
def test_pins_so_close_that_both_pieces_of_a_wire_are_lead_outs(
    apart: float, through: float, holds: bool
) -> None:
    """A wire of three points may touch both its pins' parts; a long piece may not, nor one through a part."""
    site = Site(TrainVehicle("loco", loco()), frozenset(), ())
    lamp = put("lamp", LAMP, "loco", (20, 20, FLOOR + 10))
    other = put("other", LAMP, "loco", (26 + apart, 20, FLOOR + 10), "-x-y+z")
    other = replace(other, place=Place(other.place.pose, (32 + apart, 26, FLOOR + 10)))
    site = Site(site.entry, frozenset(), (standing(lamp), standing(other)))
    start, end = (26.0, 24.0, FLOOR + 13), (26.0 + apart, 22.0, FLOOR + 13)
    middle = (26.0 + apart / 2 + (apart if through else 0) * 2, 23.0, FLOOR + 13)
    ends = (WireEnd("pin", "lamp", "IN", "loco", start, 4.0), WireEnd("pin", "other", "IN", "loco", end, 4.0))
    leg = Leg("loco", (start, middle, end), "", "")
    made = Wire(1, "net", "signal", "YE", 28, 1.0, *ends, (leg,), 4.0, (), 10.0, 10.0, 0.0)
    sheet = Tally()
    leg_is_free(made, leg, site, sheet)
    assert sheet.report().holds == holds
