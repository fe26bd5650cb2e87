"""Shortest trees over the free voxels of one vehicle: where the wires of a net branch.

A tree branches in a splice, where one may be, or at a terminal that takes more than one wire. Up to
`MOST_EXACT` terminals the tree is a shortest one over all voxels, unless that takes more than `MOST_WORK`:
labels for sets of terminals are handed from voxel to voxel and joined at splices (Dreyfus and Wagner 1971;
Erickson, Monma and Veinott 1987; from memory, not confirmed), and what cannot be part of a tree as short as
the one found greedily is left out. Otherwise the greedy tree is compared with a shortest one over the
terminals and some sites for splices (`fitplan.routing.trees.steiner`), and a lower bound says how much it may
be too dear: the most for which an exact search shows that no tree is so cheap.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.trees.pieces import MOST_IN_SPLICE
from fitplan.routing.trees.steiner import steiner_tree
from fitplan.routing.trees.tree_map import FAR, Terminal, TreeMap, TreeUndecidedError, VoxelTree
from fitplan.routing.trees.tree_search import Exact, Greedy, least_joints

MOST_EXACT = 12
"""Up to so many terminals the tree is exact over all voxels where the work allows; it grows with each."""
GREEDY_EXACT = 8
"""Beyond so many a better tree than the greedy one is looked for first, so that more can be left out; up to
as many only where a fourth of the work does not do."""
MOST_WORK = 8_000_000
"""Voxels that the exact search looks at before it gives up: about a second."""
_BISECTIONS = 4
"""So often a bound is looked for between what is known and the tree, each time with a quarter of the work."""
_SITES = 12
_PARTS = 400
"""So many parts a search over sites looks at; then the best so far is taken."""
_BOUNDED_BY = 10
"""So many terminals, the farthest apart, bound a tree of more than `MOST_EXACT`."""


def shortest_tree(
    map_: TreeMap, terminals: Sequence[Terminal], *, quickly: bool = False, to_compare: bool = False
) -> VoxelTree | None:
    """Return a tree that joins all terminals, or None when there is none.

    Parameters
    ----------
    quickly
        Take the greedy tree when there is one, with the simplest bound.
    to_compare
        Nothing is laid by it: beyond `GREEDY_EXACT` terminals neither proof nor bound is looked for.

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
        least = map_.in_mm(_round_trip(between))
        return replace(tree, least_mm=min(least, tree.cost_mm))
    star = _star(map_, terminals, floods) if tree is None else None
    tree = tree or star
    if len(terminals) <= GREEDY_EXACT:
        found, ended = _exact(map_, terminals, floods, between, tree, MOST_WORK // 4)
        if found is not None or (ended and tree is None):
            return found
    tree = _over_sites(map_, terminals, floods, between, tree)
    if to_compare and tree not in (None, star) and len(terminals) > GREEDY_EXACT:
        return tree
    if len(terminals) <= MOST_EXACT:
        found, ended = _exact(map_, terminals, floods, between, tree, MOST_WORK)
        if found is not None or (ended and tree is None):
            return found
    if tree is None or (tree is star and len(terminals) > MOST_IN_SPLICE):
        raise TreeUndecidedError(f"no tree over {len(terminals)} ends was found")
    return _with_bound(map_, terminals, floods, between, tree)


def _exact(
    map_: TreeMap,
    terminals: Sequence[Terminal],
    floods: Sequence[int],
    between: NDArray[np.uint32],
    tree: VoxelTree | None,
    work: int,
) -> tuple[VoxelTree | None, bool]:
    """Return a shortest tree, and whether the search came to its end within the work.

    The cheaper the tree that is known, the more is left out; without one it looks at everything.
    """
    limit = FAR // 4 if tree is None else map_.in_units(tree.cost_mm) + 1
    search = Exact(map_, terminals, floods, between, limit, work)
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
    first = map_.flood(goals[0], goals)
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


def _over_sites(
    map_: TreeMap,
    terminals: Sequence[Terminal],
    floods: Sequence[int],
    between: NDArray[np.uint32],
    greedy: VoxelTree | None,
) -> VoxelTree | None:
    """Return the cheaper of the greedy tree and a shortest one over terminals and some sites."""
    near = np.argsort(between, axis=1)[:, :4].tolist()
    triples = {tuple(sorted(three)) for row in near for three in combinations(row, 3)}
    sites = [map_.best_site([floods[i] for i in three]) for three in sorted(triples)]
    votes = Counter(map_.voxel_of(site) for site in sites if site)
    chosen = sorted(votes, key=lambda site: (-votes[site], site))[:_SITES]
    nodes = [*terminals, *(Terminal((site,), len(terminals)) for site in chosen)]
    goals = [node.voxels for node in nodes]
    known = [map_.flood(node.voxels, goals) for node in nodes]
    every = lengths_between(map_, nodes, known)
    if every is None:
        return greedy
    found = _shortest_over(map_, nodes, every, len(terminals))
    if greedy is not None and (found is None or greedy.cost_mm <= found.cost_mm):
        return greedy
    return found


def _shortest_over(
    map_: TreeMap, nodes: Sequence[Terminal], between: NDArray[np.uint32], terminals: int
) -> VoxelTree | None:
    """Return a shortest tree over given nodes; terminals are its leaves, and sites cost as splices do."""
    prices = map_.prices()
    site = [int(prices[map_.node_of(node.voxels[0])]) for node in nodes]
    # A third of a splice's cost lies on each way to it; a leaf weighs so much that no second way to it pays.
    leaf = float(between.sum()) + 1.0
    edges = []
    for i, j in combinations(range(len(nodes)), 2):
        if j < terminals:
            continue
        extra = site[j] / 3 + (leaf if i < terminals else site[i] / 3)
        edges.append((i, j, float(between[i, j]) + extra))
    found = steiner_tree(edges, range(terminals), most_parts=_PARTS)
    links = [list(edges[index][:2]) for index in found.edges]
    for number in range(terminals, len(nodes)):
        own = [link for link in links if number in link]
        if len(own) == 2:
            one, two = (next(end for end in link if end != number) for link in own)
            links = [link for link in links if link not in own] + [[one, two]]
    ends = [end for link in links for end in link]
    if any(ends.count(number) != 1 for number in range(terminals)):
        return None
    kept = sorted({end for end in ends if end >= terminals})
    names = {old: terminals + new for new, old in enumerate(kept)}
    cost = sum(int(between[i, j]) for i, j in links) + sum((ends.count(n) - 2) * site[n] for n in kept)
    ways = [map_.way(nodes[i], nodes[j]) for i, j in links]
    return VoxelTree(
        tuple((names.get(i, i), names.get(j, j)) for i, j in links),
        tuple(way for way in ways if way is not None),
        tuple(nodes[number].voxels[0] for number in kept),
        map_.in_mm(cost),
        False,
    )
