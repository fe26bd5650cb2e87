"""Where rangers look and where the train ends, in the train's frame on straight track."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fitplan.circuit.net_ends import parts_of
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Ranger
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Direction, Vec, axis_of
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Window
from fitplan.pins.train_circuit import TrainCircuit


@dataclass(frozen=True)
class PlacedRanger:
    """A ranger of the train; ``placement`` is None as long as it has no place.

    Attributes
    ----------
    setback
        How far (mm) the lens lies behind the end of the train that it looks at, buffers and couplings
        included; 0 when it has no place or looks at no end.
    ahead
        True when it looks forwards, False backwards, None when neither or not known.
    guards
        It watches the way ahead or behind: it must look out of a window at an end, or it reaches far enough
        to brake for and looks along the train where it lies, if that is known.
    """

    need: str
    part: Part
    figures: Ranger
    placement: Placement | None
    setback: float
    ahead: bool | None
    guards: bool = True


LEAST_REACH = 100.0
"""Sensors that reach less far (mm) look at the track or a magnet, and are read beside the rangers (common
practice)."""


def chosen_parts(built: BuiltTrain) -> dict[str, Part]:
    """Return the parts that were placed; for the other needs their first candidates."""
    placed: Mapping[str, Part] = {entry.need: entry.part for entry in built.placements}
    return parts_of(built.train, placed)


def circuit_of(built: BuiltTrain, known: TrainCircuit | None = None) -> TrainCircuit:
    """Return the circuit of a train with its parts, where it is not known already."""
    return known or TrainCircuit.of(built.train, chosen_parts(built))


def eyes_of(built: BuiltTrain) -> tuple[PlacedRanger, ...]:
    """Return every ranger of the train, in the order of the needs."""
    found = []
    for name, part in chosen_parts(built).items():
        figures = part.figure(Ranger)
        if figures is None:
            continue
        placement = built.placement(name)
        setback, ahead = _where(built.train, placement) if placement is not None else (0.0, None)
        window = window_of(built.train, name)
        far = figures.reach_mm >= LEAST_REACH or window is not None
        if placement is not None:
            guards = ahead is not None and far
        else:
            guards = far and (window is None or axis_of(window[1].out) == 0)
        found.append(PlacedRanger(name, part, figures, placement, setback, ahead, guards))
    return tuple(found)


def window_of(train: Train, need: str) -> tuple[TrainVehicle, Window] | None:
    """Return the window that a need must look out of, with its vehicle; None where it asks for none."""
    looks = train.need(need).looks
    entry = next((one for one in train.vehicles if looks is not None and one.name == looks[0]), None)
    if looks is None or entry is None:
        return None
    window = next((one for one in entry.vehicle.windows if one.name == looks[1]), None)
    return None if window is None else (entry, window)


def looking(placement: Placement) -> Direction | None:
    """Return the direction in the vehicle's frame that a placed part looks in; None when it looks nowhere."""
    looks = placement.part.mount.looks
    return None if looks is None else placement.place.pose.turn_direction(looks)


def lens_center(placement: Placement) -> Vec:
    """Return the middle of a placed part's lens, in the vehicle's frame; of its front when it has no lens."""
    mount, bounds = placement.part.mount, placement.part.bounds
    front = bounds.face(mount.looks) if mount.looks is not None else bounds
    return placement.place.move((mount.lens or front).center)


def _where(train: Train, placement: Placement) -> tuple[float, bool | None]:
    entry = train.vehicle(placement.vehicle)
    direction = looking(placement)
    if direction is None or axis_of(direction) != 0:
        return 0.0, None
    starts = train.starts()
    at = entry.in_train(starts[entry.name], lens_center(placement))
    ahead = direction == entry.towards("ahead")
    leading, last = train.vehicles[0], train.vehicles[-1]
    if ahead:
        return leading.coupling_length("ahead") - at[0], True
    return at[0] - (starts[last.name] - last.coupling_length("behind")), False
