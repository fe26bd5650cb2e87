"""Which shorter ways are told, and for what; parts of ways in either order; long chains of places."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.routing.harness.shared_ways import _along, _piece
from fitplan.routing.map.topology import Portal, Segment
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation import tightened
from fitplan.routing.negotiation.detours import TOLD_MM
from fitplan.routing.negotiation.layout import LaidDetour, Pulled
from fitplan.routing.negotiation.tightened import WORTH_GAP_MM, _told
from fitplan.routing.trees.chain_orders import MOST_EXACT, chain_order
from tests.packing.small_trains import hollow

from .test_shared_ways import centre, told

Points = tuple[tuple[float, float, float], ...]


def bent(length: float) -> Points:
    """Return a way of this length between ends 20 mm apart."""
    high = math.sqrt((length / 2) ** 2 - 100.0)
    return ((0.0, 0.0, 0.0), (10.0, 0.0, high), (20.0, 0.0, 0.0))


def asked(
    monkeypatch: pytest.MonkeyPatch,
    before: float | None,
    alone: list[tuple[str, float | None]],
    compare: bool = True,
) -> tuple[str, float, Points] | None:
    """Return what is told of a way of 30 mm: a shorter one known before, and those found alone."""
    ways = [(why, None if length is None else bent(length)) for why, length in alone]
    monkeypatch.setattr(tightened, "_drawn", lambda points, *_: points)
    monkeypatch.setattr(tightened, "_alone", lambda *_: iter(ways))
    known = None if before is None else LaidDetour("before", 1.0, bent(before))
    one: Any = SimpleNamespace(segment=None)
    map_: Any = SimpleNamespace(exact=None)
    found = _told(Pulled(bent(30.0), 30.0, 30.0, ()), one, known, map_, 1.0, compare=compare)
    return None if found is None else (found.why, found.more_mm, found.shortest)


def test_a_shorter_way_is_told_from_so_many_millimetres_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was known before from a tenth on, what is found alone from three tenths on; none where none is."""
    for less, found in ((TOLD_MM - 0.01, False), (TOLD_MM + 0.01, True)):
        assert (asked(monkeypatch, 30.0 - less, []) is not None) is found
    for less, found in ((WORTH_GAP_MM - 0.01, False), (WORTH_GAP_MM + 0.01, True)):
        assert (asked(monkeypatch, None, [("gap", 30.0 - less)]) is not None) is found
        assert (asked(monkeypatch, 30.0, [("gap", 30.0 - less)]) is not None) is found
    assert asked(monkeypatch, None, []) is None
    assert asked(monkeypatch, None, [("gap", None)]) is None
    assert asked(monkeypatch, None, [("gap", 25.0)], compare=False) is None
    assert asked(monkeypatch, 28.0, [("gap", 25.0)], compare=False) == ("before", 2.0, bent(28.0))


