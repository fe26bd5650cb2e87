"""Layouts of a vehicle are wired as long as they teach something: what is lost again and again is let be."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from typing import Any

import pytest

import fitplan.planning.vehicle_places as places
from fitplan.model.wired import Unreached
from fitplan.planning.run import plan_train
from fitplan.routing.harness.harness import VehicleTried
from tests.planning.test_least_opening import _walled


@pytest.mark.parametrize(
    ("pins", "wired"),
    [
        (iter(["a"] * 99), 1 + places.ENOUGH),
        (iter(["a", "b"] * 99), 2 + places.ENOUGH),
        ((str(number) for number in count()), places.MOST_TRIES),
    ],
)
def test_what_was_lost_before_ends_the_tries(
    monkeypatch: pytest.MonkeyPatch, pins: Iterator[str], wired: int
) -> None:
    """One end is lost in every layout: the same one, one of two by turns, or another each time."""
    asked: list[str] = []

    def tried(*_: Any, **__: Any) -> VehicleTried:
        asked.append(next(pins))
        return VehicleTried((Unreached("w0", "one", asked[-1], "no way"),), (), 100.0)

    done: list[int] = []
    real = places.place_vehicle

    def placed(*given: Any) -> Any:
        before = len(asked)
        found = real(*given)
        done.append(len(asked) - before)
        return found

    monkeypatch.setattr(places, "try_vehicle", tried)
    monkeypatch.setattr(places, "place_vehicle", placed)
    plan_train(_walled(may_open=False))
    assert done[0] == wired
