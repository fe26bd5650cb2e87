"""What is built into bricks, and what a choice says of wire and conductors, beside figures of other means."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import networkx as nx
import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import Mount, Part, Pin
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BuiltIn
from fitplan.model.wired import Harness
from fitplan.verify.built_in import check_built_in
from fitplan.verify.choice import _conductors_across, _wire_estimate
from fitplan.verify.scene import Site
from tests.packing.small_trains import hollow

from .lies import problems
from .two_vehicles import plan

FLOOR = 19.2


def told_of(deep: float, told: bool) -> list[str]:
    """What is said of a motor that reaches so deep into the floor, and of a lamp that only touches it."""
    motor = BuiltIn("motor", "motor", (Box((30, 20, FLOOR - deep), (50, 30, 30)),))
    lamp = BuiltIn("lamp", "lamp", (Box((10, 20, FLOOR), (14, 24, 24)), Box((10, 20, 24), (14, 24, 28))))
    site = Site(TrainVehicle("loco", hollow("loco", 10, 6, 10, built_in=(motor, lamp))), frozenset(), ())
    row = Finding("asked", "note", "motor in loco", "lies in bricks", deep, 0.0, "mm", "draw it", "the file")
    rows = (row,) if told else (replace(row, unit="g"), replace(row, subject="places"))
    return [f"{one.where}: {one.message}" for one in problems(check_built_in, site, rows)]


@pytest.mark.parametrize("deep", [0.0, 0.2, 0.5, 0.9, 1.1, 2.5])
def test_what_lies_deep_in_bricks_must_be_told(deep: float) -> None:
    """Beyond 1 mm it must be told, below 0.3 it must not, and between the plan is free to."""
    silent, said = told_of(deep, told=False), told_of(deep, told=True)
    if deep > 1.0:
        assert silent == [f"motor in loco: lies {deep:.1f} mm deep in bricks, untold"]
    else:
        assert silent == []
    assert said == (
        ["motor in loco: is said to lie in bricks; nothing is where it lies"] if deep < 0.3 else []
    )


def strewn(seed: int, style: str) -> tuple[BuiltTrain, dict[str, list[tuple[Vec, str]]]]:
    """Return a train with parts of two pins strewn over it and nets of them, and where the pins lie."""
    rng = random.Random(seed)
    train = plan().built.train
    pins = (Pin("A", "signal", (1.0, 2.0, 3.0), "+x"), Pin("B", "ground", (0.0, 2.0, 1.0), "-x"))
    block = Part("b", "b", "part", (Box((0, 0, 0), (4, 4, 4)),), 1.0, "invented", pins=pins, mount=Mount())
    placements, spots = [], {}
    starts = train.starts()
    for number in range(7):
        home = rng.choice(train.vehicles)
        at = (rng.uniform(9, 60), rng.uniform(9, 30), rng.uniform(20, 40))
        placements.append(Placement(f"p{number}", block, home.name, Place(pose_named("+x+y+z"), at), "body"))
        x, y, z = at
        half = home.vehicle.width / 2
        spots[f"p{number}", "A"] = ((starts[home.name] + x + 1.0, y + 2.0 - half, z + 3.0), home.name)
        spots[f"p{number}", "B"] = ((starts[home.name] + x, y + 2.0 - half, z + 1.0), home.name)
    nets, joined = [], {}
    for name in ("one", "two", "three"):
        ends = rng.sample(sorted(spots), rng.randint(2, 6))
        refs = tuple(PinRef(owner, rng.choice((pin, "ground" if pin == "B" else pin))) for owner, pin in ends)
        nets.append(Net(name, "signal", (*refs, PinRef("lost", "A")), style=style))  # type: ignore[arg-type]
        joined[name] = [spots[end] for end in ends]
    made = replace(train, nets=tuple(nets))
    return BuiltTrain(made, tuple(placements), Harness(), ()), joined


def apart(one: Vec, other: Vec) -> float:
    return sum(abs(a - b) for a, b in zip(one, other, strict=True))


@pytest.mark.parametrize("seed", range(6))
def test_wire_is_estimated_as_shortest_links_or_home_runs(seed: int) -> None:
    """A tree is the least that links all pins (networkx); home runs lead from the first to each."""
    built, joined = strewn(seed, "tree")
    least = 0.0
    for ends in joined.values():
        graph = nx.Graph()
        for (i, (a, _)), (j, (b, _)) in itertools.combinations(enumerate(ends), 2):
            graph.add_edge(i, j, weight=apart(a, b))
        least += nx.minimum_spanning_tree(graph).size("weight")
    assert _wire_estimate(built) == pytest.approx(least)
    built, joined = strewn(seed, "home-run")
    runs = sum(apart(ends[0][0], one) for ends in joined.values() for one, _ in ends[1:])
    assert _wire_estimate(built) == pytest.approx(runs)


@pytest.mark.parametrize("seed", range(6))
def test_conductors_cross_where_a_nets_ends_lie_on_either_side(seed: int) -> None:
    """A tree crosses the coupling once, home runs once for each end that lies over there from the first."""
    for style in ("tree", "home-run"):
        built, joined = strewn(seed, style)
        homes = {one.need: one.vehicle for one in built.placements}
        across = 0
        for ends in joined.values():
            far = sum(home != ends[0][1] for _, home in ends)
            across += far if style == "home-run" else min(far, 1)
        assert _conductors_across(built.train, homes) == across
