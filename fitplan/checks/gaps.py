"""Windows and ports that are no gaps: what is drawn as one lies over brick.

Straight ways out are tried over the whole of a gap, from its inner to its outer face; bricks that may be
taken out, or are, do not count.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fitplan.checks.rays import first_hits, spread
from fitplan.checks.scene import body_obstacles
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding, Outcome
from fitplan.model.solids import Box, Direction, axis_of, is_forward
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Vehicle

SUBJECT = "gaps"
WAYS = 400
"""Straight ways out that are tried of each gap."""
LIMIT = 0.5
"""Share of a gap that may be brick (common practice, no source): bars and rims are drawn into many."""
_THIN = 1.0
"""A gap that is drawn flat is looked at so far to both sides (mm)."""


def check_gaps(built: BuiltTrain) -> Outcome:
    """Tell windows and ports more than half of which is brick."""
    return Outcome(SUBJECT, tuple(found for entry in built.train.vehicles for found in _of_vehicle(entry)))


def _of_vehicle(entry: TrainVehicle) -> Iterator[Finding]:
    vehicle = entry.vehicle
    gaps = [("window", one.name, one.box, one.out, "looks out") for one in vehicle.windows]
    gaps += [("port", one.name, one.box, one.out, "leads a wire") for one in vehicle.ports]
    for kind, name, box, out, use in gaps:
        share = blocked_share(vehicle, box, out)
        if share > LIMIT:
            how = "is solid brick" if share > 0.995 else f"is {share:.0%} brick"
            yield Finding(
                SUBJECT,
                "caution",
                f"{entry.name}, {name}",
                f"the {kind} {name} {how} in the layers and solids of {entry.name}: nothing {use} there",
                round(share, 3),
                LIMIT,
                "of the gap",
                "move its box to where the gap is, or leave the bricks there out of the drawings",
                "straight ways through the gap",
            )


def blocked_share(vehicle: Vehicle, box: Box, out: Direction) -> float:
    """Return the share of a gap through which no straight way leads out."""
    axis = axis_of(out)
    low, high = list(box.low), list(box.high)
    thick = high[axis] - low[axis]
    if thick < _THIN:
        low[axis], high[axis], thick = low[axis] - _THIN, high[axis] + _THIN, thick + 2 * _THIN
    inner = low[axis] if is_forward(out) else high[axis]
    low[axis] = high[axis] = inner
    points = spread(Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), WAYS)
    towards = np.zeros_like(points)
    towards[:, axis] = 1.0 if is_forward(out) else -1.0
    removable = frozenset(brick.name for brick in vehicle.removables)
    hits = first_hits(points, towards, body_obstacles(vehicle, removable))
    return float((hits.distance < thick - 1e-6).mean())
