"""The wagon that is proposed where a train that may have one more has none to copy: a plain van to build.

As wide as the vehicle that it runs behind, with that one's coupling and wheels, and a roof that lifts off;
longer and higher than usual where a part that is wanted needs that. Length, height and wheel places are
common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitplan.files.layers import DEFAULT_LEGEND, body_of_layers
from fitplan.model.facts import BRICK_G_MM3
from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.solids import Box, Direction
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, Coupling, Layer, Opening, Port, Vehicle, Wheels
from fitplan.units import PLATE, STUD

LONG = 16
"""Studs, as a rule."""
WALLS = 11
"""Plates between floor and roof, as a rule; the lowest of them leave the holes for wires."""
ABOUT_MM = 6.4
"""Room for leads over what the van is made higher for, and before and behind what it is made longer for
(common practice, no source)."""
HOLE = 3
"""Plates."""
NARROW = 5
"""Up to so many studs wide the sides are panels: walls of whole studs would leave too little between them."""
PANEL_MM = 1.5
"""Thickness of a panel (common practice, no source: measure yours)."""


def spare_wagon(
    entry: TrainVehicle, needs: Sequence[Need] = (), structure_height: float = 120.0
) -> Vehicle | None:
    """Return a van to run behind a vehicle of a train; None when that cannot be coupled there.

    Parameters
    ----------
    needs
        What may go into it: it has room for the smallest part of each, as far as its width allows.
    structure_height
        No van is higher above the rail head (mm).
    """
    ahead = entry.vehicle
    behind = "front" if entry.turned else "rear"
    coupling = next((one for one in ahead.couplings if one.end == behind), None)
    if coupling is None:
        return None
    wide, base = ahead.studs_wide, ahead.base
    panels = wide <= NARROW
    inside = wide * STUD - 2 * (PANEL_MM if panels else STUD)
    long, walls = _size(needs, inside, math.floor((structure_height - base) / PLATE) - 2)
    length, width = long * STUD, wide * STUD
    floor = base + PLATE
    hole, roof = floor + HOLE * PLATE, floor + walls * PLATE
    mouth = (wide // 2 - 1, wide // 2 + 1) if wide % 2 == 0 else (wide // 2, wide // 2 + 1)
    layers = (
        Layer("floor", base, 1, ("#" * long,) * wide),
        Layer("wire holes", floor, HOLE, _rows(long, wide, panels, range(*mouth))),
        Layer("walls", hole, walls - HOLE, _rows(long, wide, panels)),
        Layer("roof", roof, 1, ("#" * long,) * wide),
    )
    sides = ((0.0, PANEL_MM), (width - PANEL_MM, width)) if panels else ()
    body = (
        *body_of_layers(layers, DEFAULT_LEGEND),
        *(BodySolid(Box((STUD, y0, floor), (length - STUD, y1, roof)), "fixed") for y0, y1 in sides),
    )
    ends: tuple[tuple[str, float, Direction], ...] = (("rear", 0.0, "-x"), ("front", length - STUD, "+x"))
    axles = (4 * STUD, length - 4 * STUD)
    solid = sum(entry.solid.bounds.volume for entry in body if entry.state == "fixed")
    return Vehicle(
        name="Plain van",
        kind="wagon",
        studs_long=long,
        studs_wide=wide,
        base=base,
        top=roof + PLATE,
        floor_finish="studded",
        body=body,
        layers=layers,
        removables=(),
        openings=(Opening("roof", Box((0.0, 0.0, roof), (length, width, roof + PLATE)), "+z"),),
        windows=(),
        ports=tuple(
            Port(f"{end} wire hole", Box((x, mouth[0] * STUD, floor), (x + STUD, mouth[1] * STUD, hole)), out)
            for end, x, out in ends
        ),
        couplings=(
            Coupling("front", length - STUD, coupling.height, coupling.length),
            Coupling("rear", STUD, coupling.height, coupling.length),
        ),
        wheels=Wheels("axles", axles, (False, False), ahead.wheels.wheel_radius),
        built_in=(),
        mass_g=float(round(solid * BRICK_G_MM3)),
        mass_center=(length / 2, width / 2, (base + roof) / 2),
        characters=tuple((character, state) for character, (state, _) in DEFAULT_LEGEND.items()),
    )


def _size(needs: Sequence[Need], inside: float, most_walls: float) -> tuple[int, int]:
    """Return how many studs long and how many plates high inside a van is that has room for what is wanted.

    Parameters
    ----------
    inside
        Its clear width (mm).
    most_walls
        So many plates are between floor and roof at the most.
    """
    long, walls = LONG, float(WALLS)
    for need in needs:
        if need.bound_to or need.vehicles:
            continue
        sizes = [size for part in need.candidates if (size := _size_for(part, inside))[1] <= most_walls]
        if sizes:
            own = min(sizes)
            long, walls = max(long, own[0]), max(walls, own[1])
    return long, int(walls)


def _size_for(part: Part, inside: float) -> tuple[int, float]:
    """Return studs and plates of a van for one part, flat or on edge; endless plates where it is too wide."""
    thin, middle, longest = sorted(part.bounds.size)
    high = thin if middle <= inside else middle if thin <= inside else math.inf
    long, walls = LONG, float(WALLS)
    if longest > (LONG - 2) * STUD:
        long = math.ceil((longest + 2 * ABOUT_MM) / STUD) + 2
    if high > WALLS * PLATE:
        walls = math.inf if math.isinf(high) else math.ceil((high + ABOUT_MM) / PLATE)
    return long, walls


def _rows(long: int, wide: int, panels: bool, mouth: range = range(0)) -> tuple[str, ...]:
    """Return the rows of a layer of walls, the left side first; both ends are open where wires pass."""
    rows = []
    for stud in reversed(range(wide)):
        if stud in mouth:
            rows.append("." * long)
        elif panels or 0 < stud < wide - 1:
            rows.append("#" + "." * (long - 2) + "#")
        else:
            rows.append("#" * long)
    return tuple(rows)
