"""Posts past what must be kept clear: beside every rectangle of a coarse grid, cell by cell."""

from __future__ import annotations

import random

import numpy as np
import pytest

from fitplan.packing.vehicle.lowering import LoweredPart, lower_parts
from fitplan.packing.vehicle.posts import LEAST_POST, broadened, post_under

CELL = 40
"""Everything lies on a grid of this pitch (tenths of a mm), so the largest post does, too."""
ACROSS = 8
FLOOR = (-400, -400, -10, 800, 800, 0)

Box = tuple[int, int, int, int, int, int]


def _scene(seed: int) -> tuple[Box, list[Box]]:
    """Return a part that hangs and what is in the way under it."""
    dice = random.Random(seed)
    part = (0, 0, 8 * CELL, ACROSS * CELL, ACROSS * CELL, 10 * CELL)
    rooms = []
    for _ in range(dice.randint(1, 5)):
        x, y, z = dice.randrange(ACROSS), dice.randrange(ACROSS), dice.randrange(7)
        long, wide, high = (dice.randint(1, 5) for _ in range(3))
        rooms.append(tuple(CELL * one for one in (x, y, z, x + long, y + wide, min(8, z + high))))
    return part, rooms  # type: ignore[return-value]


def _widest(rooms: list[Box]) -> int:
    """Return the area of the widest post under the part's middle, over every rectangle of cells; 0: none."""
    free = np.ones((ACROSS, ACROSS), dtype=bool)
    for i in range(ACROSS):
        for j in range(ACROSS):
            x, y = (i + 0.5) * CELL, (j + 0.5) * CELL
            free[i, j] = not any(room[0] < x < room[3] and room[1] < y < room[4] for room in rooms)
    best, middle = 0, ACROSS // 2
    for i0 in range(middle + 1):
        for j0 in range(middle + 1):
            for i1 in range(middle, ACROSS + 1):
                for j1 in range(middle, ACROSS + 1):
                    wide = min(i1 - i0, j1 - j0) * CELL >= LEAST_POST
                    if wide and free[i0:i1, j0:j1].all():
                        best = max(best, (i1 - i0) * (j1 - j0) * CELL**2)
    return best


def test_the_widest_post_is_found_wherever_there_is_one() -> None:
    """As wide as the widest of all rectangles that are free down to the floor, in 150 scenes."""
    found = 0
    for seed in range(150):
        part, rooms = _scene(seed)
        post = post_under([part], [part], np.array([FLOOR]), np.array(rooms))
        widest = _widest(rooms)
        area = (post[3] - post[0]) * (post[4] - post[1]) if post else 0
        assert area == widest, seed
        if post is None:
            continue
        found += 1
        assert (post[2], post[5]) == (0, part[2])
        for room in rooms:
            assert any(post[i] >= room[i + 3] or room[i] >= post[i + 3] for i in range(3)), seed
    assert 30 < found < 140


@pytest.mark.parametrize("kept", [True, False])
def test_a_board_over_pins_gets_a_post_beside_their_plugs(kept: bool) -> None:
    """Over a driver with room for plugs above it a board that its window holds is carried from the floor.

    So it is where nothing is kept clear: on a block over the driver, beside its middle, it would tip.
    """
    board = LoweredPart("eyes", ((0, 0, 320, 320, 320, 340),), (), 0, needs_support=True)
    driver = LoweredPart(
        "driver", ((0, 0, 0, 120, 320, 100),), ((0, 0, 100, 120, 320, 320),) if kept else (), 0, True
    )
    eyes, _ = lower_parts([board, driver], [FLOOR], frozenset({"eyes", "driver"}))
    assert eyes.by == "shelf"
    assert (eyes.shelf, eyes.steady) == ((120, 0, 0, 320, 320, 320), True)


def test_no_post_stands_where_it_would_tip() -> None:
    """A column that is free only past the middle of a part carries nothing."""
    board = LoweredPart("eyes", ((0, 0, 320, 320, 320, 340),), (), 0, needs_support=True)
    driver = LoweredPart("driver", ((0, 0, 0, 200, 320, 100),), ((0, 0, 100, 200, 320, 320),), 0, True)
    eyes, _ = lower_parts([board, driver], [FLOOR], frozenset({"eyes", "driver"}))
    assert (eyes.shelf, eyes.steady) == (None, False)


def meet(one: Box, other: Box) -> bool:
    return all(one[i] < other[i + 3] and other[i] < one[i + 3] for i in (0, 1))


@pytest.mark.parametrize("seed", range(40))
def test_under_an_edge_a_block_is_a_stud_wide_where_there_is_room(seed: int) -> None:
    """A strip is widened to 7.8 mm over a floor, past what is there: wherever any offset at all is free."""
    dice = random.Random(seed)
    strip = (0, 0, 0, 16, dice.choice((30, 120)), 90)
    taken = [
        (x, y, dice.randrange(-20, 100), x + dice.randint(5, 60), y + dice.randint(5, 60), 200)
        for x, y in ((dice.randint(-80, 80), dice.randint(-80, 140)) for _ in range(3))
    ]
    floor = (-30, -90, -10, 300, 300, 0)
    found = broadened(strip, np.array([floor]), np.array(taken))  # type: ignore[arg-type]
    high = [box for box in taken if box[2] < strip[5]]
    long = strip[4] > LEAST_POST  # a strip that is longer than a stud may be cut
    free = [
        (x, y)
        for x in range(strip[3] - LEAST_POST, strip[0] + 1)
        for y in (range(strip[4] - LEAST_POST + 1) if long else range(strip[4] - LEAST_POST, 1))
        if x + LEAST_POST / 2 >= floor[0]
        and not any(
            x < box[3] and box[0] < x + LEAST_POST and y < box[4] and box[1] < y + LEAST_POST for box in high
        )
    ]
    assert (found is not None) == bool(free)
    if found is not None:
        assert found[0] <= strip[0] < strip[3] <= found[3]
        assert found[3] - found[0] == LEAST_POST
        assert strip[1] <= found[1] < found[4] <= strip[4] if long else found[1] <= 0 < 30 <= found[4]
        assert found[4] - found[1] >= LEAST_POST
        assert not any(meet(found, box) for box in high)


def test_a_thin_part_stands_on_a_post_beside_what_is_in_the_way() -> None:
    """A board of 1.6 mm lies with one end over another's edge, 0.2 mm off: its post stands on the floor."""
    board = LoweredPart("eye", ((100, 0, 200, 116, 180, 330),), (), 0, needs_support=True)
    other = LoweredPart("brain", ((60, 150, 0, 200, 162, 198),), (), 0, needs_support=True)
    eye, _ = lower_parts([board, other], [FLOOR], frozenset({"eye", "brain"}))
    assert (eye.by, eye.steady) == ("shelf", True)
    assert eye.shelf is not None
    assert (eye.shelf[1:3], eye.shelf[3] - eye.shelf[0], eye.shelf[4:]) == ((0, 0), LEAST_POST, (150, 200))
