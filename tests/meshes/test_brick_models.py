"""Vehicles exported brick by brick, against what is known of them by how they were built."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from fitplan.files.read import read_vehicle
from fitplan.lattice.frame import frame_of
from fitplan.lattice.space import VehicleSpace
from fitplan.meshes.from_mesh import MeshVehicle, vehicle_from_mesh
from fitplan.model.vehicle import Vehicle
from tests.meshes.brick_models import Export, Model, exports, models, write

MODELS = models()


@dataclass(frozen=True)
class Found:
    """How a converted vehicle compares with the truth, in voxels of the room at best turning."""

    false_clear: int
    """Clear where there is brick, the hollow of a brick or a wheel."""
    missed: float
    """Share of the true rooms that is not clear, studs left out."""


def convert(model: Model, export: Export, folder: Path) -> tuple[MeshVehicle, Vehicle]:
    """Write a model, convert it, write the vehicle file and read that again."""
    made = vehicle_from_mesh(write(model, export, folder))
    path = folder / "vehicle.yaml"
    path.write_text(made.text("vehicle.npz"), encoding="utf-8")
    if made.sidecar:
        (folder / "vehicle.npz").write_bytes(made.body.sidecar())
    return made, read_vehicle(path)


def compare(model: Model, vehicle: Vehicle) -> Found:
    """Compare the clear room of a vehicle with a model's, whichever end of it was taken for the front."""
    space = VehicleSpace.of(vehicle)
    frame = frame_of(vehicle)
    centers = frame.centers(np.argwhere(np.ones(frame.shape, dtype=bool))).reshape(*frame.shape, 3)
    clear = space.free("outward")
    lowest = min(b.z for b in model.bricks) * 3.2
    long, wide = model.size
    best: Found | None = None
    for turned, flipped in itertools.product((False, True), repeat=2):
        at = centers - np.array([0.0, 0.0, vehicle.base - lowest])
        if turned:
            at[..., 0] = long * 8.0 - at[..., 0]
        if flipped:
            at[..., 1] = wide * 8.0 - at[..., 1]
        brick = np.zeros(frame.shape, dtype=bool)
        for low, high in model.solids():
            brick |= ((at > low) & (at < high)).all(axis=-1)
        room = np.zeros(frame.shape, dtype=bool)
        for x0, y0, z0, x1, y1, z1 in model.rooms:
            low, high = np.array([x0 * 8, y0 * 8, z0 * 3.2]), np.array([x1 * 8, y1 * 8, z1 * 3.2])
            room |= ((at > low) & (at < high)).all(axis=-1)
        for thing in model.things:
            low, high = thing.mesh.bounds
            if thing.name in ("wheel", ""):  # a disc that turns: nothing may lie in it
                middle, radius = (low + high) / 2, (high[2] - low[2]) / 2
                disc = np.hypot(at[..., 0] - middle[0], at[..., 2] - middle[2]) < radius
                brick |= disc & (at[..., 1] > low[1]) & (at[..., 1] < high[1])
            room &= ~((at > low - 0.8) & (at < high + 0.8)).all(axis=-1)
        room_but_studs = room & ~_studs(model, at)
        missed = float((room_but_studs & ~clear).sum()) / max(1, int(room_but_studs.sum()))
        found = Found(int((clear & brick).sum()), missed)
        if best is None or (found.missed, found.false_clear) < (best.missed, best.false_clear):
            best = found
        if (best.missed, best.false_clear) == (0.0, 0):
            break  # no other turning can be better
    assert best is not None
    return best


def _studs(model: Model, at: np.ndarray) -> np.ndarray:
    """Voxels that a stud in a room may touch: what stands on bricks in it."""
    result = np.zeros(at.shape[:3], dtype=bool)
    for b in model.bricks:
        if b.smooth or b.slope:
            continue
        top = (b.z + b.plates) * 3.2
        inside = (at[..., 0] > b.x * 8) & (at[..., 0] < (b.x + b.long) * 8)
        inside &= (at[..., 1] > b.y * 8) & (at[..., 1] < (b.y + b.wide) * 8)
        result |= inside & (at[..., 2] > top) & (at[..., 2] < top + 2.4)
    return result


@pytest.mark.parametrize("number", range(len(MODELS)))
def test_a_vehicle_of_bricks_converts_without_a_hand(number: int, tmp_path: Path) -> None:
    """Footprint, units and up are right, no brick is clear, no room is missed, and the file reads back."""
    model = MODELS[number]()
    export = list(exports(7, len(MODELS)))[number]
    made, vehicle = convert(model, export, tmp_path)
    assert (vehicle.studs_long, vehicle.studs_wide) == model.size
    found = compare(model, vehicle)
    assert found.false_clear == 0
    assert found.missed < 0.01
    assert len(made.body.solids) < 100
    if model.axles:
        length = vehicle.length
        axles = sorted(
            min(abs(a - b) for b in (x, length - x))
            for a, x in zip(vehicle.wheels.at, model.axles, strict=True)
        )
        assert axles == pytest.approx([0.0, 0.0], abs=0.1)
        assert vehicle.wheels.wheel_radius == pytest.approx(made.vehicle.wheels.wheel_radius)
        for coupling in vehicle.couplings:
            assert coupling.length == pytest.approx(13.0, abs=0.2)
            assert coupling.height == pytest.approx(9.0, abs=0.2)
