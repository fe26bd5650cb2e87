"""Which segments the nets of one vehicle are made of, and what cannot be joined there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from fitplan.budget import Budget, Stage
from fitplan.model.wired import Unreached
from fitplan.model.wiring import Wiring
from fitplan.model.wiring_facts import Shortage, Trunk, Unproved
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Node, Portal, Reach, Segment, SpliceSpot, home_of
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.trees.branching_cost import ground_of
from fitplan.routing.trees.net_wiring import NetWiring
from fitplan.routing.trees.pieces import NetEdge
from fitplan.routing.trees.tree_map import CostMap
from fitplan.routing.trees.voxel_trees import PROVED_AT_ONCE
from fitplan.routing.ways.way import Voxel


@dataclass(frozen=True)
class NetTask:
    """A net in a vehicle: what is joined there, lane by lane.

    ``groups``: what hangs together already, where a part of the net is built; these are joined instead.
    """

    net: ResolvedNet
    lanes: list[list[Reach]]
    groups: tuple[tuple[Reach, ...], ...] = ()


@dataclass(frozen=True)
class StyleQuestion:
    """What other ways of joining a net in a vehicle would take: asked of the layout that is kept alone.

    Attributes
    ----------
    joined
        What a tree joins here; empty for another style.
    every, home, others
        For `NetWiring.work_out_styles`.
    """

    vehicle: str
    joiner: NetWiring
    joined: tuple[Reach, ...]
    every: tuple[Reach, ...]
    home: Reach | None
    others: tuple[Reach, ...]

    def ask(self) -> Trunk | None:
        """Have the joiner work out all styles; return what the branches of a tree cost."""
        trunk = self.joiner.trunk(self.joined)
        self.joiner.work_out_styles(self.every, self.home, self.others)
        return trunk


@dataclass
class WiringNotes:
    """What is told of a vehicle's wiring beside the ways themselves."""

    vehicle: str
    budget: Budget
    ports: Mapping[Portal, str] = field(default_factory=dict)
    """Which port of the vehicle each portal passes."""
    hurried: bool = False
    """Whether wires that are only tried gave up early."""
    unreached: list[Unreached] = field(default_factory=list)
    shortages: list[Shortage] = field(default_factory=list)
    questions: list[StyleQuestion] = field(default_factory=list)
    unproved: list[Unproved] = field(default_factory=list)
    cut: set[Stage] = field(default_factory=set)

    def over(self, stage: Stage) -> bool:
        """Return whether a stage must be over by now; that it was cut is noted."""
        if self.budget.over(stage):
            self.cut.add(stage)
            return True
        return False

    def hurries(self, ends: int) -> bool:
        """Return whether a tree of so many ends must be found quickly and may stay unproved.

        Small ones never: quick trees stand in the way of other wires, which takes many times what they save.
        """
        return ends > PROVED_AT_ONCE and self.over("proofs of trees")

    def lose(self, net: str, nodes: Sequence[Node], reason: str, undecided: bool = False) -> None:
        """Note that a net reaches none of these nodes; the last pin among them is named, or else the port."""
        ends = [(node.owner, node.pin) for node in nodes if isinstance(node, NetEnd)]
        ports = [(self.vehicle, self.ports[node]) for node in nodes if isinstance(node, Portal)]
        owner, pin = [(self.vehicle, ""), *ports, *ends][-1]
        self.unreached.append(Unreached(net, owner, pin, reason, undecided))

    def forget(self) -> None:
        """Take back all but which stages were cut."""
        self.unreached, self.shortages, self.questions, self.unproved = [], [], [], []


