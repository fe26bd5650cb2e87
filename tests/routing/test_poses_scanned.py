"""Which poses are scanned, put together and improved: row by row, and on distances with a known extreme."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest

from fitplan.routing.harness import worst_pose
from fitplan.routing.harness.track_line import RunningGear
from fitplan.routing.harness.worst_pose import (
    _SPANS,
    CouplingSide,
    TrackLimits,
    _flat,
    _kinds,
    _mixed,
    _reach,
    _steep,
    _Work,
    _worst_kinds,
    exit_points,
    search,
)

K1, K2, K3, SPAN, G1, G2, G3, KINK, HUMP, AT = range(10)
K = 1 / 250.0
WEIGHTS = np.array([700.0, -300.0, 250.0, 0.02, 90.0, -40.0, 60.0, 0.01, -0.015, 0.03])
"""What each figure of a pose counts for in made-up distances: no two poses are alike."""
TAIL = CouplingSide(RunningGear(40.0, 120.0), (8.0, 12.0), (0.0, -6.0, 30.0))
HEAD = CouplingSide(RunningGear(45.0, 118.0, 16.0), (152.0, 12.0), (160.0, -6.0, 34.0))
LEVEL = TrackLimits(250.0, reverse_curve=False, least_straight=24.0)


def pose(**figures: float) -> np.ndarray:
    """Return a pose; what is not named is 0."""
    row = np.zeros(10)
    for name, figure in figures.items():
        row[globals()[name]] = figure
    return row


def groups(rows: np.ndarray, columns: list[int]) -> dict[tuple[float, ...], np.ndarray]:
    keys = [tuple(key) for key in rows[:, columns].tolist()]
    return {key: rows[[one == key for one in keys]] for key in dict.fromkeys(keys)}


@pytest.mark.parametrize("reach", [200.0, 90.0])
@pytest.mark.parametrize("reverse", [False, True])
def test_every_kind_of_curves_is_scanned_with_every_length(reach: float, reverse: bool) -> None:
    """Middle pieces of each share of the length, none shorter than the track has, and as short as that.

    Positions go evenly from a twentieth of the way before to a twentieth beyond it.
    """
    limits = TrackLimits(250.0, reverse_curve=reverse, least_straight=24.0)
    rows = _flat(limits, reach)
    assert not rows[:, G1:AT].any()
    found = groups(rows, [K1, K2, K3])
    assert list(found) == list(_kinds(limits))
    for (one, two, three), mine in found.items():
        least = 24.0 if one * three < 0 and two == 0 and not reverse else 0.0
        wanted = {0.0} if two == three else {max(share * reach, least) for share in _SPANS} | {least}
        lengths = groups(mine, [SPAN])
        assert {span for (span,) in lengths} == wanted
        for (span,), some in lengths.items():
            at = some[:, AT] / (reach + span)
            assert (at[0], at[-1]) == pytest.approx((-0.05, 1.05))
            assert np.diff(at) == pytest.approx(1.1 / (len(at) - 1))
            assert len(at) > 40


def test_every_kind_of_gradients_is_scanned_with_every_length() -> None:
    """Straight in plan; a single change has no length, two are as far apart as each of the shares."""
    reach = 200.0
    rows = _steep(TrackLimits(250.0, gradient=0.04), reach)
    assert not rows[:, [K1, K2, K3, SPAN, AT]].any()
    found = groups(rows, [G1, G2, G3])
    slopes = (0.0, 0.04, -0.04)
    assert set(found) == {kind for kind in product(slopes, repeat=3) if kind[0] != kind[1]}
    for (_, two, three), mine in found.items():
        lengths = groups(mine, [HUMP])
        assert {hump for (hump,) in lengths} == ({0.0} if two == three else {s * reach for s in _SPANS})
        for (hump,), some in lengths.items():
            at = -some[:, KINK] / (reach + hump)
            assert (at[0], at[-1]) == pytest.approx((-0.05, 1.05))
            assert np.diff(at) == pytest.approx(1.1 / (len(at) - 1))


def test_curves_and_gradients_are_put_together_at_every_shift() -> None:
    """Each with each; the gradients keep their place to the front axle, but for shifts to both sides."""
    flat = np.array([pose(K1=K, K2=K, K3=K, AT=50.0), pose(K3=K, SPAN=30.0, AT=70.0)])
    steep = np.array([pose(G2=0.04, G3=0.04, KINK=-20.0), pose(G1=0.04, KINK=-90.0, HUMP=12.0)])
    rows = _mixed(flat, steep, 100.0)
    found = groups(rows, [K1, K2, K3, SPAN, G1, G2, G3, HUMP])
    assert list(found) == [
        (*plan[[K1, K2, K3, SPAN]], *height[[G1, G2, G3, HUMP]]) for plan, height in product(flat, steep)
    ]
    for mine, (plan, height) in zip(found.values(), product(flat, steep), strict=True):
        moved = sorted({round(x, 9) for x in (mine[:, AT] - plan[AT]).tolist()})
        assert (moved[0], moved[-1]) == (-20.0, 20.0)
        assert 0.0 in moved
        for along in moved:
            same = mine[np.isclose(mine[:, AT], plan[AT] + along)]
            shift = np.sort(same[:, KINK] - same[:, AT] - height[KINK])
            assert (shift[0], shift[-1]) == pytest.approx((-30.0, 30.0))
            assert np.abs(shift).min() == pytest.approx(0.0, abs=1e-9)
            assert len(shift) == len(mine) / len(moved)


def test_no_more_than_five_kinds_go_on() -> None:
    """A kind is curves and gradients; its length and place are none."""
    kinds = [pose(K1=K), pose(K2=K), pose(K3=K), pose(G1=0.04), pose(G2=0.04), pose(G3=0.04), pose()]
    rows = np.array([kind + pose(SPAN=n, HUMP=n, KINK=n, AT=n) for kind in kinds for n in range(2)])
    distance = np.array([10.0 * k + n for k in range(7) for n in range(2)])
    found = _worst_kinds(rows, distance, 5)
    assert found.tolist() == [rows[2 * k + 1].tolist() for k in (6, 5, 4, 3, 2)]


def test_the_length_over_all_guides() -> None:
    """From the front axle ahead to the rear one behind, over both pins, with both wheelbases."""
    assert _reach(TAIL, HEAD, 24.0) == (120 - 8) + 24 + (152 - 45) + 16
    assert _reach(HEAD, TAIL, 24.0) == (118 - 152) + 24 + (8 - 40) + 16


class _Bowl(_Work):
    """Distances that are farthest, or nearest, at known figures: a bowl, and nan beyond a wall."""

    def __init__(self, limits: TrackLimits, sign: float, best: dict[str, float], wall: float = 1e9) -> None:
        super().__init__(TAIL, HEAD, 24.0, limits)
        self.sign, self.best, self.wall = sign, best, wall

    def apart(self, rows: np.ndarray) -> np.ndarray:
        off = sum((rows[:, globals()[name]] - figure) ** 2 for name, figure in self.best.items())
        return np.where(rows[:, AT] > self.wall, np.nan, 100.0 - self.sign * 1e-3 * off)


BEST = {"SPAN": 60.0, "KINK": -33.0, "HUMP": 21.0, "AT": 57.0}


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_pose_is_improved_up_to_the_extreme(sign: float) -> None:
    """From either side, in each of the four figures that are free; curves and gradients stay."""
    for start in (pose(K1=K, G2=0.04), pose(K1=K, SPAN=120, KINK=60, HUMP=90, AT=140)):
        rows, value = _Bowl(LEVEL, sign, BEST).improved(np.array([start, start + pose(AT=9.0)]), 10.0, sign)
        for row in rows:
            assert row[[SPAN, KINK, HUMP, AT]] == pytest.approx(list(BEST.values()), abs=0.2)
            assert row[[K1, K2, K3, G1, G2, G3]].tolist() == start[[K1, K2, K3, G1, G2, G3]].tolist()
        assert value == pytest.approx(sign * 100.0, abs=1e-4)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_what_a_track_does_not_have_is_not_improved_into(sign: float) -> None:
    """A straight between curves of opposite hand keeps its length; no second change lies before the first.

    Poses in which the vehicles cannot stand are never taken, and ones that are the best already stay.
    """
    start = pose(K1=K, K3=-K, SPAN=50.0, HUMP=8.0, AT=20.0)
    bowl = _Bowl(LEVEL, sign, {"SPAN": 10.0, "HUMP": -5.0, "AT": 57.0}, wall=44.0)
    (row,), (value,) = bowl.improved(np.array([start]), 10.0, sign)
    assert row[[SPAN, HUMP]].tolist() == [24.0, 0.0]
    assert row[AT] == pytest.approx(44.0, abs=0.01)
    assert row[AT] <= 44.0
    assert value == pytest.approx(sign * (100.0 - sign * 1e-3 * (14.0**2 + 5.0**2 + 13.0**2)), abs=1e-3)
    there = pose(K1=K, **BEST)
    (row,), _ = _Bowl(LEVEL, sign, BEST).improved(np.array([there]), 10.0, sign)
    assert row.tolist() == there.tolist()


def test_many_steps_are_taken_before_steps_are_halved() -> None:
    """As long as one step helps it is taken again: 40 steps of 1 mm, where halving at once would end at 2."""
    (row,), _ = _Bowl(LEVEL, 1.0, {"AT": 40.0}).improved(np.array([pose()]), 1.0)
    assert row[AT] == pytest.approx(40.0, abs=0.02)


@pytest.mark.parametrize("gradient", [0.0, 0.04])
def test_the_extreme_poses_come_from_the_worst_of_each_kind(gradient: float) -> None:
    """Up to sixteen kinds, the farthest and the nearest; distances are told as they are.

    Put together with gradients are the worst curves and, besides, those that go on and on.
    """
    limits = TrackLimits(250.0, gradient=gradient)
    begun: list[tuple[np.ndarray, np.ndarray]] = []

    class Noted(_Work):
        def apart(self, rows: np.ndarray) -> np.ndarray:
            return np.where(rows[:, AT] > 150.0, np.nan, 100.0 + rows @ WEIGHTS)

        def improved(
            self, rows: np.ndarray, step: float, sign: np.ndarray | float = 1.0
        ) -> tuple[np.ndarray, np.ndarray]:
            assert step == pytest.approx(200.0 / 12)
            begun.append((rows, np.broadcast_to(sign, len(rows))))
            return rows, sign * self.apart(rows)

    work = Noted(TAIL, HEAD, 24.0, limits)
    found = work.extremes(200.0)
    ((rows, signs),) = begun
    for (told, distances), sign in zip(found, (1.0, -1.0), strict=True):
        assert told.tolist() == rows[signs == sign].tolist()
        assert distances == pytest.approx(work.apart(told))
        scans = [_flat(limits, 200.0)]
        if gradient:
            steep = _steep(limits, 200.0)
            steady = np.array([row for row in scans[0] if len({*row[[K1, K2, K3]]}) == 1])
            plans = [_worst_kinds(one, sign * work.apart(one), 5) for one in (scans[0], steady)]
            heights = _worst_kinds(steep, sign * work.apart(steep), 5)
            scans += [steep, _mixed(np.concatenate(plans), heights, 200.0)]
        best: dict[tuple[float, ...], float] = {}
        for row in np.concatenate(scans):
            off, kind = float(sign * work.apart(row[None])[0]), (*row[[K1, K2, K3, G1, G2, G3]],)
            if not math.isnan(off):
                best[kind] = max(best.get(kind, -math.inf), off)
        by_hand = sorted(best.values(), reverse=True)[:16]
        assert sign * distances == pytest.approx(by_hand)
        kinds = [(*row[[K1, K2, K3, G1, G2, G3]],) for row in told]
        assert len(set(kinds)) == len(kinds) == min(16, len(best))


def test_vehicles_that_a_drawbar_does_not_join_stand_nowhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pins 0.8 µm too near or too far are met; 1.2 µm are not."""
    gaps = np.array([24.0, 24.0008, 23.9992, 24.0012, 23.9988])
    points = np.zeros((5, 3)), np.tile([3.0, 4.0, 12.0], (5, 1))
    monkeypatch.setattr(worst_pose, "_stand_both", lambda *_: (*points, gaps))
    found = _Work(TAIL, HEAD, 24.0, LEVEL).apart(np.array([pose()] * 5))
    assert found[:3].tolist() == [13.0] * 3
    assert np.isnan(found[3:]).all()


