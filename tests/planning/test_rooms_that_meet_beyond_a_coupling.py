"""A wagon that a whole wall parts lengthwise, a port to each room: what is in both meets in the loco alone.

Ports and rooms are wide enough for all wires, and the wall is whole: that a plan exists, and that each net in
both rooms takes two conductors over the coupling, follows from the drawing.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import networkx
import pytest

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.solids import Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid, Port
from fitplan.planning.joined_rooms import RoomLink
from fitplan.planning.run import plan_train
from fitplan.planning.wire_bound import BoundNet, WireRooms
from fitplan.surface import read_train
from fitplan.units import STUD
from fitplan.verify import verify
from tests.packing.small_trains import block, hollow, train_of

NETS = {
    "one in each": ((("a", ("one.p0", "right.p0", "left.p0")),), 2),
    "several": ((("a", ("one.p0", "right.p0", "right.p1", "left.p0")), ("b", ("one.p1", "left.p1"))), 3),
    "more in the loco": ((("a", ("left.p0", "one.p0", "right.p0", "one.p1", "left.p1")),), 2),
}
"""By kind: nets, and how many conductors they take over the coupling."""


def _train(nets: tuple[tuple[str, tuple[str, ...]], ...], *, turned: bool) -> Train:
    loco, wagon = hollow("loco", 14, 6, 8, kind="loco"), hollow("wagon", 18, 7, 8)
    floor, top = wagon.ports[0].box.low[2], wagon.top - 3.2
    holes = [
        Port(name, Box((wagon.length - STUD, y, floor), (wagon.length, y + 6.4, floor + 6.4)), "+x")
        for name, y in (("right hole", 12.0), ("left hole", 36.0))
    ]
    wall = BodySolid(Box((STUD, 26.4, floor), (wagon.length - STUD, 29.6, top)), "fixed")
    shut = BodySolid(wagon.ports[0].box, "fixed")
    clear = [BodySolid(port.box, "free") for port in holes]
    opened = BodySolid(loco.ports[1].box, "free")
    wagon = replace(wagon, body=(*wagon.body, shut, *clear, wall), ports=tuple(holes))
    loco = replace(loco, body=(*loco.body, opened), ports=loco.ports[1:])
    one, small = block("one", (20.0, 20.0, 12.0)), block("small", (20.0, 10.0, 8.0))
    needs = (
        Need("one", (one,), vehicles=("loco",)),
        Need("right", (small,), pinned=FixedPlace("wagon", "+x+y+z", (60.0, 12.0, floor))),
        Need("left", (small,), pinned=FixedPlace("wagon", "+x+y+z", (40.0, 34.0, floor))),
    )
    train = train_of((loco, wagon), needs, nets)
    if turned:
        train = replace(train, vehicles=tuple(TrainVehicle(v.name, v, turned=True) for v in (wagon, loco)))
    wires = {k: part for k, part in read_train("harbour-line").catalogue.items() if k.startswith("wire-")}
    return replace(train, catalogue={**wires, "one": one, "small": small})


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("kind", list(NETS))
@pytest.mark.parametrize("style", ["tree", "chain"])
def test_both_rooms_are_reached(kind: str, style: str, *, turned: bool) -> None:
    """Each by its own port."""
    nets, conductors = NETS[kind]
    train = _train(nets, turned=turned)
    train = replace(train, nets=tuple(replace(net, style=style) for net in train.nets))  # type: ignore[arg-type]
    plan = plan_train(train)
    assert plan.complete, [lost.reason for lost in plan.unreached]
    assert not verify(plan).problems
    assert sum(crossing.conductors for crossing in plan.built.harness.crossings) == conductors


ONLY_THERE = (("a", ("right.p0", "left.p0")), ("b", ("one.p1", "left.p1")))


@pytest.mark.parametrize("turned", [False, True])
def test_a_net_of_both_rooms_alone_is_told_what_to_open(*, turned: bool) -> None:
    """Nothing of it is in the loco: no wire goes out and comes back. The wall between them is what helps."""
    plan = plan_train(_train(ONLY_THERE, turned=turned))
    assert not verify(plan).problems
    (lost,) = plan.unreached
    assert lost.net == "a"
    assert "no wire is led out of a vehicle and back in" in lost.reason
    assert {hole for hole in ("right hole", "left hole") if f"the port {hole}" in lost.reason} == {
        "right hole", "left hole"
    }  # fmt: skip
    opening = plan.built.opening
    assert opening is not None
    assert (opening.cost, opening.least) == (2.0, 2.0)  # thinner than a stud: no brick with a hole fits there
    ((vehicle, hole),) = opening.holes
    assert (vehicle, hole.axis) == ("wagon", "y")
    assert "between 8 and 26 mm from its right side" in opening.proof
    assert any("may open: yes" in found.remedy for found in plan.findings if found.where == lost.where)


def test_the_wall_between_both_rooms_is_opened() -> None:
    plan = plan_train(replace(_train(ONLY_THERE, turned=False), may_open=True))
    assert plan.complete
    assert not verify(plan).problems
    assert sum(crossing.conductors for crossing in plan.built.harness.crossings) == 1


@pytest.mark.parametrize("seed", range(40))
def test_what_a_net_passes_between_its_own_vehicles(seed: int) -> None:
    """Refuted where no rooms of the vehicles from its first to its last hang together (networkx) for it."""
    draw = random.Random(seed)
    order = ("a", "b", "c")
    rooms = [(name, number) for name in order for number in range(1, 3)]
    links = [RoomLink(((here, "rear"), (there, "front"))) for here, there in itertools.pairwise(order)]
    for name, number in rooms:
        for end in ("front", "rear"):
            if draw.random() < 0.6:
                links.append(RoomLink(((name, number), (name, end)), "port", ((9.0, 9.0),)))
    where = {end: frozenset(draw.sample(rooms, draw.choice((1, 1, 2)))) for end in ("one", "two", "three")}
    net = BoundNet("n", 1.0, tuple(draw.sample(sorted(where), draw.choice((2, 3)))))
    homes = [order.index(node[0]) for end in net.ends for node in where[end]]
    first, last = min(homes), max(homes)
    graph = networkx.Graph()
    graph.add_nodes_from(rooms)
    graph.add_edges_from(link.ends for link in links)
    graph.remove_nodes_from(
        [
            node
            for node in list(graph)
            if not first <= order.index(node[0]) <= last
            or node in ((order[first], "front"), (order[last], "rear"))
        ]
    )
    possible = any(
        all(where[end] & piece for end in net.ends)
        for piece in map(set, networkx.connected_components(graph))
    )
    bound = WireRooms(where, (net,), tuple(links), {}, order)  # type: ignore[arg-type]
    assert bool(bound.refuted()) is not possible
    offered = [
        (RoomLink((one, other), "wall", ((3.0, 3.0),)), 1.0)
        for one, other in [(rooms[i], rooms[i + 1]) for i in (0, 2, 4)]
    ]
    least = bound.least_more((), offered)  # type: ignore[arg-type]
    assert least == 0.0 or not possible
    for count in range(4):
        for chosen in itertools.combinations(offered, count):
            if not bound.refuted(link for link, _ in chosen):
                assert least <= count
