"""What a source feeds, seen from a board: what hangs on its regulated rail, and what lies ahead of it.

A motor at the raw volts of the cells, or a servo there, does not hang on the board's rail; another way to
feed the train must carry it all the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from fitplan.circuit.supply_tree import Link, Rail, RailLoad, SupplyTree, nominal_volts

SLOWER, FASTER = 0.75, 1.34
"""Volts over the present ones between which a motor still runs as it did (common practice, no source)."""


@dataclass(frozen=True)
class Ahead:
    """What a source feeds beside the board's own regulated rail.

    Attributes
    ----------
    rail
        It, as it hangs behind the source today.
    volts
        The label volts that it gets today.
    """

    rail: Rail
    volts: float = 0.0

    def beside(self, fed: tuple[RailLoad, ...] = (), links: tuple[Link, ...] = ()) -> Rail:
        """Return the rail of a source that feeds this and something more."""
        return Rail("", (*self.rail.fed, *fed), (*self.rail.links, *links))

    def stands(self, label_v: float, full_v: float) -> bool:
        """Return whether all of it works with such volts and stands those of fresh cells."""
        if not self.rail.fed and not self.rail.links:
            return True
        for rail in _unregulated(self.rail):
            for fed in rail.fed:
                if not fed.min_v <= label_v or full_v > (fed.max_v or math.inf):
                    return False
                unknown = not fed.min_v and not fed.max_v and fed.peak_ma > 0
                if unknown and not SLOWER * self.volts <= label_v <= FASTER * self.volts:
                    return False
            for link in rail.links:
                regulator = link.regulator
                if regulator is not None and not (
                    regulator.in_min_v < label_v and full_v <= regulator.in_max_v
                ):
                    return False
        return True


NOTHING_AHEAD = Ahead(Rail(""))


def _unregulated(rail: Rail) -> Iterator[Rail]:
    """Yield a rail and those below it that get the same volts."""
    yield rail
    for link in rail.links:
        if link.regulator is None:
            yield from _unregulated(link.below)


def board_loads(trees: Iterable[SupplyTree], controller: str) -> tuple[RailLoad, ...]:
    """Return everything that hangs behind the controller or beside it on its regulated rail."""
    for tree in trees:
        for rail in tree.root.walk():
            if any(fed.owner == controller for fed in rail.fed):
                return tuple(fed for below in _top(tree.root, controller).walk() for fed in below.fed)
    return ()


def _top(root: Rail, controller: str) -> Rail:
    """Return the rail below the last regulator above the board: its loads want regulated volts."""
    top, queue = root, [(root, root)]
    while queue:
        rail, regulated = queue.pop()
        if any(fed.owner == controller for fed in rail.fed):
            return regulated
        for link in rail.links:
            queue.append((link.below, link.below if link.regulator is not None else regulated))
    return top


def loads_ahead(trees: Iterable[SupplyTree], controller: str) -> Ahead:
    """Return what the source of a board feeds ahead of the board's regulated rail, or beside it."""
    for tree in trees:
        if any(fed.owner == controller for fed in tree.root.everything()):
            return Ahead(_without(tree.root, _top(tree.root, controller)), nominal_volts(tree.source))
    return NOTHING_AHEAD


def _without(rail: Rail, left_out: Rail) -> Rail:
    """Return a rail without the branch that ends in another; what only led there goes with it."""
    if rail == left_out:
        return Rail("")
    links = (replace(link, below=_without(link.below, left_out)) for link in rail.links)
    return Rail(rail.net, rail.fed, tuple(link for link in links if link.below.everything()))
