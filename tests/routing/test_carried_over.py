"""What was found elsewhere or before serves as if it had been found here: wirings, lengths through maps."""

from __future__ import annotations

import pickle
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.budget import Budget
from fitplan.lattice.clear_radius import clear_radius
from fitplan.routing.harness.facts import wiring_facts
from fitplan.routing.harness.finished import finish_vehicle
from fitplan.routing.harness.harness import try_vehicle, wire_train
from fitplan.routing.map.topology import Segment, SpliceSpot
from fitplan.routing.map.vehicle_map import SPLICE_CLEAR_MM, VehicleMap
from fitplan.routing.negotiation import tightened
from fitplan.routing.negotiation.layout import LaidSegment, Pulled
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.negotiation.wired_before import WiredBefore
from fitplan.routing.trees import net_ways
from fitplan.routing.trees.tree_map import FAR, CostMap, Terminal, TreeMap
from tests.packing.small_trains import hollow
from tests.routing.test_tries import _built
from tests.routing.test_twins import SteadyLoad


@pytest.mark.parametrize("finished", [False, True])
def test_what_is_carried_over_is_not_worked_out_again(
    monkeypatch: pytest.MonkeyPatch, finished: bool
) -> None:
    """Wires and facts are the same; of what was finished no way, tree or shortest way is asked again."""
    built = _built(6)
    loads = {net.name: SteadyLoad() for net in built.train.nets}
    whole = wire_train(built, loads)
    facts = wiring_facts(replace(built, harness=whole.harness), whole.layout)
    there = WiredBefore()
    later = wire_train(built, loads, known=there, later=frozenset({"v"}))
    try_vehicle(built, later, "v", known=there)
    if finished:
        finish_vehicle(built, later, "v", Budget.usual(), there)
    here = WiredBefore()
    here.learn(pickle.loads(pickle.dumps(there.of("v"))))
    assert len(here.tight) == (len(whole.harness.wires) if finished else 0)

    def never(*asked: object, **more: object) -> None:
        raise AssertionError("it is known already")

    monkeypatch.setattr(VehicleRouting, "run", never)
    if finished:
        for owner, name in ((tightened, "_told"), (tightened, "_tight"), (net_ways, "TreeMap")):
            monkeypatch.setattr(owner, name, never)
        monkeypatch.setattr(VehicleRouting, "finish", never)
    after = wire_train(built, loads, known=here)
    assert after.harness == whole.harness
    assert wiring_facts(replace(built, harness=after.harness), after.layout) == facts
    assert not here.of("w").tight


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_lengths_that_were_kept_are_those_that_would_be_found(seed: int) -> None:
    """A map made again has the lengths of the first one, near and far, without a voxel looked at."""
    rng = np.random.default_rng(seed)
    free = rng.random((30, 9, 8)) < 0.8
    cost = rng.choice([1.0, 1.25, 2.5], size=free.shape)
    cells = np.argwhere(free)[[0, len(np.argwhere(free)) // 2, -1]]
    ends = [((int(x), int(y), int(z)),) for x, y, z in cells]
    ground = CostMap.of(free, cost, np.full(free.shape, 20.0))
    first = TreeMap(free, ground)
    labels = [first.flood(end, [ends[0]]) for end in ends]
    far = first.flood(ends[1], (), FAR)
    again = TreeMap(free, ground, kept=first.kept_floods())
    for end, before in zip(ends, (labels[0], far, labels[2]), strict=True):
        here = again.kernel.view(again.flood(end, [ends[0]]), again.size, np.uint32)
        assert np.array_equal(here, first.kernel.view(before, first.size, np.uint32))
    assert again.kernel.call("work_done") == 0
    assert again.kept_floods().keys() == first.kept_floods().keys()
    # What was not kept is found as before.
    assert again.flood(((3, 3, 3),), ends)
    assert again.kernel.call("work_done") >= int(free[3, 3, 3])


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_a_flood_that_goes_on_finds_what_a_new_one_does(seed: int) -> None:
    """Costs from one end to others near and far; as a whole the labels are those of a flood so far."""
    rng = np.random.default_rng(seed)
    free = rng.random((150, 4, 4)) < 0.9
    cost = rng.choice([1.0, 1.25, 3.0], size=free.shape)
    ground = CostMap.of(free, cost, np.full(free.shape, 20.0))
    cells = np.argwhere(free)[np.linspace(0, free.sum() - 1, 6).astype(int)]
    ends = [Terminal(((int(x), int(y), int(z)),)) for x, y, z in cells]
    one, asked = TreeMap(free, ground), rng.permutation(range(1, 6))
    for number in asked:
        alone = TreeMap(free, ground)
        assert one.cost_mm(ends[0], ends[number]) == alone.cost_mm(ends[0], ends[number])
    # Between, another end is asked from: then a flood that stopped half-way begins anew.
    one.cost_mm(ends[3], ends[2])
    one.cost_mm(ends[0], ends[asked[0]])
    until = one._floods[ends[0].voxels][1]
    far, whole = TreeMap(free, ground), one.flood(ends[0].voxels)
    labels = far.kernel.view(far.flood(ends[0].voxels, (), FAR), far.size, np.uint32).astype(np.int64)
    seen = one.kernel.view(whole, one.size, np.uint32).astype(np.int64)
    assert np.array_equal(seen, np.where(labels <= until + 1, labels, 0))


def test_one_flood_serves_all_costs_from_one_end() -> None:
    """However far the next goal is, voxels are looked at as often as in one flood of all."""
    free = np.ones((400, 3, 3), bool)
    map_ = TreeMap(free, CostMap.of(free, np.ones(free.shape), np.full(free.shape, 20.0)))
    start = Terminal(((0, 1, 1),))
    for x in (20, 90, 150, 300, 399):
        assert map_.cost_mm(start, Terminal(((x, 1, 1),))) == pytest.approx(0.8 * x)
    whole = TreeMap(free, CostMap.of(free, np.ones(free.shape), np.full(free.shape, 20.0)))
    whole.flood(start.voxels, (), FAR)
    assert map_.kernel.call("work_done") <= whole.kernel.call("work_done")


def test_room_for_splices_is_a_radius_everywhere() -> None:
    """A splice has room where a circle of its radius is clear; radii are those of the map."""
    vehicle = replace(hollow("v", 8, 6, 7), ports=())
    map_ = VehicleMap.of("v", vehicle, (), frozenset())
    wanted = clear_radius(map_.free, map_.frame.pitch)
    assert np.array_equal(map_.splice_room, wanted >= SPLICE_CLEAR_MM)
    assert 0 < map_.splice_room.sum() < map_.free.sum()
    voxels = np.argwhere(map_.free)[::37].astype(np.int32)
    assert np.array_equal(map_.clear_radius(voxels), wanted[tuple(voxels.T)])


def test_wires_that_lie_the_same_are_drawn_tight_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each wire has what comes of its way; another gauge, way or place to keep off is asked for itself."""
    asked: list[float] = []

    def tight(before: Any, segment: Any, map_: Any, diameter: float) -> Any:
        asked.append(before.length_mm + diameter)
        return replace(before, length_mm=before.length_mm - diameter)

    monkeypatch.setattr(tightened, "_tight", tight)
    monkeypatch.setattr(tightened, "_told", lambda after, *told, **more: after.length_mm)
    no, shut = np.zeros((0, 3), np.int32), np.ones((1, 3), np.int32)
    nets = ("one", "one", "two", "thick", "one", "one")
    laid = [
        LaidSegment(
            Segment(net, "v", SpliceSpot(net, "v", (k, 0, 0)), SpliceSpot(net, "v", (9, k, 0))), no, (), no
        )
        for k, net in enumerate(nets)
    ]
    laid[4] = replace(laid[4], shut=shut)
    lengths = (30.0, 30.0, 30.0, 30.0, 30.0, 50.0)
    pulled = {id(one): Pulled(((0.0, 0.0, 0.0),), mm, mm, ()) for one, mm in zip(laid, lengths, strict=True)}
    layout: Any = SimpleNamespace(
        laid=laid, pulled=pulled, detours={}, maps={"v": None}, kept=SimpleNamespace(wires={}), cut=set()
    )
    gauges = {"one": 1.0, "two": 1.0, "thick": 2.0}
    found = tightened.tightened(layout, gauges)
    assert sorted(asked) == [31.0, 32.0, 51.0]
    assert [found.pulled[id(one)].length_mm for one in laid] == [29.0, 29.0, 29.0, 28.0, 30.0, 49.0]
    assert [found.detours[id(one)] for one in laid] == [29.0, 29.0, 29.0, 28.0, 30.0, 49.0]
