"""By how much a single part misses a vehicle: the dimension that is short, in which pose it comes closest."""

from __future__ import annotations

from fitplan.lattice.boxes import ExactSpace
from fitplan.lattice.clear import SizeTest, largest_box
from fitplan.model.solids import AXES, Place
from fitplan.model.vehicle import Vehicle, Window
from fitplan.packing.vehicle.seats import ORIGIN, Wanted

STEP_MM = 0.1
_AXIS_NAMES = {"x": "length", "y": "width", "z": "height"}


def nearest_miss(vehicle: Vehicle, name: str, entry: Wanted) -> tuple[float, str, str, str]:
    """Tell by how much a part's bounding box misses a vehicle's clear space, every removable brick out.

    Returns
    -------
    tuple
        Missing mm, axis (``length``, ``width`` or ``height`` of the vehicle), pose, and a sentence.  Axis and
        pose are empty when more than one dimension is short; all are when the bounding box would fit.
    """
    if entry.need.looks is not None:
        window = next((w for w in vehicle.windows if (name, w.name) == entry.need.looks), None)
        if window is not None and (shortage := _past_window(window, entry))[0] > 0:
            return shortage
    removed = frozenset(brick.name for brick in vehicle.removables)
    out = ", every removable brick out" if removed else ""
    space = ExactSpace.of(vehicle, removed=removed, play=True)
    test = SizeTest(space.free("inward"), space.faces)
    best: tuple[float, str, str, str] = (float("inf"), "", "", "")
    tried: set[tuple[float, float, float]] = set()
    for pose in entry.part.mount.allowed_poses():
        size = Place(pose, ORIGIN).move_solid(entry.part.bounds).bounds.size
        rounded = (round(size[0], 1), round(size[1], 1), round(size[2], 1))
        if rounded in tried:
            continue
        tried.add(rounded)
        if test.position(rounded) is not None:
            return (0.0, "", "", "")
        for axis in range(3):
            clear = round(test.longest(rounded, axis, STEP_MM), 1)
            missing = round(rounded[axis] - clear, 1)
            if clear > 0 and missing < best[0]:
                what = _AXIS_NAMES[AXES[axis]]
                sentence = (
                    f"{missing:.1f} mm of {what} are missing: the part takes {rounded[axis]:.1f} mm there,"
                    f" {name} has {clear:.1f} mm clear{out}"
                )
                best = (missing, what, pose.name, sentence)
    # One short dimension says more than a comparison of boxes, unless it is a far-fetched pose that has it.
    boxes = _against_largest(space, name, entry)
    return best if best[0] < float("inf") and not 0 < boxes[0] < best[0] else boxes


def _past_window(window: Window, entry: Wanted) -> tuple[float, str, str, str]:
    """Tell by how much a lens misses its window, in the pose that comes closest."""
    mount = entry.part.mount
    best: tuple[float, str, str, str] = (float("inf"), "", "", "")
    for pose in mount.allowed_poses():
        if pose.turn_direction(mount.looks or "+x") != window.out:
            continue
        lens = Place(pose, ORIGIN).move_solid(mount.lens or entry.part.bounds).bounds.size
        across = [i for i in range(3) if AXES[i] != window.out[1]]
        short = [max(lens[i] - window.box.size[i], 0.0) for i in across]
        missing = round(max(short), 1)
        if missing < best[0]:
            axis = _AXIS_NAMES[AXES[across[short.index(max(short))]]]
            wanted, clear = ([box[i] for i in across] for box in (lens, window.box.size))
            sentence = (
                f"{missing:.1f} mm of {axis} are missing in its window: the front takes {_text(wanted)} mm,"
                f" {window.name} is {_text(clear)} mm"
            )
            best = (missing, axis, pose.name, sentence)
    return best if best[0] < float("inf") else (0.0, "", "", "")


def _against_largest(space: ExactSpace, name: str, entry: Wanted) -> tuple[float, str, str, str]:
    """Set a part that is short in more than one dimension against the largest clear box."""
    box = largest_box(space.free("inward"), space.faces)
    clear = sorted((space.faces[i][box[i + 3]] - space.faces[i][box[i]] for i in range(3)), reverse=True)
    size = sorted(entry.part.bounds.size, reverse=True)
    missing = max(s - c for s, c in zip(size, clear, strict=True))
    sentence = (
        f"{missing:.1f} mm are missing: the part takes {_text(size)} mm, the largest clear box of {name} has"
        f" {_text(clear)} mm"
    )
    return (round(float(missing), 1), "", "", sentence) if missing > 0 else (0.0, "", "", "")


def _text(sizes: list[float]) -> str:
    return " × ".join(f"{size:.1f}" for size in sizes)
