"""Open is open: sides without bricks are ways in, by any number of moves; loads higher than the sides."""

from __future__ import annotations

import itertools
import random
from collections import deque
from dataclasses import replace

import numpy as np
import pytest

from fitplan.files.load_room import open_for_loads
from fitplan.model.needed import Need
from fitplan.model.part import Access, Mount, Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Direction, Place, Solid, Vec, pose_named, unit_vector
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, Opening, Vehicle
from fitplan.packing.access.disassembly import leave_through
from fitplan.packing.access.long_ways import long_way
from fitplan.packing.access.openings import gaps, open_directions
from fitplan.packing.access.slide import forbidden_offsets, rows_of
from fitplan.packing.access.way_in import AssemblyPlan, assembly_order
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packed_items import SHUT, SHUT_OFTEN, item_of
from fitplan.packing.vehicle.seats import Wanted
from fitplan.verify.assembly import check_assembly
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, standing
from tests.packing.small_trains import block, hollow

FLOOR = 19.2


def part(*solids: Solid) -> Part:
    return Part("p", "part", "controller", solids, 5.0, "invented for a test", (), (), Mount())


def put(need: str, made: Part, at: Vec) -> Placement:
    return Placement(need, made, "wagon", Place(pose_named("+x+y+z"), at), "the body")


def replay(vehicle: Vehicle, placements: list[Placement], plan: AssemblyPlan) -> list[str]:
    site = Site(TrainVehicle("wagon", vehicle), frozenset(), tuple(standing(one) for one in placements))
    sheet = Tally()
    check_assembly(site, plan.steps, plan.blocked, sheet)
    return [problem.message for problem in sheet.report().problems]


def tray(sides: float, *more: BodySolid) -> Vehicle:
    """Return an open wagon of 8 × 4 studs inside with sides so high (mm), and nothing that lifts off."""
    bare = hollow("wagon", 10, 6, 6)
    body = (
        BodySolid(Box((0, 0, 16), (80, 48, FLOOR + sides)), "fixed"),
        BodySolid(Box((8, 8, FLOOR), (72, 40, FLOOR + sides)), "free"),
        *more,
    )
    return replace(bare, top=FLOOR + sides, body=body, openings=(), ports=())


def test_an_open_wagon_is_loaded_from_above_without_an_opening() -> None:
    """Nothing is declared; the top is a way in of 64 × 32 mm, and the checker replays it."""
    vehicle = tray(19.2)
    assert open_directions(vehicle) == ("+z",)
    (gap,) = gaps(vehicle)
    assert gap.size == (64.0, 32.0)
    assert gap.area == 64.0 * 32.0
    placements = [put("bank", part(Box((0, 0, 0), (60, 30, 10))), (9, 9, FLOOR))]
    plan = assembly_order(vehicle, placements)
    (step,) = plan.steps
    assert (step.opening, [way for way, _ in step.moves]) == ("the open top", ["-z"])
    assert replay(vehicle, placements, plan) == []


def test_a_gap_in_a_wall_is_a_way_in() -> None:
    """Under a fixed roof a board goes in through the gap at the front, and through nothing else."""
    bare = hollow("wagon", 10, 6, 6)
    gap = BodySolid(Box((72, 8, FLOOR), (80, 40, FLOOR + 12)), "free")
    vehicle = replace(bare, body=(*bare.body, gap), openings=())
    assert open_directions(vehicle) == ("+x",)
    placements = [put("board", part(Box((0, 0, 0), (40, 30, 10))), (10, 9, FLOOR))]
    plan = assembly_order(vehicle, placements)
    assert [(step.opening, step.moves[0][0]) for step in plan.steps] == [("the open front", "-x")]
    assert replay(vehicle, placements, plan) == []
    tall = [put("board", part(Box((0, 0, 0), (40, 30, 12.3))), (10, 9, FLOOR))]
    (told,) = assembly_order(vehicle, tall).blocked
    assert "by straight moves through the open front even when it is alone" in told


def test_a_closed_body_has_no_open_side() -> None:
    assert open_directions(hollow("wagon", 10, 6, 6)) == ()


