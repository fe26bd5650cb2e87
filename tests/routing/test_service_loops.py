"""Wires of parts that come out again are longer by a service loop."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.built import BuiltTrain
from fitplan.model.ways_in import Exchanged, WayOut

from .test_harness import built_of, wired

SPOTS = {"p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0)}
UP = (("+z", 40.0),)


def loops(built: BuiltTrain) -> float:
    """The service loops of the only wire, in mm."""
    (wire,) = wired(built).wires
    return dict(wire.allowances).get("service loop", 0.0)


def test_what_comes_out_for_something_else_gets_a_loop() -> None:
    """A part over the cells, and a board that is taken out for its socket, get a loop at their pins."""
    built = built_of(SPOTS, {"n": ["p.p0", "q.p0"]})
    assert loops(built) == 0.0
    over = Exchanged("x", "a", "cells", True, True, True, (), (WayOut(("p",), "roof", UP),))
    assert loops(replace(built, exchanged=(over,))) == 25.0
    seldom = replace(over, often=False)
    assert loops(replace(built, exchanged=(seldom,))) == 0.0
    socket = Exchanged("q", "a", "socket", False, True, last=WayOut(("q",), "roof", UP))
    assert loops(replace(built, exchanged=(over, socket))) == 50.0
