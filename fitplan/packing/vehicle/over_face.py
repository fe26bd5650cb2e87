"""By how much a part that sits on a built-in's face lacks room above it."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.solids import EDGE_WORDS, ORIGIN, Place, axis_of, is_forward
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.free_offsets import free_pieces
from fitplan.packing.engine.problem import IntBox, Item, PackingProblem, Variant
from fitplan.packing.vehicle.packed_items import shape_of
from fitplan.packing.vehicle.room_for_parts import RoomForParts
from fitplan.packing.vehicle.seats import Wanted, face_of, inside_hull, meet, middle_of, on_face


def over_face(vehicle: Vehicle, name: str, entry: Wanted) -> tuple[float, str, str, str]:
    """Tell by how much a part on the middle of its face reaches too far from it, all removable bricks out.

    It is moved into what it sits on until it runs into nothing else: so much lower it would have a place.

    Returns
    -------
    tuple
        Missing mm, the axis (``length``, ``width`` or ``height`` of the vehicle), the pose, and a sentence;
        all empty when the part sits on no face here, or when it runs into something beside it.
    """
    nothing = (0.0, "", "", "")
    if entry.need.sits is None or entry.need.sits[0] != name:
        return nothing
    _, owner, called = entry.need.sits
    face = face_of(vehicle, owner, called)
    axis, sign = axis_of(face.out), 1 if is_forward(face.out) else -1
    removed = frozenset(brick.name for brick in vehicle.removables)
    bare = replace(vehicle, built_in=tuple(one for one in vehicle.built_in if one.name != owner))
    room = RoomForParts(name, bare, removed).sure
    best = nothing
    for pose in entry.part.mount.allowed_poses():
        seat = on_face(entry.part, pose, middle_of(face), "outward")
        if seat is None:
            continue
        shape = shape_of(entry.part, pose, "outward", access=False)
        whole = [*shape.solid, *(one.box for one in shape.clearances if one.clear_of_obstacles)]
        takes = max(box[axis + 3] for box in whole) - min(box[axis] for box in whole)
        into = list(seat)
        into[axis if sign > 0 else axis + 3] -= sign * takes
        line: IntBox = (into[0], into[1], into[2], into[3], into[4], into[5])
        domain = tuple(meet([line], inside_hull(entry.part, pose, vehicle.hull, "outward")))
        if not domain:
            continue
        variant = Variant(pose.name, shape, domain)
        pieces = free_pieces(variant, PackingProblem((room,), (Item(entry.need.name, (variant,)),)))
        if not len(pieces):
            continue
        nearest = pieces[:, axis + 3].max() if sign > 0 else pieces[:, axis].min()
        missing = float(abs(seat[axis] - nearest)) / 10
        if missing and (not best[0] or missing < best[0]):
            bounds = Place(pose, ORIGIN).move_solid(entry.part.bounds).bounds
            more = ", its room for leads and plugs counted" if takes > round(bounds.size[axis] * 10) else ""
            sentence = (
                f"{missing:.1f} mm of {EDGE_WORDS[axis]} are missing over the face {called} of {owner}: "
                f"{entry.need.name} takes {takes / 10:.1f} mm there{more}"
            )
            best = (missing, EDGE_WORDS[axis], pose.name, sentence)
    return best
