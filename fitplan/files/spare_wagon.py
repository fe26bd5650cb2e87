"""The wagon that is proposed where a train that may have one more has none to copy: a plain van to build.

As wide as the vehicle that it runs behind, with that one's coupling and wheels, and a roof that lifts off.
Length, height and wheel places are common practice, no source.
"""

from __future__ import annotations

from fitplan.files.layers import DEFAULT_LEGEND, body_of_layers
from fitplan.model.facts import BRICK_G_MM3
from fitplan.model.solids import Box, Direction
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, Coupling, Layer, Opening, Port, Vehicle, Wheels
from fitplan.units import PLATE, STUD

LONG = 16
"""Studs."""
WALLS = 11
"""Plates between floor and roof; the lowest of them leave the holes for wires."""
HOLE = 3
"""Plates."""
NARROW = 5
"""Up to so many studs wide the sides are panels: walls of whole studs would leave too little between them."""
PANEL_MM = 1.5
"""Thickness of a panel (common practice, no source: measure yours)."""


def spare_wagon(entry: TrainVehicle) -> Vehicle | None:
    """Return a van to run behind a vehicle of a train; None when that cannot be coupled there."""
    ahead = entry.vehicle
    behind = "front" if entry.turned else "rear"
    coupling = next((one for one in ahead.couplings if one.end == behind), None)
    if coupling is None:
        return None
    wide, base = ahead.studs_wide, ahead.base
    length, width = LONG * STUD, wide * STUD
    floor = base + PLATE
    hole, roof = floor + HOLE * PLATE, floor + WALLS * PLATE
    mouth = (wide // 2 - 1, wide // 2 + 1) if wide % 2 == 0 else (wide // 2, wide // 2 + 1)
    panels = wide <= NARROW
    layers = (
        Layer("floor", base, 1, ("#" * LONG,) * wide),
        Layer("wire holes", floor, HOLE, _rows(wide, panels, range(*mouth))),
        Layer("walls", hole, WALLS - HOLE, _rows(wide, panels)),
        Layer("roof", roof, 1, ("#" * LONG,) * wide),
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
        studs_long=LONG,
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


def _rows(wide: int, panels: bool, mouth: range = range(0)) -> tuple[str, ...]:
    """Return the rows of a layer of walls, the left side first; both ends are open where wires pass."""
    rows = []
    for stud in reversed(range(wide)):
        if stud in mouth:
            rows.append("." * LONG)
        elif panels or 0 < stud < wide - 1:
            rows.append("#" + "." * (LONG - 2) + "#")
        else:
            rows.append("#" * LONG)
    return tuple(rows)
