"""Wires through ports that something stands close behind: what surely has no room is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, Port, Vehicle
from fitplan.model.wiring_facts import PortLoad
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.map.circle_packing import Rectangle, arrangement
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of
from fitplan.verify.through_ports import _cannot, _in_a_strip, _Left, check_through_ports
from tests.routing.test_harness import Flow, built_of

WIRES = st.lists(st.sampled_from([0.8, 1.0, 1.3, 1.4, 1.9]), min_size=1, max_size=7)


@settings(max_examples=60, deadline=None)
@given(WIRES, st.floats(1.0, 4.0), st.floats(1.0, 8.0))
def test_what_a_search_packs_is_never_refused(wires: list[float], one: float, other: float) -> None:
    """The search for arrangements of circles shares no code with the proofs."""
    narrow, wide = sorted((one, other))
    if arrangement(Rectangle(wide, narrow), sorted(wires, reverse=True), starts=6) is not None:
        for sides in ((narrow, wide), None):
            assert _cannot(_Left(narrow * wide, sides, 0.0), sorted(wires)) == ""


@given(st.floats(0.8, 1.4), st.integers(2, 9), st.floats(1.0, 1.99))
def test_equal_wires_in_a_strip_lie_zigzag(wire: float, count: int, share: float) -> None:
    """Their middles, one diameter apart, change sides: a closed form of its own, by Pythagoras."""
    width = share * wire
    along = math.sqrt(wire**2 - (width - wire) ** 2)
    assert _in_a_strip(width, [wire] * count) == pytest.approx(wire + (count - 1) * along)


@pytest.mark.parametrize(
    ("wires", "left", "why"),
    [
        ([1.0, 1.0, 1.0, 1.0, 1.4, 1.4], _Left(1.6 * 3.9, (1.6, 3.9), 0.0), "in a strip"),
        ([1.0] * 4, _Left(1.6 * 3.9, (1.6, 3.9), 0.0), ""),
        ([1.4], _Left(0.8 * 8.0, (0.8, 8.0), 0.0), "1.40 mm thick"),
        ([1.4], _Left(0.8 * 8.0, (0.8, 8.0), 1.3), ""),  # slantwise past a cover 1.3 mm behind
        ([1.0], _Left(0.0, (0.0, 0.0), 0.8), "1.00 mm thick"),
        ([1.0] * 9, _Left(6.0, None, 0.0), "they take"),
        ([1.0] * 6, _Left(6.0, None, 0.0), ""),
        ([1.4] * 9, _Left(3.0 * 4.0, (3.0, 4.0), 0.0), "they take"),
    ],
)
def test_what_is_proved_and_what_is_not(wires: list[float], left: _Left, why: str) -> None:
    told = _cannot(left, wires)
    assert why in told
    assert bool(why) == bool(told)


def wired() -> BuiltTrain:
    """Two vehicles with two wires of 1.0 mm through a hole 8 × 6.4 mm in each."""
    built = built_of(
        {"p": ("a", 40.0, 20.0), "q": ("b", 60.0, 20.0)}, {"n": ["p.p0", "q.p0"], "m": ["p.p1", "q.p1"]}
    )
    currents = {net.name: Flow(20.0, 30.0) for net in built.train.nets}
    return replace(built, harness=wire_train(built, currents).harness)


def blocked(entry: TrainVehicle, leaves: float, gap: float) -> tuple[Vehicle, Port]:
    """A vehicle with a block so far behind its front hole that leaves so much of its width; the hole."""
    port = next(one for one in entry.vehicle.ports if one.out == "+x")
    (x, y, z), (_, width, height) = port.box.low, port.box.size
    block = Box((x - gap - 4.0, y + leaves, z - 1.0), (x - gap, y + width + 2.0, z + height + 1.0))
    return replace(entry.vehicle, body=(*entry.vehicle.body, BodySolid(block, "fixed"))), port


@pytest.mark.parametrize(
    ("leaves", "gap", "thick", "refused"),
    [
        (8.0, 0.0, 0.0, False),
        (0.8, 0.0, 0.0, True),
        (0.0, 0.0, 0.0, True),
        (0.0, 0.6, 0.0, True),
        (0.0, 2.0, 0.0, False),
        (0.0, 1.2, 0.0, False),
        (0.0, 1.2, 1.4, True),  # the thinner of the two turns aside, the thicker cannot
    ],
)
def test_a_block_that_is_pushed_before_a_port_is_found(
    leaves: float, gap: float, thick: float, refused: bool
) -> None:
    """By how much of the hole's width it leaves, and how far behind the hole it stands."""
    built = wired()
    entry = built.train.vehicles[1]
    vehicle, port = blocked(entry, leaves, gap)
    train = replace(built.train, vehicles=(built.train.vehicles[0], replace(entry, vehicle=vehicle)))
    built = replace(built, train=train)
    assert built.harness.wires
    assert not built.harness.unreached
    if thick:
        first, *others = built.harness.wires
        wires = (replace(first, outer_mm=thick), *others)
        built = replace(built, harness=replace(built.harness, wires=wires))
    sheet = Tally()
    check_through_ports(built, sites_of(built), sheet)
    found = sheet.report().problems
    assert [one.subject for one in found] == (["port"] if refused else [])
    assert all(one.where == f"{entry.name} {port.name}" for one in found)


@pytest.mark.parametrize(
    ("leaves", "gap", "size", "words"),
    [
        (8.0, 0.0, (8.0, 6.4), ""),
        (8.0, 0.0, (8.2, 6.4), "more than it has"),
        (3.0, 0.0, (3.0, 6.4), ""),
        (3.0, 0.0, (2.0, 6.4), ""),
        (3.0, 0.0, (6.4, 3.0), ""),  # the same lying down
        (3.0, 0.0, (4.0, 4.0), "3.0 × 6.4 mm are"),
        (3.0, 0.0, (8.0, 6.4), "3.0 × 6.4 mm are"),
        (3.0, 0.8, (8.0, 6.4), "3.0 × 6.4 mm are"),
        (3.0, 1.0, (8.0, 6.4), ""),  # both turn aside before it
    ],
)
def test_no_more_is_told_of_a_port_than_is_left_of_it(
    leaves: float, gap: float, size: tuple[float, float], words: str
) -> None:
    """A block behind a hole of 8 × 6.4 mm leaves some of its width to two wires of 1.0 mm."""
    built = wired()
    entry = built.train.vehicles[1]
    vehicle, port = blocked(entry, leaves, gap)
    train = replace(built.train, vehicles=(built.train.vehicles[0], replace(entry, vehicle=vehicle)))
    (ports,) = (
        {(one.ahead, one.port_ahead), (one.behind, one.port_behind)} for one in built.harness.crossings
    )
    loads = [PortLoad(*one, 8.0, 6.4, (1, 2), 2.6, "goes through", "", 0.4) for one in sorted(ports)]
    assert loads[1].port == port.name
    told = (loads[0], replace(loads[1], width_mm=size[0], height_mm=size[1]))

    def said(*told: PortLoad) -> list[str]:
        facts = replace(built.harness.facts, ports=told)
        made = replace(built, train=train, harness=replace(built.harness, facts=facts))
        sheet = Tally()
        check_through_ports(made, sites_of(made), sheet)
        return [one.message for one in sheet.report().problems]

    assert [words in text for text in said(*told)] == ([True] if words else [])
    assert said() == []
    assert said(loads[0]) == ["it is told of, or wires go through it: not both"]
    assert "not both" in said(loads[0], replace(loads[1], port="rear hole"))[-1]
