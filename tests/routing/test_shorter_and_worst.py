"""Shorter ways that are looked for, what is told of wires that meet, and poses, each rule by itself."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.frame import Frame
from fitplan.model.solids import Box
from fitplan.routing.harness import facts, worst_pose
from fitplan.routing.harness.coupling_crossings import _side
from fitplan.routing.harness.coupling_slack import coupling_lengths
from fitplan.routing.harness.track_line import RunningGear
from fitplan.routing.harness.worst_pose import CouplingSide, TrackLimits, _poses
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Segment
from fitplan.routing.negotiation import tightened
from fitplan.routing.negotiation.detours import HANDS, NARROW, ROOM_TO_BEND, ShortestAlone
from fitplan.routing.negotiation.layout import Pulled
from fitplan.routing.negotiation.negotiated import Conflict
from fitplan.routing.negotiation.tightened import WORTH_GAP_MM, _alone, _tight
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.ways.bend_room import _arc_middle

PIN, OTHER = (NetEnd("n", owner, "p0", "a", (x, 4.0, 4.0), "+x") for owner, x in (("p", 2.0), ("q", 30.0)))


# -- shorter ways --------------------------------------------------------------------------------------------


def bent(more: float) -> Pulled:
    """Return a way that is so much longer than its ends are apart, between lead-outs of 5 mm."""
    high = ((20.0 + more / 2) ** 2 - 400.0) ** 0.5
    points = ((0.0, 0.0, 0.0), (5.0, 0.0, 0.0), (25.0, high, 0.0), (45.0, 0.0, 0.0), (50.0, 0.0, 0.0))
    return Pulled(points, 50.0 + more, 50.0 + more, ())


@pytest.mark.parametrize("shut", [0, 1])
@pytest.mark.parametrize("hands", [False, True])
def test_shorter_ways_are_looked_for_where_they_may_be_worth_telling(
    monkeypatch: pytest.MonkeyPatch, shut: int, hands: bool
) -> None:
    """Not of a straight wire; without room for hands first, and with it only if that one is worth telling."""
    asked: list[str] = []
    shortest: dict[str, Any] = {}

    def alone(where: Any, way: Any, diameter: float, freest: Any = None) -> Any:
        asked.append(where.name)
        assert freest is (shortest["free"] if hands and where.name == "room" else None)
        assert way.tolist() == [list(point) for point in bent(more).points[1:4]]
        return shortest[where.name]

    monkeypatch.setattr(tightened, "shortest_alone", alone)
    room: Any = SimpleNamespace(name="room", hands=("hand",) if hands else ())
    room.without_hands = SimpleNamespace(name="free")
    one: Any = SimpleNamespace(segment=Segment("n", "a", PIN, OTHER), shut=np.zeros((shut, 3)))
    why = ROOM_TO_BEND if shut else NARROW
    line = np.array([(5.0, 0.0, 0.0), (45.0, 0.0, 0.0)])
    drawn = ((0.0, 0.0, 0.0), (5.0, 0.0, 0.0), (45.0, 0.0, 0.0), (50.0, 0.0, 0.0))
    for more in (0.0, WORTH_GAP_MM * 0.9):
        shortest = {"room": line, "free": line}
        assert list(_alone(bent(more), one, room, 1.0)) == []
        assert asked == []
    more = 4.0
    told = list(_alone(bent(more), one, room, 1.0))
    assert told == [(why, drawn), (HANDS, drawn)] if hands else [(why, drawn)]
    assert asked == (["free", "room"] if hands else ["room"])
    # Where not even that is shorter by enough, the other one is not looked for.
    shortest["free"] = np.array(bent(more - WORTH_GAP_MM * 0.5).points[1:4])
    asked.clear()
    told = list(_alone(bent(more), one, room, 1.0))
    assert told == ([] if hands else [(why, drawn)])
    assert asked == (["free"] if hands else ["room"])
    shortest.update(free=None, room=None)
    assert list(_alone(bent(more), one, room, 1.0)) == (
        [(why, None), (HANDS, None)] if hands else [(why, None)]
    )


def test_of_the_ways_from_either_hand_the_shorter_one_is_told() -> None:
    """Once it is pulled taut; they are looked for once for the same ends and wire, and pulled for each."""
    lengths = {"left": 30.0, "right": 28.0, "round": 31.0}
    looked: list[Any] = []
    pulled: list[Any] = []

    def ways(starts: Any, goals: Any, diameter: float) -> Any:
        looked.append((starts, goals, diameter))
        return [SimpleNamespace(voxels=name) for name in lengths] if diameter < 2 else []

    def pull(one: Any, diameter: float) -> Any:
        pulled.append((one.segment, one.ends, len(one.shut), diameter))
        return SimpleNamespace(length_mm=lengths[one.voxels])

    self: Any = SimpleNamespace(_known={}, _ways=ways, _puller=SimpleNamespace(pull=pull))
    segment = Segment("n", "a", PIN, OTHER)
    starts, goals = [(0, 0, 0)], [(9, 0, 0), (9, 1, 0)]
    for _ in range(2):
        found = ShortestAlone.way(self, segment, starts, goals, 1.3)  # type: ignore[arg-type]
        assert found is not None
        assert (found[0].voxels, found[1].length_mm) == ("right", 28.0)  # type: ignore[comparison-overlap]
        assert pulled == [(segment, (*starts, *goals), 0, 1.3)] * 3
        pulled.clear()
    assert looked == [(starts, goals, 1.3)]
    assert ShortestAlone.way(self, segment, starts, goals, 2.3) is None  # type: ignore[arg-type]


@pytest.mark.parametrize("sharp", [(0, 0), (2, 2), (2, 1), (0, 1)])
@pytest.mark.parametrize("gain", [0.0, 0.009, 0.011, 2.0])
def test_a_wire_is_drawn_tight_where_it_gains_and_keeps_its_room_to_bend(
    monkeypatch: pytest.MonkeyPatch, sharp: tuple[int, int], gain: float
) -> None:
    """From a hundredth of a millimetre on; never with a sharp corner more than before."""
    before = bent(4.0)
    now = bent(4.0 - gain).points
    monkeypatch.setattr(tightened, "_drawn", lambda *_: now)
    asked: list[Any] = []

    def corners(way: Any, diameter: float, held: Any) -> list[int]:
        asked.append(held)
        return [0] * sharp[way is now]

    monkeypatch.setattr(tightened, "sharp_corners", corners)
    found = _tight(before, Segment("n", "a", PIN, OTHER), None, 1.0)  # type: ignore[arg-type]
    taken = gain > 0.01 and sharp[1] <= sharp[0]
    assert found.points == (now if taken else before.points)
    assert found.length_mm == pytest.approx(54.0 - gain * taken)
    assert found.lattice_mm == 54.0
    assert set(asked) <= {(True, True)}


# -- what is told --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("narrow", [False, True])
def test_what_meets_without_room_is_told_by_its_proof_or_place(
    monkeypatch: pytest.MonkeyPatch, narrow: bool
) -> None:
    """Of conflicts the first three; a proof is decided; the room that they want is told each once."""
    monkeypatch.setattr("fitplan.routing.negotiation.vehicle_wiring.said", lambda one, *_: f"at {one.where}")

    def wanted(conflict: Any, ways: Any, *rest: Any) -> list[Box]:
        return [Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0 + len(ways)))]

    monkeypatch.setattr("fitplan.routing.negotiation.squeezed.room_wanted", wanted)
    lost: list[Any] = []
    notes = SimpleNamespace(lose=lambda *given: lost.append(given), unreached=[])
    conflicts = tuple(Conflict((k, 0, 0), (f"n {k % 2}",), 3.0, 2.0) for k in range(4))

    class Proof:
        runs = ("m 1",)

        def __str__(self) -> str:
            return "port carries 1"

    runs = [SimpleNamespace(name=name, diameter=1.0) for name in ("n 0", "m 1", "n 1")]
    outcome = SimpleNamespace(
        ways=("way", None, "way"), narrow=(Proof(),) if narrow else (), conflicts=conflicts
    )
    segments = [Segment(net, "a", PIN, OTHER) for net in ("n", "m", "n")]
    one = SimpleNamespace()
    self: Any = SimpleNamespace(
        notes=notes, vehicle="a", map=SimpleNamespace(name="a"), squeezes=[], kept=(SimpleNamespace(wire=4),),
        layout=SimpleNamespace(ports_of=lambda vehicle: {}),
    )  # fmt: skip
    done: Any = SimpleNamespace(laid={0: one}, pulled={}, outcome=outcome, runs=runs)
    VehicleRouting._take(self, segments, done)
    assert lost == [("m", [PIN, OTHER], "no way is wide enough")]
    assert self.built == {id(one): 4}
    told = [(entry.net, entry.owner, entry.reason, entry.undecided) for entry in notes.unreached]
    if narrow:
        assert told == [("m", "a", "too narrow: port carries 1", False)]
    else:
        assert told == [("n", "a", f"too narrow: at {(k, 0, 0)}", True) for k in range(3)]
    ((squeeze),) = self.squeezes
    assert squeeze.boxes == (Box((0.0, 0.0, 0.0), (1.0, 1.0, 4.0)),)
    outcome.conflicts = ()
    notes.unreached.clear()
    VehicleRouting._take(self, segments, done)
    assert notes.unreached == []


def test_splices_that_no_opening_shows_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    seen = np.zeros((4, 4, 4), bool)
    seen[1, 2, 3] = True
    monkeypatch.setattr(facts, "in_sight", lambda map_: seen)
    layout: Any = SimpleNamespace(
        maps={"a": SimpleNamespace(frame=Frame((0.0, 0.0, 0.0), (4, 4, 4), 1.0))},
        true_point=lambda vehicle, at: (at[0], 4.0 - at[1], at[2]),
    )
    splices = [
        SimpleNamespace(name=name, vehicle="a", at=at)
        for name, at in (("S1", (1.5, 1.5, 3.5)), ("S2", (1.5, 2.5, 3.5)), ("S3", (0.5, 0.5, 0.5)))
    ]
    assert facts.hidden_splices(SimpleNamespace(splices=splices), layout) == ("S2", "S3")  # type: ignore[arg-type]


# -- poses ---------------------------------------------------------------------------------------------------


def test_of_equal_poses_the_one_on_the_simplest_track_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fewer pieces of curves and gradients, as long as it asks for as much to a thousandth a piece."""
    k = 1 / 320
    straight = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0)
    curve = (k, k, k, 5.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2.0)
    entering = (0.0, 0.0, k, 5.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3.0)
    humped = (0.0, 0.0, 0.0, 0.0, 0.04, 0.0, -0.04, 0.0, 9.0, 4.0)
    side = CouplingSide(RunningGear(20.0, 90.0), (0.0, 10.0), (0.0, 0.0, 30.0))
    other = CouplingSide(RunningGear(20.0, 90.0), (110.0, 10.0), (110.0, 0.0, 30.0))
    monkeypatch.setattr(worst_pose, "_in_words", lambda row: f"{row[9]:.0f}")

    def told(rows: Any, lengths: Any) -> str:
        table = np.array(rows)

        def extremes(self: Any, reach: float) -> Any:
            return (table, np.array(lengths)), (table, np.full(len(rows), 9.0))

        monkeypatch.setattr(worst_pose._Work, "extremes", extremes)
        worst_pose.search.cache_clear()
        found = worst_pose.search(side, other, 20.0, TrackLimits())
        assert found.longest_mm in lengths
        return found.governing

    assert told([humped, entering, curve], [20.0, 20.0, 20.0]) == "2"
    assert told([humped, entering], [20.0, 20.0]) == "3"
    assert told([humped, entering], [20.0005, 20.0]) == "3"
    assert told([humped, entering], [20.0015, 20.0]) == "4"
    assert told([humped, straight], [20.0015, 20.0]) == "1"
    assert told([entering, straight], [20.0015, 20.0]) == "3"
    worst_pose.search.cache_clear()


