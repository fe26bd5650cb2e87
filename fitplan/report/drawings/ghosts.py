"""What does not fit, where it comes closest: in the largest room for it, and what is short each way."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from fitplan.lattice.boxes import ExactSpace
from fitplan.lattice.clear import SizeTest
from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow
from fitplan.model.solids import AXES, ORIGIN, Box, Place, Pose, Vec, is_forward, poses
from fitplan.model.vehicle import Vehicle, Window

_STEP = 0.1
_LEAST = 0.05


@dataclass(frozen=True)
class Ghost:
    """A part without a place, drawn where it comes closest to one.

    Attributes
    ----------
    place
        Pose and offset in the frame of the vehicle.
    taken, room
        What the part takes there and the room that there is for it (mm). At a window both are the lens and
        the gap.
    short
        Missing mm along x, y, z; 0 where nothing is short.
    """

    need: str
    part: Part
    vehicle: str
    place: Place
    taken: Box
    room: Box
    short: Vec
    proof: str


def ghosts_of(plan: Plan) -> tuple[Ghost, ...]:
    """Return a ghost for each part that is proved to have no place, in the vehicle where it lacks least."""
    found: list[Ghost] = []
    for need, _ in plan.unplaced:
        rows = [
            row for row in plan.fit if row.need == need and row.verdict == "cannot fit" and row.missing_mm > 0
        ]
        for row in sorted(rows, key=lambda one: one.missing_mm):
            ghost = _ghost(plan, row)
            if ghost is not None:
                found.append(ghost)
                break
    return tuple(found)


def _ghost(plan: Plan, row: FitRow) -> Ghost | None:
    wanted = plan.built.train.need(row.need)
    part = next((part for part in wanted.candidates if part.id == row.part_id), None)
    pose = next((pose for pose in poses() if pose.name == row.pose), None)
    if part is None or pose is None:
        return None
    vehicle = plan.built.train.vehicle(row.vehicle).vehicle
    window = next((w for w in vehicle.windows if (row.vehicle, w.name) == wanted.looks), None)
    if window is not None and (at := _at_window(row, part, pose, window)) is not None:
        return at
    return _in_room(row, part, pose, vehicle)


def _at_window(row: FitRow, part: Part, pose: Pose, window: Window) -> Ghost | None:
    """Stand a lens behind the middle of its window; None where the window is wide enough."""
    lens = Place(pose, ORIGIN).move_solid(part.mount.lens or part.bounds).bounds
    along = AXES.index(window.out[1])
    short = [
        0.0 if axis == along else max(0.0, round(lens.size[axis] - window.box.size[axis], 1))
        for axis in range(3)
    ]
    if max(short) < _LEAST:
        return None
    offset = [window.box.center[axis] - lens.center[axis] for axis in range(3)]
    forward = is_forward(window.out)
    edge, front = (window.box.low, lens.high) if forward else (window.box.high, lens.low)
    offset[along] = edge[along] - front[along]
    place = Place(pose, (offset[0], offset[1], offset[2]))
    taken = place.move_solid(part.mount.lens or part.bounds).bounds
    return Ghost(
        row.need, part, row.vehicle, place, taken, window.box, (short[0], short[1], short[2]), row.proof
    )


def _in_room(row: FitRow, part: Part, pose: Pose, vehicle: Vehicle) -> Ghost | None:
    """Stand a part on the floor of the largest room for it; it juts out evenly where too long."""
    removed = frozenset(brick.name for brick in vehicle.removables)
    space = ExactSpace.of(vehicle, removed=removed, play=True)
    test = SizeTest(space.free("inward"), space.faces)
    own = Place(pose, ORIGIN).move_solid(part.bounds).bounds
    size: Vec = (round(own.size[0], 1), round(own.size[1], 1), round(own.size[2], 1))
    best: tuple[float, Vec] | None = None
    for order in itertools.permutations(range(3)):
        kept = [_STEP, _STEP, _STEP]
        for axis in order:
            asked = list(kept)
            asked[axis] = size[axis] + _STEP
            kept[axis] = round(test.longest((asked[0], asked[1], asked[2]), axis, _STEP), 1)
        lack = round(sum(max(0.0, size[axis] - kept[axis]) for axis in range(3)), 1)
        if best is None or lack < best[0]:
            best = (lack, (kept[0], kept[1], kept[2]))
    corner = test.position(best[1]) if best is not None else None
    if best is None or corner is None or best[0] < _LEAST:
        return None
    low = [float(space.faces[axis][corner[axis]]) for axis in range(3)]
    room = Box((low[0], low[1], low[2]), (low[0] + best[1][0], low[1] + best[1][1], low[2] + best[1][2]))
    short = [max(0.0, round(size[axis] - best[1][axis], 1)) for axis in range(3)]
    offset = [room.center[axis] - own.center[axis] for axis in range(2)]
    place = Place(pose, (offset[0], offset[1], room.low[2] - own.low[2]))
    taken = place.move_solid(part.bounds).bounds
    return Ghost(row.need, part, row.vehicle, place, taken, room, (short[0], short[1], short[2]), row.proof)