@dataclass
class NetJoining:
    """Joins nets in one vehicle, one after the other; splices of one net are kept in mind for the next.

    Parameters
    ----------
    map, order
        The vehicle's map, and the number of each vehicle in the train.
    notes
        What cannot be joined, and what is not proved, is written down here.
    bounds_later
        Whether bounds of unproved trees are left until `bound_trees` is called.
    """

    map: VehicleMap
    order: Mapping[str, int]
    diameters: Mapping[str, float]
    wiring: Wiring
    notes: WiringNotes
    joiners: dict[str, NetWiring] = field(default_factory=dict)
    ground: CostMap | None = None
    spots: list[Voxel] = field(default_factory=list)
    bounds_later: bool = False
    laid_by: list[NetWiring] = field(default_factory=list)
    """Joiners whose trees are laid: what they have not proved is told."""

    def bound_trees(self) -> None:
        """Look for the bounds of unproved trees that were left for later, and note them."""
        for joiner in self.laid_by:
            if joiner.unproved:
                joiner.bound()
        self.notes.unproved = [one for joiner in self.laid_by for one in joiner.unproved]

    def keep_spot(self, node: Node) -> None:
        """Keep in mind where a splice is."""
        if isinstance(node, SpliceSpot) and node.voxel not in self.spots:
            self.spots.append(node.voxel)

    def segments_of(self, task: NetTask) -> list[Segment]:
        """Return the segments of a net; a reason why there are none is noted."""
        net, lanes = task.net, task.lanes
        name = net.net.name
        if task.groups:
            return self._joined_to_built(name, task.groups)
        home = home_of(net) if net.net.style == "home-run" else None
        if home is not None and home.vehicle != self.notes.vehicle:
            home = None  # what leads to it passes
        # Of a net of two ends three meet here where its conductors turn back at a coupling.
        if all(len(one) == 2 for one in lanes) and (home is None or len(net.ends) < 3):
            # Of pins that are joined inside the first serves: nothing else wants one of them.
            return [
                Segment(name, self.notes.vehicle, *(_first_pin(reach.node) for reach in pair))
                for pair in lanes
            ]
        joiner = self._joiner(name, lanes)
        if not self.wiring.solder and home is None:
            # Without an iron nets branch at pins, as far as these suffice; else it is told what is soldered.
            pinned = self._joiner(name, lanes, splices=False)
            if all(isinstance(pinned.tree(reaches), list) for reaches in lanes):
                joiner = pinned
            else:
                self.joiners[name] = joiner
        if home is not None:
            centre = next(r for reaches in lanes for r in reaches if r.node == home)
            far = [r for reaches in lanes for r in reaches if r.node != home]
            others, found = far, joiner.home_runs(centre, far)
            if isinstance(found, str):
                others = [r for r in self._reached(joiner, name, [centre, *far]) if r != centre]
                found = joiner.home_runs(centre, others)
            if len(others) > home.places:
                self.notes.shortages.append(
                    Shortage(
                        name, home.owner, home.pin, self.notes.vehicle, len(others), home.places, home.board
                    )
                )
        else:
            found, reaches = [], list[Reach]()
            for number, lane in enumerate(lanes):
                laid, pieces = self._laid(joiner, net, lane)
                reaches = reaches if number else laid
                if isinstance(pieces, str):
                    self.notes.lose(name, [r.node for r in lane], pieces, joiner.undecided)
                else:
                    found += pieces
            self.laid_by.append(joiner)
            self.notes.unproved.extend(joiner.unproved)
        every, centre_here, others = self._for_other_styles(net, lanes)
        joined = tuple(reaches) if net.net.style == "tree" else ()
        question = StyleQuestion(self.notes.vehicle, joiner, joined, tuple(every), centre_here, tuple(others))
        if home is None:
            self.notes.questions.append(question)
            joiner.let_go()
        elif self.notes.over("styles of wiring"):
            joiner.let_go()
        else:  # splices of home runs keep others off, as long as the joiner's map is there
            question.ask()
        if isinstance(found, str):
            self.notes.lose(name, [r.node for reaches in lanes for r in reaches], found, joiner.undecided)
            return []
        return self._segments(name, found)

    def _laid(
        self, joiner: NetWiring, net: ResolvedNet, lane: Sequence[Reach]
    ) -> tuple[list[Reach], list[NetEdge] | str]:
        """Return the pieces that join a list, or why none do, and what of the list they are to join."""
        lay = joiner.chain if net.net.style == "chain" else joiner.tree
        reaches, found = list(lane), lay(lane)
        if isinstance(found, str):
            reaches = self._reached(joiner, net.net.name, lane)
            found = lay(reaches) if len(reaches) > 1 else []
        # Where splices lack room, a net does with fewer pins; the last named ones are left out first.
        for left_out in [r for r in reversed(reaches) if isinstance(r.node, NetEnd)]:
            if not isinstance(found, str) or len(reaches) < 3:
                break
            reaches = [r for r in reaches if r != left_out]
            self.notes.lose(net.net.name, [left_out.node], found, joiner.undecided)
            found = lay(reaches)
        return reaches, found

    def _joined_to_built(self, net: str, groups: Sequence[Sequence[Reach]]) -> list[Segment]:
        """Return the segments that join what hangs together already."""
        joiner = self._joiner(net, [list(group) for group in groups])
        found = joiner.joined(groups)
        joiner.let_go()
        if isinstance(found, str):
            self.notes.lose(net, [reach.node for group in groups for reach in group], found, joiner.undecided)
            return []
        return self._segments(net, found)

    def _reached(self, joiner: NetWiring, net: str, reaches: Sequence[Reach]) -> list[Reach]:
        """Return the largest group of what can be joined; the rest is lost."""
        groups = joiner.groups(reaches)
        main = max(groups, key=len)
        for reach in reaches:
            if reach not in main:
                self.notes.lose(
                    net, [reach.node], f"no way through {self.notes.vehicle} to it is wide enough"
                )
        return main

    def _for_other_styles(
        self, net: ResolvedNet, lanes: Sequence[Sequence[Reach]]
    ) -> tuple[list[Reach], Reach | None, list[Reach]]:
        """Return what a tree or chain would join here, and what home runs would, if they led here."""
        by_node = {reach.node: reach for reaches in lanes for reach in reaches}
        ends = [by_node[end] for end in net.ends if end in by_node]
        ports: dict[int, Reach] = {}
        for node, reach in by_node.items():
            if isinstance(node, Portal):
                ports.setdefault(node.coupling, reach)
        every = [*ends, *(ports[coupling] for coupling in sorted(ports))]
        home = home_of(net)
        if home.vehicle != self.notes.vehicle:
            return every, None, []
        here = self.order[self.notes.vehicle]
        others = [reach for reach in ends if reach.node != home]
        for end in net.ends:
            coupling = here - 1 if self.order[end.vehicle] < here else here
            if end.vehicle != self.notes.vehicle and coupling in ports:
                others.append(ports[coupling])
        return every, by_node[home], others

    def _joiner(self, net: str, lanes: list[list[Reach]], *, splices: bool = True) -> NetWiring:
        every = list(dict.fromkeys(reach for reaches in lanes for reach in reaches))
        self.ground = self.ground or ground_of(self.map, self.wiring.allowances)
        joiner = NetWiring(
            net,
            self.map,
            self.ground if splices else self.ground.without_splices(),
            self.diameters[net],
            every,
            self.wiring.allowances,
            self.spots,
            hurry=self.notes.hurries,
            bounds_later=self.bounds_later,
        )
        self.joiners[net] = joiner
        return joiner

    def _segments(self, net: str, pieces: Sequence[NetEdge]) -> list[Segment]:
        for piece in pieces:
            for node in (piece.start, piece.end):
                self.keep_spot(node)
        return [Segment(net, self.notes.vehicle, piece.start, piece.end) for piece in pieces]


def _first_pin(node: Node) -> Node:
    return node.pins[0] if isinstance(node, NetEnd) else node
