"""Supply trees: one current reckoned two ways, what was measured of a source, grounds that balance."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from fitplan.circuit.cells import Source
from fitplan.circuit.chain import Draw, flow_through
from fitplan.circuit.currents import idle_current, source_current
from fitplan.circuit.discharge import discharge, solve_state
from fitplan.circuit.draws import _solve
from fitplan.circuit.idle_parts import idle_parts
from fitplan.circuit.measured_draw import as_measured, measured_supply, scaled
from fitplan.circuit.nodes import read_circuit
from fitplan.circuit.protection import partly_charged
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Link, Rail, RailLoad, Supply, SupplyTree
from fitplan.circuit.switch_faults import switch_faults
from fitplan.model.electrical import CellPack, Charger, Fuse
from fitplan.model.measured import Measured, MeasuredSupply
from fitplan.model.train import Train
from tests.circuit.sample_parts import (
    LINEAR_5V,
    STEP_UP_5V,
    board,
    cells,
    driver,
    fuse,
    lamp,
    need,
    net,
    part,
    pin,
    switch,
    train,
)

PACK = CellPack("alkaline", "LR03", 3, 1100.0, 0.25, 500.0)
OWNERS = ("brain", "lift", "lamp", "guard")
FUSE = part("fuse", Fuse(500.0, 1000.0, 1.5, True, 15.0))
PLAIN = part("plain")


def grown(dice: random.Random, deep: int) -> Rail:
    """A rail with loads and links of every kind; boards and loads share a few names."""
    fed = tuple(
        RailLoad(dice.choice(OWNERS), average := dice.uniform(0, 40), average * dice.uniform(1, 3))
        for _ in range(dice.randint(0, 2))
    )
    links = []
    for _ in range(dice.randint(0 if fed else 1, 2) if deep else 0):
        kind = dice.choice(("through", "regulator", "controller"))
        regulator = dice.choice((LINEAR_5V, STEP_UP_5V)) if kind != "through" else None
        if kind == "controller" and dice.random() < 0.3:
            regulator = None
        own = dice.choice((FUSE, PLAIN))
        links.append(Link(kind, dice.choice(OWNERS), own, grown(dice, deep - 1), regulator))  # type: ignore[arg-type]
    return Rail("net", fed, tuple(links))


@pytest.mark.parametrize("seed", range(60))
def test_what_a_tree_draws_is_the_same_without_noting_what_arrives(seed: int) -> None:
    dice = random.Random(seed)
    rail = grown(dice, 3)
    leads = {owner: dice.choice((0.0, 0.4, 2.5)) for owner in OWNERS}
    for peak in (False, True):
        draw = Draw(rail, peak, leads)
        for volts in (9.0, 4.7, 3.1):
            current, flow = flow_through(rail, volts, peak, leads)
            assert draw(volts) == current
            assert flow_through(rail, volts, peak, leads, draw.sagged) == (current, flow)


def test_a_boards_own_lead_is_before_all_that_lies_in_it() -> None:
    """What hangs in the board itself, or on the rail beside its own load, has no second lead."""
    leads = {"brain": 10.0, "lamp": 10.0}
    inner = Rail("", (RailLoad("brain", 20.0, 20.0),), (Link("through", "lamp", PLAIN, Rail("n", (
        RailLoad("lamp", 30.0, 30.0),))),))  # fmt: skip
    outer = Rail("top", (), (Link("controller", "brain", PLAIN, inner, LINEAR_5V),))
    current, flow = flow_through(outer, 9.0, False, leads)
    assert current == pytest.approx(20 + 30 + LINEAR_5V.quiescent_ma)
    assert flow.volts["brain"] == pytest.approx(5.0)
    assert flow.volts["lamp"] == pytest.approx(5.0 - 0.3)


# -- what was measured -------------------------------------------------------------------------------------


def load(owner: str, average: float, peak: float) -> RailLoad:
    return RailLoad(owner, average, peak)


def rooted(*fed: RailLoad, links: tuple[Link, ...] = ()) -> SupplyTree:
    return SupplyTree("cells", part("cells", PACK), PACK, Rail("plus", fed, links))


THROUGH = (Link("through", "switch", PLAIN, Rail("on", (load("lamp", 20.0, 20.0),))),)
TREE = rooted(load("brain", 30.0, 90.0), load("motor", 50.0, 60.0), links=THROUGH)


@pytest.mark.parametrize("current", [60.0, 100.0, 150.0, 400.0])
@pytest.mark.parametrize("known", [(), ("brain",), ("lamp", "motor")])
def test_what_was_not_measured_takes_up_the_difference_by_one_factor(
    current: float, known: tuple[str, ...]
) -> None:
    """Averages add up to what was measured; those that are known stay; peaks are no lower than averages."""
    typical = {"brain": 30.0, "motor": 50.0, "lamp": 20.0}
    fixed = sum(typical[name] for name in known)
    factor = min(max((current - fixed) / (100.0 - fixed), 0.0), 20.0)
    found = {one.owner: one for one in as_measured(TREE, current, known).root.everything()}
    for was in TREE.root.everything():
        average = typical[was.owner] * (1.0 if was.owner in known else factor)
        assert found[was.owner].average_ma == pytest.approx(average, rel=1e-9)
        assert found[was.owner].peak_ma == pytest.approx(max(was.peak_ma, average))


def test_no_typical_figure_is_taken_more_than_twenty_times() -> None:
    """2 A are all but reached by 20 · 100 mA; beyond that, and below what is known, nothing more is done."""
    for current in (2000.0, 2500.0, 9000.0):
        assert source_current(as_measured(TREE, current, ())).average_ma == pytest.approx(2000.0)
    for current in (0.0, 40.0, 70.0):
        assert as_measured(TREE, current, ("motor", "lamp")) == scaled(TREE, 0.0, ("motor", "lamp"))
    assert as_measured(TREE, 100.0, ("brain", "motor", "lamp")) == TREE


def test_a_regulators_input_adds_up_as_well() -> None:
    """A step-up of 85 % to 5 V with 1 mA of its own: 4.5 · (I − 1) · 0.85 / 5 come out of it."""
    below = Rail("five", (load("brain", 40.0, 40.0),))
    tree = rooted(links=(Link("regulator", "lift", PLAIN, below, STEP_UP_5V),))
    (found,) = as_measured(tree, 120.0, ()).root.everything()
    assert found.average_ma == pytest.approx((120.0 - 1.0) * 0.85 * 4.5 / 5, rel=1e-6)


def measured(**figures: object) -> Train:
    made = train([need("cells", cells()), need("brain", board())], [])
    return replace(made, measured=Measured(**figures))  # type: ignore[arg-type]


def test_only_sources_that_were_measured_change() -> None:
    """By the source's name or one below it in series; what was measured itself by its need or its part."""
    other = replace(TREE, owner="bank")
    supply = Supply((TREE, other))
    assert measured_supply(measured(), {}, supply) is supply
    for owner, below in (("cells", ()), ("upper", ("cells",))):
        tree = replace(TREE, owner=owner, below=below)
        train_ = measured(supplies=(MeasuredSupply("cells", 150.0, "2026-01-01"),))
        found = measured_supply(train_, {}, Supply((tree, other)))
        assert found.trees == (as_measured(tree, 150.0, ()), other)
    train_ = measured(supplies=(MeasuredSupply("cells", 150.0, "2026-01-01"),), drawn=("motor",))
    found = measured_supply(train_, {}, supply)
    assert found.trees == (as_measured(TREE, 150.0, ("motor",)), other)
    by_part = measured(supplies=(MeasuredSupply("cells", 150.0, "2026-01-01"),), drawn=("board",))
    first = by_part.needs[1].candidates[0].id
    by_part = replace(by_part, measured=replace(by_part.measured, drawn=(first,)))
    assert measured_supply(by_part, {}, supply).trees == (as_measured(TREE, 150.0, ("brain",)), other)


