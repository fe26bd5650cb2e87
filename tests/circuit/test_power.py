"""Energy and limits: what goes in comes out; regulators, fuses and resistors by closed forms."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitplan.circuit.cells import source_of
from fitplan.circuit.chain import Draw, flow_through, most_output, regulated_volts
from fitplan.circuit.currents import net_currents, running_peak, source_current
from fitplan.circuit.discharge import discharge, solve_state
from fitplan.circuit.fuses import PathRating, fuses_behind, wish_for
from fitplan.circuit.resistors import E24, next_value, resistor_for, resistors_of
from fitplan.circuit.supply_tree import Link, Rail, RailLoad, SupplyTree
from fitplan.model.electrical import CellPack, Controller, Fuse, Regulator, SeriesResistor
from fitplan.model.part import Part
from tests.circuit.sample_parts import board, cells, fuse, lamp, need, net, pin, step_up, switch, train

FIVE = Regulator("linear", 5.0, 6.0, 12.0, 500.0, dropout_v=1.0, quiescent_ma=5.0)
LIFT = Regulator(
    "step-up", 5.0, 1.0, 5.0, 600.0, efficiency=0.8, quiescent_ma=1.0, start_ma=450.0, in_max_ma=900.0
)


def random_rail(dice: random.Random, depth: int = 0, board_of: str = "") -> Rail:
    """A rail with loads, and links that are switches, fuses and regulators of every kind."""
    name = f"{depth}-{dice.randrange(10**6)}"
    fed = [
        RailLoad(f"load {name} {i}", dice.uniform(1, 30), dice.uniform(30, 60))
        for i in range(dice.randint(1, 3))
    ]
    if board_of:
        fed.append(RailLoad(board_of, 20.0, 40.0))
    links = []
    for number in range(dice.randint(0, 2) if depth < 3 else 0):
        owner = f"link {name} {number}"
        kind = dice.choice(["switch", "fuse", "linear", "step-up", "step-down", "board"])
        if kind in ("switch", "fuse"):
            part = switch() if kind == "switch" else fuse()
            links.append(Link("through", owner, part, random_rail(dice, depth + 1)))
            continue
        form = "linear" if kind == "board" else kind
        regulator = Regulator(
            form, dice.choice([3.3, 5.0]), 1.0, 12.0, 500.0,  # type: ignore[arg-type]
            dropout_v=0.3, quiescent_ma=dice.uniform(0, 5), efficiency=dice.uniform(0.7, 0.95),
        )  # fmt: skip
        below = random_rail(dice, depth + 1, owner if kind == "board" else "")
        links.append(
            Link("controller" if kind == "board" else "regulator", owner, step_up(), below, regulator)
        )
    return Rail(name, tuple(fed), tuple(links))


def owners(rail: Rail) -> list[str]:
    return [fed.owner for fed in rail.everything()] + [
        link.owner for one in rail.walk() for link in one.links
    ]


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("peak", [False, True])
def test_what_a_source_gives_is_what_loads_leads_and_regulators_take(seed: int, peak: bool) -> None:
    """Volts times current at the root is the power of everything below; each term by itself as well."""
    dice = random.Random(seed)
    rail = random_rail(dice)
    leads = {name: dice.uniform(0, 0.4) for name in owners(rail) if dice.random() < 0.7} if seed % 3 else {}
    volts = dice.uniform(7, 9)
    current, flow = flow_through(rail, volts, peak, leads)
    assert volts * current == pytest.approx(flow.load_mw + flow.regulator_mw + flow.lead_mw, rel=1e-6)
    loads = [(fed, fed.peak_ma if peak else fed.average_ma) for fed in rail.everything()]
    assert flow.load_mw == pytest.approx(sum(flow.volts[fed.owner] * amount for fed, amount in loads))
    heat = sum(
        flow.inputs[one][0] * flow.inputs[one][1] - flow.outputs[one][0] * flow.outputs[one][1]
        for one in flow.inputs
    )
    assert flow.regulator_mw == pytest.approx(heat)
    assert Draw(rail, peak, leads)(volts) == pytest.approx(current, rel=1e-9)
    if not leads:
        sagging = any(
            link.kind == "through" and link.part.figure(Fuse) for one in rail.walk() for link in one.links
        )
        assert (flow.lead_mw > 1e-9) is bool(sagging)


def test_a_board_lies_on_its_own_rail() -> None:
    """Leads of a board count once: up to its regulator; beyond a regulator of its own, leads begin anew."""
    rail = Rail("five", (RailLoad("brain", 100.0, 100.0), RailLoad("eye", 50.0, 50.0)))
    inside = Rail("raw", (), (Link("controller", "brain", board(), rail, FIVE),))
    leads = {"brain": 1.0, "eye": 2.0}
    _, flow = flow_through(inside, 8.0, False, leads)
    assert flow.inputs["brain"] == pytest.approx((8.0 - 0.155, 155.0))
    assert flow.volts["brain"] == pytest.approx(5.0)
    assert flow.volts["eye"] == pytest.approx(5.0 - 0.1)
    beyond = Rail("raw", (), (Link("regulator", "brain", step_up(), rail, FIVE),))
    _, flow = flow_through(beyond, 8.0, False, leads)
    assert flow.volts["brain"] == pytest.approx(5.0 - 0.1)
    beside = Rail(
        "five", rail.fed, (Link("through", "eye", switch(), Rail("out", (RailLoad("lamp", 10.0, 10.0),))),)
    )
    _, flow = flow_through(beside, 5.0, False, leads)
    assert flow.volts["lamp"] == pytest.approx(5.0)  # the eye's own leads are counted where it is fed


def test_what_is_weak_is_told_at_its_limit() -> None:
    """Volts just enough and just too few; a step-up that is asked for more than its switch lets pass."""
    for least, weak in ((4.9, 0), (4.9001, 1)):
        rail = Rail("five", (RailLoad("eye", 50.0, 50.0, least),))
        assert len(flow_through(rail, 5.0, False, {"eye": 2.0})[1].weak) == weak
    # 900 mA · 0.8 · 2.5 V / 5 V = 360 mA.
    assert most_output(LIFT, 2.5) == pytest.approx(360.0)
    assert most_output(LIFT, 4.9) == 600.0
    assert most_output(replace(LIFT, in_max_ma=0.0), 2.5) == 600.0
    assert most_output(replace(FIVE, in_max_ma=100.0), 8.0) == 500.0
    for asked, weak in ((360.0, []), (361.0, ["is asked for too much current"])):
        tree = Rail(
            "low",
            (),
            (Link("regulator", "lift", step_up(), Rail("five", (RailLoad("x", asked, asked),)), LIFT),),
        )
        assert [one.reason for one in flow_through(tree, 2.5, False, {})[1].weak] == weak
    low = Rail(
        "low", (), (Link("regulator", "lift", step_up(), Rail("five", (RailLoad("x", 1.0, 1.0),)), LIFT),)
    )
    assert flow_through(low, 1.0, False, {})[1].weak == []
    assert [one.reason for one in flow_through(low, 0.99, False, {})[1].weak] == ["stops regulating"]
    assert regulated_volts(FIVE, 6.5) == 5.0
    assert regulated_volts(FIVE, 5.5) == pytest.approx(4.5)
    assert regulated_volts(FIVE, 0.5) == 0.0
    assert regulated_volts(LIFT, 5.6) == pytest.approx(5.6)
    assert regulated_volts(replace(LIFT, kind="step-up-down"), 5.6) == 5.0


AA = CellPack("alkaline", "LR6", 2, 2200.0, 0.15, 1000.0)


def tree_of(rail: Rail, figures: CellPack = AA) -> SupplyTree:
    return SupplyTree("cells", cells(2), figures, rail)


def test_currents_of_a_source_by_hand() -> None:
    """Average at the label's volts; peak at three quarters of them; in running with cells all but empty."""
    loads = Rail("five", (RailLoad("brain", 30.0, 90.0),))
    tree = tree_of(Rail("low", (), (Link("regulator", "lift", step_up(), loads, LIFT),)))
    given = source_current(tree)
    assert given.average_ma == pytest.approx(5 * 30 / (0.8 * 3.0) + 1)
    assert given.peak_ma == pytest.approx(450.0)  # what it takes to start
    slow = replace(
        tree, root=Rail("low", (), (replace(tree.root.links[0], regulator=replace(LIFT, start_ma=0.0)),))
    )
    assert source_current(slow).peak_ma == pytest.approx(5 * 90 / (0.8 * 0.75 * 3.0) + 1)
    assert running_peak(tree) == pytest.approx(5 * 90 / (0.8 * 0.45 * 3.0) + 1)
    small = replace(LIFT, in_max_ma=300.0)
    bounded = tree_of(Rail("low", (), (replace(tree.root.links[0], regulator=small),)))
    assert running_peak(bounded) == 300.0
    linear = tree_of(Rail("low", (), (replace(tree.root.links[0], regulator=FIVE),)))
    assert running_peak(linear) == pytest.approx(95.0)
    through = tree_of(Rail("low", (), (Link("through", "switch", switch(), loads),)))
    assert running_peak(through) == pytest.approx(90.0)


