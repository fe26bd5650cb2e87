"""Numbers of wires laid anew, lanes of built ones, searches that end at their limit, ways near built ones."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.as_built import AsBuilt, BuiltEnd, BuiltLeg, BuiltWire
from fitplan.model.wiring_facts import HOOK_UP_DIAMETERS
from fitplan.routing.harness import colours
from fitplan.routing.harness.chains import PassedSegment
from fitplan.routing.harness.harness import _name, _numbers, _splice_names
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.exact_ways import SLIP, shortest_alone
from fitplan.routing.map.topology import Portal, Segment, SpliceSpot
from fitplan.routing.negotiation.kept_wires import _Standing
from fitplan.routing.negotiation.layout import KeptLayout, LaidSegment
from fitplan.routing.negotiation.share_table import ASIDE
from fitplan.routing.trees import voxel_trees
from fitplan.routing.trees.tree_map import Terminal
from fitplan.routing.ways.bend_room import sharp_corners, unchamfered
from fitplan.routing.ways.bends import room_at_corners
from fitplan.routing.ways.way import Way

from .test_exact_ways import OVER, RADIUS, length, room
from .test_share_table import SHAPE, dijkstra, table_of

NOWHERE = np.zeros((0, 3), dtype=np.int32)


def pin(owner: str) -> NetEnd:
    return NetEnd("n", owner, "p0", "a", (0.0, 0.0, 0.0), "+x")


def built(number: int, one: str, other: str, net: str = "n", kind: str = "pin") -> BuiltWire:
    ends = (BuiltEnd("pin", one, "p0"), BuiltEnd(kind, other, "p0" if kind == "pin" else ""))  # type: ignore[arg-type]
    legs = (BuiltLeg("a", ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0))),)
    return BuiltWire(number, net, "RD", 28, 9.0, *ends, legs)


def link(start: Any, end: Any, net: str = "n") -> PassedSegment:
    return PassedSegment(LaidSegment(Segment(net, "a", start, end), NOWHERE, (), NOWHERE), True)


# -- numbers and names ---------------------------------------------------------------------------------------


def test_a_wire_between_the_same_ends_takes_the_number_of_the_one_it_replaces() -> None:
    """Whichever way round, in the same net, and once; what stays keeps its own, new ones come after all."""
    spot = SpliceSpot("n", "a", (1, 2, 3))
    chains = [
        (link(pin("p"), pin("q")),),
        (link(pin("q"), pin("r")),),  # built as r to q
        (link(pin("p"), pin("s")),),  # stays
        (link(pin("p"), pin("t"), net="m"),),  # built in another net
        (link(pin("q"), pin("r")),),  # one more between the same ends
        (link(pin("p"), spot),),  # to a splice that stays
    ]
    wires = (
        built(3, "p", "q"), built(5, "r", "q"), built(6, "p", "s"), built(7, "p", "t"),
        built(9, "p", "S2", kind="splice"), built(11, "u", "v"),
    )  # fmt: skip
    kept = KeptLayout(wires={id(chains[2][0].laid): wires[2]}, splices={spot: "S2"})
    train: Any = SimpleNamespace(as_built=AsBuilt(wires=wires))
    found = _numbers(chains, SimpleNamespace(kept=kept), train)  # type: ignore[arg-type]
    assert found == [3, 5, 6, 12, 13, 9]
    # Of two that are gone between the same ends the first gives its number.
    doubled: Any = SimpleNamespace(as_built=AsBuilt(wires=(built(4, "p", "q"), built(2, "q", "p"))))
    assert _numbers(chains[:1], SimpleNamespace(kept=KeptLayout()), doubled) == [4]  # type: ignore[arg-type]


def test_ends_are_called_as_they_are_on_labels() -> None:
    portal, spot = Portal("n", 1, 2), SpliceSpot("n", "a", (1, 2, 3))
    new: Any = SimpleNamespace(kept=KeptLayout())
    kept = KeptLayout(splices={spot: "S4"}, couplings={1: "J2"}, cavities={portal: 3})
    there: Any = SimpleNamespace(kept=kept)
    assert [_name(node, new) for node in (pin("p"), portal, spot)] == [("p", "p0"), ("", ""), ("", "")]
    assert [_name(node, there) for node in (pin("p"), portal, spot)] == [("p", "p0"), ("J2", "3"), ("S4", "")]


def test_splices_are_numbered_in_order_beside_those_that_stay() -> None:
    """Each once, at either end of a wire; a number that is given already is passed over."""
    spots = [SpliceSpot("n", "a", (k, 0, 0)) for k in range(4)]
    chains = [
        (link(pin("p"), spots[0]),),
        (link(spots[0], pin("q")), link(pin("q"), spots[1])),
        (link(spots[2], spots[3]),),
    ]
    assert _splice_names(chains, {spots[2]: "S1", SpliceSpot("m", "b", (0, 0, 0)): "S3"}) == {
        spots[0]: "S2", spots[1]: "S4", spots[2]: "S1", spots[3]: "S5",
    }  # fmt: skip


@pytest.mark.parametrize("leaves", [True, False])
def test_lanes_of_built_wires_are_nobody_elses(leaves: bool) -> None:
    """Below zero, as new lanes are numbered from 1; both wires of a cavity have one, others never."""
    legs = tuple(BuiltLeg(name, ()) for name in ("a", "b", "c"))
    self: Any = SimpleNamespace(_beyond=lambda leg, leaves: "b", _order={"a": 0, "b": 1, "c": 2})
    lanes = set()
    for number in (1, 2, 3):
        for place in (0, 1, 2):
            ends = BuiltEnd("connector", "J1", "1"), BuiltEnd("connector", "J1", "2")
            wire = BuiltWire(number, "n", "RD", 28, 9.0, *ends, legs)
            at = _Standing._portal(self, wire, place, legs[0], leaves)
            last = place == (2 if leaves else 0)
            assert at.coupling == 0
            assert at.lane < 0
            cavity = 2 if leaves else 1
            assert at.lane == (-2 * cavity - 1 if last else -2 * number)
            lanes.add(at.lane)
    assert len(lanes) == 4


# -- limits --------------------------------------------------------------------------------------------------


def test_colours_that_are_not_found_in_time_are_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """A ring of six needs six choices for two colours; where fewer may be tried, none is given at all."""
    names = "abcdef"
    beside = {one: {names[(k + 1) % 6], names[k - 1]} for k, one in enumerate(names)}
    nets: Any = dict.fromkeys(names, "signal")
    for tries in range(9):
        monkeypatch.setattr(colours, "_TRIES", tries)
        found = colours._apart(nets, beside, {}, ["YE", "BU"])
        assert set(found) == (set(names) if tries >= 6 else set())
        assert all(found[one] != found[other] for one in found for other in beside[one])


def test_terminals_where_others_may_meet_bound_a_large_tree(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those of three wires, and of two wires over joined pins: no tree of the others alone is a bound."""
    asked = []

    class AskedError(Exception):
        pass

    def noted(between: Any, chosen: Any, size: int) -> list[int]:
        asked.append((list(chosen), size))
        raise AskedError

    monkeypatch.setattr(voxel_trees, "_spread_out", noted)
    monkeypatch.setattr(voxel_trees, "least_joints", lambda *_: 0)
    spot, other = (0, 0, 0), (1, 0, 0)
    kinds = [Terminal((spot,), 1), Terminal((spot,), 2), Terminal((spot, other), 2), Terminal((spot,), 3)]
    kinds += [Terminal((spot, other), 1), Terminal((spot,), 4)]
    terminals = (kinds * 3)[: voxel_trees.MOST_EXACT + 1]
    between = np.ones((len(terminals), len(terminals)), np.uint32)
    with pytest.raises(AskedError):
        voxel_trees.least_cost(None, terminals, [], between, 100)  # type: ignore[arg-type]
    assert asked == [([2, 3, 5, 8, 9, 11], 10)]
    # Where more of them would be held than a search bears, the simple bound is all there is.
    many = [Terminal((spot,), 3)] * (voxel_trees.MOST_EXACT + 1)
    least, tree = voxel_trees.least_cost(None, many, [], between, 100)  # type: ignore[arg-type]
    assert (least, tree) == (len(many) // 2, None)


# -- corners -------------------------------------------------------------------------------------------------


def test_a_corner_is_sharp_by_any_lack_of_room() -> None:
    """With pieces of every length between 1.8 and 2.3 mm: where the arc has less than two diameters."""
    close = 0
    for short in np.linspace(1.8, 2.3, 51):
        points = [(0.0, 0.0, 0.0), (30.0, 0.0, 0.0), (30.0, short, 0.0)]
        (radius,) = room_at_corners(np.array(points), HOOK_UP_DIAMETERS).values()
        assert bool(sharp_corners(points, 1.0, (False, False))) is (radius < HOOK_UP_DIAMETERS * (1 - 1e-9))
        close += HOOK_UP_DIAMETERS - 0.1 < radius < HOOK_UP_DIAMETERS
    assert close


@pytest.mark.parametrize("turned", [False, True])
def test_a_chamfer_is_held_against_its_own_pieces_alone(turned: bool) -> None:
    """The arc in its corner would lie on a piece farther off, which leads past there: that is no help."""
    radius, aside = 1.0, 0.4
    own = [(-9.0, 0.0, 0.0), (0.0, 0.0, 0.0), (3.0, 3.0, 0.0), (3.0, 12.0, 0.0)]
    arc = (3.0 - (math.sqrt(2) - 1) / math.sqrt(2), (math.sqrt(2) - 1) / math.sqrt(2), 0.0)
    # From the first point on through the middle of that arc.
    past = tuple(a + 2 * (b - a) for a, b in zip(own[0], arc, strict=True))
    chain = np.array([(*past[:2], 9.0), past, *own])
    chain = chain[::-1] if turned else chain
    found = unchamfered(chain, aside, radius)
    assert found.tolist() == chain.tolist()


# -- ways ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("low", [9.6, 12.4])
def test_a_gap_to_the_other_side_of_the_ends_is_found_as_well(low: float) -> None:
    """A slot of 1.5 mm to the right of the ends: past its left edge, at its radius less 0.04."""
    found = shortest_alone(room(1.5, low), OVER, 2 * RADIUS)
    assert found is not None
    outside = 2 * math.hypot(27.0, 20.0 - (low + 1.5 - RADIUS + SLIP)) + 2.0
    assert outside - 0.5 < length(found) <= outside + 0.1


@pytest.mark.parametrize("seed", [3, 10])
def test_what_is_built_gives_way_to_the_cheapest_close_by(seed: int) -> None:
    """No farther off than the corridor, from its starts to its goals, at present prices (Dijkstra)."""
    table, *_ = table_of(seed)
    for index in range(5):
        table.route(index)
    lines = [way for way in table.ways if way is not None]
    assert len(lines) == 5
    table.hold(lines[:3])
    moved = 0
    for index in range(3):
        table._take(index)
        way = table._way_aside(index)
        cells = np.unravel_index(table.corridors[index], SHAPE)
        line = lines[index].voxels
        near = np.abs(line[:, None] - np.stack(cells, axis=-1)[None]).max(axis=2).min(axis=0)
        assert near.max() <= 2 * ASIDE
        inside = np.zeros(SHAPE, bool)
        inside[cells] = True
        open_ = inside & table.fields[table.kind[index]].free
        own = np.intersect1d(table.ends[index], table.corridors[index])
        open_[np.unravel_index(own, SHAPE)] = True
        price = np.full(SHAPE, np.inf)
        price[cells] = table._cost_of(table.corridors[index], table.kind[index])
        run = table.runs[index]
        best = min(dijkstra(open_, price, a, b) for a in run.starts for b in run.goals)
        assert way.start in run.starts
        assert way.goal in run.goals
        assert way.cost_mm == pytest.approx(best, rel=0.01)
        assert all(open_[tuple(cell)] for cell in way.voxels.tolist())
        moved += way.voxels.tolist() != line.tolist()
        table.put(index, way)
    assert moved


def test_what_is_built_stays_where_it_is_when_its_ends_are_not_near() -> None:
    """Ends outside the corridor, on any side of it, or an empty one: the way that is built."""
    table, *_ = table_of(3)
    for index in range(5):
        table.route(index)
    lines = [way for way in table.ways if way is not None]
    for cut in (slice(None, -8), slice(8, None)):
        line = Way(lines[0].voxels[cut], 1.0, 1.0, 0)
        table.corridors.clear()
        table.hold([line])
        table.corridors[0] = np.ravel_multi_index(tuple(line.voxels.astype(np.int64).T), SHAPE)
        table._take(0)
        assert table._way_aside(0) is line
    table.corridors[0] = np.zeros(0, np.int64)
    assert table._way_aside(0) is table.lines[0]
