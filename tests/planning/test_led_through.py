"""A lead with its plugs on goes through ports when from some place on it each end goes through the rest."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from fitplan.model import led_through
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import Port
from fitplan.model.wired import Harness, Leg, Wire, WireEnd
from tests.packing.small_trains import hollow, train_of


def _through(plug: Vec, opening: tuple[float, float]) -> bool:
    """Some way of turning it by right angles, one edge ahead, goes through as it is drawn."""
    return any(a <= opening[0] and b <= opening[1] for a, b, _ in itertools.permutations(plug))


@pytest.mark.parametrize("seed", range(40))
def test_plugs_and_ports_beside_every_place_to_begin(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three vehicles, four ports on the way: equal to trying every port before which one may begin."""
    rng = np.random.default_rng(seed)
    sizes = [(float(rng.integers(4, 12)), float(rng.integers(4, 12))) for _ in range(4)]
    plugs: list[Vec] = [tuple(float(v) for v in rng.integers(4, 12, 3)) for _ in range(2)]  # type: ignore[misc]

    def port(name: str, size: tuple[float, float]) -> Port:
        return Port(name, Box((0, 0, 20), (8, size[0], 20 + size[1])), "+x")

    made = [
        replace(hollow("a", 8, 6, 9), ports=(port("out", sizes[0]),)),
        replace(hollow("b", 8, 6, 9), ports=(port("in", sizes[1]), port("out", sizes[2]))),
        replace(hollow("c", 8, 6, 9), ports=(port("in", sizes[3]),)),
    ]
    ends = [WireEnd("pin", owner, "p", owner, (0, 0, 0), 0.0) for owner in "ac"]
    legs = (Leg("a", (), "", "out"), Leg("b", (), "in", "out"), Leg("c", (), "in", ""))
    wire = Wire(1, "n", "signal", "BK", 28, 1.5, ends[0], ends[1], legs, 10.0, (), 100.0, 1.0, 0.0)
    monkeypatch.setattr(led_through, "plug_at", lambda _built, end: plugs[end is ends[1]])
    built = BuiltTrain(train_of(tuple(made), ()), (), Harness(), ())
    expected = any(
        all(_through(plugs[0], size) for size in sizes[:k])
        and all(_through(plugs[1], size) for size in sizes[k:])
        for k in range(5)
    )
    assert led_through.goes_through(built, wire) == expected
