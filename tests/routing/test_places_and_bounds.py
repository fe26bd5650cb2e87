"""Rooms and places face by face, rows in closed form, terminals spread out, what branches cost."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.routing.harness import facts
from fitplan.routing.map.bundles import through_rectangle
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.narrow_places import CapacityPlace, CutProof, Run, _network, _tightest, narrow_places
from fitplan.routing.map.topology import Portal, Reach
from fitplan.routing.negotiation.share_table import reach_of
from fitplan.routing.trees.net_wiring import NetWiring
from fitplan.routing.trees.pieces import NetEdge
from fitplan.routing.trees.voxel_trees import _spread_out


@pytest.mark.parametrize("seed", range(8))
def test_rooms_and_places_hang_together_where_they_share_a_face(seed: int) -> None:
    """Each pair of neighbouring voxels, one by one; a place carries what is proved from its inside out."""
    rng = np.random.default_rng(seed)
    shape = (5, 4, 4)
    owner = rng.choice([-1, -1, -1, 0, 1, 2], shape)
    rooms = np.where(owner < 0, rng.integers(0, 4, shape), 0).astype(np.uint32)
    places = [CapacityPlace(f"p{k}", np.argwhere(owner == k), 3 + k, None if k else 9) for k in range(3)]
    wanted: set[tuple[Any, Any]] = {(("in", k), ("out", k)) for k in range(3)}
    for cell in itertools.product(*map(range, shape)):
        for axis, step in itertools.product(range(3), (-1, 1)):
            other = tuple(c + step * (k == axis) for k, c in enumerate(cell))
            if owner[cell] < 0 or not all(0 <= c < n for c, n in zip(other, shape, strict=True)):
                continue
            here, room, there = int(owner[cell]), int(rooms[other]), int(owner[other])
            if room:
                wanted |= {(("room", room), ("in", here)), (("out", here), ("room", room))}
            if there not in (-1, here):
                wanted.add((("out", here), ("in", there)))
    graph = _network(rooms, places)
    assert set(graph.edges) == wanted
    carried = {
        (one, two): data["capacity"] for one, two, data in graph.edges(data=True) if "capacity" in data
    }
    assert carried == {(("in", k), ("out", k)): most for k, most in enumerate((9, 4, 5))}


def test_ends_close_to_walls_hold_a_proof_all_the_same() -> None:
    """Pins in corners where no thick wire has room: round them free voxels count, as for the wires."""
    free = np.zeros((40, 12, 12), bool)
    free[:18] = free[22:] = True
    free[18:22, 3:9, 3:9] = True
    port = CapacityPlace("port", np.argwhere(free & (np.abs(np.arange(40) - 19.5) < 2)[:, None, None]), 1)
    runs = tuple(Run(f"r{k}", ((1, 0, 2 * k),), ((38, 11, 2 * k),), 3.0) for k in range(2))
    (proof,) = narrow_places(free, runs, (port,))
    assert str(proof) == "port carries 1 conductor, 2 want through"
    assert narrow_places(free, runs[:1], (port,)) == ()


def test_of_proofs_the_tightest_are_told() -> None:
    """Not one whose places hold all of another's and more; the fewest places first, then by name."""
    one, pair, other, more = (
        CutProof(names, 1, 2, ("r",)) for names in (("b",), ("a", "c"), ("a", "d"), ("a", "b", "c"))
    )
    assert _tightest((more, other, pair, one)) == (one, pair, other)
    assert str(CutProof((), 0, 1, ())) == "nothing carries 0 conductors, 1 wants through"


def test_staggered_rows_are_counted_at_their_very_length() -> None:
    """Rows 0.6 apart are staggered by 0.8, a triangle of 3, 4 and 5: each 0.8 mm more hold a wire more."""
    for wire in (1.0, 1.3):
        for number in range(2, 9):
            long = wire * (1 + 0.8 * (number - 1))
            assert through_rectangle(long, 1.6 * wire, wire) == number
            assert through_rectangle(1.6 * wire, long, wire) == number
            assert through_rectangle(long - 1e-6, 1.6 * wire, wire) == max(number - 1, 1)


