"""A supply tree whose source was measured: what was not measured itself draws so much that all add up to it.

All typical averages are taken by one factor; a peak is never below the average, and never below the typical
peak, as a meter that shows averages says nothing of peaks.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from fitplan.circuit.currents import source_current
from fitplan.circuit.supply_tree import Rail, RailLoad, Supply, SupplyTree
from fitplan.model.measured import as_measured_id
from fitplan.model.part import Part
from fitplan.model.train import Train

MOST_TIMES = 20.0
"""Typical figures are taken by no larger factor."""
_TURNS = 60


def measured_supply(train: Train, chosen: Mapping[str, Part], supply: Supply) -> Supply:
    """Return supply trees in which sources give what was measured of them; others as they are."""
    if not train.measured.supplies:
        return supply
    known = known_draws(train, chosen)

    def tree(one: SupplyTree) -> SupplyTree:
        figure = next((f for name in (one.owner, *one.below) if (f := train.measured.supply(name))), None)
        return one if figure is None else as_measured(one, figure.current_ma, known)

    return replace(supply, trees=tuple(map(tree, supply.trees)))


def known_draws(train: Train, chosen: Mapping[str, Part]) -> frozenset[str]:
    """Return the owners whose own currents were measured."""
    drawn = set(train.measured.drawn)
    parts = {need.name: chosen.get(need.name, need.candidates[0]) for need in train.needs}
    return frozenset({name for name, part in parts.items() if as_measured_id(part.id) in drawn} | drawn)


def scaled(tree: SupplyTree, factor: float, known: Collection[str]) -> SupplyTree:
    """Return a tree whose loads draw a multiple on average, but for those that are known."""

    def load(one: RailLoad) -> RailLoad:
        if one.owner in known:
            return one
        average = one.average_ma * factor
        return replace(one, average_ma=average, peak_ma=max(one.peak_ma, average))

    def rail(one: Rail) -> Rail:
        links = tuple(replace(link, below=rail(link.below)) for link in one.links)
        return replace(one, fed=tuple(map(load, one.fed)), links=links)

    return replace(tree, root=rail(tree.root))


def as_measured(tree: SupplyTree, current_ma: float, known: Collection[str]) -> SupplyTree:
    """Return a tree that draws on average what was measured, or as near to it as typical figures can be.

    Parameters
    ----------
    known
        Owners whose own currents were measured.
    """

    def drawn(one: SupplyTree) -> float:
        return source_current(one).average_ma

    low, high = 0.0, MOST_TIMES
    if drawn(scaled(tree, low, known)) >= current_ma:
        return scaled(tree, low, known)
    if drawn(scaled(tree, high, known)) <= current_ma:
        return scaled(tree, high, known)
    for _ in range(_TURNS):
        middle = (low + high) / 2
        low, high = (middle, high) if drawn(scaled(tree, middle, known)) < current_ma else (low, middle)
    return scaled(tree, (low + high) / 2, known)
