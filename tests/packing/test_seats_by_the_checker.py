"""Seats of parts at windows, on faces, where they are fixed: each corner of a domain asked of the checker.

The checker reckons in exact millimetres on what was placed and shares nothing with the search for seats. At
every corner and in the middle of a domain it has nothing to say; three tenths beyond any side of it, where no
other domain begins, it has, or the part stands out of the hull.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from dataclasses import replace

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Access, Mount, Part
from fitplan.model.placed import Placement
from fitplan.model.solids import DIRECTIONS, Box, Direction, Place, Pose, Vec, axis_of, is_forward, poses
from fitplan.model.vehicle import BuiltIn, Face, Vehicle, Window
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.seat_proof import no_seat
from fitplan.packing.vehicle.seats import Seat, seats
from fitplan.verify import mounts
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, sites_of

from .small_trains import hollow, train_of

ROOM = hollow("v", 12, 8, 12)
MIDDLE = Box((40.0, 26.0, 32.0), (56.0, 38.0, 44.0))


def as_box(low: list[float], high: list[float]) -> Box:
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def with_window(out: Direction) -> Vehicle:
    """A window of 20 × 12 mm in the middle of one wall of the hull, as thick as a stud."""
    hull, axis = ROOM.hull, axis_of(out)
    low, high = [c - 10.0 for c in hull.center], [c + 10.0 for c in hull.center]
    other = [k for k in range(3) if k != axis][-1]
    low[other], high[other] = hull.center[other] - 6.0, hull.center[other] + 6.0
    if is_forward(out):
        low[axis], high[axis] = hull.high[axis] - 8.0, hull.high[axis]
    else:
        low[axis], high[axis] = hull.low[axis], hull.low[axis] + 8.0
    return replace(ROOM, windows=(Window("hole", as_box(low, high), out),))


def with_face(out: Direction) -> Vehicle:
    axis = axis_of(out)
    low, high = list(MIDDLE.low), list(MIDDLE.high)
    low[axis] = high[axis] = MIDDLE.high[axis] if is_forward(out) else MIDDLE.low[axis]
    motor = BuiltIn("motor", "motor", (MIDDLE,), faces=(Face("side", as_box(low, high), out),))
    return replace(ROOM, built_in=(motor,))


def drawn(dice: random.Random, mount: Mount) -> Part:
    """A part of two boxes in tenths of a mm, drawn off its own origin."""
    low: Vec = (dice.randrange(-50, 50) / 10, dice.randrange(-50, 50) / 10, dice.randrange(-50, 50) / 10)
    size = [dice.randrange(60, 140) / 10 for _ in range(3)]
    first = as_box(list(low), [a + b for a, b in zip(low, size, strict=True)])
    second = as_box(list(first.low), [first.high[0], first.low[1] + 3.0, first.high[2] + 2.0])
    access = (Access("lid", "switch", "+z", True), Access("usb", "console", dice.choice(DIRECTIONS), True))
    return Part("p", "p", "part", (first, second), 1.0, "invented", mount=mount, access=access)


def lens_of(dice: random.Random, made: Part, side: Direction) -> Box:
    """A lens on the side that looks, of some tenths, or standing out by a millimetre."""
    bounds, axis = made.bounds, axis_of(side)
    low = [a + dice.randrange(1, 15) / 10 for a in bounds.low]
    high = [b - dice.randrange(1, 15) / 10 for b in bounds.high]
    edge = bounds.high[axis] if is_forward(side) else bounds.low[axis]
    low[axis] = high[axis] = edge
    return as_box(low, high)


def cases(seed: int) -> Iterator[tuple[Vehicle, Part, Need]]:
    """For each direction a window, a face and a fixed side, with a part that may go there."""
    dice = random.Random(seed)
    for out in DIRECTIONS:
        side = dice.choice(DIRECTIONS)
        ups = tuple(dice.sample(DIRECTIONS, 3))
        for looks, sits in ((side, None), (None, side)):
            mount = Mount(upright=False, up=ups if dice.random() < 0.5 else (), looks=looks, sits=sits)
            made = drawn(dice, mount)
            if dice.random() < 0.7:
                made = replace(made, mount=replace(mount, lens=lens_of(dice, made, side)))
            if looks:
                yield with_window(out), made, Need("p", (made,), looks=("v", "hole"))
            else:
                yield with_face(out), made, Need("p", (made,), sits=("v", "motor", "side"))
        made = drawn(dice, Mount(upright=dice.random() < 0.3))
        towards = ((dice.choice((*DIRECTIONS, "plug")), out),)
        planes = ((dice.choice(DIRECTIONS), ROOM.hull.center[0]),)
        for fixed in (
            FixedPlace("v", towards=towards),
            FixedPlace("v", planes=planes),
            FixedPlace("v", pose=dice.choice(poses()).name, planes=planes),
            FixedPlace("v", pose=dice.choice(poses()).name, offset=(30.0, 20.0, 30.0)),
        ):
            yield ROOM, made, Need("p", (made,), pinned=fixed)


def objections(site: Site, need: Need) -> list[str]:
    """What the checker has against the part where it lies, and whether it stands out of the hull."""
    sheet = Tally()
    (one,) = site.parts
    mounts._need(site, one, need, sheet)
    mounts._upright(site, one, need, sheet)
    if need.looks is not None:
        mounts._looks(site, one, need, sheet)
    if need.sits is not None:
        mounts._sits(site, one, need, sheet)
    hull = site.vehicle.hull
    found = [problem.message for problem in sheet.report().problems if problem.subject != "view"]
    if any(
        a < c - 1e-6 or b > d + 1e-6
        for a, b, c, d in zip(one.bounds.low, one.bounds.high, hull.low, hull.high, strict=True)
    ):
        found.append("out of the hull")
    return found


def told(vehicle: Vehicle, made: Part, need: Need, pose: Pose, at: tuple[int, ...]) -> list[str]:
    place = Place(pose, (at[0] / 10, at[1] / 10, at[2] / 10))
    placed = Placement("p", made, "v", place, "")
    (site,) = sites_of(BuiltTrain(train_of((vehicle,), (need,)), (placed,), Harness(), ())).values()
    return objections(site, need)


def corners(box: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    yield from itertools.product(*((box[k], box[k + 3]) for k in range(3)))
    yield tuple((box[k] + box[k + 3]) // 2 for k in range(3))


def allowed(found: tuple[Seat, ...], pose: Pose, at: tuple[int, ...]) -> bool:
    return any(
        all(box[k] <= at[k] <= box[k + 3] for k in range(3))
        for seat in found
        if seat.pose == pose
        for box in seat.offsets
    )


@pytest.mark.parametrize("seed", range(3))
def test_seats_are_just_where_the_checker_lets_a_part_be(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A pose without a seat has none at the places that rules of the others leave, either."""
    monkeypatch.setattr(mounts, "_view", lambda *_: None)
    asked = 0
    for vehicle, made, need in cases(seed):
        surely, maybe = (seats(made, need, "v", vehicle, way) for way in ("outward", "inward"))  # type: ignore[arg-type]
        assert (no_seat(made, need, "v", vehicle) is None) or not surely
        if not maybe:
            assert no_seat(made, need, "v", vehicle) is not None
        assert {seat.pose for seat in surely} <= {seat.pose for seat in maybe}
        assert seats(made, need, "w", vehicle) == ()
        whole = need.pinned is not None and need.pinned.is_whole
        for seat in surely:
            for box in seat.offsets:
                for at in corners(box):
                    asked += 1
                    assert allowed(maybe, seat.pose, at)
                    if not whole:
                        assert told(vehicle, made, need, seat.pose, at) == [], (need, seat, at)
                middle = list(corners(box))[-1]
                for axis, end in itertools.product(range(3), (0, 3)):
                    beyond = [*middle]
                    beyond[axis] = box[axis + end] + (3 if end else -3)
                    if not allowed(maybe, seat.pose, tuple(beyond)) and not whole:
                        assert told(vehicle, made, need, seat.pose, tuple(beyond)) != [], (need, seat, beyond)
    assert asked > 60


def test_a_part_with_a_whole_place_sits_there_and_nowhere_else() -> None:
    """To the tenth; what lies between two tenths may be either."""
    made = drawn(random.Random(1), Mount(upright=True, looks="+x"))
    for pose in poses()[:6]:
        fixed = FixedPlace("v", pose=pose.name, offset=(30.04, 20.0, 30.0))
        need = Need("p", (made,), pinned=fixed)
        (seat,) = seats(made, need, "v", ROOM)
        assert (seat.pose, seat.offsets) == (pose, ((300, 200, 300, 300, 200, 300),))
        (wide,) = seats(made, need, "v", ROOM, "inward")
        assert wide.offsets[0][0] <= 299
        assert wide.offsets[0][3] >= 302
        assert no_seat(made, need, "v", ROOM) is None
        assert no_seat(made, need, "w", ROOM) is not None
