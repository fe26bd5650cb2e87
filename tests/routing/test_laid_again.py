"""When wires are laid again: round sharp corners, or by their shortest way, as long as that helps."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.routing.map.circle_packing import Rectangle, cannot_hold
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Portal, Segment, SpliceSpot
from fitplan.routing.negotiation import vehicle_wiring
from fitplan.routing.negotiation.detours import TOLD_MM
from fitplan.routing.negotiation.laid_segments import LaidSegments
from fitplan.routing.negotiation.layout import LaidSegment, Pulled
from fitplan.routing.negotiation.negotiated import Conflict, Negotiation
from fitplan.routing.negotiation.net_joining import WiringNotes
from fitplan.routing.negotiation.vehicle_wiring import (
    BEND_ROUNDS,
    NOWHERE,
    TO_BEND,
    TRIED,
    USUAL,
    VehicleRouting,
)
from fitplan.routing.trees.voxel_trees import PROVED_AT_ONCE
from fitplan.routing.ways.way import Way

PIN = NetEnd("n", "p", "p0", "a", (0.0, 0.0, 0.0), "+x")
CONFLICT = Conflict("gap", ("n 0",), 2.0, 1.0)


def way(length: float) -> Way:
    return Way(np.array([(0, 0, 0), (1, 0, 0)], np.int32), length, length, 0)


def outcome(count: int = 2, conflicts: int = 0, lost: int = 0) -> Negotiation:
    names = tuple(f"n {k}" for k in range(lost))
    return Negotiation(tuple(way(9.0) for _ in range(count)), names, (CONFLICT,) * conflicts, (), 1)


def laid(number: int = 0) -> LaidSegment:
    return LaidSegment(Segment("n", "a", PIN, PIN), np.array([(number, 0, 0)], np.int32), (), NOWHERE)


def pulled(length: float) -> Pulled:
    return Pulled(((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)), length, length, ())


def state(
    lengths: tuple[float, ...] = (9.0, 9.0),
    sharp: dict[int, Any] | None = None,
    conflicts: int = 0,
    lost: int = 0,
) -> LaidSegments:
    segments = {k: laid(k) for k in range(len(lengths))}
    taut = {id(one): pulled(length) for one, length in zip(segments.values(), lengths, strict=True)}
    runs: Any = [SimpleNamespace(starts=(), goals=()) for _ in lengths]
    return LaidSegments(runs, outcome(len(lengths), conflicts, lost), segments, taut, sharp or {})


def test_what_is_wrong_counts_before_what_is_long() -> None:
    """A wire without a way is worse than any conflicts, these than sharp corners, these than length."""
    point = (0.0, 0.0, 0.0)
    order = [
        state((5.0,)), state((6.0,)),
        state((1.0,), {0: [point]}), state((1.0,), {0: [point], 1: [point] * 2}),
        state((1.0,), conflicts=1), state((1.0,), conflicts=2), state((1.0,), lost=1),
    ]  # fmt: skip
    assert all(one.faults < other.faults for one, other in itertools.pairwise(order))
    assert order[3].faults == (0, 0, 3, 1.0)


@dataclass
class Notes:
    """What is told, and which stage must be over."""

    late: frozenset[str] = frozenset()
    asked: list[str] = field(default_factory=list)

    def over(self, stage: str) -> bool:
        self.asked.append(stage)
        return stage in self.late


def bending(answers: list[LaidSegments], late: frozenset[str] = frozenset()) -> tuple[Any, list[Any]]:
    """Return a vehicle at work that gives these answers, one after the other, and what it was asked."""
    asked: list[Any] = []

    def lay(segments: Any, cost: Any, shut: Any, before: Any = None, settings: Any = USUAL) -> LaidSegments:
        # Others give way less long for a corner than for wires that have no room at all.
        assert settings is (USUAL if before is None else TO_BEND)
        asked.append((cost.copy(), {k: v.tolist() for k, v in shut.items()}, before))
        return answers[len(asked) - 1]

    def close(segment: Any, point: Any) -> Any:
        return np.array([(int(point[0]), 0, 0), (segment, 1, 0)], np.int32)

    self: Any = SimpleNamespace(
        map=SimpleNamespace(cost=np.ones((4, 2, 1), np.float32)),
        notes=Notes(late),
        _laid=lay,
        _close_to_walls=close,
    )
    return self, asked


def test_sharp_corners_are_led_round_as_long_as_there_are_any() -> None:
    """Each time what lies round them is shut for their wires and dearer for all; the best of all is taken."""
    sharp = [state((10.0,), {0: [(2.0, 0.0, 0.0)]}), state((10.0,), {0: [(3.0, 0.0, 0.0)]}), state((11.0,))]
    self, asked = bending(sharp)
    assert VehicleRouting._with_room_to_bend(self, [1]) is sharp[2]  # type: ignore[list-item]
    assert [one[1] for one in asked] == [
        {},
        {0: [[1, 1, 0], [2, 0, 0]]},
        {0: [[1, 1, 0], [2, 0, 0], [3, 0, 0]]},
    ]
    assert [one[2] for one in asked] == [None, sharp[0], sharp[1]]
    dearer = vehicle_wiring._DEARER
    assert (asked[0][0] == 1).all()
    assert (asked[1][0][1, 1, 0], asked[1][0][2, 0, 0], asked[1][0][3, 0, 0]) == (dearer, dearer, 1)
    assert (asked[2][0][1, 1, 0], asked[2][0][2, 0, 0], asked[2][0][3, 0, 0]) == (dearer**2, dearer, dearer)
    assert (self.map.cost == 1).all()
    # What is no better than before is not taken, and after so many rounds it ends.
    worse = [state((10.0 + k,), {0: [(2.0, 0.0, 0.0)]}) for k in range(BEND_ROUNDS + 3)]
    self, asked = bending(worse)
    assert VehicleRouting._with_room_to_bend(self, [1]) is worse[0]  # type: ignore[list-item]
    assert len(asked) == 1 + BEND_ROUNDS


@pytest.mark.parametrize(
    "first",
    [state(), state(sharp={0: [(1.0, 0.0, 0.0)]}, conflicts=1), state(sharp={0: [(1.0, 0.0, 0.0)]}, lost=1)],
    ids=["no corner", "conflict", "no way"],
)
def test_nothing_is_laid_again_where_corners_are_not_what_is_wrong(first: LaidSegments) -> None:
    self, asked = bending([first])
    assert VehicleRouting._with_room_to_bend(self, [1, 1]) is first  # type: ignore[list-item]
    assert len(asked) == 1
    late = state(sharp={0: [(1.0, 0.0, 0.0)]})
    self, asked = bending([late], frozenset({"room to bend"}))
    assert VehicleRouting._with_room_to_bend(self, [1]) is late  # type: ignore[list-item]
    assert len(asked) == 1


def shortening(
    monkeypatch: pytest.MonkeyPatch,
    done: LaidSegments,
    shorter: dict[int, float],
    liked: dict[int, float],
    now: Any,
) -> tuple[Any, list[Any]]:
    """Return a vehicle whose segments have shorter ways; ``liked``: what those cost, the laid ones cost 5."""
    asked: list[Any] = []
    found = {n: (way(length), pulled(length)) for n, length in shorter.items()}
    cost = {id(found[n][0].voxels): liked.get(n, 5.0) for n in found}

    def short(alone: Any, loose: Any, *_: Any) -> Any:
        asked.append(sorted(loose))
        return found

    def lay(segments: Any, cost: Any, shut: Any, before: Any) -> Any:
        asked.append((sorted(before.laid), before.outcome.ways, sorted(shut)))
        return now

    monkeypatch.setattr(vehicle_wiring, "ShortestAlone", lambda *_: None)
    monkeypatch.setattr(vehicle_wiring, "short_ways", short)
    monkeypatch.setattr(vehicle_wiring, "liking", lambda voxels, map_: cost.get(id(voxels), 5.0))
    monkeypatch.setattr(vehicle_wiring, "detour_of", lambda one, taut, short, map_: taut.length_mm)
    self: Any = SimpleNamespace(
        map=SimpleNamespace(cost=None),
        notes=Notes(),
        puller=None,
        kept=(),
        diameters={},
        detours={},
        _laid=lay,
    )
    return self, asked


def test_longer_ways_that_are_liked_no_better_are_exchanged(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only those, when that helps; what is as it was keeps its place; reasons are told of what is kept."""
    done, now = state((10.0, 20.0, 30.0)), state((10.0, 15.0, 30.0))
    self, asked = shortening(monkeypatch, done, {1: 15.0, 2: 29.0}, {2: 6.0}, now)
    assert VehicleRouting._shortened(self, [], done) is now
    assert asked[0] == [0, 1, 2]
    assert asked[1][0] == [0, 2] == asked[1][2]
    assert [one.length_mm for one in asked[1][1]] == [9.0, 15.0, 9.0]
    assert self.detours == {id(now.laid[1]): 15.0, id(now.laid[2]): 30.0}
    # A wire that is built stays as it is.
    self, asked = shortening(monkeypatch, done, {}, {}, now)
    self.kept = (None,)
    assert VehicleRouting._shortened(self, [], done) is done
    assert asked == [[1, 2]]
    assert self.detours == {}


