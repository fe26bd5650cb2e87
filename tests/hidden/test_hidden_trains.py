"""Trains with a plan hidden in them: the planner finds one, and never says that there is none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.solids import Box
from fitplan.planning.run import plan_train
from fitplan.surface import read_train
from fitplan.verify import verify
from tests.hidden.flood import PITCH, Grid, lay, row_high
from tests.hidden.oracle import Shown, first_shown, shown

CATALOGUE = read_train("harbour-line").catalogue


@pytest.mark.parametrize(("seed", "difficulty"), [(0, 0), (2, 1), (1, 2)])
def test_the_hidden_plan_is_one(seed: int, difficulty: int) -> None:
    """What the generator hides is shown to be a plan; the same seed gives the same."""
    hidden, answer, without = first_shown(seed, difficulty, CATALOGUE)
    assert hidden == first_shown(seed, difficulty, CATALOGUE)[0]
    assert answer.metres > 0
    assert len(without) < 5


def test_a_plan_that_is_none_is_not_shown() -> None:
    """A part in a wall, a port that is shut and a part over another are noticed by the oracle."""
    hidden, _, _ = first_shown(0, 0, CATALOGUE)
    (need, (vehicle, place)), *_ = hidden.places.items()
    low = replace(place, offset=(place.offset[0], place.offset[1], place.offset[2] - 3.0))
    assert not isinstance(shown(replace(hidden, places={**hidden.places, need: (vehicle, low)})), Shown)
    shut = [
        replace(entry, vehicle=replace(entry.vehicle, body=entry.vehicle.body[:-1]))
        for entry in hidden.train.vehicles
    ]
    walled = replace(hidden, train=replace(hidden.train, vehicles=tuple(shut)))
    answer = shown(walled)
    assert isinstance(answer, str)
    assert answer.startswith("no way for wires")


def test_tubes_keep_off_walls_and_each_other() -> None:
    """Through a hole of five voxels square two tubes fit side by side in each direction, and no fifth."""
    hull = Box((0.0, 0.0, 0.0), (16.0, 16.0, 16.0))
    grid = Grid.round(hull)
    grid.draw(hull, solid=False)
    grid.draw(Box((8.0, 0.0, 0.0), (9.6, 16.0, 16.0)), solid=True)
    grid.draw(Box((8.0, 4.0, 4.0), (9.6, 4.0 + 5 * PITCH, 4.0 + 5 * PITCH)), solid=False)
    nets = {}
    for number in range(5):
        y, z = 3.0 + 2.4 * (number % 3), 3.0 + 2.4 * (number // 3)
        ends = (grid.pin((1.0, y, z), "+x", 1), grid.pin((14.0, y, z), "-x", 1))
        assert ends[0] is not None
        assert ends[1] is not None
        nets[f"net {number}"] = [end for end in ends if end is not None]
    four = lay(grid, dict(list(nets.items())[:4]))
    assert isinstance(four, dict)
    assert all(12.0 <= length <= 20.0 for length in four.values())
    assert isinstance(lay(grid, nets), str)


def test_rows_of_wires() -> None:
    """Heights of rows, worked out by hand: five of 1 mm in 3 mm take two rows, a thick one lies lowest."""
    assert np.isclose(row_high([1.0] * 5, 3.0), 2.0)
    assert np.isclose(row_high([1.0, 1.6, 1.0], 2.6), 1.6 + 1.0)
    assert row_high([], 3.0) == 0


@pytest.mark.parametrize(("seed", "difficulty"), [(0, 0), (1, 1), (701, 2)])
def test_no_false_cannot(seed: int, difficulty: int) -> None:
    """A train that has a plan is never said to have none, and what is planned holds."""
    plan = plan_train(first_shown(seed, difficulty, CATALOGUE)[0].train)
    assert plan.verdict != "cannot fit"
    assert verify(plan).holds
    # What comes through ports to a splice is soldered to it inside; all other splices are made on the table.
    led = {w.end.owner for w in plan.built.harness.wires if w.end.kind == "splice" and len(w.legs) > 1}
    assert led == {step.splice for step in plan.work.steps if step.act == "splice" and step.spot == "inside"}
    assert led or seed != 701