def test_what_draws_at_times_only_is_still() -> None:
    """A motor on the rail and a lamp behind a switch; what a step-up asks of the cells for the rest."""
    still = replace(load("motor", 50.0, 60.0), at_times=True)
    behind = Rail("five", (load("brain", 34.0, 40.0), replace(load("lamp", 20.0, 20.0), at_times=True)))
    tree = rooted(still, load("eye", 7.0, 9.0), links=(Link("regulator", "lift", PLAIN, behind, STEP_UP_5V),))
    assert idle_current(tree) == pytest.approx(7.0 + 34.0 * 5 / (0.85 * 4.5) + 1.0)
    assert idle_current(rooted(still)) == 0.0
    assert idle_current(TREE) == pytest.approx(100.0)


# -- grounds, switches, chargers, drivers ------------------------------------------------------------------


@pytest.mark.parametrize("lost", [0.0, 0.05, 3.0])
def test_currents_into_a_ground_balance_even_where_one_has_no_way_back(lost: float) -> None:
    """What is sent into a net leaves it again; the largest takes what is missing."""
    group = [("g", "a"), ("g", "b"), ("h", "b"), ("h", "c")]
    found = _solve(group, {"a": 10.0, "b": -4.0, "c": -6.0 + lost})
    assert found["g", "a"] + found["g", "b"] == pytest.approx(0.0, abs=1e-9)
    assert found["h", "b"] + found["h", "c"] == pytest.approx(0.0, abs=1e-9)
    assert found["g", "a"] == pytest.approx(10.0 - lost)
    assert found["h", "c"] == pytest.approx(-6.0 + lost)


