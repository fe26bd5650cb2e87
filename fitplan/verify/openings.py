"""What a plan opens in bodies for its wires: holes on the stud grid, through bricks, at their price."""

from __future__ import annotations

import math

from fitplan.model.built import BuiltTrain
from fitplan.model.holes import PRICES, SQUARE, SQUARE_FROM, closed, opened
from fitplan.model.proposed import LeastOpening
from fitplan.model.solids import AXES, Box, is_forward, vec
from fitplan.model.vehicle import Hole, Vehicle
from fitplan.units import BRICK, PLATE, STUD
from fitplan.verify.body import Body
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, drawn_body

NEAR = 1e-3
_BESIDE = 0.4
"""So far beyond both ends of a hole it must be clear, in mm."""


def check_openings(built: BuiltTrain, sites: dict[str, Site], sheet: Tally) -> None:
    """Check each hole in the bodies of a plan, and what is said of them together."""
    opening = built.opening
    told = opening.holes if opening is not None and opening.planned else ()
    there = [(entry.name, hole) for entry in built.train.vehicles for hole in entry.vehicle.holes]
    for vehicle, hole in there:
        if (vehicle, hole) not in told:
            sheet.problem("opening", vehicle, f"{hole.name}: is in the body, and the plan does not say so")
    for vehicle, hole in told:
        if (vehicle, hole) not in there:
            sheet.problem("opening", vehicle, f"{hole.name}: is told, and the body does not have it")
    if there and not built.train.may_open:
        sheet.problem("opening", "plan", "opens bodies, which the train does not allow")
    for entry in built.train.vehicles:
        if not entry.vehicle.holes:
            continue
        if opened(closed(entry.vehicle), entry.vehicle.holes) != entry.vehicle:
            sheet.problem("opening", entry.name, "its holes are drawn otherwise than they are told")
            continue
        site = sites[entry.name]
        names = {hole.name for hole in entry.vehicle.holes}
        pieces = drawn_body(closed(entry.vehicle), site.removed - names)
        body = Body(site.body.hull, "outside", pieces)
        for hole in entry.vehicle.holes:
            sheet.count("holes")
            _taken_out(hole, site, sheet)
            _on_the_grid(hole, site, body, sheet)
    if opening is not None:
        _cost(built, opening, sheet)


def _taken_out(hole: Hole, site: Site, sheet: Tally) -> None:
    if hole.kind != "gap of a brick" and hole.name not in site.removed:
        sheet.problem("opening", site.name, f"{hole.name}: no rebuild takes it out")
    if abs(hole.cost - hole.bricks * PRICES[hole.kind]) > NEAR:
        sheet.problem("opening", site.name, f"{hole.name}: is not at its price", hole.cost, "")


