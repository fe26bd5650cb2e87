"""Whether the wires of a port can go through the part of it that nothing stands close behind.

What is less far behind a port than a wire is thick covers it for that wire and for all that are thicker:
none turns aside before it. Rules, each a proof that these cannot go through what is left:

* their cross-sections are no more than its area;
* where a rectangle is left, the thickest is no wider than its narrow side, and where no two lie side by side
  across it, all lie one behind another. Two of diameters a and b in a strip of width w then are at least
  √(w (a + b − w)) apart along it, which is concave in a + b: so n of them take no less than the sum of
  √(w (2d − w)) over all, and at both ends half of what the end's own wire is thicker than that.

A cover that stands g mm behind leaves a slanting gap up to √(w² + g²) wide. Round and sloping solids are not
reckoned with. That wires have room beside one another anywhere else is taken on trust.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, axis_of, is_forward
from fitplan.model.vehicle import Port
from fitplan.verify.body import STATE_CODES
from fitplan.verify.result import Tally
from fitplan.verify.scene import SOLID, Site

TOLERANCE = 0.05
"""So much wires (mm) may be too thick for the room that they have."""
_HAIR = 1e-3
Boxes: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True)
class _Left:
    """What is left of an opening, in mm² and mm.

    ``sides`` where it is a rectangle, the narrow one first; ``gap``: how far behind the last cover stands.
    """

    area: float
    sides: tuple[float, float] | None
    gap: float


def check_through_ports(built: BuiltTrain, sites: Mapping[str, Site], sheet: Tally) -> None:
    """Check the ports that wires pass, against what covers them."""
    through: dict[tuple[str, str], list[float]] = {}
    for wire in built.harness.wires:
        for leg in wire.legs:
            for passed in {leg.enters, leg.leaves} - {""}:
                through.setdefault((leg.vehicle, passed), []).append(wire.outer_mm)
    sheet.trust(
        "that wires lie side by side",
        len(through),
        "in ports it is looked for what surely has no room; elsewhere room for many is not looked for",
    )
    for (vehicle, name), wires in through.items():
        port, site = _meant(sites, vehicle, name)
        if site is None or port is None or port.is_open_end:
            continue  # told where wires meet ports
        sheet.count("ports that wires go through")
        for least in sorted(set(wires)):
            thick = sorted(wire for wire in wires if wire >= least)
            if why := _cannot(_left_of(port, site, least), thick):
                many = f"{len(thick)} wires go" if len(thick) > 1 else "a wire goes"
                sheet.problem("port", f"{vehicle} {name}", f"{many} through it, but {why}")
                break
    _check_told(built, sites, through, sheet)


def _check_told(
    built: BuiltTrain,
    sites: Mapping[str, Site],
    through: Mapping[tuple[str, str], Sequence[float]],
    sheet: Tally,
) -> None:
    """Check what is told of ports: of each that wires pass, no more of its opening than any of them has."""
    told = built.harness.facts.ports
    if told:
        for vehicle, name in sorted(set(through) ^ {(one.vehicle, one.port) for one in told}):
            sheet.problem("port", f"{vehicle} {name}", "it is told of, or wires go through it: not both")
    for load in told:
        port, site = _meant(sites, load.vehicle, load.port)
        wires = through.get((load.vehicle, load.port))
        if site is None or port is None or not wires:
            continue
        sheet.count("ports told of")
        size = (load.width_mm, load.height_mm)
        if any(side > whole + _HAIR for side, whole in zip(size, port.opening, strict=True)):
            sheet.problem("port", f"{load.vehicle} {load.port}", f"{_sides(size)} are told, more than it has")
            continue
        if port.is_open_end:
            continue
        left = _left_of(port, site, min(wires))
        most = left.area + TOLERANCE * sum(port.opening)
        within = left.sides is None or all(
            side <= most + TOLERANCE for side, most in zip(sorted(size), left.sides, strict=True)
        )
        if size[0] * size[1] > most or not within:
            rest = _sides(left.sides) if left.sides is not None else f"{left.area:.1f} mm²"
            sheet.problem(
                "port",
                f"{load.vehicle} {load.port}",
                f"{_sides(size)} are told to be left of it, and {rest} are",
            )


def _meant(sites: Mapping[str, Site], vehicle: str, name: str) -> tuple[Port | None, Site | None]:
    """Return a port by its name, and the place where its vehicle stands; None for what there is none of."""
    site = sites.get(vehicle)
    return (None if site is None else site.vehicle.port(name)), site


def _sides(size: tuple[float, float]) -> str:
    return f"{size[0]:.1f} × {size[1]:.1f} mm"


def _left_of(port: Port, site: Site, wire_mm: float) -> _Left:
    """Return what of a port's opening nothing covers for a wire so thick, by the edges of all that does."""
    axis, (low, high) = axis_of(port.out), (np.array(port.box.low), np.array(port.box.high))
    face = low[axis] if is_forward(port.out) else high[axis]
    if is_forward(port.out):
        low[axis] -= wire_mm
    else:
        high[axis] += wire_mm
    body, parts = _solid_boxes(site)
    first, last = low.copy(), high.copy()
    (last if is_forward(port.out) else first)[axis] = face
    # Of the body what lies behind the face: a port is a hole in it, however its wall is drawn.
    boxes = np.concatenate([_meeting(body, first, last), _meeting(parts, low, high)])
    across = [other for other in range(3) if other != axis]
    edges = [
        np.unique(np.clip([low[k], high[k], *boxes[:, k], *boxes[:, k + 3]], low[k], high[k])) for k in across
    ]
    clear = np.ones((len(edges[0]) - 1, len(edges[1]) - 1), dtype=np.bool_)
    gap = 0.0
    for box in boxes:
        inside = [
            (some[:-1] >= box[k] - _HAIR) & (some[1:] <= box[k + 3] + _HAIR)
            for some, k in zip(edges, across, strict=True)
        ]
        clear &= ~np.outer(*inside)
        gap = max(gap, float(face - box[axis + 3] if is_forward(port.out) else box[axis] - face))
    areas = np.outer(np.diff(edges[0]), np.diff(edges[1]))
    area = float(areas[clear].sum())
    return _Left(area, _rectangle(clear, edges, area), gap)