def test_a_source_collapses_below_a_fifth_of_its_open_volts() -> None:
    """A current that does not depend on volts: V = U − R·I, down to 0.2 U and no further."""
    source = Source(PACK)
    open_v, ohm = source.open_volts(1.0), source.resistance(1.0)
    for share, stays in ((0.35, True), (0.22, True), (0.18, False)):
        current = (1 - share) * open_v / ohm * 1000
        state = solve_state(source, Rail("plus", (load("lamp", current, current),)), 1.0, False, {})
        assert state.collapsed is not stays
        assert state.volts == pytest.approx(share * open_v if stays else 0.0)


def test_without_a_load_there_is_one_moment() -> None:
    run = discharge(rooted(load("lamp", 0.0, 0.0)))
    assert math.isinf(run.hours)
    assert run.times_h == (0.0,)
    assert len(run.terminal_v) == len(run.lowest_v) == 1
    assert (run.failed, run.at_start, run.left, run.charge_mah, run.given_mwh) == (None, False, 1.0, 0, 0)
    assert (run.inside_mwh, run.regulators_mwh, run.leads_mwh, run.loads_mwh) == (0, 0, 0, 0)


def two_switches(kind: str = "switch", *, second: str = "switch", beside: bool = True) -> Train:
    """Cells, two interrupters side by side or in a row, and a lamp."""
    made = {"switch": switch, "fuse": fuse}
    nets = [
        net("g", "ground", "cells.minus", "lamp.GND"),
        net("b", "supply", "cells.plus", "one.a", *(("two.a",) if beside else ())),
        net("on", "supply", "one.b", "two.b" if beside else "two.a", *(("lamp.VCC",) if beside else ())),
    ]
    if not beside:
        nets.append(net("then", "supply", "two.b", "lamp.VCC"))
    needs = [
        need("cells", cells()),
        need("one", made[kind]()),
        need("two", made[second]()),
        need("lamp", lamp()),
    ]
    return train(needs, nets)


@pytest.mark.parametrize("kind", ["switch", "fuse"])
def test_interrupters_side_by_side(kind: str) -> None:
    """Two of a kind open only together; one of another kind bypasses; in a row each interrupts."""

    def told(made: Train) -> list[tuple[str, tuple[str, ...], float]]:
        circuit = read_circuit(made, {one.name: one.candidates[0] for one in made.needs})
        return [(one.kind, one.owners, one.figure) for one in switch_faults(circuit)]

    assert told(two_switches(kind, second=kind)) == [("switches side by side", ("one", "two"), 2.0)]
    assert told(two_switches(kind, second=kind, beside=False)) == []
    other = "fuse" if kind == "switch" else "switch"
    assert told(two_switches(kind, second=other)) == [
        ("switch bypassed", ("one",), 2.0), ("switch bypassed", ("two",), 2.0)
    ]  # fmt: skip


def charged(at: str) -> tuple[str, ...]:
    """Two packs in series and a charger whose cell pin hangs on the plus of one of them."""
    figures = Charger(5.0, 500.0, False, cell_pins=("B+",))
    charger = part("charger", figures, pins=[pin("IN", "supply"), pin("B+", "supply"), pin("GND", "ground")])
    upper = ["charger.B+"] if at == "top" else []
    middle = {"between": ["charger.B+"], "in": ["charger.IN"]}.get(at, [])
    packs = {"upper": cells(), "lower": cells(), "charger": charger, "brain": board()}
    made = train(
        [need(name, one) for name, one in packs.items()],
        [
            net("top", "supply", "upper.plus", "brain.VIN", *upper),
            net("between", "supply", "upper.minus", "lower.plus", *middle),
            net("g", "ground", "lower.minus", "brain.GND", "charger.GND"),
        ],
    )  # fmt: skip
    (tree,) = build_supply(made, packs).trees
    assert tree.between == ("between",)
    return partly_charged(read_circuit(made, packs), tree)


@pytest.mark.parametrize(("at", "owners"), [("top", ()), ("between", ("charger",)), ("in", ())])
def test_a_charger_between_cells_charges_some_of_them(at: str, owners: tuple[str, ...]) -> None:
    assert charged(at) == owners


def test_a_driver_wants_one_command_at_least() -> None:
    """One of two inputs joined is enough here; none is told; an optional one does not count."""
    figures = driver()
    parts = {"cells": cells(), "driver": figures, "brain": board()}

    def told(*ends: str) -> list[str]:
        nets = [
            net("g", "ground", "cells.minus", "driver.GND", "brain.GND"),
            net("b", "supply", "cells.plus", "driver.VM", "brain.VIN"),
            net("m", "supply", "driver.OUT1"),
            *(net(f"to {end}", "signal", "brain.*", f"driver.{end}") for end in ends),
        ]
        made = train([need(name, one) for name, one in parts.items()], nets)
        return [one.kind for one in idle_parts(read_circuit(made, parts), build_supply(made, parts))]

    wants = [one.name for one in figures.pins if one.wants]
    assert len(wants) > 1
    assert told() == ["driver without commands"]
    for one in wants:
        assert told(one) == []
    assert told(*wants) == []
