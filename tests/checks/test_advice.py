"""What is advised is tried: at the speed, height, mass or power that is named a check passes, beyond not."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest

from fitplan.checks.asked import _commanded
from fitplan.checks.balance import (
    BalanceSettings,
    Weight,
    _aside,
    _starting,
    _supports,
    _tipping,
    tipping_speed,
)
from fitplan.checks.heat import HeatSettings, Loss, _air, _junction
from fitplan.checks.measured import _typical
from fitplan.checks.on_additions import PAST_MIDDLE, past_middle
from fitplan.checks.outline import outline_of
from fitplan.checks.pin_facts import bus_faults
from fitplan.checks.support import SupportSettings, is_light
from fitplan.checks.toppling import foot_of
from fitplan.checks.wire_colours import colour_findings
from fitplan.checks.without_iron import _costs, _soldered
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import BusDevice, CellPack, Controller, Load
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from fitplan.model.operation import Running, Track
from fitplan.model.part import Clearance, Part
from fitplan.model.pins_used import Resistor
from fitplan.model.placed import NOTHING, Piece, Placement, Shelf
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.train import Train
from fitplan.model.vehicle import BuiltIn
from fitplan.model.wired import BoughtLead, Harness
from fitplan.model.wiring import Spool
from tests.checks.test_support import FLOOR as DECK
from tests.checks.test_support import deck
from tests.circuit.sample_parts import (
    bank,
    board,
    cans,
    cells,
    need,
    net,
    part,
    pin,
    shuttle,
)
from tests.circuit.sample_parts import train as train_with_parts
from tests.packing.small_trains import block, train_of
from tests.verify.lies import built_with, harness_with, placed_with, train_with, wire_with
from tests.verify.two_vehicles import BOARD, LAMP, plan

G = 9806.65


def number(text: str, after: str) -> float:
    return float(text.split(after)[1].split()[0].rstrip(","))


# -- balance -----------------------------------------------------------------------------------------------


def on_track(radius: float = 200.0, speed: float = 300.0, gradient: float = 0.0) -> BuiltTrain:
    made = plan().built
    track = Track(radius=radius, gradient_percent=gradient)
    return replace(made, train=replace(made.train, track=track, running=Running(speed)))


def tips(built: BuiltTrain, weight: Weight) -> Finding | None:
    return next(_tipping(built, built.train.vehicles[0], weight, BalanceSettings()), None)


def test_a_vehicle_does_not_tip_at_the_speed_or_height_that_is_advised() -> None:
    """At √(g·R·b/(2h)) it is over, moments about the outer rail being equal; a reserve above it is a note."""
    dice = random.Random(5)
    seen = set()
    for _ in range(200):
        built = on_track(dice.uniform(100, 500), dice.uniform(100, 900))
        weight = Weight(300.0, (40.0, 24.0 + dice.uniform(-9, 9), dice.uniform(15, 80)))
        one = tips(built, weight)
        assert one is not None
        radius, speed, gauge = built.train.track.radius, built.train.running.speed, built.train.track.gauge
        lever, reserve = gauge / 2 - abs(weight.center[1] - 24.0), BalanceSettings().tipping_reserve
        over = math.sqrt(G * radius * lever / weight.center[2])
        assert one.figure == pytest.approx(over, abs=0.06)
        assert one.limit == pytest.approx(reserve * speed, abs=0.06)
        assert one.severity == ("stop" if over < speed else "caution" if over < reserve * speed else "note")
        seen.add(one.severity)
        if one.severity == "note":
            assert one.remedy == "nothing to do"
            continue
        slower = number(one.remedy, "run no faster than ")
        assert slower <= over / reserve < slower + 1
        for change, severity in ((0.0, "note"), (1.0, "caution")):
            again = tips(replace(built, train=replace(built.train, running=Running(slower + change))), weight)
            assert again is not None
            assert again.severity == severity
        low = number(one.remedy, "down to ")
        for height, held in ((low, True), (low + 1, False)):
            again = tips(built, replace(weight, center=(*weight.center[:2], height)))
            assert again is not None
            assert (again.severity == "note") is held
    assert seen == {"stop", "caution", "note"}
    assert tips(on_track(radius=0.0), Weight(300.0, (40.0, 24.0, 30.0))) is None
    assert tipping_speed(200.0, 38.0, 30.0, 19.0) == tipping_speed(200.0, 38.0, 30.0, 25.0) == 0.0


@pytest.mark.parametrize("side", [-1, 1])
def test_ballast_at_the_wall_brings_the_middle_back(side: int) -> None:
    """Grams that balance about the middle: m·off = B·(half the width less half a stud)."""
    built, entry = on_track(), plan().built.train.vehicles[0]
    limit = BalanceSettings().aside_share * built.train.track.gauge / 2
    for off, heavy in ((limit - 0.01, False), (limit + 0.01, True), (limit + 4, True)):
        (one,) = _aside(built, entry, Weight(200.0, (40.0, 24.0 + side * off, 30.0)), BalanceSettings())
        assert one.severity == ("caution" if heavy else "note")
        assert one.figure == pytest.approx(off, abs=0.01)
        assert one.limit == pytest.approx(limit, abs=0.01)
        assert f"to the {'left' if side > 0 else 'right'} of the middle" in one.message
        if heavy:
            grams = number(one.remedy, "put ")
            assert grams == round(200.0 * off / 20.0)
            assert f"at the {'right' if side > 0 else 'left'} wall" in one.remedy
            assert [(asked.name, asked.quantity) for asked in one.add] == [("ballast", grams)]
        else:
            assert one.add == ()


def test_ballast_above_a_light_axle_is_enough() -> None:
    """With the grams that are named there the axle carries its share; with a tenth less it does not."""
    entry = plan().built.train.vehicles[0]
    at, settings = entry.vehicle.wheels.at, BalanceSettings()
    wanted = settings.least_support * 2 / len(at)
    for x in np.linspace(min(at) - 3, max(at) + 3, 31):
        (one,) = _supports(entry, Weight(200.0, (float(x), 24.0, 30.0)), settings)
        first = 200.0 * (max(at) - x) / (max(at) - min(at))
        loads = dict(zip((min(at), max(at)), (first, 200.0 - first), strict=True))
        least = min(loads, key=loads.__getitem__)
        assert one.figure == pytest.approx(100 * loads[least] / 200.0, abs=0.06)
        assert one.severity == ("caution" if loads[least] / 200.0 < wanted else "note")
        if one.severity == "caution":
            assert f"at {least:.0f} mm carries" in one.message
            grams = number(one.remedy, "put ")
            assert (loads[least] + grams + 0.5) / (200.0 + grams + 0.5) >= wanted
            assert (loads[least] + grams - 0.51) / (200.0 + grams - 0.51) < wanted


@pytest.mark.parametrize("gradient", [0.0, 2.0, 8.0, 20.0, 25.0])
def test_ballast_over_driven_wheels_grips(gradient: float) -> None:
    """μ·(driven + B) ≥ (slope + rolling)·(total + B), where the slope is less than the adhesion."""
    built = on_track(gradient=gradient)
    train = built.train
    wheels = replace(train.vehicles[0].vehicle.wheels, driven=(True, False))
    loco = replace(train.vehicles[0], vehicle=replace(train.vehicles[0].vehicle, wheels=wheels))
    built = replace(built, train=replace(train, vehicles=(loco, train.vehicles[1])))
    settings = BalanceSettings()
    (one,) = _starting(built, settings)
    share = gradient / 100 + settings.rolling
    mu = built.train.track.adhesion
    driven = one.figure / mu
    assert one.severity == (
        "note"
        if one.figure >= one.limit
        else "stop"
        if settings.best_adhesion * driven < one.limit
        else "caution"
    )
    if one.severity == "note":
        assert one.add == ()
    elif mu > share:
        grams = number(one.remedy, "put ")
        # Grams of grip and pull are told to a tenth.
        assert grams == pytest.approx((one.limit - one.figure) / (mu - share), abs=0.5 + 0.1 / (mu - share))
        assert one.add[0].quantity == grams
    else:
        assert one.remedy == "no ballast helps on such a gradient: flatten it"
        assert one.add == ()


# -- heat --------------------------------------------------------------------------------------------------


def test_a_junction_stays_cool_at_the_loss_that_is_advised() -> None:
    settings = HeatSettings()
    dice = random.Random(2)
    seen = set()
    for _ in range(200):
        air, loss = (
            dice.uniform(15, 60),
            Loss("reg", "linear regulator", dice.uniform(0.01, 2), dice.uniform(20, 150)),
        )
        one = _junction(loss, air, settings)
        junction = air + loss.power_w * loss.theta
        warm = air + settings.junction_reserve * (settings.junction_c - air)
        assert one.figure == pytest.approx(junction, abs=0.06)
        assert (one.severity == "stop") is (junction > settings.junction_c)
        assert (one.severity == "note") is (junction <= min(warm, settings.touch_c))
        seen.add((one.severity, one.limit))
        if "bring its loss below" in one.remedy:
            most = number(one.remedy, "below ")
            cool = _junction(replace(loss, power_w=most - 0.0051), air, settings)
            hot = _junction(replace(loss, power_w=most + 0.0051), air, settings)
            assert "bring its loss below" not in cool.remedy
            assert "bring its loss below" in hot.remedy
    assert len(seen) >= 3
    (beyond,) = (_junction(Loss("reg", "regulator", 1.0, 10.0), settings.junction_c + 5, settings),)
    assert "below 0.00 W" in beyond.remedy


@pytest.mark.parametrize("lithium", [False, True])
@pytest.mark.parametrize("rise", [5.0, 20.0, 24.9, 60.0, 90.0])
def test_the_air_stays_cool_at_the_power_that_is_advised(lithium: bool, rise: float) -> None:
    """The rise grows with the power: what is named keeps the air at its limit."""
    built, settings = plan().built, HeatSettings()
    chosen = {one.need: one.part for one in built.placements}
    if lithium:
        chosen["lamp"] = replace(chosen["lamp"], cautions=("lithium",))
    losses = (Loss("lamp", "load", 1.5, 0.0), Loss("eye", "load", 0.5, 0.0), Loss("board", "load", 0.0, 0.0))
    found = list(_air(built, chosen, {"loco": 0.0, "wagon": rise}, losses, settings))
    (one,) = found
    limit = settings.cells_c if lithium else settings.plastic_c
    outside = built.train.running.temperature_c
    assert (one.where, one.limit) == ("wagon", limit)
    assert one.figure == pytest.approx(outside + rise, abs=0.06)
    assert one.message.startswith(
        f"2.00 W in wagon warm the air in its closed body to {outside + rise:.0f} °C"
    )
    assert one.severity == ("stop" if outside + rise > limit else "note")
    if one.severity == "stop":
        most = number(one.remedy, "below ")
        assert outside + most * rise / 2.0 == pytest.approx(limit, abs=0.01 * rise)


# -- support, soldering, outlines, buses -------------------------------------------------------------------


def stood(
    *solids: Box, at: Vec = (40.0, 14.0, DECK), shelf: Shelf | None = None, mass: float = 72.0
) -> tuple[BuiltTrain, Placement]:
    made = replace(
        block("bank", (20.0, 20.0, 20.0), mass_g=mass), envelope=solids or (Box((0, 0, 0), (20, 20, 20)),)
    )
    one = Placement("bank", made, "v", Place(pose_named("+x+y+z"), at), "the body", shelf)
    return BuiltTrain(train_of((deck(),), (Need("bank", (made,)),)), (one,), Harness(), ()), one


def test_a_foot_is_where_a_part_touches_or_its_lowest_faces() -> None:
    """On the deck all that touches; in the air the lowest faces; what hangs beside does not count."""
    leg, arm = Box((0, 0, 0), (6, 20, 30)), Box((6, 0, 20), (40, 20, 30))
    for lift in (0.0, 5.0):
        built, one = stood(leg, arm, at=(40.0, 14.0, DECK + lift))
        foot = foot_of(built, one)
        assert foot.low == pytest.approx((40.0, 14.0, DECK + lift))
        assert foot.high == pytest.approx((46.0, 34.0, DECK + lift))
    far = Box((34, 0, 0), (40, 20, 20))
    built, one = stood(leg, arm, far)
    assert foot_of(built, one).high == pytest.approx((80.0, 34.0, DECK))
    shelf = Shelf("plates", (Piece("plate", Box((66, 14, DECK), (74, 30, DECK + 20))),), 2)
    built, one = stood(leg, arm, shelf=shelf)
    assert foot_of(built, one).high == pytest.approx((74.0, 34.0, DECK))


def test_how_far_an_addition_reaches_past_the_middle() -> None:
    for reach in (0.0, 1.5, 4.0):
        shelf = Shelf("plates", (Piece("plate", Box((40, 14, DECK), (50 + reach, 34, DECK + 3.2))),), 2)
        built, one = stood(at=(40.0, 14.0, DECK + 3.2), shelf=shelf)
        assert past_middle(built, one) == pytest.approx(reach)
        assert past_middle(built, replace(one, steady=False)) == PAST_MIDDLE
        assert past_middle(built, replace(one, shelf=None)) == PAST_MIDDLE
        assert past_middle(built, replace(one, shelf=replace(shelf, kind="hanger"))) == PAST_MIDDLE


@pytest.mark.parametrize(("mass", "light"), [(19.9, True), (20.0, True), (20.1, False)])
def test_what_is_light_is_held_by_tape(mass: float, light: bool) -> None:
    _, one = stood(mass=mass)
    assert is_light(one) is light
    assert is_light(one, SupportSettings(heavy_g=mass))
    assert not is_light(replace(one, carried_by=NOTHING))


def test_what_wants_an_iron_is_told_joint_by_joint() -> None:
    """Pins, splices and resistors in leads; what plugs or has its own lead wants none."""
    found = {one.where: (one.figure, one.message) for one in _soldered(plan().built)}
    assert found == {
        "board": (2.0, "wires are soldered to its pins GND, OUT"),
        "lamp": (2.0, "wires are soldered to its pins GND, IN"),
        "cell": (1.0, "wires are soldered to its pins minus"),
        "harness": (1.0, "wires are soldered together in S1"),
    }
    assert {one.limit for one in _soldered(plan().built)} == {0.0}
    bare = harness_with(plan(), splices=())
    assert "harness" not in {one.where for one in _soldered(bare.built)}
    pins = (replace(LAMP.pins[0], joint="header"), replace(LAMP.pins[1], joint="attached"))
    plugged = placed_with(plan(), "lamp", part=replace(LAMP, pins=pins))
    assert "lamp" not in {one.where for one in _soldered(plugged.built)}
    series = Resistor("lamp", "IN", "light", 150.0, 0.01, 0.25, 10.0, "lead")
    with_it = built_with(plan(), resistors=(series, replace(series, owner="eye", place="board")))
    told = [one for one in _soldered(with_it.built) if "resistor" in one.message]
    assert [(one.where, one.message) for one in told] == [
        ("lamp.IN", "a resistor of 150 Ω is soldered into its lead")
    ]


def test_room_for_sockets_and_what_is_left_over_is_told_in_cubic_centimetres() -> None:
    """A form with sockets 8 mm long at one end wants 8 · 10 · 5 mm³ more than the soldered one."""
    assert list(_costs(plan().built)) == []
    fold = Box((0, 0, 0), (20, 10, 5))
    one = wire_with(plan(), 1, lead=BoughtLead("lead", 200.0, "loco", fold=fold))
    (told,) = _costs(one.built)
    assert (told.figure, told.limit) == (1.0, 0.0)
    assert told.message == "without an iron: what is left over of a lead takes 1.0 cm³"
    two = wire_with(one, 2, lead=BoughtLead("lead", 200.0, "loco", fold=fold))
    assert next(_costs(two.built)).message.endswith("of 2 leads takes 2.0 cm³")
    assert list(_costs(wire_with(plan(), 1, lead=BoughtLead("lead", 200.0, "loco")).built)) == []
    assert list(_costs(wire_with(one, 1, inside=4).built)) == []
    sockets = Clearance("sockets", "lead", Box((20, 0, 0), (28, 10, 5)), "always")
    pinned = replace(BOARD, id="board-pins", clearances=(sockets,))
    made = placed_with(train_with(plan(), catalogue={"board": BOARD}), "board", part=pinned)
    (told,) = _costs(made.built)
    assert told.figure == pytest.approx(0.4)
    assert "board 28.0 × 10.0 × 5.0 mm (20.0 × 10.0 × 5.0 mm soldered)" in told.message
    often = replace(pinned, clearances=(replace(sockets, needed="access"),))
    assert list(_costs(placed_with(made, "board", part=often).built)) == []


def test_an_outline_holds_all_but_couplings() -> None:
    built = plan().built
    plain = outline_of(built, "loco")
    assert "coupling" not in plain.names
    assert {"body", "motor", "board", "wire 1 (light)"} <= set(plain.names)
    wires = plain.points[[name == "wire 4 (ground)" for name in plain.names]]
    corners = np.array(built.harness.wires[3].legs[0].points)
    assert wires.min(axis=0) == pytest.approx(corners.min(axis=0) - 0.5)
    assert wires.max(axis=0) == pytest.approx(corners.max(axis=0) + 0.5)


def bus(*addresses: str, changes: bool = False, joined: bool = False) -> list[Finding]:
    """Devices at these addresses on the bus of one board, each with a pin that keeps it off."""
    parts: dict[str, Part] = {"brain": board()}
    for n, address in enumerate(addresses):
        pins = [
            pin("SDA", wants=cans("data")),
            pin("SCL", wants=cans("clock")),
            pin("OFF", wants=cans("output")),
        ]
        parts[f"d{n}"] = part(f"d{n}", BusDevice(address, changes, "OFF", 10_000.0), pins=pins)
    names = [name for name in parts if name != "brain"]
    nets = [
        net("data", "signal", "brain.A4", *(f"{name}.SDA" for name in names)),
        net("clock", "signal", "brain.A5", *(f"{name}.SCL" for name in names)),
    ]
    if joined:
        nets += [
            net(f"off {name}", "signal", f"brain.D{2 + n}", f"{name}.OFF") for n, name in enumerate(names)
        ]
    made = train_with_parts([need(name, one) for name, one in parts.items()], nets)
    return list(bus_faults(made, parts))


def test_parts_at_one_address_are_told_unless_a_program_can_part_them() -> None:
    """All but one of them must be kept off by a pin that is joined."""
    assert bus("0x29") == []
    assert bus("0x29", "0x2A") == []
    (one,) = bus("0x29", "0x29", "0x2A")
    assert (one.severity, one.where, one.figure, one.limit) == ("stop", "d0, d1", 2.0, 1.0)
    assert one.message == "d0 and d1 answer at one address, 0x29, on the bus of brain"
    assert one.remedy.startswith("join d0.OFF, d1.OFF to pins of the controller")
    assert len(bus("0x29", "0x29", changes=True)) == 1
    assert len(bus("0x29", "0x29", joined=True)) == 1
    assert bus("0x29", "0x29", changes=True, joined=True) == []


def test_rangers_whose_word_reaches_no_motor_are_told() -> None:
    """An emitter, or a net to what is built in, tells the motor; without eyes or motors nothing is said."""

    def told(made: Train) -> int:
        parts = {one.name: one.candidates[0] for one in made.needs}
        return len(list(_commanded(BuiltTrain(made, (), Harness(), ()), parts)))

    base = shuttle()
    motor = BuiltIn("motor", "motor", (Box((60, 20, 20), (80, 30, 30)),), pins=(pin("M1", "plus"),))
    entry = base.vehicles[0]
    driven = replace(
        base, vehicles=(replace(entry, vehicle=replace(entry.vehicle, built_in=(motor,))), *base.vehicles[1:])
    )
    dumb = replace(driven, needs=tuple(one for one in driven.needs if one.name != "emitter"))
    assert told(driven) == 0
    assert told(dumb) == 1
    assert told(replace(dumb, nets=())) == 0
    assert told(replace(dumb, vehicles=base.vehicles)) == 0
    wired = Net("m", "supply", (PinRef(f"{entry.name}/motor", "M1"), PinRef("brain", "5V")))
    assert told(replace(dumb, nets=(*dumb.nets, wired))) == 0
    blind = replace(dumb, needs=tuple(one for one in dumb.needs if "eyes" not in one.name))
    assert told(blind) == 0


def test_figures_that_are_commonly_measured() -> None:
    """Of what is placed: sources by need, draws and outlines of typical parts by part."""
    made = plan()
    names = {what for what, _ in _typical(made.built)}
    free = {one for one in names if "free" in one}
    assert len(free) == 1
    assert names == {"speed", "deceleration", "command delay", "mass of loco", "mass of wagon", *free}
    for electrical, more in (
        (cells().electrical, {"current from cell"}),
        (bank().electrical, {"current from cell"}),
        ((Load(3.0, 5.0, 7.0, 9.0),), set()),
        ((CellPack("nimh", "AA", 4, 2000.0, 0.1, 2000.0), Load(3.0, 5.0, 7.0, 9.0)), {"current from cell"}),
    ):
        changed = placed_with(
            made, "cell", part=replace(plan().built.placements[1].part, electrical=electrical)
        )
        assert {what for what, _ in _typical(changed.built)} - names == more
    typical = replace(LAMP, typical=True, electrical=(Load(3.0, 5.0, 7.0, 9.0),))
    told = dict(_typical(placed_with(made, "lamp", part=typical).built))
    assert told["current of lamp"] == "7 mA"
    assert told["outline of lamp"] == "6 × 6 × 6 mm"
    chip = replace(typical, electrical=(Controller(5.0, 21.0, 40.0, 4.3, 20.0, 500.0),))
    assert dict(_typical(placed_with(made, "lamp", part=chip).built))["current of lamp"] == "21 mA"
    plain = dict(_typical(placed_with(made, "lamp", part=replace(typical, typical=False)).built))
    assert "current of lamp" not in plain
    assert "outline of lamp" not in plain


def test_spools_hold_what_is_cut_of_their_colour() -> None:
    """Of each colour alone, all spools of it together; just enough is enough."""
    made = plan()
    wires = made.built.harness.wires
    colours = {wire.colour for wire in wires}
    for colour in sorted(colours):
        cut = sum(wire.cut_mm for wire in wires if wire.colour == colour) / 1000
        for spare, short in ((1e-6, False), (-1e-6, True)):
            spools = (Spool(colour, cut / 4), Spool(colour, cut * 3 / 4 + spare), Spool("none such", 1.0))
            wiring = replace(made.built.train.wiring, spools=spools)
            found = list(colour_findings(train_with(made, wiring=wiring).built))
            assert [one.where for one in found if one.unit == "m"] == [f"spool {colour}"] * short
            assert all(one.figure == one.limit == round(cut, 2) for one in found if one.unit == "m")
