"""What is left of a net when some of its wires find no way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.nets import WiringStyle
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid
from fitplan.model.wired import Harness
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.map.vehicle_map import VehicleMap
from tests.routing.test_harness import FLOOR, Flow, built_of

THREE = {"p": ("a", 12.0, 8.0), "q": ("a", 60.0, 8.0), "r": ("a", 90.0, 30.0)}
NET = {"n": ["p.p0", "q.p0", "r.p0"]}


def wired(built: BuiltTrain) -> Harness:
    """Return the harness."""
    return wire_train(built, {net.name: Flow(10.0, 10.0) for net in built.train.nets}).harness


def walled_in(built: BuiltTrain, vehicle: str, box: Box) -> BuiltTrain:
    """Return the train with a hollow chest of bricks, 1.6 mm thick, in one vehicle."""
    low, high = box.low, box.high
    inner = Box((low[0] + 1.6, low[1] + 1.6, low[2]), (high[0] - 1.6, high[1] - 1.6, high[2] - 1.6))
    vehicles = tuple(
        replace(
            entry,
            vehicle=replace(
                entry.vehicle,
                body=(*entry.vehicle.body, BodySolid(box, "fixed"), BodySolid(inner, "free")),
            ),
        )
        if entry.name == vehicle
        else entry
        for entry in built.train.vehicles
    )
    return replace(built, train=replace(built.train, vehicles=vehicles))


def named_ends(harness: Harness) -> bool:
    """Return whether every wire ends somewhere that has a name."""
    return all(end.owner for wire in harness.wires for end in (wire.start, wire.end))


@pytest.mark.parametrize("style", ["tree", "chain", "home-run"])
def test_a_pin_in_a_closed_chest_is_lost_alone(style: WiringStyle) -> None:
    """Of three pins one is walled in: the other two keep their wire, and the third is told by its name."""
    chest = Box((86.0, 25.0, FLOOR), (104.0, 40.0, FLOOR + 12.0))
    harness = wired(walled_in(built_of(THREE, NET, style=style), "a", chest))
    assert [(entry.owner, entry.pin) for entry in harness.unreached] == [("r", "p0")]
    (wire,) = harness.wires
    assert {wire.start.owner, wire.end.owner} == {"p", "q"}


@pytest.mark.parametrize("style", ["tree", "chain", "home-run"])
@pytest.mark.parametrize("connector", ["", "connector-4-keyed"])
def test_behind_a_closed_coupling_each_side_keeps_its_wires(style: WiringStyle, connector: str) -> None:
    """Two pins ahead and one behind a coupling without a hole: one wire stays, none ends in the coupling."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("a", 60.0, 8.0), "r": ("b", 60.0, 30.0)}
    built = built_of(spots, NET, style=style)
    wiring = replace(built.train.wiring, coupling_connector=connector)
    shut = tuple(
        replace(entry, vehicle=replace(entry.vehicle, ports=())) if entry.name == "b" else entry
        for entry in built.train.vehicles
    )
    harness = wired(replace(built, train=replace(built.train, vehicles=shut, wiring=wiring)))
    assert len(harness.wires) == 1
    assert named_ends(harness)
    assert {wire_end.owner for wire_end in (harness.wires[0].start, harness.wires[0].end)} == {"p", "q"}
    assert ("r", "p0") in {(entry.owner, entry.pin) for entry in harness.unreached}
    assert harness.crossings == ()


def test_a_wire_that_leads_to_a_lost_pin_behind_a_coupling_is_not_cut() -> None:
    """The only pin behind the coupling is walled in: nothing is left hanging out of the front vehicle."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("a", 60.0, 8.0), "r": ("b", 60.0, 30.0)}
    chest = Box((56.0, 25.0, FLOOR), (74.0, 40.0, FLOOR + 12.0))
    harness = wired(walled_in(built_of(spots, NET), "b", chest))
    assert len(harness.wires) == 1
    assert len(harness.wires[0].legs) == 1
    assert harness.crossings == ()
    assert ("r", "p0") in {(entry.owner, entry.pin) for entry in harness.unreached}


def test_a_pin_without_room_for_a_splice_leaves_the_others_joined(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where every pin takes one wire and no splice has room, two of the three stay joined."""
    nowhere = property(lambda map_: np.zeros(map_.free.shape, bool))
    monkeypatch.setattr(VehicleMap, "splice_room", nowhere)
    harness = wired(built_of(THREE, NET, wires=1))
    (lost,) = harness.unreached
    assert (lost.owner, lost.pin) == ("r", "p0")
    assert "splice" in lost.reason
    (wire,) = harness.wires
    assert {wire.start.owner, wire.end.owner} == {"p", "q"}
