"""What of a wire's length is spent on purpose is told; the rest is as short as its room allows."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from fitplan.model.wired import Harness, Wire
from fitplan.routing.harness.harness import wire_train
from tests.routing.test_harness import Flow, built_of


def wired(spots: dict[str, tuple[str, float, float]], nets: dict[str, list[str]]) -> Harness:
    """Return the harness."""
    return wire_train(built_of(spots, nets), {name: Flow(10.0, 10.0) for name in nets}).harness


def straight_mm(wire: Wire) -> float:
    """Return how far the ends of a wire are apart."""
    return math.dist(wire.start.at, wire.end.at)


def test_a_free_wire_has_no_detour_or_tells_it() -> None:
    """Two pins with nothing between: less what is told the wire is straight, but for its lead-outs."""
    harness = wired({"p": ("a", 14.0, 9.0), "q": ("a", 88.0, 31.0)}, {"n": ["p.p0", "q.p0"]})
    (wire,) = harness.wires
    told = sum(entry.more_mm for entry in wire.detours)
    assert wire.bare_mm - told == pytest.approx(straight_mm(wire), rel=0.01, abs=2.5)


def test_the_wall_between_is_no_detour() -> None:
    """A way over blocks between two pins is needed: it is not told as longer."""
    spots = {"p": ("a", 14.0, 20.0), "q": ("a", 88.0, 20.0)}
    spots |= {f"b{i}": ("a", 33.0 + 19.0 * i, 20.0) for i in range(3)}
    harness = wired(spots, {"n": ["p.p0", "q.p0"]})
    (wire,) = harness.wires
    assert all(entry.more_mm >= 0.1 for entry in wire.detours)
    assert wire.bare_mm >= straight_mm(wire) - 1e-6


def test_detours_are_never_more_than_what_a_way_has_over_the_straight_one() -> None:
    """Of twelve wires in one wagon none tells more than its length over the distance of its ends."""
    spots = {f"p{i}": ("a", 14.0 + 19.0 * (i % 5), 9.0 + 11.0 * (i // 5)) for i in range(15)}
    nets = {f"n{i}": [f"p{i}.p0", f"p{(i + 7) % 15}.p0"] for i in range(7)}
    harness = wired(spots, nets)
    assert harness.unreached == ()
    for wire in harness.wires:
        legs = sum(math.dist(a, b) for leg in wire.legs for a, b in pairwise(leg.points))
        told = sum(entry.more_mm for entry in wire.detours)
        assert 0 <= told <= legs - straight_mm(wire) + 1e-6
        for entry in wire.detours:
            assert entry.why in ("along floors and corners", "beside and round other wires", "room to bend")
            # The way that it is longer than is there to be looked at.
            assert math.dist(entry.shortest[0], wire.legs[0].points[0]) < 0.01
            assert math.dist(entry.shortest[-1], wire.legs[-1].points[-1]) < 0.01
            alone = sum(math.dist(a, b) for a, b in pairwise(entry.shortest))
            assert alone + entry.more_mm == pytest.approx(legs, abs=0.01)
