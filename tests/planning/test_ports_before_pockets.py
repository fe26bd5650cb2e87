"""Ports that lead nowhere inside, or hardly anywhere: wires take one that leads on.

Trains are drawn with one port that stands free, beside ports that have a pocket behind them: closed, or with
a slit. The port that stands free is wide enough for all wires, so a complete plan exists.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

import pytest

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Part
from fitplan.model.solids import Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid, BuiltIn, Port, Vehicle
from fitplan.planning import run
from fitplan.planning.run import plan_train
from fitplan.surface import read_train
from fitplan.units import STUD
from fitplan.verify import verify
from tests.packing.small_trains import block, hollow, train_of

WALL_MM = 3.2
"""The walls of a pocket are so thick."""
HOLE = (8.0, 6.4)
"""Width and height of every port, in mm."""


@cache
def _wires() -> dict[str, Part]:
    catalogue = read_train("harbour-line").catalogue
    return {name: part for name, part in catalogue.items() if name.startswith("wire-")}


def _pocket(port: Port, deep: float, slit: float) -> list[Box]:
    """Return the walls round the room behind a port in the front wall; ``slit`` (mm) stays open below."""
    low, high = port.box.low, port.box.high
    inner, back = low[0] - deep, low[0] - deep - WALL_MM
    right, left, roof = low[1] - WALL_MM, high[1] + WALL_MM, high[2] + WALL_MM
    return [
        Box((back, right, low[2] + slit), (inner, left, roof)),
        Box((back, right, low[2]), (low[0], low[1], roof)),
        Box((back, high[1], low[2]), (low[0], left, roof)),
        Box((back, right, high[2]), (low[0], left, roof)),
    ]


def _wagon(rng: random.Random, ports: int, *, free: bool) -> Vehicle:
    """Return a wagon with ports in a row in its front wall, before a pocket each, which may stay open.

    Parameters
    ----------
    free
        Whether one has no pocket; without, all pockets are closed.
    """
    wagon = hollow("wagon", 18, 3 * ports + 3, 8)
    floor = wagon.ports[0].box.low[2]
    whole = rng.randrange(ports) if free else None
    holes, solids, motors = [], [], []
    for number in range(ports):
        right = STUD + 5.0 + number * 22.0
        box = Box((wagon.length - STUD, right, floor), (wagon.length, right + HOLE[0], floor + HOLE[1]))
        holes.append(Port(f"hole {number}", box, "+x"))
        if number == whole:
            continue
        deep, slit = rng.uniform(4.0, 16.0), rng.choice((0.0, 0.0, 1.6, 2.4)) if free else 0.0
        walls = _pocket(holes[-1], deep, slit)
        if rng.random() < 0.5:
            solids += [BodySolid(box, "fixed") for box in walls]
        else:
            motors.append(BuiltIn(f"motor {number}", "motor", tuple(walls), mass_g=10.0))
    rng.shuffle(holes)
    clear = [BodySolid(port.box, "free") for port in holes]
    return replace(
        wagon,
        body=(*wagon.body, *clear, *solids),
        ports=(*holes, wagon.ports[1]),
        built_in=tuple(motors),
    )


def _train(seed: int, *, free: bool = True) -> Train:
    rng = random.Random(seed)
    ports, nets = rng.randint(2, 3), rng.randint(1, 6)
    wagon = _wagon(rng, ports, free=free)
    loco = hollow("loco", 14, 3 * ports + 3, 8, kind="loco")
    y = rng.uniform(STUD, loco.width - STUD - HOLE[0])
    rear = replace(loco.ports[1].box, low=(0.0, y, loco.ports[1].box.low[2]))
    rear = Box(rear.low, (STUD, y + HOLE[0], rear.low[2] + HOLE[1]))
    loco = replace(
        loco,
        body=(*loco.body, BodySolid(rear, "free")),
        ports=(loco.ports[0], replace(loco.ports[1], box=rear)),
    )
    one, two = block("one", (20.0, 20.0, 12.0), pins=nets), block("two", (22.0, 20.0, 12.0), pins=nets)
    van = hollow("van", 18, wagon.studs_wide, 8)
    home = rng.choice((wagon, van))  # into the van they pass through the wagon
    floor = loco.ports[0].box.low[2]
    fixed = FixedPlace(home.name, "+x+y+z", (rng.uniform(20.0, 60.0), rng.uniform(10.0, 24.0), floor))
    needs = (Need("one", (one,), vehicles=("loco",)), Need("two", (two,), pinned=fixed))
    vehicles = (loco, wagon, van)
    train = train_of(vehicles, needs, tuple((f"w{n}", (f"one.p{n}", f"two.p{n}")) for n in range(nets)))
    if rng.random() < 0.3:  # the whole train the other way round
        turned = tuple(TrainVehicle(body.name, body, turned=True) for body in reversed(vehicles))
        train = replace(train, vehicles=turned)
    return replace(train, catalogue={**_wires(), "one": one, "two": two}, may_open=not free)


@pytest.mark.parametrize("seed", range(8))
def test_wires_take_a_port_that_leads_on(seed: int) -> None:
    """Whatever is nearest to the port that they come from."""
    plan = plan_train(_train(seed))
    assert plan.complete, [lost.reason for lost in plan.unreached]
    assert not verify(plan).problems


@pytest.mark.parametrize("seed", range(4))
def test_where_none_leads_on_a_brick_with_a_hole_is_opened(seed: int) -> None:
    """The wall beside the pockets is whole, and what stands before it has room: one hole is the least."""
    plan = plan_train(_train(seed, free=False))
    assert plan.complete, [lost.reason for lost in plan.unreached]
    assert not verify(plan).problems
    opening = plan.built.opening
    assert opening is not None
    assert (opening.planned, opening.cost, opening.least) == (True, 1.0, 1.0)


def test_openings_that_did_not_help_are_not_told_to_be_planned_with(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bodies that nothing opens: what was tried is told, and nobody is sent to write `may open` again."""
    monkeypatch.setattr(run, "opened_train", lambda train, opening, told: train)
    plan = plan_train(_train(2, free=False))
    assert not plan.complete
    opening = plan.built.opening
    assert opening is not None
    assert not opening.planned
    assert opening.failed > 1
    (note,) = [found for found in plan.findings if opening.words in found.message]
    assert f"{opening.failed - 1} more" in note.message
    assert "may open" not in note.remedy


