"""Boxes less a box, against a grid of unit cells."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from fitplan.lattice.difference import without

SIDE = 6
SPAN = st.tuples(st.integers(0, SIDE - 1), st.integers(1, SIDE)).map(lambda s: (s[0], min(s[0] + s[1], SIDE)))
BOX = st.tuples(SPAN, SPAN, SPAN).map(
    lambda spans: [*(low for low, _ in spans), *(high for _, high in spans)]
)


def counted(boxes: NDArray[np.int64]) -> NDArray[np.int64]:
    """How often each unit cell is covered."""
    cells = np.zeros((SIDE, SIDE, SIDE), dtype=np.int64)
    for x0, y0, z0, x1, y1, z1 in boxes.tolist():
        cells[x0:x1, y0:y1, z0:z1] += 1
    return cells


@given(st.lists(BOX, max_size=3), BOX)
def test_nothing_of_the_hole_is_left_and_all_else_as_often_as_before(
    boxes: list[list[int]], hole: list[int]
) -> None:
    """Overlapping boxes keep overlapping; no piece is empty, and there are six of a box at most."""
    rows = np.array(boxes, dtype=np.int64).reshape(-1, 6)
    left = without(rows, hole)
    expected = counted(rows)
    expected[hole[0] : hole[3], hole[1] : hole[4], hole[2] : hole[5]] = 0
    assert (counted(left) == expected).all()
    assert (left[:, 3:] > left[:, :3]).all()
    assert len(left) <= 6 * len(rows)
    halves = without(rows / 2, np.array(hole) / 2)
    assert (halves * 2 == left).all()