def _rectangle(
    clear: NDArray[np.bool_], edges: Sequence[NDArray[np.float64]], area: float
) -> tuple[float, float] | None:
    """Return the sides of what is clear where that is one rectangle, the narrow one first."""
    if not clear.any():
        return (0.0, 0.0)
    sides = []
    for side, some in enumerate(edges):
        own = np.flatnonzero(clear.any(axis=1 - side))
        sides.append(float(some[own[-1] + 1] - some[own[0]]))
    whole = abs(sides[0] * sides[1] - area) <= _HAIR
    return (min(sides), max(sides)) if whole else None


def _meeting(boxes: Boxes, low: Boxes, high: Boxes) -> Boxes:
    """Return the boxes that share inner points with one that has these corners."""
    return boxes[((boxes[:, :3] < high - _HAIR) & (boxes[:, 3:] > low + _HAIR)).all(axis=1)]


def _solid_boxes(site: Site) -> tuple[Boxes, Boxes]:
    """Return (n, 6), low and high corners in mm of the body and of parts, as far as these are boxes."""
    cells = site.body.cells
    solid = site.body.cells_in([STATE_CODES[state] for state in SOLID])
    shapes = [shape for part in site.parts for shape in part.envelope] + [box for _, box in site.shelves]
    boxes = [[*shape.low, *shape.high] for shape in shapes if isinstance(shape, Box)]
    return (
        np.concatenate([cells.low, cells.high], axis=1)[solid],
        np.array(boxes, dtype=np.float64).reshape(-1, 6),
    )


def _cannot(left: _Left, wires: Sequence[float]) -> str:
    """Return why wires, the thinnest first, cannot go through what is left of a port; empty when they may."""
    taken = sum(math.pi * max(wire - TOLERANCE, 0.0) ** 2 / 4 for wire in wires)
    if left.sides is None:
        room = left.area + left.gap * 4 * math.sqrt(max(left.area, 1.0)) + left.gap**2
        return "" if taken <= room else f"they take {taken:.1f} mm², and {room:.1f} mm² are left"
    narrow, wide = math.hypot(left.sides[0], left.gap), left.sides[1] + 2 * left.gap
    if wires[-1] > narrow + TOLERANCE:
        return f"one is {wires[-1]:.2f} mm thick, and what is left is {narrow:.2f} mm wide"
    if taken > narrow * wide:
        return f"they take {taken:.1f} mm², and {narrow * wide:.1f} mm² are left"
    if len(wires) > 1 and narrow + TOLERANCE < wires[0] + wires[1]:
        least = _in_a_strip(narrow + TOLERANCE, wires)
        if least > wide + TOLERANCE:
            return f"in a strip {narrow:.2f} mm wide they take {least:.1f} mm, and it is {wide:.1f} mm long"
    return ""


def _in_a_strip(width: float, wires: Sequence[float]) -> float:
    """Return a lower bound of the length (mm) that wires take which lie one behind another in a strip."""
    own = [math.sqrt(max(width * (2 * wire - width), 0.0)) for wire in wires]
    ends = sorted((wire - mine) / 2 for wire, mine in zip(wires, own, strict=True))
    return sum(own) + sum(ends[:2])