def test_no_wire_reaches_no_farther_than_the_next_voxel() -> None:
    for pitch in (0.1, 0.3, 0.8):
        assert reach_of([], pitch) == 1


@pytest.mark.parametrize("seed", range(6))
def test_terminals_are_spread_out_each_once(seed: int) -> None:
    """Those chosen first, then always the farthest off all before; the same spot twice is two terminals."""
    rng = np.random.default_rng(seed)
    points = rng.integers(0, 2 + 8 * (seed % 2), (7, 3))
    between = np.abs(points[:, None] - points[None]).sum(axis=2).astype(np.uint32)
    for chosen in ([], [3], [5, 1]):
        found = _spread_out(between, chosen, 7)
        assert found[: len(chosen)] == chosen
        assert sorted(found) == list(range(7))
        for k in range(len(chosen), 7):
            off = [int(between[i, found[:k]].min()) if k else int(between[i].sum()) for i in range(7)]
            left = [i for i in range(7) if i not in found[:k]]
            assert off[found[k]] == max(off[i] for i in left)


def end(name: str, load: str = "") -> NetEnd:
    return NetEnd("n", name, "p0", "a", (0.0, 0.0, 0.0), "+x", load=load)


def test_what_branches_cost_is_told_to_the_hundredth() -> None:
    """Copper with branches and of a shortest tree, the branches by their parts; nothing where none is one."""
    trunk = [Reach(end("cell"), ()), Reach(Portal("n", 0, 1), ())]
    lamps = [Reach(end(f"lamp{k}", "lamp"), ()) for k in range(2)]
    diagonal = NetEdge(end("a"), end("b"), np.array([(0, 0, 0), (1, 1, 0)], np.int32))
    straight = NetEdge(end("a"), end("b"), np.array([(0, 0, 0), (1, 0, 0)], np.int32))
    compared: list[bool] = []

    def tree(some: Any, *, to_compare: bool) -> list[NetEdge]:
        compared.append(to_compare)
        return [diagonal]

    self: Any = SimpleNamespace(
        net="n", _map=SimpleNamespace(name="a", frame=SimpleNamespace(pitch=0.8)),
        _branched=lambda some: [diagonal, diagonal, straight], _tree=tree,
        _ways=SimpleNamespace(nearest=lambda some, other: 5.0, within=lambda *_: True),
    )  # fmt: skip
    self._branches = lambda some: NetWiring._branches(self, some)
    told = NetWiring.trunk(self, [*trunk, *lamps])
    assert told is not None
    assert (told.net, told.vehicle) == ("n", "a")
    assert (told.copper_mm, told.strung_mm) == (3.06, 1.13)  # 0.8 (1 + 2 √2) and 0.8 √2
    assert told.branched
    assert NetWiring.trunk(self, trunk) is None
    assert NetWiring.trunk(self, [*trunk, trunk[0]]) is None
    assert NetWiring.trunk(self, lamps + lamps[:1]) is None
    self._branched = lambda some: None
    none = NetWiring.trunk(self, [*trunk, *lamps])
    assert none is not None
    assert (none.copper_mm, none.strung_mm, none.branched) == (1.13, 1.13, False)
    assert compared == [True, False]  # where nothing branches off it is the tree that is laid
    self._tree = lambda some, to_compare: "no way"
    assert NetWiring.trunk(self, [*trunk, *lamps]) is None


def test_branches_are_asked_for_vehicle_by_vehicle() -> None:
    """In their order within each map; what branches off nowhere tells nothing."""
    asked: list[str] = []

    def question(map_: str, name: str, trunk: Any) -> Any:
        def ask() -> Any:
            asked.append(name)
            return trunk

        return SimpleNamespace(joiner=SimpleNamespace(asked_in=map_), ask=ask)

    asking = (("a", "a1", "first"), ("b", "b1", None), ("a", "a2", None), ("b", "b2", "last"))
    questions = [question(*one) for one in asking]
    told: list[Any] = facts._trunks(questions)
    assert told == ["first", "last"]
    assert sorted(asked) == ["a1", "a2", "b1", "b2"]
    assert [name for name in asked if name[0] == "a"] == ["a1", "a2"]
