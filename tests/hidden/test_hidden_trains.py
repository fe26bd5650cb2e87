"""Trains with a plan hidden in them: the planner finds one, and never says that there is none."""

from __future__ import annotations

import pytest

from fitplan.planning.run import plan_train
from fitplan.surface import read_train
from fitplan.verify import verify
from tests.hidden.trains import draw, hidden_plan

CATALOGUE = read_train("harbour-line").catalogue


@pytest.mark.parametrize(("seed", "difficulty"), [(0, 0), (2, 1), (1, 2)])
def test_the_hidden_plan_is_one(seed: int, difficulty: int) -> None:
    """What the generator hides is wired and held by the independent checker; the same seed gives the same."""
    hidden = draw(seed, difficulty, CATALOGUE)
    assert hidden == draw(seed, difficulty, CATALOGUE)
    answer = hidden_plan(hidden)
    assert answer is not None
    assert answer.complete
    assert {place.need: place.place for place in answer.built.placements} == {
        need: place for need, (_, place) in hidden.places.items()
    }


@pytest.mark.parametrize(("seed", "difficulty"), [(0, 0), (1, 0), (1, 1)])
def test_no_false_cannot(seed: int, difficulty: int) -> None:
    """A train that has a plan is never said to have none, and what is planned holds."""
    plan = plan_train(draw(seed, difficulty, CATALOGUE).train)
    assert plan.verdict != "cannot fit"
    assert verify(plan).holds