def test_a_row_is_drawn_as_the_track_that_it_stands_for() -> None:
    """Three curvatures and three gradients with their joints: rise and fall are what these change by."""
    row = np.array([[0.001, 0.002, -0.003, 40.0, 0.01, 0.04, -0.02, 7.0, 30.0, 5.0]])
    poses_ = _poses(row)
    line = poses_.line
    assert (line.before, line.after, line.further, line.span) == (0.001, 0.002, -0.003, 40.0)
    assert (line.kink, line.hump, line.slope, poses_.at) == (7.0, 30.0, 0.01, 5.0)
    # Its height beyond both changes, by the gradients themselves.
    for s, height in ((0.0, 0.0), (7.0, 0.07), (17.0, 0.07 + 0.4), (37.0, 0.07 + 1.2), (47.0, 1.27 - 0.2)):
        assert line.at(np.array([s]))[0, 2] == pytest.approx(height)


@pytest.mark.parametrize("turned", [False, True])
def test_outer_axles_guide_a_vehicle_of_more_than_two(turned: bool) -> None:
    entry: Any = SimpleNamespace(
        name="a", in_train=lambda start, at: (100.0 - at[0] if turned else at[0], at[1], at[2]),
        vehicle=SimpleNamespace(wheels=SimpleNamespace(at=(50.0, 90.0, 15.0, 30.0), bogie_wheelbase=0.0)),
    )  # fmt: skip
    side = _side(entry, (0.0, 9.0), SimpleNamespace(mouth=(0.0, 0.0, 20.0)), {})  # type: ignore[arg-type]
    assert (side.gear.rear, side.gear.front) == ((10.0, 85.0) if turned else (15.0, 90.0))