def test_currents_of_nets_that_no_source_feeds() -> None:
    """A signal counts 1 mA, any other net nothing; what the user gives stands, its peak no less."""
    needs = [need("cells", cells(4)), need("brain", board()), need("lamp", lamp(8.0))]
    nets = [
        net("raw", "supply", "cells.plus", "brain.raw", current=10.0),
        net("light", "signal", "brain.*", "lamp.IN", current=5.0),
        net("ground", "ground", "cells.minus", "brain.GND", "lamp.GND"),
        net("loose", "signal", "brain.*"),
        net("dead", "supply", "lamp.IN"),
    ]
    found = net_currents(train(needs, nets), {})
    assert (found["raw"].average_ma, found["raw"].peak_ma) == (10.0, pytest.approx(found["ground"].peak_ma))
    assert found["raw"].peak_ma > 10.0
    assert (found["light"].average_ma, found["light"].peak_ma) == (5.0, 5.0)
    assert (found["loose"].average_ma, found["loose"].peak_ma) == (1.0, 1.0)
    assert (found["dead"].average_ma, found["dead"].peak_ma) == (0.0, 0.0)


def test_a_discharge_without_a_load_has_no_end_and_no_average() -> None:
    """Nothing drawn: endless; with a load, charge per hour."""
    none = discharge(tree_of(Rail("low", (RailLoad("x", 0.0, 0.0),))))
    assert (none.hours, none.average_ma, none.charge_mah) == (math.inf, 0.0, 0.0)
    some = discharge(tree_of(Rail("low", (RailLoad("x", 100.0, 100.0),))))
    assert some.average_ma == pytest.approx(100.0, rel=1e-6)
    assert not some.at_start
    dead = discharge(tree_of(Rail("low", (RailLoad("x", 10.0, 10.0, 9.0),))))
    assert (dead.at_start, dead.hours, dead.average_ma) == (True, 0.0, 0.0)
    assert discharge(tree_of(Rail("low", (RailLoad("x", 100.0, 100.0),))), course=False).times_h == ()
    assert len(some.times_h) == len(some.terminal_v) == len(some.lowest_v) == len(some.arriving["x"])
    full = solve_state(source_of(AA), Rail("low", (RailLoad("x", 100.0, 300.0),)), 1.0, True, {})
    assert full.volts == pytest.approx(source_of(AA).open_volts(1.0) - source_of(AA).resistance(1.0) * 0.3)
    assert solve_state(source_of(AA), Rail("low", (RailLoad("x", 1e6, 1e6),)), 1.0, False, {}).collapsed


