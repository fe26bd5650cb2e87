"""Corners of wires by right angles and by every point; what stands in the way of wires that stay."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.as_built import BuiltEnd, BuiltLeg, BuiltWire
from fitplan.model.wiring_facts import HOOK_UP_DIAMETERS
from fitplan.routing.map.bundles import _lattice_ratio
from fitplan.routing.negotiation.kept_wires import _GRAZES_MM, _along, _any_inside, _Standing
from fitplan.routing.ways.bend_room import (
    _arc_middle,
    _between_ends,
    _farthest_off,
    _meeting,
    _off_chain,
    sharp_corners,
    smoothed,
    unchamfered,
)

SEEDS = range(20)
ACROSS = math.sqrt(2) - 1
"""How far an arc of radius 1 in a right angle stays off its corner."""


def off_piece(point: np.ndarray, one: np.ndarray, two: np.ndarray) -> float:
    """Distance of a point from a piece, by looking at many points of it."""
    share = np.linspace(0, 1, 2001)[:, None]
    return float(np.linalg.norm(one + share * (two - one) - point, axis=1).min())


@pytest.mark.parametrize("seed", SEEDS)
def test_small_steps_are_smoothed_as_far_as_all_that_go_lie_near(seed: int) -> None:
    """What goes lies near the piece that is left, and no other corner could go."""
    rng = np.random.default_rng(seed)
    count = 2 + seed % 7
    points = np.cumsum(rng.uniform(-0.6, 3.0, (count, 3)) * [1.0, 0.3, 0.3], axis=0)
    aside = 0.5
    left = smoothed(points, aside)
    kept = [int(np.flatnonzero((points == row).all(axis=1))[0]) for row in left]
    assert kept[0] == 0
    assert kept[-1] == count - 1
    assert kept == sorted(kept)
    for a, b in itertools.pairwise(kept):
        assert all(off_piece(points[k], points[a], points[b]) <= aside + 1e-3 for k in range(a + 1, b))
    for a, _, b in zip(kept, kept[1:], kept[2:], strict=False):
        assert max(off_piece(points[k], points[a], points[b]) for k in range(a + 1, b)) > aside
    middle = np.array([(0.0, 0.0, 0.0), (4.0, 0.5, 0.0), (8.0, 0.0, 0.0)])
    assert len(smoothed(middle, 0.5)) == 2
    assert len(smoothed(middle, 0.49)) == 3


def test_how_far_points_lie_off() -> None:
    """Beside the piece at right angles, beyond its ends from these; of a chain from its nearest piece."""
    rng = np.random.default_rng(2)
    for _ in range(30):
        chain = rng.uniform(-5, 5, (4, 3))
        wanted = max(off_piece(point, chain[0], chain[-1]) for point in chain[1:-1])
        assert _farthest_off(chain) == pytest.approx(wanted, abs=5e-3)
        point = rng.uniform(-6, 6, 3)
        wanted = min(off_piece(point, a, b) for a, b in itertools.pairwise(chain))
        assert _off_chain(point, chain) == pytest.approx(wanted, abs=5e-3)
    spot = np.array([1.0, 1.0, 1.0])
    assert _off_chain(spot + np.array([3.0, 4.0, 0.0]), np.array([spot, spot])) == pytest.approx(5.0)
    assert _farthest_off(np.array([spot, spot + np.array([0.0, 2.0, 0.0]), spot])) == pytest.approx(2.0)


@pytest.mark.parametrize("chamfer", [1.0, 2.0, 3.0])
@pytest.mark.parametrize("sign", [-1, 1])
def test_a_chamfered_right_angle_is_one_corner_where_its_arc_passes_by(chamfer: float, sign: int) -> None:
    """The arc of radius r stays r(√2 − 1) off the corner, the chamfer c/√2: the difference is what counts."""
    points = np.array(
        [(0.0, 0.0, 0.0), (20.0 - chamfer, 0.0, 0.0), (20.0, chamfer * sign, 0.0), (20.0, 20.0 * sign, 0.0)]
    )
    radius = 2.4
    gap = abs(radius * ACROSS - chamfer / math.sqrt(2))
    found = unchamfered(points, gap + 1e-6, radius)
    assert found == pytest.approx(np.array([(0.0, 0.0, 0.0), (20.0, 0.0, 0.0), (20.0, 20.0 * sign, 0.0)]))
    assert len(unchamfered(points, gap - 1e-6, radius)) == 4
    # Two pieces that lie askew meet in the middle between them, as long as they pass near enough.
    lifted = points + np.array([0.0, 0.0, 1.0]) * np.array([0, 0, 1, 1])[:, None]
    meeting = _meeting(*lifted, 1.0 + 1e-9)
    assert meeting == pytest.approx(np.array([20.0, 0.0, 0.5]))
    assert _meeting(*lifted, 0.999) is None


def test_pieces_that_do_not_meet_beyond_the_inner_one() -> None:
    """Parallel ones, and a step that turns back: where they would meet lies behind a corner."""
    step = np.array([(0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (12.0, 2.0, 0.0), (22.0, 2.0, 0.0)])
    assert _meeting(*step, 9.0) is None
    back = np.array([(0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (5.0, 5.0, 0.0), (5.0, 9.0, 0.0)])
    assert _meeting(*back, 9.0) is None
    for turn in (30.0, 60.0, 90.0, 150.0):
        angle = math.radians(turn)
        corner = np.array([10.0, 0.0, 0.0])
        after = corner + 10 * np.array([math.cos(angle), math.sin(angle), 0.0])
        middle = _arc_middle(np.zeros(3), corner, after, 3.0)
        # The arc's middle is r / cos(half the turn) − r off the corner, on the inner side (textbook).
        assert math.dist(middle, corner) == pytest.approx(3.0 / math.cos(angle / 2) - 3.0)
        assert math.dist(middle, np.zeros(3)) == pytest.approx(math.dist(middle, after))
        assert middle[0] < 10.0


@pytest.mark.parametrize("seed", SEEDS)
def test_corners_near_held_ends_are_bent_by_hand(seed: int) -> None:
    """Every corner no farther along the way than asked from a held end is cut off, but one piece stays."""
    rng = np.random.default_rng(seed)
    steps = rng.integers(1, 4, 6).astype(float)
    chain = np.concatenate(
        [[(0.0, 0.0, 0.0)], np.cumsum(steps[:, None] * np.eye(3)[np.arange(6) % 3], axis=0)]
    )
    along = np.concatenate([[0.0], np.cumsum(steps)])
    near = 4.0
    for held in itertools.product((False, True), repeat=2):
        way, cut = _between_ends(chain, near, held)
        first = max((k for k in range(1, 6) if held[0] and along[k] <= near), default=0)
        last = min((k for k in range(first + 1, 6) if held[1] and along[-1] - along[k] <= near), default=6)
        assert way == pytest.approx(chain[first : last + 1])
        assert cut == {k for k in range(1, 6) if k <= first or k >= last}
    short = chain[:3]
    way, cut = _between_ends(short, 100.0, (True, True))
    assert (len(way), cut) == (2, {1})


@pytest.mark.parametrize("leg", [1.9, 2.1, 30.0])
@pytest.mark.parametrize("held", [(False, False), (True, False), (False, True)])
def test_a_right_angle_has_room_for_the_shorter_of_its_pieces(leg: float, held: tuple[bool, bool]) -> None:
    """An arc begins as far before a right angle as it is wide: two diameters of 1 mm ask for 2 mm."""
    points = [(0.0, 0.0, 0.0), (30.0, 0.0, 0.0), (30.0, leg, 0.0)]
    sharp = [(30.0, 0.0, 0.0)] if leg < HOOK_UP_DIAMETERS and not held[1] else []
    assert sharp_corners(points, 1.0, held) == sharp
    turned = [(z, x, y) for x, y, z in reversed(points)]
    assert sharp_corners(turned, 1.0, held[::-1]) == [(0.0, 30.0, 0.0)] * len(sharp)


@pytest.mark.parametrize("count", [*range(1, 70), 120])
def test_discs_on_a_lattice_about_its_three_middles(count: int) -> None:
    """About a point, an edge's middle or a triangle's: squares of distances are whole twelfths, counted."""
    span = range(-15, 16)
    best = math.inf
    for u, v in ((0, 0), (3, 0), (2, 2)):
        # Middle at (u e1 + v e2) / 6, e1 and e2 at 60°: |x e1 + y e2|² = x² + xy + y² (textbook).
        squares = sorted(
            (6 * i - u) ** 2 + (6 * i - u) * (6 * j - v) + (6 * j - v) ** 2 for i in span for j in span
        )
        best = min(best, math.sqrt(squares[count - 1]) / 6)
    assert _lattice_ratio(count) == pytest.approx(2 * best + 1)


# -- wires that stay -----------------------------------------------------------------------------------------

WAY = ((0.0, 20.0, 0.0), (0.0, 20.0, 6.0), (40.0, 20.0, 6.0), (40.0, 20.0, 0.0))


def standing(solid: list[tuple[float, ...]], fresh: list[tuple[float, ...]], image: bool = False) -> Any:
    room = SimpleNamespace(without_hands=SimpleNamespace(boxes=np.array(solid).reshape(-1, 6)))
    map_ = SimpleNamespace(exact=room, vehicle=SimpleNamespace(width=56.0))
    return SimpleNamespace(
        _maps={"a": map_},
        _images=frozenset({"a"} if image else ()),
        _diameters={"n": 1.0},
        _fresh={"a": np.array(fresh).reshape(-1, 6)},
    )


def wire(start: Any, end: Any, *legs: tuple[tuple[float, float, float], ...]) -> BuiltWire:
    ends = (BuiltEnd(start, "p", "1"), BuiltEnd(end, "q", "1"))
    return BuiltWire(1, "n", "red", 28, 60.0, *ends, tuple(BuiltLeg("a", leg) for leg in legs))


def box(x: float, z: float, y: float = 20.0, half: float = 1.0) -> tuple[float, ...]:
    return (x - half, y - half, z - half, x + half, y + half, z + half)


@pytest.mark.parametrize("image", [False, True])
def test_what_stands_in_a_wires_way_counts_but_round_its_pins(image: bool) -> None:
    """Solids and new parts on the way, not beside it; at lead-outs of pins only where these are none."""
    y = 56.0 - 20.0 if image else 20.0

    def clear(made: BuiltWire, number: int, solid: list[Any] = [], fresh: list[Any] = []) -> bool:  # noqa: B006
        return _Standing._clear(standing(solid, fresh, image), made, number, made.legs[number])

    for start, end in itertools.product(("pin", "splice"), repeat=2):
        one = wire(start, end, WAY)
        assert clear(one, 0)
        assert not clear(one, 0, solid=[box(20.0, 6.0, y)])
        assert not clear(one, 0, fresh=[box(20.0, 6.0)])
        assert clear(one, 0, solid=[box(20.0, 9.0, y)], fresh=[box(20.0, 9.0)])
        for at, kind in ((0.0, start), (40.0, end)):
            assert clear(one, 0, solid=[box(at, 2.0, y)]) == (kind == "pin")
            assert clear(one, 0, fresh=[box(at, 2.0)]) == (kind == "pin")
    # Of several legs only the outer ones end in pins; one of two points has no lead-out of its own.
    three = wire("pin", "pin", WAY, WAY, WAY)
    for number, (first, last) in enumerate(((True, False), (False, False), (False, True))):
        assert clear(three, number, solid=[box(0.0, 2.0, y)]) == first
        assert clear(three, number, solid=[box(40.0, 2.0, y)]) == last
    assert not clear(wire("pin", "pin", WAY[:2]), 0, solid=[box(0.0, 2.0, y)])
    # New parts are kept off by half the wire, solids are only not to be cut.
    straight = wire("splice", "splice", WAY[1:3])
    for more, is_clear in ((-0.06, False), (-0.04, True)):
        assert clear(straight, 0, fresh=[box(20.0, 6.0 + 1.5 + more)]) == is_clear
        assert clear(straight, 0, solid=[box(20.0, 6.0 + 1.0 + more, y)]) == is_clear
    assert _GRAZES_MM == 0.05


@pytest.mark.parametrize("seed", SEEDS)
def test_points_along_a_way_and_boxes_round_any_of_them(seed: int) -> None:
    """Corners are among them, none is farther from the next than a step, and all lie on the way, in order."""
    rng = np.random.default_rng(seed)
    way = rng.uniform(0, 10, (4, 3))
    points = _along(way, 0.7)
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    length = float(np.linalg.norm(np.diff(way, axis=0), axis=1).sum())
    assert steps.max() <= 0.7 + 1e-9
    assert steps.sum() == pytest.approx(length)
    assert len(points) <= length / 0.7 + 4
    for corner in way:
        assert np.linalg.norm(points - corner, axis=1).min() < 1e-9
    boxes = np.sort(rng.uniform(0, 10, (3, 2, 3)), axis=1).reshape(-1, 6)
    for more in (-0.3, 0.0, 0.8):
        wanted = any(
            all(b[k] - more < p[k] < b[k + 3] + more for k in range(3)) for b in boxes for p in points
        )
        assert _any_inside(points, boxes, more) == wanted
    assert not _any_inside(points[:0], boxes, 1.0)
    assert not _any_inside(points, boxes[:0], 1.0)
