"""Which current flows at every end of every net: Kirchhoff's first law, net by net and part by part.

A supply tree is walked once.  What a load draws comes in by its supply net and goes back by its own ground, a
motor's by its second lead and its driver's ground.  Grounds that several parts join form a network; its
currents solve the nodal equations with every end alike, which is exact where there is one way back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from fitplan.circuit.chain import Flow
from fitplan.circuit.net_ends import ends_of
from fitplan.circuit.supply_tree import Link, Rail, Supply, SupplyTree
from fitplan.model.part import Part
from fitplan.model.train import Train

Drawn = Callable[[Link, float], float]
"""What a link draws from the rail above it (mA), given what is drawn below it."""


@dataclass(frozen=True)
class NetDraw:
    """A net: where its current comes in, and what each owner takes out of it, in mA.

    The return of everything is given once, with an empty name and the source as its giver; there each owner
    sends back what is drawn.
    """

    net: str
    giver: str
    draws: dict[str, float]


def tree_draws(tree: SupplyTree, drawn: Drawn, peak: bool) -> list[NetDraw]:
    """Return what flows in every net of a tree, the return last."""
    found: list[NetDraw] = []
    back: dict[str, float] = {}

    def walk(giver: str, rail: Rail) -> float:
        draws: dict[str, float] = {}
        for fed in rail.fed:
            current = fed.peak_ma if peak else fed.average_ma
            draws[fed.owner] = draws.get(fed.owner, 0.0) + current
            home = fed.back or fed.owner
            back[home] = back.get(home, 0.0) + current
            if fed.signal:
                found.append(NetDraw(fed.signal, giver, {fed.owner: current}))
            if fed.back_net:
                found.append(NetDraw(fed.back_net, fed.back, {fed.owner: -current}))
        for link in rail.links:
            below = walk(link.owner, link.below)
            taken = drawn(link, below)
            if taken != below:
                back[link.owner] = back.get(link.owner, 0.0) + taken - below
            draws[link.owner] = draws.get(link.owner, 0.0) + taken
        if rail.net:
            found.append(NetDraw(rail.net, giver, draws))
        return sum(draws.values())

    total = walk(tree.owner, tree.root)
    chain = (tree.owner, *tree.below)
    found += [
        NetDraw(net, lower, {upper: total})
        for net, upper, lower in zip(tree.between, chain, chain[1:], strict=False)
    ]
    found.append(NetDraw("", tree.bottom, back))
    return found


def by_flow(flow: Flow) -> Drawn:
    """Return what links draw as an evaluation of the tree found it."""

    def drawn(link: Link, below: float) -> float:
        if link.regulator is not None and link.owner in flow.inputs:
            return flow.inputs[link.owner][1]
        return below

    return drawn


def end_currents(
    train: Train, chosen: Mapping[str, Part], supply: Supply, drawn: Callable[[SupplyTree], Drawn], peak: bool
) -> dict[tuple[str, str], float]:
    """Return the current (mA) from each owner into each net, by (net, owner); into a part it is negative.

    Over all ends of a net they add up to nothing, and so they do over all ends of a part that is joined to
    a ground.
    """
    found: dict[tuple[str, str], float] = {}
    sent: dict[str, float] = {}
    for tree in supply.trees:
        for entry in tree_draws(tree, drawn(tree), peak):
            if not entry.net:
                for owner, current in entry.draws.items():
                    sent[owner] = sent.get(owner, 0.0) + current
                    sent[entry.giver] = sent.get(entry.giver, 0.0) - current
                continue
            for owner, current in entry.draws.items():
                if owner != entry.giver:
                    _add(found, entry.net, owner, -current)
                    _add(found, entry.net, entry.giver, current)
    for (net, owner), current in _ground_currents(train, chosen, supply, sent).items():
        _add(found, net, owner, current)
    return found


def _add(found: dict[tuple[str, str], float], net: str, owner: str, current: float) -> None:
    found[net, owner] = found.get((net, owner), 0.0) + current


def _ground_currents(
    train: Train, chosen: Mapping[str, Part], supply: Supply, sent: Mapping[str, float]
) -> dict[tuple[str, str], float]:
    """Return the currents at the ends of all grounds, given what each owner sends back."""
    between = {net for tree in supply.trees for net in tree.between}
    edges: list[tuple[str, str]] = []
    for net in train.nets:
        if net.name in between:
            continue
        for end in ends_of(train, chosen, net):
            grounded = any(pin.role == "ground" for pin in end.pins)
            if (net.role == "ground" or grounded) and (net.name, end.owner) not in edges:
                edges.append((net.name, end.owner))
    found: dict[tuple[str, str], float] = {}
    for group in _connected(edges):
        found.update(_solve(group, sent))
    return found


def _connected(edges: Iterable[tuple[str, str]]) -> list[list[tuple[str, str]]]:
    """Return the ends in groups that hang together."""
    groups: list[list[tuple[str, str]]] = []
    for edge in edges:
        touching = [g for g in groups if any(edge[0] == net or edge[1] == owner for net, owner in g)]
        merged = [one for group in touching for one in group]
        groups = [group for group in groups if group not in touching] + [[*merged, edge]]
    return groups


def _solve(group: list[tuple[str, str]], sent: Mapping[str, float]) -> dict[tuple[str, str], float]:
    nets = list(dict.fromkeys(net for net, _ in group))
    owners = list(dict.fromkeys(owner for _, owner in group))
    total = sum(sent.get(owner, 0.0) for owner in owners)
    number = {("net", net): i for i, net in enumerate(nets)}
    number |= {("owner", owner): len(nets) + i for i, owner in enumerate(owners)}
    matrix = np.zeros((len(number), len(number)))
    for net, owner in group:
        a, b = number["net", net], number["owner", owner]
        matrix[[a, b], [a, b]] += 1.0
        matrix[[a, b], [b, a]] -= 1.0
    injected = np.zeros(len(number))
    for owner in owners:
        injected[number["owner", owner]] = sent.get(owner, 0.0)
    if abs(total) > 1e-9:
        # Something has no ground to return by: it is reckoned with what returns most, so that nets balance.
        most = max(owners, key=lambda owner: sent.get(owner, 0.0))
        injected[number["owner", most]] -= total
    volts = np.linalg.lstsq(matrix, injected, rcond=None)[0]
    return {
        (net, owner): float(volts[number["owner", owner]] - volts[number["net", net]]) for net, owner in group
    }
