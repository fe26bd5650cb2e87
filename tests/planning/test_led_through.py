"""A lead with its plugs on goes through ports when from some place on it each end goes through the rest."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Literal

import numpy as np
import pytest

from fitplan.model import led_through
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Direction, Vec
from fitplan.model.vehicle import BodySolid, Port
from fitplan.model.wired import Harness, Leg, Wire, WireEnd
from fitplan.verify.leads import _clear_edges
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


@pytest.mark.parametrize(
    ("finish", "wide", "sill", "high"),
    [
        ("studded", 16.0, 0.0, 9.6 - 1.7),
        ("studded", 8.0, 0.0, 9.6 - 1.7),
        ("smooth", 16.0, 0.0, 9.6),
        ("studded", 4.8, 0.0, 9.6),  # a hole, not a gap of a brick: no stud stands in it
        ("studded", 16.0, 3.2, 9.6),  # over a sill of a tile
    ],
)
@pytest.mark.parametrize("out", ["+x", "-x"])
def test_a_plug_goes_over_the_studs_in_a_port(
    out: Direction, finish: Literal["studded", "smooth"], wide: float, sill: float, high: float
) -> None:
    """A stud is 1.7 mm high (common practice, no source); both ways of measuring a port agree."""
    wagon = hollow("a", 8, 6, 9)
    floor = wagon.ports[0].box.low[2]
    x = wagon.length - 8.0 if out == "+x" else 0.0
    y = 24.0 if wide > 8.0 else 20.0  # over two studs, or over one
    box = Box((x, y - wide / 2, floor + sill), (x + 8.0, y + wide / 2, floor + sill + 9.6))
    tile = Box((x, 8.0, floor), (x + 8.0, 40.0, floor + sill))
    body = [*wagon.body, BodySolid(box, "free"), *([BodySolid(tile, "fixed", smooth=True)] if sill else [])]
    port = Port("hole", box, out)
    wagon = replace(wagon, body=tuple(body), ports=(port,), floor_finish=finish)
    wide_and_high = led_through.over_studs(wagon, port, frozenset())
    assert wide_and_high == pytest.approx((wide, high))
    assert _clear_edges(wagon, port, frozenset()) == pytest.approx(list(wide_and_high))
