"""Boxes of offsets against every offset of a small room looked at in turn."""

from __future__ import annotations

import itertools
from collections import deque

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.solids import DIRECTIONS, Direction, axis_of, is_forward, unit_vector
from fitplan.packing.access.long_ways import free_boxes_of, joined, long_way
from fitplan.packing.engine.free_offsets import allowed, union_volume

SIDE = 5
CORNERS = st.tuples(*[st.integers(-2, SIDE + 1)] * 3, *[st.integers(1, 5)] * 3).map(
    lambda row: (*row[:3], *(low + size for low, size in zip(row[:3], row[3:], strict=True)))
)
INNER = st.tuples(*[st.integers(0, SIDE)] * 3, *[st.integers(0, 3)] * 3).map(
    lambda row: (*row[:3], *(min(low + size, SIDE) for low, size in zip(row[:3], row[3:], strict=True)))
)
Row = tuple[int, ...]


def is_free(point: tuple[float, ...], forbidden: list[Row]) -> bool:
    return not any(all(box[i] < point[i] < box[i + 3] for i in range(3)) for box in forbidden)


def holds(boxes: np.ndarray, point: tuple[int, ...]) -> bool:
    return any(all(box[i] <= point[i] <= box[i + 3] for i in range(3)) for box in boxes.tolist())


@settings(max_examples=40)
@given(st.lists(INNER, min_size=1, max_size=3), st.lists(CORNERS, max_size=5))
def test_a_domain_less_forbidden_boxes_is_just_what_no_box_enters(
    domain: list[Row], forbidden: list[Row]
) -> None:
    """Whole offsets and those half-way between them."""
    left = allowed(np.array(domain), np.array(forbidden, dtype=np.int64).reshape(-1, 6))
    for doubled in itertools.product(range(2 * SIDE + 1), repeat=3):
        point = tuple(value / 2 for value in doubled)
        inside = any(all(box[i] <= point[i] <= box[i + 3] for i in range(3)) for box in domain)
        assert holds(left, point) == (inside and is_free(point, forbidden))  # type: ignore[arg-type]


@given(st.lists(CORNERS, min_size=1, max_size=5))
def test_the_volume_of_a_union_is_the_number_of_its_cells(boxes: list[Row]) -> None:
    """Each cell once, however many boxes it lies in."""
    cells = {
        cell for box in boxes for cell in itertools.product(*(range(box[i], box[i + 3]) for i in range(3)))
    }
    assert union_volume(tuple(boxes)) == len(cells)  # type: ignore[arg-type]


def reached_by_flood(forbidden: list[Row], low: int, high: int) -> set[tuple[int, ...]]:
    """Whole offsets that unit moves join to offset 0; a move is free when its middle is."""
    start = (0, 0, 0)
    if not is_free(start, forbidden):
        return set()
    seen, queue = {start}, deque([start])
    while queue:
        at = queue.popleft()
        for way in DIRECTIONS:
            step = unit_vector(way)
            there = tuple(a + b for a, b in zip(at, step, strict=True))
            if there in seen or not all(low <= value <= high for value in there):
                continue
            middle = tuple(a + b / 2 for a, b in zip(at, step, strict=True))
            if is_free(middle, forbidden) and is_free(there, forbidden):
                seen.add(there)  # type: ignore[arg-type]
                queue.append(there)  # type: ignore[arg-type]
    return seen


@pytest.mark.parametrize("out", DIRECTIONS)
@settings(max_examples=12)
@given(st.lists(CORNERS.map(lambda box: tuple(v - 2 for v in box)), min_size=3, max_size=8))
def test_a_long_way_is_found_just_when_a_flood_gets_out(out: Direction, forbidden: list[Row]) -> None:
    """It keeps out of every box, stays in the room, and ends far enough out."""
    low, high = -3, 4
    room = np.array([low] * 3 + [high] * 3, dtype=np.int64)
    axis, forwards = axis_of(out), is_forward(out)
    rows = np.array(forbidden, dtype=np.int64)
    goal = high if forwards else low
    flooded = reached_by_flood(forbidden, low, high)
    moves = long_way(rows, room, out, 20)
    assert (moves is not None) == any(point[axis] == goal for point in flooded)
    if moves is None:
        return
    assert moves[-1][0] == out
    at = (0, 0, 0)
    for number, (way, distance) in enumerate(moves):
        assert distance > 0
        assert number == 0 or way != moves[number - 1][0]
        step = unit_vector(way)
        for part in range(2 * min(distance, 40)):
            middle = tuple(a + (part + 0.5) / 2 * b for a, b in zip(at, step, strict=True))
            within = all(low <= value <= high for value in middle)
            assert is_free(middle, forbidden) or not within
            assert within or number == len(moves) - 1
        at = tuple(a + distance * b for a, b in zip(at, step, strict=True))  # type: ignore[assignment]
    assert (at[axis] if forwards else -at[axis]) >= 20


@settings(max_examples=25)
@given(st.lists(CORNERS.map(lambda box: tuple(v - 2 for v in box)), max_size=6))
def test_joined_boxes_are_what_a_flood_reaches(forbidden: list[Row]) -> None:
    """From the box that holds offset 0."""
    low, high = -3, 4
    room = np.array([low] * 3 + [high] * 3, dtype=np.int64)
    pieces = free_boxes_of(np.array(forbidden, dtype=np.int64).reshape(-1, 6), room)
    assert pieces is not None
    start = np.array([holds(piece[None], (0, 0, 0)) for piece in pieces], dtype=np.bool_)
    reached = pieces[joined(pieces, start)] if len(pieces) else pieces
    flooded = reached_by_flood(forbidden, low, high)
    for point in itertools.product(range(low, high + 1), repeat=3):
        assert holds(reached, point) == (point in flooded)
    turned = np.array([4, 0, 0, -4, 0, 0], dtype=np.int64)
    assert len(free_boxes_of(np.zeros((0, 6), dtype=np.int64), turned)) == 0  # type: ignore[arg-type]
