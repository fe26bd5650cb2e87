"""What lies across a straight line, with boxes that touch one another."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest

from fitplan.model.solids import Vec
from fitplan.workbench.reach import _crossed

ROWS = np.array([[0, 0, 0, 100, 40, 50], [0, 40, 0, 100, 80, 50]], dtype=np.int64)
"""Two boxes of 10 × 4 × 5 mm side by side, in tenths: their seam lies at y = 4."""


def across(start: Vec, end: Vec, *names: str) -> set[str]:
    found = _crossed(np.array([start]), end, ROWS, np.array(names or ("body", "body")))
    return {name for name, hit in found.items() if hit[0]}


@pytest.mark.parametrize(
    ("y", "z", "hit"),
    [(4.0, 2.0, True), (3.9, 2.0, True), (4.1, 2.0, True), (0.0, 2.0, False), (8.0, 2.0, False),
     (4.0, 5.0, False), (2.0, 5.0, False), (2.0, 0.0, False), (4.0, 5.1, False), (9.0, 2.0, False)],
)  # fmt: skip
def test_a_line_along_a_seam_is_inside_and_along_a_face_is_not(y: float, z: float, hit: bool) -> None:
    """Between two boxes of one thing nothing passes; along the outside of both it rubs."""
    for start, end in (
        ((-5.0, y, z), (15.0, y, z)),
        ((15.0, y, z), (-5.0, y, z)),
        ((2.0, y, z), (8.0, y, z)),
    ):
        assert across(start, end) == ({"body"} if hit else set())


def test_between_two_things_that_touch_a_line_passes() -> None:
    """A wire may be drawn through between a part and the wall that it lies at."""
    assert across((-5.0, 4.0, 2.0), (15.0, 4.0, 2.0), "one", "other") == set()
    assert across((-5.0, 3.9, 2.0), (15.0, 3.9, 2.0), "one", "other") == {"one"}


def test_lines_are_as_sampled() -> None:
    """Random lines, half of them in the plane of the seam, beside points taken along them."""
    dice = random.Random(5)
    hits = 0
    for number in range(400):
        ends = [[dice.uniform(-4, 14), dice.uniform(-4, 12), dice.uniform(-4, 9)] for _ in range(2)]
        if number % 2:
            ends[0][1] = ends[1][1] = 4.0
        start, end = (np.array(one) for one in ends)
        steps = start + np.linspace(0.001, 0.999, 4000)[:, None] * (end - start)
        inside = ((steps > [0, 0, 0]) & (steps < [10, 8, 5])).all(axis=1)
        deep = ((steps > [0.02, 0.02, 0.02]) & (steps < [9.98, 7.98, 4.98])).all(axis=1)
        if inside.any() != deep.any():
            continue
        hits += bool(inside.any())
        assert across(tuple(start), tuple(end)) == ({"body"} if inside.any() else set())
    assert 60 < hits < 340


def test_names_are_told_apart() -> None:
    """Each of several things on the way, and none that is beside it."""
    for names in itertools.permutations(("one", "other")):
        assert across((5.0, -5.0, 2.0), (5.0, 20.0, 2.0), *names) == {"one", "other"}
        assert across((5.0, -5.0, 2.0), (5.0, 3.0, 2.0), *names) == {names[0]}
