"""A long train on a small circle: which of its vehicles stand there at the same time, counted mm by mm."""

from __future__ import annotations

import math

import pytest

from fitplan.checks.on_curve import on_one_circle
from fitplan.model.train import TrainVehicle
from tests.circuit.sample_parts import train, vehicle


def _at_once(lengths: list[tuple[str, float, float]], reference: int, around: float) -> set[str]:
    """Lay the train on the circle, a mark for every millimetre: who gets there before a mark is met twice."""
    found = set()
    for name, start, long in lengths:
        _, here, own = lengths[reference]
        low, high = min(start, here), max(start + long, here + own)
        marks: set[int] = set()
        free = True
        for step in range(round(high - low)):
            mark = step % math.floor(around)
            free &= mark not in marks
            marks.add(mark)
        if free:
            found.add(name)
    return found


@pytest.mark.parametrize("radius", [60.0, 95.0, 160.0, 320.0])
@pytest.mark.parametrize("count", [1, 4, 9])
def test_who_stands_on_one_circle(radius: float, count: int) -> None:
    """As many as the circle has room for from the one that looks; on straight track all of them."""
    cars = [TrainVehicle(f"v{i}", vehicle(f"v{i}", (16 + i, 6))) for i in range(count)]
    made = train([], [], cars)
    starts = made.starts()
    rows = [(one.name, starts[one.name], one.vehicle.length) for one in cars]
    for number, one in enumerate(cars):
        told = on_one_circle(made, radius, one.name)
        assert told == _at_once(rows, number, 2 * math.pi * radius)
        assert on_one_circle(made, -radius, one.name) == told
        assert on_one_circle(made, None, one.name) == {car.name for car in cars}
