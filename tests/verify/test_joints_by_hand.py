"""What is said of a joint: its length, how low it hangs, how thick its bundle is, what passes whole."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from scipy.optimize import brentq

from fitplan.model.electrical import Load
from fitplan.model.measured import Measured, MeasuredCoupling, MeasuredSupply
from fitplan.model.nets import Net, PinRef
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import OPEN_ENDS
from fitplan.model.wired import Crossing, Leg, PairDrawnIn, Wire
from fitplan.verify.conductors import check_conductors
from fitplan.verify.couplings import _sag, _thickness, check_couplings, leaves_at
from fitplan.verify.result import Tally

from .lies import built_with, harness_with, placed_with, problems, train_with, wire_with
from .test_cavities import PAIR, pair, parted
from .two_vehicles import FLOOR, LAMP, LIVE_CELL, WIRES, plan, wagon

STRAIGHT, FREE = 8.0, 14.0
MOUTH = FLOOR + 3.2
"""The middles of both ports lie as high."""


def joint(**changes: Any) -> list[tuple[str, float]]:
    """What is said of the one joint: 8 mm on straight track, which no pose makes longer, and 6 mm slack."""
    old: Plan = plan()
    crossing = replace(old.built.harness.crossings[0], **changes)
    made = harness_with(old, crossings=(crossing,))
    return [(one.message, one.figure) for one in problems(check_couplings, made.built)]


def lowest(free: float, span: float = STRAIGHT, diameter: float = 2.0) -> float:
    """Half of a catenary of this length: its length is 2a sinh(d / 2a), its sag a (cosh(d / 2a) - 1)."""
    u = brentq(lambda u: math.sinh(u) / u - free / span, 1e-6, 50)
    a = span / (2 * u)
    return MOUTH - a * (math.cosh(u) - 1) - diameter / 2


@pytest.mark.parametrize(
    ("free", "words", "figure"),
    [
        (13.71, "", 0.0),
        (13.69, "is 13.7 mm long; 8.0 mm and slack, 14.0 mm, are needed", 0.31),
        (9.0, "is 9.0 mm long; 8.0 mm and slack, 14.0 mm, are needed", 5.0),
        (16.39, "", 0.0),
        (16.41, "is 16.4 mm long; 14.0 mm do in every pose", 2.41),
        (20.0, "is 20.0 mm long; 14.0 mm do in every pose", 6.0),
    ],
)
def test_a_joint_is_as_long_as_its_poses_and_slack(free: float, words: str, figure: float) -> None:
    """0.3 mm shorter at the most, and 15 in 100 and 0.3 mm longer; how low it hangs is told truly."""
    found = joint(free_mm=free, sag_above_rail_mm=lowest(free))
    assert found == ([(words, pytest.approx(figure, abs=0.02))] if words else [])


@pytest.mark.parametrize(
    ("share", "least", "asked"), [(0.1, 6.0, 14.0), (0.1, 0.1, 8.8), (0.75, 6.0, 14.0), (0.8, 6.0, 14.4)]
)
def test_the_larger_of_share_and_least_is_slack(share: float, least: float, asked: float) -> None:
    for free, told in ((asked - 0.25, False), (asked - 0.35, True), (asked + 0.35, False)):
        old = plan()
        crossing = replace(old.built.harness.crossings[0], free_mm=free, sag_above_rail_mm=lowest(free))
        made = harness_with(old, crossings=(crossing,))
        wiring = made.built.train.wiring
        slack = replace(wiring.coupling_slack, share=share, least=least)
        made = train_with(made, wiring=replace(wiring, coupling_slack=slack))
        found = [one.message for one in problems(check_couplings, made.built)]
        assert any(f"{asked:.1f} mm, are needed" in one for one in found) == told


def test_a_length_that_was_measured_is_to_the_letter() -> None:
    """Within 0.3 mm; no shorter than the mouths are apart on straight track."""
    for measured, free, words in (
        (12.0, 12.2, ""),
        (12.0, 11.8, ""),
        (12.0, 12.4, "is 12.4 mm long; 12.0 mm do in every pose"),
        (12.0, 11.6, "is 11.6 mm long; 8.0 mm and slack, 12.0 mm, are needed"),
        (5.0, 8.2, ""),
        (5.0, 7.6, "is 7.6 mm long; 8.0 mm and slack, 8.0 mm, are needed"),
    ):
        old = plan()
        sag = lowest(free) if free > STRAIGHT else MOUTH - 1.0
        crossing = replace(old.built.harness.crossings[0], free_mm=free, sag_above_rail_mm=sag)
        made = harness_with(old, crossings=(crossing,))
        known = MeasuredCoupling(("wagon", "loco"), measured, "2024-05-01")
        made = train_with(made, measured=Measured(couplings=(known,)))
        found = [one.message for one in problems(check_couplings, made.built)]
        assert [one for one in found if "hangs" not in one] == ([words] if words else [])


@pytest.mark.parametrize(
    ("by", "told"), [(-1.4, True), (-0.6, False), (0.0, False), (0.6, False), (1.4, True)]
)
def test_it_hangs_as_low_as_a_catenary(by: float, told: bool) -> None:
    """To a millimetre; a pair that lies in a vehicle takes twice its own more with it."""
    low = lowest(FREE)
    for pair_in in (None, PairDrawnIn("loco", Box((9, 21, FLOOR), (19, 27, FLOOR + 4)), 3.0)):
        free = FREE if pair_in is None else FREE + 6
        found = joint(free_mm=free, pair=pair_in, sag_above_rail_mm=low + by)
        hangs = [one for one in found if "above the rail" in one[0]]
        said = f"above the rail, not to {low + by:.1f} mm"
        assert [one[0].endswith(said) for one in hangs] == [True] * told
        if told:
            assert hangs[0][1] == pytest.approx(-by, abs=0.25)
    thick = joint(diameter_mm=2.1, sag_above_rail_mm=lowest(FREE, diameter=2.1) + by)
    assert any("above the rail" in one[0] for one in thick) == told


@pytest.mark.parametrize("by", [-1.1, -0.9, 0.9, 1.1])
@pytest.mark.parametrize("spans", [(10.0, 4.0), (4.0, 10.0), (4.0, 4.0)])
def test_it_hangs_as_low_as_where_the_mouths_are_nearest(spans: tuple[float, float], by: float) -> None:
    """On straight track, or in the nearest pose: at 4 mm, to a millimetre."""
    built, crossing = plan().built, plan().built.harness.crossings[0]
    said = lowest(FREE, 4.0) + by
    one = replace(crossing, free_mm=FREE, sag_above_rail_mm=said)
    found = [(p.message, p.figure) for p in problems(_sag, built, one, spans, (MOUTH, MOUTH))]
    words = f"hangs to {said - by:.1f} mm above the rail, not to {said:.1f} mm"
    assert found == ([(words, pytest.approx(-by, abs=1e-3))] if abs(by) > 1 else [])


@pytest.mark.parametrize(
    ("outers", "least", "most"),
    [
        # The sections together, and a circle of twice that: two discs of half a circle's area always fit.
        ((1.0, 1.0), math.sqrt(2), 2.0),
        ((4.0, 1.0), math.sqrt(17), math.sqrt(34)),
        ((3.0,), 3.0, math.sqrt(18)),
        ((2.0, 2.0, 1.0), 3.0, math.sqrt(18)),
        ((5.0, 0.5, 0.5), math.sqrt(25.5), math.sqrt(51)),
        ((), 0.0, 0.0),
    ],
)
def test_a_bundle_is_neither_thinner_nor_thicker_than_its_wires_ask(
    outers: tuple[float, ...], least: float, most: float
) -> None:
    crossing = plan().built.harness.crossings[0]
    wires = [replace(WIRES[0], outer_mm=outer) for outer in outers]
    for said, told in (
        (least - 0.11, True),
        (least - 0.09, False),
        (most + 0.09, False),
        (most + 0.11, True),
    ):
        one = replace(crossing, diameter_mm=said)
        words = f"is {said:.2f} mm thick; its wires take {least:.2f} to {most:.2f} mm"
        assert [p.message for p in problems(_thickness, one, wires)] == [words] * told


@pytest.mark.parametrize(
    ("drop", "why"),
    [
        (0.0, ""),
        (7.99, ""),
        (7.999, "no pose of its vehicles was found"),  # the drawbar is all but upright
        (8.0, "its vehicles cannot stand in the curve that is asked"),
        (9.0, "its vehicles cannot stand in the curve that is asked"),
    ],
)
def test_vehicles_whose_pins_lie_apart_in_height(drop: float, why: str) -> None:
    """A drawbar of 8 mm between pins of which one lies lower; what cannot be posed is taken on trust."""
    made = plan()
    loco, behind = made.built.train.vehicles
    lower = tuple(replace(one, height=one.height + drop) for one in behind.vehicle.couplings)
    behind = replace(behind, vehicle=replace(behind.vehicle, couplings=lower))
    sheet = Tally()
    check_couplings(train_with(made, vehicles=(loco, behind)).built, sheet)
    trusted = [(one.what, one.count, one.why) for one in sheet.report().trusted]
    assert trusted == ([("lengths over loco to wagon", 1, why)] if why else [])


# -- open ends ---------------------------------------------------------------------------------------------


def test_wires_leave_an_open_end_about_the_middle_of_all() -> None:
    """At a port its mouth; else the middle of a box round where wires of its nets leave, and the farthest."""
    entry = plan().built.train.vehicles[1]
    (front, rear) = wagon().ports
    crossing: Crossing = replace(plan().built.harness.crossings[0], wires=(1, 3))
    assert leaves_at(crossing, entry, front, WIRES) == ((80.0, 24.0, MOUTH), 0.0)
    assert leaves_at(crossing, entry, rear, WIRES) == ((0.0, 24.0, MOUTH), 0.0)
    gap = replace(front, name=OPEN_ENDS["+x"])

    def leg(*points: Vec, **more: str) -> Leg:
        return Leg("wagon", points, **more)

    def wire(number: int, net: str, *legs: Leg) -> Wire:
        return replace(WIRES[0], number=number, net=net, legs=legs)

    far = (50.0, 20.0, 30.0)
    wires = (
        wire(1, "light", leg((79.0, 20.0, 24.0), far, enters=gap.name)),
        # Another wire of its net that the crossing does not name counts; one of another net does not.
        wire(7, "light", leg(far, (77.0, 30.0, 20.0), leaves=gap.name)),
        wire(3, "ground", leg(far, (78.0, 26.0, 26.0), leaves=gap.name)),
        wire(4, "other", leg((70.0, 10.0, 10.0), far, enters=gap.name)),
        wire(5, "ground", leg((60.0, 10.0, 10.0), far, enters="front hole", leaves="rear hole")),
        wire(6, "ground", Leg("loco", ((60.0, 10.0, 10.0), far), enters=gap.name, leaves=gap.name)),
    )
    middle = (78.0, 25.0, 23.0)
    away = max(math.dist(middle, one) for one in ((79.0, 20.0, 24.0), (77.0, 30.0, 20.0), (78.0, 26.0, 26.0)))
    spot, aside = leaves_at(crossing, entry, gap, wires)
    assert spot == pytest.approx(middle)
    assert aside == pytest.approx(away)
    assert leaves_at(crossing, entry, gap, wires[3:]) == ((80.0, 24.0, MOUTH), 0.0)


# -- what passes in one piece ------------------------------------------------------------------------------


def with_lead(wires: tuple[int, ...], beside: tuple[int, ...], order: tuple[str, ...]) -> list[str]:
    """What is said of the cavities of a coupling of which one net is a lead as bought."""
    made = parted(order, wires=wires, beside=beside)
    nets = tuple(replace(net, lead="lead") if net.name == "light" else net for net in made.built.train.nets)
    made = train_with(made, nets=nets)
    kept = tuple(one for one in made.built.harness.wires if one.number != 5)
    light = replace(WIRES[0])
    kept = tuple(light if one.number == 1 else one for one in kept)
    made = harness_with(made, wires=kept)
    words = ("as bought", "cavit")
    found = problems(check_couplings, made.built)
    return [one.message for one in found if any(word in one.message for word in words)]


def test_leads_as_bought_come_after_what_a_connector_joins() -> None:
    assert with_lead((3, 1), (1,), ("1 ground",)) == []
    assert with_lead((1, 3), (1,), ("1 ground",)) == [
        "counts a lead as bought before what its connector joins"
    ]
    assert with_lead((3, 1), (), ("1 ground",)) == [
        "does not tell which leads as bought pass it in one piece"
    ]
    assert with_lead((3,), (1,), ("1 ground",)) == [
        "does not tell which leads as bought pass it in one piece"
    ]


# -- conductors over it ------------------------------------------------------------------------------------


def summed(**said: float) -> list[str]:
    """What is said of wire 1 over a joint whose length its connector asks for: 5 mm of pair, 10 of pull."""
    old: Plan = train_with(plan(), catalogue={PAIR: pair()})
    crossing = replace(old.built.harness.crossings[0], free_mm=15.0, connector=PAIR)
    old = harness_with(old, crossings=(crossing,))
    amounts = {what: mm for what, mm in WIRES[0].allowances if "couplings" not in what}
    amounts |= {what.replace("_", " "): mm for what, mm in said.items()}
    made = wire_with(old, 1, allowances=tuple(amounts.items()))
    found = problems(check_conductors, made.built, ())
    return [one.message for one in found if one.where == "wire 1 (light)" and "coupling" in one.message]


def test_where_a_connector_asks_for_more_only_the_sum_is_known() -> None:
    """15 mm free less 8 straight: 7 mm, however they are told as curves and slack; to 0.12 mm."""
    assert summed(curves_at_couplings=1.0, slack_at_couplings=6.0) == []
    assert summed(curves_at_couplings=5.0, slack_at_couplings=2.0) == []
    assert summed(slack_at_couplings=7.1) == []
    assert summed(slack_at_couplings=6.85) == ["adds 6.85 mm over couplings; 7.00 mm are asked"]
    assert summed(curves_at_couplings=7.15) == ["adds 7.15 mm over couplings; 7.00 mm are asked"]
    assert summed(curves_at_couplings=7.0, pair_drawn_in_at_couplings=0.5) == [
        "adds 0.50 mm for pair drawn in at couplings; the settings ask for 0.00 mm"
    ]


def test_what_hangs_on_a_supply_that_was_measured() -> None:
    """Loads draw 15 mA: a wire that carries 10 is told, but where the supply was measured."""
    lamp = replace(LAMP, electrical=(Load(3.0, 5.5, 15.0, 15.0),), pins=tuple(
        replace(one, role="supply", wants=frozenset()) if one.name == "IN" else one for one in LAMP.pins
    ))  # fmt: skip
    made = placed_with(plan(), "lamp", part=lamp)
    made = placed_with(made, "cell", part=LIVE_CELL)
    fed = Net("light", "supply", (PinRef("cell", "plus"), PinRef("lamp", "IN")))
    made = train_with(made, nets=tuple(fed if n.name == "light" else n for n in made.built.train.nets))

    def told(made: Plan) -> list[tuple[str, float]]:
        found = problems(check_conductors, made.built, ())
        return [(one.message, one.figure) for one in found if "draw" in one.message]

    assert told(made) == [("carries 10 mA; the loads on it draw 15 mA", 5.0)]
    measured = Measured(supplies=(MeasuredSupply("cell", 10.0, "2024-05-01"),))
    assert told(train_with(made, measured=measured)) == []
    assert told(built_with(made, placements=made.built.placements[:3])) == []
