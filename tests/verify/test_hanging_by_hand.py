"""What hangs on a part that goes in: what is held, by which way, and what a straight piece crosses."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from fitplan.model.placed import Piece, Shelf
from fitplan.model.solids import Box, Vec
from fitplan.model.wired import Wire
from fitplan.model.work import Lifted
from fitplan.verify.fastenings import check_fastenings
from fitplan.verify.nodes import parts_of, switched_on
from fitplan.verify.scene import sites_of
from fitplan.verify.shapes import Shape
from fitplan.verify.shelves import check_shelves
from fitplan.verify.switched_on import _left_out
from fitplan.verify.work_hanging import HangingWires
from tests.circuit.sample_parts import board, lamp, net, ranger, step_up
from tests.circuit.sample_parts import cells as cells_of
from tests.verify.test_drawn_by_hand import DOWN, EYE, flows
from tests.verify.test_volts_inside import built as circuit

from .lies import placed_with, problems
from .test_toppling_said import slab
from .two_vehicles import FLOOR, WIRES, plan

SITES = sites_of(plan().built)
EVERY = frozenset((wire.number, side) for wire in WIRES for side in ("start", "end"))


def hanging(
    vehicle: str, placed: tuple[str, ...] = (), joined: frozenset[tuple[int, str]] = EVERY, *more: Wire
) -> HangingWires:
    wires = {wire.number: wire for wire in (*WIRES, *more)}
    site = SITES[vehicle]
    return HangingWires(plan().built, wires, site, site.vehicle.openings[0], placed, joined)  # type: ignore[arg-type]


def is_held(number: int, side: str, at: HangingWires) -> bool:
    return at._is_held((number, side), set())  # type: ignore[arg-type]


def test_what_comes_from_a_vehicle_that_was_wired_before_is_held() -> None:
    """Wires 1 and 3 come into the wagon by its port; in the loco their far ends hang out of it."""
    for number in (1, 3):
        assert is_held(number, "end", hanging("wagon"))
        assert not is_held(number, "start", hanging("loco", ("board", "cell")))
    # A wire that begins in a port of its only vehicle comes from nowhere.
    alone = replace(WIRES[0], number=9, legs=WIRES[0].legs[1:])
    assert not is_held(9, "end", hanging("wagon", (), EVERY, alone))


@pytest.mark.parametrize(
    ("placed", "loose", "held"),
    [
        (("board",), (), True),
        ((), (), False),
        (("emitter",), (), False),
        (("board",), ((2, "start"),), False),
        (("board",), ((2, "end"),), True),  # that the splice is made is asked of the wire that hangs
        (("board",), ((4, "end"),), False),
        (("board",), ((3, "start"),), True),
    ],
)
def test_a_wire_is_held_by_way_of_a_splice(
    placed: tuple[str, ...], loose: tuple[tuple[int, str], ...], held: bool
) -> None:
    """From the cell over the splice to the board, where that is in and joined."""
    assert is_held(4, "start", hanging("loco", placed, EVERY - set(loose))) == held


def test_a_wire_to_what_is_built_in_is_held() -> None:
    """From the cell to the motor, once it is joined there; to a part that is not in it is not."""
    wire = replace(WIRES[3], number=9, end=replace(WIRES[3].end, kind="pin", owner="loco/motor", pin="plus"))
    joined = EVERY | {(9, "start"), (9, "end")}
    assert is_held(9, "start", hanging("loco", (), joined, wire))
    assert not is_held(9, "start", hanging("loco", (), joined - {(9, "end")}, wire))
    for owner in ("lamp", "loco/horn"):
        other = replace(wire, end=replace(wire.end, owner=owner))
        assert not is_held(9, "start", hanging("loco", (), joined, other))


def length(points: tuple[Vec, ...]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(points))


def lifted(end: tuple[int, str], *wires: int) -> Lifted:
    return Lifted(end, wires, "", ())  # type: ignore[arg-type]


HELD = ("stripping", "splice overlap", "slack at couplings", "curves at couplings")


def give(wire: Wire) -> float:
    return wire.cut_mm - wire.bare_mm - sum(mm for what, mm in wire.allowances if what in HELD)


def test_the_way_of_what_hangs_goes_on_over_splices() -> None:
    """From the cell's pin to the splice, and back along the board's wire; each gives what it is longer."""
    four, two = WIRES[3], WIRES[1]
    at = hanging("loco")
    assert at._way(lifted((4, "start"), 4)) == (
        four.legs[0].points,
        pytest.approx(length(four.legs[0].points) + give(four)),
    )
    way = at._way(lifted((4, "start"), 4, 2))
    assert way is not None
    points = (*four.legs[0].points, *two.legs[0].points[-2::-1])
    assert way[0] == points
    assert way[1] == pytest.approx(length(points) + give(four) + give(two))
    # Less than nothing is not taken from the other.
    short = replace(two, cut_mm=two.bare_mm - 5)
    one = HangingWires(at.built, {4: four, 2: short}, at.site, None, (), EVERY)
    way = one._way(lifted((4, "start"), 4, 2))
    assert way is not None
    assert way[1] == pytest.approx(length(points) + give(four))
    for wrong in (
        lifted((4, "start"), 2),
        lifted((4, "start"), 9),
        lifted((4, "start"), 4, 1),
        lifted((4, "start"), 4, 9),
        lifted((2, "end"), 2, 4),  # its far end is at a pin
        lifted((1, "end"), 1),  # it ends in the other vehicle
    ):
        assert at._way(wrong) is None
    assert hanging("wagon")._way(lifted((4, "start"), 4)) is None
    lamp_in = hanging("wagon")._way(lifted((1, "end"), 1))
    assert lamp_in is not None
    assert lamp_in[0] == WIRES[0].legs[1].points[::-1]


INSIDE: Vec = (50.0, 24.0, 35.0)


@pytest.mark.parametrize(
    ("start", "end", "crosses"),
    [
        # Up through the open roof; down, along and across through floor and walls.
        (INSIDE, (50.0, 24.0, 80.0), False),
        (INSIDE, (50.0, 24.0, 5.0), True),
        (INSIDE, (50.0, 60.0, 35.0), True),
        (INSIDE, (50.0, -20.0, 35.0), True),
        (INSIDE, (100.0, 24.0, 35.0), True),
        (INSIDE, (-20.0, 24.0, 35.0), False),  # out of its window
        ((50.0, 24.0, 28.0), (-20.0, 24.0, 28.0), True),
        # Along a wall, the floor: by a fifth of a millimetre it rubs, by three tenths it runs through.
        ((30.0, 40.2, 30.0), (60.0, 40.2, 30.0), False),
        ((30.0, 40.3, 30.0), (60.0, 40.3, 30.0), True),
        ((30.0, 7.8, 30.0), (60.0, 7.8, 30.0), False),
        ((30.0, 7.7, 30.0), (60.0, 7.7, 30.0), True),
        ((72.2, 12.0, 30.0), (72.2, 36.0, 30.0), False),
        ((72.3, 12.0, 30.0), (72.3, 36.0, 30.0), True),
        ((7.8, 32.5, 22.0), (7.8, 36.0, 22.0), False),
        ((7.7, 32.5, 22.0), (7.7, 36.0, 22.0), True),
        ((40.0, 12.0, FLOOR - 0.2), (60.0, 12.0, FLOOR - 0.2), False),
        ((40.0, 12.0, FLOOR - 0.3), (60.0, 12.0, FLOOR - 0.3), True),
        # Beside all of it, and along its outer face.
        ((30.0, 60.0, 30.0), (60.0, 60.0, 30.0), False),
        ((30.0, 48.0, 30.0), (60.0, 48.0, 30.0), False),
    ],
)
def test_a_straight_piece_crosses_what_is_solid(start: Vec, end: Vec, crosses: bool) -> None:
    at = hanging("wagon")
    roof = at.site.vehicle.openings[0]
    assert at._crossed(roof, start, end, ()) == crosses
    assert at._crossed(roof, end, start, ()) == crosses


def test_a_straight_piece_crosses_parts() -> None:
    at = hanging("wagon")
    roof = at.site.vehicle.openings[0]
    part: list[Shape] = [Box((60, 10, 30), (64, 14, 34)), Box((40, 20, 30), (44, 28, 40))]
    assert at._crossed(roof, (30.0, 24.0, 35.0), (60.0, 24.0, 35.0), part)
    assert not at._crossed(roof, (30.0, 24.0, 35.0), (60.0, 24.0, 35.0), part[:1])
    assert not at._crossed(roof, (30.0, 28.0, 35.0), (60.0, 28.0, 35.0), part)


# -- one more behind what is passed over -------------------------------------------------------------------


def test_a_load_that_topples_is_told_with_what_holds_loads() -> None:
    made = slab(9.5, 30, 62)
    found = [one.message.partition(" at ")[0] for one in problems(check_fastenings, made, sites_of(made), ())]
    assert {"bank topples towards +x", "bank topples towards -x"} <= set(found)


def test_a_piece_is_held_against_every_part() -> None:
    """The lamp is far from it; the eye, which comes after it, is not."""
    eye = plan().built.placement("eye")
    assert eye is not None
    x, y, z = eye.bounds.low
    shelf = Shelf("block", (Piece("block", Box((x, y, z), (x + 2, y + 2, z + 2))),), 0)
    made = placed_with(plan(), "lamp", shelf=shelf)
    found = [one.message for one in problems(check_shelves, sites_of(made.built)["wagon"])]
    assert "the block under lamp runs into eye" in found


def test_parts_in_no_net_do_not_hide_what_comes_after_them() -> None:
    parts = {"lamp": lamp(), "eye": ranger(), "board": board()}
    nets = (net("five", "supply", "eye.VCC", "board.5V"),)
    made = circuit(parts, nets)
    bench = switched_on(made)
    found = [(where, message) for where, _, message in _left_out(made, bench, parts_of(made))]
    assert ("lamp", "is in no net") in found
    assert ("eye", "has no ground") in found
    assert ("board", "has no ground") in found


def test_a_regulator_behind_one_without_volts_to_spare() -> None:
    """Of 6 V a linear one of 9 V passes 6 on: what steps down behind it takes its power at 6 V."""
    linear = replace(DOWN, kind="linear", out_v=9.0, quiescent_ma=3.0)
    parts = {"cells": cells_of(), "first": step_up(linear), "lift": step_up(DOWN), "eye": ranger()}
    nets = (
        net("a", "supply", "cells.plus", "first.in"),
        net("b", "supply", "first.out", "lift.in"),
        net("five", "supply", "lift.out", "eye.VCC"),
    )
    assert flows(parts, *nets) == pytest.approx(EYE * 5.0 / (6.0 * 0.8) + 2.0 + 3.0)
    low = {**parts, "first": step_up(replace(linear, out_v=5.5))}
    assert flows(low, *nets) == pytest.approx(EYE * 5.0 / (5.5 * 0.8) + 2.0 + 3.0)
