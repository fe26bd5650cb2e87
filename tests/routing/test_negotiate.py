"""Negotiated runs: settled where they can be, a proof where they cannot, counted by independent code."""

from __future__ import annotations

from time import monotonic

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.budget import Budget
from fitplan.routing.map.narrow_places import CapacityPlace, Run, narrow_places
from fitplan.routing.negotiation.negotiate import MOST_MEASURED, negotiate
from fitplan.routing.negotiation.negotiated import Negotiation, NegotiationSettings
from fitplan.routing.negotiation.share_table import ShareTable
from tests.routing.conflict_counts import ConflictCount, count_conflicts

from .stress_train import port, stress_train


def count(
    free: np.ndarray, runs: tuple[Run, ...], places: tuple[CapacityPlace, ...], done: Negotiation
) -> ConflictCount:
    """Count the faults of an outcome with the independent counter."""
    return count_conflicts(
        free,
        [None if way is None else way.voxels for way in done.ways],
        [(run.starts, run.goals) for run in runs],
        [run.diameter for run in runs],
        demands=[run.demand for run in runs],
        places=[(place.voxels, place.capacity) for place in places],
    )


def two_rooms(first: int, second: int) -> tuple[np.ndarray, tuple[CapacityPlace, ...]]:
    """Two rooms with a wall between and two ports that carry so many conductors."""
    free = np.ones((60, 40, 20), bool)
    free[29:31] = False
    near = port(free, "near port", (29, 31), (4, 10), (4, 10), 1.3)
    far = port(free, "far port", (29, 31), (28, 34), (4, 10), 1.3)
    return free, (CapacityPlace(near.name, near.voxels, first), CapacityPlace(far.name, far.voxels, second))


