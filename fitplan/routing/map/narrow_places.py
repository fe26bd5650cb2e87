"""Proofs that named narrow places cannot carry what wants through: max-flow, min-cut."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear_radius import room_for
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.way import Voxel

_ALL_SPLITS = 9
"""With more rooms than this, only the splits that trains have are tried, not all."""


@dataclass(frozen=True)
class Run:
    """One conductor (or several that go together) to be led from one place to another.

    Attributes
    ----------
    starts, goals
        Voxels at either end; any pair will do.
    diameter
        Outer diameter in mm.
    demand
        How many conductors of a named place's capacity it takes.
    """

    name: str
    starts: tuple[Voxel, ...]
    goals: tuple[Voxel, ...]
    diameter: float = 1.3
    demand: int = 1


@dataclass(frozen=True, eq=False)
class CapacityPlace:
    """A named narrow place, such as a port: voxels that together carry so many conductors.

    Attributes
    ----------
    voxels
        (n, 3) whole numbers.
    capacity
        Conductors that are known to go through (`fitplan.routing.map.port_room.passage`).
    most
        Conductors that it is proved not to carry more of; None where that is the capacity. Only this bound
        proves anything.
    behind, bundle_mm
        (m, 3) voxels behind its inner end where wires still lie side by side as in it, and the bundle that
        has room there so.
    """

    name: str
    voxels: NDArray[np.integer]
    capacity: int
    most: int | None = None
    behind: NDArray[np.integer] = field(default_factory=lambda: np.zeros((0, 3), dtype=np.int64))
    bundle_mm: float = 0.0

    @property
    def proved(self) -> int:
        """The number of conductors that is proved not to be exceeded."""
        return self.capacity if self.most is None else self.most


@dataclass(frozen=True)
class CutProof:
    """A proof: every way of these runs leads through these places, which carry fewer.

    Attributes
    ----------
    places
        Names; together they part the train in two.
    capacity, demand
        Conductors that they carry, and that want through.
    runs
        Names of the runs that want through.
    """

    places: tuple[str, ...]
    capacity: int
    demand: int
    runs: tuple[str, ...]

    def __str__(self) -> str:
        """Return the proof as a sentence."""
        names = " and ".join(self.places) if self.places else "nothing"
        carry = "carries" if len(self.places) <= 1 else "together carry"
        noun = "conductor" if self.capacity == 1 else "conductors"
        wants = "wants" if self.demand == 1 else "want"
        return f"{names} {carry} {self.capacity} {noun}, {self.demand} {wants} through"


def narrow_places(
    free: NDArray[np.bool_],
    runs: Sequence[Run],
    places: Sequence[CapacityPlace],
    *,
    near_ends: int = 4,
    pitch: float = 0.8,
) -> tuple[CutProof, ...]:
    """Return proofs that the places cannot carry the runs; none found is no promise that they can.

    With the places closed, the free space falls into rooms. For a split of the rooms that hold ends, the
    largest flow between the sides is compared with the runs that have to cross (max-flow, min-cut); a cut
    that is too small is confirmed by closing its places and finding the sides apart. Up to nine rooms all
    splits are tried; beyond, each room alone, each pair, and all cuts across the train's length. The
    map is that of the thinnest run, with free voxels near ends, so it has at least all ways that any run has.

    Raises
    ------
    ValueError
        A place has a voxel outside the map.
    """
    if not runs or not places:
        return ()
    open_map = room_for(free, min(run.diameter for run in runs) / 2, pitch)
    for run in runs:
        for x, y, z in (*run.starts, *run.goals):
            box = tuple(slice(max(p - near_ends, 0), p + near_ends + 1) for p in (x, y, z))
            open_map[box] |= free[box]
    whole = open_map.copy()
    for place in places:
        cells = tuple(np.asarray(place.voxels, dtype=np.int64).T)
        whole[cells] |= free[cells]
        open_map[cells] = False
    rooms = WayMap(open_map, pitch).rooms()
    graph = _network(rooms, places)
    ends = [(_rooms_of(rooms, run.starts), _rooms_of(rooms, run.goals)) for run in runs]
    held = sorted({room for pair in ends for side in pair for room in side})
    found: dict[tuple[str, ...], CutProof] = {}
    for left in _splits(held, rooms):
        right = set(held) - left
        crossing = [
            run
            for run, (first, last) in zip(runs, ends, strict=True)
            if first and last and ((first <= left and last <= right) or (first <= right and last <= left))
        ]
        demand = sum(run.demand for run in crossing)
        if not demand:
            continue
        capacity, names = _cut(graph, left, right)
        if capacity >= demand or names in found:
            continue
        if _parted(whole, [p for p in places if p.name in names], crossing):
            found[names] = CutProof(names, capacity, demand, tuple(run.name for run in crossing))
    return _tightest(tuple(found.values()))


def _network(rooms: NDArray[np.uint32], places: Sequence[CapacityPlace]) -> nx.DiGraph[tuple[str, int]]:
    """Return rooms and places as a flow network; a place is an edge from its inside to its outside node."""
    graph: nx.DiGraph[tuple[str, int]] = nx.DiGraph(names=[place.name for place in places])
    owner = np.full(rooms.shape, -1, dtype=np.int64)
    for number, place in enumerate(places):
        owner[tuple(np.asarray(place.voxels, dtype=np.int64).T)] = number
        graph.add_edge(("in", number), ("out", number), capacity=place.proved)
    for axis in range(3):
        for sign in (1, -1):
            for number, place in enumerate(places):
                cells = np.asarray(place.voxels, dtype=np.int64).copy()
                cells[:, axis] += sign
                cells = cells[((cells >= 0) & (cells < rooms.shape)).all(axis=1)]
                for room in np.unique(rooms[tuple(cells.T)]).tolist():
                    if room:
                        graph.add_edge(("room", room), ("in", number))
                        graph.add_edge(("out", number), ("room", room))
                for other in np.unique(owner[tuple(cells.T)]).tolist():
                    if other not in (-1, number):
                        graph.add_edge(("out", number), ("in", other))
    return graph


def _rooms_of(rooms: NDArray[np.uint32], voxels: Sequence[Voxel]) -> frozenset[int]:
    """Return the rooms that hold the voxels; empty, so that the run is left out, when one lies in no room."""
    found = {int(rooms[voxel]) for voxel in voxels}
    return frozenset() if 0 in found else frozenset(found)


def _splits(held: list[int], rooms: NDArray[np.uint32]) -> Iterator[set[int]]:
    if len(held) < 2:
        return
    if len(held) <= _ALL_SPLITS:
        for size in range(1, len(held) // 2 + 1):
            for left in combinations(held, size):
                yield set(left)
        return
    for room in held:
        yield {room}
    for pair in combinations(held, 2):
        yield set(pair)
    middle = {room: float(np.argwhere(rooms == room)[:, 0].mean()) for room in held}
    along = sorted(held, key=lambda room: (middle[room], room))
    for count in range(2, len(along) - 1):
        yield set(along[:count])


def _cut(graph: nx.DiGraph[tuple[str, int]], left: set[int], right: set[int]) -> tuple[int, tuple[str, ...]]:
    """Return the largest flow between two sets of rooms, and the places of a least cut."""
    network: nx.DiGraph[tuple[str, int]] = graph.copy()
    network.add_edges_from((("source", 0), ("room", room)) for room in left)
    network.add_edges_from((("room", room), ("sink", 0)) for room in right)
    value, (reached, _) = nx.minimum_cut(network, ("source", 0), ("sink", 0))
    cut = [n for n in range(len(graph.graph["names"])) if ("in", n) in reached and ("out", n) not in reached]
    return int(value), tuple(graph.graph["names"][n] for n in cut)


def _parted(whole: NDArray[np.bool_], places: Sequence[CapacityPlace], runs: Sequence[Run]) -> bool:
    """Confirm a cut by other means: with its places closed, no run has both ends in one room."""
    closed = whole.copy()
    for place in places:
        closed[tuple(np.asarray(place.voxels, dtype=np.int64).T)] = False
    rooms = WayMap(closed).rooms()
    return all(_rooms_of(rooms, run.starts).isdisjoint(_rooms_of(rooms, run.goals)) for run in runs)


def _tightest(proofs: tuple[CutProof, ...]) -> tuple[CutProof, ...]:
    """Drop proofs whose places hold those of another proof; the fewest places first."""
    kept = [p for p in proofs if not any(set(q.places) < set(p.places) for q in proofs)]
    return tuple(sorted(kept, key=lambda p: (len(p.places), p.places)))
