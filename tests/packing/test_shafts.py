"""Places from which a part or a hand comes straight out while all else is in: beside the checker's slides.

The checker sweeps exact solids in millimetres; the search cuts domains in whole tenths. At every corner of
what is left it lets the move pass, and where a place was taken away for every opening it does not.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.hands import CABLE_BEND_MM, FINGER_REACH_MM
from fitplan.model.needed import Exchange, Need
from fitplan.model.part import Access, AccessKind, Clearance, Part
from fitplan.model.solids import (
    Box,
    Direction,
    Place,
    Pose,
    axis_of,
    is_forward,
    opposite,
    plane_of,
    pose_named,
)
from fitplan.model.vehicle import BodySolid, Opening, Vehicle
from fitplan.model.wired import Harness
from fitplan.packing.access.exchange import access_room, usable_openings
from fitplan.packing.engine.problem import PackingProblem
from fitplan.packing.vehicle import packed_items
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packed_items import with_a_way_in
from fitplan.packing.vehicle.reserved_ways import with_shafts
from fitplan.packing.vehicle.seats import Wanted
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, sites_of
from fitplan.verify.shapes import shape_of
from fitplan.verify.sliding import Mover, slide_out

from .small_trains import block, hollow, train_of

FLOOR = 19.2


def with_lid(name: str, box: Box, out: Direction, *walls: Box) -> Vehicle:
    """A hollow wagon whose only opening is this one, with walls inside."""
    bare = hollow("v", 8, 6, 8)
    body = (*bare.body, *(BodySolid(wall, "fixed") for wall in walls))
    return replace(bare, body=body, openings=(Opening(name, box, out, often=True),))


LENGTH, WIDTH, TOP = 64.0, 48.0, FLOOR + 8 * 3.2 + 3.2
SHELF = Box((8, 8, FLOOR + 14), (24, 40, FLOOR + 16))
VEHICLES = {
    "a roof": with_lid("roof", Box((8, 8, TOP - 3.2), (56, 40, TOP)), "+z", SHELF),
    "half a roof": with_lid("roof", Box((8, 8, TOP - 3.2), (40, 40, TOP)), "+z"),
    "a flap": with_lid("flap", Box((16, 40, FLOOR), (56, 48, TOP - 3.2)), "+y", SHELF),
    "an end": with_lid("end", Box((0, 8, FLOOR), (8, 40, TOP - 3.2)), "-x"),
}


def part_with(kind: AccessKind, side: Direction, deep: float = 0.0) -> Part:
    """A block of 12 × 10 × 8 mm with one access; its own room for it goes so deep before it."""
    made = block("b", (12.0, 10.0, 8.0))
    axis = axis_of(side)
    low, high = [3.0, 3.0, 3.0], [7.0, 7.0, 5.0]
    edge = plane_of(made.bounds, side)
    low[axis], high[axis] = (edge - 1, edge + deep) if is_forward(side) else (edge - deep, edge + 1)
    room = (
        Clearance("room", "finger", Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), "access"),
    )
    return replace(made, access=(Access("lid", kind, side, True),), clearances=room if deep else ())


def shafts(vehicle: Vehicle, made: Part) -> tuple[PackingProblem, PackingProblem]:
    """The problem of one part without and with the places from which its access is come by."""
    need = Need("b", (made,), exchange=Exchange((vehicle.openings[0].name,), 0, 0, True))
    packer = Packer({"v": vehicle})
    wanted = Wanted(need, made)
    plain = packer._problem(packer.cavity("v"), (wanted,), "outward")
    return plain, with_shafts(vehicle, frozenset(), plain, (wanted,), frozenset({"b"}))


def site_of(vehicle: Vehicle) -> Site:
    (site,) = sites_of(BuiltTrain(train_of((vehicle,), ()), (), Harness(), ())).values()
    return site


def comes_out(site: Site, made: Part, pose: Pose, at: tuple[int, ...], lid: Opening | None) -> bool:
    """Whether the part, or a hand at its access, gets out straight through an opening: the checker's word."""
    (access,) = made.access
    place = Place(pose, (at[0] / 10, at[1] / 10, at[2] / 10))
    solids = made.envelope if access.kind == "cells" else access_room(made, access)
    mover = Mover("it", tuple(shape_of(place.move_solid(solid)) for solid in solids))
    side = pose.turn_direction(access.side)
    out = lid.out if lid is not None else side
    moves: tuple[tuple[Direction, float], ...] = ((out, 120.0),)
    if access.kind != "cells":
        if out == opposite(side):
            return False
        reach = FINGER_REACH_MM
        if access.kind == "socket":
            reach += mover.bounds.size[axis_of(side)]
            if out != side:
                moves = ((side, CABLE_BEND_MM), *moves)
                reach -= CABLE_BEND_MM
        deep = plane_of(site.vehicle.hull, out) - plane_of(mover.bounds, opposite(out))
        if abs(deep) > reach + 1e-6:
            return False
    sheet = Tally()
    slide_out(site, mover, moves, (), (), lid, sheet, "exchange")
    return not sheet.report().problems


