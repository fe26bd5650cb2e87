"""What is closed round a way, against linking numbers; and what an order of work leads through it."""

from __future__ import annotations

import itertools
import random
from collections import deque
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import Port
from fitplan.model.work import EndOf, InnerHole, WorkStep
from fitplan.packing.access.disassembly import Disassembly
from fitplan.recheck import recheck
from fitplan.verify import verify
from fitplan.workbench.closed_rings import ClosedRings, Passed, left_over
from fitplan.workbench.inner_holes import InnerHoles, PassedHole, _lies_in_port
from fitplan.workbench.leading import Leading, _Leads
from fitplan.workbench.led_steps import with_leading
from tests.workbench.led_train import (
    DOOR,
    HOLE,
    planned_with,
    planned_with_a_brick_taken_out,
    planned_with_a_wide_port,
    planned_with_an_end_opened,
    two_rooms,
)

SIZE = 5
Cell = tuple[int, int, int]


@cache
def plan_with(hole: Box) -> Plan:
    return planned_with(hole)


def rings_of(solid: NDArray[np.bool_]) -> ClosedRings:
    rows = [[*(10 * c for c in cell), *(10 * c + 10 for c in cell)] for cell in np.argwhere(solid).tolist()]
    size = float(10 * SIZE / TENTHS)
    return ClosedRings(
        [np.array(rows or np.zeros((0, 6)), dtype=np.int64)], Box((0, 0, 0), (size, size, size))
    )


def walk(clear: NDArray[np.bool_], pick: random.Random) -> list[Cell] | None:
    """Return a closed way from a corner outside to a clear cell and back another way, in a padded grid."""
    inner = [tuple(cell) for cell in np.argwhere(clear[1:-1, 1:-1, 1:-1]).tolist()]
    if not inner:
        return None
    x, y, z = pick.choice(inner)
    through = (x + 1, y + 1, z + 1)
    corner = (0, 0, 0)
    weight = {cell: pick.random() for cell in np.ndindex(clear.shape)}
    one, other = (path(clear, corner, through, weight, salt) for salt in (0, 1))
    return None if one is None or other is None else [*one, *other[-2::-1]]


def path(
    clear: NDArray[np.bool_], start: Cell, end: Cell, weight: dict[Cell, float], salt: int
) -> list[Cell] | None:
    before: dict[Cell, Cell | None] = {start: None}
    queue = deque([start])
    while queue:
        here = queue.popleft()
        near = [
            tuple(v + way * (i == axis) for i, v in enumerate(here)) for axis in range(3) for way in (1, -1)
        ]
        for cell in sorted(near, key=lambda c: weight.get(c, 0.0) * (1 - 2 * salt)):
            inside = all(0 <= v < n for v, n in zip(cell, clear.shape, strict=True))
            if inside and clear[cell] and cell not in before:
                before[cell] = here
                queue.append(cell)
    if end not in before:
        return None
    found, at = [end], before[end]
    while at is not None:
        found.append(at)
        at = before[at]
    return found[::-1]


