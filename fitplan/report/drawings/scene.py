"""The train as figures for the page's view: bodies layer by layer, parts, wires; compact and without names.

Bodies, parts and legs of wires are in the frame of their vehicle; ``shift`` and ``turned`` say how that frame
lies in the train. What hangs between two vehicles is in the train's frame. All lengths in mm.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.flat import outlines, rectangles
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Cylinder, Solid, Vec, Wedge, unit_vector
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import STATES, Vehicle
from fitplan.report.drawings.ghosts import ghosts_of
from fitplan.report.drawings.lead_drawing import plugs_in, surplus_points
from fitplan.report.drawings.slices import BUILT_IN, CellGrid, Section, cells_of, sections_of
from fitplan.report.drawings.wire_ways import drawn_legs, hanging
from fitplan.report.lists.build_sequence import build_sequence
from fitplan.report.lists.wording import colour_hex
from fitplan.units import STUD

Json: TypeAlias = dict[str, Any]
FAMILY_COLOURS: dict[str, str] = {
    "controller": "#1f6d78",
    "cells": "#b3862a",
    "pouch": "#b3862a",
    "bank": "#b3862a",
    "regulator": "#8a6d3b",
    "charger": "#8a6d3b",
    "ranger": "#7a4f92",
    "sensor": "#7a4f92",
    "emitter": "#b0402a",
    "lamp": "#c9a400",
    "sounder": "#5d7a3a",
    "driver": "#3f6f4f",
    "switch": "#5a6470",
    "connector": "#5a6470",
    "lead": "#5a6470",
    "junction": "#5a6470",
    "servo": "#3d6b8f",
    "camera": "#2f4858",
    "display": "#39526b",
    "coil": "#8a5a2b",
}
"""Colours of the parts by family; the name stands beside each part as well."""
OTHER_FAMILY = "#5a6470"


def scene_of(plan: Plan) -> Json:
    """Return everything that the page's view draws, as JSON values."""
    train = plan.built.train
    starts = train.starts()
    return {
        "vehicles": [_vehicle(plan, entry, starts[entry.name]) for entry in train.vehicles],
        "parts": _parts(plan),
        "wires": _wires(plan),
        "splices": [
            {"vehicle": _index(plan, splice.vehicle), "at": _vec(splice.at), "key": f"splice-{place}"}
            for place, splice in enumerate(plan.built.harness.splices)
        ],
        "steps": _steps(plan),
        "ghosts": [
            {
                "key": f"ghost-{place}",
                "vehicle": _index(plan, ghost.vehicle),
                "solids": [_solid(ghost.place.move_solid(solid)) for solid in ghost.part.envelope],
                "taken": _vec(ghost.taken.low) + _vec(ghost.taken.high),
                "room": _vec(ghost.room.low) + _vec(ghost.room.high),
                "short": _vec(ghost.short),
            }
            for place, ghost in enumerate(ghosts_of(plan))
        ],
    }


def _vehicle(plan: Plan, entry: TrainVehicle, start: float) -> Json:
    vehicle = entry.vehicle
    cells = cells_of(vehicle)
    sections = sections_of(vehicle, cells)
    taken = plan.built.taken_out(entry.name)
    kinds = [_kinds(vehicle, section, taken) for section in sections]
    layers = []
    for place, (section, kind) in enumerate(zip(sections, kinds, strict=True)):
        nothing = {name: np.zeros(mask.shape, np.bool_) for name, mask in kind.items()}
        below = kinds[place - 1] if place else nothing
        above = kinds[place + 1] if place + 1 < len(sections) else nothing
        layers.append(_layer(vehicle, cells, section, kind, below, above))
    wheels = vehicle.wheels
    axles: list[float] = []
    for at in wheels.at:
        half = wheels.bogie_wheelbase / 2 if wheels.kind == "bogies" else 0.0
        axles += [at - half, at + half] if half else [at]
    return {
        "shift": round(start, 2),
        "turned": entry.turned,
        "size": [round(vehicle.length, 2), round(vehicle.width, 2)],
        "low": round(vehicle.base, 2),
        "high": round(vehicle.top, 2),
        "layers": layers,
        "axles": [round(at, 2) for at in axles],
        "wheel": wheels.wheel_radius,
        "road": vehicle.kind == "road",
        "builtIn": [[_solid(solid) for solid in built_in.solids] for built_in in vehicle.built_in],
        "couplings": [
            [0.0 if c.end == "rear" else vehicle.length, c.height, c.length, -1 if c.end == "rear" else 1]
            for c in vehicle.couplings
        ],
        "shelves": [
            _vec(box.low) + _vec(box.high)
            for p in plan.built.placements
            if p.vehicle == entry.name and p.shelf is not None
            for box in p.shelf.boxes
        ]
        + [
            _vec(brick.box.low) + _vec(brick.box.high)
            for fastening in plan.built.fastenings
            if fastening.vehicle == entry.name
            for brick in fastening.bricks
        ],
    }


