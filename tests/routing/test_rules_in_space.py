"""Rules of maps, ways and graphs, each beside points, cells or sets looked at one by one."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.clear_radius import clear_squares
from fitplan.lattice.frame import Frame
from fitplan.model.wiring import Allowances
from fitplan.routing.harness.shared_ways import _at_ports, _corners, _rounded
from fitplan.routing.map import exact_ways
from fitplan.routing.map.bundles import BundleSection, _around_three, _built, stretches, through_rectangle
from fitplan.routing.map.circle_packing import most_in_rectangle
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.narrow_places import Run
from fitplan.routing.map.vehicle_map import REACH_MM, VehicleMap
from fitplan.routing.negotiation.negotiated import NegotiationSettings
from fitplan.routing.negotiation.share_table import ShareTable
from fitplan.routing.trees.branching_cost import splice_wire
from fitplan.routing.trees.tree_map import Terminal
from fitplan.routing.trees.tree_search import least_joints
from fitplan.routing.ways import taut
from fitplan.routing.ways.bend_room import _meeting
from fitplan.routing.ways.preferences import Preferences, preference_cost
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.taut import Tautener
from fitplan.routing.ways.way import Way

# -- ways ----------------------------------------------------------------------------------------------------


def test_a_mirrored_question_has_the_mirrored_way() -> None:
    """Round a block in a flat room one way is as short as the other: seen in a mirror, the other is taken.

    Along each axis, with the room lying in each plane; what is turned about another axis is as it was.
    """
    for along, aside in itertools.permutations(range(3), 2):
        shape = [1, 1, 1]
        shape[along], shape[aside] = 9, 7
        free = np.ones(shape, bool)
        block = [slice(None)] * 3
        block[along], block[aside] = slice(3, 6), slice(2, 5)
        free[tuple(block)] = False
        start, goal = [0, 0, 0], [0, 0, 0]
        start[aside] = goal[aside] = 3
        goal[along] = 8
        plain = WayMap(free).way(start, goal)
        assert plain is not None
        image = plain.voxels.copy()
        image[:, aside] = 6 - image[:, aside]
        for flips in itertools.product((False, True), repeat=3):
            way = WayMap(free).way(start, goal, mirrored=flips)
            assert way is not None
            assert (way.voxels == (image if flips[aside] else plain.voxels)).all(), (along, aside, flips)


def test_of_several_starts_each_will_do() -> None:
    """Whichever of two is free, or is in the goal's room: as a list, as a tuple, and with rooms looked up."""
    free = np.ones((9, 3, 3), bool)
    free[4] = False
    solid, here, beyond, goal = (4, 1, 1), (0, 1, 1), (8, 1, 1), (2, 1, 1)
    for kind, rooms in itertools.product((list, tuple), (True, False)):
        for starts in itertools.permutations((solid, here, beyond)):
            for count in (2, 3):
                some = kind(starts[:count])
                way = WayMap(free).way_between(some, [goal], check_rooms=rooms)
                back = WayMap(free).way_between([goal], some, check_rooms=rooms)
                assert (way is not None) == (here in some) == (back is not None)
                assert way is None or way.start == here


def test_where_wires_are_liked_is_as_far_as_said() -> None:
    """On a floor or at a wall up to the reach, whatever the pitch; nearer than that in any direction."""
    solid = np.zeros((15, 15, 15), bool)
    solid[:, :, 0] = True
    solid[0, :, :] = True
    like = Preferences(floor=1.5, open=2.0, reach=2.4)
    for pitch in (0.4, 0.6, 0.8, 1.2, 2.4, 5.0):
        steps = max(int(2.4 / pitch + 1e-9), 1)
        for turned in (False, True):
            for axis in (0, 1):
                free = ~np.swapaxes(solid, 0, axis)
                if turned:
                    free = np.flip(free, axis)
                cost = preference_cost(free, preferences=like, pitch=pitch)
                cost = np.swapaxes(np.flip(cost, axis) if turned else cost, 0, axis)
                for x, y, z in itertools.product(range(1, 15), (7,), range(1, 15)):
                    wanted = 2.0 if z > steps else 1.5 if x > steps else 1.0
                    assert cost[x, y, z] == wanted, (pitch, axis, turned, x, z)


