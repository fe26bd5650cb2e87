"""Access: can a finger, a plug or fresh cells still get to where they must, once all is built in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fitplan.checks.rays import Floats, Obstacle, first_hits, spread
from fitplan.checks.scene import obstacles_of
from fitplan.model.part import Access
from fitplan.model.plan import BuiltTrain, Finding, Outcome, Placement, Severity, Table
from fitplan.model.solids import AXES, Box, Direction, unit_vector
from fitplan.model.vehicle import Opening

SUBJECT = "access"


@dataclass(frozen=True)
class AccessSettings:
    """How access is judged; settings of this check.

    Attributes
    ----------
    reach_mm
        Room in front of the part that must be open when the part names none itself.
    share
        So much of that room must be open straight out.
    rays
        How many straight ways are tried.
    """

    reach_mm: float = 10.0
    share: float = 0.5
    rays: int = 512


DEFAULTS = AccessSettings()


@dataclass(frozen=True)
class Reach:
    """The best straight way to a part's access: how much of its room is open, which way, through what."""

    share: float
    out: Direction
    openings: tuple[str, ...]
    blocked_by: str


def check_access(built: BuiltTrain, settings: AccessSettings = DEFAULTS) -> Outcome:
    """Check that everything that must be reached can be."""
    findings: list[Finding] = []
    rows: list[tuple[str | float, ...]] = []
    for placement in built.placements:
        for access in placement.part.access:
            reach = best_reach(built, placement, access, settings)
            side = placement.place.pose.turn_direction(access.side)
            findings.append(_finding(placement, access, side, reach, settings))
            rows.append(
                (
                    placement.need,
                    access.name,
                    placement.vehicle,
                    "often" if access.often else "when building",
                    _towards(reach.out),
                    ", ".join(reach.openings) or "nothing to open",
                    f"{100 * reach.share:.0f} %",
                )
            )
    columns = ("part", "what", "vehicle", "needed", "from", "through", "open")
    return Outcome(
        SUBJECT, tuple(findings), (Table("What must be reached", columns, tuple(rows)),) if rows else ()
    )


def best_reach(
    built: BuiltTrain, placement: Placement, access: Access, settings: AccessSettings = DEFAULTS
) -> Reach:
    """Return the best straight way out of the room in front of an access, with the openings it may use open.

    What is used often may count on openings that open often; else any opening will do.  Straight out of the
    part's own side is tried first, then every way that an opening opens.
    """
    shape = built.train.vehicle(placement.vehicle).vehicle
    usable = tuple(one for one in shape.openings if one.often or not access.often)
    obstacles = obstacles_of(built, placement.vehicle, placement.need)
    lids = {one.name: Obstacle(one.box, one.name, stops=False) for one in usable}
    placed = [one for one in obstacles if one.name in {other.need for other in built.placements}]
    others = [one for one in obstacles if one not in placed]
    points = spread(access_room(placement, access, settings), settings.rays)
    side = placement.place.pose.turn_direction(access.side)
    found: list[Reach] = []
    for out in dict.fromkeys((side, *(one.out for one in usable))):
        through: list[Opening] = [one for one in usable if one.out == out]
        scene = [*others, *(lids[one.name] for one in through), *placed]
        open_share, blocker = _open_share(points, out, scene)
        names = tuple(one.name for one in through if _passes(points, out, one.box))
        found.append(Reach(open_share, out, names, blocker))
    return max(found, key=lambda reach: (round(reach.share, 3), -len(reach.openings)))


def access_room(placement: Placement, access: Access, settings: AccessSettings = DEFAULTS) -> Box:
    """Return the room in front of an access, in the vehicle's frame.

    The part's own clearance for access on that side; else a room as deep as a finger's tip before its face.
    """
    bounds = placement.part.bounds
    axis = AXES.index(access.side[1])
    for clearance in placement.part.clearances:
        room = clearance.solid.bounds
        beyond = (
            room.high[axis] > bounds.high[axis]
            if access.side[0] == "+"
            else room.low[axis] < bounds.low[axis]
        )
        if clearance.needed == "access" and beyond:
            moved = placement.place.move_solid(room)
            assert isinstance(moved, Box)
            return moved
    low, high = list(bounds.low), list(bounds.high)
    if access.side[0] == "+":
        low[axis], high[axis] = bounds.high[axis] + 0.05, bounds.high[axis] + settings.reach_mm
    else:
        low[axis], high[axis] = bounds.low[axis] - settings.reach_mm, bounds.low[axis] - 0.05
    moved = placement.place.move_solid(Box((low[0], low[1], low[2]), (high[0], high[1], high[2])))
    assert isinstance(moved, Box)
    return moved


def _open_share(points: Floats, out: Direction, scene: list[Obstacle]) -> tuple[float, str]:
    rays = np.tile(np.array(unit_vector(out), dtype=float), (len(points), 1))
    hits = first_hits(points, rays, scene)
    shut = np.isfinite(hits.distance)
    names = [scene[int(i)].name for i in hits.index[shut]]
    blocker = max(sorted(set(names)), key=names.count) if names else ""
    return float(1 - shut.mean()), blocker


def _passes(points: Floats, out: Direction, box: Box) -> bool:
    """Return whether straight ways from the points go through an opening's box."""
    axis = AXES.index(out[1])
    across = [i for i in range(3) if i != axis]
    inside = np.all([(points[:, i] >= box.low[i]) & (points[:, i] <= box.high[i]) for i in across], axis=0)
    return bool(inside.any())


def _towards(out: Direction) -> str:
    return {
        "+x": "the front", "-x": "the rear", "+y": "the left", "-y": "the right",
        "+z": "above", "-z": "below",
    }[out]  # fmt: skip


def _side(side: Direction) -> str:
    return {"+z": "the top", "-z": "the floor"}.get(side, _towards(side))


def _finding(
    placement: Placement, access: Access, side: Direction, reach: Reach, settings: AccessSettings
) -> Finding:
    shut = reach.share < settings.share
    often = "in everyday use" if access.often else "when building or debugging"
    through = f" through {' and '.join(reach.openings)}" if reach.openings else ""
    message = (
        f"{access.name} of {placement.need} must be reached {often}; the room on its side towards "
        f"{_side(side)} is {100 * reach.share:.0f} % open from {_towards(reach.out)}{through}"
    )
    kind = "an opening that lifts off every day" if access.often else "an opening"
    blocker = f"; {reach.blocked_by} is in the way" if shut and reach.blocked_by else ""
    # What is reached now and then can still be taken out for it; what is used every day cannot.
    severity: Severity = "note" if not shut else "stop" if access.often else "caution"
    return Finding(
        SUBJECT,
        severity,
        f"{placement.need} in {placement.vehicle}",
        message + blocker,
        round(100 * reach.share, 1),
        100 * settings.share,
        "%",
        f"turn or move {placement.need} so that it faces {kind}, or make one there"
        if shut
        else "nothing to do",
        "straight ways out of the room in front of it; a setting of this check",
    )
