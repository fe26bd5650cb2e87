"""Whether every part sits as it must: in its vehicle, at its window, on its face, the right way up, carried.

Rules, with their tolerances:

* a lens lies inside the outline of its window, its front within the thickness of the window's wall, both to
  0.1 mm, and nothing stands between its middle and the outside of the hull (what hides less is noted);
* a sitting face lies in the plane of the face that it sits on to 0.1 mm, and the middle of the lens (of the
  sitting face, where there is none) lies over that face;
* a part that needs support has something within 0.3 mm under it, or at its side a tile on a side stud.
  Its middle lies over that, unless the plan itself says that it must be fixed against tipping (noted).
"""

from __future__ import annotations

import math
from functools import lru_cache

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Direction, axis_of, opposite, plane_of
from fitplan.model.vehicle import Face, Vehicle
from fitplan.verify.bores import resting_in_bores
from fitplan.verify.overlap import overlap, shadow_box, way_out
from fitplan.verify.result import Tally
from fitplan.verify.scene import SOLID, PlacedPart, Site, core_of
from fitplan.verify.shapes import PLANE, Shape, convex_hull, moved
from fitplan.verify.shelves import held_at_its_side

NEAR = 0.1
"""Planes and outlines agree to this (mm): places are whole tenths of a millimetre."""
RESTS = 0.3
"""What lies no further than this under a part (mm) carries it."""
LEAST_EDGE = 0.5
"""A contact narrower than this (mm) carries nothing."""
OFF_SUPPORT = 0.3
"""The middle of a part that stands lies no further than this (mm) beside what carries it."""
_EDGE = 1e-6


def check_mounts(site: Site, needs: dict[str, Need], sheet: Tally) -> None:
    """Check how the parts of a vehicle sit."""
    for part in site.parts:
        need = needs.get(part.name)
        if need is None:
            sheet.problem("need", site.name, f"{part.name} serves no need of the train")
            continue
        _need(site, part, need, sheet)
        _upright(site, part, need, sheet)
        if need.looks is not None:
            _looks(site, part, need, sheet)
        if need.sits is not None:
            _sits(site, part, need, sheet)
        if part.placement.part.mount.needs_support:
            _carried(site, part, sheet)


def _need(site: Site, part: PlacedPart, need: Need, sheet: Tally) -> None:
    sheet.count("parts against their needs")
    placement = part.placement
    if placement.part.id not in {candidate.id for candidate in need.candidates}:
        sheet.problem("need", part.name, f"{placement.part.id} is not among what was asked for")
    if need.vehicles and site.name not in need.vehicles:
        sheet.problem("need", part.name, f"is in {site.name}, not in {' or '.join(need.vehicles)}")
    if need.pinned is not None:
        away = _away_from(need.pinned, placement)
        if need.pinned.vehicle != site.name or away > NEAR:
            sheet.problem("need", part.name, "is not where it was pinned", away, "mm")


def _away_from(fixed: FixedPlace, placement: Placement) -> float:
    """Return how far (mm) a part lies from where it is fixed; infinite where it is turned otherwise."""
    part, place = placement.part, placement.place
    if fixed.pose is not None and place.pose.name != fixed.pose:
        return math.inf
    sockets = [one.side for one in part.access if one.kind in ("console", "socket")]
    for name, way in fixed.towards:
        sides = sockets[:1] if name == "plug" else [name]
        if [place.pose.turn_direction(side) for side in sides] != [way]:
            return math.inf
    away = [abs(a - b) for a, b in zip(fixed.offset or (), place.offset, strict=False)]
    away += [abs(plane_of(placement.bounds, side) - plane) for side, plane in fixed.planes]
    return max(away, default=0.0)


def _upright(site: Site, part: PlacedPart, need: Need, sheet: Tally) -> None:
    mount, pose = part.placement.part.mount, part.placement.place.pose
    # Where a user has pinned a part, its pose is the user's own decision: noted, not faulted.
    own = need.pinned is not None and need.pinned.is_whole
    write = sheet.note if own else sheet.problem
    sheet.count("poses against mount rules")
    if mount.upright and pose.turn_direction("+z") != "+z":
        write("mount", site.name, f"{part.name} must stand upright")
    if mount.up and not any(pose.turn_direction(way) == "+z" for way in mount.up):
        write("mount", site.name, f"{part.name} has none of its sides {', '.join(mount.up)} up")
    if not mount.turnable and pose.name != "+x+y+z":
        write("mount", site.name, f"{part.name} may not be turned")