def _kinds(vehicle: Vehicle, section: Section, taken: frozenset[str]) -> dict[str, NDArray[np.bool_]]:
    """Masks ``(x, y)`` of what is drawn alike: fixed bricks, removable ones, and those taken out."""
    names = [entry.name for entry in vehicle.removables]
    out = np.isin(section.removable, [place for place, name in enumerate(names) if name in taken])
    removable = (section.state == STATES.index("removable")) & ~out
    return {
        "fixed": (section.state == STATES.index("fixed")) & (section.removable != BUILT_IN),
        "removable": removable,
        "out": out & (section.state == STATES.index("removable")),
    }


def _layer(
    vehicle: Vehicle,
    cells: CellGrid,
    section: Section,
    kind: dict[str, NDArray[np.bool_]],
    below: dict[str, NDArray[np.bool_]],
    above: dict[str, NDArray[np.bool_]],
) -> Json:
    xs, ys = cells.cuts[0], cells.cuts[1]

    def flat(mask: NDArray[np.bool_]) -> list[float]:
        return [
            round(float(value), 2)
            for x0, y0, x1, y1 in rectangles(mask)
            for value in (xs[x0], ys[y0], xs[x1], ys[y1])
        ]

    bodies = {}
    edges: list[float] = []
    for name, mask in kind.items():
        if not mask.any():
            continue
        lines = outlines(mask)
        bodies[name] = {
            "top": flat(mask & ~above[name]),
            "innerTop": flat(mask & above[name]),
            "bottom": flat(mask & ~below[name]),
            "walls": [
                round(float(value), 2)
                for x0, y0, x1, y1 in lines
                for value in (xs[x0], ys[y0], xs[x1], ys[y1])
            ],
        }
        for level, other in ((section.low, below[name]), (section.high, above[name])):
            for x0, y0, x1, y1 in outlines(mask ^ other) if (mask ^ other).any() else []:
                if level == section.low and other.any() and not _touches(mask, (x0, y0, x1, y1)):
                    continue
                edges += [xs[x0], ys[y0], level, xs[x1], ys[y1], level]
        for x, y in _corners(lines):
            edges += [xs[x], ys[y], section.low, xs[x], ys[y], section.high]
    return {
        "name": section.name,
        "low": round(section.low, 2),
        "high": round(section.high, 2),
        "bodies": bodies,
        "edges": [round(float(value), 2) for value in edges],
        "studs": _studs(vehicle, cells, kind, above),
    }


def _touches(mask: NDArray[np.bool_], line: tuple[int, int, int, int]) -> bool:
    """Whether brick of this layer lies beside a border line (else the line belongs to the layer below)."""
    x0, y0, x1, y1 = line
    near = mask[max(0, x0 - 1) : x0 + 1, y0:y1] if x0 == x1 else mask[x0:x1, max(0, y0 - 1) : y0 + 1]
    return bool(near.any())


def _corners(lines: list[tuple[int, int, int, int]]) -> list[tuple[int, int]]:
    """Where border lines of both directions meet."""
    along = {(x, y) for x0, y0, x1, y1 in lines if y0 == y1 for x, y in ((x0, y0), (x1, y1))}
    across = {(x, y) for x0, y0, x1, y1 in lines if x0 == x1 for x, y in ((x0, y0), (x1, y1))}
    return sorted(along & across)


