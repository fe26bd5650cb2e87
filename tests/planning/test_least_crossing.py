"""What crosses from some rooms to others at the least, beside every way to lay parts that have a choice."""

from __future__ import annotations

import itertools
import random

import pytest

from fitplan.planning.joined_rooms import RoomLink
from fitplan.planning.least_crossing import least_crossing
from fitplan.planning.wire_bound import BoundNet, WireRooms


def _area(nets: list[tuple[float, list[str]]], sides: dict[str, bool]) -> int:
    """Return what all nets with ends on both sides take together, in thousandths of a square millimetre."""
    crossing = [wire for wire, ends in nets if len({sides[end] for end in ends}) > 1]
    return sum(round(1000 * wire**2) for wire in crossing)


@pytest.mark.parametrize("seed", range(60))
def test_no_way_to_lay_the_parts_crosses_less(seed: int) -> None:
    rng = random.Random(seed)
    ends = [f"part {number}" for number in range(rng.randint(2, 7))]
    nets = [
        (rng.choice((1.0, 1.3, 1.4, 2.1)), rng.sample(ends, rng.randint(2, len(ends))))
        for _ in range(rng.randint(1, 9))
    ]
    sides = {end: rng.choice((True, False, None)) for end in ends}
    found = least_crossing(nets, sides)
    free = [end for end in ends if sides[end] is None]
    fixed = {end: side for end, side in sides.items() if side is not None}
    least = min(
        _area(nets, fixed | dict(zip(free, chosen, strict=True)))
        for chosen in itertools.product((True, False), repeat=len(free))
    )
    assert sum(round(1000 * nets[number][0] ** 2) for number in found) == least


def test_a_board_spares_a_hole_its_nets_on_one_side_only() -> None:
    """Beside the lamps or beside the motor: two wires or four cross, but never fewer than two."""
    nets = [(1.0, ["board", "lamp"]), (1.4, ["board", "eye"])]
    nets += [(1.0, ["board", "motor"])] * 4
    sides = {"board": None, "lamp": True, "eye": True, "motor": False}
    assert least_crossing(nets, sides) == (0, 1)
    assert least_crossing(nets, sides | {"board": True}) == (2, 3, 4, 5)
    assert least_crossing(nets, sides | {"lamp": None, "eye": None}) == ()


ROOM, CABIN, REAR, FRONT = ("loco", 1), ("loco", 2), ("loco", "rear"), ("wagon", "front")


def _loco(holes: int, lamps: int) -> WireRooms:
    """Return a loco whose cabin is joined with the room by holes of 3.2 mm; a board may lie in either."""
    where = {"board": frozenset({ROOM, CABIN}), "motor": frozenset({("wagon", 1)})}
    where |= {f"lamp {number}": frozenset({CABIN}) for number in range(lamps)}
    nets = [BoundNet(f"signal {n}", 1.3, ("board", "motor")) for n in range(9)]
    nets += [BoundNet(f"light {n}", 1.3, ("board", f"lamp {n}")) for n in range(lamps)]
    links = [RoomLink((CABIN, ROOM), "hole", ((3.2, 3.2),))] * holes
    links += [RoomLink((ROOM, REAR), "port", ((8.0, 8.0),)), RoomLink((REAR, FRONT))]
    links.append(RoomLink((FRONT, ("wagon", 1)), "port", ((8.0, 8.0),)))
    return WireRooms(where, tuple(nets), tuple(links), order=("loco", "wagon"), as_laid=True)


@pytest.mark.parametrize("lamps", [3, 4, 5, 8])
def test_a_hole_is_counted_on_for_all_that_crosses_wherever_the_board_lies(lamps: int) -> None:
    """A hole carries four wires of 1.3 mm; each net alone would need none of it, all together they do."""
    assert bool(_loco(1, lamps).refuted()) is (lamps > 4)
    assert not _loco(2, lamps).refuted()


def test_a_proof_counts_on_parts_that_reach_through_a_hole() -> None:
    """The same rooms where something is proved: the board may have pins on both sides of the wall."""
    rooms = _loco(1, 8)
    exact = WireRooms(rooms.where, rooms.nets, rooms.links, order=rooms.order)
    assert rooms.refuted()
    assert not exact.refuted()


@pytest.mark.parametrize(("walled", "named"), [(0, {"loco"}), (1, set()), (2, set())])
def test_a_vehicle_is_in_the_way_that_lets_no_wires_through_by_itself(walled: int, named: set[str]) -> None:
    """Without a hole to the cabin, whose lamps are lit from the room, the wagon has no part in it."""
    assert _loco(walled, 2).in_the_way() == named


def test_of_two_vehicles_without_ports_both_are_in_the_way() -> None:
    """Each is looked at as if the other had no walls."""
    rooms = _loco(1, 2)
    coupled = tuple(link for link in rooms.links if link.openings is None)
    inside = tuple(link for link in rooms.links if link.name == "hole")
    shut = WireRooms(rooms.where, rooms.nets, (*inside, *coupled), order=rooms.order, as_laid=True)
    assert shut.in_the_way() == {"loco", "wagon"}