@pytest.mark.parametrize(
    ("done", "shorter", "liked", "now", "asks"),
    [
        (state((20.0,)), {0: 20.0 - TOLD_MM + 0.001}, {}, state((15.0,)), False),
        (state((20.0,)), {0: 20.0 - TOLD_MM - 0.001}, {}, state((21.0,)), True),
        (state((20.0,)), {0: 15.0}, {0: 5.001}, state((15.0,)), False),
        (state((20.0,), conflicts=1), {0: 15.0}, {}, state((15.0,)), False),
        (state((20.0,), lost=1), {0: 15.0}, {}, state((15.0,)), False),
        (state((20.0,)), {0: 15.0}, {}, state((20.0,)), True),
        (state((20.0,)), {0: 15.0}, {}, state((15.0,), conflicts=1), True),
        (state((20.0,)), {}, {}, state((15.0,)), False),
    ],
)
def test_a_layout_is_kept_where_no_other_is_better(
    monkeypatch: pytest.MonkeyPatch, done: Any, shorter: Any, liked: Any, now: Any, asks: bool
) -> None:
    """Too little gained, liked less, something worse wrong already, or no gain when laid: all as it was."""
    self, asked = shortening(monkeypatch, done, shorter, liked, now)
    assert VehicleRouting._shortened(self, [], done) is done
    assert len(asked) == 1 + asks
    self, asked = shortening(monkeypatch, done, shorter, liked, now)
    self.notes = Notes(frozenset({"shortest ways to compare with"}))
    assert VehicleRouting._shortened(self, [], done) is done
    assert asked == []


