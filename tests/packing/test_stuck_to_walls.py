"""What a part that needs no floor is stuck to: a face that it lies before, no edge that it lies beside."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fitplan.packing.vehicle.part_places import AT_WALL, _at_something

WALL = (0, 0, 0, 1000, 80, 288)
"""A wall along x, 28.8 mm high, in tenths of a mm."""


@pytest.mark.parametrize(
    ("low", "stuck"),
    [
        ((300, 80, 100), True),  # flat on its side
        ((300, 80 + AT_WALL, 100), True),  # as far off as tape bridges
        ((300, 81 + AT_WALL, 100), False),
        ((300, 20, 288), True),  # on its top
        ((300, 80, 288), False),  # over its upper edge, beside it
        ((300, 80 + AT_WALL, 288 + AT_WALL), False),
        ((300, 79, 288), True),  # a tenth of a millimetre over it
        ((1000, 80, 100), False),  # round its end
        ((1000, 20, 100), True),  # on its end
        ((1000, 80, 288), False),  # at its corner
    ],
)
def test_a_part_at_a_wall(low: tuple[int, int, int], stuck: bool) -> None:
    """A part of 4.4 × 8.6 × 11.7 mm at a wall, told by its lowest corner."""
    part = np.array([[*low, low[0] + 44, low[1] + 86, low[2] + 117]])
    assert _at_something(part, np.array([WALL])).tolist() == [stuck]
    far = np.array([[-900, -900, -900, -800, -800, -800]])
    assert _at_something(part, np.concatenate([far, [WALL]])).tolist() == [stuck]
    assert _at_something(part, far).tolist() == [False]


def test_all_of_it_may_be_turned() -> None:
    """Whatever the axes are called, the answer is the same."""
    part = np.array([300, 85, 100, 344, 171, 217])
    for order in itertools.permutations(range(3)):
        axes = [*order, *(axis + 3 for axis in order)]
        assert _at_something(part[axes][None], np.array(WALL)[axes][None]).tolist() == [True]