def test_of_several_reasons_the_one_that_takes_most_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each takes what its way is shorter than the shortest before it; told is what all take together."""
    assert asked(monkeypatch, 29.0, [("gap", None), ("hands", 25.0)]) == ("hands", 5.0, bent(25.0))
    assert asked(monkeypatch, 26.0, [("gap", 25.0), ("hands", 25.1)]) == ("before", 5.0, bent(25.0))
    assert asked(monkeypatch, None, [("gap", 28.5), ("hands", 28.0)]) == ("gap", 2.0, bent(28.0))
    # Two ways of one kind count together.
    assert asked(monkeypatch, 28.4, [("gap", 27.4), ("gap", 26.4)]) == ("gap", 3.6, bent(26.4))


# -- parts of ways -------------------------------------------------------------------------------------------

WAY = np.array([(100.0, 0.0, 0.0), (110.0, 0.0, 0.0), (110.0, 30.0, 0.0)])


@pytest.mark.parametrize(
    ("start", "end", "points"),
    [
        ((102, 1, 0), (108, 1, 0), [(102, 0, 0), (108, 0, 0)]),
        ((108, 1, 0), (102, 1, 0), [(108, 0, 0), (102, 0, 0)]),
        ((111, 4, 0), (111, 20, 0), [(110, 4, 0), (110, 20, 0)]),
        ((111, 20, 0), (111, 4, 0), [(110, 20, 0), (110, 4, 0)]),
        ((103, 1, 0), (112, 9, 0), [(103, 0, 0), (110, 0, 0), (110, 9, 0)]),
        ((112, 9, 0), (103, 1, 0), [(110, 9, 0), (110, 0, 0), (103, 0, 0)]),
        ((90, 0, 0), (110, 40, 0), [(100, 0, 0), (110, 0, 0), (110, 30, 0)]),
    ],
)
def test_a_part_of_a_way_goes_from_one_spot_to_the_other(start: Any, end: Any, points: Any) -> None:
    found = _piece(WAY, np.array(start, float), np.array(end, float))
    assert found.tolist() == [list(map(float, point)) for point in points]


def test_how_far_a_spot_is_from_a_way() -> None:
    """By the nearest of its pieces, the first where two are as near; a piece without length is a point."""
    for spot, far, piece, point in (
        ((105, 3, 0), 3.0, 0, (105, 0, 0)),
        ((113, 7, 4), 5.0, 1, (110, 7, 0)),
        ((110, -2, 0), 2.0, 0, (110, 0, 0)),
        ((97, 0, 4), 5.0, 0, (100, 0, 0)),
    ):
        found = _along(WAY, np.array(spot, float))
        assert (found[0], found[1], found[2].tolist()) == (far, piece, list(map(float, point)))
    still = np.array([(1.0, 2.0, 3.0)] * 2)
    assert _along(still, np.array([1.0, 2.0, 7.0]))[0] == 4.0


def test_wires_share_a_way_only_where_each_keeps_to_the_others() -> None:
    """One goes straight, one round a corner far off: that the ends lie on both is not enough."""
    start, corner, end = (20, 20, 30), (20, 60, 30), (120, 60, 30)
    straight, round_ = (centre(start), centre(end)), (centre(start), centre((120, 20, 30)), centre(end))
    for first, second in ((straight, round_), (round_, straight)):
        found = told(((start, corner, end), first), ((start, corner, end), second))
        assert [stretch.wires for stretch in found] == [(1,), (2,)]


# -- chains --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_long_chains_keep_at_their_ends_what_must_be_there(seed: int) -> None:
    """Places on a line, more than are solved exactly: in their order, however they are numbered.

    What may not lie between two others is an end of the chain, though a shorter one would have it inside.
    """
    rng = np.random.default_rng(seed)
    count = MOST_EXACT + 2 + seed
    at = rng.permutation(count).astype(float) * 7.0
    lengths = np.abs(at[:, None] - at[None])
    order = chain_order(lengths)
    assert sorted(order) == list(range(count))
    assert sum(lengths[a, b] for a, b in itertools.pairwise(order)) == 7.0 * (count - 1)
    middle = int(np.flatnonzero(at == 7.0 * (count // 2))[0])
    inner = np.where(np.arange(count) == middle, np.inf, 0.0)
    ended = chain_order(lengths, inner)
    assert middle in (ended[0], ended[-1])
    # Where lengths are tiny against a millimetre as well, and where none is known.
    tiny = chain_order(lengths / 1e4, inner)
    assert middle in (tiny[0], tiny[-1])


# -- pieces --------------------------------------------------------------------------------------------------


def test_a_way_through_two_ports_is_cut_half_way_between_them() -> None:
    """Straight through both holes of a box: the stretches at its two ends are as long as each other."""
    map_ = VehicleMap.of("v", hollow("v", 16, 8, 14), (), frozenset())
    low = map_.mouth(map_.vehicle.ports[1])[0]
    high = (map_.mouth(map_.vehicle.ports[0])[0][0], low[1], low[2])
    one, other = told(((low, high), (centre(low), centre(high))))
    assert one.length_mm == pytest.approx(other.length_mm, abs=1.7)  # two voxels


@pytest.mark.parametrize("count", [2, 3, 4])
def test_what_has_a_corner_between_its_lead_outs_is_drawn_tight(count: int) -> None:
    """From portal to portal all points count; of two there is nothing to draw."""
    points = tuple((float(k), 1.0, 0.0) for k in range(count))
    line = np.array([points[0], points[-1]])
    map_: Any = SimpleNamespace(exact=SimpleNamespace(tightened=lambda way, diameter: line))
    ends = Portal("n", 0, 1), Portal("n", 1, 1)
    found = tightened._drawn(points, Segment("n", "a", *ends), map_, 1.0)
    assert found == (points if count < 3 else (points[0], points[-1]))
