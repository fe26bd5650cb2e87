"""Wires of what is built stay to the letter, unless an end or a port is gone, or something is in the way.

Of each wire that is asked by means of its own: points every 0.2 mm against solids, ends by name.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from fitplan.model.as_built import AsBuilt, BuiltPart, BuiltWire
from fitplan.model.built import BuiltTrain
from fitplan.model.nets import PinRef
from fitplan.model.placed import Piece, Placement, Shelf
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Place, poses
from fitplan.model.wired import Harness
from fitplan.routing.harness import coupling_crossings
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.negotiation.kept_wires import _along, _any_inside
from fitplan.workbench.as_built import as_built_of, stays
from tests.checks.mirrored import mirrored
from tests.packing.small_trains import block
from tests.routing.test_harness import FLOOR, Flow, built_of, joined_ends
from tests.routing.test_told import with_pairs

FEW = {
    "p": ("a", 10.0, 9.0), "q": ("a", 62.0, 9.0), "r": ("a", 34.0, 22.0),
    "s": ("b", 12.0, 22.0), "t": ("b", 44.0, 10.0),
}  # fmt: skip
SMALL = (10, 5, 5)
NETS = {"three": ["p.p0", "r.p0", "t.p0"], "one": ["q.p0", "s.p0"], "near": ["p.p1", "q.p1"]}
TRAINS = {
    "few": built_of(FEW, NETS, studs=SMALL),
    "pins of one wire": built_of(FEW, NETS, wires=1, studs=SMALL),
    "connectors": with_pairs(built_of(FEW, NETS, studs=SMALL)),
}
LENGTHS = cache(coupling_crossings.coupling_lengths)
FLOWS = {name: Flow(40.0, 60.0) for name in NETS}


def wired(built: BuiltTrain) -> Harness:
    """Wire a train; the worst poses of joints, which are the same ones again and again, are kept."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(coupling_crossings, "coupling_lengths", LENGTHS)
        return wire_train(built, FLOWS).harness


@cache
def first(name: str) -> tuple[Harness, AsBuilt]:
    """The harness of a train, and what is there once it is built."""
    built = TRAINS[name]
    harness = wired(built)
    return harness, as_built_of(Plan(replace(built, harness=harness), "fits", (), (), (), (), ()))


def again(built: BuiltTrain, there: AsBuilt) -> Harness:
    return wired(replace(built, train=replace(built.train, as_built=there)))


def kept(harness: Harness, there: AsBuilt) -> set[int]:
    """Numbers of the wires that lie as they were."""
    return {
        one.number for one in there.wires for wire in harness.wires if not wire.inside and stays(wire, one)
    }


@pytest.mark.parametrize("name", TRAINS)
def test_what_is_built_stays_where_nothing_is_changed(name: str) -> None:
    """Every wire, every splice, in a mirror as well; and none is new."""
    harness, there = first(name)
    assert harness.unreached == ()
    found = again(TRAINS[name], there)
    assert kept(found, there) == {one.number for one in there.wires}
    assert len(found.wires) == len(harness.wires)
    assert {(s.name, s.net, s.at, s.wires) for s in found.splices} == {
        (s.name, s.net, s.at, s.wires) for s in harness.splices
    }
    assert [(c.wires, c.pin_order) for c in found.crossings] == [
        (c.wires, c.pin_order) for c in harness.crossings
    ]
    if name == "connectors":
        image = mirrored(TRAINS[name])
        seen = wired(image)
        built = as_built_of(Plan(replace(image, harness=seen), "fits", (), (), (), (), ()))
        assert kept(again(image, built), built) == {one.number for one in built.wires}


def cavities(wire: BuiltWire) -> list[tuple[str, str]]:
    return [(end.owner, end.pin) for end in (wire.start, wire.end) if end.kind == "connector"]


def fewer(there: AsBuilt, *gone: int) -> AsBuilt:
    return replace(there, wires=tuple(one for one in there.wires if one.number not in gone))


