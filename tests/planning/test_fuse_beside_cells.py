"""Which nets lie ahead of a fuse, in both accounts, and that the choice puts the fuse beside its cells."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from fitplan.circuit.fuses import unfused_nets
from fitplan.model.needed import Need
from fitplan.model.nets import Net
from fitplan.model.train import Train, Weights
from fitplan.planning.choice import choose
from fitplan.verify.choice import _unfused
from tests.attack.choices import shelf_packer
from tests.circuit.sample_parts import cells, fuse, need, net, part, pin, switch, train
from tests.packing.small_trains import block, hollow, train_of

LOAD = part("load", pins=[pin("VCC", "supply"), pin("GND", "ground")])
NEEDS = [
    need("cells", cells(2, "li", 2600.0, 0.06)),
    *(need(f"S{i}", switch()) for i in (1, 2)),
    *(need(f"F{i}", fuse()) for i in (1, 2)),
    need("load", LOAD),
]
ENDS = ["cells.plus", *(f"{name}.{end}" for name in ("S1", "S2", "F1", "F2") for end in "ab"), "load.VCC"]


def circuit(*nets: Net) -> Train:
    return train(NEEDS, list(nets))


def test_switches_may_lie_between() -> None:
    """Cells, two switches, a fuse, one more: three nets lie ahead; one that branches off before is none."""
    line = (
        net("one", "supply", "cells.plus", "S1.a"),
        net("two", "supply", "S1.b", "S2.a"),
        net("three", "supply", "S2.b", "F1.a"),
        net("four", "supply", "F1.b", "F2.a"),
        net("five", "supply", "F2.b", "load.VCC"),
    )
    assert unfused_nets(circuit(*line)) == {"one", "two", "three"}
    branched = replace(line[1], joins=(*line[1].joins, *net("x", "supply", "load.VCC").joins))
    assert unfused_nets(circuit(line[0], branched, *line[2:4])) == frozenset()
    assert unfused_nets(circuit(*line[:2], line[3])) == frozenset()


@given(st.permutations(ENDS), st.lists(st.integers(2, 3), min_size=2, max_size=5))
def test_both_accounts_name_the_same_nets(ends: list[str], sizes: list[int]) -> None:
    """Walked from the cells, and back from the fuses by the checker: the same nets, whatever joins what."""
    nets, at = [], 0
    for number, size in enumerate(sizes):
        joined = ends[at : at + size]
        at += size
        if len(joined) > 1:
            nets.append(net(f"n{number}", "supply", *joined))
    made = circuit(*nets)
    assert unfused_nets(made) == {one.name for one in _unfused(made)}


def test_the_fuse_goes_where_its_cells_are() -> None:
    """Cells may only lie in the wagon, the load in the loco: one conductor crosses, behind the fuse.

    What weighs nothing is counted all the same, wherever the fuse then lies.
    """
    vehicles = (hollow("loco", 12, 6, 9, kind="loco"), hollow("wagon", 12, 6, 9))
    sized = {
        "cells": replace(cells(2, "li", 2600.0, 0.06), id="cells", pins=block("x", (30, 10, 10)).pins),
        "fuse": replace(fuse(), id="fuse", pins=block("x", (7, 5, 2)).pins),
        "load": block("load", (20, 10, 10)),
    }
    needs = (
        Need("cells", (sized["cells"],), vehicles=("wagon",)),
        Need("fuse", (sized["fuse"],)),
        Need("load", (sized["load"],), vehicles=("loco",)),
    )
    joins = (("plus", ("cells.p0", "fuse.p0")), ("fused", ("fuse.p1", "load.p0")))
    made = train_of(vehicles, needs, joins)
    made = replace(made, nets=tuple(replace(one, role="supply") for one in made.nets))
    homes = {}
    for weight in (25.0, 0.0):
        asked = replace(made, weights=Weights(unfused_across=weight, wire_metres=0.0, mass_off_balance=0.0))
        found = choose(asked, shelf_packer(200.0), lambda parts: "").best
        homes[weight] = {place.need: place.vehicle for place in found.placements}["fuse"]
        assert found.costs.conductors_across == 1
        assert found.costs.unfused_across == (homes[weight] == "loco")
    assert homes[25.0] == "wagon"
