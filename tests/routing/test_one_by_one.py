"""Rules of routing by themselves: room for fingers, images, splits, built ways and what is joined to them."""

from __future__ import annotations

import itertools
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.frame import Frame
from fitplan.model.as_built import BuiltEnd, BuiltLeg, BuiltWire
from fitplan.model.nets import Net
from fitplan.model.part import Clearance
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, poses
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.narrow_places import CapacityPlace, Run, _splits, narrow_places
from fitplan.routing.map.topology import Reach, Segment
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation import kept_joinings, train_wiring
from fitplan.routing.negotiation.kept_joinings import joinings
from fitplan.routing.negotiation.kept_wires import KeptSegment, _Standing
from fitplan.routing.trees.net_wiring import NetWiring
from fitplan.routing.trees.pieces import NetEdge
from tests.packing.small_trains import block, hollow

PIN, OTHER = (NetEnd("n", owner, "p0", "a", (x, 4.0, 4.0), "+x") for owner, x in (("p", 2.0), ("q", 30.0)))
NOWHERE = np.zeros((0, 3), np.int32)


# -- maps ----------------------------------------------------------------------------------------------------


def test_wires_keep_out_of_plugs_always_and_out_of_hands_by_choice() -> None:
    """What is needed always is solid to the last millimetre; room for fingers is not, leads are free."""
    upright = next(pose for pose in poses() if pose.name == "+x+y+z")
    boxes = [Box((10.0 * k, 12.0, 0.0), (10.0 * k + 6.0, 18.0, 6.0)) for k in range(4)]
    room = tuple(
        Clearance(f"room {k}", kind, solid, needed)  # type: ignore[arg-type]
        for k, (kind, needed, solid) in enumerate(
            zip(
                ("plug", "finger", "lead", "air"),
                ("always", "access", "always", "access"),
                boxes,
                strict=True,
            )
        )
    )
    part = replace(block("chip", (40.0, 10.0, 4.0)), clearances=room)
    place = Placement("chip", part, "a", Place(upright, (24.0, 14.0, 22.4)), "body")
    map_ = VehicleMap.of("a", hollow("a", 12, 8, 8), (place,), frozenset())
    moved = [place.place.move_solid(solid) for solid in boxes]
    assert map_.exact.solids[-1] == moved[0]
    assert len(map_.exact.solids) == len(part.envelope) + 1
    assert map_.exact.hands == (moved[1],)
    for k, solid in enumerate(moved):
        middle = map_.frame.index_of(tuple((a + b) / 2 for a, b in zip(solid.low, solid.high, strict=True)))  # type: ignore[arg-type, union-attr]
        assert map_.free[middle] == (k > 1)
        assert not map_.walls[middle]


@pytest.mark.parametrize("wide", [False, True])
def test_the_image_of_a_vehicle_is_wired_where_things_lie_to_its_left(
    monkeypatch: pytest.MonkeyPatch, wide: bool
) -> None:
    """Measured from its middle: ports, openings, pins of its own in their order; not those of others."""
    asked: list[Any] = []

    def mirrored(free: Any, aside: Any) -> bool:
        asked.append((free, list(aside)))
        return wide

    monkeypatch.setattr(train_wiring, "to_be_mirrored", mirrored)
    box, lid = Box((0.0, 20.0, 0.0), (1.0, 30.0, 9.0)), Box((0.0, 0.0, 9.0), (9.0, 40.0, 10.0))
    vehicles = tuple(
        SimpleNamespace(
            name=name,
            vehicle=SimpleNamespace(
                width=48.0, ports=(SimpleNamespace(box=box),), openings=(SimpleNamespace(box=lid),)
            ),
        )
        for name in "ab"
    )
    bricks = (SimpleNamespace(box="strap"),)
    built: Any = SimpleNamespace(
        rebuilds=[SimpleNamespace(vehicle="b", remove=("lid",))], train=SimpleNamespace(vehicles=vehicles),
        placements=[SimpleNamespace(vehicle=name) for name in "abb"],
        fastenings=[SimpleNamespace(vehicle="a", bricks=bricks)],
    )  # fmt: skip
    made: list[Any] = []
    known: Any = SimpleNamespace(
        map_of=lambda entry, *rest: (made.append((entry.name, *rest)), SimpleNamespace(free=entry.name))[1],
        image_of=lambda map_: f"image of {map_.free}",
    )
    ends = (replace(PIN, at=(0.0, 30.0, 0.0)), replace(OTHER, at=(0.0, 6.0, 0.0), vehicle="b"))
    nets = [ResolvedNet(Net("n", "signal", ()), ends)]
    maps, images = train_wiring._maps(built, nets, None, "", known)
    assert asked == [("a", [1.0, -4.0, 6.0]), ("b", [1.0, -4.0, -18.0])]
    assert made == [
        ("a", (built.placements[0],), frozenset(), ("strap",)),
        ("b", tuple(built.placements[1:]), frozenset({"lid"}), ()),
    ]
    assert images == (frozenset("ab") if wide else frozenset())
    assert [map_ if wide else map_.free for map_ in maps.values()] == (  # type: ignore[attr-defined]
        ["image of a", "image of b"] if wide else ["a", "b"]
    )
    # Of all but one vehicle those of an earlier layout stay, and which of them are images.
    before: Any = SimpleNamespace(maps={"a": "was a", "b": "was b"}, images=frozenset("a"))
    maps, images = train_wiring._maps(built, nets, before, "b", known)
    assert maps["a"] == "was a"
    assert images == (frozenset("ab") if wide else frozenset("a"))


