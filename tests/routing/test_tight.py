"""Ways drawn tight among exact boxes, against samples of the distance and a closed form."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from fitplan.model.solids import Box
from fitplan.routing.map.exact_room import NEAR_MM, ExactRoom
from fitplan.routing.ways.tight import drawn_tight, is_clear
from tests.packing.small_trains import hollow

Floats = NDArray[np.float64]
NO_ZONES: Floats = np.zeros((0, 6))


def off(points: Floats, boxes: Floats) -> Floats:
    """Return (n,) how far points lie off the nearest box."""
    low, high = boxes[None, :, :3], boxes[None, :, 3:]
    out = np.maximum(np.maximum(low - points[:, None], points[:, None] - high), 0.0)
    found: Floats = np.linalg.norm(out, axis=2).min(axis=1)
    return found


def sampled(way: Floats) -> Floats:
    """Return points along a way, 0.05 mm apart or less."""
    rows = []
    for a, b in itertools.pairwise(way):
        count = max(math.ceil(float(np.linalg.norm(b - a)) / 0.05), 1)
        rows.append(a + np.linspace(0, 1, count + 1)[:, None] * (b - a))
    return np.concatenate(rows)


def length(way: Floats) -> float:
    """Return the length of a way in mm."""
    return float(np.linalg.norm(np.diff(way, axis=0), axis=1).sum())


def random_scene(seed: int) -> tuple[Floats, Floats]:
    """Return a loose way that keeps 1 mm off boxes beside it, and the boxes."""
    rng = np.random.default_rng(seed)
    way = np.cumsum(rng.uniform((3, -6, -6), (10, 6, 6), (8, 3)), axis=0)
    middles = rng.uniform(way.min(axis=0) - 5, way.max(axis=0) + 5, (60, 3))
    half = rng.uniform(0.5, 4.0, (60, 3))
    boxes = np.concatenate([middles - half, middles + half], axis=1)
    keep = [off(sampled(way), box[None]).min() >= 1.0 for box in boxes]
    return way, boxes[keep]


@pytest.mark.parametrize("seed", range(20))
def test_a_tight_way_is_shorter_and_keeps_off_everything(seed: int) -> None:
    """Of random ways: ends held, not longer, no sample nearer to a box than is wanted."""
    way, boxes = random_scene(seed)
    tight = drawn_tight(way, boxes, NO_ZONES, 1.0, 0.4)
    assert (tight[[0, -1]] == way[[0, -1]]).all()
    assert length(tight) <= length(way) + 1e-9
    assert off(sampled(tight), boxes).min() >= 1.0 - 1e-4


def test_round_an_edge_it_is_two_tangents_and_an_arc() -> None:
    """A string round the edge of a wall: the closed form, to a quarter of a per cent."""
    wall = np.array([[-30.0, -30.0, -30.0, 0.0, 0.0, 30.0]])
    way = np.array([[-20.0, 3.0, 0.0], [3.0, 3.0, 0.0], [3.0, -20.0, 0.0]])
    tight = drawn_tight(way, wall, NO_ZONES, 1.0, 0.4)
    reach = math.hypot(20.0, 3.0)
    tangent = math.sqrt(reach**2 - 1.0)
    # The angle at the edge between the two ends, on the free side, less those that the tangents take.
    ends = [math.atan2(3.0, -20.0), math.atan2(-20.0, 3.0)]
    angle = ends[0] - ends[1]
    exact = 2 * tangent + (angle - 2 * math.acos(1.0 / reach))
    assert length(tight) == pytest.approx(exact, rel=0.0025)
    assert length(tight) >= exact - 1e-3


def test_in_a_zone_less_is_kept_clear() -> None:
    """A straight piece 0.5 mm off a wall is free where 0.4 mm are enough, and nowhere else."""
    wall = np.array([[0.0, 0.0, 0.0, 20.0, 5.0, 5.0]])
    start, end = np.array([1.0, 5.5, 2.0]), np.array([9.0, 5.5, 2.0])
    zone = np.array([[0.0, 4.0, 0.0, 10.0, 7.0, 4.0]])
    assert not is_clear(start, end, wall, NO_ZONES, 1.0, 0.4)
    assert is_clear(start, end, wall, zone, 1.0, 0.4)
    assert not is_clear(start, end + np.array([5.0, 0.0, 0.0]), wall, zone, 1.0, 0.4)


def test_left_and_right_are_alike() -> None:
    """The image of a scene gives the image of the way."""
    for seed in range(6):
        way, boxes = random_scene(seed)
        tight = drawn_tight(way, boxes, NO_ZONES, 1.0, 0.4)
        flip = np.array([1.0, -1.0, 1.0])
        image = boxes.copy()
        image[:, 1], image[:, 4] = -boxes[:, 4], -boxes[:, 1]
        assert drawn_tight(way * flip, image, NO_ZONES, 1.0, 0.4) == pytest.approx(tight * flip, abs=1e-6)


@pytest.mark.parametrize("mirrored", [False, True])
def test_what_a_corner_slides_towards_is_in_the_way_too(mirrored: bool) -> None:
    """Past a chip beside the box round the way: a corner that slides out of it keeps off the chip as well."""
    chip = Box((73.0, 24.0, 20.0), (92.7, 35.7, 50.0))
    beam = Box((47.7, 36.7, 32.3), (67.7, 46.0, 40.0))
    room = ExactRoom(hollow("v", 16, 8, 9), frozenset(), (chip, beam), mirrored=mirrored)
    way = np.array(
        [(97.9, 36.3, 34.9), (93.0, 36.8, 33.7), (80.0, 37.6, 32.4), (71.5, 37.1, 30.8), (17.2, 36.8, 30.5)]
    )
    box = np.array([[*one.low, *one.high] for one in (chip, beam)])
    if mirrored:
        way[:, 1] = room.vehicle.width - way[:, 1]
        box[:, [1, 4]] = room.vehicle.width - box[:, [4, 1]]
    points = sampled(room.tightened(way, 1.0))
    beyond = np.abs(points - way[0]).max(axis=1) > NEAR_MM
    assert off(points[beyond], box).min() >= 0.5 - 1e-6
    assert length(room.tightened(way, 1.0)) < length(way)