def _looks(site: Site, part: PlacedPart, need: Need, sheet: Tally) -> None:
    assert need.looks is not None
    sheet.count("lenses at windows")
    vehicle, name = need.looks
    window = next((entry for entry in site.vehicle.windows if entry.name == name), None)
    if vehicle != site.name or window is None:
        sheet.problem("mount", part.name, f"must look out of {name} of {vehicle}")
        return
    place, mount = part.placement.place, part.placement.part.mount
    side: Direction = mount.looks or "+x"
    if place.pose.turn_direction(side) != window.out:
        sheet.problem("mount", site.name, f"{part.name} does not look the way {name} does ({window.out})")
        return
    lens = place.move_solid(_lens(part.placement.part, side)).bounds
    axis = axis_of(window.out)
    for other in PLANE[axis]:
        out = max(window.box.low[other] - lens.low[other], lens.high[other] - window.box.high[other])
        if out > NEAR + _EDGE:
            message = (
                f"the lens of {part.name} lies {out:.2f} mm outside the window {name} along {'xyz'[other]}"
            )
            sheet.problem("mount", site.name, message, out, "mm")
    front = plane_of(lens, window.out)
    off = max(window.box.low[axis] - front, front - window.box.high[axis])
    if off > NEAR + _EDGE:
        message = f"the front of {part.name} lies {off:.2f} mm out of the wall with the window {name}"
        sheet.problem("mount", site.name, message, off, "mm")
    _view(site, part, lens, window.out, sheet)


def _view(site: Site, part: PlacedPart, lens: Box, out: Direction, sheet: Tally) -> None:
    """Check that nothing solid stands in front of a lens, straight out to beyond the hull."""
    axis = axis_of(out)
    # From just in front of the lens to beyond everything; a hair inside the lens's outline.
    before = middle = lens.with_span(axis, *sorted((plane_of(lens, out), plane_of(site.vehicle.hull, out))))
    for other in PLANE[axis]:
        before = before.with_span(other, lens.low[other] + NEAR, lens.high[other] - NEAR)
        middle = middle.with_span(other, lens.center[other] - NEAR, lens.center[other] + NEAR)
    if min(before.size) <= _EDGE:
        return
    whole = core_of(before)
    hidden = {hit.piece.name: hit.depth for hit in site.body.hits(whole, SOLID)}
    blinded = {hit.piece.name for hit in site.body.hits(middle, SOLID)}
    for other_part in site.parts:
        if other_part is part:
            continue
        for shape in other_part.core:
            if overlap(whole, shape):
                hidden[other_part.name] = max(hidden.get(other_part.name, 0.0), way_out(whole, shape)[0])
            if overlap(middle, shape):
                blinded.add(other_part.name)
    for name, depth in hidden.items():
        write = sheet.problem if name in blinded else sheet.note
        write("view", site.name, f"{name} stands {depth:.2f} mm in the view of {part.name}", depth, "mm")


def _lens(part: Part, side: Direction) -> Box:
    return part.mount.lens or part.bounds.face(side)


def face_sat_on(vehicle: Vehicle, need: Need) -> Face | None:
    """Return the face of a built-in that a need's part sits on, if a vehicle has it."""
    if need.sits is None:
        return None
    _, owner, name = need.sits
    faces = [face for built in vehicle.built_in if built.name == owner for face in built.faces]
    return next((face for face in faces if face.name == name), None)


def _sits(site: Site, part: PlacedPart, need: Need, sheet: Tally) -> None:
    assert need.sits is not None
    sheet.count("parts on faces")
    vehicle, built_name, face_name = need.sits
    face = face_sat_on(site.vehicle, need)
    if vehicle != site.name or face is None:
        sheet.problem("mount", part.name, f"must sit on {face_name} of {built_name} in {vehicle}")
        return
    place, mount = part.placement.place, part.placement.part.mount
    side: Direction = mount.sits or "-z"
    if place.pose.turn_direction(side) != opposite(face.out):
        sheet.problem("mount", site.name, f"{part.name} does not turn its sitting side to {face_name}")
        return
    axis = axis_of(face.out)
    gap = abs(plane_of(part.bounds, opposite(face.out)) - plane_of(face.box, face.out))
    if gap > NEAR + _EDGE:
        message = f"{part.name} is {gap:.2f} mm away from the plane of {face_name}"
        sheet.problem("mount", site.name, message, gap, "mm")
    middle = place.move_solid(_lens(part.placement.part, side)).bounds.center
    for other in PLANE[axis]:
        out = max(face.box.low[other] - middle[other], middle[other] - face.box.high[other])
        if out > NEAR + _EDGE:
            message = f"the middle of {part.name} is {out:.2f} mm beside {face_name} along {'xyz'[other]}"
            sheet.problem("mount", site.name, message, out, "mm")


