"""Drawings that cannot be so: windows and ports over brick, wheels above the floor, rooms that are not drawn.

Straight ways out are tried over the whole of a gap, from its inner to its outer face; bricks that may be
taken out, or are, do not count, but where wires of the plan pass one that stays in. A wheel may lie in the
brick of a floor, where wells are seldom drawn; above it it would stand where parts and wires lie.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fitplan.checks.rays import first_hits, spread
from fitplan.checks.scene import body_obstacles, wheel_solids
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding, Outcome
from fitplan.model.needed import Need
from fitplan.model.solids import Box, Direction, axis_of, is_forward, plane_of
from fitplan.model.train import TrainVehicle
from fitplan.model.undrawn import drawing_advice, undrawn_rooms, undrawn_words
from fitplan.model.vehicle import Vehicle
from fitplan.model.words import listed

SUBJECT = "gaps"
WAYS = 400
"""Straight ways out that are tried of each gap."""
LIMIT = 0.5
"""Share of a gap that may be brick (common practice, no source): bars and rims are drawn into many."""
_TINY = 1e-3
_THIN = 1.0
"""A gap that is drawn flat is looked at so far to both sides (mm)."""


def check_gaps(built: BuiltTrain) -> Outcome:
    """Tell windows and ports that are mostly brick, wheels above the floor, and rooms that are not drawn."""
    gauge = built.train.track.gauge
    found = list(_over_brick([one for entry in built.train.vehicles for one in _shut(built, entry)]))
    found += [one for entry in built.train.vehicles for one in _through_bricks(built, entry)]
    found += [one for entry in built.train.vehicles for one in _wheels_above_floor(entry, gauge)]
    found += [one for entry in built.train.vehicles for one in _not_drawn(entry)]
    return Outcome(SUBJECT, tuple(found))


def _not_drawn(entry: TrainVehicle) -> Iterator[Finding]:
    """Yield the largest room inside a vehicle of which its file says nothing."""
    for room in undrawn_rooms(entry.vehicle)[:1]:
        yield Finding(
            SUBJECT,
            "caution",
            entry.name,
            f"{undrawn_words(entry.name, room)}: no part and no wire is laid there",
            round(room.volume / 1000, 1),
            0.0,
            "cm³",
            f"{drawing_advice(room)}; where nothing is to lie there, with `state: outside`",
            "room with something drawn below it and on its four sides, or on three and above",
        )


@dataclass(frozen=True)
class BrickedPort:
    """A port that wires pass, the share of it that bricks fill which may come out, and these bricks."""

    port: str
    share: float
    bricks: tuple[str, ...]


def bricked_ports(built: BuiltTrain, entry: TrainVehicle, bricks: Collection[str]) -> Iterator[BrickedPort]:
    """Yield the ports of a vehicle that wires pass and of which some removable bricks fill most.

    Those that would be shut without these bricks as well are drawn wrongly, which is told by itself.
    """
    vehicle, every = entry.vehicle, {brick.name for brick in entry.vehicle.removables}
    stay = every.intersection(bricks)
    for port in vehicle.ports if stay else ():
        if (entry.name, port.name) not in _passed(built):
            continue
        open_share = blocked_share(vehicle, port.box, port.out)
        share = blocked_share(vehicle, port.box, port.out, every - stay)
        if open_share > LIMIT or share <= LIMIT:
            continue
        there = (
            brick
            for brick in sorted(stay)
            if blocked_share(vehicle, port.box, port.out, every - {brick}) > open_share + _TINY
        )
        yield BrickedPort(port.name, share, tuple(there))


def bricks_that_stay(built: BuiltTrain, entry: TrainVehicle) -> frozenset[str]:
    """Return the removable bricks of a vehicle that are not out in a plan, nor were before."""
    out = {name for rebuild in built.rebuilds if rebuild.vehicle == entry.name for name in rebuild.remove}
    opening = built.opening.remove if built.opening is not None and built.opening.planned else ()
    out |= {name for home, name in (*opening, *built.train.as_built.bricks_out) if home == entry.name}
    return frozenset(brick.name for brick in entry.vehicle.removables) - out


def _through_bricks(built: BuiltTrain, entry: TrainVehicle) -> Iterator[Finding]:
    """Yield the ports that wires pass and a brick stands in that may come out, and does not in this plan."""
    for one in bricked_ports(built, entry, bricks_that_stay(built, entry)):
        many = len(one.bricks) > 1
        yield Finding(
            SUBJECT,
            "caution",
            f"{entry.name}, {one.port}",
            f"{listed(one.bricks)}, which may come out, {'stand' if many else 'stands'} in {one.share:.0%} of"
            f" the port {one.port} of {entry.name}, and the plan leads wires through",
            round(one.share, 3),
            LIMIT,
            "of the gap",
            f"take {listed(one.bricks)} out of {entry.name}, or put {'some' if many else 'one'} with a gap"
            f" there{'' if built.train.may_open else '; with `may open: yes` that is planned as a rebuild'}",
            "straight ways through the gap",
        )


def _passed(built: BuiltTrain) -> set[tuple[str, str]]:
    """Return the ports that wires of the plan pass, each with its vehicle."""
    return {
        place
        for one in built.harness.crossings
        for place in ((one.ahead, one.port_ahead), (one.behind, one.port_behind))
    }


def _wheels_above_floor(entry: TrainVehicle, gauge: float) -> Iterator[Finding]:
    above = wheels_above_floor(entry.vehicle, gauge)
    if above <= _TINY:
        return
    top = 2 * entry.vehicle.wheels.wheel_radius
    yield Finding(
        SUBJECT,
        "caution",
        f"{entry.name}, wheels",
        f"the wheels of {entry.name} reach {top:g} mm above the rail: they stand {above:.1f} mm above its "
        "floor, where parts and wires lie",
        round(above, 2),
        0.0,
        "mm",
        f"measure both again: raise 'base' by {above:.1f} mm, or give 'wheels' the radius that they have; "
        "where there are wells, draw them as bricks",
        "from the middle of each wheel's top down to the first brick",
    )


def wheels_above_floor(vehicle: Vehicle, gauge: float) -> float:
    """Return by how much (mm) the tops of wheels stand above a floor in the vehicle; 0: none does."""
    tops = np.array(
        [(*wheel.bounds.center[:2], wheel.bounds.high[2] - _TINY) for wheel in wheel_solids(vehicle, gauge)]
    ).reshape(-1, 3)
    down = np.tile([0.0, 0.0, -1.0], (len(tops), 1))
    falls = first_hits(tops, down, body_obstacles(vehicle, frozenset())).distance
    inside = np.isfinite(falls) & (tops[:, 2] - falls > vehicle.base - _TINY)
    return float(falls[inside].max(initial=0.0))


@dataclass(frozen=True)
class _Shut:
    """A window or port that is brick by more than it may be.

    ``missed``: by what has no place for it; ``passed``: by wires of the plan.
    """

    kind: str
    vehicle: str
    name: str
    share: float
    missed: bool
    passed: bool

    @property
    def how(self) -> str:
        return _how(self.share)

    @property
    def like(self) -> tuple[str, str, bool, bool]:
        """What those have in common that are told together."""
        return (self.kind, self.how, self.missed, self.passed)


def _how(share: float) -> str:
    return "solid brick" if share > 0.995 else f"{share:.0%} brick"


_USES = {"window": "looks out", "port": "leads a wire"}


def _shut(built: BuiltTrain, entry: TrainVehicle) -> Iterator[_Shut]:
    vehicle = entry.vehicle
    missed = {need.looks for need in built.train.needs if built.placement(need.name) is None}
    passed = _passed(built)
    for kind, named in (("window", vehicle.windows), ("port", vehicle.ports)):
        for one in named:
            share = blocked_share(vehicle, one.box, one.out)
            if share > LIMIT:
                place = (entry.name, one.name)
                yield _Shut(kind, *place, share, place in missed, kind == "port" and place in passed)


def _over_brick(shut: Sequence[_Shut]) -> Iterator[Finding]:
    """Yield what is said of gaps over brick: once of all of a kind that are so to the same share.

    A window out of which something is to look that has no place stops the plan: it is the reason, or one.
    """
    for like in dict.fromkeys(one.like for one in shut):
        kind, how, missed, passed = like
        same = [one for one in shut if one.like == like]
        many = len(same) > 1
        named = [
            f"{listed([one.name for one in same if one.vehicle == vehicle])} of {vehicle}"
            for vehicle in dict.fromkeys(one.vehicle for one in same)
        ]
        yield Finding(
            SUBJECT,
            "stop" if missed and kind == "window" else "caution",
            ", ".join(dict.fromkeys(one.vehicle for one in same))
            if many
            else f"{same[0].vehicle}, {same[0].name}",
            f"the {kind}{'s' if many else ''} {listed(named)} {'are' if many else 'is'} {how} in the layers "
            f"and solids: nothing {_USES[kind]} there"
            f"{', and the plan leads wires through' if passed else ''}",
            round(max(one.share for one in same), 3),
            LIMIT,
            "of the gap",
            f"move {'their boxes' if many else 'its box'} to where the gap is, or leave the bricks there out "
            "of the drawings",
            "straight ways through the gap",
        )


def shut_window(vehicle: Vehicle, name: str, need: Need) -> str:
    """Return that a need's window is drawn as brick, or brick before it, as a clause; empty where it is open.

    Parameters
    ----------
    name
        The vehicle as the train names it.
    """
    window = next((one for one in vehicle.windows if (name, one.name) == need.looks), None)
    if window is None:
        return ""
    box, out = window.box, window.out
    if (share := blocked_share(vehicle, box, out)) > LIMIT:
        return f"its window {window.name} is {_how(share)} as drawn, and nothing looks out there"
    axis, end = axis_of(out), plane_of(vehicle.hull, out)
    whole = box.with_span(axis, min(box.low[axis], end), max(box.high[axis], end))
    if (share := blocked_share(vehicle, whole, out)) > LIMIT:
        return f"bricks of its own vehicle stand before {share:.0%} of its window {window.name} as drawn"
    return ""


def blocked_share(
    vehicle: Vehicle, box: Box, out: Direction, removed: Collection[str] | None = None
) -> float:
    """Return the share of a gap through which no straight way leads out.

    Parameters
    ----------
    removed
        The removable bricks that are out; None: all that there are.
    """
    axis = axis_of(out)
    low, high = box.low[axis], box.high[axis]
    thick = high - low
    if thick < _THIN:
        low, high, thick = low - _THIN, high + _THIN, thick + 2 * _THIN
    inner = low if is_forward(out) else high
    points = spread(box.with_span(axis, inner, inner), WAYS)
    towards = np.zeros_like(points)
    towards[:, axis] = 1.0 if is_forward(out) else -1.0
    if removed is None:
        removed = {brick.name for brick in vehicle.removables}
    hits = first_hits(points, towards, body_obstacles(vehicle, frozenset(removed)))
    return float((hits.distance < thick - 1e-6).mean())
