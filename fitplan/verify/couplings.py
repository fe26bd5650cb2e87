"""What is said of each coupling against the vehicles, the track and the wires.

Rules, with their tolerances:

* on straight level track the mouths of the two ports are as far apart as the plan says (0.1 mm);
* the free length is the longest distance over all poses of the track and the slack that is asked (0.3 mm
  short at most, on gradients 2 in 100, as searches in that many poses end beside one another; it may be
  longer by 15 in 100, as harder poses than those tried here may be counted);
* where an end is open, with no port in a wall, that is the middle of the points at which wires leave it, and
  they are longer by as much as the farthest of them leaves it elsewhere;
* the lowest point is that of a catenary of this length, less half the bundle, at straight track or where of
  all poses the mouths are nearest, whichever is lower (1 mm); the wires are clipped up where it is too low;
* the bundle is no thinner than its wires' sections, and no thicker than a circle that surely holds them;
* where a connector parts the wires it is the one that was asked for, has a cavity for each, takes their
  gauges and currents, and its cavities are in the order ground, supply, signal, on both sides alike;
* only leads as bought that plug in at both ends pass a connector by, and they come after what it joins.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Connector
from fitplan.model.hands import GRIP_MM, PULL_MM
from fitplan.model.solids import Vec
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import OPEN_ENDS, Port
from fitplan.model.wired import Crossing, Wire
from fitplan.verify.pairs_inside import drawn_in
from fitplan.verify.poses import CouplingEnd, lowest_point, poses_apart, straight_apart
from fitplan.verify.result import Tally

NEAR = 0.1
SHORT = 0.3
SHORT_ON_GRADIENTS = 0.02
LONGER = 1.15
SAG = 1.0
_LEAST_DRAWBAR = 1.0
_ROLES = ("ground", "supply", "signal")


def check_couplings(built: BuiltTrain, sheet: Tally) -> None:
    """Check lengths, height, thickness and connector of every crossing."""
    by_number = {wire.number: wire for wire in built.harness.wires}
    names = [crossing.name for crossing in built.harness.crossings]
    for name in sorted({name for name in names if names.count(name) > 1}):
        sheet.problem("crossing", name, "two crossings have this name")
    for crossing in built.harness.crossings:
        _lengths(built, crossing, sheet)
        wires = [by_number[number] for number in crossing.wires if number in by_number]
        _thickness(crossing, wires, sheet)
        _cavities(built, crossing, wires, by_number, sheet)
    _neighbours(built, sheet)


def _neighbours(built: BuiltTrain, sheet: Tally) -> None:
    order = [entry.name for entry in built.train.vehicles]
    for crossing in built.harness.crossings:
        sides = (crossing.ahead, crossing.behind)
        if sides not in pairwise(order):
            sheet.problem(
                "crossing", crossing.name, f"joins {sides[0]} to {sides[1]}, which do not follow it"
            )


def _entry(built: BuiltTrain, name: str, port: str) -> tuple[TrainVehicle, Port] | None:
    for entry in built.train.vehicles:
        if entry.name == name:
            for found in entry.vehicle.ports:
                if found.name == port:
                    return entry, found
    return None


def _end(entry: TrainVehicle, exit_at: Vec, side: str) -> CouplingEnd:
    """Return one side of a joint; ``side`` is the end of the train's order that the joint is at."""
    vehicle = entry.vehicle
    spots = sorted(entry.in_train(0.0, (x, 0.0, 0.0))[0] for x in vehicle.wheels.at)
    own = "front" if (side == "ahead") != entry.turned else "rear"
    pin = (vehicle.length if side == "ahead" else 0.0, vehicle.wheels.wheel_radius)
    for coupling in vehicle.couplings:
        if coupling.end == own:
            x, _, z = entry.in_train(0.0, (coupling.pivot_x, 0.0, coupling.height))
            pin = (x, z)
            break
    spot = entry.in_train(0.0, exit_at)
    return CouplingEnd((spots[0], spots[-1]), vehicle.wheels.bogie_wheelbase, pin, spot)


def leaves_at(
    crossing: Crossing, entry: TrainVehicle, port: Port, wires: Sequence[Wire]
) -> tuple[Vec, float]:
    """Return where wires leave a vehicle, and how far the farthest does from there (mm).

    From a port it is its mouth; from an open end the middle of the points at which they do.
    """
    mouth = port.box.face(port.out).center
    if port.name not in OPEN_ENDS.values():
        return mouth, 0.0
    nets = {wire.net for wire in wires if wire.number in crossing.wires}
    points: list[Vec] = []
    for leg in (leg for wire in wires if wire.net in nets for leg in wire.legs if leg.vehicle == entry.name):
        points += leg.points[-1:] if leg.leaves == port.name else ()
        points += leg.points[:1] if leg.enters == port.name else ()
    if not points:
        return mouth, 0.0
    spans = [(min(point[k] for point in points), max(point[k] for point in points)) for k in range(3)]
    middle = (sum(spans[0]) / 2, sum(spans[1]) / 2, sum(spans[2]) / 2)
    return middle, max(math.dist(middle, point) for point in points)