def _carried(site: Site, part: PlacedPart, sheet: Tally) -> None:
    sheet.count("parts carried from below")
    below = resting_on(site, part)
    shelf = part.placement.shelf
    at_its_side = shelf is not None and shelf.kind in ("clip", "wall")
    if at_its_side and any(held_at_its_side(site, part.name, shape, RESTS) for shape in part.envelope):
        return
    edges = resting_in_bores(site, part)
    if not below and not edges:
        # That a part hangs must be said, and as a stop: `fastenings` looks for it.
        write = sheet.problem if part.placement.steady else sheet.note
        write("support", site.name, f"nothing is within {RESTS} mm under {part.name}", RESTS, "mm")
        return
    x, y, _ = part.center
    wide = [box for box in below if min(box.size[:2]) >= LEAST_EDGE]
    points = [(u, v) for box in wide for u in (box.low[0], box.high[0]) for v in (box.low[1], box.high[1])]
    points += edges
    beside = _beside_hull((x, y), points)
    if beside > _EDGE and not part.placement.steady:
        sheet.note("support", site.name, f"{part.name} is carried on one side only: fix it against tipping")
    elif beside > OFF_SUPPORT:
        message = f"{part.name} is said to stand, and its middle lies {beside:.1f} mm beside what carries it"
        sheet.problem("support", site.name, message, beside, "mm")


def resting_on(site: Site, part: PlacedPart) -> list[Box]:
    """Return boxes round where a part rests on something: bricks, studs, other parts, what is added."""
    return [
        shadow
        for shape in part.envelope
        for shadow in _contacts(site, part, core_of(moved(shape, (0.0, 0.0, -RESTS))))
    ]


@lru_cache(maxsize=1)  # asked for each solid of each part of a vehicle
def _added(site: Site) -> list[Box]:
    """Return what is added under parts: pads and printed blocks as far as they lie on something."""
    soft = {
        one.name: one
        for one in site.parts
        if one.placement.shelf is not None and one.placement.shelf.kind in ("pad", "block")
    }
    found = [box for name, box in site.shelves if name not in soft]
    for name, box in site.shelves:
        if name not in soft:
            continue
        lowered = core_of(moved(box, (0.0, 0.0, -RESTS)))
        under = site.body.regions(lowered, SOLID)
        others: list[Shape] = [solid for one in site.parts if one.name != name for solid in one.envelope]
        for other in (*others, *(shelf for owner, shelf in site.shelves if owner != name)):
            touched = shadow_box(lowered, other.bounds) if overlap(lowered, other) else None
            under += [touched] if touched is not None else []
        if under:
            low = [max(min(one.low[i] for one in under), box.low[i]) for i in (0, 1)]
            high = [min(max(one.high[i] for one in under), box.high[i]) for i in (0, 1)]
            found.append(Box((low[0], low[1], box.low[2]), (high[0], high[1], box.high[2])))
    return found


def _beside_hull(middle: tuple[float, float], points: list[tuple[float, float]]) -> float:
    """Return how far (mm) a point lies outside the hull of others, by the worst of its edges."""
    if not points:
        return 1000.0
    hull = convex_hull(points).corners
    x, y = middle
    worst = 0.0
    for p, q in zip(hull, hull[1:] + hull[:1], strict=True):
        length = math.dist(p, q)
        if length:
            turned = (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0])
            worst = max(worst, -turned / length)
    return worst


def _contacts(site: Site, part: PlacedPart, lowered: Shape) -> list[Box]:
    """Return boxes round where a part, let down a little, would run into something."""
    found = site.body.regions(lowered, SOLID)
    others: list[Shape] = [solid for other in site.parts if other is not part for solid in other.envelope]
    for other in (*others, *_added(site)):
        if overlap(lowered, other):
            touched = shadow_box(lowered, other.bounds)
            if touched is not None:
                found.append(touched)
    return found
