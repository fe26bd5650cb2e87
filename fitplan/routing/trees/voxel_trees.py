"""Shortest trees over the free voxels of one vehicle: where the wires of a net branch.

A tree branches in a splice, where one may be, or at a terminal that takes more than one wire. Up to
`MOST_EXACT` terminals the tree is a shortest one over all voxels, unless that takes more than `MOST_WORK`:
labels for sets of terminals are handed from voxel to voxel and joined at splices (Dreyfus and Wagner 1971;
Erickson, Monma and Veinott 1987; from memory, not confirmed), and what cannot be part of a tree as short as
the best one known is left out: a greedy tree, each terminal of which was hung where it is best
(`fitplan.routing.trees.inserted_trees`). Otherwise that tree stands, and a lower bound says how much it may
be too dear: the most for which an exact search shows that no tree is so cheap.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.trees.inserted_trees import Inserted
from fitplan.routing.trees.pieces import MOST_IN_SPLICE
from fitplan.routing.trees.tree_map import FAR, Terminal, TreeMap, TreeUndecidedError, VoxelTree
from fitplan.routing.trees.tree_search import Exact, Greedy, least_joints

MOST_EXACT = 12
"""Up to so many terminals the tree is exact over all voxels where the work allows; it grows with each."""
PROVED_AT_ONCE = 8
"""Up to so many terminals a tree is proved whenever it is asked for, also where it is only tried or compared
with."""
MOST_WORK = 8_000_000
"""Voxels that the exact search looks at before it gives up: about a second."""
EXACT_FIRST = 6
"""Up to so many terminals the exact search is tried before a greedy tree is made better, for as much work as
lengths from them to everywhere take: mostly it ends sooner, and what would limit it further costs more."""
_BISECTIONS = 4
"""So often a bound is looked for between what is known and the tree, each time with a quarter of the work."""
_BOUNDED_BY = 10
"""So many terminals, the farthest apart, bound a tree of more than `MOST_EXACT`."""


def shortest_tree(
    map_: TreeMap,
    terminals: Sequence[Terminal],
    *,
    quickly: bool = False,
    to_compare: bool = False,
    bounded: bool = True,
) -> VoxelTree | None:
    """Return a tree that joins all terminals, or None when there is none.

    Parameters
    ----------
    quickly
        Take the greedy tree when there is one, with the simplest bound.
    to_compare
        Nothing is laid by it: beyond `PROVED_AT_ONCE` terminals neither proof nor bound is looked for.
    bounded
        Whether a bound is looked for where a proof is not found; else it has the simplest, and `bounded_tree`
        may be asked later.

    Raises
    ------
    TreeUndecidedError
        None was found, and the searches gave up before they had seen everything.
    ValueError
        There are fewer than two terminals.
    """
    if len(terminals) < 2:
        raise ValueError("a tree joins at least two terminals")
    floods = _floods_of(map_, terminals)
    between = lengths_between(map_, terminals, floods)
    if between is None:
        return None
    if len(terminals) == 3:
        return _of_three(map_, terminals, floods, between)
    tree = Greedy(map_, terminals, floods).grow()
    if quickly and tree is not None:
        return _simply_bounded(map_, between, tree)
    tree = tree or Inserted(map_, terminals, floods, between).grow() or _star(map_, terminals, floods)
    if tree is not None and len(terminals) <= EXACT_FIRST:
        found, _ = _exact(map_, terminals, floods, between, tree, len(terminals) * map_.open_count)
        if found is not None:
            return found
    if tree is not None:
        tree = Inserted(map_, terminals, floods, between).improved(tree)
    if to_compare and tree is not None and not _is_overfull(tree) and len(terminals) > PROVED_AT_ONCE:
        return tree
    if len(terminals) <= MOST_EXACT:
        found, ended = _exact(map_, terminals, floods, between, tree)
        if found is not None or (ended and tree is None):
            return found
    if tree is None or _is_overfull(tree):
        raise TreeUndecidedError(f"no tree over {len(terminals)} ends was found")
    if not bounded:
        return _simply_bounded(map_, between, tree)
    return _with_bound(map_, terminals, floods, between, tree)


def bounded_tree(map_: TreeMap, terminals: Sequence[Terminal], tree: VoxelTree) -> VoxelTree:
    """Return a tree that was found without a bound with what no tree can cost less than.

    It stays as it is, even where a cheaper one comes up meanwhile: that is the bound then.
    """
    floods = _floods_of(map_, terminals)
    between = lengths_between(map_, terminals, floods)
    if between is None:
        raise ValueError("the terminals of a tree hang together")
    found = _with_bound(map_, terminals, floods, between, tree)
    return replace(tree, least_mm=found.cost_mm if found.proved else found.least_mm)


def _simply_bounded(map_: TreeMap, between: NDArray[np.uint32], tree: VoxelTree) -> VoxelTree:
    return replace(tree, least_mm=min(map_.in_mm(_round_trip(between)), tree.cost_mm))


def _is_overfull(tree: VoxelTree) -> bool:
    """Tell whether a splice of a tree joins more wires than a sleeve holds."""
    ends = Counter(end for edge in tree.edges for end in edge)
    terminals = len(ends) - len(tree.splices)
    return any(ends[terminals + number] > MOST_IN_SPLICE for number in range(len(tree.splices)))


def _exact(
    map_: TreeMap,
    terminals: Sequence[Terminal],
    floods: Sequence[int],
    between: NDArray[np.uint32],
    tree: VoxelTree | None,
    most_work: int = MOST_WORK,
) -> tuple[VoxelTree | None, bool]:
    """Return a shortest tree, and whether the search came to its end within the work.

    The cheaper the tree that is known, the more is left out; without one it looks at everything.
    """
    limit = FAR // 4 if tree is None else map_.in_units(tree.cost_mm) + 1
    search = Exact(map_, terminals, floods, between, limit, min(most_work, MOST_WORK))
    found = _solved(search)
    return found, not search.gave_up


def _solved(search: Exact) -> VoxelTree | None:
    """Return the tree of an exact search, or None: one without memory gives up like one without time."""
    try:
        return search.solve()
    except MemoryError:
        search.gave_up = True
        return None


def _with_bound(
    map_: TreeMap,
    terminals: Sequence[Terminal],
    floods: Sequence[int],
    between: NDArray[np.uint32],
    tree: VoxelTree,
) -> VoxelTree:
    """Return the best tree found, with what no tree can cost less than."""
    least, better = least_cost(map_, terminals, floods, between, map_.in_units(tree.cost_mm))
    return better or replace(tree, least_mm=min(map_.in_mm(least), tree.cost_mm))


def _star(map_: TreeMap, terminals: Sequence[Terminal], floods: Sequence[int]) -> VoxelTree | None:
    """Return the cheapest tree whose wires all meet in one splice; None where none is reached by all."""
    node = map_.best_site(floods)
    if not node:
        return None
    count, splice = len(terminals), map_.voxel_of(node)
    lengths = (int(map_.kernel.view(flood, map_.size, np.uint32)[node]) - 1 for flood in floods)
    cost = sum(lengths) + (count - 2) * int(map_.prices()[node])
    ways = tuple(map_.walk(flood, splice)[::-1] for flood in floods)
    return VoxelTree(tuple((i, count) for i in range(count)), ways, (splice,), map_.in_mm(cost), False)


def least_cost(
    map_: TreeMap,
    terminals: Sequence[Terminal],
    floods: Sequence[int],
    between: NDArray[np.uint32],
    known: int,
) -> tuple[int, VoxelTree | None]:
    """Return a cost, in units, that no tree over the terminals falls below, and a proved tree if one came up.

    - Going round a tree and back visits every terminal, so twice its ways are at least a shortest round, and
      that is at least n/(n − 1) of what spans the terminals. Its joints come on top.
    - An exact search in which nothing is left that costs so much is a proof that every tree costs more:
      half-way between what is known from below and above is tried, again and again.
    - A tree less the ends that lead to some terminals joins the others, so what bounds a tree of these bounds
      it, and a joint less for each. Where others may meet, at three wires or across pins that are joined
      inside, none is left out.

    Parameters
    ----------
    known
        What a tree costs.
    """
    count = len(terminals)
    some = list(range(count))
    least = _round_trip(between) + least_joints(map_, terminals, count - 2)
    if count > MOST_EXACT:
        chosen = [
            number
            for number, terminal in enumerate(terminals)
            if terminal.wires > 2 or (terminal.wires == 2 and len(terminal.voxels) > 1)
        ]
        if len(chosen) > MOST_EXACT:
            return least, None
        some = sorted(_spread_out(between, chosen, max(_BOUNDED_BY, len(chosen))))
    beside = (count - len(some)) * least_joints(map_, terminals, 1)
    apart = between[np.ix_(some, some)].copy()
    few, flooded = [terminals[number] for number in some], [floods[number] for number in some]
    most, rounds = known - beside, None
    for _ in range(_BISECTIONS):
        search = Exact(map_, few, flooded, apart, most, MOST_WORK // 4, rounds)
        if rounds is None:
            rounds, part = search.rounds, search.half_round()
        if part >= most:
            break
        limit = search.limit = (part + most) // 2
        tree = _solved(search)
        if search.gave_up:
            most = limit
        elif tree is None or map_.in_units(tree.cost_mm) > limit:
            part = limit + 1
        elif len(some) < count:
            part = map_.in_units(tree.cost_mm)
            break
        else:
            return map_.in_units(tree.cost_mm), tree
    return max(least, part + beside), None


def _round_trip(between: NDArray[np.uint32]) -> int:
    """Return the bound by going round a tree and back, from the lengths between its terminals."""
    count = len(between)
    return _spanning(between) * count // (2 * (count - 1))


def _spread_out(between: NDArray[np.uint32], chosen: Sequence[int], size: int) -> list[int]:
    """Return so many terminals, those chosen first, each next one the farthest off those before."""
    apart = between.astype(np.int64)
    found = list(chosen)
    while len(found) < size:
        off = apart[:, found].min(axis=1) if found else apart.sum(axis=1)
        off[found] = -1
        found.append(int(off.argmax()))
    return found


def _spanning(between: NDArray[np.uint32]) -> int:
    """Return the length of a shortest tree over the terminals alone (Prim)."""
    apart = between.astype(np.int64)
    inside = np.zeros(len(apart), dtype=bool)
    inside[0] = True
    total = 0
    for _ in range(len(apart) - 1):
        to = np.where(inside, np.iinfo(np.int64).max, apart[inside].min(axis=0))
        nearest = int(to.argmin())
        total += int(to[nearest])
        inside[nearest] = True
    return total


def _floods_of(map_: TreeMap, terminals: Sequence[Terminal]) -> list[int]:
    """Return labels from each terminal, as far as a shortest tree can matter.

    Leading all terminals to the splice nearest to the first one is a tree, and bounds the shortest.
    """
    goals = [terminal.voxels for terminal in terminals]
    # It goes on below; what is not final yet is no less than it will be, so the bound holds.
    first = map_.flood(goals[0], goals, to_go_on=True)
    node = map_.best_site([first])
    ways = [map_.least(first, goal) for goal in goals]
    if not node or any(way is None for way in ways):
        return [map_.flood(goal, goals, FAR) for goal in goals]
    to_splice = int(map_.kernel.view(first, map_.size, np.uint32)[node]) - 1
    splices = (len(goals) - 2) * int(map_.prices()[node])
    bound = sum(way[0] for way in ways if way) + len(goals) * to_splice + splices
    return [map_.flood(goal, goals, bound) for goal in goals]


def lengths_between(
    map_: TreeMap, terminals: Sequence[Terminal], floods: Sequence[int]
) -> NDArray[np.uint32] | None:
    """Return the lengths between terminals, or None when they do not hang together."""
    found = np.zeros((len(terminals), len(terminals)), dtype=np.uint32)
    for i, j in combinations(range(len(terminals)), 2):
        least = map_.least(floods[i], terminals[j].voxels)
        if least is None:
            return None
        found[i, j] = found[j, i] = least[0]
    return found


def _of_three(
    map_: TreeMap, terminals: Sequence[Terminal], floods: Sequence[int], between: NDArray[np.uint32]
) -> VoxelTree | None:
    """Return the shortest tree of three: by the best of all splices, or from wire to wire at a terminal."""
    found: list[tuple[int, int]] = []
    for middle in range(3):
        if terminals[middle].wires > 1:
            found.append((int(between[middle].sum()) + map_.further, middle))
    node = map_.best_site(floods)
    if node:
        labels = [int(map_.kernel.view(flood, map_.size, np.uint32)[node]) - 1 for flood in floods]
        found.append((sum(labels) + int(map_.prices()[node]), 3))
    if not found:
        return None
    cost, middle = min(found)
    if middle == 3:
        splice = map_.voxel_of(node)
        ways = tuple(map_.walk(flood, splice)[::-1] for flood in floods)
        return VoxelTree(((0, 3), (1, 3), (2, 3)), ways, (splice,), map_.in_mm(cost), True)
    edges = tuple((number, middle) for number in range(3) if number != middle)
    led = [map_.way(terminals[one], terminals[two]) for one, two in edges]
    return VoxelTree(edges, tuple(way for way in led if way is not None), (), map_.in_mm(cost), True)
