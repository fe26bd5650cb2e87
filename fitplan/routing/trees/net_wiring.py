"""The one place that says which wires a net is made of in a vehicle: a tree, home runs or a daisy chain.

Wires meet at pins that take more than one, at pins that a part joins inside (each wire at one of its own),
and in splices where these have room. The harness and the comparison of styles both ask here.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from copy import copy

import numpy as np

from fitplan.model.wiring import Allowances
from fitplan.model.wiring_facts import Trunk, Unproved
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Node, Portal, Reach, SpliceSpot
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.trees.branches import branches_of, trunk_of
from fitplan.routing.trees.branching_cost import splice_wire
from fitplan.routing.trees.chain_orders import chain_order
from fitplan.routing.trees.net_ways import NetWays
from fitplan.routing.trees.pieces import MOST_IN_SPLICE, NetEdge, at_their_pins, copper_of, one_sleeve
from fitplan.routing.trees.tree_map import CostMap, Terminal
from fitplan.routing.ways.way import Voxel


class NetWiring:
    """One net in one vehicle.

    Parameters
    ----------
    map_, ground
        The vehicle, and what trees in it are laid over (`ground_of`).
    diameter
        Of the net's wire, in mm.
    reaches
        All that may be joined.
    allowances
        What a splice and a further wire at a pin take of wire.
    others
        Splices of other nets in the vehicle.
    hurry
        Asked before each tree, with its number of ends, whether it must be found quickly and may stay
        unproved.
    bounds_later
        Whether bounds of unproved trees are left until `bound` is called.
    """

    def __init__(
        self,
        net: str,
        map_: VehicleMap,
        ground: CostMap,
        diameter: float,
        reaches: Sequence[Reach],
        allowances: Allowances,
        others: Iterable[Voxel] = (),
        hurry: Callable[[int], bool] = lambda _: False,
        bounds_later: bool = False,
    ) -> None:
        ends = [voxel for reach in reaches for voxel in reach.voxels]
        self._ways = NetWays(net, map_, ground, diameter, ends, allowances, others, hurry, bounds_later)
        self.net, self._map = net, map_
        self._splice_mm = splice_wire(allowances)

    def told_of(self, net: str, map_: VehicleMap) -> NetWiring:
        """Return the same told of a net that joins the same in an equal vehicle: what is asked is shared."""
        other = copy(self)
        other.net, other._map = net, map_
        return other

    @property
    def asked_in(self) -> str:
        """The vehicle whose map is asked; what asks there is not to be asked side by side."""
        return self._ways.vehicle

    @property
    def unproved(self) -> tuple[Unproved, ...]:
        """What is told of the trees that are not proved shortest."""
        return tuple(self._ways.unproved.values())

    def bound(self) -> None:
        """Look for the bounds that were left for later, and give the map's memory back."""
        self._ways.bound()
        self.let_go()

    @property
    def undecided(self) -> bool:
        """Whether a search for a tree ended without finding one or proving that there is none."""
        return self._ways.undecided

    def work_out_styles(self, reaches: Sequence[Reach], home: Reach | None, others: Sequence[Reach]) -> None:
        """Ask for what the other styles take, and give the map's memory back.

        Parameters
        ----------
        reaches
            All that is joined here.
        home, others
            Where home runs would lead, when that is here, and what would come from.
        """
        if len(reaches) > 2:
            self.tree(reaches)
            self.chain(reaches)
        for number, one in enumerate(reaches):
            for other in reaches[number + 1 :]:
                self._ways.way(_terminal(one), _terminal(other))
        if home is not None:
            self.home_runs(home, others)
        self.let_go(for_good=True)

    def let_go(self, *, for_good: bool = False) -> None:
        """Give the map's memory back; what takes long to find stays, unless nothing more will be asked."""
        self._ways.let_go(for_good=for_good)

    def groups(self, reaches: Sequence[Reach]) -> list[list[Reach]]:
        """Return the reaches in groups that a wire can get about in, each with the first of it in front."""
        found: list[list[Reach]] = []
        for reach in reaches:
            for group in found:
                if math.isfinite(self._ways.cost(_terminal(group[0]), _terminal(reach))):
                    group.append(reach)
                    break
            else:
                found.append([reach])
        return found

    # -- styles ------------------------------------------------------------------------------------------

    def tree(self, reaches: Sequence[Reach]) -> list[NetEdge] | str:
        """Return the pieces of a tree, or why there is none.

        Small loads of ground and supply hang off it as branches, unless splices lack the room that it takes.
        """
        branched = self._branched(reaches)
        return self.strung(reaches) if branched is None else at_their_pins(branched, self._map)

    def _branched(self, reaches: Sequence[Reach]) -> list[NetEdge] | None:
        """Return a trunk with branches; None where nothing branches off, or no splice has room for it."""
        trunk = trunk_of(reaches)
        if len(reaches) < 3 or len(trunk) in (0, len(reaches)):
            return None
        branches = self._branches(reaches)
        pieces: list[NetEdge] = []
        members: list[Sequence[Reach]] = [[reach] for reach in trunk]
        terminals = [_terminal(reach) for reach in trunk]
        for branch in branches:
            if len(branch) > 1:
                inside = self._tree(branch)
                if isinstance(inside, str):
                    return None
                pieces += inside
            nodes = [node for piece in pieces for node in (piece.start, piece.end)]
            open_ = [reach for reach in branch if nodes.count(reach.node) < reach.wires]
            if not open_:
                return None
            members.append(open_)
            terminals.append(Terminal(tuple(voxel for reach in open_ for voxel in reach.voxels), 1))
        main = self._tree_over(terminals, members)
        return None if main is None else one_sleeve(pieces + main, self._map.frame.pitch)

    def _branches(self, reaches: Sequence[Reach]) -> list[list[Reach]]:
        trunk = [_terminal(reach) for reach in trunk_of(reaches)]
        return branches_of(
            reaches,
            lambda load: self._ways.nearest(trunk, _terminal(load)),
            lambda one, other, most: self._ways.within(_terminal(one), _terminal(other), most),
        )

    def trunk(self, reaches: Sequence[Reach]) -> Trunk | None:
        """Return what the branches of a tree cost beside a shortest tree; None where nothing branches off."""
        if len(reaches) < 3 or len(trunk_of(reaches)) in (0, len(reaches)):
            return None
        branched = self._branched(reaches)
        strung = self._tree(reaches, to_compare=branched is not None)
        if isinstance(strung, str):
            return None
        pitch = self._map.frame.pitch
        copper = copper_of(strung if branched is None else branched, pitch)
        groups = self._branches(reaches)
        names = tuple(tuple(_name(reach.node).rsplit(".", 1)[0] for reach in group) for group in groups)
        return Trunk(
            self.net,
            self._map.name,
            names,
            round(copper, 2),
            round(copper_of(strung, pitch), 2),
            branched is not None,
        )

    def strung(self, reaches: Sequence[Reach]) -> list[NetEdge] | str:
        """Return the pieces of a shortest tree that may run through the pins of small loads."""
        if len(reaches) == 2:
            return self._direct(reaches[0], reaches[1])
        found = self._tree(reaches)
        return found if isinstance(found, str) else at_their_pins(found, self._map)

    def _tree(self, reaches: Sequence[Reach], *, to_compare: bool = False) -> list[NetEdge] | str:
        terminals = [_terminal(reach) for reach in reaches]
        found = self._tree_over(terminals, [[reach] for reach in reaches], to_compare=to_compare)
        return self._why(reaches) if found is None else one_sleeve(found, self._map.frame.pitch)

    def _tree_over(
        self,
        terminals: Sequence[Terminal],
        members: Sequence[Sequence[Reach]],
        *,
        to_compare: bool = False,
    ) -> list[NetEdge] | None:
        """Return the pieces of a shortest tree over terminals, each reached at any of its members."""
        key = tuple(terminals)
        if len(key) == 2:
            way = self._ways.way(key[0], key[1])
            edges: Sequence[tuple[int, int]] = ((0, 1),)
            ways, spots = ([] if way is None else [way]), []
        else:
            tree = self._ways.tree(key, to_compare=to_compare)
            if tree is None:
                return None
            edges, ways = tree.edges, list(tree.ways)
            spots = [SpliceSpot(self.net, self._map.name, voxel) for voxel in tree.splices]
        if len(ways) < len(edges):
            return None

        def node(number: int, voxel: Sequence[int]) -> Node:
            if number >= len(members):
                return spots[number - len(members)]
            at = tuple(int(c) for c in voxel)
            return next((r.node for r in members[number] if at in r.voxels), members[number][0].node)

        return [
            NetEdge(node(i, way[0]), node(j, way[-1]), way) for (i, j), way in zip(edges, ways, strict=True)
        ]

    def chain(self, reaches: Sequence[Reach]) -> list[NetEdge] | str:
        """Return the pieces of a daisy chain, or why there is none; portals are its ends.

        A pin that takes one wire is an end of the chain or hangs from it by a splice.
        """
        if len(reaches) == 2:
            return self._direct(reaches[0], reaches[1])
        terminals = [_terminal(reach) for reach in reaches]
        lengths = np.array([[self._ways.cost(a, b) for b in terminals] for a in terminals])
        if not np.isfinite(lengths).all():
            return self._why(reaches)
        inner = np.array([self._inner(reach) for reach in reaches])
        order = chain_order(lengths, inner)
        pieces: list[NetEdge] = []
        last: tuple[Node, Terminal] = (reaches[order[0]].node, terminals[order[0]])
        for place, number in enumerate(order[1:], 1):
            here = (reaches[number].node, terminals[number])
            if place == len(order) - 1 or reaches[number].wires > 1:
                found = self._piece(last, here)
                if found is None:
                    return self._why(reaches)
                pieces.append(found)
                last = here
                continue
            spot = self._ways.splice(last[1], terminals[number], terminals[order[place + 1]])
            if spot is None:
                return f"no splice has room near {_name(here[0])}, which takes one wire"
            splice = (SpliceSpot(self.net, self._map.name, spot), Terminal((spot,)))
            for other in (last, here) if last[0] != splice[0] else (here,):
                found = self._piece(other, splice)
                if found is None:
                    return self._why(reaches)
                pieces.append(found)
            last = splice
        return at_their_pins(pieces, self._map)

    def home_runs(self, home: Reach, others: Sequence[Reach]) -> list[NetEdge] | str:
        """Return a wire from each of the others to one place, or why there is none.

        Where it takes fewer wires, the last place has a splice at which the rest meet, or several in a row.
        """
        alone = len(others) if len(others) <= home.wires else max(home.wires - 1, 0)
        centre = (home.node, _terminal(home))
        far = sorted(others, key=lambda reach: -self._ways.cost(centre[1], _terminal(reach)))
        pieces: list[NetEdge | None] = [
            self._piece((reach.node, _terminal(reach)), centre) for reach in far[:alone]
        ]
        rest = far[alone:]
        last: tuple[Node, Terminal] = centre
        while rest:
            spot = self._ways.splice(last[1], apart=True)
            if spot is None:
                return f"{_name(home.node)} takes {home.wires}, and no splice has room near it"
            splice = (SpliceSpot(self.net, self._map.name, spot), Terminal((spot,)))
            pieces.append(self._piece(splice, last))
            # One place is for the wire onwards, and one for a further splice where all do not meet in this.
            here = MOST_IN_SPLICE - (1 if len(rest) < MOST_IN_SPLICE else 2)
            pieces += [self._piece((reach.node, _terminal(reach)), splice) for reach in rest[:here]]
            rest, last = rest[here:], splice
        found = [piece for piece in pieces if piece is not None]
        return self._why([home, *others]) if len(found) < len(pieces) else at_their_pins(found, self._map)

    def joined(self, groups: Sequence[Sequence[Reach]]) -> list[NetEdge] | str:
        """Return the pieces that join groups, each of which hangs together already, or why there are none.

        Wires go from pin to pin where these have places left, the nearest groups first; a splice that is
        built is opened again only where no pin has one; a new splice comes last.
        """
        left = [{reach: reach.wires for reach in group} for group in groups]
        pieces: list[NetEdge] = []
        while len(left) > 1 and sum(sum(group.values()) for group in left) >= 2 * (len(left) - 1):
            best = min(
                (
                    (again, round(self._ways.cost(one, other), 6), i, j, one, other)
                    for i, group in enumerate(left)
                    for j, further in enumerate(left)
                    if i < j
                    for again, one, other in _ways_to_join(group, further)
                ),
                default=None,
                key=lambda way: way[:4],
            )
            if best is None or math.isinf(best[1]):
                break
            _, _, i, j, one, other = best
            way = self._ways.way(one, other)
            if way is None:
                break
            start, end = (_reach_at(left[n], voxel) for n, voxel in ((i, way[0]), (j, way[-1])))
            pieces.append(NetEdge(start.node, end.node, way))
            left[i][start] -= 1
            left[j][end] -= 1
            left[i] |= {reach: places for reach, places in left.pop(j).items() if reach not in left[i]}
            left = [{reach: n for reach, n in group.items() if n > 0} for group in left]
        if len(left) < 2:
            return pieces
        if not all(left):
            return "nothing that is built of it has a place left"
        terminals = [Terminal(tuple(dict.fromkeys(v for r in group for v in r.voxels)), 1) for group in left]
        found = self._tree_over(terminals, [list(group) for group in left])
        if found is None:
            return self._why([reach for group in left for reach in group])
        return pieces + one_sleeve(found, self._map.frame.pitch)

    # -- inside ------------------------------------------------------------------------------------------

    def _direct(self, one: Reach, other: Reach) -> list[NetEdge] | str:
        piece = self._piece((one.node, _terminal(one)), (other.node, _terminal(other)))
        return self._why([one, other]) if piece is None else at_their_pins([piece], self._map)

    def _piece(self, one: tuple[Node, Terminal], other: tuple[Node, Terminal]) -> NetEdge | None:
        way = self._ways.way(one[1], other[1])
        return None if way is None else NetEdge(one[0], other[0], way)

    def _inner(self, reach: Reach) -> float:
        """Return what it costs to have this between two others in a chain."""
        if isinstance(reach.node, Portal):
            return math.inf
        return 0.0 if reach.wires > 1 else self._splice_mm

    def _why(self, reaches: Sequence[Reach]) -> str:
        first = _terminal(reaches[0])
        if any(math.isinf(self._ways.cost(first, _terminal(reach))) for reach in reaches[1:]):
            return f"no way through {self._map.name} is wide enough"
        if self.undecided:
            return f"no tree was found in {self._map.name}, and none is proved impossible"
        return f"no splice has room in {self._map.name}, and its pins take too few wires"


def _ways_to_join(
    one: Mapping[Reach, int], other: Mapping[Reach, int]
) -> Iterator[tuple[int, Terminal, Terminal]]:
    """Yield how many splices are opened again, and from where to where a wire may join two groups."""
    for near, far in itertools.product(_places(one), _places(other)):
        yield near[0] + far[0], near[1], far[1]


def _places(group: Mapping[Reach, int]) -> Iterator[tuple[int, Terminal]]:
    for again in (False, True):
        mine = [reach for reach in group if isinstance(reach.node, SpliceSpot) == again]
        if mine:
            yield int(again), Terminal(tuple(dict.fromkeys(v for reach in mine for v in reach.voxels)), 1)


def _reach_at(group: Mapping[Reach, int], voxel: Sequence[int]) -> Reach:
    at = tuple(int(c) for c in voxel)
    return next(reach for reach in group if at in reach.voxels)


def _terminal(reach: Reach) -> Terminal:
    return Terminal(reach.voxels, reach.wires)


def _name(node: Node) -> str:
    return f"{node.owner}.{node.pin}" if isinstance(node, NetEnd) else "a hole"
