"""The examples: they read, their sizes are realistic, and the parts have the room they are meant to have."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitplan.files.catalogue import examples_folder
from fitplan.files.read import read_train
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.model.vehicle import Vehicle
from tests.examples.drawn import cannot_fit, fits

FOLDERS = sorted(path.parent for path in examples_folder().glob("*/train.yaml"))
NAMES = [folder.name for folder in FOLDERS]


@pytest.fixture(scope="module")
def trains() -> dict[str, Train]:
    return {folder.name: read_train(folder / "train.yaml") for folder in FOLDERS}


@pytest.fixture(scope="module")
def harbour(trains: dict[str, Train]) -> Train:
    return trains["harbour-line"]


def vehicle_of(train: Train, name: str) -> Vehicle:
    return train.vehicle(name).vehicle


def part_of(train: Train, part_id: str) -> Part:
    return train.catalogue[part_id]


def test_the_three_examples_are_there() -> None:
    """A train, a single car, and one that cannot work."""
    assert {"harbour-line", "market-tram", "narrow-crane-wagon"} <= set(NAMES)


@pytest.mark.parametrize("folder", FOLDERS, ids=NAMES)
def test_examples_read_without_error_and_explain_themselves(folder: Path) -> None:
    """Every example reads, and each of its files begins with a comment that says what it is."""
    train = read_train(folder / "train.yaml")
    assert train.vehicles
    assert train.needs
    for path in folder.glob("*.yaml"):
        assert path.read_text(encoding="utf-8").startswith("# "), path


@pytest.mark.parametrize("name", NAMES)
def test_vehicles_are_of_realistic_size(trains: dict[str, Train], name: str) -> None:
    """4 to 8 studs wide, 18 to 34 long, no higher than a hundred millimetres. Common practice, no source."""
    for entry in trains[name].vehicles:
        vehicle = entry.vehicle
        assert 4 <= vehicle.studs_wide <= 8
        assert 18 <= vehicle.studs_long <= 34
        assert 60 <= vehicle.hull.high[2] <= 100
        assert vehicle.top <= trains[name].track.structure_height


@pytest.mark.parametrize("name", NAMES)
def test_every_opening_window_and_port_lies_in_the_hull(trains: dict[str, Train], name: str) -> None:
    """What is drawn as a hole is drawn in the vehicle."""
    for entry in trains[name].vehicles:
        hull = entry.vehicle.hull
        for item in (*entry.vehicle.openings, *entry.vehicle.windows, *entry.vehicle.ports):
            assert all(hull.low[i] <= item.box.low[i] <= item.box.high[i] <= hull.high[i] for i in range(3))


def test_harbour_line_is_the_train_that_it_says(harbour: Train) -> None:
    """A four-axle loco with motor and receiver, two wagons; 6 studs wide, 20 to 28 long."""
    assert [entry.name for entry in harbour.vehicles] == ["shunter", "ice wagon", "brake van"]
    loco = vehicle_of(harbour, "shunter")
    assert loco.kind == "loco"
    assert loco.wheels.kind == "bogies"
    assert len(loco.wheels.at) == 2
    assert {item.kind for item in loco.built_in} == {"motor", "receiver"}
    for entry in harbour.vehicles:
        assert entry.vehicle.studs_wide == 6
        assert 20 <= entry.vehicle.studs_long <= 28
        assert any(solid.state == "keep-clear" for solid in entry.vehicle.body)
    assert {brick.name for brick in loco.removables} == {"inner wall", "weight brick", "radiator grille"}


def test_wire_holes_of_neighbours_face_each_other(harbour: Train) -> None:
    """Where two vehicles couple, both have a port there, at the same height and across the same width."""
    for ahead, behind in zip(harbour.vehicles, harbour.vehicles[1:], strict=False):
        out = [port for port in ahead.vehicle.ports if port.out == "-x"]
        into = [port for port in behind.vehicle.ports if port.out == "+x"]
        assert len(out) == len(into) == 1
        for axis in (1, 2):
            assert out[0].box.low[axis] == into[0].box.low[axis]
            assert out[0].box.high[axis] == into[0].box.high[axis]


@pytest.mark.parametrize("name", NAMES)
def test_every_need_is_wired(trains: dict[str, Train], name: str) -> None:
    """Every pin that must be connected is in a net, for the first candidate of each need."""
    train = trains[name]
    joined = {(ref.owner, ref.pin) for net in train.nets for ref in net.joins}
    for need in train.needs:
        part = need.candidates[0]
        if part.family == "controller":
            continue
        loose = [
            pin.name
            for pin in part.pins
            if not pin.optional and not {(need.name, pin.name), (need.name, pin.role)} & joined
        ]
        assert loose == [], need.name


@pytest.mark.parametrize(
    ("part_id", "vehicle", "removed"),
    [
        ("controller-compact-5v", "shunter", ()),
        ("controller-mid-5v", "shunter", ("inner wall",)),
        ("controller-mid-5v", "ice wagon", ()),
        ("controller-large-54", "ice wagon", ()),
        ("cells-aa-4-stack", "ice wagon", ()),
    ],
)
def test_parts_that_are_meant_to_fit_do(
    harbour: Train, part_id: str, vehicle: str, removed: tuple[str, ...]
) -> None:
    """By brute force over all places and poses, with all solids grown to whole voxels."""
    assert fits(vehicle_of(harbour, vehicle), part_of(harbour, part_id), removed)


ALL_BRICKS = ("inner wall", "weight brick", "radiator grille")


@pytest.mark.parametrize(
    ("part_id", "removed"),
    [
        ("controller-mid-5v", ("weight brick", "radiator grille")),
        ("controller-large-54", ALL_BRICKS),
    ],
)
def test_parts_that_are_meant_not_to_fit_the_loco_do_not(
    harbour: Train, part_id: str, removed: tuple[str, ...]
) -> None:
    """By brute force over all places and poses, with all solids shrunk to whole voxels."""
    assert cannot_fit(vehicle_of(harbour, "shunter"), part_of(harbour, part_id), removed)


def test_large_board_does_not_fit_the_narrow_wagon(trains: dict[str, Train]) -> None:
    """Its board is 53.4 mm wide; the crane wagon is 29 mm wide and 38.4 mm high inside."""
    train = trains["narrow-crane-wagon"]
    assert cannot_fit(vehicle_of(train, "crane wagon"), part_of(train, "controller-large-54"))
    assert fits(vehicle_of(train, "crane wagon"), part_of(train, "cells-aaa-2"))


@pytest.mark.parametrize(
    ("example", "vehicle", "window", "wide_enough"),
    [
        ("harbour-line", "shunter", "nose gap", True),
        ("harbour-line", "brake van", "end door", True),
        ("market-tram", "tram", "windscreen", True),
        ("narrow-crane-wagon", "crane wagon", "lamp gap", False),
    ],
)
def test_windows_show_both_eyes_or_cannot(
    trains: dict[str, Train], example: str, vehicle: str, window: str, wide_enough: bool
) -> None:
    """The two eyes want 42 × 16 mm, lying or upright."""
    train = trains[example]
    lens = part_of(train, "ranger-two-eyed").mount.lens
    assert lens is not None
    eyes = sorted(lens.size)[1:]
    gap = next(item for item in vehicle_of(train, vehicle).windows if item.name == window)
    room = sorted(gap.box.size[1:])
    assert all(have >= want for have, want in zip(room, eyes, strict=True)) == wide_enough