def test_round_ends_a_proof_takes_all_that_is_free() -> None:
    """As many voxels as said on every side, no more: a thick wire's corridor begins where they end."""
    for near in (1, 2, 4):
        free = np.zeros((24, 9, 9), bool)
        free[:, 4, 4] = True  # hardly wide enough for a thin wire
        for end in (2, 21):
            free[end - 1 : end + 2] = True
        port = CapacityPlace("port", np.array([(12, 4, 4)]), 1)
        runs = tuple(Run(f"r{k}", ((2, 4, 4),), ((21, 4, 4),), 0.8) for k in range(2))
        (proof,) = narrow_places(free, runs, (port,), near_ends=near)
        assert proof.demand == 2
        # An end near the port lies in both rooms at once if its own surroundings reach past it.
        close = tuple(Run(f"r{k}", ((12 - near - 1, 4, 4),), ((21, 4, 4),), 0.8) for k in range(2))
        assert len(narrow_places(free, close, (port,), near_ends=near)) == 1


def test_every_split_of_few_rooms_and_the_cuts_of_many() -> None:
    """Up to nine rooms each way to part them, once; beyond, one alone, two, and all cuts along the train."""
    rooms = np.zeros((12, 1, 1), np.uint32)
    order = [5, 3, 8, 1, 12, 7, 2, 11, 4, 10, 6, 9]
    rooms[:, 0, 0] = order
    for count in range(10):
        held = sorted(order[:count])
        found = [frozenset(left) for left in _splits(held, rooms)]
        parted = {frozenset((left, frozenset(held) - left)) for left in found}
        assert len(parted) == max(2 ** (count - 1) - 1, 0) if count else not found
        assert all(left and left < frozenset(held) for left in found)
    many = [frozenset(left) for left in _splits(sorted(order), rooms)]
    assert {frozenset({room}) for room in order} <= set(many)
    assert {frozenset(pair) for pair in itertools.combinations(order, 2)} <= set(many)
    assert {frozenset(order[:n]) for n in range(1, 11)} <= set(many)
    assert len(many) == 12 + 66 + 9


# -- what is built -------------------------------------------------------------------------------------------


