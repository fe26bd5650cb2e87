"""A connector at a coupling has a body: whether it lies in the gap, comes apart, and passes the ports."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from fitplan.checks.on_curve import middle_radius, pivots
from fitplan.checks.wire_bends import SUBJECT
from fitplan.checks.wire_couplers import keyed_pairs
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.hands import least_coupling_wire, passes
from fitplan.model.part import Part
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Parted
from fitplan.model.wired import Crossing

PRACTICE = "envelope of the pair as the catalogue draws it; room for play, leads and grip: common practice"
_PLAY = 1.0
"""Between a pair and each of the bodies, in mm (common practice, no source)."""


@dataclass(frozen=True)
class ConnectorPose:
    """How a pair may lie between two vehicles: what it takes along the train, across and upright, in mm."""

    way: str
    along: float
    across: float
    upright: float


def lyings(pair: Part) -> tuple[ConnectorPose, ...]:
    """Return the ways in which a mated pair may lie; its leads turn off at both its ends."""
    length, width, height = pair.bounds.size
    leads = sum(one.solid.bounds.size[0] for one in pair.clearances if one.kind == "lead")
    whole, flat, thick = length + leads, max(width, height), min(width, height)
    return (
        ConnectorPose("along the train", whole, flat, thick),
        ConnectorPose("along the train, on its edge", whole, thick, flat),
        ConnectorPose("across the train", thick, whole, flat),
        ConnectorPose("across the train, flat", flat, whole, thick),
        ConnectorPose("upright", thick, flat, whole),
        ConnectorPose("upright, edgeways", flat, thick, whole),
    )


@dataclass(frozen=True)
class CouplingGap:
    """The room between two coupled bodies, in mm: as long, wide and high as on straight track.

    ``pinch``: by how much it is shorter in the sharpest curve for each mm across that something takes.
    """

    long: float
    wide: float
    high: float
    pinch: float = 0.0

    def takes(self, one: ConnectorPose) -> bool:
        """Return whether a pair that lies so has room, in the curve as well."""
        return self.needed(one) <= self.long and one.across <= self.wide and one.upright <= self.high

    def needed(self, one: ConnectorPose) -> float:
        """Return how long the gap must be for a pair that lies so."""
        return one.along + 2 * _PLAY + one.across * self.pinch


def gap_of(train: Train, ahead: TrainVehicle, behind: TrainVehicle) -> CouplingGap:
    """Return the room between two coupled bodies."""
    long = ahead.coupling_length("behind") + behind.coupling_length("ahead")
    wide = min(ahead.vehicle.width, behind.vehicle.width)
    # Over an open wagon there is air up to where a load may stand.
    tops = (max(one.vehicle.top, one.vehicle.load_top) - one.vehicle.base for one in (ahead, behind))
    return CouplingGap(long, wide, min(tops), math.tan(_angle(train.track.radius, ahead, behind) / 2))


def _angle(radius: float, ahead: TrainVehicle, behind: TrainVehicle) -> float:
    """Return the angle between two coupled bodies in the sharpest curve, in radians.

    The middle normals of both meet in the curve's centre; from there each sees the coupling at an angle whose
    tangent is its distance along the body over the body's distance (exact where both are alike).
    """
    if radius <= 0:
        return 0.0
    total = 0.0
    for entry, end in ((ahead, "behind"), (behind, "ahead")):
        low, high = pivots(entry.vehicle)
        middle = (low + high) / 2
        rear = (end == "behind") != entry.turned
        reach = entry.coupling_length(end)  # type: ignore[arg-type]
        apart = (middle if rear else entry.vehicle.length - middle) + reach
        total += math.atan2(apart, max(middle_radius(entry.vehicle, radius), 1.0))
    return total


def lies_in(pair: Part, gap: CouplingGap) -> ConnectorPose | None:
    """Return how a pair lies in a gap; None where it lies in no way."""
    return next((one for one in lyings(pair) if gap.takes(one)), None)


def least_gap(pair: Part, gap: CouplingGap) -> float:
    """Return the shortest gap in which a pair would lie between these bodies; infinite for none."""
    fitting = [gap.needed(one) for one in lyings(pair) if one.across <= gap.wide and one.upright <= gap.high]
    return min(fitting, default=math.inf)


def connector_bodies(built: BuiltTrain) -> Iterator[Finding]:
    """Yield for each coupling with a pair whether it lies in the gap, comes apart, and passes the ports."""
    for crossing in built.harness.crossings:
        pair = built.train.catalogue.get(crossing.connector)
        if pair is None:
            continue
        ahead, behind = built.train.vehicle(crossing.ahead), built.train.vehicle(crossing.behind)
        yield _in_gap(built, crossing, pair, gap_of(built.train, ahead, behind))
        yield from _parted(crossing, pair, built.train.parted(crossing.ahead, crossing.behind))
        yield from _threaded(crossing, pair, ((ahead, crossing.port_ahead), (behind, crossing.port_behind)))


def _in_gap(built: BuiltTrain, crossing: Crossing, pair: Part, gap: CouplingGap) -> Finding:
    where = f"{crossing.ahead} to {crossing.behind}"
    found, needed = lies_in(pair, gap), least_gap(pair, gap)
    length, width, height = pair.bounds.size
    body = f"the pair at {crossing.name} ({length:g} × {width:g} × {height:g} mm)"
    if crossing.pair is not None:
        inside = crossing.pair
        return Finding(
            SUBJECT,
            "note",
            where,
            f"{body} is drawn into {inside.vehicle}: the gap of {gap.long:.0f} mm does not take it",
            round(gap.long, 1),
            round(needed, 1) if math.isfinite(needed) else 0.0,
            "mm",
            "draw it out by its wires to part it; for that they are "
            f"{inside.more_mm:.0f} mm longer on each side",
            PRACTICE,
        )
    if found is not None:
        return Finding(
            SUBJECT,
            "note",
            where,
            f"{body} lies {found.way} in the gap of {gap.long:.0f} mm",
            round(needed, 1),
            round(gap.long, 1),
            "mm",
            "nothing to do; in the sharpest curve nothing pinches it",
            PRACTICE,
        )
    by_number = {wire.number: wire for wire in built.harness.wires}
    wires = [by_number[number] for number in crossing.joined if number in by_number]
    others = [one for one in keyed_pairs(built.train.catalogue.values(), wires) if lies_in(one, gap)]
    if others:
        remedy = f"take {others[0].id}, which lies in it"
    else:
        remedy = "no keyed pair of the catalogue for these wires does: " + (
            f"one of at most {gap.long - 2 * _PLAY:.1f} mm thick that lies across would"
            if gap.long > 2 * _PLAY
            else "the bodies all but touch"
        )
    longer = f"; or lengthen the coupling by {needed - gap.long:.0f} mm" if needed < float("inf") else ""
    return Finding(
        SUBJECT,
        "stop",
        where,
        f"{body} does not lie in the gap of {gap.long:.0f} mm between the bodies in any way",
        round(needed, 1),
        round(gap.long, 1),
        "mm",
        f"{remedy}{longer}; or lay the pair inside one of the vehicles, its leads that much longer",
        PRACTICE,
    )


def _parted(crossing: Crossing, pair: Part, often: Parted) -> Iterator[Finding]:
    """Tell a joint that is shorter than the rigid pair in it and what parting it takes."""
    needed = least_coupling_wire(pair, often)
    if crossing.free_mm >= needed - 0.01:
        return
    yield Finding(
        SUBJECT,
        "caution",
        f"{crossing.ahead} to {crossing.behind}",
        f"the joint at {crossing.name} is {crossing.free_mm:.0f} mm long: too short to hold the pair of "
        f"{pair.bounds.size[0]:g} mm and to draw it apart while the vehicles are coupled",
        round(crossing.free_mm, 1),
        round(needed, 1),
        "mm",
        f"cut the wires on both sides of {crossing.name} together {needed - crossing.free_mm:.0f} mm longer, "
        "or part the hooks first",
        PRACTICE,
    )


def _threaded(
    crossing: Crossing, pair: Part, ports: tuple[tuple[TrainVehicle, str], ...]
) -> Iterator[Finding]:
    """Tell which ports a housing does not pass: there the contacts are crimped after threading."""
    _, width, height = pair.bounds.size
    for entry, name in ports:
        port = entry.vehicle.port(name)
        if port is None or passes(pair, port.opening):
            continue
        across, high = port.opening
        yield Finding(
            SUBJECT,
            "note",
            f"{entry.name}, {name}",
            f"the housing at {crossing.name} ({width:g} × {height:g} mm) does not pass {name} of "
            f"{entry.name} ({across:g} × {high:g} mm)",
            round(max(width, height), 1),
            round(max(across, high), 1),
            "mm",
            "thread the bare wires through first, then crimp the contacts and push them into the housing; to "
            "take the wires out again the contacts must come out of it",
            PRACTICE,
        )
