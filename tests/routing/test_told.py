"""Harnesses of trains drawn up by hand: the same figures as ever, the same in a mirror, none below a bound.

``python -m tests.routing.test_told`` writes the figures again, to be read before they are kept.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.operation import Track
from fitplan.model.wired import Harness
from fitplan.model.wiring_facts import NetStyles
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.harness.styles import compare
from tests.checks.mirrored import mirrored
from tests.packing.small_trains import hollow
from tests.routing.test_harness import Flow, built_of

TOLD = Path(__file__).with_name("told.txt")
Spots = dict[str, tuple[str, float, float]]
CROWD: Spots = {
    "p": ("a", 12.0, 9.0), "q": ("a", 82.0, 9.0), "r": ("a", 44.0, 31.0), "wall": ("a", 60.0, 18.0),
    "s": ("b", 14.0, 30.0), "t": ("b", 50.0, 10.0), "u": ("b", 86.0, 27.0),
}  # fmt: skip
ACROSS = {
    "supply": ["p.p0", "r.p0", "t.p0", "u.p0"],
    "one": ["q.p0", "s.p0"],
    "two": ["q.p1", "t.p1"],
    "home": ["p.p1", "r.p1"],
    "far": ["wall.p0", "u.p1"],
}


def with_track(built: BuiltTrain, track: Track) -> BuiltTrain:
    """A train on another track."""
    return replace(built, train=replace(built.train, track=track))


def with_pairs(built: BuiltTrain) -> BuiltTrain:
    """A train whose wires are parted by a connector at the coupling."""
    wiring = replace(built.train.wiring, coupling_connector="connector-6-keyed")
    return replace(built, train=replace(built.train, wiring=wiring))


def unlike(built: BuiltTrain) -> BuiltTrain:
    """A train whose second vehicle is longer, higher, turned, with its wheels and couplings elsewhere."""
    first, second = built.train.vehicles
    long = hollow("b", 18, 6, 11)
    wheels = replace(long.wheels, at=(40.0, 98.0))
    couplings = tuple(replace(one, height=13.0, length=6.0) for one in long.couplings)
    vehicle = replace(long, wheels=wheels, couplings=couplings)
    return replace(
        built,
        train=replace(built.train, vehicles=(first, replace(second, vehicle=vehicle, turned=True))),
    )


TRAINS: dict[str, BuiltTrain] = {
    "a crowd": built_of(CROWD, ACROSS),
    "a crowd with pins of one wire": built_of(CROWD, ACROSS, wires=1),
    "home runs": built_of(CROWD, ACROSS, style="home-run", boards={"p": 4}),
    "chains of pins of one wire": built_of(CROWD, ACROSS, style="chain", wires=1),
    "connectors": with_pairs(built_of(CROWD, ACROSS)),
    "unlike vehicles on a winding track": with_track(
        unlike(built_of(CROWD, ACROSS)), Track(radius=240.0, reverse_curve=True, gradient_percent=5.0)
    ),
}


@cache
def wired(name: str) -> tuple[Harness, tuple[NetStyles, ...]]:
    return wired_and_compared(TRAINS[name])


def wired_and_compared(built: BuiltTrain) -> tuple[Harness, tuple[NetStyles, ...]]:
    """Wire a train, every net with its own current, and compare the styles."""
    flows = {net.name: Flow(40.0 * n, 60.0 * n) for n, net in enumerate(built.train.nets, 1)}
    found = wire_train(built, flows)
    return found.harness, compare(built, found.harness, found.layout)


def rows(harness: Harness, styles: tuple[NetStyles, ...]) -> list[str]:
    """Every figure of a harness that knows no left and right, a row a thing."""
    found = []
    for wire in harness.wires:
        ends = " to ".join(f"{end.kind} {end.owner} {end.pin}".strip() for end in (wire.start, wire.end))
        legs = " ".join(f"{leg.vehicle}({leg.enters}>{leg.leaves})" for leg in wire.legs)
        added = ", ".join(f"{what} {more:g}" for what, more in wire.allowances)
        longer = "".join(f"; {one.vehicle}: {one.more_mm:.5g} more, {one.why}" for one in wire.detours)
        found.append(
            f"wire {wire.number} {wire.net} {wire.colour} AWG {wire.awg}: {ends}, {legs}: {wire.bare_mm:.6g}"
            f" + {added} = {wire.cut_mm:g}, {wire.drop_v:.4g} V{longer}"
        )
    for one in harness.splices:
        found.append(f"splice {one.name} {one.net} in {one.vehicle}: {one.wires} at x {one.at[0]:.5g}")
    for way in harness.stretches:
        if len(way.wires) < 2:
            continue
        ends = f"x {way.points[0][0]:.5g} to {way.points[-1][0]:.5g}, z {way.points[0][2]:.4g}"
        found.append(
            f"stretch {way.name} in {way.vehicle}: {way.wires}, {way.diameter_mm:g} thick,"
            f" {way.length_mm:.5g} long, {len(way.points)} points, {ends}, port {way.port!r}"
        )
    for crossing in harness.crossings:
        found.append(
            f"crossing {crossing.name}: {crossing.wires}, {crossing.diameter_mm:g} thick,"
            f" {crossing.straight_mm:g} of {crossing.free_mm:g}, {crossing.governing},"
            f" {crossing.sag_above_rail_mm:g} above, clip {crossing.clip}, {' '.join(crossing.pin_order)}"
        )
    found += [f"unreached {one.net} {one.owner}.{one.pin}: {one.reason}" for one in harness.unreached]
    for net in styles:
        costs = ", ".join(f"{c.style} {c.copper_mm:.6g} {c.joints} {c.across}{c.reason}" for c in net.costs)
        found.append(f"styles of {net.net}, {net.pins} pins: {costs}")
    return found


@cache
def told() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    name = ""
    for line in TOLD.read_text("utf-8").splitlines():
        if line.startswith("  "):
            found[name].append(line.strip())
        else:
            name = line
            found[name] = []
    return found


@pytest.mark.parametrize("name", TRAINS)
def test_what_was_told_is_told(name: str) -> None:
    """Every row of the list, in its order."""
    assert rows(*wired(name)) == told()[name]


@pytest.mark.parametrize("name", ["a crowd", "connectors"])
def test_a_mirror_shows_the_same_harness(name: str) -> None:
    """Left and right have no weight of their own: every wire, stretch and coupling has its image."""
    assert sorted(rows(*wired_and_compared(mirrored(TRAINS[name])))) == sorted(told()[name])


@pytest.mark.parametrize("name", TRAINS)
def test_no_figure_is_below_its_bound(name: str) -> None:
    """Of every wire: ends no nearer than the crow flies, lengths that add up, no drop but by its copper."""
    harness, _ = wired(name)
    crossings = {number: one for one in harness.crossings for number in one.wires}
    for wire in harness.wires:
        legs = math.fsum(math.dist(p, q) for leg in wire.legs for p, q in pairwise(leg.points))
        across = wire.bare_mm - legs
        if len(wire.legs) > 1:
            assert across == pytest.approx(crossings[wire.number].straight_mm, abs=0.02)
        elif "connector" in (wire.start.kind, wire.end.kind):
            assert across == pytest.approx(harness.crossings[0].straight_mm / 2, abs=0.02)
        else:
            assert across == pytest.approx(0.0, abs=0.02)
        more = wire.cut_mm - wire.bare_mm - math.fsum(amount for _, amount in wire.allowances)
        assert -0.011 <= more < 5.0
        for leg in wire.legs:
            assert math.dist(leg.points[0], leg.points[-1]) <= legs + 1e-6
    for stretch in harness.stretches:
        thick = [wire.outer_mm for wire in harness.wires if wire.number in stretch.wires]
        area = math.sqrt(math.fsum(one**2 for one in thick))
        assert max(*thick, area, 0.0) <= stretch.diameter_mm + 1e-3
        assert stretch.diameter_mm <= math.fsum(thick) + 1e-3


if __name__ == "__main__":
    lines = []
    for name in TRAINS:
        lines += [name, *(f"  {row}" for row in rows(*wired(name)))]
    TOLD.write_text("\n".join(lines) + "\n", "utf-8")