# -- fuses and resistors -----------------------------------------------------------------------------------


def fuse_part(
    name: str, hold: float, trip: float, ohm: float = 0.3, volts: float = 0.0, mends: bool = True
) -> Part:
    return replace(fuse(), id=name, electrical=(Fuse(hold, trip, ohm, mends, volts),))


def test_which_fuses_a_source_wants() -> None:
    """It holds 100 mA, one that does not mend itself 450 as well; it trips at what the path bears."""
    loads = Rail("five", (RailLoad("brain", 30.0, 90.0),))
    tree = tree_of(
        Rail("low", (), (Link("regulator", "lift", step_up(), loads, replace(LIFT, in_max_ma=100.0)),))
    )
    path = (PathRating("wire", 700.0), PathRating("contact", 500.0))

    def fitting(*parts: Part, more: tuple[PathRating, ...] = path) -> list[str]:
        return [part.id for part in wish_for(tree, more, {part.id: part for part in parts}).fitting]

    wish = wish_for(tree, path, {})
    assert (wish.hold_ma, wish.start_ma, wish.weakest.name) == (100.0, 450.0, "contact")
    assert wish.volts == pytest.approx(2 * 1.68)
    assert wish.possible
    assert not wish_for(tree, (PathRating("hair", 100.0),), {}).possible
    assert fitting(fuse_part("a", 100.0, 500.0)) == ["a"]
    assert fitting(fuse_part("a", 99.0, 500.0)) == []
    for rated, fits in ((0.0, True), (wish.volts, True), (wish.volts - 0.01, False), (12.0, True)):
        assert fitting(fuse_part("a", 100.0, 500.0, volts=rated)) == (["a"] if fits else [])
    assert fitting(fuse_part("a", 100.0, 501.0)) == []
    assert fitting(fuse_part("a", 449.0, 500.0, mends=False)) == []
    assert fitting(fuse_part("a", 450.0, 500.0, mends=False)) == ["a"]
    assert fitting(fuse_part("a", 100.0, 500.0, volts=3.3)) == []
    assert fitting(fuse_part("a", 100.0, 500.0, volts=6.0)) == ["a"]
    assert fitting(fuse_part("a", 100.0, 500.0, 0.5), fuse_part("b", 100.0, 500.0, 0.2), switch()) == [
        "b",
        "a",
    ]
    # What trips sooner goes before, unless it costs more than 0.1 V at 100 mA.
    soon, late = fuse_part("soon", 100.0, 400.0, 0.9), fuse_part("late", 100.0, 500.0, 0.1)
    assert fitting(late, soon) == ["soon", "late"]
    assert fitting(late, fuse_part("soon", 100.0, 400.0, 1.1)) == ["late", "soon"]
    assert fitting(fuse_part("a", 100.0, 1e9), more=()) == ["a"]