def linked(solid: NDArray[np.bool_], loop: list[Cell]) -> bool:
    """Return whether a chain of solid cells, touching at corners too, goes round a closed way of cells.

    Each cell is cut in three along each axis, and solid ones grow by a third: what touches then shares faces,
    and a way through the middles of cells stays clear. From the way, moved by less than half a small cell
    along x and y, a curtain hangs upwards. How often a closed chain passes it, with sign, is the linking
    number (Rolfsen, Knots and Links, 5D, from memory); it is nought for all chains if numbers can be given to
    the cells so that each step adds what it passes.
    """
    fine = solid.repeat(3, 0).repeat(3, 1).repeat(3, 2)
    grown = np.zeros_like(fine)
    for shift in itertools.product((-1, 0, 1), repeat=3):
        grown |= np.roll(fine, shift, (0, 1, 2))  # the rim is clear: nothing comes round
    steps = [
        (tuple(3 * v + 1 + k * (w - v) for v, w in zip(here, there, strict=True)), here, there)
        for here, there in itertools.pairwise(loop)
        for k in range(3)
    ]
    passes: dict[tuple[Cell, int], int] = {}
    for (x, y, z), (a, b, _), (c, d, _) in steps:
        for height in range(z, fine.shape[2]):
            if c != a:  # from the cell at y to that at y + 1
                key, sign = ((max(x, x + c - a), y, height), 1), c - a
            elif d != b:
                key, sign = ((x, max(y, y + d - b), height), 0), b - d
            else:
                break
            passes[key] = passes.get(key, 0) + sign
    number: dict[Cell, int] = {}
    for cell in map(tuple, np.argwhere(grown).tolist()):
        if cell in number:
            continue
        number[cell] = 0
        queue = deque([cell])
        while queue:
            here = queue.popleft()
            for axis, way in itertools.product(range(3), (1, -1)):
                there = tuple(v + way * (i == axis) for i, v in enumerate(here))
                if not grown[there]:
                    continue
                value = number[here] + way * passes.get((min(here, there), axis), 0)
                if there not in number:
                    number[there] = value
                    queue.append(there)
                elif number[there] != value:
                    return True
    return False


def test_what_is_told_is_linked_by_solid_cells() -> None:
    """On random bodies of cubes: where a closed way passes a room once, a chain of cells goes round it."""
    told = 0
    for seed in range(200):
        pick = random.Random(seed)
        solid = np.zeros((SIZE + 2,) * 3, dtype=bool)
        filled = [pick.random() < 0.45 for _ in range(SIZE**3)]
        solid[1:-1, 1:-1, 1:-1] = np.array(filled).reshape((SIZE,) * 3)
        loop = walk(~solid, pick)
        if loop is None:
            continue
        rings = rings_of(solid[1:-1, 1:-1, 1:-1])
        points: list[Vec] = [(x - 0.5, y - 0.5, z - 0.5) for x, y, z in loop]
        if left_over(rings.passed(points)):
            told += 1
            assert linked(solid, loop), seed
    assert told > 10


def test_walls_beams_and_rooms() -> None:
    """A hole in a wall is closed, one with a slit to the open top is not; nor is what is left again."""
    body = two_rooms(HOLE)
    rings = ClosedRings([Disassembly(body, (), frozenset()).body("roof")], body.hull)
    through: tuple[Vec, ...] = ((30, 23.6, 80), (30, 23.6, 46.8), (90, 23.6, 46.8), (90, 23.6, 80))
    (hole,) = {rings.hole([slab]) for slab in left_over(rings.passed(through)) if slab[0] == 0}
    assert hole.box == HOLE
    over: tuple[Vec, ...] = ((30, 23.6, 80), (30, 23.6, 60), (90, 23.6, 60), (90, 23.6, 80))
    assert not left_over(rings.passed(over))
    slit = two_rooms(Box(HOLE.low, (HOLE.high[0], HOLE.high[1], 57.6)))
    slit_rings = ClosedRings([Disassembly(slit, (), frozenset()).body("roof")], slit.hull)
    assert not [slab for slab in left_over(slit_rings.passed(through)) if slab[0] == 0]
    there_and_back: tuple[Vec, ...] = (*through[:3], (92, 23.6, 46.8), *through[2::-1])
    assert not left_over(rings.passed(there_and_back))


def test_a_wire_is_led_through_before_its_last_end_is_joined() -> None:
    """Neither block passes the hole: one end of each wire stays loose on the table, is led, then joined."""
    plan = plan_with(HOLE)
    assert not plan.unreached
    assert recheck(plan).holds
    led = {end: step for step in plan.work.steps if step.hole is not None for end in step.ends}
    assert {number for number, _ in led} == {1, 2}
    for end, step in led.items():
        assert step.hole is not None
        assert step.hole.box == HOLE
        (joined,) = [one for one in plan.work.steps if one.act == "join" and end in one.ends]
        assert joined.spot != "table"
        assert step.number < joined.number


