"""By how much a single part misses a vehicle: the dimension that is short, in which pose it comes closest."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fitplan.lattice.boxes import ExactSpace, without_repeats
from fitplan.lattice.clear import SizeTest
from fitplan.lattice.cover import TENTHS
from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.solids import AXES, EDGE_WORDS, ORIGIN, Box, Place, Pose, Vec, axis_of
from fitplan.model.vehicle import BodySolid, Vehicle, Window
from fitplan.packing.vehicle.seats import Wanted

STEP_MM = 0.1
_AXIS_NAMES = dict(zip(AXES, EDGE_WORDS, strict=True))


def room_by_size(vehicle: Vehicle, zones: Sequence[Box] = ()) -> SizeTest:
    """Return which sizes find room in a vehicle at most beside shut zones, every removable brick out.

    Of a body whose walls were rounded it is the room between the walls as they are drawn: what is missing is
    what to make room for, not the least that it could be. Worked out once for a vehicle: of a body made from
    a mesh it is a second's work.
    """
    shut = tuple(BodySolid(zone, "fixed") for zone in zones)
    drawn = replace(vehicle, rounded=0.0, body=(*vehicle.body, *shut))
    space = ExactSpace.of(drawn, removed=frozenset(brick.name for brick in vehicle.removables), play=True)
    cells, edges = without_repeats(space.free("inward"), space.edges)
    return SizeTest(cells, [line / TENTHS for line in edges])


def shut_to(vehicle: Vehicle, need: Need) -> tuple[Box, ...]:
    """Return the zones of a vehicle that the part of a need stays out of."""
    return tuple(zone.box for zone in vehicle.zones if zone.shuts_out(need.name))


def box_shortage(vehicle: Vehicle, name: str, entry: Wanted, test: SizeTest) -> tuple[float, str, str, str]:
    """Tell by how much a part's bounding box misses a vehicle's clear space, every removable brick out.

    Parameters
    ----------
    test
        The vehicle's `room_by_size`.

    Returns
    -------
    tuple
        Missing mm along the axis that lacks most (``length``, ``width`` or ``height`` of the vehicle), that
        axis, the pose, and a sentence that names every axis that lacks and what would be enough; all empty
        when the bounding box would fit.
    """
    if entry.need.looks is not None:
        window = next((w for w in vehicle.windows if (name, w.name) == entry.need.looks), None)
        if window is not None and (shortage := _past_window(window, entry))[0] > 0:
            return shortage
    out = ", every removable brick out" if vehicle.removables else ""
    out += ", beside the zones that are shut to it" if shut_to(vehicle, entry.need) else ""
    best: _Shortage | None = None
    tried: set[Vec] = set()
    for pose in entry.part.mount.allowed_poses():
        size = Place(pose, ORIGIN).move_solid(entry.part.bounds).bounds.size
        rounded = (round(size[0], 1), round(size[1], 1), round(size[2], 1))
        if rounded in tried:
            continue
        tried.add(rounded)
        if test.position(rounded) is not None:
            return (0.0, "", "", "")
        for order in itertools.permutations(range(3)):
            found = _Shortage(pose.name, rounded, _goes_in(test, rounded, order))
            if best is None or found.order < best.order:
                best = found
    if best is None:
        return (0.0, "", "", "")
    missing, axis = best.worst
    sizes = f"the part takes {_text(best.size)} mm, {name} has {_text(best.clear)} mm clear for it"
    enough = _enough(entry, best)
    more = ", its room for leads and plugs in it," if enough != best.size else ""
    sentence = f"{best.text}: {sizes}{out}; {_text(enough)} mm{more} would be enough"
    return (missing, axis, best.pose, sentence)


@dataclass(frozen=True)
class _Shortage:
    """A part in one pose, and the size (mm) of a part that would go in instead."""

    pose: str
    size: Vec
    clear: Vec

    @property
    def missing(self) -> list[tuple[float, str]]:
        """What is short along each axis, the most first."""
        lacks = [
            (round(wanted - there, 1), _AXIS_NAMES[axis])
            for wanted, there, axis in zip(self.size, self.clear, AXES, strict=True)
        ]
        return sorted((lack for lack in lacks if lack[0] > 0), key=lambda lack: -lack[0])

    @property
    def worst(self) -> tuple[float, str]:
        """The axis that lacks most, and how much."""
        return self.missing[0] if self.missing else (0.0, "")

    @property
    def order(self) -> tuple[float, int, Vec]:
        """The least in all first, then the fewest axes."""
        return (round(sum(lack for lack, _ in self.missing), 1), len(self.missing), self.size)

    @property
    def text(self) -> str:
        """Which axes lack how much, as the beginning of a sentence."""
        return f"{' and '.join(f'{lack:.1f} mm of {axis}' for lack, axis in self.missing)} are missing"


def surely_enough(part: Part) -> str:
    """Return a clear box that surely takes a part in its flattest pose, in words."""
    sizes = [_with_room(part, pose) for pose in part.mount.allowed_poses()]
    least = min(sizes, key=lambda size: (size[0] * size[1] * size[2], size[2], -size[0]))
    return f"{_text(least)} mm, its room for leads and plugs in it, would be enough"


def _enough(entry: Wanted, short: _Shortage) -> Vec:
    """Return the size (mm) of a clear box that surely takes a part with all room that it needs beyond itself.

    Less may do where plugs and leads reach out through an opening.
    """
    part = entry.part
    found: list[tuple[float, Vec]] = []
    for pose in part.mount.allowed_poses():
        size = Place(pose, ORIGIN).move_solid(part.bounds).bounds.size
        if any(abs(one - other) > STEP_MM for one, other in zip(size, short.size, strict=True)):
            continue
        whole = _with_room(part, pose)
        lacks = sum(max(wanted - there, 0.0) for wanted, there in zip(whole, short.clear, strict=True))
        found.append((round(lacks, 1), whole))
    return min(found)[1] if found else short.size


def _with_room(part: Part, pose: Pose) -> Vec:
    """Return the size (mm) of the box round a part and all that it always keeps clear, turned."""
    boxes = [part.bounds, *(one.solid.bounds for one in part.clearances if one.needed == "always")]
    moved = [Place(pose, ORIGIN).move_solid(box).bounds for box in boxes]
    size = [max(box.high[axis] for box in moved) - min(box.low[axis] for box in moved) for axis in range(3)]
    return (size[0], size[1], size[2])


def _goes_in(test: SizeTest, size: Vec, order: Sequence[int]) -> Vec:
    """Return the size of a part that goes in, each axis in turn as long as the part or as there is room."""
    kept = [STEP_MM, STEP_MM, STEP_MM]
    for axis in order:
        asked = list(kept)
        # The longest is looked for below what is asked.
        asked[axis] = size[axis] + STEP_MM
        kept[axis] = round(test.longest((asked[0], asked[1], asked[2]), axis, STEP_MM), 1)
    return (kept[0], kept[1], kept[2])


def _past_window(window: Window, entry: Wanted) -> tuple[float, str, str, str]:
    """Tell by how much a lens misses its window, in the pose that comes closest."""
    mount = entry.part.mount
    best: tuple[float, str, str, str] = (float("inf"), "", "", "")
    for pose in mount.allowed_poses():
        if pose.turn_direction(mount.looks or "+x") != window.out:
            continue
        lens = Place(pose, ORIGIN).move_solid(mount.lens or entry.part.bounds).bounds.size
        across = [i for i in range(3) if i != axis_of(window.out)]
        lacks = sorted(
            ((round(max(lens[i] - window.box.size[i], 0.0), 1), _AXIS_NAMES[AXES[i]]) for i in across),
            key=lambda lack: -lack[0],
        )
        missing, axis = lacks[0]
        if missing < best[0]:
            short = " and ".join(f"{lack:.1f} mm of {name}" for lack, name in lacks if lack > 0)
            wanted, clear = ([box[i] for i in across] for box in (lens, window.box.size))
            sentence = (
                f"{short} are missing in its window: the front takes {_text(wanted)} mm,"
                f" {window.name} is {_text(clear)} mm"
            )
            best = (missing, axis, pose.name, sentence)
    return best if best[0] < float("inf") else (0.0, "", "", "")


def _text(sizes: Sequence[float]) -> str:
    return " × ".join(f"{size:.1f}" for size in sizes)
