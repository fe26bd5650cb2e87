"""How pieces of a net hang together, on drawn pieces without any room, beside networkx and all subsets."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import networkx as nx
import numpy as np
import pytest

from fitplan.model.nets import Net, PinRef
from fitplan.model.wired import Unreached
from fitplan.routing.harness.chains import PassedSegment, chains_of, in_running_order
from fitplan.routing.map.bundles import bundle_diameter
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Portal, Reach, Segment, SpliceSpot, lanes_of
from fitplan.routing.negotiation.kept_joinings import all_open, groups_of, joinings
from fitplan.routing.negotiation.layout import LaidSegment, Layout
from fitplan.routing.negotiation.leads_on import Goal
from fitplan.routing.negotiation.loose_ends import _pruned, without_loose_ends
from fitplan.routing.negotiation.occupancy import WireSets
from fitplan.routing.trees.branches import branches_of, trunk_of
from fitplan.routing.trees.pieces import (
    MOST_IN_SPLICE,
    SPLICE_CLEAR_MM,
    NetEdge,
    copper_of,
    joints_of,
    one_sleeve,
    pins_given,
)

VEHICLES = ("a", "b", "c", "d", "e")
NOWHERE = np.zeros((0, 3), np.int32)
SEEDS = range(15)


def pin(number: int, vehicle: str = "a", **more: Any) -> NetEnd:
    return NetEnd("n", f"part {number}", "p", vehicle, (float(number), 0.0, 0.0), "+x", **more)


def laid(vehicle: str, start: Any, end: Any) -> LaidSegment:
    return LaidSegment(Segment("n", vehicle, start, end), NOWHERE, (), NOWHERE)


def net_of(ends: list[NetEnd], style: Any = "tree") -> ResolvedNet:
    joins = tuple(PinRef(end.owner, end.pin) for end in ends)
    return ResolvedNet(Net("n", "signal", joins, style=style), tuple(ends))


# -- wires of segments ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS)
def test_segments_that_meet_at_a_portal_are_one_wire_unless_it_is_cut(seed: int) -> None:
    """Wires drawn through vehicles, taken apart, turned and shuffled, come together again."""
    rng = np.random.default_rng(seed)
    segments: list[LaidSegment] = []
    for number in range(4):
        first, last = sorted(rng.integers(0, 5, 2).tolist())
        nodes = [pin(2 * number), *(Portal("n", k, number) for k in range(first, last)), pin(2 * number + 1)]
        for place, (one, two) in enumerate(itertools.pairwise(nodes)):
            segments.append(
                laid(VEHICLES[first + place], *((one, two) if rng.random() < 0.5 else (two, one)))
            )
    segments = [segments[k] for k in rng.permutation(len(segments))]
    closed = set(rng.choice(4, 2, replace=False).tolist()) if seed % 3 else set()
    layout = Layout({}, laid=segments)
    layout.couplings = {Portal("n", k, lane): k for k in range(4) for lane in range(4)}  # type: ignore[misc]
    found = chains_of(layout, lambda ports, net: ports in closed)  # type: ignore[comparison-overlap]
    hang: nx.Graph[int] = nx.Graph()
    hang.add_nodes_from(range(len(segments)))
    for (i, one), (j, two) in itertools.combinations(enumerate(segments), 2):
        both = {one.segment.start, one.segment.end} & {two.segment.start, two.segment.end}
        if any(isinstance(node, Portal) and node.coupling not in closed for node in both):
            hang.add_edge(i, j)
    wanted = {frozenset(piece) for piece in nx.connected_components(hang)}
    number_of = {id(one): number for number, one in enumerate(segments)}
    assert {frozenset(number_of[id(link.laid)] for link in chain) for chain in found} == wanted
    assert sum(len(chain) for chain in found) == len(segments)
    assert [min(number_of[id(link.laid)] for link in chain) for chain in found] == sorted(map(min, wanted))
    for chain in found:
        assert all(one.last == two.first for one, two in itertools.pairwise(chain))
        ordered = in_running_order(chain, VEHICLES)
        assert all(one.last == two.first for one, two in itertools.pairwise(ordered))
        places = [VEHICLES.index(link.laid.segment.vehicle) for link in ordered]
        assert places == sorted(places)
        assert {id(link.laid) for link in ordered} == {id(link.laid) for link in chain}
    turned = tuple(PassedSegment(link.laid, not link.forwards) for link in reversed(found[0]))
    assert in_running_order(turned, VEHICLES)[0].first in (found[0][0].first, found[0][-1].last)


# -- loose ends ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_left_is_the_largest_set_without_a_loose_end(seed: int) -> None:
    """Of all subsets of drawn segments, the union of those in which nothing ends in a splice or a portal."""
    rng = np.random.default_rng(seed)
    spots = [SpliceSpot("n", "a", (k, 0, 0)) for k in range(3)]
    nodes: list[Any] = [*map(pin, range(4)), *spots, Portal("n", 0, 0), Portal("n", 1, 0)]
    drawn = [laid("a", *(nodes[k] for k in rng.choice(len(nodes), 2, replace=False))) for _ in range(8)]

    def is_whole(some: tuple[LaidSegment, ...]) -> bool:
        met = Counter(node for one in some for node in (one.segment.start, one.segment.end))
        return all(count > 1 for node, count in met.items() if not isinstance(node, NetEnd))

    wanted: set[int] = set()
    for count in range(len(drawn) + 1):
        for some in itertools.combinations(drawn, count):
            if is_whole(some):
                wanted |= {id(one) for one in some}
    left = _pruned(drawn)
    assert {id(one) for one in left} == wanted
    assert [id(one) for one in left] == [id(one) for one in drawn if id(one) in wanted]


@pytest.mark.parametrize("seed", SEEDS)
def test_pins_that_hang_apart_from_most_are_told_once(seed: int) -> None:
    """The piece with most pins stays, of equals that of the first pin; what was told is not told again."""
    rng = np.random.default_rng(seed)
    inside = pin(9)
    ends = [*map(pin, range(6)), pin(6, others=(inside,))]
    pieces = rng.integers(0, 3, len(ends)).tolist()
    drawn = []
    for piece in range(3):
        mine = [end for end, own in zip(ends, pieces, strict=True) if own == piece]
        for one, two in itertools.pairwise(mine):
            # A wire at a pin that is joined inside is one at the end itself.
            drawn.append(laid("a", one, inside if two.others and seed % 2 else two))
    told = [Unreached("n", "part 0", "p", "a wall", True)] if seed % 3 == 0 else []
    other = [Unreached("m", "part 1", "p", "of another net")]
    layout = Layout({}, nets=(net_of(ends),), laid=list(drawn), unreached=[*told, *other])
    without_loose_ends(layout)
    sizes = Counter(pieces)
    if not drawn:
        return
    best = max((piece for piece in range(3) if sizes[piece] > 1), key=lambda p: (sizes[p], -pieces.index(p)))
    lost = [end for end, own in zip(ends, pieces, strict=True) if own != best]
    known = {entry.owner for entry in told}
    said = layout.unreached[len(told) + 1 :]
    assert [entry.owner for entry in said] == [end.owner for end in lost if end.owner not in known]
    reason = ("a wall", True) if told else ("what leads to it found no way", False)
    assert {(entry.net, entry.reason, entry.undecided) for entry in said} <= {("n", *reason)}


# -- what is to be joined beside what stays -----------------------------------------------------------------


@dataclass
class Room:
    """A vehicle without any room: pins begin where they are, ports are named by their coupling."""

    name: str
    shut: frozenset[str] = frozenset()

    def start_at(self, end: NetEnd) -> tuple[int, int, int] | None:
        return None if end.owner in self.shut else (int(end.at[0]), 0, 0)

    def mouth(self, port: int) -> tuple[tuple[int, int, int], ...]:
        return ((100 + port, 0, 0),)


@dataclass
class Ports:
    """The ports at one coupling."""

    coupling: int

    @property
    def ahead(self) -> str:
        return VEHICLES[self.coupling]

    @property
    def behind(self) -> str:
        return VEHICLES[self.coupling + 1]

    def port_in(self, map_: Room) -> int:
        return self.coupling


@dataclass
class Passes:
    """Gives a lane over every coupling, and counts them."""

    names: list[str] = field(default_factory=lambda: list(VEHICLES))
    couplings: dict[Portal, Ports] = field(default_factory=dict)

    def portals(
        self, net: str, diameter: float, first: int, last: int, goals: Mapping[str, Sequence[Goal]]
    ) -> dict[int, Portal]:
        given = {k: Portal(net, k, 50 + len(self.couplings) + k) for k in range(first, last)}
        self.couplings |= {portal: Ports(k) for k, portal in given.items()}
        return given


MAPS: Any = {name: Room(name) for name in VEHICLES}


@pytest.mark.parametrize("seed", range(25))
def test_pieces_that_stay_are_joined_over_the_fewest_couplings(seed: int) -> None:
    """As many lanes as a shortest tree over the pieces asks for (networkx), and all hang together then."""
    rng = np.random.default_rng(seed)
    ends = [pin(k, VEHICLES[rng.integers(5)], wires=2) for k in range(6)]
    stay = []
    for one, two in zip(ends[:2], ends[2:4], strict=True):
        first, last = sorted((one, two), key=lambda end: VEHICLES.index(end.vehicle))
        a, b = VEHICLES.index(first.vehicle), VEHICLES.index(last.vehicle)
        nodes = [first, *(Portal("n", k, ends.index(one)) for k in range(a, b)), last]
        stay += [
            laid(VEHICLES[a + place], *pair).segment for place, pair in enumerate(itertools.pairwise(nodes))
        ]
    passes: Any = Passes()
    passes.couplings = {
        node: Ports(node.coupling) for s in stay for node in (s.start, s.end) if isinstance(node, Portal)
    }
    before = len(passes.couplings)
    net = net_of(ends)
    groups = groups_of(net, stay, MAPS, passes.couplings)
    assert len(groups) == 4
    assert all_open(net, stay, MAPS, passes.couplings)
    found = joinings(net, stay, passes, MAPS, 1.0)
    where = [{VEHICLES.index(name) for name, _ in group} for group in groups]
    apart: nx.Graph[int] = nx.Graph()
    for i, j in itertools.combinations(range(4), 2):
        apart.add_edge(i, j, weight=min(abs(a - b) for a in where[i] for b in where[j]))
    lanes = len(passes.couplings) - before
    assert lanes == nx.minimum_spanning_tree(apart).size(weight="weight")
    hang: nx.Graph[Any] = nx.Graph()
    for number, group in enumerate(groups):
        hang.add_edges_from((number, (name, reach.node)) for name, reach in group)
    for joining in found:
        assert len(joining.groups) > 1
        together = [(joining.vehicle, reach.node) for group in joining.groups for reach in group]
        hang.add_edges_from(itertools.pairwise(together))
        for _, node in together:
            if isinstance(node, Portal) and node.lane >= 50:
                hang.add_edge((joining.vehicle, node), node)
    assert nx.is_connected(hang)
    assert [joining.vehicle for joining in found] == sorted({joining.vehicle for joining in found})


def test_places_that_are_taken_or_shut_take_no_more_wires() -> None:
    """Of each pin and splice as many wires as are left; half of a coupling goes on from the other side."""
    spot = SpliceSpot("n", "a", (5, 5, 5))
    more = pin(8, wires=1)
    ends = [pin(0, wires=1), pin(1, wires=3), pin(2, wires=2, others=(more,)), pin(3, "b")]
    stay = [laid("a", one, spot).segment for one in ends[:3]]
    (one, two) = groups_of(net_of(ends), stay, MAPS, {})
    lone = (one, two) if len(one) == 1 else (two, one)
    assert lone[0] == (("b", Reach(ends[3], ((3, 0, 0),), ends[3].wires)),)
    left = {
        reach.node.owner if isinstance(reach.node, NetEnd) else "splice": reach.wires for _, reach in lone[1]
    }
    assert left == {"part 1": 2, "part 2": 1, "part 8": 1, "splice": MOST_IN_SPLICE - 3}
    full = [*stay, *(laid("a", pin(20 + k), spot).segment for k in range(MOST_IN_SPLICE - 3))]
    ends += [pin(20 + k, wires=1) for k in range(MOST_IN_SPLICE - 3)]
    groups = groups_of(net_of(ends), full, MAPS, {})
    assert not any(isinstance(reach.node, SpliceSpot) for group in groups for _, reach in group)
    # One piece more whose only pin is taken: it has no place left.
    taken = [laid("c", pin(30, "c", wires=1), pin(31, "c", wires=1)).segment]
    ends += [pin(30, "c", wires=1), pin(31, "c", wires=1)]
    assert not all_open(net_of(ends), [*full, *taken], MAPS, {})
    assert all_open(net_of(ends[-2:]), taken, MAPS, {})
    shut: Any = {**MAPS, "b": Room("b", frozenset({"part 3"}))}
    assert () in groups_of(net_of(ends), full, shut, {})
    for vehicle, beyond in (("a", "b"), ("b", "a")):
        portal = Portal("n", 0, 1)
        half = [laid(vehicle, pin(0, vehicle, wires=1), portal).segment]
        ports: Any = {portal: Ports(0)}
        ((entry,),) = groups_of(net_of([pin(0, vehicle, wires=1)]), half, MAPS, ports)
        assert entry == (beyond, Reach(portal, MAPS[beyond].mouth(0)))


# -- trunk and branches, lanes -------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS)
def test_loads_of_one_kind_are_chained_where_they_are_nearer_than_the_trunk(seed: int) -> None:
    """Components of the graph of pairs that may be chained (networkx)."""
    rng = np.random.default_rng(seed)
    kinds = ["", "", *rng.choice(["lamp", "ranger"], 6).tolist()]
    at = rng.integers(0, 12, len(kinds)).tolist()
    reaches = [
        Reach(pin(k, load=kind), ((k, 0, 0),), int(rng.integers(1, 3))) for k, kind in enumerate(kinds)
    ]

    def cost(one: Reach, two: Reach) -> float:
        return float(abs(at[reaches.index(one)] - at[reaches.index(two)]))

    assert trunk_of(reaches) == reaches[:2]
    near = {reach: min(cost(reach, trunk) for trunk in reaches[:2]) for reach in reaches[2:]}
    pairs: nx.Graph[Reach] = nx.Graph()
    pairs.add_nodes_from(reaches[2:])
    for one, two in itertools.combinations(reaches[2:], 2):
        same = kinds[reaches.index(one)] == kinds[reaches.index(two)]
        if same and one.wires > 1 and two.wires > 1 and cost(one, two) <= min(near[one], near[two]):
            pairs.add_edge(one, two)
    found = branches_of(reaches, near.__getitem__, lambda one, two, most: cost(one, two) <= most)
    assert {frozenset(group) for group in found} == {frozenset(p) for p in nx.connected_components(pairs)}
    assert sum(map(len, found)) == 6


def test_pieces_of_a_net_along_the_train() -> None:
    """A tree is one piece from its first vehicle to its last; home runs are one for each pin but the home."""
    order = {name: place for place, name in enumerate(VEHICLES)}
    ends = [pin(0, "d", wires=1), pin(1, "b", wires=2), pin(2, "c", wires=1)]
    assert lanes_of(net_of(ends), order) == [(1, 3, ends)]
    assert lanes_of(net_of(ends, "chain"), order) == [(1, 3, ends)]
    assert lanes_of(net_of(ends[:1]), order) == []
    # The first that takes a wire from each other is the home, else the first; a board goes before.
    assert lanes_of(net_of(ends, "home-run"), order) == [
        (1, 3, [ends[1], ends[0]]),
        (1, 2, [ends[1], ends[2]]),
    ]
    few = [ends[0], ends[2], pin(3, "a", wires=1)]
    assert [group[0] for _, _, group in lanes_of(net_of(few, "home-run"), order)] == [few[0], few[0]]
    board = [*ends, pin(4, "e", wires=1, board=True)]
    assert [group[0] for _, _, group in lanes_of(net_of(board, "home-run"), order)] == [board[3]] * 3


# -- what goes through a voxel, and pieces of wire -----------------------------------------------------------


@pytest.mark.parametrize("seed", range(5))
def test_sets_of_wires_are_counted_voxel_by_voxel(seed: int) -> None:
    """Wires put in and taken out at random, beside a counter for each voxel."""
    rng = np.random.default_rng(seed)
    diameters = (1.0, 1.6, 0.9)
    sets = WireSets(diameters)
    members = np.zeros(6, np.int32)
    counted = [Counter[int]() for _ in range(6)]
    for _ in range(25):
        kind = int(rng.integers(3))
        more = rng.random() < 0.65
        at = np.flatnonzero(rng.random(6) < 0.5)
        at = at if more else np.array([k for k in at if counted[k][kind]], dtype=int)
        if not len(at):
            continue
        members[at] = sets.changed(members[at], kind, 1 if more else -1)
        for k in at:
            counted[k][kind] += 1 if more else -1
        wanted = [bundle_diameter([diameters[k] for k in count.elements()]) for count in counted]
        assert sets.thickness(members) == pytest.approx(wanted)
    with pytest.raises(ValueError, match="never was"):
        sets.changed(np.zeros(1, np.int32), 0, -1)


@pytest.mark.parametrize("seed", SEEDS)
def test_wires_are_given_to_joined_pins_so_that_they_are_led_straight(seed: int) -> None:
    """As short together as the best of all ways to give them out."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 40, (4, 3))
    pins = [
        NetEnd("n", "board", f"G{k}", "a", tuple(rng.uniform(0, 40, 3).tolist()), "+x", wires=w)
        for k, w in enumerate((1, 2, 1))
    ]
    end = NetEnd(**{**pins[0].__dict__, "others": tuple(pins[1:])})
    assert end.places == 4

    def length(given: list[NetEnd]) -> float:
        return sum(float(np.linalg.norm(p - np.array(one.at))) for p, one in zip(points, given, strict=True))

    found = pins_given(end, list(points))
    assert Counter(one.pin for one in found) == Counter({"G0": 1, "G1": 2, "G2": 1})
    every = [list(order) for order in itertools.permutations([pins[0], pins[1], pins[1], pins[2]])]
    assert length(found) == pytest.approx(min(map(length, every)), abs=0.01)
    # More wires than places: in turn.
    assert [one.pin for one in pins_given(end, [*points, points[0]])] == ["G0", "G1", "G2", "G0", "G1"]