def test_the_longer_of_two_vehicles_bounds_the_curve() -> None:
    """Guides 160 mm apart stand in no curve of less than three quarters of that."""
    short, long_ = (
        CouplingSide(RunningGear(0.0, span), (-10.0, 10.0), (-10.0, 0.0, 30.0)) for span in (80.0, 160.0)
    )
    for pair in ((short, long_), (long_, short)):
        with pytest.raises(ValueError, match=r"too sharp for guides 160\.0 mm apart"):
            coupling_lengths(*pair, 20.0, TrackLimits(radius=119.0))


@pytest.mark.parametrize("size", [1e-6, 0.03, 1.0])
def test_tiny_corners_have_their_arcs_where_large_ones_have(size: float) -> None:
    """In a right angle the middle of an arc of radius r lies r(√2 − 1) off the corner, inwards."""
    before, corner, after = (np.array(point) * size for point in ((-1.0, 0, 0), (0.0, 0, 0), (0.0, 1, 0)))
    found = _arc_middle(before, corner, after, 2.0 * size)
    away = 2.0 * size * (2**0.5 - 1) / 2**0.5
    assert found == pytest.approx([-away, away, 0.0], rel=1e-6)


@pytest.mark.parametrize("measured", [0.5, 40.0, 49.9, 50.1, 80.0])
def test_what_was_measured_goes_before_the_poses(measured: float) -> None:
    """But for the distance on straight track, here √(40² + 30²): so long the wires are at the least."""
    ahead = CouplingSide(RunningGear(20.0, 90.0), (0.0, 10.0), (10.0, 0.0, 50.0))
    behind = CouplingSide(RunningGear(20.0, 90.0), (110.0, 10.0), (100.0, 0.0, 20.0))
    found = coupling_lengths(ahead, behind, 20.0, TrackLimits(), measured=measured, aside=3.0, least=99.0)
    assert found.straight_mm == pytest.approx(50.0)
    assert found.free_mm == pytest.approx(max(measured, 50.0))
    assert (found.slack_mm, found.governing) == (0.0, "as it was measured")
    assert found.longest_mm == pytest.approx(53.0)