def test_a_built_way_passes_the_voxels_that_it_lies_in() -> None:
    """Each point of it in its own, in order, each once in a row; what lies outside is at the border."""
    frame = Frame((1.0, -2.0, 3.0), (6, 5, 4), 0.8)
    map_: Any = SimpleNamespace(frame=frame)
    for points in (
        ((1.1, -1.9, 3.1), (1.1, 1.7, 3.1), (5.6, 1.7, 6.0)),
        ((0.0, -3.0, 2.0), (9.0, 5.0, 9.0)),
        ((1.5, -1.5, 3.5), (2.6, -1.5, 3.5)),
        ((1.4, -1.6, 3.4), (1.5, -1.6, 3.4)),
    ):
        way = KeptSegment(1, Segment("n", "a", PIN, OTHER), points).way(map_)
        cells = []
        for a, b in itertools.pairwise(np.array(points)):
            for share in np.linspace(0, 1, 4001):
                cell = [
                    min(max(int((c - o) // 0.8), 0), n - 1)
                    for c, o, n in zip(a + (b - a) * share, frame.origin, frame.shape, strict=True)
                ]
                if not cells or cells[-1] != cell:
                    cells.append(cell)
        found = way.voxels.tolist()
        assert [cell for cell in found if cell not in cells] == []
        assert found[0] == cells[0]
        assert found[-1] == cells[-1]
        assert all(one != other for one, other in itertools.pairwise(found))
        assert len(found) >= len(cells) - 3  # a corner of a voxel may be missed
        assert way.length_mm == way.cost_mm


def test_a_new_wall_half_a_millimetre_thick_is_never_missed() -> None:
    """Wherever it stands across a built way of 40 mm."""
    map_ = SimpleNamespace(
        exact=SimpleNamespace(without_hands=SimpleNamespace(boxes=np.zeros((0, 6)))),
        vehicle=SimpleNamespace(width=48.0),
    )
    end = BuiltEnd("splice", "S1", "")
    leg = BuiltLeg("a", ((0.0, 4.0, 4.0), (40.0, 4.0, 4.0)))
    wire = BuiltWire(1, "n", "RD", 28, 40.0, end, end, (leg,))
    for at in np.arange(0.5, 39.0, 0.13):
        map_.exact.without_hands.boxes = np.array([[at, 0.0, 0.0, at + 0.55, 9.0, 9.0]])
        self: Any = SimpleNamespace(
            _maps={"a": map_}, _images=frozenset(), _fresh={"a": np.zeros((0, 6))}, _diameters={"n": 1.0}
        )
        assert not _Standing._clear(self, wire, 0, leg)


def test_only_parts_that_are_not_as_they_were_stand_in_the_way_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "fitplan.routing.negotiation.kept_wires._solid_rows",
        lambda some: np.array([one.need for one in some], dtype=object),
    )
    monkeypatch.setattr(
        "fitplan.routing.negotiation.kept_wires._shelf_rows",
        lambda some: np.array([f"under {one.need}" for one in some], dtype=object),
    )
    monkeypatch.setattr(_Standing, "_as_it_was", lambda self, one: one.need in ("p", "q"))
    monkeypatch.setattr(_Standing, "_carried_as_it_was", lambda self, one: one.need == "p")
    placements = [
        SimpleNamespace(need=need, vehicle=vehicle)
        for need, vehicle in (("p", "a"), ("new", "a"), ("q", "b"), ("other", "b"), ("moved", "a"))
    ]
    train = SimpleNamespace(vehicles=[SimpleNamespace(name=name) for name in "abc"])
    built: Any = SimpleNamespace(placements=placements, train=train)
    standing: Any = _Standing(built, [], {}, frozenset(), {})
    fresh = {name: rows.tolist() for name, rows in standing._fresh.items()}
    assert fresh == {
        "a": ["new", "moved", "under new", "under moved"],
        "b": ["other", "under q", "under other"],
        "c": [],
    }


def test_pieces_that_no_coupling_has_room_to_join_are_no_task(monkeypatch: pytest.MonkeyPatch) -> None:
    """One of them in either vehicle, and no way between these: nothing is to be joined in any."""
    groups = [(("a", Reach(PIN, ((1, 1, 1),))),), (("b", Reach(OTHER, ((2, 2, 2),))),)]
    monkeypatch.setattr(kept_joinings, "groups_of", lambda *_: groups)
    lanes: Any = SimpleNamespace(names=["a", "b"], couplings={}, portals=lambda *given: {})
    net: Any = SimpleNamespace(net=SimpleNamespace(name="n"))
    assert joinings(net, [], lanes, {"a": None, "b": None}, 1.0) == []  # type: ignore[dict-item]


def test_pieces_with_just_places_enough_are_joined_from_pin_to_pin() -> None:
    """Two ends a wire between each two groups; with one less a tree joins them, and what was joined stays."""

    def straight(one: Any, other: Any) -> Any:
        return np.array([one.voxels[0], other.voxels[0]], np.int32)

    tree = [NetEdge(PIN, OTHER, np.array([(0, 0, 0), (1, 0, 0)], np.int32))]
    self: Any = SimpleNamespace(
        _ways=SimpleNamespace(
            cost=lambda one, other: abs(one.voxels[0][0] - other.voxels[0][0]), way=straight
        ),
        _tree_over=lambda terminals, groups: tree, _why=lambda reaches: "none",
        _map=SimpleNamespace(frame=SimpleNamespace(pitch=0.8)),
    )  # fmt: skip
    ends = [Reach(replace(PIN, owner=f"o{k}"), ((k, 0, 0),), wires) for k, wires in enumerate((1, 2, 1, 1))]
    found = NetWiring.joined(self, [(ends[0],), (ends[2],)])
    assert not isinstance(found, str)
    assert [{piece.start, piece.end} for piece in found] == [{ends[0].node, ends[2].node}]
    found = NetWiring.joined(self, [(one,) for one in ends[:3]])
    assert not isinstance(found, str)
    assert tree[0] not in found
    assert len(found) == 2
    # Four groups have five places where six were needed.
    found = NetWiring.joined(self, [(one,) for one in ends])
    assert found == tree
    assert NetWiring.joined(self, [(ends[0],)]) == []
