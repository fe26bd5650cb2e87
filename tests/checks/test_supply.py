"""Supply findings over the discharge: facts of the trade, failing first, passing after the remedy."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fitplan.checks.supply import check_supply
from fitplan.checks.supply_ways import advised, usual_ways
from fitplan.circuit.cells import source_of
from fitplan.circuit.chain import most_output
from fitplan.circuit.supply_tree import RailLoad
from fitplan.files.catalogue import read_catalogue
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack, Load, Regulator, Switch
from fitplan.model.found import Finding, Outcome
from fitplan.model.operation import Running
from fitplan.model.part import Part
from fitplan.model.proposed import FitRow
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BuiltIn
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import (
    LINEAR_5V,
    STEP_UP_5V,
    bank,
    board,
    box,
    cells,
    driver,
    need,
    net,
    part,
    pin,
    shuttle,
    step_up,
    train,
    vehicle,
)
from tests.circuit.test_leads import wire


def run(train: Train, harness: Harness | None = None, fit: tuple[FitRow, ...] = ()) -> Outcome:
    return check_supply(BuiltTrain(train, (), harness or Harness(), ()), fit)


def picked(outcome: Outcome, severity: str, word: str = "") -> list[Finding]:
    return [one for one in outcome.findings if one.severity == severity and word in one.message]


def boosted(pack: Part, lift: Part | None = None, hours: float = 2.0) -> Train:
    """The shuttle with a step-up between the cells and the 5 V pin."""
    base = shuttle(running=Running(300.0, hours=hours))
    nets = [
        net("low", "supply", "cells.plus", "lift.in"),
        net("battery", "supply", "lift.out", "brain.5v", "front eyes.VCC", "rear eyes.VCC"),
        *(one for one in base.nets if one.role != "supply"),
    ]
    needs = [need("cells", pack) if n.name == "cells" else n for n in base.needs]
    return replace(base, needs=(*needs, need("lift", lift or step_up())), nets=tuple(nets))


def test_four_alkaline_aa_do_at_the_raw_pin() -> None:
    """Four alkaline AA have the headroom of 1 V when fresh (common practice, no source) and run for hours."""
    outcome = run(shuttle())
    assert picked(outcome, "stop") == []
    (note,) = picked(outcome, "note", "runs for")
    assert note.figure > note.limit == 2.0
    assert 60 < float(outcome.tables[0].rows[0][4]) < 80


def test_four_nimh_do_not_and_a_step_up_mends_it() -> None:
    """Four NiMH lack the headroom (common practice, no source); two of them with a step-up run for hours."""
    catalogue = {p.id: p for p in (cells(2, "nimh", 2000.0, 0.03), step_up())}
    outcome = run(shuttle(supply=cells(4, "nimh", 2000.0, 0.03), catalogue=catalogue))
    (stop,) = picked(outcome, "stop", "above its output")
    assert stop.figure < stop.limit == 1.0
    assert "2 aa nimh with step up" in stop.remedy
    mended = run(boosted(cells(2, "nimh", 2000.0, 0.03)))
    assert picked(mended, "stop") == []


def test_too_few_hours_and_more_capacity() -> None:
    """Ten hours from small cells is a stop that names the capacity; with that capacity it passes."""
    train = boosted(cells(2, "nimh", 800.0, 0.06), hours=10.0)
    (stop,) = picked(run(train), "stop", "runs for")
    assert stop.figure < stop.limit == 10.0
    needed = float(stop.remedy.split("at least ")[1].split(" mAh")[0])
    assert picked(run(boosted(cells(2, "nimh", needed * 1.02, 0.03), hours=10.0)), "stop") == []


def test_the_remedy_names_a_way_of_the_catalogue() -> None:
    """When the catalogue holds a supply that lasts, the remedy names it."""
    catalogue = {p.id: p for p in (cells(2, "li", 2600.0, 0.06, protected=True), bank(off_below=10.0))}
    train = replace(boosted(cells(2, "nimh", 800.0, 0.06), hours=20.0), catalogue=catalogue)
    (stop,) = picked(run(train), "stop", "runs for")
    assert stop.remedy.startswith("use bank: ")
    held = {p.id: p for p in (cells(2, "li", 2600.0, 0.06, protected=True),)}
    (stop,) = picked(run(replace(train, catalogue=held)), "stop", "runs for")
    assert "2 aa li ion" in stop.remedy
    bare = {p.id: p for p in (cells(2, "li", 2600.0, 0.06),)}
    (stop,) = picked(run(replace(train, catalogue=bare)), "stop", "runs for")
    assert "2 aa li ion" not in stop.remedy


def test_hours_for_what_is_carried_in_closed_form() -> None:
    """A linear regulator takes the load's own current of any volts, a switching one its power over η."""
    brain = board(current=100.0, peak=100.0, regulator=replace(LINEAR_5V, quiescent_ma=0.0))
    pack = cells(2, "li", 2600.0, 0.0, protected=True)
    down = Regulator("step-down", 5.0, 5.6, 12.0, 1000.0, dropout_v=0.5, efficiency=0.9)
    lift = replace(step_up(), id="down", electrical=(down,))
    loads = (RailLoad("brain", 100.0, 100.0, 4.5, 5.5),)
    linear, switching = usual_ways({p.id: p for p in (pack, lift)}, brain, loads)
    # Capacity over current over label energy: 1 / (0.1 A · 7.4 V); η / (0.1 A · 5 V), with what
    # the published curve gives on average over the label's 3.7 V. A gentle load gets some 3 % more.
    assert linear.hours_per_wh == pytest.approx(1 / (0.1 * 7.4), rel=0.04)
    mean = sum(source_of(pack.electrical[0]).open_volts((i + 0.5) / 1000) for i in range(1000)) / 1000 / 7.4  # type: ignore[arg-type]
    assert switching.hours_per_wh == pytest.approx(0.9 * mean / (0.1 * 5), rel=0.04)
    assert advised((linear, switching), 2.0, False, frozenset()) is switching
    assert advised((linear, switching), 2.0, False, frozenset({"down"})) is linear
    assert advised((linear, switching), 1000.0, False, frozenset()) is None