def test_a_hole_is_opened_where_nothing_stands_behind_it() -> None:
    """A motor stands 4 mm behind the lower bricks of a wall: the hole is opened over it."""
    loco, wagon = hollow("loco", 12, 6, 9, kind="loco"), hollow("wagon", 14, 6, 9)
    low = Box((12.0, 8.0, 19.2), (52.0, 40.0, 28.8))
    motor = BuiltIn("motor", "motor", (low,), mass_g=30.0)
    loco = replace(loco, ports=loco.ports[:1], built_in=(motor,))
    body = tuple(solid for solid in loco.body if solid.state == "fixed" or solid.solid.size[0] > STUD)
    one, two = block("one", (20.0, 20.0, 12.0)), block("two", (22.0, 20.0, 12.0))
    needs = (Need("one", (one,), vehicles=("loco",)), Need("two", (two,), vehicles=("wagon",)))
    train = train_of((replace(loco, body=body), wagon), needs, (("w", ("one.p0", "two.p0")),))
    plan = plan_train(replace(train, catalogue={**_wires(), "one": one, "two": two}, may_open=True))
    assert plan.complete
    assert plan.built.opening is not None
    ((vehicle, hole),) = plan.built.opening.holes
    assert vehicle == "loco"
    assert hole.box.low[2] >= low.high[2]