def _lengths(built: BuiltTrain, crossing: Crossing, sheet: Tally) -> None:
    one = _entry(built, crossing.ahead, crossing.port_ahead)
    other = _entry(built, crossing.behind, crossing.port_behind)
    if one is None or other is None:
        return  # told where crossings are counted
    left = [leaves_at(crossing, *side, built.harness.wires) for side in (one, other)]
    ahead, behind = _end(one[0], left[0][0], "behind"), _end(other[0], left[1][0], "ahead")
    gap = one[0].coupling_length("behind") + other[0].coupling_length("ahead")
    drawbar = ahead.pin[0] + gap + other[0].vehicle.length - behind.pin[0]
    if drawbar < _LEAST_DRAWBAR or ahead.guides[0] == ahead.guides[1] or behind.guides[0] == behind.guides[1]:
        sheet.trust(
            f"lengths over {crossing.name}", 1, "its vehicles cannot be posed: pins or axles coincide"
        )
        return
    straight = straight_apart(ahead, behind, drawbar)
    spans = [end.guides[1] - end.guides[0] for end in (ahead, behind)]
    if straight is None or built.train.track.radius < 0.75 * max(spans):
        sheet.trust(
            f"lengths over {crossing.name}", 1, "its vehicles cannot stand in the curve that is asked"
        )
        return
    sheet.count("joints posed")
    off = abs(straight[0] - crossing.straight_mm)
    if off > NEAR:
        message = f"says {crossing.straight_mm:.1f} mm on straight track; it is {straight[0]:.1f} mm"
        sheet.problem("crossing", crossing.name, message, off, "mm")
    poses = poses_apart(ahead, behind, drawbar, built.train.track)
    if not poses.distance.size:
        sheet.trust(f"lengths over {crossing.name}", 1, "no pose of its vehicles was found")
        return
    longest = max(float(poses.distance.max()), straight[0])
    slack = built.train.wiring.coupling_slack
    far = longest + sum(aside for _, aside in left)
    asked = max(far + max(slack.share * far, slack.least), pair_asks(built, crossing))
    known = built.train.measured.coupling(crossing.ahead, crossing.behind)
    if known is not None:
        asked = max(known.free_mm, straight[0])
    asked += 2 * drawn_in(built, crossing, sheet)
    short = max(SHORT, SHORT_ON_GRADIENTS * asked) if built.train.track.gradient_percent else SHORT
    if crossing.free_mm < asked - short:
        message = f"is {crossing.free_mm:.1f} mm long; {longest:.1f} mm and slack, {asked:.1f} mm, are needed"
        sheet.problem("crossing", crossing.name, message, asked - crossing.free_mm, "mm")
    if crossing.free_mm > (LONGER if known is None else 1.0) * asked + SHORT:
        message = f"is {crossing.free_mm:.1f} mm long; {asked:.1f} mm do in every pose"
        sheet.problem("crossing", crossing.name, message, crossing.free_mm - asked, "mm")
    level = crossing.governing.startswith("straight level")
    if known is None and level != (longest < straight[0] + 0.02) and abs(longest - straight[0]) > 0.2:
        message = (
            f"says the longest distance is {crossing.governing}; another pose asks for more or none does"
        )
        sheet.problem("crossing", crossing.name, message, longest - straight[0], "mm")
    _sag(
        built,
        crossing,
        (straight[1], poses.nearest()),
        (ahead.mouth[2], behind.mouth[2]),
        sheet,
    )
    if crossing.clip != (crossing.sag_above_rail_mm < slack.above_rail):
        message = f"{crossing.sag_above_rail_mm:.1f} mm above the rail, and clip is {crossing.clip}"
        sheet.problem("crossing", crossing.name, message)


def _sag(
    built: BuiltTrain,
    crossing: Crossing,
    levels: tuple[float, float],
    heights: tuple[float, float],
    sheet: Tally,
) -> None:
    """Compare the lowest point with that at straight track and where the mouths are nearest."""
    hanging = crossing.free_mm - (2 * crossing.pair.more_mm if crossing.pair is not None else 0.0)
    lowest = min(lowest_point(level, *heights, hanging) for level in levels) - crossing.diameter_mm / 2
    said = crossing.sag_above_rail_mm
    if abs(said - lowest) > SAG:
        message = f"hangs to {lowest:.1f} mm above the rail, not to {said:.1f} mm"
        sheet.problem("crossing", crossing.name, message, lowest - said, "mm")


def how_often(built: BuiltTrain, crossing: Crossing) -> str:
    """Return how often the coupling of a crossing is opened, from both vehicles' files."""
    said = []
    for entry in built.train.vehicles:
        if entry.name not in (crossing.ahead, crossing.behind):
            continue
        own = "rear" if (entry.name == crossing.ahead) != entry.turned else "front"
        said += [one.parted for one in entry.vehicle.couplings if one.end == own and one.parted]
    return next((word for word in ("daily", "storage", "never") if word in said), "storage")


