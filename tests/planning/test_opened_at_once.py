"""Where walls part what is to be joined, no other choice of parts is wired before they are opened."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

import fitplan.planning.choose_and_wire as road
from fitplan.model.vehicle import BodySolid
from fitplan.planning.run import plan_train
from tests.packing.small_trains import block
from tests.planning.test_least_opening import WALL, _walled


@pytest.mark.parametrize(("may_open", "wired"), [(True, 2), (False, 3)])
def test_other_choices_are_not_wired_first(
    monkeypatch: pytest.MonkeyPatch, may_open: bool, wired: int
) -> None:
    """Three parts serve a need: all are wired in vain; with leave to open one, and again once it is open."""
    train = _walled(wall=BodySolid(WALL, "fixed"), may_open=may_open)
    first, second = train.needs
    others = tuple(block(f"two {n}", (22.0, 20.0, 20.0 + n), pins=2) for n in (1, 2))
    needs = (first, replace(second, candidates=(*second.candidates, *others)))
    train = replace(train, needs=needs, catalogue={**train.catalogue, **{part.id: part for part in others}})
    asked: list[str] = []

    def counted(run: Any, places: Any, *given: Any) -> Any:
        asked.append(places.built.placement("two").part.id)
        return lays(run, places, *given)

    lays = road.place_and_wire
    monkeypatch.setattr(road, "place_and_wire", counted)
    plan = plan_train(train)
    assert plan.complete is may_open
    assert len(asked) == wired
    assert len(set(asked)) == (1 if may_open else 3)