@pytest.mark.parametrize("name", ["pins of one wire", "connectors"])
def test_what_is_missing_is_laid_beside_what_stays(name: str) -> None:
    """Every third wire is taken away in turn: the rest stays, and every net hangs together again."""
    built, (_, there) = TRAINS[name], first(name)
    for gone in there.wires[::3]:
        left = fewer(there, gone.number)
        found = again(built, left)
        assert found.unreached == ()
        assert all(joined_ends(built.train, found, net) for net in NETS)
        # A pin of one wire has no place left for another: there a wire may be given up for a splice.
        lost = {one.number for one in left.wires} - kept(found, left)
        mine = {one.number for one in left.wires if one.net == gone.net}
        assert lost <= mine
        # What ends in the connector's other half has nothing to end at.
        mates = {one.number for one in left.wires if {*cavities(one)} & {*cavities(gone)}}
        assert len(lost - mates) <= (1 if name == "pins of one wire" else 0), (gone.number, lost)


def through(wire: BuiltWire, vehicle: str, box: Box, radius: float) -> bool:
    """Whether a wire passes a box or comes nearer to it than its radius, but for what leads out of pins."""
    for number, leg in enumerate(wire.legs):
        if leg.vehicle != vehicle:
            continue
        points = [np.array(point) for point in leg.points]
        start = 1 if number == 0 and wire.start.kind == "pin" and len(points) > 2 else 0
        end = -1 if number == len(wire.legs) - 1 and wire.end.kind == "pin" and len(points) > 2 else None
        points = points[start:end]
        for a, b in pairwise(points):
            steps = max(int(np.linalg.norm(b - a) / 0.2), 1)
            for share in np.linspace(0, 1, steps + 1):
                at = a + share * (b - a)
                if all(
                    lo - radius < v < hi + radius for lo, v, hi in zip(box.low, at, box.high, strict=True)
                ):
                    return True
    return False


SPOTS = [("a", 24.0, 10.0), ("a", 50.0, 22.0), ("b", 60.0, 16.0)]


@pytest.mark.parametrize("spot", SPOTS)
def test_wires_give_way_to_a_new_part_where_it_stands_in_their_way(spot: tuple[str, float, float]) -> None:
    """All that pass it, or come nearer than their radius, and no other; nets hang together again."""
    built, (harness, there) = TRAINS["few"], first("few")
    vehicle, x, y = spot
    made = block("new", (8.0, 8.0, 14.0))
    placement = Placement("new", made, vehicle, Place(poses()[0], (x, y, FLOOR)), "the body")
    found = again(replace(built, placements=(*built.placements, placement)), there)
    box = Box((x, y, FLOOR), (x + 8, y + 8, FLOOR + 14))
    outer = {wire.number: wire.outer_mm for wire in harness.wires}
    surely = {one.number for one in there.wires if through(one, vehicle, box, outer[one.number] / 2 - 0.1)}
    maybe = {one.number for one in there.wires if through(one, vehicle, box, outer[one.number] / 2)}
    lost = {one.number for one in there.wires} - kept(found, there)
    assert surely <= lost <= maybe
    assert all(joined_ends(built.train, found, net) for net in NETS)
    # What was there before keeps its wires, however near they lie.
    old = replace(there, parts=(*there.parts, replace(there.parts[0], need="new", part="new", vehicle=vehicle,
                                                      offset=(x, y, FLOOR))))  # fmt: skip
    body = again(replace(built, placements=(*built.placements, placement)), old)
    assert kept(body, old) >= {one.number for one in there.wires} - maybe


def test_wires_give_way_to_what_carries_a_new_part() -> None:
    """A block nearer to their middle line than their radius; what carried it before lets them be."""
    built, (harness, there) = TRAINS["few"], first("few")
    outer = {wire.number: wire.outer_mm for wire in harness.wires}
    tried = 0
    for wire in there.wires:
        leg = max(wire.legs, key=lambda leg: max(map(math.dist, leg.points, leg.points[1:])))
        one, other = max(pairwise(leg.points), key=lambda piece: math.dist(*piece))
        x, _, z = ((a + b) / 2 for a, b in zip(one, other, strict=True))
        if abs(one[1] - other[1]) > 0.2 * abs(one[0] - other[0]):
            continue
        radius = outer[wire.number] / 2
        beside = max(one[1], other[1]) + radius / 2
        box = Box((x - 2, beside, z - 2), (x + 2, beside + 3, z + 2))
        shelf = Shelf("block", (Piece("block", box),), 1)
        place = Place(poses()[0], (x - 1, beside + 1, z + 2))
        placement = Placement("new", block("new", (1.0, 1.0, 1.0)), leg.vehicle, place, "a block", shelf)
        more = replace(built, placements=(*built.placements, placement))
        if not through(wire, leg.vehicle, box, radius - 0.1) or through(wire, leg.vehicle, box, 0.0):
            continue
        tried += 1
        assert wire.number not in kept(again(more, there), there)
        was = BuiltPart("new", "new", leg.vehicle, place.pose.name, place.offset, shelf)
        before = replace(there, parts=(*there.parts, was))
        assert wire.number in kept(again(more, before), before)
        other_shelf = replace(before, parts=(*there.parts, replace(was, on=None)))
        assert wire.number not in kept(again(more, other_shelf), other_shelf)
    assert tried