def test_a_source_that_stays_full_is_a_caution() -> None:
    """Four AA at the raw pin hold most of their charge when the rangers fail; behind a step-up none do."""
    (caution,) = picked(run(shuttle()), "caution", "of its charge is left")
    assert caution.figure > caution.limit == 50.0
    assert picked(run(boosted(cells(2, max_ma=5000.0))), "caution", "of its charge is left") == []


def test_brown_out_of_radio_bursts() -> None:
    """Bursts of 800 mA pull small cells below the board's brown-out level; large cells stand them."""
    radio = board(plain=6, current=80.0, peak=800.0, brown_out=4.3)
    weak = run(shuttle(radio, cells(4, "alkaline", 1100.0, 0.4, size="AAA")))
    assert any("brain" in one.message or "eyes" in one.message for one in picked(weak, "stop", "fresh cells"))
    regulator = replace(board().electrical[0].regulator, max_ma=1500.0)  # type: ignore[union-attr]
    strong_board = board(plain=6, current=80.0, peak=800.0, regulator=regulator)
    strong = run(shuttle(strong_board, cells(2, "li", 2600.0, 0.06)))
    assert picked(strong, "stop") == []


def test_long_thin_leads_shorten_the_run() -> None:
    """Leads of 4 m of 32 AWG cost running time; short thick ones hardly any."""
    train = shuttle()

    def hours(cut: float, awg: int) -> float:
        wires = (
            wire(1, "battery", "cells.plus", "brain.VIN", cut, awg),
            wire(2, "ground", "cells.minus", "brain.GND", cut, awg, "ground"),
        )
        return picked(run(train, Harness(wires)), "note", "runs for")[0].figure

    bare = picked(run(train), "note", "runs for")[0].figure
    assert hours(2000.0, 32) < 0.9 * bare
    assert hours(100.0, 22) == pytest.approx(bare, rel=0.02)


def test_a_bank_that_switches_off() -> None:
    """A train that draws less than a bank's least load is a caution; with a steady load it is none."""
    light = shuttle(supply=bank(off_below=100.0), raw=False)
    (caution,) = picked(run(light), "caution", "switch itself off")
    assert caution.figure < caution.limit == 100.0
    more = float(caution.remedy.split("load of ")[1].split(" mA")[0])
    heavy = shuttle(board(current=20 + more + 1), supply=bank(off_below=100.0), raw=False)
    assert picked(run(heavy), "caution", "switch itself off") == []


def test_a_bank_sleeps_while_all_is_off_that_draws_at_times() -> None:
    """A board of 20 mA and two rangers of 15 mA draw all the time, lamp and emitter on pins do not."""
    (note,) = picked(run(shuttle(board(current=20), bank(off_below=49.0), raw=False)), "note", "stays on")
    assert note.figure == pytest.approx(50.0)
    sleepy = shuttle(board(current=20), bank(off_below=55.0), raw=False)
    (caution,) = picked(run(sleepy), "caution", "draws at times only")
    assert (caution.figure, caution.limit) == (pytest.approx(50.0), 55.0)


