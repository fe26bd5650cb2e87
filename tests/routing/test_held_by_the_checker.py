"""Harnesses drawn up by hand, each held by the checker: ways, nets, joints, lengths, bundles, bends.

It works in exact millimetres and shares nothing with routing: what is wrong with a wire, a splice, a
coupling or a count is told there, whatever went wrong on the way.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.operation import Track
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Port, Vehicle
from fitplan.model.wired import Harness
from fitplan.routing.harness.facts import port_loads
from fitplan.routing.harness.harness import wire_train
from fitplan.verify.bundles import check_bundles
from fitplan.verify.conductors import check_conductors
from fitplan.verify.couplings import check_couplings
from fitplan.verify.detours import check_detours
from fitplan.verify.nets import check_counts, check_nets
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of
from fitplan.verify.wires import check_wires
from tests.routing.test_harness import Flow, built_of
from tests.routing.test_small_answers import maps_of
from tests.routing.test_told import TRAINS, with_track
from tests.routing.test_told import wired as told_harness

SMALL = (9, 5, 5)
SPOTS = {"p": ("a", 10.0, 9.0), "q": ("a", 52.0, 22.0), "r": ("b", 12.0, 22.0), "s": ("b", 44.0, 10.0)}
NETS = {"one": ["p.p0", "r.p0", "s.p0"], "two": ["q.p0", "s.p1"], "near": ["p.p1", "q.p1"]}


def opened(vehicle: Vehicle, *ends: str) -> Vehicle:
    """A hollow vehicle without its wall at some ends: wires go out there over the whole room."""
    walls = {"front": (vehicle.length - 8.0, vehicle.length), "rear": (0.0, 8.0)}
    low, high = vehicle.base + 3.2, vehicle.top - 3.2
    body, ports = list(vehicle.body), []
    for end, (x0, x1) in walls.items():
        own = next(port for port in vehicle.ports if port.name == f"{end} hole")
        if end not in ends:
            ports.append(own)
            continue
        body.append(BodySolid(Box((x0, 8.0, low), (x1, vehicle.width - 8.0, high)), "free"))
        at = x1 if end == "front" else x0
        ports.append(Port(f"open {end}", Box((at, 8.0, low), (at, vehicle.width - 8.0, high)), own.out))
    return replace(vehicle, body=tuple(body), ports=tuple(ports))


def with_open_ends(built: BuiltTrain, *, both: bool) -> BuiltTrain:
    """The coupled ends of a train of two without a wall: the rear one's front, or both."""
    first, second = built.train.vehicles
    second = replace(second, vehicle=opened(second.vehicle, "front"))
    if both:
        first = replace(first, vehicle=opened(first.vehicle, "rear"))
    return replace(built, train=replace(built.train, vehicles=(first, second)))


OWN: dict[str, BuiltTrain] = {
    "an open end": with_open_ends(built_of(SPOTS, NETS, studs=SMALL), both=False),
    "two open ends": with_open_ends(built_of(SPOTS, NETS, studs=SMALL), both=True),
    "wide curves": with_track(built_of(SPOTS, NETS, studs=SMALL, wires=1), Track(radius=5000.0)),
    "a chain": built_of(SPOTS, NETS, studs=SMALL, style="chain"),
}


@cache
def harness_of(name: str) -> Harness:
    if name in TRAINS:
        return told_harness(name)[0]
    built = OWN[name]
    return wire_train(built, {net.name: Flow(20.0, 30.0) for net in built.train.nets}).harness


@pytest.mark.parametrize("name", ["unlike vehicles on a winding track", "connectors", "home runs", *OWN])
def test_the_checker_has_nothing_against_a_harness(name: str) -> None:
    """But for boards and home runs without a pin, which are owned up to, every net hangs together."""
    built = replace({**TRAINS, **OWN}[name], harness=harness_of(name))
    harness = built.harness
    harness = replace(harness, facts=replace(harness.facts, ports=port_loads(built, harness, maps_of(built))))
    built = replace(built, harness=harness)
    sites, sheet = sites_of(built), Tally()
    check_wires(built, sites, sheet)
    check_nets(built, sheet)
    check_counts(built, sites, sheet)
    check_couplings(built, sheet)
    check_bundles(built, sheet)
    check_conductors(built, (), sheet)
    check_detours(built, sites, sheet)
    report = sheet.report()
    assert [one for one in report.problems if one.unit != "mA"] == []  # the currents are made up
    counted = {one.what: one.count for one in report.checked}
    assert counted["wires"] == len(built.harness.wires) > 2
    assert counted["joints posed"] == 1
    for lie in (-2.5, 2.5):  # an end that hangs lower or higher than it says is told
        (one,) = harness.crossings
        told = Tally()
        said = replace(one, sag_above_rail_mm=one.sag_above_rail_mm + lie)
        check_couplings(replace(built, harness=replace(harness, crossings=(said,))), told)
        assert any(one.message.startswith("hangs to") for one in told.report().problems), lie
    if "open end" in name:
        (crossing,) = built.harness.crossings
        assert crossing.port_behind == "open front"
        assert (crossing.port_ahead == "open rear") is (name == "two open ends")
        out = [
            leg.points[0] for wire in built.harness.wires for leg in wire.legs if leg.enters == "open front"
        ]
        assert out
        assert all(abs(point[0] - 72.0) < 0.41 for point in out)