def test_a_part_that_passes_is_led_on_its_wires() -> None:
    """Through a door no end need be left loose: the block itself is led through."""
    plan = plan_with(DOOR)
    assert recheck(plan).holds
    (led,) = [step for step in plan.work.steps if step.hole is not None]
    assert led.parts
    (placed,) = [step for step in plan.work.steps if step.act == "place" and step.parts == led.parts]
    assert led.number < placed.number


def test_wires_are_led_through_where_a_brick_is_taken_out() -> None:
    """The hole is there only once the rebuild has taken its brick out."""
    plan = planned_with_a_brick_taken_out()
    assert [one.remove for one in plan.built.rebuilds] == [("brick in the wall",)]
    led = [step for step in plan.work.steps if step.hole is not None]
    assert {end[0] for step in led for end in step.ends} == {1, 2}
    assert all(step.hole is not None and step.hole.box == HOLE for step in led)


def test_a_closed_room_behind_an_opened_end_hides_no_hole() -> None:
    """Wires come through the brick with a hole, 3.2 mm, and a room without a lid, to the hole, 5.6 mm."""
    plan = planned_with_an_end_opened()
    assert plan.built.opening is not None
    assert len(plan.built.opening.holes) == 1
    (led,) = [step for step in plan.work.steps if step.hole is not None]
    assert led.hole is not None
    assert led.hole.box == HOLE
    assert set(led.wires) == {1, 2}


def test_contacts_are_crimped_on_once_wires_are_through_a_hole_inside() -> None:
    """The housing passes its port, so they could be on before; through 5.6 mm wires are led bare."""
    plan = planned_with_a_wide_port()
    assert plan.complete
    assert verify(plan).problems == ()
    (led,) = [step for step in plan.work.steps if step.hole is not None]
    assert led.hole is not None
    assert led.hole.box == HOLE
    crimped = {step.vehicle: step for step in plan.work.steps if step.act == "crimp"}
    assert (crimped["wagon"].number > led.number, crimped["wagon"].spot) == (True, "beside")
    assert crimped[""].spot == "table"  # those of the loco, where nothing is in their way


@pytest.mark.parametrize(
    ("splice", "end", "lid", "shut", "off"),
    [
        ("S1", "end", "roof", True, {(1, "end"): ("roof",)}),
        # Nothing parts the two whatever is off; the splice is made on the table; the lamp hangs on nothing
        # yet, or goes in where nothing is to be opened.
        ("S1", "end", "roof", False, {}),
        ("S2", "end", "roof", True, {}),
        ("S1", "start", "roof", True, {}),
        ("S1", "end", "", True, {}),
    ],
)
def test_a_lid_is_off_when_a_splice_is_made_inside_for_what_goes_in_by_it(
    splice: str, end: str, lid: str, shut: bool, off: dict[object, str]
) -> None:
    """Its wire comes out by that lid while it hangs beside the vehicle."""
    lamp, sensor = (2, ("pin", "lamp", "plus")), (3, ("pin", "sensor", "plus"))
    holes = SimpleNamespace(joined=[(lamp, sensor)], lies_shut=lambda one, other: shut)
    wires = [SimpleNamespace(number=1, start=wire_end("pin", "far"), end=wire_end("splice", "S1"))]
    leads: Any = SimpleNamespace(
        search=SimpleNamespace(holes=holes), found=Leading(),
        built=SimpleNamespace(harness=SimpleNamespace(wires=wires)),
        _inside={"S1"}, _table={(2, "end")}, _lids={"lamp": lid}, _end=lambda terminal: (terminal[0], end),
        _splices=lambda pair: iter([splice]),
    )  # fmt: skip
    leads._end_at = lambda name: _Leads._end_at(leads, name)
    leads._have_off = lambda end, lid: _Leads._have_off(leads, end, lid)
    _Leads._open_for_splices(leads)
    assert leads.found.lids == off
    leads._lids["lamp"] = "rear lid"  # another that hangs on the same splice, and goes in by another lid
    _Leads._open_for_splices(leads)
    assert leads.found.lids == {one: (*lids, "rear lid") for one, lids in off.items()} or not off


