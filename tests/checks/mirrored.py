"""A placed and wired train as a mirror along its track shows it: left and right exchanged."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Cylinder, Place, Pose, poses

Y = {"+y": "-y", "-y": "+y"}


def mirrored(built: BuiltTrain) -> BuiltTrain:
    """Return the mirror image; all vehicles must be of one width."""
    (width,) = {entry.vehicle.width for entry in built.train.vehicles}
    train = built.train
    seen = {need.name: tuple(_image(part, 0.0) for part in need.candidates) for need in train.needs}
    return replace(
        built,
        train=replace(
            train,
            vehicles=tuple(replace(one, vehicle=_image(one.vehicle, width)) for one in train.vehicles),
            needs=tuple(replace(need, candidates=seen[need.name]) for need in train.needs),
            catalogue={name: _image(part, 0.0) for name, part in train.catalogue.items()},
        ),
        placements=tuple(
            replace(one, part=_image(one.part, 0.0), place=_place(one.place, width))
            for one in built.placements
        ),
        harness=_image(built.harness, width),
    )


def _place(place: Place, width: float) -> Place:
    s = (1, -1, 1)
    matrix = tuple(tuple(s[i] * s[j] * place.pose.matrix[i][j] for j in range(3)) for i in range(3))
    pose: Pose = next(one for one in poses() if one.matrix == matrix)
    return Place(pose, _point(place.offset, width))


def _point(at: tuple[float, float, float], width: float) -> tuple[float, float, float]:
    return (at[0], width - at[1], at[2])


def _image(value: Any, width: float) -> Any:
    """Return what holds points, boxes and directions with every y as the mirror shows it."""
    if isinstance(value, Box):
        low, high = _point(value.low, width), _point(value.high, width)
        return Box((low[0], high[1], low[2]), (high[0], low[1], high[2]))
    if isinstance(value, Cylinder):
        start = _point(value.start, width)
        return replace(
            value, start=(start[0], start[1] - value.length, start[2]) if value.axis == "y" else start
        )
    if isinstance(value, str):
        return Y.get(value, value)
    if isinstance(value, tuple):
        if len(value) == 3 and all(isinstance(one, float | int) for one in value):
            return _point(value, width)
        return tuple(_image(one, width) for one in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(
            value, **{one.name: _image(getattr(value, one.name), width) for one in fields(value) if one.init}
        )
    return value