def test_the_first_fuse_and_the_switches_in_the_path() -> None:
    """A fuse counts when nothing is fed before it; a switch bears 300 mA, also behind another."""
    loads = Rail("out", (RailLoad("x", 10.0, 10.0),))
    behind = Rail("on", (), (Link("through", "fuse", fuse(), loads),))
    path = Rail("raw", (), (Link("through", "switch", switch(), behind),))
    assert [name for name, _ in fuses_behind(path)] == ["fuse"]
    assert fuses_behind(loads) == ()
    assert fuses_behind(replace(path, fed=loads.fed)) == ()
    assert fuses_behind(replace(path, links=(*path.links, *path.links))) == ()
    twice = Rail("cells", (), (Link("through", "first", fuse(), path),))
    assert [name for name, _ in fuses_behind(twice)] == ["first", "fuse"]
    regulated = Link("regulator", "lift", step_up(), behind, LIFT)
    assert fuses_behind(Rail("raw", (), (regulated,))) == ()
    assert wish_for(tree_of(path), (), {}).weakest == PathRating("the switch", 300.0)
    later = Rail("raw", (), (Link("through", "fuse", fuse(), path),))
    assert wish_for(tree_of(later), (), {}).weakest.most_ma == 300.0
    beyond = Rail("raw", (), (Link("regulator", "lift", step_up(), path, LIFT),))
    assert wish_for(tree_of(beyond), (), {}).weakest.most_ma == math.inf
    on_board = Rail("raw", (), (Link("controller", "brain", board(), path),))
    assert wish_for(tree_of(on_board), (), {}).weakest.most_ma == math.inf


@given(st.floats(0.5, 4.0), st.floats(0.0, 300.0), st.floats(0.5, 30.0), st.sampled_from([3.3, 5.0]))
def test_a_resistor_is_the_least_of_the_series_that_does(
    forward: float, own: float, most: float, volts: float
) -> None:
    """No more than the part bears flows; with the value below more would, unless that lies under 1 Ω."""
    ohm, current, power = resistor_for(SeriesResistor(forward, own, most, "lead"), volts)
    across = max(volts - forward, 0.0)
    assert current <= most * (1 + 1e-6)
    assert current == pytest.approx(1000 * across / (ohm + own))
    assert power == pytest.approx((current / 1000) ** 2 * ohm)
    decade = [value * 10.0**power10 for power10 in range(-1, 7) for value in E24]
    at = min(range(len(decade)), key=lambda i: abs(decade[i] - ohm))
    assert decade[at] == pytest.approx(ohm)
    if ohm > 1.0:
        assert 1000 * across / (decade[at - 1] + own) > most * (1 - 1e-6)


def test_resistors_are_rated_for_twice_their_heat() -> None:
    """The least of 1/8, 1/4, 1/2 and 1 W; none for other nets, boards or pins."""
    assert [next_value(ohm) for ohm in (1.0, 9.1, 9.11, 270.0, 271.0, 9.1e6)] == [
        1.0,
        9.1,
        10.0,
        270.0,
        300.0,
        9.1e6,
    ]
    with pytest.raises(ValueError, match="beyond the series"):
        next_value(1e8)
    for current, rated in ((10.0, 0.125), (25.0, 0.25), (60.0, 0.5), (100.0, 1.0), (400.0, 1.0)):
        light = replace(lamp(), electrical=(SeriesResistor(2.0, 0.0, current, "lead"),))
        brain = replace(board(), electrical=tuple(
            replace(one, logic_v=5.0) if isinstance(one, Controller) else one for one in board().electrical
        ))  # fmt: skip
        needs = [need("brain", brain), need("lamp", light)]
        (found,) = resistors_of(train(needs, [net("light", "signal", "brain.*", "lamp.IN")]), {})
        assert found.rated_w == rated
        assert found.power_w <= rated / 2 or rated == 1.0
        assert (found.owner, found.net, found.place) == ("lamp", "light", "lead")
        assert resistors_of(train(needs, [net("light", "supply", "brain.5v", "lamp.IN")]), {}) == ()
        assert resistors_of(train(needs[1:], [net("light", "signal", "lamp.IN")]), {}) == ()
        assert resistors_of(train(needs, [net("light", "signal", "brain.*", "lamp.GND")]), {}) == ()


def test_pins_of_sample_lamps_want_an_output() -> None:
    """What the tests above rest on."""
    assert any(one.wants for one in lamp().pins)
    assert pin("x", "supply").wants == frozenset()