@pytest.mark.parametrize(
    ("farther", "words"),
    [(0.0, "in a left-hand curve"), (0.0009, "in a left-hand curve"), (0.01, "entering a left-hand curve")],
)
def test_of_poses_alike_that_on_the_simplest_track_is_told(
    monkeypatch: pytest.MonkeyPatch, farther: float, words: str
) -> None:
    """A joint more is told only where it makes the exits farther apart by a thousandth of a millimetre.

    The nearest pose is that with the least distance, and on the level what its exits are apart in plan.
    """
    joint, plain = pose(K2=K, K3=K, AT=40.0), pose(K1=K, K2=K, K3=K)
    close = np.array([pose(), pose(K1=K, K2=K, K3=K), pose(K1=-K, K2=-K, K3=-K)])
    given = (np.array([joint, plain]), np.array([50.0 + farther, 50.0])), (close, np.array([9.0, 7.0, 8.0]))
    asked = []

    def extremes(self: _Work, reach: float) -> object:
        asked.append(reach)
        return given

    monkeypatch.setattr(_Work, "extremes", extremes)
    found = search.__wrapped__(TAIL, HEAD, 24.0, LEVEL)
    assert found.governing.startswith(words)
    assert (found.longest_mm, found.shortest_mm) == (50.0 + farther if farther > 0.001 else 50.0, 7.0)
    assert asked == pytest.approx([1.1 * _reach(TAIL, HEAD, 24.0)])
    a, b = exit_points(TAIL, HEAD, 24.0, worst_pose._poses(close[1:2]))
    assert found.shortest_level_mm == pytest.approx(math.hypot(*(a - b)[0, :2].tolist()))


@pytest.mark.parametrize("column", [G1, G3])
def test_a_change_of_gradient_is_a_piece_more(monkeypatch: pytest.MonkeyPatch, column: int) -> None:
    """Level track is told before any with a gradient that asks for as much."""
    steep = pose()
    steep[column] = 0.04
    rows = np.array([steep, pose()])
    monkeypatch.setattr(_Work, "extremes", lambda *_: ((rows, np.array([50.0, 50.0])),) * 2)
    assert search.__wrapped__(TAIL, HEAD, 24.0, LEVEL).governing == "straight track"
