"""Wires beside zones that are shut to them, and wires of parts that come out: in closed form."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fitplan.model.found import Finding
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Direction, Vec
from fitplan.model.vehicle import Zone
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.model.wired import BoughtLead
from fitplan.verify.lifted import check_lifted
from fitplan.verify.nearest import _point_to_line
from fitplan.verify.scene import sites_of
from fitplan.verify.zones import check_zones

from .lies import built_with, problems, train_with, wire_with
from .two_vehicles import CELL_GND, LAMP_IN, SPLICE_AT, WIRES, plan


def zoned(*zones: Zone, made: Plan | None = None) -> list[tuple[str, float]]:
    """What is said of wires where the loco has these zones, with the figure."""
    old = made or plan()
    loco, wagon = old.built.train.vehicles
    loco = replace(loco, vehicle=replace(loco.vehicle, zones=zones))
    old = train_with(old, vehicles=(loco, wagon))
    return [(one.message, one.figure) for one in problems(check_zones, old.built, sites_of(old.built))]


def beside(by: float, *, wires: bool = False, below: bool = False) -> Zone:
    """A box beside or below the straight piece of wire 1, at y 24 and z 22."""
    if below:
        return Zone("shut", Box((30, 20, 20), (36, 28, 22 - by)), wires=wires)
    return Zone("shut", Box((30, 24 + by, 18), (36, 40, 26)), wires=wires)


@pytest.mark.parametrize("below", [False, True])
def test_the_middle_of_a_wire_keeps_from_a_zone(below: bool) -> None:
    """By 0.4 mm, or half its outside where that is less; 0.05 mm is let be."""
    assert zoned(beside(0.36, below=below)) == []
    ((message, figure),) = zoned(beside(0.34, below=below))
    assert message == "wire 1 (light) passes 0.34 mm from the zone shut, which is shut to wires"
    assert figure == pytest.approx(0.34)
    assert zoned(beside(0.34, below=below, wires=True)) == []
    thin = wire_with(plan(), 1, outer_mm=0.6)
    assert zoned(beside(0.26, below=below), made=thin) == []
    assert len(zoned(beside(0.24, below=below), made=thin)) == 1


def test_the_least_distance_of_any_piece_counts_and_a_thick_wire_keeps_no_more() -> None:
    """Wire 4 bends once: a zone at its first piece alone, and one at its second."""
    first, bend, last = WIRES[3].legs[0].points
    assert (first, last) == (CELL_GND, SPLICE_AT)
    for one, two in ((first, bend), (bend, last)):
        x, y, z = ((a + b) / 2 for a, b in zip(one, two, strict=True))
        box = Box((x - 0.2, y - 0.2, z - 0.2), (x + 0.2, y + 0.2, z + 0.2))
        ((message, figure),) = zoned(Zone("shut", box, wires=False))
        assert message.startswith("wire 4 (ground) passes 0.00 mm")
        assert figure == 0.0


def test_a_wire_in_a_vehicle_that_is_not_there_is_let_be() -> None:
    legs = tuple(replace(leg, vehicle="tender") for leg in WIRES[3].legs)
    assert zoned(beside(0.4), made=wire_with(plan(), 4, legs=legs)) == []


# -- wires that are lifted out with their part -------------------------------------------------------------

TOO_SHORT = Finding("access", "stop", "lamp", "wire 1 (light) is too short", 1.0, 2.0, "mm", "", "")
FAR = WIRES[0].legs[-1].points[0]
UP: tuple[tuple[Direction, float], ...] = (("+z", 30.0),)


def out(*ways: WayOut, vehicle: str = "wagon") -> Exchanged:
    return Exchanged("lamp", vehicle, "tray", True, True, cells=True, first=ways[:-1], last=ways[-1])


def lifted(
    spare: float, entry: Exchanged, *findings: Finding, made: Plan | None = None
) -> list[tuple[str, float]]:
    """What is said of wire 1, with this much more than its way and what is held, and no word of wire 3."""
    old = made or plan()
    wire = next(one for one in old.built.harness.wires if one.number == 1)
    held = sum(mm for what, mm in wire.allowances if what in ("stripping", "slack at couplings"))
    old = wire_with(old, 1, cut_mm=wire.bare_mm + held + spare)
    old = built_with(old, exchanged=(entry,))
    found = problems(check_lifted, old.built, findings)
    return [(one.message, one.figure) for one in found if one.message.startswith("wire 1 ")]


def lacking(moves: tuple[tuple[Direction, float], ...]) -> float:
    """How much more than its way in the wagon the wire to the lamp needs: the farthest end of a move."""
    points = WIRES[0].legs[-1].points
    long = sum(math.dist(a, b) for a, b in pairwise(points))
    at, farthest = list(LAMP_IN), 0.0
    for way, mm in moves:
        at["xyz".index(way[1])] += mm if way[0] == "+" else -mm
        farthest = max(farthest, math.dist(at, FAR))
    return farthest - long


@pytest.mark.parametrize(
    "moves",
    [
        UP,
        (("-x", 20.0), ("+z", 40.0)),
        (("-x", 60.0), ("+x", 50.0)),
        (("-y", 30.0), ("-z", 10.0), ("+x", 5.0)),
    ],
)
def test_a_wire_reaches_its_pin_at_the_end_of_every_move(moves: tuple[tuple[Direction, float], ...]) -> None:
    """Straight from the far end of its leg; 0.2 mm is let be."""
    lacks = lacking(moves)
    assert lifted(lacks - 0.19, out(WayOut(("lamp",), "roof", moves))) == []
    ((message, figure),) = lifted(lacks - 0.21, out(WayOut(("lamp",), "roof", moves)))
    assert message == (
        "wire 1 (light) is 0.2 mm too short for its part to come out for tray of lamp, and nothing says so"
    )
    assert figure == pytest.approx(0.21, abs=1e-3)


@pytest.mark.parametrize("what", ["stripping", "splice overlap", "curves at couplings", "slack at couplings",
                                  "pair drawn in at couplings"])  # fmt: skip
def test_what_is_held_elsewhere_is_no_slack_here(what: str) -> None:
    made = wire_with(plan(), 1, allowances=((what, 50.0),))
    wire = made.built.harness.wires[0]
    made = wire_with(made, 1, cut_mm=wire.bare_mm + 50.0 + lacking(UP))
    for more, count in ((0.0, 0), (-1.0, 1)):
        now = wire_with(made, 1, cut_mm=made.built.harness.wires[0].cut_mm + more)
        now = built_with(now, exchanged=(out(WayOut(("lamp",), "roof", UP)),))
        found = [one for one in problems(check_lifted, now.built, ()) if one.message.startswith("wire 1 ")]
        assert len(found) == count
    free = wire_with(made, 1, allowances=(("bends", 50.0),), cut_mm=wire.bare_mm + lacking(UP))
    now = built_with(free, exchanged=(out(WayOut(("lamp",), "roof", UP)),))
    assert not [one for one in problems(check_lifted, now.built, ()) if one.message.startswith("wire 1 ")]


def test_which_wires_are_lifted() -> None:
    """Of parts that come out, in that vehicle, cut from a spool, whose other end stays."""
    short = lacking(UP) - 5
    way = WayOut(("lamp",), "roof", UP)
    assert len(lifted(short, out(way))) == 1
    assert lifted(short, out(WayOut(("eye",), "roof", UP))) == []
    assert len(lifted(short, out(way, WayOut(("eye",), "roof", UP)))) == 1
    assert lifted(short, out(way, vehicle="loco")) == []
    lead = wire_with(plan(), 1, lead=BoughtLead("lead", 200.0, "wagon"))
    assert lifted(short, out(way), made=lead) == []
    bare = wire_with(plan(), 1, legs=(WIRES[0].legs[0], replace(WIRES[0].legs[1], points=(LAMP_IN,))))
    assert lifted(short, out(way), made=bare) == []
    assert lifted(short, out(way), TOO_SHORT) == []
    assert len(lifted(short, out(way), replace(TOO_SHORT, message="wire 11 (x) is too short"))) == 1
    assert len(lifted(short, out(way), replace(TOO_SHORT, message="wire 1 (light) is thin"))) == 1
    assert len(lifted(short, out(way), replace(TOO_SHORT, subject="wire"))) == 1
    assert lifted(short, replace(out(way), last=None)) == []


def test_a_wire_between_parts_that_go_together_goes_along() -> None:
    """The board's end of wire 1, once it is in the wagon, too: with the board out before, it is not held."""
    end = replace(WIRES[0].start, vehicle="wagon", at=FAR)
    made = wire_with(plan(), 1, legs=WIRES[0].legs[1:], start=end)
    way, board = WayOut(("lamp",), "roof", UP), WayOut(("board",), "roof", (("+z", 1.0),))
    short = lacking(UP) - 5
    assert len(lifted(short, out(way), made=made)) == 1
    assert lifted(short, out(board, way), made=made) == []
    assert lifted(short, out(WayOut(("lamp", "board"), "roof", UP)), made=made) == []
    assert len(lifted(short, out(way, board), made=made)) == 1


@pytest.mark.parametrize("seed", range(3))
def test_a_point_to_a_line_is_the_least_of_many_points(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for _ in range(40):
        point, start, end = (_vec(values) for values in rng.integers(-5, 6, (3, 3)))
        shares = np.linspace(0, 1, 2001)[:, None]
        along = np.array(start) + shares * (np.array(end) - np.array(start))
        least = np.linalg.norm(along - np.array(point), axis=1).min()
        assert _point_to_line(point, start, end) == pytest.approx(least, abs=1e-2)
        assert _point_to_line(point, start, end) <= least + 1e-9


def _vec(values: np.ndarray) -> Vec:
    x, y, z = (float(value) for value in values)
    return (x, y, z)
