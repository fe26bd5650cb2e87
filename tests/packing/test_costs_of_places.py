"""What wishes add to the cost of places, place by place: with the wish, less what they cost without it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.needed import Need
from fitplan.model.part import Clearance, Mount, Part
from fitplan.model.solids import DIRECTIONS, Box, Direction, Place, axis_of, bounds_of, is_forward, pose_named
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.packing.vehicle import part_places
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.part_places import BUILT_UP, FLOATING, PER_COST, UNSTEADY, PartPlaces
from fitplan.packing.vehicle.preferred import Liked, preferred_cost
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import (
    ASIDE_MM,
    BEFORE_PINS,
    DEAR,
    EXIT_MM,
    KeepClear,
    WiredNet,
    WiredPin,
    Wishes,
)

from .small_trains import block, hollow

PIER = Box((40.0, 8.0, 19.2), (48.0, 24.0, 38.4))
BARE = hollow("v", 12, 6, 8)
ROOM: Vehicle = replace(BARE, body=(*BARE.body, BodySolid(PIER, "fixed")))
BRACKET: Part = replace(
    block("b", (14.0, 8.0, 6.0), mount=Mount(upright=True)),
    envelope=(Box((0, 0, 0), (14, 8, 6)), Box((0, 0, 6), (4, 8, 10))),
    clearances=(Clearance("plug", "plug", Box((14, 2, 0), (20, 6, 5)), "always"),),
)


def places(wishes: Wishes, part: Part = BRACKET, held: bool = False) -> PartPlaces:
    wanted = Wanted(Need("b", (part,)), part)
    packer = Packer({"v": ROOM})
    problem = packer._problem(packer.cavity("v"), (wanted,), "outward")
    return PartPlaces(wanted, problem, 0, wishes, held, ROOM)


def shared(one: Box, other: Box) -> float:
    edges = [min(one.high[k], other.high[k]) - max(one.low[k], other.low[k]) for k in range(3)]
    return float(np.prod([max(edge, 0.0) for edge in edges]))


def lies(found: PartPlaces) -> list[Place]:
    """Where the part is in each place: its pose, and its offset in mm."""
    keys = [variant.key for variant in found.variants]
    return [
        Place(pose_named(keys[number]), (x / 10, y / 10, z / 10))
        for number, (x, y, z) in zip(found.variant.tolist(), found.offset.tolist(), strict=True)
    ]


PLAIN = places(Wishes(()))
HELD = places(Wishes(()), held=True)


def test_places_are_told_in_boxes_of_tenths() -> None:
    """Envelope, room that is kept clear, what is round both, and round the envelope alone."""
    assert len(PLAIN.offset) > 100
    for number, place in list(enumerate(lies(PLAIN)))[::7]:
        solids = [place.move_solid(one).bounds for one in BRACKET.envelope]
        rooms = [place.move_solid(one.solid).bounds for one in BRACKET.clearances]
        mine = [tuple(v * 10 for v in (*box.low, *box.high)) for box in solids]
        assert sorted(map(tuple, PLAIN.solid[number].tolist())) == [
            pytest.approx(row) for row in sorted(mine)
        ]
        assert PLAIN.room[number].tolist() == [
            pytest.approx([v * 10 for v in (*box.low, *box.high)]) for box in rooms
        ]
        whole = bounds_of((*solids, *rooms))
        assert PLAIN.bounds[number].tolist() == pytest.approx([v * 10 for v in (*whole.low, *whole.high)])
        own = bounds_of(tuple(solids))
        assert PLAIN.outline[number].tolist() == pytest.approx([*own.low, *own.high])


@pytest.mark.parametrize("weight", [10.0, 25.0])
def test_a_box_that_is_left_to_wires_costs_by_its_share(weight: float) -> None:
    """How much of that box a place takes, of both boxes of the part and of the room that keeps wires out."""
    filled = [*BRACKET.envelope, *(room.solid for room in BRACKET.clearances if room.kind != "lead")]
    assert len(filled) == 3
    box = Box((20.0, 12.0, 19.2), (60.0, 36.0, 27.2))
    found = places(Wishes((), clear=(KeepClear(box, weight),)))
    more = found.cost - PLAIN.cost
    for number, place in enumerate(lies(found)):
        taken = sum(shared(box, place.move_solid(one).bounds) for one in filled)
        assert more[number] == pytest.approx(weight * min(taken / box.volume, 1.0), abs=1e-6)
    assert more.min() < 1e-9
    assert more.max() > 0.01 * weight
    # Before what was walled in once it counts so many times as much, before others as it did.
    kept = KeepClear(box, weight, "motor")
    for dear, times in (("motor", DEAR), ("b", 1.0)):
        found = places(Wishes((), clear=(kept,), dear=frozenset({dear})))
        assert found.cost - PLAIN.cost == pytest.approx(times * more, abs=1e-6)


def test_a_place_by_what_stays_costs_by_its_distance() -> None:
    """Wishes of this need, for a box that stays; those of others and for other parts cost nothing yet."""
    box = Box((70.0, 30.0, 20.0), (80.0, 38.0, 30.0))
    wish = Liked("b", "near", "v/motor", box, 0.7)
    found = places(Wishes((), liked=(wish, replace(wish, need="c"), replace(wish, box=None))))
    ends = np.array([*box.low, *box.high])
    assert found.cost - PLAIN.cost == pytest.approx(preferred_cost("near", PLAIN.outline, ends, 0.7))


@pytest.mark.parametrize("way", DIRECTIONS)
@pytest.mark.parametrize("dear", [False, True])
@pytest.mark.parametrize("held", [False, True])
def test_pins_want_room_before_them(way: Direction, dear: bool, held: bool) -> None:
    """Six millimetres long and two wide: what walls take of it, and half as much where it leaves the hull.

    What is held may lie under the roof, through which it would reach.
    """
    at = (2.0, 4.0, 10.0)
    pin = WiredPin("b", at, way)
    nets = (WiredNet((pin, WiredPin("c", (0, 0, 0), "+x"))), WiredNet((WiredPin("c", (1, 1, 1), "+x"),)))
    found = places(Wishes(nets, dear=frozenset({"b"} if dear else {"c"})), held=held)
    assert set(found.pins) == {0}
    more = found.cost - (HELD if held else PLAIN).cost
    packer = Packer({"v": ROOM})
    space = packer._problem(packer.cavity("v"), (Wanted(Need("b", (BRACKET,)), BRACKET),), "outward").spaces[
        0
    ]
    walls = [Box(tuple(v / 10 for v in row[:3]), tuple(v / 10 for v in row[3:])) for row in space.obstacles]  # type: ignore[arg-type]
    hull = [v / 10 for v in space.hull]
    said = set()
    for number, place in enumerate(lies(found)):
        spot, side = place.move(at), place.pose.turn_direction(way)
        assert found.pins[0][number].tolist() == [pytest.approx([v * 10 for v in spot], abs=0.51)]
        low, high = [v - ASIDE_MM for v in spot], [v + ASIDE_MM for v in spot]
        axis = axis_of(side)
        low[axis] = spot[axis] if is_forward(side) else spot[axis] - EXIT_MM
        high[axis] = spot[axis] + EXIT_MM if is_forward(side) else spot[axis]
        room = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        taken = min(sum(shared(room, wall) for wall in walls) / room.volume, 1.0)
        out = any(low[k] < hull[k] - 1e-6 or high[k] > hull[k + 3] + 1e-6 for k in range(3))
        expected = BEFORE_PINS * (3 if dear else 1) * (taken + 0.5 * out)
        assert more[number] == pytest.approx(expected, abs=1e-6)
        said.add(out)
    assert True in said or not held or way != "+z"


def test_poses_that_cost_more_do_so_in_every_place() -> None:
    """A pose stood on end, or with its access shut in, costs by how much its variant does."""
    tilted = replace(BRACKET, mount=Mount())
    wanted = Wanted(Need("b", (tilted,)), tilted)
    packer = Packer({"v": ROOM})
    problem = packer._problem(packer.cavity("v"), (wanted,), "outward")
    item = problem.items[0]
    dearer = replace(item, variants=tuple(replace(one, cost=one.cost + 2) for one in item.variants))
    plain = PartPlaces(wanted, problem, 0, Wishes(()), False, ROOM)
    more = PartPlaces(wanted, replace(problem, items=(dearer,)), 0, Wishes(()), False, ROOM)
    assert more.cost - plain.cost == pytest.approx(np.full(len(plain.cost), 2 * PER_COST))


@pytest.mark.parametrize("held", [False, True])
@pytest.mark.parametrize("tips", [False, True])
def test_what_would_tip_costs_where_it_must_stand(tips: bool, held: bool) -> None:
    """A foot under one end of a beam: its middle is not over it. Where a mount bears it nothing is added."""
    foot = Box((0, 0, 0), (4, 8, 4) if tips else (20, 8, 4))
    beam = Box((0, 0, 4), (20, 8, 8) if tips else (4, 8, 8))
    stands, borne = (
        places(
            Wishes(()),
            replace(
                block("b", (20.0, 8.0, 8.0), mount=Mount(upright=True, needs_support=needs)),
                envelope=(foot, beam),
                clearances=(),
            ),
            held,
        )
        for needs in (True, False)
    )
    # On the floor nothing is built up or stuck to the air.
    costs = [one.cost[one.outline[:, 2] <= one.outline[:, 2].min() + 0.05] for one in (stands, borne)]
    assert costs[0].min() - costs[1].min() == pytest.approx(UNSTEADY * tips)
    if held:
        assert stands.cost - borne.cost == pytest.approx(np.full(len(stands.cost), UNSTEADY * tips))


@pytest.mark.parametrize("held", [False, True])
@pytest.mark.parametrize("needs", [False, True])
def test_what_touches_nothing_costs_by_what_it_needs(
    monkeypatch: pytest.MonkeyPatch, held: bool, needs: bool
) -> None:
    """Bricks under it where it must stand, something to stick it to where it need not, or a mount."""
    part = replace(BRACKET, mount=Mount(upright=True, needs_support=needs))
    costs = []
    for touches in (True, False):
        for name in ("_on_something", "_at_something"):
            monkeypatch.setattr(
                part_places, name, lambda outline, walls, touches=touches: np.full(len(outline), touches)
            )
        costs.append(places(Wishes(()), part, held).cost)
    more = 0.0 if held else BUILT_UP if needs else FLOATING
    assert costs[1] - costs[0] == pytest.approx(np.full(len(costs[0]), more))
