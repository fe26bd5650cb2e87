"""Nets between cells and their fuse, drawn by hand: from the nets as written, and from the supply tree."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from fitplan.circuit.fuses import fuse_at_minus, nets_ahead_of_fuse, unfused_nets
from fitplan.circuit.supply import build_supply
from fitplan.model.needed import Need
from fitplan.model.nets import Net, NetRole
from fitplan.model.train import Train
from tests.circuit.sample_parts import bank, board, cells, fuse, need, net, part, pin, switch, train

LOAD = part("load", pins=[pin("VCC", "supply"), pin("GND", "ground")])
NEEDS = (
    need("cells", cells(2)),
    need("more", cells(2)),
    need("bank", bank()),
    *(need(f"S{i}", switch()) for i in (1, 2)),
    *(need(f"F{i}", fuse()) for i in (1, 2)),
    need("load", LOAD),
    need("brain", board()),
)


def line(*names: str, role: NetRole = "supply") -> list[Net]:
    """Nets ``n1``, ``n2`` … along parts one behind the other: in at their end a, out at b."""

    def end(name: str, out: bool) -> str:
        plus = {"cells": "plus", "more": "plus", "bank": "plus", "load": "VCC", "brain": "raw"}
        return f"{name}.{plus.get(name) or ('b' if out else 'a')}"

    pairs = pairwise(names)
    return [net(f"n{i}", role, end(a, True), end(b, False)) for i, (a, b) in enumerate(pairs, 1)]


def of(nets: list[Net], needs: tuple[Need, ...] = NEEDS) -> Train:
    return train(needs, nets)


@pytest.mark.parametrize(
    ("names", "ahead"),
    [
        (("cells", "F1", "load"), {"n1"}),
        (("cells", "S1", "F1", "load"), {"n1", "n2"}),
        (("cells", "S1", "S2", "F1", "F2", "load"), {"n1", "n2", "n3"}),
        (("cells", "S1", "load"), set()),
        (("cells", "load"), set()),
        (("cells", "S1"), set()),
        (("bank", "F1", "load"), set()),
    ],
)
def test_what_lies_between_cells_and_a_fuse(names: tuple[str, ...], ahead: set[str]) -> None:
    """Up to the first fuse, over switches; nothing where no fuse follows, or no cells lie before."""
    assert unfused_nets(of(line(*names))) == ahead


def test_what_branches_off_ahead_of_the_fuse_ends_it() -> None:
    """A load beside the switch or behind it, or a second way out of it: no fuse takes all current."""
    nets = line("cells", "S1", "F1", "load")
    for number in (0, 1):
        branched = replace(nets[number], joins=(*nets[number].joins, *net("x", "supply", "load.VCC").joins))
        assert unfused_nets(of([*nets[:number], branched, *nets[number + 1 :]])) == set()
    assert unfused_nets(of([*nets, net("aside", "supply", "S1.b", "load.VCC")])) == set()
    # Another's way to its own fuse changes nothing.
    assert unfused_nets(of([*nets, net("own", "supply", "more.plus", "F2.a")])) == {"n1", "n2", "own"}


def test_only_supply_nets_count_and_every_candidate_must_be_such_a_part() -> None:
    """A ground is no way to a fuse; where a load may stand in the fuse's place nothing is sure."""
    assert unfused_nets(of(line("cells", "F1", "load", role="ground"))) == set()
    nets = line("cells", "S1", "F1", "load")
    assert unfused_nets(of([*nets[:1], replace(nets[1], role="signal"), *nets[2:]])) == set()

    def instead(name: str, *parts: object) -> tuple[Need, ...]:
        return tuple(need(name, *parts) if one.name == name else one for one in NEEDS)  # type: ignore[arg-type]

    assert unfused_nets(of(nets, instead("F1", fuse(), fuse(800.0, 1500.0)))) == {"n1", "n2"}
    assert unfused_nets(of(nets, instead("F1", fuse(), switch()))) == set()
    assert unfused_nets(of(nets, instead("S1", switch(), LOAD))) == set()
    assert unfused_nets(of(nets, instead("cells", bank(), cells(2)))) == {"n1", "n2"}
    # What is built in is no need, and no fuse.
    assert unfused_nets(of([net("n1", "supply", "cells.plus", "shunter/motor.plus")])) == set()


@pytest.mark.parametrize(
    ("names", "ahead"),
    [
        (("cells", "F1", "brain"), ("n1",)),
        (("cells", "S1", "F1", "brain"), ("n1", "n2")),
        (("cells", "S1", "S2", "F1", "F2", "brain"), ("n1", "n2", "n3")),
        (("cells", "S1", "brain"), ()),
        (("cells", "brain"), ()),
    ],
)
def test_the_supply_tree_says_the_same(names: tuple[str, ...], ahead: tuple[str, ...]) -> None:
    """In order, from the cells to the nearest fuse."""
    grounds = net("ground", "ground", "cells.minus", "brain.GND")
    made = of([*line(*names), grounds])
    tree = next(one for one in build_supply(made, {}).trees if one.owner == "cells")
    assert nets_ahead_of_fuse(tree) == ahead


def test_a_fuse_at_a_ground_of_something_else_is_not_the_cells_own() -> None:
    """The end counts that is the minus of the cells: not their plus, not the board's ground."""
    needs = (need("cells", cells(2)), need("brain", board()), need("F1", fuse()))

    def at_minus(*nets: Net) -> str:
        made = train(needs, [net("n1", "supply", "cells.plus", "brain.raw"), *nets])
        return fuse_at_minus(made, {}, build_supply(made, {}).trees[0])

    assert at_minus(net("m", "ground", "cells.minus", "F1.a")) == "F1"
    assert at_minus(net("m", "ground", "brain.GND", "F1.a")) == ""
    made = train(needs, [net("n1", "supply", "cells.plus", "F1.a"), net("n2", "supply", "F1.b", "brain.raw")])
    assert fuse_at_minus(made, {}, build_supply(made, {}).trees[0]) == ""
