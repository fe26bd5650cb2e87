"""Ground and supply run from source to controller and couplings; small loads hang off as branches."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from itertools import product

import networkx as nx
import numpy as np
import pytest

from fitplan.checks.wire_trunks import trunk_findings, trunk_table
from fitplan.model.built import BuiltTrain
from fitplan.model.nets import NetRole, WiringStyle
from fitplan.model.wired import Harness
from fitplan.model.wiring_facts import Trunk
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.map.vehicle_map import VehicleMap
from tests.routing.test_harness import Flow, built_of

Spots = dict[str, tuple[str, float, float]]


def train_with(
    spots: Spots, loads: dict[str, str], *, role: NetRole = "ground", style: WiringStyle = "tree"
) -> BuiltTrain:
    """Return a placed train with one net over all; loads are of the kinds (family and part) named."""
    built = built_of(spots, {"n": [f"{name}.p0" for name in spots]}, style=style)

    def part_of(name: str):  # type: ignore[no-untyped-def]
        part = built.train.catalogue[name]
        kind = loads.get(name)
        return part if kind is None else replace(part, id=kind, family=kind.split()[0])

    nets = tuple(replace(net, role=role) for net in built.train.nets)
    needs = tuple(replace(need, candidates=(part_of(need.name),)) for need in built.train.needs)
    placements = tuple(replace(place, part=part_of(place.need)) for place in built.placements)
    return replace(built, train=replace(built.train, nets=nets, needs=needs), placements=placements)


def wire(built: BuiltTrain) -> tuple[Harness, tuple[Trunk, ...]]:
    """Return the harness and what is told of trunks."""
    done = wire_train(built, {"n": Flow(10.0, 10.0)})
    told = [question.ask() for question in done.layout.questions]
    return done.harness, tuple(trunk for trunk in told if trunk is not None)


def passed_on(harness: Harness, loads: dict[str, str]) -> list[tuple[str, set[str]]]:
    """Return each load with a pin that carries current of what is not of its own kind.

    Found by cutting the load out of the net's graph: all pieces but one may hold loads of its kind alone.
    """
    graph: nx.Graph[tuple[str, str]] = nx.Graph()
    for one in harness.wires:
        graph.add_edge((one.start.kind, one.start.owner), (one.end.kind, one.end.owner))
    found = []
    for name, kind in loads.items():
        rest = graph.copy()
        rest.remove_node(("pin", name))
        pieces = [
            {owner for what, owner in piece if what == "pin"} for piece in nx.connected_components(rest)
        ]
        strange = [piece for piece in pieces if any(loads.get(owner) != kind for owner in piece)]
        if len(strange) > 1:
            found.append((name, set().union(*strange)))
    return found


ROW: Spots = {"cells": ("a", 12.0, 16.0), "horn": ("a", 46.0, 16.0), "brain": ("a", 80.0, 16.0)}


@pytest.mark.parametrize("role", ["ground", "supply"])
def test_a_sounder_between_cells_and_controller_is_a_branch(role: NetRole) -> None:
    """Between cells and controller the shortest chain runs through the sounder; the plan does not."""
    loads = {"horn": "sounder small"}
    harness, trunks = wire(train_with(ROW, loads, role=role))
    assert passed_on(harness, loads) == []
    at_horn = [w for w in harness.wires if "horn" in (w.start.owner, w.end.owner)]
    assert len(at_horn) == 1
    (trunk,) = trunks
    assert trunk.branches == (("horn",),)
    assert trunk.copper_mm > trunk.strung_mm
    table = trunk_table(trunks)
    assert table is not None
    assert table.rows[0][-1] == round(trunk.copper_mm - trunk.strung_mm)


def test_a_signal_is_joined_as_before() -> None:
    """Signals carry milliamperes: they run through any pin."""
    loads = {"horn": "sounder small"}
    harness, trunks = wire(train_with(ROW, loads, role="signal"))
    assert passed_on(harness, loads)
    assert trunks == ()


def test_a_chain_that_is_asked_for_is_strung() -> None:
    """The style 'chain' goes from neighbour to neighbour, through the sounder."""
    loads = {"horn": "sounder small"}
    harness, _ = wire(train_with(ROW, loads, style="chain"))
    assert len(harness.wires) == 2
    assert passed_on(harness, loads)


def test_lamps_of_one_kind_are_chained() -> None:
    """Three lamps of one kind far off share one lead: two wires among them, one to the trunk."""
    spots: Spots = {"cells": ("a", 10.0, 8.0), "brain": ("a", 22.0, 8.0)}
    spots |= {f"lamp{i}": ("a", 92.0, 9.0 + 10.0 * i) for i in range(3)}
    loads = {f"lamp{i}": "lamp round" for i in range(3)}
    harness, (trunk,) = wire(train_with(spots, loads))
    assert passed_on(harness, loads) == []
    assert [set(branch) for branch in trunk.branches] == [set(loads)]
    long = [w for w in harness.wires if w.bare_mm > 50]
    assert len(long) == 1


def test_lamps_of_two_kinds_are_not() -> None:
    """A lamp and an emitter side by side have leads of their own, or meet in a splice."""
    spots: Spots = {"cells": ("a", 10.0, 8.0), "brain": ("a", 22.0, 8.0)}
    spots |= {"one": ("a", 92.0, 9.0), "two": ("a", 92.0, 19.0)}
    loads = {"one": "lamp round", "two": "emitter small"}
    harness, (trunk,) = wire(train_with(spots, loads))
    assert passed_on(harness, loads) == []
    assert sorted(trunk.branches) == [("one",), ("two",)]


def test_random_trains_pass_on_nobody_elses_current() -> None:
    """Of 5 seeded trains of two vehicles none runs through a load of another kind, and none lacks a pin."""
    for seed in range(5):
        rng = np.random.default_rng(seed)
        along, aside = (14.0, 33.0, 52.0, 71.0, 88.0), (9.0, 20.0, 31.0)
        places = list(product("ab", along, aside))
        rng.shuffle(places)
        count = int(rng.integers(4, 9))
        names = ["cells", "brain", *(f"load{i}" for i in range(count - 2))]
        spots = {name: (str(v), float(x), float(y)) for name, (v, x, y) in zip(names, places, strict=False)}
        kinds = ("lamp round", "ranger plain", "sounder small")
        loads = {name: kinds[int(rng.integers(3))] for name in names[2:]}
        harness, trunks = wire(train_with(spots, loads))
        assert harness.unreached == ()
        assert passed_on(harness, loads) == [], seed
        assert all(trunk.branched for trunk in trunks)
        ends: dict[str, int] = defaultdict(int)
        for one in harness.wires:
            for end in (one.start, one.end):
                ends[end.owner] += end.kind == "pin"
        assert set(names) <= {name for name, met in ends.items() if met}


def test_without_room_for_splices_the_net_is_strung_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the trunk's pins are full and no splice has room, the net runs through the load: a caution."""
    nowhere = property(lambda map_: np.zeros(map_.free.shape, bool))
    monkeypatch.setattr(VehicleMap, "splice_room", nowhere)
    spots: Spots = {"horn": ("a", 46.0, 16.0), "brain": ("a", 80.0, 16.0), "eye": ("b", 40.0, 16.0)}
    loads = {"horn": "sounder small", "brain": "emitter small"}
    harness, trunks = wire(train_with(spots, loads))
    assert harness.unreached == ()
    found = list(trunk_findings(trunks))
    assert [finding.severity for finding in found] == ["caution"]
    assert "horn" in found[0].message