def _studs(
    vehicle: Vehicle, cells: CellGrid, kind: dict[str, NDArray[np.bool_]], above: dict[str, NDArray[np.bool_]]
) -> list[float]:
    """Middles of the studs that show on this layer's top (x, y alternating)."""
    solid = kind["fixed"] | kind["removable"]
    over = above["fixed"] | above["removable"]
    found: list[float] = []
    for i, a in enumerate(cells.of_studs(0, vehicle.studs_long).tolist()):
        for j, b in enumerate(cells.of_studs(1, vehicle.studs_wide).tolist()):
            if 0 <= a < solid.shape[0] and 0 <= b < solid.shape[1] and solid[a, b] and not over[a, b]:
                found += [round((i + 0.5) * STUD, 2), round((j + 0.5) * STUD, 2)]
    return found


def _parts(plan: Plan) -> list[Json]:
    order = {need: step.number for step in plan.assembly for need in step.needs}
    return [
        {
            "key": f"part-{place}",
            "vehicle": _index(plan, placement.vehicle),
            "colour": FAMILY_COLOURS.get(placement.part.family, OTHER_FAMILY),
            "solids": [_solid(solid) for solid in (*placement.solids, *plugs_in(placement))],
            "pins": [_vec(placement.place.move(pin.at)) for pin in placement.part.pins],
            "step": order.get(placement.need, 0),
        }
        for place, placement in enumerate(plan.built.placements)
    ]


def _wires(plan: Plan) -> list[Json]:
    legs, arcs = drawn_legs(plan), hanging(plan)
    return [
        {
            "key": f"wire-{wire.number}",
            "colour": colour_hex(wire.colour),
            "radius": round(wire.outer_mm / 2, 3),
            "legs": [
                {"vehicle": _index(plan, vehicle), "points": [_vec(point) for point in points]}
                for vehicle, points in legs[wire.number]
                if len(points) > 1
            ]
            + [
                {"vehicle": _index(plan, vehicle), "points": [_vec(point) for point in points]}
                for vehicle, points in ([(wire.lead.vehicle, surplus_points(wire))] if wire.lead else [])
                if points
            ],
            "joints": [[_vec(point) for point in arc] for arc in arcs[wire.number]],
        }
        for wire in plan.built.harness.wires
    ]


def _steps(plan: Plan) -> list[Json]:
    keys = {placement.need: f"part-{place}" for place, placement in enumerate(plan.built.placements)}
    return [
        {
            "keys": [keys[need] for need in step.needs if need in keys]
            + [f"wire-{number}" for number in step.wires],
            "vehicle": _index(plan, step.vehicle) if step.vehicle else -1,
            "moves": [
                [round(component * length, 2) for component in unit_vector(direction)]
                for direction, length in step.moves
            ],
            "lift": step.lift,
        }
        for step in build_sequence(plan)
    ]


def _solid(solid: Solid) -> Json:
    match solid:
        case Box():
            return {"kind": "box", "low": _vec(solid.low), "high": _vec(solid.high)}
        case Cylinder():
            return {
                "kind": "cylinder",
                "axis": solid.axis,
                "at": _vec(solid.start),
                "length": round(solid.length, 2),
                "radius": round(solid.radius, 2),
            }
        case Wedge():
            return {
                "kind": "wedge",
                "low": _vec(solid.box.low),
                "high": _vec(solid.box.high),
                "base": solid.base,
                "back": solid.back,
            }


def _index(plan: Plan, vehicle: str) -> int:
    return [entry.name for entry in plan.built.train.vehicles].index(vehicle)


def _vec(point: Vec) -> list[float]:
    return [round(float(value), 2) for value in point]


def body_edges(plan: Plan, entry: TrainVehicle) -> list[tuple[Vec, Vec]]:
    """Return the edges of a vehicle's body as lines in its own frame."""
    lines: list[tuple[Vec, Vec]] = []
    for layer in _vehicle(plan, entry, 0.0)["layers"]:
        numbers = layer["edges"]
        for place in range(0, len(numbers), 6):
            x0, y0, z0, x1, y1, z1 = numbers[place : place + 6]
            lines.append(((x0, y0, z0), (x1, y1, z1)))
    return lines
