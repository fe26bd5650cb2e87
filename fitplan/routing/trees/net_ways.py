"""Ways, splices and trees that one net may take in one vehicle, each asked for once.

What was found is kept, so that the map itself, which takes much memory, can be let go.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.model.wiring import Allowances
from fitplan.model.wiring_facts import Unproved
from fitplan.routing.map.splice_sites import round_splices
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.trees.tree_map import (
    FAR,
    CostMap,
    KeptFlood,
    Terminal,
    TreeMap,
    TreeUndecidedError,
    VoxelTree,
)
from fitplan.routing.trees.voxel_trees import bounded_tree, shortest_tree
from fitplan.routing.ways.way import Voxel


class NetWays:
    """What one net may take; for the parameters see `net_wiring.NetWiring`, ``ends`` are all its voxels."""

    def __init__(
        self,
        net: str,
        map_: VehicleMap,
        ground: CostMap,
        diameter: float,
        ends: Sequence[Voxel],
        allowances: Allowances,
        others: Iterable[Voxel],
        hurry: Callable[[int], bool],
        bounds_later: bool = False,
    ) -> None:
        self.unproved: dict[tuple[Terminal, ...], Unproved] = {}
        self.undecided = False
        """Whether a search for a tree ended without finding one or proving that there is none."""
        self._net, self._map, self._ground, self._diameter = net, map_, ground, diameter
        self._ends, self._further_mm, self._hurry = ends, allowances.strip, hurry
        self._bounds_later = bounds_later
        self._taken = round_splices(map_, others)
        self._made: TreeMap | None = None
        self._floods: dict[tuple[Voxel, ...], KeptFlood] = {}
        self._known: dict[tuple[Terminal, ...], VoxelTree | None] = {}
        self._compared: dict[tuple[Terminal, ...], VoxelTree | None] = {}
        self._ways: dict[tuple[Terminal, Terminal], NDArray[np.int32] | None] = {}
        self._costs: dict[tuple[Terminal, Terminal], float] = {}
        self._within: dict[tuple[Terminal, Terminal, float], bool] = {}
        self._spots: dict[tuple[Terminal, ...], Voxel | None] = {}

    @property
    def vehicle(self) -> str:
        """The vehicle whose map is asked."""
        return self._map.name

    @property
    def _trees(self) -> TreeMap:
        if self._made is None:
            room = self._map.room(self._diameter, self._ends)
            self._made = TreeMap(
                room, self._ground, further_mm=self._further_mm, taken=self._taken, kept=self._floods
            )
            self._floods = {}
        return self._made

    def let_go(self, *, for_good: bool = False) -> None:
        """Give the map's memory back; what takes long to find stays, unless nothing more will be asked."""
        if for_good:
            self._floods = {}
        elif self._made is not None:
            self._floods = self._made.kept_floods()
        self._made = None

    def __getstate__(self) -> dict[str, object]:
        """Carry the answers to another process, and no more."""
        return {**self.__dict__, "_made": None, "_floods": {}}

    def tree(self, terminals: tuple[Terminal, ...], *, to_compare: bool = False) -> VoxelTree | None:
        """Return a shortest tree over three and more terminals; None where none is found.

        ``to_compare``: nothing is laid by it, so of many terminals a good one will do.
        """
        if to_compare and terminals not in self._known:
            if terminals not in self._compared:
                self._compared[terminals] = self._asked(terminals, to_compare=True)
            return self._compared[terminals]
        if terminals not in self._known:
            self._known[terminals] = self._asked(terminals)
        tree = self._known[terminals]
        if tree is not None and not tree.proved:
            self._tell_unproved(terminals, tree)
        return tree

    def _tell_unproved(self, terminals: tuple[Terminal, ...], tree: VoxelTree) -> None:
        cost, least = round(tree.cost_mm, 2), round(tree.least_mm, 2)
        self.unproved[terminals] = Unproved(self._net, self._map.name, len(terminals), cost, least)

    def bound(self) -> None:
        """Look for the bounds of unproved trees that were left for later, and for none later any more."""
        waiting, self._bounds_later = self._bounds_later, False
        for terminals in self.unproved if waiting else ():
            tree = self._known[terminals]
            if tree is not None and not self._hurry(len(terminals)):
                self._known[terminals] = bounded = bounded_tree(self._trees, terminals, tree)
                self._tell_unproved(terminals, bounded)

    def _asked(self, terminals: tuple[Terminal, ...], *, to_compare: bool = False) -> VoxelTree | None:
        quickly = self._hurry(len(terminals))
        try:
            return shortest_tree(
                self._trees,
                terminals,
                quickly=quickly,
                to_compare=to_compare,
                bounded=not self._bounds_later,
            )
        except TreeUndecidedError:
            self.undecided = self.undecided or not to_compare
            return None

    def way(self, one: Terminal, other: Terminal) -> NDArray[np.int32] | None:
        """Return the (n, 3) voxels of a cheapest way between two; None where there is none."""
        if (one, other) not in self._ways:
            way = self._trees.way(one, other)
            self._ways[one, other] = way
            self._ways[other, one] = None if way is None else way[::-1]
        return self._ways[one, other]

    def cost(self, one: Terminal, other: Terminal) -> float:
        """Return what that way costs, in mm; infinite where there is none."""
        if one.voxels == other.voxels:
            return 0.0
        if (one, other) not in self._costs:
            found = self._trees.cost_mm(one, other)
            self._costs[one, other] = self._costs[other, one] = math.inf if found is None else found
        return self._costs[one, other]

    def nearest(self, some: Sequence[Terminal], other: Terminal) -> float:
        """Return what the cheapest way to any of these terminals costs, in mm; infinite where there is none.

        The lengths from each that tell it are what a tree over them begins with.
        """
        for one in some:
            if (one, other) not in self._costs and one.voxels != other.voxels:
                self._trees.flood(one.voxels, at_least=FAR)
        return min(self.cost(one, other) for one in some)

    def within(self, one: Terminal, other: Terminal, most_mm: float) -> bool:
        """Return whether that way costs no more than so many mm; no farther is looked for it."""
        if one.voxels == other.voxels or (one, other) in self._costs:
            return self.cost(one, other) <= most_mm
        if (one, other, most_mm) not in self._within:
            found = self._trees.cost_mm(one, other, most_mm)
            self._within[one, other, most_mm] = found is not None and found <= most_mm
        return self._within[one, other, most_mm]

    def splice(self, *terminals: Terminal, apart: bool = False) -> Voxel | None:
        """Return where a splice of these is cheapest; `apart`: no other splice is to be close to it."""
        if terminals not in self._spots:
            spot = self._trees.best_splice(terminals)
            if apart and spot is not None:
                self._trees.take(round_splices(self._map, [spot]))
            self._spots[terminals] = spot
        return self._spots[terminals]