def wire_end(kind: str, owner: str) -> Any:
    return SimpleNamespace(kind=kind, owner=owner)


def test_a_lid_that_is_wanted_off_later_and_then_earlier_is_taken_off_once() -> None:
    """For a splice inside; then a wire is led to its port before, by a hole that the lid is over."""
    hole = InnerHole("x", HOLE)
    wire = SimpleNamespace(number=1)
    strand = SimpleNamespace(wire=wire, first=("pin", "lamp", "plus"), last=("port", "rear", "1"), arrives=0)
    search: Any = SimpleNamespace(
        vehicle="loco", loom=SimpleNamespace(strands=[strand]),
        holes=SimpleNamespace(on=lambda number: (hole,)),
        around=SimpleNamespace(both_mouths_clear=lambda hole, off, inside: "roof" in off),
        body=SimpleNamespace(vehicle=SimpleNamespace(openings=[SimpleNamespace(name="roof")])),
    )  # fmt: skip
    thread = WorkStep(0, "thread", "inside", "loco", wires=(1,), ends=((1, "end"),), port="rear")
    splice = WorkStep(0, "splice", "inside", "loco", wires=(2,), ends=((2, "end"),), splice="S1")
    run, roof = WorkStep(0, "run", "inside"), WorkStep(0, "open", "inside", "loco", opening="roof")
    led = Leading(lids={(2, "end"): ("roof",)})
    told = list(with_leading([thread, splice, run], {"loco": search}, {"loco": led}))
    assert [(s.act, s.opening, s.hole) for s in told] == [
        ("open", "roof", None), ("thread", "roof", hole), ("thread", "", None), ("splice", "", None),
        ("close", "roof", None), ("run", "", None),
    ]  # fmt: skip
    # The order itself has it off at once, for something else: it is taken off before what is led.
    close = replace(roof, act="close")
    told = list(with_leading([thread, roof, splice, close, run], {"loco": search}, {"loco": led}))
    assert [s.act for s in told] == ["open", "thread", "thread", "splice", "close", "run"]
    strand.last, strand.first = strand.first, strand.last
    strand.arrives = 1
    told = list(with_leading([thread, roof, splice, close, run], {"loco": search}, {"loco": led}))
    assert [s.act for s in told] == ["thread", "open", "thread", "splice", "close", "run"]
    # A wire that begins at the coupling hangs on its part by its end: its start is led, and goes out last.
    strand.arrives = 0
    thread = replace(thread, ends=((1, "start"),))
    told = list(with_leading([roof, thread, splice, close, run], {"loco": search}, {"loco": Leading()}))
    assert [(s.act, s.ends) for s in told[:3]] == [("open", ())] + [("thread", ((1, "start"),))] * 2
    assert [s.hole for s in told[1:3]] == [hole, None]


@pytest.mark.parametrize(
    ("rear", "front", "high", "in_port"),
    [
        (0.0, 8.0, 24.0, True),
        (7.0, 8.8, 24.0, True),
        (0.0, 9.8, 24.0, False),  # a wall behind the port with the same hole
        (8.0, 9.8, 24.0, False),
        (8.0, 8.8, 56.0, False),  # the room that it opens to
    ],
)
def test_a_hole_that_goes_on_behind_a_port_is_told_of(
    rear: float, front: float, high: float, in_port: bool
) -> None:
    """The port's box is as deep as the end wall, 8 mm."""
    port = Port("rear", Box((0.0, 20.0, 20.0), (8.0, 24.0, 24.0)), "-x")
    hole = InnerHole("x", Box((rear, 20.0, 20.0), (front, 24.0, high)))
    assert _lies_in_port(hole, port) == in_port


