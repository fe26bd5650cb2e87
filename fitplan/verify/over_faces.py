"""What is told to be missing over a face that a part sits on: so much deeper it is free, and no less."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.proposed import FitRow
from fitplan.model.solids import EDGE_WORDS, ORIGIN, Place, axis_of, is_forward, plane_of
from fitplan.model.train import TrainVehicle
from fitplan.verify.fit import check_fit
from fitplan.verify.mounts import face_sat_on
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, standing

NEAR = 0.35
"""The figure is right to this (mm): play, and tenths rounded either way."""


def check_over_face(row: FitRow, need: Need, part: Part, entry: TrainVehicle, sheet: Tally) -> None:
    """Stand a part deeper in what it sits on: by what is missing it is free of all else, by less not."""
    where = f"{row.part_id} in {row.vehicle}"
    sheet.count("what is missing over faces")
    face = face_sat_on(entry.vehicle, need) if need.sits is not None and need.sits[0] == entry.name else None
    pose = next(one for one in part.mount.allowed_poses() if one.name == row.pose)
    if need.sits is None or face is None or EDGE_WORDS[axis_of(face.out)] != row.axis:
        sheet.problem("fit", where, "is said to lack room over a face, and sits on none along that axis")
        return
    turned, axis, out = Place(pose, ORIGIN), axis_of(face.out), 1 if is_forward(face.out) else -1
    bounds = turned.move_solid(part.bounds).bounds
    lens = turned.move_solid(part.mount.lens or part.bounds).bounds
    x, y, z = (there - own for there, own in zip(face.box.center, lens.center, strict=True))
    seat = plane_of(face.box, face.out) - (bounds.low if out > 0 else bounds.high)[axis]
    others = tuple(one for one in entry.vehicle.built_in if one.name != need.sits[1])
    bare = replace(entry, vehicle=replace(entry.vehicle, built_in=others))
    site = Site(bare, frozenset(brick.name for brick in entry.vehicle.removables), ())
    for deeper, free in ((row.missing_mm + 0.01, True), (row.missing_mm - NEAR, False)):
        offset = [x, y, z]
        offset[axis] = seat - out * deeper
        place = Place(pose, (offset[0], offset[1], offset[2]))
        own = Tally()
        check_fit(site.holding((standing(Placement(need.name, part, row.vehicle, place, "")),)), own)
        if (not own.report().problems) is not free:
            what = "runs into something" if free else "runs into nothing any more"
            message = f"{what} {deeper:.1f} mm deeper in its face"
            sheet.problem("fit", where, message, deeper, "mm")
