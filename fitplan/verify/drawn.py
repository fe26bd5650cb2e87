"""What flows into the copper at a node, part by part: all the time, or at the most."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import networkx as nx

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Controller, Load, Regulator
from fitplan.model.part import Part
from fitplan.verify.nodes import NodalNetwork, Node

_FEEDS = ("raw", "5v", "3v3", "supply")


@dataclass(frozen=True)
class Feeding:
    """A train that is fed, and what each of its parts draws (mA) in the state that is asked for."""

    built: BuiltTrain
    bench: NodalNetwork
    parts: Mapping[str, Part]
    each: Callable[[BuiltTrain, Mapping[str, Part], str], float]

    @cached_property
    def copper(self) -> nx.Graph[Node]:
        """What is one piece of copper with every switch on."""
        return self.bench.copper()

    def from_node(self, node: Node, volts: float, passed: frozenset[str]) -> float:
        """Return what flows into the copper at a node: loads there, and regulators' inputs, in mA.

        Parameters
        ----------
        volts
            What stands there.
        passed
            Owners that it comes from.
        """
        built, parts, copper = self.built, self.parts, self.copper
        piece = nx.node_connected_component(copper, node)
        owners = dict.fromkeys(
            owner for owner, pin in sorted(piece) if owner in parts and owner not in passed
        )
        total = 0.0
        for owner in owners:
            part = parts[owner]
            entries = [pin for pin in part.pins if (owner, pin.name) in piece and pin.role in _FEEDS]
            own, behind = part.figure(Regulator), part.figure(Controller)
            if entries and (own is None or behind is not None):
                raw = any(pin.role == "raw" for pin in entries)
                inner = behind.regulator if behind is not None and raw else None
                # What a board draws behind a switching regulator of its own is less at its raw pin.
                switching = inner is not None and inner.kind != "linear"
                share = inner.out_v / (volts * inner.efficiency) if inner is not None and switching else 1.0
                total += share * self.each(built, parts, owner)
        for item in (item for entry in built.train.vehicles for item in entry.vehicle.built_in):
            at = [node for node in piece if node[0].endswith(f"/{item.name}")]
            if at and not item.stall_ma and item.cells is None:
                total += item.current_ma
        for branch in self.bench.branches:
            if branch.kind != "regulator" or branch.input not in piece or branch.high in piece:
                continue
            figures = branch.figures
            if figures is None or branch.owner in passed or figures.out_v > 1000 or branch.high not in copper:
                continue
            given = min(figures.out_v, volts) if figures.kind == "linear" else figures.out_v
            below = self.from_node(branch.high, given, passed | {branch.owner})
            if figures.kind != "linear":
                below *= given / (volts * figures.efficiency)
            total += below + figures.quiescent_ma
            if parts[branch.owner].figure(Controller) is not None and branch.owner not in owners:
                total += self.each(built, parts, branch.owner)
        return total


def steady_ma(built: BuiltTrain, parts: Mapping[str, Part], owner: str) -> float:
    """Return what a part draws all the time; nothing where its need has a duty of less than one."""
    duty = next((need.duty for need in built.train.needs if need.name == owner), 1.0)
    figures = parts[owner].figure(Controller) or parts[owner].figure(Load)
    return figures.current_ma if figures is not None and duty >= 1 else 0.0


def peak_ma(built: BuiltTrain, parts: Mapping[str, Part], owner: str) -> float:
    """Return what a part draws at the most, however seldom; of a board with what its pins feed alone."""
    board, load = parts[owner].figure(Controller), parts[owner].figure(Load)
    if board is None:
        return max(load.current_ma, load.peak_ma) if load is not None else 0.0
    total = max(board.current_ma, board.peak_ma)
    nets = [{ref.owner for ref in net.joins} for net in built.train.nets if net.role == "signal"]
    for name in sorted(set().union(*(owners for owners in nets if owner in owners)) - {owner}):
        if name in parts and not any(pin.role in _FEEDS for pin in parts[name].pins):
            total += peak_ma(built, parts, name)
    return total