def test_what_is_too_large_to_be_pulled_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """By the kernel, when it is prepared and when a way is longer than it keeps."""
    answers: dict[str, int] = {"prepare": 0, "points": 0, "is_free": 1}
    kernel = SimpleNamespace(
        put=lambda rows: 0, call=lambda name, *rest: answers[name],
        view=lambda at, shape, kind: np.zeros(shape),
    )  # fmt: skip
    monkeypatch.setattr(taut, "load", lambda name: kernel)
    with pytest.raises(MemoryError, match="too large"):
        Tautener(np.ones((2, 2, 2), bool))
    answers["prepare"] = 1
    pull, points = Tautener(np.ones((2, 2, 2), bool)), np.zeros((2, 3))
    assert pull.is_free(points)
    answers["is_free"] = 0
    assert not pull.is_free(points)
    answers["is_free"] = 2
    with pytest.raises(MemoryError, match="longer than"):
        pull.is_free(points)


def test_outer_pieces_that_meet_a_hair_behind_a_corner_do_not_meet() -> None:
    """A twentieth of a millimetre behind either corner is behind it; as far ahead of both it is not."""
    for ahead_one, ahead_two in itertools.product((-0.05, 0.05), repeat=2):
        tip = np.zeros(3)
        along, back = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
        one, two = tip - ahead_one * along, tip - ahead_two * back
        found = _meeting(one - 5 * along, one, two, two - 5 * back, 0.1)
        if min(ahead_one, ahead_two) < 0:
            assert found is None
        else:
            assert found is not None
            assert found == pytest.approx(tip)