def test_a_9_v_block_is_shown_for_what_it_is() -> None:
    """A 9 V block is a caution with its energy against four AA; four AA are none."""
    figures = replace(
        cells().electrical[0], capacity_mah=550.0, resistance_ohm=1.7, cells=1, cells_per_unit=6
    )  # type: ignore[type-var]
    outcome = run(shuttle(supply=replace(cells(), electrical=(figures,))))
    (caution,) = picked(outcome, "caution", "9 V block")
    assert caution.figure == pytest.approx(9 * 0.55)
    assert picked(run(shuttle()), "caution", "9 V block") == []


@pytest.mark.parametrize(
    ("lift", "word"),
    [
        (replace(STEP_UP_5V, start_v=3.2), "to start"),
        (replace(STEP_UP_5V, start_v=2.0, start_ma=4000.0), "to start"),
        (replace(STEP_UP_5V, max_ma=100.0), "is asked for"),
    ],
)
def test_limits_of_a_step_up(lift: Regulator, word: str) -> None:
    """A step-up that cannot start or is asked for too much is a stop; the plain one passes."""
    pack = cells(2, "alkaline")
    assert picked(run(boosted(pack, step_up(lift))), "stop", word)
    assert picked(run(boosted(pack)), "stop", word) == []


def test_peaks_beyond_the_cells() -> None:
    """Peaks above what the cells may give are a stop; cells that give more pass."""
    assert picked(run(shuttle(supply=cells(max_ma=100.0))), "stop", "may give")
    assert picked(run(shuttle()), "stop", "may give") == []


def test_hours_of_a_run_that_ends_early_are_a_range() -> None:
    """Where the first fifth of the charge decides, the hours of lower cells are told too."""
    (note,) = picked(run(shuttle()), "note", "runs for")
    least = float(note.message.split("less each, ")[1].split(" h")[0])
    assert least < note.figure
    # Four cells 0.05 V lower each fail when cells as the curve has them give 0.2 V more than is wanted.
    source, lower = (source_of(cells().electrical[0], by) for by in (0.0, 0.05))  # type: ignore[arg-type]
    for charge in (0.0, 0.3, 0.85, 1.0):
        assert source.open_volts(charge) - lower.open_volts(charge) == pytest.approx(0.2)
    (full,) = picked(run(boosted(cells(2, max_ma=5000.0))), "note", "runs for")
    assert "less each" not in full.message


def test_what_a_second_rail_gives() -> None:
    """A 3.3 V pin of 50 mA feeds 40 mA and not 60; a 5 V step-up leaves the raw pin no headroom."""
    for drawn, stopped in ((40.0, False), (60.0, True)):
        eye = part("eye", Load(2.8, 3.6, drawn, drawn), pins=(pin("VCC", "supply"), pin("GND", "ground")))
        figures = replace(board().electrical[0], low_rail_ma=50.0)  # type: ignore[type-var]
        brain = replace(board(), electrical=(figures,), pins=(*board().pins, pin("3V3", "3v3")))
        nets = [
            net("ground", "ground", "cells.minus", "lift.GND", "brain.ground", "eye.GND"),
            net("low", "supply", "cells.plus", "lift.in"),
            net("five", "supply", "lift.out", "brain.5v"),
            net("three", "supply", "brain.3V3", "eye.VCC"),
        ]
        needs = [
            need("cells", cells(2, max_ma=5000.0)),
            need("lift", step_up()),
            need("brain", brain),
            need("eye", eye),
        ]
        found = picked(run(train(needs, nets)), "stop", "is asked for")
        assert [(one.figure, one.limit) for one in found] == ([(60.0, 50.0)] if stopped else [])
        assert not picked(run(train(needs, nets)), "stop", "its output")
        nets[2] = net("five", "supply", "lift.out", "brain.raw")
        assert [one.figure for one in picked(run(train(needs, nets)), "stop", "its output")] == [0.0]