def _on_the_grid(hole: Hole, site: Site, body: Body, sheet: Tally) -> None:
    """Check that a hole lies in a stud or its middle, goes right through, and through bricks only."""
    axis = AXES.index(hole.axis)
    low, high = hole.box.low, hole.box.high
    across = [k for k in (0, 1) if k != axis]
    wide = SQUARE if hole.kind == "brick with a hole" else STUD
    off = [
        k
        for k in across
        if hole.kind != "gap of a brick"
        and (abs(high[k] - low[k] - wide) > NEAR or _off_stud((low[k] + high[k]) / 2) > NEAR)
    ]
    tall = SQUARE if hole.kind == "brick with a hole" else BRICK
    if axis < 2 and hole.kind != "gap of a brick" and abs(high[2] - low[2] - tall) > NEAR:
        off.append(2)
    underside = low[2] - (SQUARE_FROM if hole.kind == "brick with a hole" else 0.0)
    if axis < 2 and hole.kind != "gap of a brick" and not _in_a_row(site.vehicle, underside):
        off.append(2)
    if off:
        sheet.problem("opening", site.name, f"{hole.name}: does not lie on the stud grid")
    middle = hole.box.center
    for sign, end in ((-1, low[axis]), (1, high[axis])):
        point = list(middle)
        point[axis] = end + sign * _BESIDE
        state = body.state_at((point[0], point[1], point[2]))
        outside = hole.out is not None and (sign > 0) == is_forward(hole.out)
        if outside and state != "outside":
            sheet.problem("opening", site.name, f"{hole.name}: does not lead out")
        if not outside and state != "free":
            sheet.problem("opening", site.name, f"{hole.name}: does not begin in a clear room")
    if hole.kind == "gap of a brick":
        return
    met = body.hits(_shrunk(hole.box), ("fixed", "removable", "keep-clear"))
    if not any(hit.piece.state in ("fixed", "removable") for hit in met):
        sheet.problem("opening", site.name, f"{hole.name}: there is no brick")
    for hit in met:
        if hit.piece.state == "keep-clear" or hit.piece.name.startswith("built-in"):
            sheet.problem("opening", site.name, f"{hole.name}: goes through {hit.piece.name}")
    if hole.kind == "brick with a hole":
        whole = _brick_round(hole.box, axis)
        if body.regions(_shrunk(whole), ("free", "outside", "keep-clear")):
            sheet.problem("opening", site.name, f"{hole.name}: is in no whole brick")
    studs = (high[axis] - low[axis]) / (BRICK if axis == 2 else STUD)
    if hole.bricks + 0.5 < studs:
        sheet.problem("opening", site.name, f"{hole.name}: goes through more bricks than it says")


def _in_a_row(vehicle: Vehicle, underside: float) -> bool:
    """Tell whether a brick with this underside is one of a layer's, or of a body's that has no layers."""
    spans = [(layer.base, layer.base + layer.plates * PLATE) for layer in vehicle.layers]
    for low, high in spans or [(vehicle.base, vehicle.top)]:
        rows = (underside - low) / BRICK
        if low - NEAR <= underside <= high - BRICK + NEAR and abs(rows - round(rows)) * BRICK < NEAR:
            return True
    return False


def _off_stud(middle: float) -> float:
    """Return how far a coordinate is from the middle of a stud, in mm."""
    return abs(middle - (math.floor(middle / STUD) + 0.5) * STUD)


def _brick_round(box: Box, axis: int) -> Box:
    """Return the whole bricks round a hole."""
    low, high = list(box.low), list(box.high)
    side = 1 - axis
    middle = (low[side] + high[side]) / 2
    low[side], high[side] = middle - STUD / 2, middle + STUD / 2
    low[2] -= SQUARE_FROM
    high[2] = low[2] + BRICK
    return Box(vec(low), vec(high))


def _shrunk(box: Box) -> Box:
    low = [value + 0.05 for value in box.low]
    high = [value - 0.05 for value in box.high]
    return Box(vec(low), vec(high))


def _cost(built: BuiltTrain, opening: LeastOpening, sheet: Tally) -> None:
    bricks = {
        (entry.name, brick.name): brick.cost
        for entry in built.train.vehicles
        for brick in entry.vehicle.removables
    }
    for vehicle, name in opening.remove:
        if (vehicle, name) not in bricks:
            sheet.problem("opening", vehicle, f"takes out {name}, which is no removable brick")
        elif opening.planned and name not in built.taken_out(vehicle):
            sheet.problem("opening", vehicle, f"says {name} comes out, and no rebuild takes it out")
    cost = sum(bricks.get(brick, 0.0) for brick in opening.remove)
    cost += sum(hole.cost for _, hole in opening.holes)
    if abs(cost - opening.cost) > NEAR:
        message = f"says it costs {opening.cost:g}; what it opens costs {cost:g}"
        sheet.problem("opening", "plan", message, abs(cost - opening.cost), "")
    if not 0 <= opening.least <= opening.cost + NEAR:
        message = f"says nothing below {opening.least:g} does; it costs {opening.cost:g} itself"
        sheet.problem("opening", "plan", message, opening.least - opening.cost, "")
    if not opening.planned and not built.harness.unreached:
        sheet.problem("opening", "plan", "says what must be opened for its wires, and all of them run")
    sheet.trust("bounds of openings", 1, "that nothing cheaper lets the wires through is a proof")