def test_loads_stand_higher_than_the_sides_up_to_the_load_height() -> None:
    """A part of 30 mm stands in sides of 9.6 mm; 80 mm are too much under ten bricks above the rail."""
    vehicle = open_for_loads(tray(9.6))
    assert vehicle.hull.high[2] == 96.0
    for height, verdict in ((30.0, "fits"), (76.8, "fits"), (77.2, "cannot fit")):
        load = block("load", (60.0, 30.0, height), mount=Mount(upright=True, turnable=False))
        wanted = (Wanted(Need("load", (load,)), load),)
        assert Packer({"wagon": vehicle}).pack_as_it_is("wagon", wanted).verdict == verdict
    wide = block("load", (60.0, 40.0, 5.0), mount=Mount(upright=True, turnable=False))
    wanted = (Wanted(Need("load", (wide,)), wide),)
    assert Packer({"wagon": vehicle}).pack_as_it_is("wagon", wanted).verdict == "cannot fit"
    assert open_for_loads(tray(9.6), 0.0).hull.high[2] == FLOOR + 9.6
    roofed = hollow("wagon", 10, 6, 6)
    assert open_for_loads(roofed) == roofed
    lid = Opening("lid", Box((8.0, 8.0, FLOOR + 6.4), (72.0, 40.0, FLOOR + 9.6)), "+z")
    assert open_for_loads(replace(tray(9.6), openings=(lid,))).load_top == 0.0


def winding() -> tuple[Vehicle, list[Placement]]:
    """Return a body whose only way in goes down, back, aside and back again, and a part at its end."""
    fixed = BodySolid(Box((0, 0, 16), (80, 48, 40)), "fixed")
    ways = (
        Box((56, 8, 30), (72, 20, 40)),
        Box((56, 8, FLOOR), (72, 20, 30)),
        Box((32, 8, FLOOR), (72, 20, 30)),
        Box((32, 8, FLOOR), (46, 40, 30)),
        Box((8, 28, FLOOR), (46, 40, 30)),
    )
    body = (fixed, *(BodySolid(way, "free") for way in ways))
    bare = hollow("wagon", 10, 6, 6)
    vehicle = replace(bare, top=40.0, body=body, openings=(), ports=())
    return vehicle, [put("cube", part(Box((0, 0, 0), (11, 11, 10))), (9, 29, FLOOR))]


def test_a_part_that_four_moves_bring_in_has_a_way_in() -> None:
    """Down, along, across and along: the way is found, and replayed without a touch."""
    vehicle, placements = winding()
    plan = assembly_order(vehicle, placements)
    assert plan.blocked == ()
    (step,) = plan.steps
    assert [way for way, _ in step.moves] == ["-z", "-x", "+y", "-x"]
    assert replay(vehicle, placements, plan) == []


def reachable_by_units(forbidden: np.ndarray, room: tuple[int, ...], out: Direction) -> bool:
    """Breadth-first over whole offsets of a room: whether its far side is met from offset 0."""

    def free(at: tuple[int, int, int]) -> bool:
        inside = all(room[i] <= at[i] <= room[i + 3] for i in range(3))
        return inside and not any(all(row[i] < at[i] < row[i + 3] for i in range(3)) for row in forbidden)

    if not free((0, 0, 0)):
        return False
    goal = {"+z": lambda at: at[2] == room[5], "+x": lambda at: at[0] == room[3]}[out]
    seen, waiting = {(0, 0, 0)}, deque([(0, 0, 0)])
    while waiting:
        at = waiting.popleft()
        if goal(at):
            return True
        for step in ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)):
            further = (at[0] + step[0], at[1] + step[1], at[2] + step[2])
            if further not in seen and free(further):
                seen.add(further)
                waiting.append(further)
    return False


@pytest.mark.parametrize("seed", range(40))
def test_long_ways_agree_with_a_flood_of_whole_offsets(seed: int) -> None:
    """There is a way through the boxes exactly where unit steps have one, and its moves meet nothing."""
    dice = random.Random(seed)
    boxes = []
    for _ in range(dice.randint(4, 22)):
        low = [dice.randrange(-9, 9) for _ in range(3)]
        boxes.append([*low, *(value + dice.randint(2, 9) for value in low)])
    forbidden = rows_of(boxes)
    room = (-8, -8, -8, 8, 8, 12)
    out: Direction = dice.choice(["+z", "+x"])
    moves = long_way(forbidden, np.array(room), out, 30)
    assert (moves is not None) is reachable_by_units(forbidden, room, out)
    at = np.zeros(3, dtype=int)
    for way, distance in moves or ():
        for _ in range(distance):
            at = at + np.array(unit_vector(way))
            assert not ((forbidden[:, :3] < at) & (forbidden[:, 3:] > at)).all(axis=1).any()
    if moves:
        assert moves[-1][0] == out
        assert all(one[0] != other[0] for one, other in itertools.pairwise(moves))


