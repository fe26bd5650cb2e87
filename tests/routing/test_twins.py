"""Equal vehicles are wired once: the harness is the same as when each is wired by itself."""

from __future__ import annotations

import itertools
import random
from collections.abc import Hashable
from dataclasses import dataclass, replace

import pytest

from fitplan.files.catalogue import read_catalogue
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, poses
from fitplan.model.vehicle import BodySolid
from fitplan.model.wired import Harness
from fitplan.routing.harness.facts import wiring_facts
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.negotiation.wired_before import WiredBefore
from tests.packing.small_trains import block, hollow, train_of

COUNT = 5
SIZES = ((18.0, 10.0, 6.0), (12.0, 12.0, 5.0), (10.0, 8.0, 4.0))
UPRIGHT = next(pose for pose in poses() if pose.name == "+x+y+z")
PLACES = ((9.0, 9.0), (18.0, 20.0), (60.0, 30.0))


@dataclass(frozen=True)
class SteadyLoad:
    average_ma: float = 20.0
    peak_ma: float = 40.0


def _built(rng: random.Random | None, *, walled: bool = False) -> BuiltTrain:
    """Return a train of equal vehicles with three parts in each.

    With a random source some are turned, join another pin, or lack a net; ``walled``: the third part of each
    lies behind a wall without a hole.
    """
    walls = (BodySolid(Box((48.0, 8.0, 19.2), (56.0, 40.0, 48.0)), "fixed"),) if walled else ()
    boxes = (hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(COUNT))
    vehicles = tuple(replace(box, body=(*box.body, *walls)) for box in boxes)
    parts = [block(f"b{k}", size, pins=3) for k, size in enumerate(SIZES)]
    needs = tuple(
        Need(f"n{i}_{k}", (part,), vehicles=(f"v{i}",)) for i in range(COUNT) for k, part in enumerate(parts)
    )
    last = [2 if rng is not None and rng.random() < 0.25 else 0 for _ in range(COUNT)]
    nets = [(f"in{i}", (f"n{i}_0.p0", f"n{i}_1.p0", f"n{i}_2.p{pin}")) for i, pin in enumerate(last)]
    nets += [(f"on{i}", (f"n{i}_0.p1", f"n{i + 1}_1.p2")) for i in range(COUNT - 1)]
    if rng is not None and rng.random() < 0.5:
        del nets[rng.randrange(1, COUNT)]
    train = train_of(vehicles, needs, tuple(nets))
    if rng is not None:
        turned = tuple(replace(entry, turned=rng.random() < 0.25) for entry in train.vehicles)
        train = replace(train, vehicles=turned)
    train = replace(train, catalogue={**read_catalogue(), **{part.id: part for part in parts}})
    found = [
        Placement(f"n{i}_{k}", part, f"v{i}", Place(UPRIGHT, (x, y, 22.4)), "body")
        for i in range(COUNT)
        for k, (part, (x, y)) in enumerate(zip(parts, PLACES, strict=True))
    ]
    return BuiltTrain(train, tuple(found), Harness(), ())


def _wired(built: BuiltTrain) -> Harness:
    loads = {net.name: SteadyLoad() for net in built.train.nets}
    done = wire_train(built, loads, known=WiredBefore())
    return replace(done.harness, facts=wiring_facts(replace(built, harness=done.harness), done.layout))


@pytest.fixture
def runs(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the vehicles that are wired, one after the other."""
    found: list[str] = []
    run = VehicleRouting.run

    def counted(self: VehicleRouting) -> VehicleRouting:
        found.append(self.vehicle)
        return run(self)

    monkeypatch.setattr(VehicleRouting, "run", counted)
    return found


def _each_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    numbers = itertools.count()

    def kind(*_: object) -> Hashable:
        return next(numbers)

    monkeypatch.setattr(WiredBefore, "_kind", kind)


@pytest.mark.parametrize("walled", [False, True])
def test_equal_vehicles_are_wired_once(
    monkeypatch: pytest.MonkeyPatch, runs: list[str], *, walled: bool
) -> None:
    """Of five vehicles the first, one of the three that are coupled to two others, and the last are wired."""
    built = _built(None, walled=walled)
    once = _wired(built)
    assert sorted(runs) == ["v0", "v1", "v4"]
    lost = {(f"in{i}", f"n{i}_2", f"no way through v{i} to it is wide enough") for i in range(COUNT)}
    told = {(one.net, one.owner, one.reason) for one in once.unreached}
    assert lost <= told if walled else not told
    runs.clear()
    _each_by_itself(monkeypatch)
    assert _wired(built) == once
    assert len(runs) == COUNT


def test_what_differs_is_wired_by_itself(monkeypatch: pytest.MonkeyPatch, runs: list[str]) -> None:
    """Vehicles are turned, join another pin or lack a net, at random: no harness differs in anything."""
    trains = [_built(random.Random(seed)) for seed in range(3)]
    once = [_wired(built) for built in trains]
    fewer = len(runs)
    _each_by_itself(monkeypatch)
    assert [_wired(built) for built in trains] == once
    assert fewer < len(runs) - fewer == len(trains) * COUNT
