"""A vehicle that was only tried, and is kept, is wired as if it had not been tried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest

from fitplan.files.catalogue import read_catalogue
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Place
from fitplan.model.wired import Harness
from fitplan.routing.harness import harness
from fitplan.routing.harness.gauges import straight_metres
from fitplan.routing.harness.harness import try_vehicle, wire_train
from fitplan.routing.negotiation.layout import Layout
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.negotiation.wired_before import WiredBefore
from fitplan.routing.trees import net_ways, voxel_trees
from fitplan.routing.trees.tree_map import Terminal, TreeMap, VoxelTree
from fitplan.routing.trees.voxel_trees import PROVED_AT_ONCE
from tests.packing.small_trains import block, hollow, train_of
from tests.routing.test_twins import UPRIGHT, SteadyLoad

PLACES = ((9.0, 9.0), (26.0, 26.0), (48.0, 12.0))


def _built(ends: int) -> BuiltTrain:
    """Return a vehicle with three parts, all of them joined by a net of so many ends, and two by another."""
    part = block("b", (14.0, 10.0, 6.0), pins=4)
    needs = tuple(Need(f"n{k}", (part,), vehicles=("v",)) for k in range(3))
    pins = [f"n{k}.p{pin}" for pin in range(3) for k in range(3)][:ends]
    nets = (("all", tuple(pins)), ("two", ("n0.p3", "n2.p3")))
    train = train_of((hollow("v", 10, 6, 9, kind="loco"),), needs, nets)
    train = replace(train, catalogue={**read_catalogue(), part.id: part})
    found = tuple(
        Placement(f"n{k}", part, "v", Place(UPRIGHT, (x, y, 22.4)), "body") for k, (x, y) in enumerate(PLACES)
    )
    return BuiltTrain(train, found, Harness(), ())


@pytest.mark.parametrize("ends", [PROVED_AT_ONCE, PROVED_AT_ONCE + 1])
@pytest.mark.parametrize("hurried", [False, True])
def test_a_try_leaves_no_trace(monkeypatch: pytest.MonkeyPatch, ends: int, hurried: bool) -> None:
    """What is kept goes on from its try; where that gave up it is wired anew."""
    runs: list[bool] = []
    quick: list[bool] = []
    run, tree = VehicleRouting.run, net_ways.shortest_tree

    def counted(work: VehicleRouting) -> VehicleRouting:
        runs.append(work.trying)
        return run(work)

    def watched(
        map_: TreeMap, ends: Sequence[Terminal], *, quickly: bool, to_compare: bool, bounded: bool
    ) -> VoxelTree | None:
        assert not to_compare
        quick.append(quickly)
        return tree(map_, ends, quickly=quickly, bounded=bounded)

    monkeypatch.setattr(VehicleRouting, "run", counted)
    monkeypatch.setattr(net_ways, "shortest_tree", watched)
    built = _built(ends)
    loads = {net.name: SteadyLoad() for net in built.train.nets}
    whole = wire_train(built, loads)
    assert (runs, quick) == ([False], [False])
    known = WiredBefore()
    later = wire_train(built, loads, known=known, later=frozenset({"v"}))
    tried = try_vehicle(built, later, "v", known=known)
    assert not tried.lost
    if hurried:
        for done in known._wirings["v"].values():
            done.notes.hurried |= done.trying
    after = wire_train(built, loads, known=known)
    assert after.harness == whole.harness
    assert runs == [False, True] + [False] * hurried
    assert quick == [False, False] + [False] * hurried


@pytest.mark.parametrize("ends", [4, PROVED_AT_ONCE])
def test_bounds_of_trees_are_looked_for_in_what_is_kept(monkeypatch: pytest.MonkeyPatch, ends: int) -> None:
    """Where exact searches give up a try is wired without bounds, and told with them once it is kept."""
    bounded: list[int] = []
    least = voxel_trees.least_cost

    def watched(map_: TreeMap, terminals: Sequence[Terminal], *more: Any) -> tuple[int, VoxelTree | None]:
        bounded.append(len(terminals))
        return least(map_, terminals, *more)

    monkeypatch.setattr(voxel_trees, "least_cost", watched)
    monkeypatch.setattr(voxel_trees, "MOST_WORK", 4)
    built = _built(ends)
    loads = {net.name: SteadyLoad() for net in built.train.nets}
    whole = wire_train(built, loads).layout.unproved
    assert [one.pins for one in whole] == [ends]
    assert 0 < whole[0].least_mm < whole[0].cost_mm
    assert bounded == [ends]
    known = WiredBefore()
    later = wire_train(built, loads, known=known, later=frozenset({"v"}))
    for _ in range(2):
        try_vehicle(built, later, "v", known=known)
        assert bounded == [ends]
    assert wire_train(built, loads, known=known).layout.unproved == whole
    assert bounded == [ends] * 2


def test_what_nets_were_wired_with_is_tried_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """As thick as the whole length asks for from the first: nothing is laid twice, and a wrong guess is."""
    built = _built(4)
    heavy = {net.name: SteadyLoad(2000.0 if net.name == "all" else 20.0) for net in built.train.nets}
    thick = wire_train(built, heavy)
    thin = wire_train(built, {net.name: SteadyLoad() for net in built.train.nets})
    assert thick.diameters["all"] > thin.diameters["all"]
    asked: list[float] = []
    lay = harness.lay_out

    def counted(*given: Any, **more: Any) -> Layout:
        asked.append(given[2]["all"])
        return lay(*given, **more)

    monkeypatch.setattr(harness, "lay_out", counted)
    for like, laid in ((None, 2), (thick.gauges, 1), (thin.gauges, 2)):
        asked.clear()
        again = wire_train(built, heavy, like=like)
        assert again.gauges == thick.gauges
        assert len(asked) == laid
        assert asked[-1] == thick.diameters["all"]
    assert again.harness == thick.harness


def test_straight_links_are_what_a_vehicle_that_is_not_wired_counts_for() -> None:
    """From pin to pin along the axes, the shortest tree; of vehicles that are wired nothing."""
    built = _built(3)
    loads = {net.name: SteadyLoad() for net in built.train.nets}
    layout = wire_train(built, loads, later=frozenset({"v"})).layout
    points = [end.at for net in layout.nets if net.net.name == "all" for end in net.ends]
    apart = sorted(sum(abs(a - b) for a, b in zip(*pair, strict=True)) for pair in combinations(points, 2))
    found = straight_metres(layout, frozenset({"v"}))
    assert found["all"] == pytest.approx(sum(apart[:2]) / 1000)  # of three points the two shorter sides
    assert straight_metres(layout, frozenset()) == {}
