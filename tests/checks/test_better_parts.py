"""Parts that remedies name: put into the train they pass the checks that the old ones failed."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from fitplan.checks import run_unplaced_checks
from fitplan.checks.better_parts import BetterParts
from fitplan.checks.supply_limits import DEFAULTS, driver_limits
from fitplan.circuit.currents import source_current
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Link, Rail, RailLoad, SupplyTree
from fitplan.files.catalogue import read_catalogue
from fitplan.files.read import read_train
from fitplan.model.electrical import CellPack, Charger, MotorDriver, Switch
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.train import Train
from tests.checks.workbench import FOLDER
from tests.circuit.sample_parts import cells as cells_part
from tests.circuit.sample_parts import need, net, part, train

CATALOGUE = read_catalogue()


def shuttle(cells: str, lift: str, strips: int) -> Train:
    """Cells, a regulator to 5 V, a board, and lamp strips on its rail."""
    lamps = [f"strip {number}" for number in range(strips)]
    needs = [("cells", cells), ("lift", lift), ("brain", "controller-compact-5v")]
    needs += [(lamp, "lamp-strip") for lamp in lamps]
    grounds = ["cells.minus", "lift.GND", "brain.GND", *(f"{lamp}.GND" for lamp in lamps)]
    nets = [
        net("ground", "ground", *grounds),
        net("plus", "supply", "cells.plus", "lift.in"),
        net("five", "supply", "lift.out", "brain.5V", *(f"{lamp}.VCC" for lamp in lamps)),
    ]
    return train([need(name, CATALOGUE[id]) for name, id in needs], nets, catalogue=CATALOGUE)


def stops(made: Train, subject: str) -> list[Finding]:
    every = (found for outcome in run_unplaced_checks(made) for found in outcome.findings)
    return [one for one in every if one.severity == "stop" and one.subject == subject]


def worries(made: Train) -> list[Finding]:
    """Stops and cautions of supply and nets, but that nothing switches the cells off."""
    every = (found for outcome in run_unplaced_checks(made) for found in outcome.findings)
    return [
        one
        for one in every
        if one.severity != "note"
        and one.subject in ("supply", "nets")
        and "nothing switches" not in one.message
    ]


def with_part(made: Train, name: str, id: str) -> Train:
    """The train with another part for one of its needs."""

    def other(one: Need) -> Need:
        return replace(one, candidates=(CATALOGUE[id],)) if one.name == name else one

    return replace(made, needs=tuple(other(one) for one in made.needs))


def named(remedy: str) -> str:
    found = re.search(r"\(([a-z0-9-]+)\)", remedy)
    assert found is not None, remedy
    return found.group(1)


@pytest.mark.parametrize(
    ("made", "where", "words"),
    [
        (shuttle("cells-aaa-4", "regulator-step-up-down-5v", 0), "cells", "peaks of 900 mA"),
        (shuttle("cells-9v-block", "regulator-step-up-down-5v", 1), "cells", "peaks of 900 mA"),
        (shuttle("cells-aa-2", "regulator-step-up-5v-tiny", 3), "lift", "asked for 220 mA"),
    ],
)
def test_the_part_that_is_named_passes(made: Train, where: str, words: str) -> None:
    """The stop names a part of the catalogue; with it in the train no stop of the supply is left."""
    (stop,) = [one for one in stops(made, "supply") if words in one.message]
    assert stop.where == where
    assert stops(with_part(made, where, named(stop.remedy)), "supply") == []


def test_no_smaller_cells_of_the_same_kind_would_do() -> None:
    """All alkaline cells below the ones that are named, tried one by one, leave a stop or a caution."""
    made = shuttle("cells-aaa-4", "regulator-step-up-down-5v", 0)
    id = named(stops(made, "supply")[0].remedy)
    alkaline = {
        one.id: one.bounds.volume
        for one in CATALOGUE.values()
        if (pack := one.figure(CellPack)) is not None
        and pack.chemistry == "alkaline"
        and not one.id.endswith("-leads")
    }
    smaller = [one for one, volume in alkaline.items() if volume < alkaline[id]]
    assert len(smaller) > 5
    assert all(worries(with_part(made, "cells", one)) for one in smaller)
    assert worries(with_part(made, "cells", id)) == []


def test_nothing_is_named_where_nothing_does() -> None:
    """Thirty strips on two AA: no cells, and no regulator alone, are named."""
    for stop in stops(shuttle("cells-aa-2", "regulator-step-up-5v", 30), "supply"):
        assert not re.search(r"use .*\((cells|pouch|regulator)-", stop.remedy), stop.remedy


def test_hours_that_are_asked_name_cells_that_last() -> None:
    """A choice of AAA alone that is to last 60 h is told the cells that do."""
    made = shuttle("cells-aaa-2", "regulator-step-up-5v-tiny", 0)
    tree = build_supply(made, {}).trees[0]
    said = BetterParts(tree, CATALOGUE, 40.0, DEFAULTS).cells()
    longer = replace(made, running=replace(made.running, hours=40.0))
    assert stops(longer, "supply") != []
    assert stops(with_part(longer, "cells", named(said)), "supply") == []
    assert BetterParts(tree, CATALOGUE, 4000.0, DEFAULTS).cells() == ""


def test_no_cells_are_named_behind_a_charger() -> None:
    """Whichever link of several it is: other cells would ask for another charger."""
    tree = build_supply(shuttle("cells-aaa-2", "regulator-step-up-5v-tiny", 0), {}).trees[0]
    (link,) = tree.root.links
    for charger in ((), (Charger(5.0, 500.0, True),)):
        charged = replace(link, part=replace(link.part, electrical=(*link.part.electrical, *charger)))
        for links in ((link, charged), (charged, link)):
            one = replace(tree, root=replace(tree.root, links=links))
            assert bool(BetterParts(one, CATALOGUE, 1.0, DEFAULTS).cells()) is (not charger)


def test_the_driver_that_is_named_carries_its_motor() -> None:
    """By its own figures: volts of the cells, current of one channel."""
    made = read_train(FOLDER / "03h-motor-beyond-one-channel.yaml")
    (stop,) = [one for one in stops(made, "supply") if one.where == "driver"]
    figures = made.catalogue[named(stop.remedy)].figure(MotorDriver)
    assert figures is not None
    assert figures.peak_ma >= stop.figure > stop.limit
    assert figures.max_v >= 6 * 1.68
    assert figures.min_v <= 6 * 1.5


def motors(*channels: tuple[float, ...]) -> SupplyTree:
    """Six AA and a driver of two channels (1 A for good, 2 A at start), by what motors draw at start."""
    two = part("two", MotorDriver(2.7, 10.0, 1000.0, 2000.0, 0.5, 2), family="driver")
    rail = Rail("")
    for number, starts in reversed(list(enumerate(channels))):
        fed = tuple(RailLoad(f"m{number}.{i}", ma / 4, ma, back="driver") for i, ma in enumerate(starts))
        below = (Link("through", "driver", two, rail),) if rail.net else ()
        rail = Rail(f"out {number}", fed, below)
    holder = cells_part(6)
    figures = holder.figure(CellPack)
    assert figures is not None
    return SupplyTree("cells", holder, figures, Rail("raw", (), (Link("through", "driver", two, rail),)))


@pytest.mark.parametrize(
    ("channels", "peaks"),
    [
        (((1500.0,), (1500.0,)), []),
        (((2000.0,), (2000.0,)), []),
        (((2100.0,), ()), [2100.0]),
        (((), (2100.0,)), [2100.0]),
        (((1100.0, 1000.0), (300.0,)), [2100.0]),
        (((4400.0,), (100.0,)), [1100.0, 4400.0]),
    ],
)
def test_a_channel_carries_its_own_motors_alone(
    channels: tuple[tuple[float, ...], ...], peaks: list[float]
) -> None:
    """What one channel may carry is not shared with the other; each excess is told once."""
    assert [one.figure for one in driver_limits(motors(*channels))] == peaks


def raw_strips() -> Train:
    """Three AA, a regulator, and three strips of 4.5 to 5.5 V on the cells themselves."""
    lamps = [f"strip {number}" for number in range(3)]
    needs = [
        ("cells", "cells-aa-3"),
        ("lift", "regulator-step-up-down-5v"),
        ("brain", "controller-compact-5v"),
        *((lamp, "lamp-strip") for lamp in lamps),
    ]
    nets = [
        net("ground", "ground", "cells.minus", "lift.GND", "brain.GND", *(f"{lamp}.GND" for lamp in lamps)),
        net("plus", "supply", "cells.plus", "lift.in", *(f"{lamp}.VCC" for lamp in lamps)),
        net("five", "supply", "lift.out", "brain.5V"),
    ]
    return train([need(name, CATALOGUE[id]) for name, id in needs], nets, catalogue=CATALOGUE)


def test_cells_of_more_volts_than_loads_stand_are_not_named() -> None:
    """Four NiMH give the current, and 5.8 V when full, which strips for 5.5 V do not stand."""
    (stop,) = [one for one in stops(raw_strips(), "supply") if "peaks of 1080 mA" in one.message]
    assert "none of the catalogue does" in stop.remedy


def _switched(switch: str) -> Train:
    made = shuttle("cells-aaa-4", "regulator-step-up-down-5v", 0)
    behind = net("plus", "supply", "switch.b", "lift.in")
    others = (one for one in made.nets if one.name != "plus")
    nets = (net("raw", "supply", "cells.plus", "switch.a"), behind, *others)
    return replace(made, nets=nets, needs=(*made.needs, need("switch", CATALOGUE[switch])))


@pytest.mark.parametrize(("switch", "weak"), [("switch-slide-small", True), ("switch-slide", False)])
def test_cells_are_named_beside_a_switch_that_is_too_weak_anyway(switch: str, *, weak: bool) -> None:
    """The switch is told by itself: with the one that is named for it, and the cells, nothing is wrong.

    That no cells of the catalogue would do, as was said before, is not true.
    """
    made = _switched(switch)
    found = stops(made, "supply")
    (stop,) = [one for one in found if "peaks of" in one.message]
    assert "cells-aa-4-stack" in stop.remedy
    weaker = [one for one in found if one.where == "switch"]
    assert bool(weaker) is weak
    mended = with_part(made, "cells", "cells-aa-4-stack")
    for one in weaker:
        mended = with_part(mended, "switch", one.remedy.rpartition(" ")[2])
    assert stops(mended, "supply") == []


@pytest.mark.parametrize(("volts", "share", "done"), [
    (3.0, 0.5, True), (3.0, 1.5, True), (2.4, 0.5, False), (2.4, 1.1, False), (2.4, 1.5, True),
])  # fmt: skip
def test_cells_that_ask_more_of_a_switch_than_it_bears_are_not_named(
    volts: float, share: float, *, done: bool
) -> None:
    """Through a step-up 2.4 V ask for 5 / 4 of the current of 3.0 V: more than a switch bears, or more yet.

    ``share``: what the switch bears, of the current that there is. As much as now it may be overloaded with.
    """
    made = shuttle("cells-aa-2", "regulator-step-up-5v-tiny", 0)
    (tree,) = build_supply(made, {}).trees
    (lift,) = tree.root.links
    assert lift.regulator is not None
    gentle = replace(lift.regulator, start_ma=0.0)  # it would draw as much from any cells
    lift = replace(lift, regulator=gentle, part=replace(lift.part, electrical=(gentle,)))
    peak = source_current(replace(tree, root=replace(tree.root, links=(lift,)))).peak_ma
    switch = replace(CATALOGUE["switch-slide"], electrical=(Switch(share * peak, 12.0),))
    behind = Link("through", "switch", switch, Rail("on", (), (lift,)))
    tree = replace(tree, root=replace(tree.root, links=(behind,)))
    figures = tree.source
    assert isinstance(figures, CellPack)
    other = replace(figures, capacity_mah=9000.0, chemistry="alkaline" if volts > 2.5 else "nimh")
    cells = {"x": replace(CATALOGUE["cells-aa-2"], electrical=(other,))}
    assert bool(BetterParts(tree, cells, 1.0, DEFAULTS).cells()) is done