def edge(start: Any, end: Any, steps: int) -> NetEdge:
    return NetEdge(start, end, np.array([(k, 0, 0) for k in range(steps + 1)], np.int32))


def test_two_splices_nearer_than_their_sleeves_are_one() -> None:
    """Just nearer they are one, as far off they stay; not where one sleeve would hold more than it can."""
    one, two = SpliceSpot("n", "a", (0, 0, 0)), SpliceSpot("n", "a", (9, 0, 0))
    ends = [edge(pin(k), one if k < 2 else two, 30 + k) for k in range(4)]
    far = math.ceil(2 * SPLICE_CLEAR_MM)
    apart = [*ends, edge(one, two, far)]
    assert one_sleeve(apart, 1.0) == apart
    merged = one_sleeve([*ends, edge(one, two, far - 1)], 1.0)
    assert [(piece.start, piece.end) for piece in merged] == [(pin(k), one) for k in range(4)]
    assert [len(piece.voxels) for piece in merged] == [len(piece.voxels) for piece in ends]
    assert joints_of(merged) == 5
    assert joints_of([*ends, edge(one, two, far)]) == 6
    assert copper_of(merged, 1.0) == pytest.approx(30 + 31 + 32 + 33)
    assert copper_of(merged, 0.5) == pytest.approx(copper_of(merged, 1.0) / 2)
    for count in (MOST_IN_SPLICE, MOST_IN_SPLICE + 1):
        many = [edge(pin(k), one if k < 2 else two, 30) for k in range(count)]
        left = one_sleeve([*many, edge(one, two, 1)], 1.0)
        assert len(left) == (count if count == MOST_IN_SPLICE else count + 1)
