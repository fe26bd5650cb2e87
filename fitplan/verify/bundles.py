"""Whether stretches of bundles lie where their wires run, and say how thick these are together.

A stretch was counted before its wires were pulled taut, so they lie beside it: its points are no further
from each of its wires than `BESIDE`, and no thicker than a circle that surely holds them all. A stretch that
names a port goes through that port's box.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise

import numpy as np

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Vec, way_length
from fitplan.model.wired import Stretch, Wire
from fitplan.verify.distance import line_to_shape, points_to_lines
from fitplan.verify.result import Tally

BESIDE = 30.0
NEAR = 0.1
_PORT = 1.0


def check_bundles(built: BuiltTrain, sheet: Tally) -> None:
    """Check all stretches against their wires."""
    by_number = {wire.number: wire for wire in built.harness.wires}
    names = [stretch.name for stretch in built.harness.stretches]
    for name in sorted({name for name in names if names.count(name) > 1}):
        sheet.problem("stretch", name, "two stretches have this name")
    vehicles = {entry.name: entry.vehicle for entry in built.train.vehicles}
    sheet.trust(
        "which wires share a stretch",
        len(built.harness.stretches),
        "each is held against its wires; that no other lie side by side is not looked for",
    )
    for stretch in built.harness.stretches:
        sheet.count("stretches where wires run")
        if not stretch.name.strip():
            sheet.problem("stretch", f"in {stretch.vehicle}", "has no name")
        wires = [by_number[number] for number in stretch.wires if number in by_number]
        if len(set(stretch.wires)) != len(stretch.wires):
            sheet.problem("stretch", stretch.name, "names a wire twice")
        if not wires or not stretch.points:
            sheet.problem("stretch", stretch.name, "has no wires or no way")
            continue
        _thick(stretch, wires, sheet)
        _beside(stretch, wires, sheet)
        if stretch.port:
            vehicle = vehicles.get(stretch.vehicle)
            port = vehicle.port(stretch.port) if vehicle else None
            if port is None:
                sheet.problem("stretch", stretch.name, f"goes through {stretch.port}, which is no port there")
            elif not _passes(stretch, port.box):
                sheet.problem("stretch", stretch.name, f"does not go through {stretch.port}")
    _all_counted(built, by_number, sheet)


def _thick(stretch: Stretch, wires: list[Wire], sheet: Tally) -> None:
    square = sum(wire.outer_mm**2 for wire in wires)
    # Discs of half a circle's area always fit into it (Fekete, Keldenich and Scheffer 2019; from memory).
    most = math.sqrt(2 * square)
    if stretch.diameter_mm > most + NEAR:
        message = f"is {stretch.diameter_mm:.2f} mm thick; {most:.2f} mm hold its wires"
        sheet.problem("stretch", stretch.name, message, stretch.diameter_mm - most, "mm")


def _beside(stretch: Stretch, wires: list[Wire], sheet: Tally) -> None:
    spots = np.array(stretch.points, dtype=np.float64)
    for wire in wires:
        lines = [
            (a, b) for leg in wire.legs if leg.vehicle == stretch.vehicle for a, b in pairwise(leg.points)
        ]
        if not lines:
            continue  # told where stretches are counted
        starts, ends = np.array(lines, dtype=np.float64).transpose(1, 0, 2)
        away = float(points_to_lines(spots, starts, ends).min(axis=1).max())
        if away > BESIDE:
            message = f"runs {away:.1f} mm beside wire {wire.number}, which it names"
            sheet.problem("stretch", stretch.name, message, away, "mm")


def _passes(stretch: Stretch, box: Box) -> bool:
    points: list[Vec] = [*stretch.points, stretch.points[-1]]
    return any(line_to_shape(a, b, box) <= _PORT for a, b in pairwise(points))


def _all_counted(built: BuiltTrain, by_number: Mapping[int, Wire], sheet: Tally) -> None:
    """Check that wires which leave a vehicle side by side are in one of its stretches."""
    if not built.harness.stretches:
        return
    named = {(stretch.vehicle, number) for stretch in built.harness.stretches for number in stretch.wires}
    for wire in by_number.values():
        for leg in () if wire.inside else wire.legs:
            long = way_length(leg.points)
            if long > 60.0 and (leg.vehicle, wire.number) not in named:
                sheet.problem("stretch", f"wire {wire.number}", f"is in no stretch of {leg.vehicle}")
