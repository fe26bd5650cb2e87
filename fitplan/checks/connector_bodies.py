"""A connector at a coupling has a body: whether it lies in the gap, comes apart, and passes the ports."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fitplan.checks.wire_bends import SUBJECT
from fitplan.checks.wire_couplers import keyed_pairs
from fitplan.model.part import Part
from fitplan.model.plan import BuiltTrain, Crossing, Finding
from fitplan.model.train import TrainVehicle

PRACTICE = "envelope of the pair as the catalogue draws it; room for play, leads and grip: common practice"
_PLAY = 1.0
"""Between a pair and each of the bodies, in mm (common practice, no source)."""
_PULL = 10.0
"""How far the halves are drawn apart beyond the mated pair before they are free, in mm (no source)."""


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


def gap_of(ahead: TrainVehicle, behind: TrainVehicle) -> tuple[float, float, float]:
    """Return how long, wide and high the room between two coupled bodies is on straight track, in mm."""
    long = ahead.coupling_length("behind") + behind.coupling_length("ahead")
    wide = min(ahead.vehicle.width, behind.vehicle.width)
    high = min(one.vehicle.top - one.vehicle.base for one in (ahead, behind))
    return long, wide, high


def lies_in(pair: Part, gap: tuple[float, float, float]) -> ConnectorPose | None:
    """Return how a pair lies in a gap; None where it lies in no way."""
    long, wide, high = gap
    for one in lyings(pair):
        if one.along + 2 * _PLAY <= long and one.across <= wide and one.upright <= high:
            return one
    return None


def least_gap(pair: Part, gap: tuple[float, float, float]) -> float:
    """Return the shortest gap in which a pair would lie between these bodies; infinite for none."""
    _, wide, high = gap
    fitting = [one.along for one in lyings(pair) if one.across <= wide and one.upright <= high]
    return min(fitting, default=float("inf")) + 2 * _PLAY


def passes(pair: Part, opening: tuple[float, float]) -> bool:
    """Return whether a housing, end first, goes through a port."""
    _, width, height = pair.bounds.size
    small, large = sorted((width, height))
    low, high = sorted(opening)
    return small <= low and large <= high


def connector_bodies(built: BuiltTrain) -> Iterator[Finding]:
    """Yield for each coupling with a pair whether it lies in the gap, comes apart, and passes the ports."""
    for crossing in built.harness.crossings:
        pair = built.train.catalogue.get(crossing.connector)
        if pair is None:
            continue
        ahead, behind = built.train.vehicle(crossing.ahead), built.train.vehicle(crossing.behind)
        yield _in_gap(built, crossing, pair, gap_of(ahead, behind))
        yield from _parted(crossing, pair)
        yield from _threaded(crossing, pair, ((ahead, crossing.port_ahead), (behind, crossing.port_behind)))


def _in_gap(built: BuiltTrain, crossing: Crossing, pair: Part, gap: tuple[float, float, float]) -> Finding:
    where = f"{crossing.ahead} to {crossing.behind}"
    found, needed = lies_in(pair, gap), least_gap(pair, gap)
    length, width, height = pair.bounds.size
    body = f"the pair at {crossing.name} ({length:g} × {width:g} × {height:g} mm)"
    if found is not None:
        return Finding(
            SUBJECT,
            "note",
            where,
            f"{body} lies {found.way} in the gap of {gap[0]:.0f} mm",
            round(needed, 1),
            round(gap[0], 1),
            "mm",
            "nothing to do; check in the sharpest curve that nothing pinches it",
            PRACTICE,
        )
    by_number = {wire.number: wire for wire in built.harness.wires}
    wires = [by_number[number] for number in crossing.wires if number in by_number]
    others = [one for one in keyed_pairs(built.train.catalogue.values(), wires) if lies_in(one, gap)]
    if others:
        remedy = f"take {others[0].id}, which lies in it"
    else:
        remedy = "no keyed pair of the catalogue for these wires does: " + (
            f"one of at most {gap[0] - 2 * _PLAY:.1f} mm thick that lies across would"
            if gap[0] > 2 * _PLAY
            else "the bodies all but touch"
        )
    longer = f"; or lengthen the coupling by {needed - gap[0]:.0f} mm" if needed < float("inf") else ""
    return Finding(
        SUBJECT,
        "caution",
        where,
        f"{body} does not lie in the gap of {gap[0]:.0f} mm between the bodies in any way",
        round(needed, 1),
        round(gap[0], 1),
        "mm",
        f"{remedy}{longer}; or lay the pair inside one of the vehicles, its leads that much longer",
        PRACTICE,
    )


def _parted(crossing: Crossing, pair: Part) -> Iterator[Finding]:
    """Tell a joint that is shorter than the rigid pair in it and what parting it takes."""
    needed = pair.bounds.size[0] + _PULL
    if crossing.free_mm >= needed:
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
        port = next((one for one in entry.vehicle.ports if one.name == name), None)
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
