"""Homes of parts held against the ports, beside all homes listed and conductors counted by coupling."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping
from dataclasses import replace

import pytest

from fitplan.budget import Budget
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef, WiringStyle
from fitplan.model.solids import Box
from fitplan.model.train import Train
from fitplan.planning.choice import decide
from fitplan.planning.costs import conductors_over, crossings
from fitplan.planning.crossing_room import CrossingRoom
from tests.attack.choices import everything, random_train, score, shelf_packer
from tests.packing.small_trains import block, hollow, train_of

ROOM = 60.0


def with_ports(train: Train, carries: Mapping[str, tuple[int, int]]) -> Train:
    """Return the train with ports one millimetre high and so many wide, at front and rear of each vehicle."""
    entries = []
    for entry in train.vehicles:
        front, rear = entry.vehicle.ports
        ports = [
            replace(
                port, box=Box(port.box.low, (port.box.high[0], port.box.low[1] + wide, port.box.low[2] + 1))
            )
            for port, wide in zip((front, rear), carries[entry.name], strict=True)
        ]
        open_ = tuple(port for port, wide in zip(ports, carries[entry.name], strict=True) if wide)
        entries.append(replace(entry, vehicle=replace(entry.vehicle, ports=open_)))
    return replace(train, vehicles=tuple(entries))


def across(net: Net, homes: Mapping[str, str], order: list[str], coupling: int) -> int:
    """Return how many conductors of a net lead from the vehicles ahead of a coupling to those behind it."""
    ahead = [order.index(homes[ref.owner]) <= coupling for ref in net.joins]
    if net.style == "home-run":
        return sum(side != ahead[0] for side in ahead[1:])
    return int(len(set(ahead)) == 2)


@pytest.mark.parametrize("seed", range(15))
def test_the_cheapest_homes_are_found_whose_conductors_the_ports_carry(seed: int) -> None:
    """Ports one wire high carry as many wires as they are millimetres wide: all homes are listed by that."""
    rng = random.Random(f"ports {seed}")
    train = random_train(rng, 3, 4)
    carries = {entry.name: (rng.randint(0, 4), rng.randint(0, 4)) for entry in train.vehicles}
    train = with_ports(train, carries)
    pack = shelf_packer(ROOM)
    order = [entry.name for entry in train.vehicles]

    def passes(homes: Mapping[str, str]) -> bool:
        return all(
            sum(across(net, homes, order, number) for net in train.nets)
            <= min(carries[order[number]][1], carries[order[number + 1]][0])
            for number in range(len(order) - 1)
        )

    room = CrossingRoom(train, {net.name: 1.0 for net in train.nets}, frozenset())
    costs = []
    for picks in everything(train):
        homes = {need: home for need, (_, home) in picks.items()}
        assert room.overfull(homes) is not passes(homes)
        cost = score(train, pack, picks, "") if passes(homes) else None
        if cost is not None:
            costs.append(cost)
    first = decide(train, pack, lambda parts: "")
    other = first.avoiding((), Budget.usual(), room.overfull)
    mine = {pick.need.name: pick.vehicle for pick in first.best.picks if pick.part is not None}
    if other is not None and not other.best.left_out:
        assert passes({pick.need.name: pick.vehicle for pick in other.best.picks})
        assert other.best.costs.score(train.weights) >= min(costs) - 1e-3
        if not passes(mine):
            assert other.best.costs.score(train.weights) == pytest.approx(min(costs), abs=1e-3)
    elif not passes(mine) and not first.best.left_out:
        assert not costs


@pytest.mark.parametrize("seed", range(60))
def test_more_homes_never_ask_for_fewer_conductors(seed: int) -> None:
    """What is too much for some homes is too much whatever becomes of the others, in every style.

    Coupling by coupling the conductors sum up to the crossings that a choice pays for.
    """
    rng = random.Random(f"some {seed}")
    train = random_train(rng, 3, 4)
    carries = {entry.name: (rng.randint(0, 3), rng.randint(0, 3)) for entry in train.vehicles}
    train = with_ports(train, carries)
    order = [entry.name for entry in train.vehicles]
    room = CrossingRoom(train, {net.name: 1.0 for net in train.nets}, frozenset())
    for _ in range(20):
        homes = {need.name: rng.choice(order) for need in train.needs}
        for net in train.nets:
            places = [order.index(homes[ref.owner]) for ref in net.joins]
            over = sum(conductors_over(net, places, number) for number in range(len(order) - 1))
            assert over == crossings(net, places)
        if room.overfull({need: homes[need] for need in rng.sample(list(homes), len(homes) - 1)}):
            assert room.overfull(homes)


@pytest.mark.parametrize("first", range(3))
def test_of_open_ends_no_more_conductors_are_counted_than_there_may_be(first: int) -> None:
    """Of a net of five ends every one is left open: over no coupling is more counted than with it."""
    styles: tuple[WiringStyle, ...] = ("tree", "chain", "home-run")
    for style, rest in itertools.product(styles, itertools.product(range(3), repeat=4)):
        net = Net("n", "signal", tuple(PinRef(f"p{i}", "a") for i in range(5)), style=style)
        places = (first, *rest)
        for left, coupling in itertools.product(range(5), range(2)):
            some = [None if number == left else place for number, place in enumerate(places)]
            assert conductors_over(net, some, coupling) <= conductors_over(net, places, coupling)


def test_a_full_port_moves_the_part_that_fills_it_not_one_beside() -> None:
    """Three parts without a wire could move instead at no cost; the board's two wires want another home."""
    vehicles = tuple(hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(3))
    needs = (
        Need("lamp", (block("lamp", (10, 10, 10)),), vehicles=("v0",)),
        Need("eye", (block("eye", (10, 10, 10)),), vehicles=("v2",)),
        Need("board", (block("board", (45, 10, 10), pins=3),), vehicles=("v2", "v1")),
        *(Need(f"n{i}", (block(f"b{i}", (2, 10, 10)),), vehicles=("v0", "v2")) for i in range(3)),
    )
    nets = (
        ("a", ("lamp.p0", "board.p0")),
        ("b", ("lamp.p1", "board.p1")),
        ("c", ("eye.p0", "board.p2")),
    )
    train = with_ports(train_of(vehicles, needs, nets), {"v0": (2, 2), "v1": (2, 1), "v2": (1, 1)})
    first = decide(train, shelf_packer(ROOM), lambda parts: "")
    assert {pick.need.name: pick.vehicle for pick in first.best.picks}["board"] == "v2"
    room = CrossingRoom(train, dict.fromkeys("abc", 1.0), frozenset())
    other = first.avoiding((), Budget.usual(), room.overfull)
    assert other is not None
    assert {pick.need.name: pick.vehicle for pick in other.best.picks}["board"] == "v1"
    assert not other.proved