def lost_with(built: BuiltTrain, there: AsBuilt) -> set[int]:
    return {one.number for one in there.wires} - kept(again(built, there), there)


def test_a_part_that_was_moved_takes_its_own_wires_along() -> None:
    built, (_, there) = TRAINS["few"], first("few")
    for owner in ("q",):
        moved = tuple(
            replace(one, place=Place(one.place.pose, (one.place.offset[0] - 3.2, *one.place.offset[1:])))
            if one.need == owner
            else one
            for one in built.placements
        )
        own = {one.number for one in there.wires if owner in (one.start.owner, one.end.owner)}
        assert lost_with(replace(built, placements=moved), there) == own


def test_what_a_wire_ends_at_must_be_there() -> None:
    """A net that is gone, a pin that no net joins, a port of another name, a splice of another vehicle."""
    built, (_, there) = TRAINS["connectors"], first("connectors")
    nets = tuple(net for net in built.train.nets if net.name != "one")
    bare = replace(built, train=replace(built.train, nets=nets))
    assert lost_with(bare, there) == {one.number for one in there.wires if one.net == "one"}
    joins = (PinRef("q", "p0"), PinRef("s", "p1"))
    others = tuple(replace(net, joins=joins) if net.name == "one" else net for net in built.train.nets)
    changed = replace(built, train=replace(built.train, nets=others))
    at_s = {one.number for one in there.wires if one.net == "one" and "s" in (one.start.owner, one.end.owner)}
    assert lost_with(changed, there) == at_s
    entries = list(built.train.vehicles)
    ports = tuple(replace(port, name=f"{port.name} of old") for port in entries[1].vehicle.ports)
    entries[1] = replace(entries[1], vehicle=replace(entries[1].vehicle, ports=ports))
    renamed = replace(built, train=replace(built.train, vehicles=tuple(entries)))
    over = {
        one.number
        for one in there.wires
        if any(leg.vehicle == "b" and (leg.enters or leg.leaves) for leg in one.legs)
    }
    assert over <= lost_with(renamed, there)
    unparted = replace(built.train.wiring, coupling_connector="")
    joined = replace(built, train=replace(built.train, wiring=unparted))
    ends = {one.number for one in there.wires if "connector" in (one.start.kind, one.end.kind)}
    assert ends <= lost_with(joined, there)
    _, there = first("few")
    crossing = {one.number for one in there.wires if len(one.legs) > 1}
    assert crossing <= lost_with(with_pairs(TRAINS["few"]), there)


def test_points_along_a_way_and_boxes_that_hold_some() -> None:
    """No farther apart than a step, corners among them; inside means by more than the rim, or within it."""
    way = np.array([(0.0, 0, 0), (1.0, 0, 0), (1.0, 0.3, 0), (1.0, 0.3, 2.0)])
    points = _along(way, 0.4)
    assert len(points) == 1 + 3 + 1 + 5
    gaps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert gaps.max() <= 0.4 + 1e-12
    assert gaps.sum() == pytest.approx(3.3)
    for corner in way:
        assert (np.abs(points - corner).max(axis=1) < 1e-12).any()
    box = np.array([[0.4, -1.0, -1.0, 0.5, 1.0, 1.0]])
    assert not _any_inside(points, box, 0.0)
    assert not _any_inside(points, box, -0.06)
    assert _any_inside(points, box, 0.1)
    assert not _any_inside(points, np.zeros((0, 6)), 5.0)
    assert not _any_inside(np.zeros((0, 3)), box, 5.0)
    assert _any_inside(points, np.array([[0.9, 0.2, 1.0, 1.1, 0.4, 1.5]]), 0.0)
    assert not _any_inside(points, np.array([[0.9, 0.2, 1.0, 1.1, 0.29, 1.5]]), 0.0)
    assert not _any_inside(points, np.array([[1.0, 0.2, 1.0, 1.1, 0.4, 1.5]]), 0.0)
