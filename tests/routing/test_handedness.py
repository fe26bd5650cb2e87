"""A mirrored train gets the mirrored wires: one of two images is chosen, and solved the same way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import dist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.files.catalogue import read_catalogue
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef, WiringStyle
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Direction, Place, poses
from fitplan.model.vehicle import Vehicle
from fitplan.model.wired import Harness
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.map.handedness import to_be_mirrored
from fitplan.routing.negotiation.layout import Layout
from tests.packing.small_trains import block, hollow, train_of
from tests.routing.test_harness import FLOOR, Flow

Y: dict[Direction, Direction] = {"+y": "-y", "-y": "+y"}


@given(
    st.integers(0, 10_000), st.tuples(st.integers(1, 5), st.integers(1, 6), st.integers(1, 4)), st.booleans()
)
@settings(max_examples=80, deadline=None)
def test_exactly_one_of_two_images_is_chosen(seed: int, shape: tuple[int, int, int], even: bool) -> None:
    """Of a map with places and its image exactly one is to be mirrored, unless both are the same."""
    rng = np.random.default_rng(seed)
    free = rng.random(shape) > 0.3
    if even:
        free = free | free[:, ::-1]
    aside = [float(off) for off in rng.integers(-1, 2, 3)]
    image, others = free[:, ::-1], [-off for off in aside]
    if (free == image).all() and aside == others:
        assert not to_be_mirrored(free, aside)
        assert not to_be_mirrored(image, others)
    else:
        assert to_be_mirrored(free, aside) != to_be_mirrored(image, others)


def mirrored_box(box: Box, width: float) -> Box:
    """Return a box seen in a mirror along the train."""
    low, high = box.low, box.high
    return Box((low[0], width - high[1], low[2]), (high[0], width - low[1], high[2]))


def mirrored_vehicle(vehicle: Vehicle) -> Vehicle:
    """Return a hollow wagon with left and right exchanged."""
    width = vehicle.width
    return replace(
        vehicle,
        body=tuple(replace(one, solid=mirrored_box(one.solid.bounds, width)) for one in vehicle.body),
        ports=tuple(replace(one, box=mirrored_box(one.box, width)) for one in vehicle.ports),
        openings=tuple(replace(one, box=mirrored_box(one.box, width)) for one in vehicle.openings),
    )


def mirrored_part(part: Part) -> Part:
    """Return a block with its pins seen in a mirror."""
    width = part.bounds.size[1]
    pins = tuple(
        replace(pin, at=(pin.at[0], width - pin.at[1], pin.at[2]), exit=Y.get(pin.exit, pin.exit))
        for pin in part.pins
    )
    return replace(part, pins=pins)


def mirrored_train(built: BuiltTrain) -> BuiltTrain:
    """Return a train with left and right exchanged: bodies, ports, parts, pins."""
    parts = {place.need: mirrored_part(place.part) for place in built.placements}
    placements = []
    for place in built.placements:
        x, y, z = place.place.offset
        width = built.train.vehicle(place.vehicle).vehicle.width
        there = (x, width - y - place.part.bounds.size[1], z)
        placements.append(replace(place, part=parts[place.need], place=Place(place.place.pose, there)))
    vehicles = tuple(replace(one, vehicle=mirrored_vehicle(one.vehicle)) for one in built.train.vehicles)
    train = replace(built.train, vehicles=vehicles, catalogue={**built.train.catalogue, **parts})
    return replace(built, train=train, placements=tuple(placements))


def small_train(seed: int, style: WiringStyle) -> BuiltTrain:
    """Return two hollow wagons with six blocks and four nets; ports, a wall and pins lie anywhere."""
    rng = np.random.default_rng(seed)
    vehicles = []
    for name in ("a", "b"):
        vehicle = hollow(name, 12, 6, 7, kind="loco" if name == "a" else "wagon")
        aside = 0.8 * int(rng.integers(-8, 9))
        ports = tuple(
            replace(
                port,
                box=Box(
                    (port.box.low[0], port.box.low[1] + aside, port.box.low[2]),
                    (port.box.high[0], port.box.high[1] + aside, port.box.high[2]),
                ),
            )
            for port in vehicle.ports
        )
        vehicles.append(replace(vehicle, ports=ports))
    side: list[Direction] = ["+y", "-y", "+z", "+x"]
    parts, placements = {}, []
    for number, (vehicle, x) in enumerate((v, x) for v in "ab" for x in (10.0, 36.0, 62.0)):
        name = f"p{number}"
        part = block(name, (12.0, 8.0, 6.0), pins=4)
        pins = tuple(
            replace(
                pin,
                at=(pin.at[0], float(rng.choice([0.4, 1.6, 4.0, 7.0])), pin.at[2]),
                exit=side[int(rng.integers(4))],
                wires=int(rng.integers(1, 3)),
            )
            for pin in part.pins
        )
        parts[name] = replace(part, pins=pins)
        y = 8.0 + 0.8 * int(rng.integers(0, 30))
        place = Place(poses()[0], (x, y, FLOOR + 3.2 * int(rng.integers(0, 2))))
        placements.append(Placement(name, parts[name], vehicle, place, "the body"))
    nets = []
    for number, count in enumerate((5, 3, 2, 2)):
        owners = rng.choice(6, count, replace=False)
        nets.append(
            Net(
                f"n{number}",
                "signal",
                tuple(PinRef(f"p{owner}", f"p{number}") for owner in owners),
                style=style,
            )
        )
    needs = tuple(Need(name, (part,)) for name, part in parts.items())
    base = train_of(tuple(vehicles), needs)
    train = replace(base, nets=tuple(nets), catalogue={**read_catalogue(), **parts})
    return BuiltTrain(train, tuple(placements), Harness(), ())


def wired(built: BuiltTrain) -> tuple[Harness, Layout]:
    """Return the harness and the layout with a small current in every net."""
    done = wire_train(built, {net.name: Flow(10.0, 10.0) for net in built.train.nets})
    return done.harness, done.layout


def legs_mm(harness: Harness) -> list[float]:
    """Return the length of each wire inside its vehicles, from the points that are printed."""
    return [sum(dist(a, b) for leg in wire.legs for a, b in pairwise(leg.points)) for wire in harness.wires]


def joined(harness: Harness) -> list[tuple[str, ...]]:
    """Return what each wire joins, apart from where."""
    return [
        (wire.net, wire.start.kind, wire.start.owner, wire.end.kind, wire.end.owner) for wire in harness.wires
    ]


@pytest.mark.parametrize(("seed", "style"), [(0, "tree"), (2, "home-run"), (3, "chain")])
def test_the_mirror_train_has_the_same_lengths(seed: int, style: WiringStyle) -> None:
    """A wired train and its mirror image: the same wires between the same pins, cut to the same lengths."""
    built = small_train(seed, style)
    (one, own), (other, image) = wired(built), wired(mirrored_train(built))
    assert own.images ^ image.images == {"a", "b"} or own.images == image.images
    assert joined(one) == joined(other)
    assert [wire.cut_mm for wire in one.wires] == [wire.cut_mm for wire in other.wires]
    assert [wire.bare_mm for wire in one.wires] == pytest.approx([wire.bare_mm for wire in other.wires])
    assert legs_mm(one) == pytest.approx(legs_mm(other), abs=1e-3)
    assert len(one.unreached) == len(other.unreached)


def test_the_mirror_train_has_the_mirrored_ways() -> None:
    """The points of every wire of the mirror train are those of the train, left and right exchanged."""
    built = small_train(1, "tree")
    (one, _), (other, _) = wired(built), wired(mirrored_train(built))
    width = built.train.vehicles[0].vehicle.width
    for wire, image in zip(one.wires, other.wires, strict=True):
        for leg, mirror in zip(wire.legs, image.legs, strict=True):
            points: Sequence[tuple[float, float, float]] = [(x, width - y, z) for x, y, z in leg.points]
            assert np.array(points) == pytest.approx(np.array(mirror.points), abs=2e-4)