def across(number: int) -> tuple[Run, ...]:
    """Runs from room to room, all nearest to the near port."""
    return tuple(
        Run(f"net {i}", ((2, 3 + 5 * (i % 7), 2 + 6 * (i // 7)),), ((57, 3 + 5 * (i % 7), 2 + 6 * (i // 7)),))
        for i in range(number)
    )


def test_runs_share_out_two_ports() -> None:
    """Four runs through ports for one and three settle with exactly one and three."""
    free, places = two_rooms(1, 3)
    runs = across(4)
    done = negotiate(free, runs, places=places)
    assert done.settled
    assert not done.narrow
    assert count(free, runs, places, done).total == 0


def test_too_many_for_the_ports_is_proved_with_names() -> None:
    """Six runs through ports for two and three: no way for all, and the sentence names ports and figures."""
    free, places = two_rooms(2, 3)
    runs = across(6)
    done = negotiate(free, runs, places=places)
    assert not done.settled
    assert [str(proof) for proof in done.narrow] == [
        "near port and far port together carry 5 conductors, 6 want through"
    ]
    assert done.narrow[0].runs == tuple(run.name for run in runs)
    assert count(free, runs, places, done).overfull >= 1


def test_one_port_is_named_alone() -> None:
    """With one port the proof is about that port."""
    free, places = two_rooms(5, 0)
    runs = tuple(Run(run.name, run.starts, run.goals, 1.3, 2) for run in across(3))
    proofs = narrow_places(free, runs, places)
    assert [str(proof) for proof in proofs] == [
        "near port and far port together carry 5 conductors, 6 want through"
    ]
    free[29:31, 28:34] = False
    proofs = narrow_places(free, runs, places[:1])
    assert [str(proof) for proof in proofs] == ["near port carries 5 conductors, 6 want through"]
    assert narrow_places(free, runs[:2], places[:1]) == ()


@given(st.integers(0, 3), st.integers(0, 3), st.integers(1, 5))
@settings(max_examples=12, deadline=None)
def test_settled_exactly_when_the_ports_carry_all(first: int, second: int, number: int) -> None:
    """Between two rooms, runs settle when the ports carry their number, and are proved too many otherwise."""
    free, places = two_rooms(first, second)
    runs = across(number)
    done = negotiate(free, runs, places=places)
    assert done.settled == (number <= first + second)
    assert bool(done.narrow) == (number > first + second)
    if done.settled:
        assert count(free, runs, places, done).total == 0


def test_a_run_without_a_way_is_named() -> None:
    """A run into a sealed space is unreachable, the others are routed all the same."""
    free = np.ones((40, 20, 20), bool)
    free[20] = False
    runs = (Run("inside", ((2, 5, 5),), ((15, 5, 5),)), Run("through", ((2, 9, 9),), ((35, 9, 9),)))
    done = negotiate(free, runs)
    assert done.unreachable == ("through",)
    assert done.ways[0] is not None
    assert not done.settled


def test_a_long_row_of_rooms_names_its_one_small_port() -> None:
    """In a row of twelve rooms, the one port that carries two where three want through is named alone."""
    free = np.ones((12 * 14, 12, 12), bool)
    places = []
    for wall in range(1, 12):
        free[14 * wall - 1 : 14 * wall + 1] = False
        hole = port(free, f"port {wall}", (14 * wall - 1, 14 * wall + 1), (3, 9), (3, 9), 1.3)
        places.append(CapacityPlace(hole.name, hole.voxels, 2 if wall == 7 else 4))
    runs = tuple(
        Run(f"net {i}", ((14 * (i % 7) + 5, 5, 2 + i // 3),), ((14 * (7 + i % 5) + 7, 6, 2 + i // 3),))
        for i in range(3)
    )
    more = tuple(Run(f"local {i}", ((14 * i + 3, 3, 3),), ((14 * i + 9, 9, 9),)) for i in range(12))
    proofs = narrow_places(free, (*runs, *more), places)
    assert [str(proof) for proof in proofs] == ["port 7 carries 2 conductors, 3 want through"]
    assert proofs[0].runs == ("net 0", "net 1", "net 2")
    assert narrow_places(free, runs[:2], places) == ()
    assert narrow_places(free, runs, ()) == ()


def test_when_rounds_run_out_the_best_is_kept() -> None:
    """What cannot be settled and is not proved impossible ends undecided, with ways and conflicts."""
    free = np.zeros((60, 12, 12), bool)
    free[:, 4:8, 4:8] = True
    runs = tuple(Run(f"net {i}", ((1, 5, 4 + i),), ((58, 5, 4 + i),)) for i in range(3))
    most = None
    for rounds in (1, 2, 3):
        done = negotiate(free, runs, settings=NegotiationSettings(rounds=rounds))
        assert (done.settled, done.narrow, done.unreachable) == (False, (), ())
        assert done.rounds == rounds
        assert most is None or len(done.conflicts) <= most
        most = len(done.conflicts)
        assert all(way is not None for way in done.ways)


def test_more_room_is_not_looked_for_without_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three runs in a channel for two: measuring that always finds a hair more room is asked three times."""
    asked: list[int] = []

    def measured(_table: ShareTable, _near: object) -> bool:
        asked.append(1)
        return True

    monkeypatch.setattr(ShareTable, "measure", measured)
    free = np.zeros((60, 12, 12), bool)
    free[:, 4:8, 4:8] = True
    runs = tuple(Run(f"net {i}", ((1, 5, 4 + i),), ((58, 5, 4 + i),)) for i in range(3))
    done = negotiate(free, runs, room_near=lambda voxels: np.zeros(len(voxels)))
    assert done.conflicts
    assert len(asked) == MOST_MEASURED
    assert done.rounds < NegotiationSettings().rounds


def test_who_may_look_no_more_gives_up() -> None:
    """Four runs through ports that carry one and two: with no more work than in the first round it ends."""
    free, places = two_rooms(1, 2)
    whole = negotiate(free, across(4), places=places)
    first = negotiate(free, across(4), places=places, settings=NegotiationSettings(work=0.0))
    more = negotiate(free, across(4), places=places, settings=NegotiationSettings(work=1e12))
    assert (whole.gave_up, first.gave_up, more.gave_up) == (False, True, False)
    assert first.rounds < whole.rounds == more.rounds
    assert first.conflicts
    assert not first.late
    # What settles has not given up, however little it may look at.
    free, places = two_rooms(4, 0)
    assert not negotiate(free, across(4), places=places, settings=NegotiationSettings(work=0.0)).gave_up


def test_wires_in_a_narrow_channel_have_room_as_a_bundle() -> None:
    """A channel of 3.2 mm takes one wire of 1.3 mm by the rule; a second has to take the other channel."""
    free = np.zeros((80, 30, 8), bool)
    free[:20] = free[60:] = True
    free[:, 4:8, 2:6] = True
    free[:, 20:24, 2:6] = True
    runs = tuple(Run(f"net {i}", ((3, 5 + 8 * i, 4),), ((76, 5 + 8 * i, 4),)) for i in range(2))
    done = negotiate(free, runs)
    assert done.settled
    first, second = (
        way.voxels[abs(way.voxels[:, 0] - 40) < 2, 1].mean() for way in done.ways if way is not None
    )
    assert abs(first - second) > 10
    assert count(free, runs, (), done).total == 0
    crowd = negotiate(free, (*runs, Run("net 2", ((3, 25, 4),), ((76, 25, 4),))))
    assert not crowd.narrow
    assert all(conflict.used > conflict.room and len(conflict.runs) > 1 for conflict in crowd.conflicts)
    assert crowd.conflicts
    assert count(free, (*runs, Run("net 2", ((3, 25, 4),), ((76, 25, 4),))), (), crowd).crowded


def test_the_counter_sees_each_kind_of_fault() -> None:
    """Missing, jumping, corner-cutting, crowded and overfull ways are each counted."""
    free = np.zeros((40, 7, 7), bool)
    free[:, 1:6, 1:6] = True
    line = np.array([[x, 3, 3] for x in range(40)])
    ends = (((0, 3, 3),), ((39, 3, 3),))
    assert count_conflicts(free, [line], [ends], [1.3]).total == 0
    assert count_conflicts(free, [None], [ends], [1.3]).broken == 1
    assert count_conflicts(free, [line[::2]], [ends], [1.3]).broken == 1
    assert count_conflicts(free, [line[1:]], [ends], [1.3]).broken == 1
    wall = free.copy()
    wall[20, 3, 3] = False
    assert count_conflicts(wall, [line], [ends], [1.3]).broken == 1
    place = [(line[18:22], 1)]
    assert count_conflicts(free, [line, line], [ends, ends], [1.3, 1.3], places=place).overfull == 1
    crowded = count_conflicts(free, [line] * 12, [ends] * 12, [1.3] * 12)
    assert crowded.crowded == 40 - 2 * 5
    cut = np.array([[1, 1, 1], [2, 2, 1]])
    free[1, 2, 1] = False
    assert count_conflicts(free, [cut], [(((1, 1, 1),), ((2, 2, 1),))], [0.5]).broken == 1


def test_a_small_train_settles_the_same_way_twice() -> None:
    """Three vehicles and twenty nets settle without conflict, and a second time gives the same ways."""
    train = stress_train(vehicles=3, nets=20, seed=4, wires=(1.3, 2.0, 0.8))
    done = negotiate(train.free, train.runs, places=train.places)
    assert done.settled
    assert count(train.free, train.runs, train.places, done).total == 0
    again = negotiate(train.free, train.runs, places=train.places)
    for way, same in zip(done.ways, again.ways, strict=True):
        assert way is not None
        assert same is not None
        np.testing.assert_array_equal(way.voxels, same.voxels)


def test_mistakes_and_deadlines() -> None:
    """Doubled names and shared voxels are refused; a passed deadline ends the rounds, not the ways."""
    free, places = two_rooms(2, 2)
    runs = across(1)
    with pytest.raises(ValueError, match="net 0"):
        negotiate(free, (*runs, *runs))
    with pytest.raises(ValueError, match="far port"):
        negotiate(free, runs, places=(*places, places[1]))
    with pytest.raises(ValueError, match="shares a voxel"):
        negotiate(free, runs, places=(*places, CapacityPlace("other", places[1].voxels, 1)))
    # Two runs through a port for one: without a clock they are led apart in a few rounds.
    free, places = two_rooms(1, 1)
    pair = across(2)
    assert negotiate(free, pair, places=places).settled
    cut = negotiate(free, pair, places=places, budget=Budget(1, 1.0, monotonic() - 1.0))
    assert all(way is not None for way in cut.ways)
    assert cut.rounds == 2
    assert cut.late == (not cut.settled)
    assert NegotiationSettings() == NegotiationSettings(rounds=40)


def test_a_bundle_that_gives_way_too_slowly_shuns_all_that_is_too_narrow_for_it() -> None:
    """Three wires in a straight channel 2.4 mm wide, a roomy way round: prices that hardly grow move none.

    Without the last resort the negotiation ends with a bundle of 2.8 mm where 2.5 mm are clear.
    """
    free = np.zeros((60, 20, 8), dtype=bool)
    free[1:59, 1:4, 1:7] = free[12:48, 7:18, 1:7] = True
    free[6:18, 1:18, 1:7] = free[42:54, 1:18, 1:7] = True
    runs = [Run(f"wire {number}", ((3, 2, 3),), ((56, 2, 3),), 1.3) for number in range(3)]
    slowly = NegotiationSettings(present=0.01, growth=1.0, lasting=0.5, patience=1)
    found = negotiate(free, runs, settings=slowly)
    assert not found.conflicts
    round_about = [way is not None and int(way.voxels[:, 1].max()) >= 7 for way in found.ways]
    assert any(round_about)
    assert not all(round_about)