@pytest.mark.parametrize(("start_ma", "lit_ma", "stopped"), [(200.0, 20.0, False), (400.0, 20.0, True)])
def test_a_switch_bears_what_starts_behind_it(start_ma: float, lit_ma: float, stopped: bool) -> None:
    """A switch for 300 mA before a step-up that takes 400 mA to start is a stop, for 200 mA it is none."""
    made = boosted(cells(2, max_ma=5000.0), step_up(replace(STEP_UP_5V, start_ma=start_ma)))
    brain = board(current=lit_ma, peak=lit_ma)
    slide = part("slide", Switch(300.0, 30.0), pins=(pin("a", "supply"), pin("b", "supply")))
    nets = [net("low", "supply", "cells.plus", "slide.a"), net("on", "supply", "slide.b", "lift.in")]
    kept = ("brain", "cells", "lift")
    needs = [need("brain", brain) if one.name == "brain" else one for one in made.needs if one.name in kept]
    nets += [
        net("battery", "supply", "lift.out", "brain.5v"),
        net("ground", "ground", "cells.minus", "brain.ground"),
    ]
    made = replace(made, needs=(*needs, need("slide", slide)), nets=tuple(nets))
    found = picked(run(made), "stop", "slide carries")
    assert [(one.figure, one.limit) for one in found] == ([(start_ma, 300.0)] if stopped else [])


@pytest.mark.parametrize(
    ("ahead", "beside", "word"),
    [(True, False, ""), (False, False, "nothing switches cells off"), (True, True, "still feeds lamps")],
)
def test_cells_that_no_switch_parts_from_the_train(ahead: bool, beside: bool, word: str) -> None:
    """A switch ahead of everything is silent; none, or one that a lamp goes round, is a caution."""
    slide = part("slide", Switch(1000.0, 30.0), pins=(pin("a", "supply"), pin("b", "supply")))
    lamps = part("lamps", Load(3.0, 9.0, 20.0, 20.0), pins=(pin("VCC", "supply"), pin("GND", "ground")))
    raw = ["slide.a"] if ahead else ["brain.raw"]
    nets = [
        net("ground", "ground", "cells.minus", "brain.ground", "lamps.GND"),
        net("battery", "supply", "cells.plus", *raw, *(["lamps.VCC"] if beside else [])),
    ]
    nets += [net("on", "supply", "slide.b", "brain.raw", *([] if beside else ["lamps.VCC"]))] if ahead else []
    needs = [need("brain", board()), need("cells", cells()), need("slide", slide), need("lamps", lamps)]
    found = [one.message for one in run(train(needs, nets)).findings if one.severity == "caution"]
    low = [
        net("low", "ground", "cells.minus", "slide.a"),
        net("on", "ground", "slide.b", "brain.ground", "lamps.GND"),
    ]
    if not ahead:  # in the ground lead it parts them as well
        parted = run(train(needs, [*low, *nets[1:]]))
        assert not any("nothing switches" in one.message for one in parted.findings)
    said = [one for one in found if "switch" in one and "switching" not in one]
    assert (len(said) == 1 and word in said[0]) if word else not said


def test_usual_ways_side_by_side() -> None:
    """The usual ways stand in one table with hours, cost and fit; cells cost their price over hours."""
    one = CellPack("alkaline", "6LR61", 1, 550.0, 1.7, 200.0, cells_per_unit=6)
    block = replace(cells(price=4.0), id="block", name="9 V block", electrical=(one,))
    parts = (cells(4), cells(2), cells(4, "nimh", 2000.0, 0.03), bank(off_below=40.0), step_up(), block)
    fit = (FitRow("cells", "4-aa-alkaline", "wagon", "fits", "", ""),)
    outcome = run(shuttle(catalogue={p.id: p for p in parts}), fit=fit)
    table = outcome.tables[1]
    assert [row[0] for row in table.rows] == [
        "cells at the raw pin",
        "fewer cells with a step-up",
        "USB bank with its own switch",
        "9 V block at the raw pin",
    ]
    by_way = {str(row[0]): dict(zip(table.columns, row, strict=True)) for row in table.rows}
    raw = by_way["cells at the raw pin"]
    assert raw["fits"] == "wagon"
    assert float(raw["cost per hour"]) == pytest.approx(3.0 / float(raw["hours"]), rel=0.02)
    assert float(by_way["9 V block at the raw pin"]["cost per hour"]) > float(raw["cost per hour"])
    assert by_way["USB bank with its own switch"]["cost per hour"] == "rechargeable"
    own = picked(outcome, "note", "runs for")[0].figure
    assert float(raw["hours"]) == pytest.approx(own, rel=0.03)


def test_plot_runs_from_full_to_the_end() -> None:
    """The plot's curves fall from the fresh cells' volts to the running time, with the brown-out level."""
    outcome = run(shuttle())
    plot = outcome.plots[0]
    hours = picked(outcome, "note", "runs for")[0].figure
    for curve in plot.curves:
        assert len(curve.x) == len(curve.y)
        assert curve.x[0] == 0.0
        assert curve.x[-1] == pytest.approx(hours, abs=0.01)
        assert all(a >= b - 1e-9 for a, b in zip(curve.y, curve.y[1:], strict=False))
        assert all(math.isfinite(y) for y in curve.y)
    assert ("brain browns out", 4.3) in plot.limits