def corners(box: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    yield from itertools.product(*((box[k], box[k + 3]) for k in range(3)))
    yield tuple((box[k] + box[k + 3]) // 2 for k in range(3))


@pytest.mark.parametrize("name", VEHICLES)
@pytest.mark.parametrize(
    ("kind", "side", "deep"),
    [
        ("cells", "+z", 0.0),
        ("switch", "+z", 0.0),
        ("switch", "-x", 9.0),
        ("switch", "+y", 4.0),
        ("socket", "+z", 0.0),
        ("socket", "-x", 9.0),
        ("socket", "+y", 4.0),
    ],
)
def test_places_are_those_from_which_it_comes_straight_out(
    name: str, kind: AccessKind, side: Direction, deep: float
) -> None:
    vehicle, made = VEHICLES[name], part_with(kind, side, deep)
    plain, cut = shafts(vehicle, made)
    site, (lid,) = site_of(vehicle), vehicle.openings
    assert usable_openings(vehicle, made.access[0], Exchange((lid.name,)), frozenset()) == (lid,)
    assert cut.items[0].variants
    for variant in cut.items[0].variants[::3]:
        pose = pose_named(variant.key)
        for box in variant.domain[:6]:
            for at in corners(box):
                assert any(comes_out(site, made, pose, at, way) for way in (lid, None)), (variant.key, at)
    rng = np.random.default_rng(1)
    for variant in plain.items[0].variants[::5]:
        pose = pose_named(variant.key)
        left = [box for one in cut.items[0].variants if one.key == variant.key for box in one.domain]
        for _ in range(12):
            box = variant.domain[int(rng.integers(len(variant.domain)))]
            at = tuple(int(rng.integers(box[k], box[k + 3] + 1)) for k in range(3))
            # In the middle of a wall a part may not lie anyway; what counts is the way from where it may.
            if not any(all(one[k] <= at[k] <= one[k + 3] for k in range(3)) for one in left):
                assert not comes_out(site, made, pose, at, lid), (variant.key, at)


def test_only_offsets_with_a_way_in_are_left(monkeypatch: pytest.MonkeyPatch) -> None:
    """A domain cut by boxes of offsets is just what lies in both; None leaves it as it is."""
    packer = Packer({"v": VEHICLES["a roof"]})
    made = part_with("cells", "+z")
    problem = packer._problem(packer.cavity("v"), (Wanted(Need("b", (made,)), made),), "outward")
    variant = replace(problem.items[0].variants[0], domain=((0, 0, 0, 6, 5, 4), (8, 0, 0, 9, 9, 9)))
    ways = np.array([(2, 1, -3, 8, 3, 2), (5, 4, 4, 9, 12, 12), (-9, -9, -9, -1, 9, 9)])
    monkeypatch.setattr(packed_items, "offsets_with_a_way_in", lambda *_: ways)
    found = with_a_way_in(packer.cavity("v"), variant).domain
    assert all(box[k] <= box[k + 3] for box in found for k in range(3))
    for at in itertools.product(range(-2, 12), repeat=3):
        inside = [
            any(all(box[k] <= at[k] <= box[k + 3] for k in range(3)) for box in boxes)
            for boxes in (found, variant.domain, ways.tolist())
        ]
        assert inside[0] is (inside[1] and inside[2])
    monkeypatch.setattr(packed_items, "offsets_with_a_way_in", lambda *_: None)
    assert with_a_way_in(packer.cavity("v"), variant) is variant