def test_of_holes_that_meet_the_narrower_is_kept_and_two_in_a_row_both() -> None:
    """As the wire between two pairs of parts passes them: 1 mm on is another hole where they do not meet."""
    first, narrower, next_one = (
        InnerHole("x", Box((low, 0.0, 0.0), (high, 5.0, wide)))
        for low, high, wide in ((8.0, 8.8, 5.0), (8.8, 9.8, 4.0), (10.0, 11.0, 3.0))
    )
    holes: Any = SimpleNamespace(_on={})
    for along, hole in ((8.4, first), (9.3, narrower), (10.5, next_one), (8.5, first)):
        InnerHoles._lies_in(holes, PassedHole(hole, 1, along, along, True))
    assert [hole for _, hole in holes._on[1]] == [narrower, next_one]


def test_what_a_part_passes_counts_also_where_its_wire_lies_on_in_the_same_run() -> None:
    """Six slabs in a row: two on the way in by the one part, two along the wire, two by the other."""
    wide = {slab: InnerHole("x", Box((slab, 0, 0), (slab + 1, 9, 9 + abs(slab - 2.5)))) for slab in range(6)}
    events = [Passed((0, slab, 1), 1.0 + 2 * slab, True) for slab in range(6)]
    rings = SimpleNamespace(
        passed=lambda way: events, hole=lambda slabs: min((wide[s[1]] for s in slabs), key=lambda h: h.size),
        opening=lambda slab: wide[slab[1]],
    )  # fmt: skip
    ends = (("pin", "lamp", "plus"), ("pin", "eye", "plus"))
    strand: Any = SimpleNamespace(
        wire=SimpleNamespace(number=7), first=ends[0], points=((4, 0, 0), (8, 0, 0)),
        points_from=lambda knot: ((4, 0, 0), (8, 0, 0)), other=lambda knot: ends[1],
    )  # fmt: skip
    ways = {"lamp": (((4, 0, 0), (0, 0, 0)), ""), "eye": (((8, 0, 0), (12, 0, 0)), "")}
    holes: Any = SimpleNamespace(
        _out=lambda knot, at: ways[knot[1]], rings_with=lambda lids: rings, _port=lambda name: None
    )
    told = [(one.wire, one.hole) for one in InnerHoles._passed(holes, [strand], *ends)]
    assert told == [(0, wide[1]), (0, wide[4]), (7, wide[2])]


@pytest.mark.parametrize(
    ("loose", "inside", "table", "off"),
    [
        # The eye's end is joined in turn 1, when the lamp's lid is on; or inside, with the same need.
        ({(2, "end")}, {}, {(1, "end")}, {(2, "end"): ("lamp lid",)}),
        (set(), {(2, "end"): 1}, {(1, "end")}, {(2, "end"): ("lamp lid",)}),
        (set(), {(2, "end"): 2}, {(1, "end")}, {}),  # in turn 2 that lid is off
        ({(2, "end")}, {}, set(), {}),  # the lamp hangs on nothing yet
        (set(), {}, {(1, "end"), (2, "end")}, {}),  # both are joined on the table
    ],
)
def test_a_lid_is_off_when_an_end_is_joined_on_which_a_part_hangs_that_goes_in_by_it(
    loose: set[EndOf], inside: dict[EndOf, int], table: set[EndOf], off: dict[EndOf, tuple[str, ...]]
) -> None:
    """The lamp goes in last, by a lid of its own; a hole lies between it and the eye."""
    lamp, eye = (1, ("pin", "lamp", "plus")), (2, ("pin", "eye", "plus"))
    turns = [("eye lid",), ("eye lid",), ("eye lid", "lamp lid")]
    leads: Any = SimpleNamespace(
        search=SimpleNamespace(holes=SimpleNamespace(pairs=[(lamp, eye), (eye, lamp)])),
        found=Leading(ends=loose), _joined_inside=inside, _table=table, _turn={"eye": 1, "lamp": 2},
        _lids={"eye": "eye lid", "lamp": "lamp lid"}, _end=lambda terminal: (terminal[0], "end"),
        _is_off=lambda terminal, turn: terminal[1][1] + " lid" in turns[turn],
    )  # fmt: skip
    leads._have_off = lambda end, lid: _Leads._have_off(leads, end, lid)
    _Leads._open_for_ends(leads)
    assert leads.found.lids == off