def test_a_driver_too_weak_for_its_motor() -> None:
    """A motor that draws more than its driver carries, running or starting, is a stop; a small one not."""

    def with_motor(current: float, stall: float) -> list[Finding]:
        motor = BuiltIn(
            "motor",
            "motor",
            (box(0, 0, 0, 1, 1, 1),),
            (),
            (pin("plus", "supply"), pin("minus", "supply")),
            60.0,
            stall,
            current,
        )
        nets = [
            net("battery", "supply", "cells.plus", "drive.VM"),
            net("one", "supply", "drive.OUT1", "shunter/motor.plus"),
            net("two", "supply", "drive.OUT2", "shunter/motor.minus"),
        ]
        vehicles = [TrainVehicle("shunter", vehicle(built_in=(motor,)))]
        made = train([need("cells", cells(2, "li", max_ma=5000.0)), need("drive", driver())], nets, vehicles)
        return picked(run(made), "stop", "carries")

    assert [one.limit for one in with_motor(1200.0, 1500.0)] == [1000.0]
    assert [one.limit for one in with_motor(300.0, 2500.0)] == [2000.0]
    assert with_motor(300.0, 900.0) == []


def test_a_regulator_with_little_dropout_is_judged_by_its_own() -> None:
    """A full li-ion cell is 0.8 V above 3.3 V: enough for 0.3 V of dropout, not for the rule of 1 V."""
    for dropout, stopped in ((0.3, False), (0.0, True)):
        regulator = Regulator("linear", 3.3, 3.6, 6.0, 500.0, dropout_v=dropout, quiescent_ma=1.0)
        small = board(plain=6, logic=3.3, regulator=regulator, brown_out=3.0)
        base = shuttle(small, cells(1, "li-ion", 1000.0, 0.1, protected=True))
        kept = ("brain", "cells", "lamp")
        made = replace(
            base,
            needs=tuple(one for one in base.needs if one.name in kept),
            nets=(
                net("ground", "ground", "cells.minus", "brain.ground", "lamp.GND"),
                net("battery", "supply", "cells.plus", "brain.raw"),
                net("lamp", "signal", "brain.*", "lamp.IN"),
            ),
        )
        assert bool(picked(run(made), "stop", "its output")) == stopped


def test_a_step_up_gives_less_from_low_volts() -> None:
    """An input of at most 600 mA at 82 % gives Iin·η·Vin/Vout (textbook): 236 mA from 2.4 V."""
    tiny = Regulator("step-up", 5.0, 0.9, 4.8, 400.0, efficiency=0.82, in_max_ma=600.0)
    assert most_output(tiny, 2.4) == pytest.approx(600 * 0.82 * 2.4 / 5)
    assert most_output(tiny, 0.9) == pytest.approx(88.56)
    assert most_output(tiny, 4.8) == 400.0
    # Two cells feed 150 mA at peak; one cell of the same kind cannot, be it ever so fresh.
    made = boosted(cells(2, max_ma=5000.0), step_up(tiny))
    assert picked(run(made), "stop", "is asked for") == []
    assert picked(run(boosted(cells(1, max_ma=5000.0), step_up(tiny))), "stop", "is asked for")


def test_remedies_pass_the_checks_that_they_answer() -> None:
    """Every supply that is advised feeds the same train without a stop, built and checked anew."""
    catalogue = read_catalogue()
    advised = 0
    for pack in ("cells-aa-4-stack-nimh", "cells-aaa-4-stack-nimh", "cells-aa-4"):
        for peak in (40.0, 150.0, 400.0):
            base = shuttle(
                board(current=30.0, peak=peak),
                catalogue[pack],
                running=Running(300.0, hours=6.0),
                catalogue=catalogue,
            )
            for stop in picked(run(base), "stop"):
                named = [p for p in catalogue.values() if p.name in stop.remedy.split(": ")[0]]
                supply = next((p for p in named if p.figure(CellPack) is not None), None)
                lift = next((p for p in named if p.figure(Regulator) is not None), None)
                if supply is None or lift is None:
                    continue
                advised += 1
                again = boosted(supply, lift, hours=6.0)
                needs = tuple(
                    need("brain", base.needs[0].candidates[0]) if n.name == "brain" else n
                    for n in again.needs
                )
                assert picked(run(replace(again, needs=needs)), "stop") == []
    assert advised >= 3