def test_a_grid_for_exact_ways_goes_through_the_first_end_and_covers_both(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Up to the hull, as far as a way of that length can lead; coarser where it had too many points."""
    seen: list[Any] = []

    class SeenError(Exception):
        pass

    def free(lines: Any, *rest: Any) -> Any:
        seen.append((lines, rest))
        raise SeenError

    monkeypatch.setattr(exact_ways, "clear_points", free)
    hull = SimpleNamespace(low=(0.0, 0.0, 0.0), high=(60.0, 30.0, 30.0))
    room: Any = SimpleNamespace(
        vehicle=SimpleNamespace(hull=hull), around=lambda low, high, ends, wide: (low, high, 0.9, 0.5)
    )
    for most, pitch in ((3_000_000, 0.4), (3000, 1.6)):
        monkeypatch.setattr(exact_ways, "MOST_POINTS", most)
        for turned in (False, True):
            way = np.array([(20.1, 14.3, 15.7), (24.0, 18.0, 12.0), (27.3, 13.2, 16.0)])
            way = way[::-1] if turned else way
            with pytest.raises(SeenError):
                exact_ways.shortest_alone(room, way, 1.3)
            lines, (spans, low, high, wide, close) = seen.pop()
            assert spans.shape == (len(lines[0]), len(lines[1]), 2)
            assert (spans[..., 0] < spans[..., 1]).any()
            assert spans.max() <= len(lines[2])
            length = float(np.linalg.norm(np.diff(way, axis=0), axis=1).sum())
            for axis, line in enumerate(lines):
                assert np.diff(line) == pytest.approx(pitch)
                assert np.abs(line - way[0, axis]).min() < 1e-9
                assert line[0] == pytest.approx(low[axis])
                assert high[axis] - pitch < line[-1] <= high[axis] + 1e-9
                # Nothing on a way of that length lies beyond: an end of it is no farther off than half of it.
                outer = (length - np.linalg.norm(way[-1] - way[0])) / 2
                assert line[0] - pitch <= max(way[[0, -1], axis].min() - outer, 0.0) + 1e-9
                assert line[-1] + pitch >= way[[0, -1], axis].max() + outer * 0.5
            assert (wide, close) == pytest.approx((0.9 - exact_ways.SLIP, 0.5 - exact_ways.SLIP))


# -- where wires begin ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(2))
def test_the_nearest_free_voxel_in_sight_is_where_a_wire_begins(seed: int) -> None:
    """Within reach of the pin; of those as near the first; all are looked at, on every side."""
    rng = np.random.default_rng(seed)
    frame = Frame((-3.0, 2.0, 1.0), (24, 22, 20), 0.8)
    unseen = rng.random(frame.shape) < 0.5
    for share in (0.02, 0.3, 0.999):
        free = rng.random(frame.shape) > 1 - share
        for _ in range(6):
            at = tuple(round(float(c), 1) for c in rng.uniform((-3.0, 2.0, 1.0), (16.0, 19.6, 17.0)))
            pin = NetEnd("n", "p", "q", "a", at, "+x")  # type: ignore[arg-type]

            def sight(end: Any, voxels: Any, past_own: bool) -> Any:
                assert past_own == "told"
                return ~unseen[tuple(voxels.T)]

            self: Any = SimpleNamespace(frame=frame, free=free, _in_sight=sight)
            cells = [tuple(cell) for cell in np.argwhere(free & ~unseen).tolist()]
            far = {cell: round(math.dist(frame.center(cell), at), 6) for cell in cells}  # type: ignore[arg-type]
            near = [cell for cell in cells if far[cell] <= REACH_MM]
            best = min(near, key=lambda cell: (far[cell], cell), default=None)
            assert VehicleMap._nearest(self, pin, "told") == best  # type: ignore[arg-type]


# -- wires side by side --------------------------------------------------------------------------------------


def test_rows_carry_no_more_than_is_proved_and_no_less_than_a_grid() -> None:
    """Openings of one to four wires' width, every tenth: in either direction, and at the very figure."""
    sizes = [tenth / 10 for tenth in range(10, 41)]
    for wide, high in itertools.product(sizes, repeat=2):
        count = through_rectangle(wide * 1.3, high * 1.3, 1.3)
        assert math.floor(wide + 1e-6) * math.floor(high + 1e-6) <= count
        assert count <= most_in_rectangle(wide * 1.3, high * 1.3, 1.3)
        if high <= min(wide, 1.8):  # the zigzag is the densest, each next √(1 − b²) farther along
            assert count == math.floor(1 + (wide - 1) / math.sqrt(1 - (high - 1) ** 2) + 1e-7), (wide, high)
    assert through_rectangle(1.3, 1.3, 1.3) == 1
    assert through_rectangle(1.3 - 1e-6, 9.0, 1.3) == 0
    assert through_rectangle(9.0, 1.3 - 1e-6, 1.3) == 0


def test_three_wires_are_built_as_close_as_they_touch_each_other() -> None:
    """Each lies in the hollow of the two before: the circle round all three is Soddy's (Descartes)."""
    for three in itertools.combinations_with_replacement((2.4, 1.9, 1.3, 1.0, 0.6), 3):
        found, least = _built(three), _around_three(*three)
        assert least - 1e-6 <= found <= 1.02 * least


def test_a_wire_of_one_voxel_is_a_stretch_without_length() -> None:
    (one,) = stretches([np.array([(3, 4, 5)], np.int32)], [1.3], 0.8)
    assert (one.runs, one.length_mm, one.diameter) == ((0,), 0.0, 1.3)


def test_a_conflict_among_what_is_built_alone_is_none() -> None:
    """As long as one run that is not built is in it, it is one, and all that meet are named."""
    free = np.zeros((20, 4, 4), bool)
    free[:, 1:3, 1:3] = True
    runs = tuple(Run(f"r{k}", ((0, 1, 1 + k),), ((19, 1, 1 + k),), 1.3) for k in range(2))
    settings = NegotiationSettings(near_ends=1)
    table = ShareTable(free, clear_squares(free), runs, (), 0.8, None, settings)
    for k in range(2):
        table.put(k, Way(np.array([(x, 1, 1 + k) for x in range(20)], np.int32), 15.2, 15.2, 0))
    for held in range(3):
        table.held = held
        assert bool(table.conflicts()) is (held < 2)
        assert all(one.runs == ("r0", "r1") for one in table.conflicts())


# -- stretches -----------------------------------------------------------------------------------------------


def test_a_way_through_three_ports_is_cut_half_way_between_each_two() -> None:
    """Every piece passes its own port, and they follow one another; close together each has a voxel."""

    def told(windows: dict[str, tuple[int, int]], length: int = 40) -> list[tuple[str, int, int]]:
        ports = [SimpleNamespace(name=name) for name in windows]
        map_: Any = SimpleNamespace(
            vehicle=SimpleNamespace(ports=ports), frame=SimpleNamespace(pitch=0.8),
            port_window=lambda port: (slice(*windows[port.name]), slice(0, 3), slice(0, 3)),
        )  # fmt: skip
        way = np.array([(x, 1, 1) for x in range(length)], np.int32)
        section = BundleSection((0,), way, 0.8 * (length - 1), 1.3)
        found = []
        for piece, name in _at_ports(map_, section):
            xs = piece.voxels[:, 0].tolist()
            assert piece.length_mm == pytest.approx(0.8 * (len(xs) - 1))
            found.append((name, xs[0], xs[-1]))
        return found

    assert told({"b": (18, 20), "a": (0, 2), "c": (36, 40)}) == [("a", 0, 9), ("b", 9, 27), ("c", 27, 39)]
    assert told({"a": (5, 7)}) == [("a", 0, 39)]
    assert told({}) == [("", 0, 39)]
    assert told({"a": (60, 70)}) == [("", 0, 39)]
    assert told({"a": (0, 1), "b": (1, 2)}, 3) == [("a", 0, 1), ("b", 1, 2)]


def test_corners_of_a_way_are_where_its_steps_change() -> None:
    rows = [(0, 0, 0), (1, 0, 0), (2, 0, 0), (3, 1, 0), (4, 2, 0), (4, 2, 1), (4, 2, 2)]
    way = np.array(rows, np.int32)
    assert _corners(way).tolist() == [list(rows[k]) for k in (0, 2, 4, 6)]
    assert _corners(way[:3]).tolist() == [[0, 0, 0], [2, 0, 0]]
    for count in (1, 2):
        assert _corners(way[:count]).tolist() == [list(row) for row in rows[:count]]
    assert _rounded([(1.00006, 2.00004, 3.123449)]) == ((1.0001, 2.0, 3.1234),)


# -- graphs --------------------------------------------------------------------------------------------------


def test_joints_cost_the_least_of_all_that_a_tree_can_have() -> None:
    """So many branches at pins as take further wires, or in the cheapest splices: all are tried."""
    for further, price, branches in itertools.product((0, 3, 8), (0, 3, 5), range(5)):
        for wires in itertools.product((1, 2, 3), repeat=2):
            map_: Any = SimpleNamespace(further=further, least_price=lambda price=price: price)
            terminals = [Terminal(((0, 0, 0),), n) for n in wires]
            most = min(sum(n - 1 for n in wires), branches)
            every = [k * further + (branches - k) * price for k in range(most + 1)]
            wanted = min(every) if price else most * further
            assert least_joints(map_, terminals, branches) == wanted
    assert splice_wire(Allowances(splice_overlap=7.0)) == 21.0


def test_what_is_built_far_from_the_maps_corner_gives_way_there() -> None:
    """In a wide free room the way aside is straight from its start to its goal, whatever the line does."""
    free = np.ones((40, 24, 22), bool)
    run = Run("r", ((15, 12, 11),), ((30, 12, 11),), 1.3)
    table = ShareTable(free, clear_squares(free), (run,), (), 0.8, None, NegotiationSettings())
    rows = [(15 + k, 12 + min(k, 15 - k, 3), 11) for k in range(16)]
    line = Way(np.array(rows, np.int32), 20.0, 20.0, 0)
    table.hold([line])
    way = table._way_aside(0)
    assert way.voxels.tolist() == [[15 + k, 12, 11] for k in range(16)]


@pytest.mark.parametrize("out", ["+x", "-x", "+y", "-y"])
def test_behind_a_port_wires_lie_as_in_it_as_far_as_all_of_it_goes_on_free(out: Any) -> None:
    """Layer by layer inwards, as deep as the bundle is thick, up to the first that is not all free."""
    axis, forwards = "xy".index(out[1]), out[0] == "+"
    for deep, blocked, depth in itertools.product((0.0, 0.5, 0.8, 2.0, 3.3), (None, 1, 2, 4), (0, 1)):
        free = np.ones((9, 9, 6), bool)
        window = [slice(2, 5), slice(2, 5), slice(1, 4)]
        window[axis] = slice(8 - depth, 9) if forwards else slice(0, 1 + depth)
        inner = 8 - depth if forwards else depth
        layers = [inner + (-k if forwards else k) for k in range(1, math.ceil(deep / 0.8 - 1e-9) + 1)]
        if blocked is not None:
            wall = [3, 3, 2]
            wall[axis] = inner + (-blocked if forwards else blocked)
            free[tuple(wall)] = False
            layers = layers[: blocked - 1]
        self: Any = SimpleNamespace(
            free=free, frame=SimpleNamespace(pitch=0.8), port_window=lambda port, w=window: tuple(w)
        )
        found = VehicleMap._behind(self, SimpleNamespace(out=out), deep)  # type: ignore[arg-type]
        wanted = set()
        for layer in layers:
            for cell in itertools.product(range(2, 5), range(2, 5), range(1, 4)):
                wanted.add(tuple(layer if k == axis else c for k, c in enumerate(cell)))
        assert {tuple(cell) for cell in found.tolist()} == wanted
        assert len(found) == len(wanted)
