"""Holes that a plan opens in the small loco for its wires: they hold, and one lie at a time is told.

The loco's walls are a stud thick, its floor a plate; rows of bricks begin at 16 mm. The hole of a brick is
3.2 mm square within its round, 4 mm above the underside of the brick (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.holes import opened
from fitplan.model.placed import Rebuild
from fitplan.model.proposed import LeastOpening
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import BodySolid, Hole, Port
from fitplan.model.wired import Unreached
from fitplan.verify.openings import check_openings
from fitplan.verify.result import Problem
from fitplan.verify.scene import sites_of

from .lies import problems
from .two_vehicles import loco, plan

ROW = 25.6
"""Underside of the second row of bricks."""


def hole(
    low: Vec, high: Vec, kind: str = "brick left out", axis: str = "x", out: str | None = "-x", **more: Any
) -> Hole:
    cost = {"brick left out": 2.0, "brick with a hole": 1.0, "gap of a brick": 0.0}[kind]
    bricks = more.pop("bricks", 1)
    return Hole("hole 1", kind, Box(low, high), axis, out, bricks, more.pop("cost", bricks * cost))  # type: ignore[arg-type]


LEFT_OUT = hole((0, 8, ROW), (8, 16, ROW + 9.6))
SQUARE = hole((0, 10.4, ROW + 4), (8, 13.6, ROW + 7.2), "brick with a hole")
SIDE = hole((26.4, 0, ROW + 4), (29.6, 8, ROW + 7.2), "brick with a hole", "y", "-y")
FRONT = hole((72, 8, ROW), (80, 16, ROW + 9.6), out="+x")
BELOW = hole((24, 16, 16), (32, 24, 19.2), "brick left out", "z", "-z")
WALL = BodySolid(Box((24, 8, 19.2), (32, 40, 51.2)), "fixed")
INNER = hole((24, 16, ROW), (32, 24, ROW + 9.6), out=None)
GAP = hole((0, 9, 21), (8, 15, 24), "gap of a brick")
HOLD = [LEFT_OUT, SQUARE, SIDE, FRONT, BELOW]


def built(
    *holes: Hole, body: Sequence[BodySolid] = (), told: Sequence[Hole] | None = None, **opening: Any
) -> BuiltTrain:
    """The small train with holes in its loco, and a plan that says so."""
    old = plan().built
    bare = loco()
    vehicle = opened(replace(bare, body=(*bare.body, *body)), holes)
    first, *rest = old.train.vehicles
    train = replace(old.train, vehicles=(replace(first, vehicle=vehicle), *rest), may_open=True)
    cost = sum(one.cost for one in holes)
    names = tuple(one.name for one in holes if one.kind != "gap of a brick")
    least = LeastOpening(
        tuple(("loco", one) for one in (holes if told is None else told)), (), cost, cost, "", True
    )
    rebuild = Rebuild("loco", names, (), cost, cost, "")
    return replace(old, train=train, opening=replace(least, **opening), rebuilds=(rebuild,))


def told(made: BuiltTrain) -> list[str]:
    found: tuple[Problem, ...] = problems(check_openings, made, sites_of(made))
    return [f"{one.where}: {one.message}" for one in found]


@pytest.mark.parametrize("one", HOLD)
def test_holes_through_every_side_hold(one: Hole) -> None:
    assert told(built(one)) == []


def test_holes_between_rooms_and_gaps_of_bricks_hold() -> None:
    assert told(built(INNER, body=(WALL,))) == []
    gap = BodySolid(Box(GAP.box.low, GAP.box.high), "free")
    assert told(built(GAP, body=(gap,))) == []
    two = replace(FRONT, name="hole 2")
    assert told(built(LEFT_OUT, two)) == []


def shifted(one: Hole, x: float = 0, y: float = 0, z: float = 0, **more: Any) -> Hole:
    by = (x, y, z)
    low, high = (tuple(a + b for a, b in zip(end, by, strict=True)) for end in (one.box.low, one.box.high))
    return replace(one, box=Box(low, high), **more)  # type: ignore[arg-type]


def sized(one: Hole, low: Vec, high: Vec) -> Hole:
    """The hole with its faces moved outwards by so much."""
    ends = (
        tuple(a - b for a, b in zip(one.box.low, low, strict=True)),
        tuple(a + b for a, b in zip(one.box.high, high, strict=True)),
    )
    return replace(one, box=Box(*ends))  # type: ignore[arg-type]


GRID = "hole 1: does not lie on the stud grid"
OUT, ROOM = "hole 1: does not lead out", "hole 1: does not begin in a clear room"
NO_BRICK, PART_OF = "hole 1: there is no brick", "hole 1: is in no whole brick"
MOTOR = "hole 1: goes through built-in motor"
MORE = "hole 1: goes through more bricks than it says"
CLEAR = BodySolid(Box((2, 9, ROW + 1), (4, 10, ROW + 2)), "keep-clear")
CUT = BodySolid(Box((2, 9, ROW + 1), (4, 10, ROW + 2)), "free")
DEEPER = BodySolid(Box((8, 8, 19.2), (24, 40, 51.2)), "fixed")
THICK = BodySolid(Box((8, 8, 19.2), (72, 40, 28.8)), "fixed")
DEEP = BodySolid(Box((8, 8, 19.2), (16, 40, 51.2)), "fixed")


@pytest.mark.parametrize(
    ("one", "body", "words"),
    [
        (shifted(LEFT_OUT, y=0.5), (), [GRID]),
        (shifted(LEFT_OUT, y=4), (), [GRID]),
        (shifted(LEFT_OUT, z=3.2), (), [GRID]),
        (shifted(LEFT_OUT, z=-9.6), (), []),
        (sized(LEFT_OUT, (0, 0, 0), (0, 0, 9.6)), (), [GRID]),
        (sized(LEFT_OUT, (0, 8, 0), (0, 8, 0)), (), [GRID]),
        (shifted(SQUARE, y=0.5), (), [GRID]),
        (shifted(SQUARE, z=0.5), (), [GRID]),
        (sized(SQUARE, (0, 0.4, 0), (0, 0.4, 0)), (), [GRID]),
        (sized(SQUARE, (0, 0, 0), (0, 0, 0.4)), (), [GRID]),
        (shifted(SIDE, x=4), (), [GRID]),
        (shifted(BELOW, x=1), (), [GRID]),
        (shifted(BELOW, y=1), (), [GRID]),
        (sized(LEFT_OUT, (-1, 0, 0), (0, 0, 0)), (), [OUT]),
        (sized(LEFT_OUT, (0, 0, 0), (-1, 0, 0)), (), [ROOM]),
        (sized(FRONT, (0, 0, 0), (-1, 0, 0)), (), [OUT]),
        (sized(FRONT, (-1, 0, 0), (0, 0, 0)), (), [ROOM]),
        (replace(FRONT, out="-x"), (), [ROOM, OUT]),
        (replace(LEFT_OUT, out=None), (), [ROOM]),
        (replace(INNER, out="-x"), (WALL,), [OUT]),
        (INNER, (), [NO_BRICK]),
        (LEFT_OUT, (CLEAR,), ["hole 1: goes through keep-clear"]),
        (SQUARE, (CUT,), [PART_OF]),
        (SQUARE, (CLEAR,), [PART_OF]),
        (replace(LEFT_OUT, bricks=0, cost=0.0), (), [MORE]),
        (sized(LEFT_OUT, (0, 0, 0), (8, 0, 0)), (DEEP,), [MORE]),
        (sized(hole((0, 8, ROW), (8, 16, ROW + 9.6), bricks=2), (0, 0, 0), (8, 0, 0)), (DEEP,), []),
        (hole((0, 8, ROW), (24, 16, ROW + 9.6), bricks=2), (DEEPER,), [MORE]),
        (hole((0, 8, ROW), (24, 16, ROW + 9.6), bricks=3), (DEEPER,), []),
        (hole((24, 16, 16), (32, 24, 28.8), "brick left out", "z", "-z"), (THICK,), []),
        (hole((48, 24, ROW), (56, 39, ROW + 9.6), axis="y", out=None), (), [MOTOR, MORE]),
        (replace(LEFT_OUT, cost=1.0), (), ["hole 1: is not at its price"]),
        (replace(SQUARE, cost=2.0), (), ["hole 1: is not at its price"]),
        (replace(GAP, cost=1.0), (BodySolid(GAP.box, "free"),), ["hole 1: is not at its price"]),
        (GAP, (), []),
    ],
)  # fmt: skip
def test_holes_that_do_not(one: Hole, body: tuple[BodySolid, ...], words: list[str]) -> None:
    assert sorted(told(built(one, body=body))) == sorted(f"loco: {word}" for word in words)


def test_holes_are_told_as_they_are_there() -> None:
    """Said and not there, there and not said, not allowed, drawn otherwise, taken out by no rebuild."""
    assert told(built(LEFT_OUT, told=(), cost=0.0, least=0.0)) == [
        "loco: hole 1: is in the body, and the plan does not say so"
    ]
    assert told(built(told=(LEFT_OUT,), cost=2.0)) == ["loco: hole 1: is told, and the body does not have it"]
    made = built(LEFT_OUT)
    assert told(replace(made, train=replace(made.train, may_open=False))) == [
        "plan: opens bodies, which the train does not allow"
    ]
    assert told(replace(made, rebuilds=())) == ["loco: hole 1: no rebuild takes it out"]
    first, *rest = made.train.vehicles
    port = Port("another", LEFT_OUT.box, "-x")
    drawn = replace(first.vehicle, ports=(*first.vehicle.ports[:-1], port))
    wrong = replace(made.train, vehicles=(replace(first, vehicle=drawn), *rest))
    assert told(replace(made, train=wrong)) == ["loco: its holes are drawn otherwise than they are told"]


TAKEN = "shelf brick"
BRICK = (("loco", TAKEN),)
"""It costs 2."""


@pytest.mark.parametrize(
    ("changes", "taken", "words"),
    [
        ({}, (), []),
        ({"cost": 3.0}, (), ["plan: says it costs 3; what it opens costs 2"]),
        ({"cost": 2.002, "least": 2.0}, (), ["plan: says it costs 2.002; what it opens costs 2"]),
        ({"least": 0.0}, (), []),
        ({"least": -0.5}, (), ["plan: says nothing below -0.5 does; it costs 2 itself"]),
        ({"least": 2.5}, (), ["plan: says nothing below 2.5 does; it costs 2 itself"]),
        ({"remove": BRICK, "cost": 4.0}, ("shelf brick",), []),
        ({"remove": BRICK}, ("shelf brick",), ["plan: says it costs 2; what it opens costs 4"]),
        ({"remove": BRICK, "cost": 4.0}, (), [f"loco: says {TAKEN} comes out, and no rebuild takes it out"]),
        ({"remove": (("loco", "lid"),)}, (), ["loco: takes out lid, which is no removable brick"]),
        ({"remove": (("wagon", TAKEN),)}, (), [f"wagon: takes out {TAKEN}, which is no removable brick"]),
    ],
)  # fmt: skip
def test_costs_of_openings_add_up(changes: dict[str, Any], taken: tuple[str, ...], words: list[str]) -> None:
    made = built(LEFT_OUT, **changes)
    rebuild = replace(made.rebuilds[0], remove=(*made.rebuilds[0].remove, *taken))
    assert told(replace(made, rebuilds=(rebuild,))) == words


def test_what_must_be_opened_is_said_where_a_wire_does_not_run() -> None:
    """A proposal is no part of the plan: its holes are not there, and its bricks stay."""
    said = LeastOpening((("loco", LEFT_OUT),), BRICK, 4.0, 4.0, "", planned=False)
    old = replace(plan().built, opening=said)
    assert told(old) == ["plan: says what must be opened for its wires, and all of them run"]
    lost = replace(old.harness, unreached=(Unreached("light", "lamp", "IN", "no way"),))
    assert told(replace(old, harness=lost)) == []
    assert told(replace(old, opening=None)) == []