def test_only_what_gives_way_is_pulled_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wires that stay are as they were built; ways that are the same keep their pull; the rest is pulled."""
    ways = [way(float(k)) for k in range(5)]
    fresh = way(9.0)
    given: list[Any] = []
    runs: Any = [SimpleNamespace(starts=((k, 0, 0),), goals=((k, 1, 0),)) for k in range(5)]

    def negotiate(segments: Any, cost: Any, before: Any, settings: Any) -> Any:
        assert settings is USUAL
        given.append(list(before))
        return runs, Negotiation((ways[0], ways[1], fresh, fresh, None), (), (), (), 1)

    count = itertools.count(100)
    corners = {102.0: [(1.0, 1.0, 1.0)]}
    monkeypatch.setattr(
        vehicle_wiring, "sharp_corners", lambda points, outer, held: corners.get(points[0][0], [])
    )
    kept = SimpleNamespace(pulled=Pulled(((-1.0, 0.0, 0.0),), 1.0, 1.0, ()))
    segments = [Segment("n", "a", PIN, PIN)] * 5
    self: Any = SimpleNamespace(
        kept=(kept,), diameters={"n": 1.0}, _negotiate=negotiate, _held=lambda segment: (True, True),
        puller=SimpleNamespace(
            pull=lambda one, outer: Pulled(((float(next(count)), 0.0, 0.0),), 1.0, 1.0, ())
        ),
    )  # fmt: skip
    shut = {2: np.array([(7, 7, 7)], np.int32)}
    first = VehicleRouting._laid(self, segments, None, shut)  # type: ignore[arg-type]
    assert given == [[]]
    assert sorted(first.laid) == [0, 1, 2, 3]
    heads = {n: first.pulled[id(one)].points[0][0] for n, one in first.laid.items()}
    assert heads == {0: -1.0, 1: 100.0, 2: 101.0, 3: 102.0}
    assert first.sharp == {3: [(1.0, 1.0, 1.0)]}
    assert first.laid[2].shut.tolist() == [[7, 7, 7]]
    assert first.laid[2].ends == ((2, 0, 0), (2, 1, 0))
    again = VehicleRouting._laid(self, segments, None, shut, first)  # type: ignore[arg-type]
    assert given[1] == [ways[0], ways[1], fresh, None, None]
    assert [again.laid[n] is first.laid[n] for n in range(4)] == [True, True, True, False]
    assert again.pulled[id(again.laid[1])] is first.pulled[id(first.laid[1])]
    assert again.pulled[id(again.laid[3])].points[0][0] == 103.0


def test_wires_are_bent_by_hand_at_pins_and_splices() -> None:
    portal, splice = Portal("n", 0, 1), SpliceSpot("n", "a", (1, 1, 1))
    for start, end in itertools.product((PIN, portal, splice), repeat=2):
        held = VehicleRouting._held(None, Segment("n", "a", start, end))  # type: ignore[arg-type]
        assert held == (start is not portal, end is not portal)


@pytest.mark.parametrize("late", [False, True])
def test_trees_are_found_quickly_when_late(late: bool) -> None:
    """Those of many ends only, and that it was cut is noted."""
    budget: Any = SimpleNamespace(over=lambda stage: late and stage == "proofs of trees")
    for ends in (PROVED_AT_ONCE, PROVED_AT_ONCE + 1):
        notes = WiringNotes("a", budget)
        many = ends > PROVED_AT_ONCE
        assert notes.hurries(ends) is (many and late)
        assert not notes.hurried
        assert notes.cut == ({"proofs of trees"} if late and many else set())


def test_what_is_lost_is_told_by_its_last_pin() -> None:
    """Where there is none, by the port that it would pass; else by the vehicle alone."""
    ports = {Portal("n", 0, 1): "front hole"}
    notes = WiringNotes("a", SimpleNamespace(over=lambda stage: False), ports=ports)  # type: ignore[arg-type]
    other = replace(PIN, owner="q", pin="p1")
    notes.lose("n", [PIN, other, Portal("n", 0, 1)], "why")
    notes.lose("n", [Portal("n", 0, 1)], "why", undecided=True)
    notes.lose("n", [SpliceSpot("n", "a", (0, 0, 0))], "why")
    told = [(one.net, one.owner, one.pin, one.reason, one.undecided) for one in notes.unreached]
    assert told == [
        ("n", "q", "p1", "why", False),
        ("n", "a", "front hole", "why", True),
        ("n", "a", "", "why", False),
    ]
    notes.cut.add("proofs of trees")
    notes.forget()
    assert (notes.unreached, notes.shortages, notes.questions, notes.unproved) == ([], [], [], [])
    assert notes.cut == {"proofs of trees"}


@pytest.mark.parametrize("more", [1, 2, 5])
def test_a_proof_names_all_wires_of_a_thickness(more: int) -> None:
    """Of so many alike all want through, and thinner ones do not count among them."""
    words = cannot_hold(Rectangle(1.3 * 4, 1.3), [1.3] * (4 + more) + [0.5])
    assert words == f"at most 4 of 1.3 mm have room, {4 + more} of that or more want through"


def test_no_negotiation_of_a_vehicle_goes_on_without_end() -> None:
    """What is kept may look at more than what is tried, and that at more than what makes room to bend."""
    assert TO_BEND.work < TRIED < USUAL.work < float("inf")


@pytest.mark.parametrize(("late", "trying", "gave_up"), [(False, False, False), (True, True, True)])
def test_runs_are_led_from_node_to_node_through_the_ports_they_pass(
    monkeypatch: pytest.MonkeyPatch, late: bool, trying: bool, gave_up: bool
) -> None:
    """Each named by net and number; a port is a place for what passes it; what ended it early is noted."""
    asked: list[Any] = []

    def negotiate(free: Any, runs: Any, **more: Any) -> Any:
        asked.append((runs, more))
        return SimpleNamespace(late=late, gave_up=gave_up)

    monkeypatch.setattr(vehicle_wiring, "negotiate", negotiate)
    here, other, elsewhere = Portal("n", 0, 1), Portal("m", 0, 2), Portal("m", 1, 3)
    port = SimpleNamespace(name="rear")
    passed = SimpleNamespace(port_in=lambda map_: port)
    self: Any = SimpleNamespace(
        _voxels=lambda node: ((1, 1, 1),) if node is PIN else ((9, 9, 9),), diameters={"n": 1.0, "m": 1.4},
        layout=SimpleNamespace(couplings={here: passed, other: passed, elsewhere: passed}),
        map=SimpleNamespace(
            free=None, frame=SimpleNamespace(pitch=0.8), clear_squares=None, room_near=None,
            place=lambda port, given, wires: (port.name, given, wires),
        ),
        notes=SimpleNamespace(cut=set(), hurried=False), _ways_kept=[], budget=None, trying=trying,
    )  # fmt: skip
    segments = [Segment("n", "a", PIN, here), Segment("m", "a", other, PIN), Segment("n", "a", PIN, PIN)]
    runs, _ = VehicleRouting._negotiate(self, segments, None, ["given"], TO_BEND)  # type: ignore[arg-type, list-item]
    assert [(run.name, run.starts, run.goals, run.diameter) for run in runs] == [
        ("n 0", ((1, 1, 1),), ((9, 9, 9),), 1.0), ("m 1", ((9, 9, 9),), ((1, 1, 1),), 1.4),
        ("n 2", ((1, 1, 1),), ((1, 1, 1),), 1.0),
    ]  # fmt: skip
    ((_, more),) = asked
    assert more["places"] == [("rear", [1.0, 1.4], [1.0, 1.4, 1.0])]
    assert more["given"] == ["given"]
    assert more["settings"] == (replace(TO_BEND, work=min(TRIED, TO_BEND.work)) if trying else TO_BEND)
    assert self.notes.hurried == gave_up
    assert self.notes.cut == ({"wires side by side"} if late else set())