def pair_asks(built: BuiltTrain, crossing: Crossing) -> float:
    """Return the length that a connector needs in its joint to be drawn apart, in mm; 0 without one."""
    part = built.train.catalogue.get(crossing.connector)
    if part is None:
        return 0.0
    fingers = 2 * GRIP_MM if how_often(built, crossing) == "daily" else 0.0
    return part.bounds.high[0] - part.bounds.low[0] + PULL_MM + fingers


def _thickness(crossing: Crossing, wires: list[Wire], sheet: Tally) -> None:
    square = sum(wire.outer_mm**2 for wire in wires)
    # Discs of half a circle's area always fit into it (Fekete, Keldenich and Scheffer 2019; from memory).
    least, most = math.sqrt(square), math.sqrt(2 * square)
    sheet.count("bundles over couplings")
    if not least - NEAR <= crossing.diameter_mm <= most + NEAR:
        message = f"is {crossing.diameter_mm:.2f} mm thick; its wires take {least:.2f} to {most:.2f} mm"
        sheet.problem("crossing", crossing.name, message, crossing.diameter_mm, "mm")


def _cavities(
    built: BuiltTrain, crossing: Crossing, wires: list[Wire], by_number: Mapping[int, Wire], sheet: Tally
) -> None:
    plugs = {net.name for net in built.train.nets if net.lead}
    whole = [wire for wire in wires if wire.net in plugs]
    if whole and wires[-len(whole) :] != whole:
        sheet.problem("crossing", crossing.name, "counts a lead as bought before what its connector joins")
    if tuple(wire.number for wire in whole) != crossing.beside:
        sheet.problem("crossing", crossing.name, "does not tell which leads as bought pass it in one piece")
    wires = [wire for wire in wires if wire.net not in plugs]
    built_before = {wire.number for wire in built.train.as_built.wires}
    places = list(range(1, len(wires) + 1))
    if built_before.intersection(crossing.wires):
        # What is built keeps its cavity, so one may be empty; new ones follow where there is room.
        places = [int(n) for said in crossing.pin_order if (n := said.partition(" ")[0]).isdecimal()]
        if sorted(set(places)) != places or len(places) != len(wires) or places[:1] < [1]:
            sheet.problem("crossing", crossing.name, "numbers its cavities in no order")
            return
    said = tuple(f"{place} {wire.net}" for place, wire in zip(places, wires, strict=True))
    sheet.count("orders of cavities")
    if crossing.pin_order != said:
        message = f"has cavities {', '.join(crossing.pin_order)}; its wires are {', '.join(said)}"
        sheet.problem("crossing", crossing.name, message)
    ranks = [_ROLES.index(wire.role) for wire in wires]
    if not built_before.intersection(crossing.wires) and ranks != sorted(ranks):
        sheet.problem("crossing", crossing.name, "does not have ground first, then supply, then signals")
    pair = "" if how_often(built, crossing) == "never" else built.train.wiring.coupling_connector
    if crossing.connector != pair:
        asked = pair or "none"
        sheet.problem(
            "crossing", crossing.name, f"has the connector {crossing.connector!r}; asked is {asked}"
        )
    ends = {
        (end.vehicle, end.pin): wire
        for wire in by_number.values()
        for end in (wire.start, wire.end)
        if (end.kind, end.owner) == ("connector", crossing.name)
    }
    if not crossing.connector:
        if ends:
            sheet.problem("crossing", crossing.name, "has no connector, and wires end in one")
        return
    for place, wire in zip(places, wires, strict=True):
        for vehicle in (crossing.ahead, crossing.behind):
            met = ends.get((vehicle, str(place)))
            if met is None or met.net != wire.net:
                message = f"cavity {place} on the side of {vehicle} is for {wire.net}, and has " + (
                    f"wire {met.number} of {met.net}" if met is not None else "no wire"
                )
                sheet.problem("crossing", crossing.name, message)
    part = built.train.catalogue.get(crossing.connector)
    figures = part.figure(Connector) if part is not None else None
    if figures is None:
        sheet.problem("crossing", crossing.name, f"{crossing.connector} is no connector of the plan")
        return
    if max(places, default=0) > figures.cavities and crossing.name not in _told(built):
        sheet.note("crossing", crossing.name, f"{len(wires)} wires in {figures.cavities} cavities")
    for (vehicle, cavity), wire in sorted(ends.items()):
        if cavity not in {str(place) for place in places}:
            message = f"wire {wire.number} ends in cavity {cavity!r} on the side of {vehicle}"
            sheet.problem("crossing", crossing.name, message)


def _told(built: BuiltTrain) -> frozenset[str]:
    return frozenset(entry.net for entry in built.harness.unreached)
