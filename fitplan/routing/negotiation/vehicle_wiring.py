"""How one vehicle is wired: nets joined, ways negotiated and pulled taut, sharp corners avoided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fitplan.budget import LATE, UNHURRIED, Budget
from fitplan.kernels import give_back
from fitplan.lattice.clear_radius import roomy
from fitplan.model.solids import Box, Vec
from fitplan.model.wired import Unreached
from fitplan.model.wiring import Wiring
from fitplan.model.wiring_facts import HOOK_UP_DIAMETERS
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.narrow_places import Run
from fitplan.routing.map.topology import Node, Portal, Segment, SpliceSpot
from fitplan.routing.map.vehicle_map import NEAR_ENDS
from fitplan.routing.negotiation.detours import (
    TOLD_MM,
    ShortestAlone,
    detour_of,
    liking,
    short_ways,
)
from fitplan.routing.negotiation.kept_wires import KeptSegment
from fitplan.routing.negotiation.laid_segments import LaidSegments
from fitplan.routing.negotiation.layout import LaidDetour, LaidSegment, Layout, Pulled, Squeeze
from fitplan.routing.negotiation.negotiate import negotiate
from fitplan.routing.negotiation.negotiated import Negotiation, NegotiationSettings
from fitplan.routing.negotiation.net_joining import NetJoining, NetTask, WiringNotes
from fitplan.routing.negotiation.pulled import Puller
from fitplan.routing.negotiation.said_conflicts import said
from fitplan.routing.negotiation.squeezed import squeeze_of
from fitplan.routing.ways.bend_room import sharp_corners
from fitplan.routing.ways.way import Voxel, Way

GREED = 1.4
"""How much dearer than the cheapest a way may be: on the examples the taut lengths differ by 0.1 %."""
USUAL = NegotiationSettings(near_ends=NEAR_ENDS, greed=GREED, work=60e6)
"""What is kept gives up after four times what a try does: hidden trains settled what they did within 7
million voxels, and one that no round could settle looked at 137 million, two minutes each time."""
TRIED = 15e6
"""A try gives up after so much work, about four seconds: other places may take a tenth of that."""
BEND_ROUNDS = 3
"""So often ways with a sharp corner are laid again round it."""
TO_BEND = replace(USUAL, rounds=3, work=8e6)
"""Then others give way less long: in five examples and two long trains what helped was settled in one round,
and one of 89 wires asked 70 s in 14 rounds for nothing."""
BEND_REACH = 8.0
"""Within so many diameters of a sharp corner a wire keeps off the walls."""
NOWHERE: NDArray[np.int32] = np.zeros((0, 3), dtype=np.int32)
_BY_ID = ("pulled", "detours", "built")
_DEARER = 20.0
"""A place where a corner had no room costs so many times more, from round to round."""


@dataclass
class VehicleRouting:
    """One vehicle at work; `run` fills what comes of it and may be called in a thread of its own.

    Parameters
    ----------
    layout
        Its maps, images and couplings are read, nothing is changed.
    kept
        Segments of wires that are built and stay where they are.
    trying
        Whether it is tried only how the wires run: bounds of unproved trees and comparisons with shortest
        ways are left to `finish`, which is asked of what is kept.
    """

    layout: Layout
    vehicle: str
    tasks: Sequence[NetTask]
    diameters: Mapping[str, float]
    wiring: Wiring
    budget: Budget = UNHURRIED
    laid: list[LaidSegment] = field(default_factory=list)
    pulled: dict[int, Pulled] = field(default_factory=dict)
    detours: dict[int, LaidDetour] = field(default_factory=dict)
    squeezes: list[Squeeze] = field(default_factory=list)
    kept: tuple[KeptSegment, ...] = ()
    built: dict[int, int] = field(default_factory=dict)
    """Numbers of the wires that stay, by ``id`` of the laid segment."""
    trying: bool = False
    gave_up: bool = False
    """Whether there was too little memory."""

    @property
    def cut_short(self) -> bool:
        """Whether more might be found with more time or memory."""
        return self.gave_up or bool(self.notes.cut)

    @property
    def can_be_finished(self) -> bool:
        """Whether a try holds all that `finish` goes on from."""
        return self._now is not None and not self.notes.hurried

    def __post_init__(self) -> None:
        """Take the vehicle's map."""
        self.map = self.layout.maps[self.vehicle]
        self.puller = Puller(self.map)
        ports = self.layout.ports_of(self.vehicle)
        self.notes = WiringNotes(self.vehicle, self.budget, ports)
        self._now: tuple[list[Segment], LaidSegments, int] | None = None
        self.joining = self._from_here()
        self._ways_kept = [one.way(self.map) for one in self.kept]
        for one in self.kept:
            for node in (one.segment.start, one.segment.end):
                self.joining.keep_spot(node)

    def __getstate__(self) -> dict[str, object]:
        """Carry what is known by ``id`` to another process by number."""
        number = {id(one): n for n, one in enumerate(self.laid)}
        known = {name: getattr(self, name) for name in _BY_ID}
        told = {name: {number[key]: one for key, one in own.items()} for name, own in known.items()}
        return {**self.__dict__, **told}

    def __setstate__(self, state: dict[str, object]) -> None:
        """Know it by ``id`` again."""
        self.__dict__.update(state)
        for name in _BY_ID:
            own = self.__dict__[name]
            self.__dict__[name] = {id(self.laid[n]): one for n, one in own.items()}

    def _from_here(self) -> NetJoining:
        order = {name: number for number, name in enumerate(self.layout.maps)}
        return NetJoining(self.map, order, self.diameters, self.wiring, self.notes, bounds_later=self.trying)

    def run(self) -> VehicleRouting:
        """Wire the vehicle and return itself; without memory for the searches nothing is laid or decided.

        Nets whose turn comes after the deadline are not decided.
        """
        try:
            segments = [one.segment for one in self.kept]
            for task in self.tasks:
                if self.notes.over("ways of wires"):
                    self._leave(task, f"{LATE} before its wires were laid")
                else:
                    segments += self.joining.segments_of(task)
            give_back("joining")
            if segments:
                laid = self._with_room_to_bend(segments)
                if self.trying:
                    self._now = (segments, laid, len(self.notes.unreached))
                self._take(segments, laid if self.trying else self._shortened(segments, laid))
        except MemoryError as error:
            self._give_up(str(error))
        return self

    def finish(self) -> VehicleRouting:
        """Do what a try has left out, wiring the vehicle first where it is not, and return itself."""
        if not self.can_be_finished or self._now is None:
            return self.run()
        segments, laid, told = self._now
        self.trying, self._now = False, None
        self.squeezes, self.notes.unreached[told:] = [], []
        try:
            self.joining.bound_trees()
            self._take(segments, self._shortened(segments, laid))
        except MemoryError as error:
            self._give_up(str(error))
        return self

    def _give_up(self, reason: str) -> None:
        """Tell every net here as not decided, and keep nothing that was laid."""
        self.gave_up = True
        self.laid, self.pulled, self.detours, self.squeezes, self.built = [], {}, {}, [], {}
        self.notes.forget()
        self.joining = self._from_here()
        for task in self.tasks:
            self._leave(task, f"not decided: {reason}")

    def _leave(self, task: NetTask, reason: str) -> None:
        """Tell a net here as not decided."""
        ends = [reach.node for reaches in task.lanes for reach in reaches]
        self.notes.lose(task.net.net.name, ends, reason, undecided=True)

    # -- ways -------------------------------------------------------------------------------------------

    def _with_room_to_bend(self, segments: Sequence[Segment]) -> LaidSegments:
        """Lay all segments; lay those with a sharp corner again, round that corner, as long as it helps."""
        shut: dict[int, NDArray[np.int32]] = {}
        best = now = self._laid(segments, self.map.cost, shut)
        cost = self.map.cost
        for _ in range(BEND_ROUNDS):
            if not now.sharp or now.outcome.unreachable or now.outcome.conflicts:
                break
            if self.notes.over("room to bend"):
                break
            cost = cost.copy()
            for number, points in now.sharp.items():
                close = np.concatenate([self._close_to_walls(segments[number], point) for point in points])
                close = np.unique(close, axis=0)
                shut[number] = np.unique(np.concatenate([shut.get(number, NOWHERE), close]), axis=0)
                cost[tuple(close.T)] *= _DEARER
            now = self._laid(segments, cost, shut, now, TO_BEND)
            if now.faults < best.faults:
                best = now
        return best

    def _shortened(self, segments: Sequence[Segment], done: LaidSegments) -> LaidSegments:
        """Give wires that are longer and less to the liking than need be their shortest way, if it helps.

        By how much the others are longer than they need be alone is noted with the reason.
        """
        if self.notes.over("shortest ways to compare with"):
            return done
        sides = {side for run in done.runs for side in (run.starts, run.goals)}
        alone = ShortestAlone(self.map, self.puller, sides)
        ends = {n: (run.starts, run.goals) for n, run in enumerate(done.runs)}
        loose = {n: one for n, one in done.laid.items() if n >= len(self.kept)}
        short = short_ways(alone, loose, done.pulled, ends, self.diameters)
        better = {
            n: way
            for n, (way, taut) in short.items()
            if taut.length_mm < done.pulled[id(done.laid[n])].length_mm - TOLD_MM
            and liking(way.voxels, self.map) <= liking(done.laid[n].voxels, self.map)
        }
        if better and not done.outcome.conflicts and not done.outcome.unreachable:
            ways = tuple(better.get(n, way) for n, way in enumerate(done.outcome.ways))
            kept = {n: one for n, one in done.laid.items() if n not in better}
            shut = {n: one.shut for n, one in kept.items()}
            before = replace(done, outcome=replace(done.outcome, ways=ways), laid=kept, sharp={})
            now = self._laid(segments, self.map.cost, shut, before)
            done = now if now.faults < done.faults else done
        for n, (way, taut) in short.items():
            one = done.laid[n]
            if detour := detour_of(one, done.pulled[id(one)], (way, taut), self.map):
                self.detours[id(one)] = detour
        return done

    def _close_to_walls(self, segment: Segment, point: Vec) -> NDArray[np.int32]:
        """Return (n, 3) the voxels round a sharp corner where a wire would lie too close to walls to bend.

        A string that keeps off all walls bends round them with at least that radius. Near its own ends a wire
        is bent by hand.
        """
        outer = self.diameters[segment.net]
        wide, reach = HOOK_UP_DIAMETERS * outer, BEND_REACH * outer
        x, y, z = point
        around = Box((x - reach, y - reach, z - reach), (x + reach, y + reach, z + reach))
        window = self.map.frame.box_slice(around, "outward")
        low = np.array([part.start for part in window])
        close = self.map.free[window] & ~roomy(self.map.clear_squares[window], wide, self.map.frame.pitch)
        cells = np.argwhere(close) + low
        ends = [voxel for node in (segment.start, segment.end) for voxel in self._voxels(node)]
        middles = self.map.frame.centers(cells)
        keep = np.linalg.norm(middles - np.array(point), axis=1) <= reach
        for end in ends:
            keep &= np.linalg.norm(middles - np.array(self.map.frame.center(end)), axis=1) > 1.5 * wide
        found: NDArray[np.int32] = cells[keep].astype(np.int32)
        return found

    def _laid(
        self,
        segments: Sequence[Segment],
        cost: NDArray[np.float32],
        shut: Mapping[int, NDArray[np.int32]],
        before: LaidSegments | None = None,
        settings: NegotiationSettings = USUAL,
    ) -> LaidSegments:
        """Lay segments and pull them taut; of those laid before only what has sharp corners or gives way."""
        given: list[Way | None] = []
        if before is not None:
            given = [None if i in before.sharp else way for i, way in enumerate(before.outcome.ways)]
        runs, outcome = self._negotiate(segments, cost, given, settings)
        laid = {
            number: LaidSegment(segment, way.voxels, (*run.starts, *run.goals), shut.get(number, NOWHERE))
            for number, (segment, run, way) in enumerate(zip(segments, runs, outcome.ways, strict=True))
            if way is not None
        }
        pulled: dict[int, Pulled] = {}
        if before is not None:
            as_before = [
                i
                for i, way in enumerate(given)
                if way is not None and outcome.ways[i] is way and i in before.laid
            ]
            laid |= {i: before.laid[i] for i in as_before}
            pulled |= {id(laid[i]): before.pulled[id(laid[i])] for i in as_before}
        pulled |= {id(laid[i]): one.pulled for i, one in enumerate(self.kept)}
        fresh = [one for one in laid.values() if id(one) not in pulled]
        pulled |= {id(one): self.puller.pull(one, self.diameters[one.segment.net]) for one in fresh}
        sharp = {}
        for number, one in laid.items():
            if number < len(self.kept):
                continue
            points, outer = pulled[id(one)].points, self.diameters[one.segment.net]
            if found := sharp_corners(points, outer, self._held(one.segment)):
                sharp[number] = found
        return LaidSegments(runs, outcome, laid, pulled, sharp)

    def _held(self, segment: Segment) -> tuple[bool, bool]:
        """Tell at which ends a wire is bent by hand: pins and splices, not holes that it passes."""
        start, end = (not isinstance(node, Portal) for node in (segment.start, segment.end))
        return (start, end)

    def _negotiate(
        self,
        segments: Sequence[Segment],
        cost: NDArray[np.float32],
        given: Sequence[Way | None],
        settings: NegotiationSettings,
    ) -> tuple[list[Run], Negotiation]:
        """Let all segments find their ways together."""
        runs = [
            Run(
                f"{segment.net} {number}",
                self._voxels(segment.start),
                self._voxels(segment.end),
                self.diameters[segment.net],
            )
            for number, segment in enumerate(segments)
        ]
        nodes = {node for segment in segments for node in (segment.start, segment.end)}
        # A lane was given to no more conductors than are known to go through; others may pass the port as
        # well, such as those of a pin close to it.
        passing = [
            (self.layout.couplings[portal].port_in(self.map), self.diameters[portal.net])
            for portal in self.layout.couplings
            if portal in nodes
        ]
        ports, every = {port.name: port for port, _ in passing}, [run.diameter for run in runs]
        outcome = negotiate(
            self.map.free,
            runs,
            pitch=self.map.frame.pitch,
            places=[
                self.map.place(port, [mm for other, mm in passing if other.name == port.name], every)
                for port in ports.values()
            ],
            cost=cost,
            squares=self.map.clear_squares,
            given=given,
            held=self._ways_kept,
            room_near=self.map.room_near,
            settings=replace(settings, work=min(settings.work, TRIED)) if self.trying else settings,
            budget=self.budget,
        )
        self.notes.hurried |= outcome.gave_up
        if outcome.late:
            self.notes.cut.add("wires side by side")
        return runs, outcome

    def _voxels(self, node: Node) -> tuple[Voxel, ...]:
        match node:
            case NetEnd():
                voxel = self.map.start_at(node)
                return () if voxel is None else (voxel,)
            case Portal():
                return self.map.mouth(self.layout.couplings[node].port_in(self.map))
            case SpliceSpot():
                return (node.voxel,)

    # -- what came of it --------------------------------------------------------------------------------

    def _take(self, segments: Sequence[Segment], done: LaidSegments) -> None:
        self.laid, self.pulled = list(done.laid.values()), done.pulled
        self.built = {id(done.laid[n]): one.wire for n, one in enumerate(self.kept)}
        outcome = done.outcome
        for segment, way in zip(segments, outcome.ways, strict=True):
            if way is None:
                self.notes.lose(segment.net, [segment.start, segment.end], "no way is wide enough")
        reasons = [(place.runs, str(place)) for place in outcome.narrow] or [
            (one.runs, said(one, self.map, self.layout)) for one in outcome.conflicts[:3]
        ]
        if outcome.conflicts:
            net_of = {run.name: segment.net for run, segment in zip(done.runs, segments, strict=True)}
            undecided = not outcome.narrow
            self.notes.unreached.extend(
                Unreached(net_of[names[0]], self.vehicle, "", f"too narrow: {reason}", undecided)
                for names, reason in reasons
            )
            self.squeezes.append(squeeze_of(done, segments, self.map, self.layout))