@pytest.mark.parametrize("seed", range(20))
def test_ways_out_of_mazes_are_replayed(seed: int) -> None:
    """In seeded mazes of chambers every way that is found through a lid passes the checker."""
    dice = random.Random(seed)
    at = [dice.randrange(1, 8), dice.randrange(1, 4), 0]
    rooms = [tuple(at)]
    for _ in range(dice.randint(4, 12)):
        axis, step = dice.randrange(3), dice.choice((-1, 1))
        at[axis] = min(max(at[axis] + step, (0, 0, 0)[axis]), (9, 5, 3)[axis])
        rooms.append(tuple(at))
    free = [
        BodySolid(Box((8 * x, 8 * y, 16 + 8 * z), (8 * x + 8, 8 * y + 8, 24 + 8 * z)), "free")
        for x, y, z in rooms
    ]
    bare = hollow("wagon", 10, 6, 6)
    fixed = BodySolid(Box((0, 0, 16), (80, 48, 56)), "fixed")
    last = rooms[-1]
    lid = Opening(
        "lid", Box((8 * last[0], 8 * last[1], 24 + 8 * last[2]), (8 * last[0] + 8, 8 * last[1] + 8, 56)), "+z"
    )
    vehicle = replace(bare, top=56.0, body=(fixed, *free), openings=(lid,), ports=())
    first = rooms[0]
    cube = part(Box((0, 0, 0), (7.5, 7.5, 7.5)))
    placements = [put("cube", cube, (8 * first[0] + 0.2, 8 * first[1] + 0.3, 16 + 8 * first[2]))]
    plan = assembly_order(vehicle, placements)
    assert plan.blocked == ()
    assert replay(vehicle, placements, plan) == []


def test_leaving_takes_the_fewest_moves_first() -> None:
    """Where two moves do, no more are made, however many are allowed."""
    mover = rows_of([(0, 0, 0, 10, 10, 10)])
    walls = rows_of([(-20, -20, 10, 15, 40, 20)])
    lid = Opening("lid", Box((0, 0, 2), (4, 4, 4)), "+z")
    moves = leave_through(Box((-2, -2, 0), (4, 4, 4)), mover, forbidden_offsets(mover, walls), lid)
    assert moves is not None
    assert [way for way, _ in moves] == ["+x", "+z"]


def flat(kind: str, plates: int = 2) -> Vehicle:
    """Return a vehicle of bricks throughout."""
    bare = hollow("flat", 10, 6, 6, kind=kind)
    top = 16.0 + 3.2 * plates
    body = (BodySolid(Box((0, 0, 16), (80, 48, top)), "fixed"),)
    return replace(bare, top=top, body=body, openings=(), ports=())


def test_a_flat_deck_is_loaded_though_no_free_room_is_drawn_on_it() -> None:
    """A wagon of nothing but a deck, up to three bricks; not a block as high as a van, nor a loco."""
    deck = open_for_loads(flat("wagon"))
    assert (deck.load_top, deck.hull.high[2]) == (96.0, 96.0)
    (gap,) = [one for one in gaps(deck) if one.out == "+z"]
    assert gap.size == (80.0, 48.0)
    load = block("load", (60.0, 30.0, 20.0), mount=Mount(upright=True, turnable=False))
    (placed,) = (
        Packer({"flat": deck}).pack_as_it_is("flat", (Wanted(Need("load", (load,)), load),)).placements
    )
    assert (placed.place.offset[2], placed.carried_by) == (22.4, "the body")
    for closed in (flat("wagon", 10), flat("loco")):
        assert open_for_loads(closed) == closed
    # Beside a post on the deck from the deck, over both from the top of the post.
    post = BodySolid(Box((0, 0, 22.4), (8, 48, 32)), "fixed")
    behind = open_for_loads(replace(flat("wagon"), top=32.0, body=(*flat("wagon").body, post)))
    assert [one.solid.bounds.low[0] for one in behind.body if one.state == "free"] == [8.0, 0.0]


def test_on_an_open_deck_a_button_that_looks_down_is_dear() -> None:
    """All sides but the lowest are ways out; in a van with a lid only upwards is, and it counts little."""
    button = replace(
        block("bank", (60.0, 20.0, 20.0), mount=Mount()),
        access=(Access("button", "switch", "+z", often=True),),
    )
    wanted = Wanted(Need("bank", (button,)), button)
    for vehicle, shut, ways in (
        (open_for_loads(flat("wagon")), SHUT_OFTEN, {"-z"}),
        (hollow("van", 10, 6, 10), SHUT, {"+x", "-x", "+y", "-y", "-z"}),
    ):
        found = Packer({vehicle.name: vehicle}).seats(vehicle.name, wanted)
        item = item_of(wanted, found, vehicle, "outward", access=False, every_pose=True)
        looks = {v.key: pose_named(v.key).turn_direction("+z") for v in item.variants}
        costs = {v.key: v.cost for v in item.variants}
        assert len(set(looks.values())) > 3
        for key, out in looks.items():
            assert costs[key] == (out != "+z") + (shut if out in ways else 0), key
