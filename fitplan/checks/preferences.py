"""What became of the user's preferences: a figure for each, in the order of importance.

Distances are between the middles of the boxes round two things. What of a part is seen from outside is found
by rays: points spread over its faces, each looked at from all ways that are not steeper than 60°; a window
with bars lets through the share of it that is open.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

import numpy as np

from fitplan.checks.rays import GOLDEN, Floats, Obstacle, first_hits, spread
from fitplan.checks.scene import obstacles_of
from fitplan.checks.sources import TRAIN_FILE
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding, Outcome
from fitplan.model.needed import Preference
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, bounds_of
from fitplan.model.train import Train
from fitplan.model.vehicle import Opening, built_in_name

SUBJECT = "preferences"
POINTS, WAYS = 96, 64
"""Points of a part that are looked at, and ways from which each is."""
STEEPEST_DEG = 60.0
SEEN_LIMIT = 0.05
"""Share of a part that may be seen of one that is to be hidden (common practice, no source)."""
BESIDE_MM = 0.05


def check_preferences(built: BuiltTrain) -> Outcome:
    """Tell for each preference how far it is met."""
    found: list[Finding] = []
    wishes = built.train.preferences
    for rank, wish in enumerate(wishes, 1):
        placement = built.placement(wish.of)
        if placement is not None:
            which = f"wish {rank} of {len(wishes)}, " if len(wishes) > 1 else ""
            found.extend(_told(wish, which, placement, built))
    return Outcome(SUBJECT, tuple(found))


def _told(wish: Preference, which: str, placement: Placement, built: BuiltTrain) -> Iterator[Finding]:
    words = f"{which}{wish.of} {wish.kind} {wish.other}".strip()
    if wish.kind == "hidden":
        share = seen_share(placement, built)
        yield Finding(
            SUBJECT,
            "caution" if share > SEEN_LIMIT else "note",
            wish.of,
            f"{which}{share:.0%} of {wish.of} is seen from outside",
            round(share, 3),
            SEEN_LIMIT,
            "of its surface",
            "lay it behind a wall, or close a window beside it" if share > SEEN_LIMIT else "nothing to do",
            "rays from its surface",
        )
        return
    mine = bounds_of(placement.solids)
    theirs = box_of(wish.other, placement.vehicle, built)
    far = wish.kind == "far from"
    if theirs is None:
        yield Finding(
            SUBJECT,
            "note",
            wish.of,
            f"{words}: they are in different vehicles" + (", as far as can be" if far else ""),
            0.0,
            1.0,
            "vehicles",
            "nothing to do" if far else "give both the same vehicle with `in`, to see what is short",
            TRAIN_FILE,
        )
        return
    if wish.kind == "same side as":
        middle = built.train.vehicle(placement.vehicle).vehicle.width / 2
        sides = [box.center[1] - middle for box in (mine, theirs)]
        good = sides[0] * sides[1] > 0
        figure = abs(sides[0] - sides[1])
        what, best = f"{'yes' if good else 'no'}, {figure:.0f} mm across", 0.0
    else:
        figure = math.dist(mine.center, theirs.center)
        halves = [(one + other) / 2 for one, other in zip(mine.size, theirs.size, strict=True)]
        length = built.train.vehicle(placement.vehicle).vehicle.length
        best = length - halves[0] if far else min(halves)
        most = f"; more than {best:.0f} is not to be had" if far else f"; side by side it would be {best:.0f}"
        good, what = True, f"{figure:.0f} mm from middle to middle{most}"
    yield Finding(
        SUBJECT,
        "note" if good else "caution",
        wish.of,
        f"{words}: {what}",
        round(figure, 1),
        round(best, 1),
        "mm",
        "nothing to do" if good else "fix one of the two with `at`",
        TRAIN_FILE,
    )


def box_of(name: str, vehicle: str, built: BuiltTrain) -> Box | None:
    """Return the box of a need, something built in or an opening in a vehicle; None where it is not."""
    placement = built.placement(name)
    if placement is not None:
        return bounds_of(placement.solids) if placement.vehicle == vehicle else None
    return fixed_box(name, vehicle, built.train)


def fixed_box(name: str, vehicle: str, train: Train) -> Box | None:
    """Return the box of what stays where it is: something built in, or an opening of the vehicle."""
    named, body = built_in_name(name), train.built_in(name) if "/" in name else None
    if named is not None and body is not None:
        return bounds_of(body.solids) if named[0] == vehicle else None
    lids: tuple[Opening, ...] = train.vehicle(vehicle).vehicle.openings
    return next((lid.box for lid in lids if lid.name == name), None)


def seen_share(placement: Placement, built: BuiltTrain) -> float:
    """Return the share of a part's surface that is seen from outside through windows and gaps."""
    vehicle = built.train.vehicle(placement.vehicle).vehicle
    points, normals = _surface(placement)
    ways = _ways()
    pairs = [(i, j) for i, j in product(range(len(points)), range(len(ways))) if normals[i] @ ways[j] > 0.05]
    at = np.array([i for i, _ in pairs])
    towards = ways[[j for _, j in pairs]]
    obstacles = obstacles_of(built, placement.vehicle)
    hits = first_hits(points[at], towards, obstacles)
    free = ~np.isfinite(hits.distance)
    through = np.ones(len(pairs))
    for window in vehicle.windows:
        if window.open_share < 1.0:
            met = first_hits(points[at], towards, [Obstacle(_thick(window.box), window.name)])
            through = np.where(np.isfinite(met.distance), window.open_share, through)
    seen = np.zeros(len(points))
    np.maximum.at(seen, at, np.where(free, through, 0.0))
    return float(seen.mean())


def _thick(box: Box) -> Box:
    low = tuple(a - (0.1 if a == b else 0.0) for a, b in zip(box.low, box.high, strict=True))
    high = tuple(b + (0.1 if a == b else 0.0) for a, b in zip(box.low, box.high, strict=True))
    return Box(low, high)  # type: ignore[arg-type]


def _ways() -> Floats:
    """Return directions spread evenly over the sphere between the steepest up and the steepest down."""
    top = math.sin(math.radians(STEEPEST_DEG))
    height = top * (1 - 2 * (np.arange(WAYS) + 0.5) / WAYS)
    turn = GOLDEN * np.arange(WAYS)
    aside = np.sqrt(1 - height**2)
    return np.stack([np.cos(turn) * aside, np.sin(turn) * aside, height], axis=1)


def _surface(placement: Placement) -> tuple[Floats, Floats]:
    """Return points just off the faces of the boxes round a part's solids, and the way each face looks.

    Every face gets points by its area; round solids count as the boxes round them.
    """
    faces: list[tuple[Box, int, float]] = []
    for solid in placement.solids:
        box = solid.bounds
        for axis, side in product(range(3), (-1.0, 1.0)):
            plane = (box.high if side > 0 else box.low)[axis] + side * BESIDE_MM
            faces.append((box.with_span(axis, plane, plane), axis, side))
    areas = [math.prod(size for k, size in enumerate(face.size) if k != axis) for face, axis, _ in faces]
    points, normals = [], []
    for (face, axis, side), area in zip(faces, areas, strict=True):
        count = round(POINTS * area / sum(areas))
        if count:
            points.append(spread(face, count))
            normal = np.zeros(3)
            normal[axis] = side
            normals.append(np.tile(normal, (count, 1)))
    return np.concatenate(points), np.concatenate(normals)
