"""The meter sequence: what a simulated harness with faults shows, and what a filled-in file says."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.cli import main
from fitplan.errors import InputError
from fitplan.files.plan_json import plan_to_json
from fitplan.files.readings import read_readings
from fitplan.model.meter import NO_METER, STAGES, Quantity
from fitplan.model.plan import Plan
from fitplan.report.lists.meter_list import meter_list
from fitplan.report.lists.plan_list import csv_bytes
from fitplan.verify import verify
from fitplan.workbench.continuity import half_way_round
from fitplan.workbench.judging import judge
from tests.attack.meter import planted
from tests.conftest import Planned
from tests.workbench.resistor_network import Bench


@pytest.mark.parametrize("name", ["harbour-line", "clay-run"])
def test_every_open_contact_and_swap_is_told_and_a_sound_harness_passes(planned: Planned, name: str) -> None:
    """Faults are planted one by one into a network of resistors that knows no product code.

    The one bridge that no ohmmeter tells is that over a fuse, and the plan says so.
    """
    plan = planned(name)
    found = list(planted(plan, seed=1))
    for one in found:
        if one.kind == "sound":
            assert not one.told
        elif one.kind != "short":
            assert one.told, one
    untold = [one.what for one in found if one.kind == "short" and not one.told]
    assert untold == (["fuse a and b"] if name == "harbour-line" else [])
    assert len(plan.meter.coverage.untold) == len(untold)
    kinds = {one.kind for one in found}
    assert {"open", "swap", "short"} <= kinds


@given(st.integers(2, 40), st.integers(0, 10**6))
@settings(max_examples=60)
def test_half_the_ends_of_a_tree_cover_every_branch(size: int, seed: int) -> None:
    """Random trees: no pairs can be fewer, since each end must be in one; a graph library finds the paths."""
    tree = nx.random_labeled_tree(size, seed=seed)
    ends = [node for node in nx.dfs_preorder_nodes(tree) if tree.degree[node] == 1]
    pairs = half_way_round(ends)
    covered = {frozenset(edge) for a, b in pairs for edge in nx.utils.pairwise(nx.shortest_path(tree, a, b))}
    assert covered == {frozenset(edge) for edge in tree.edges}
    assert len(pairs) == math.ceil(len(ends) / 2)


def test_the_demo_is_rung_through_in_few_readings(harbour_plan: Plan) -> None:
    """Cells stay out until all that is read without them is read; every reading can be right and wrong."""
    meter = harbour_plan.meter
    wires = len(harbour_plan.built.harness.wires)
    stages = [test.stage for test in meter.tests]
    assert stages.count("continuity") < wires
    assert [stage for stage in STAGES if stage in stages] == list(STAGES)
    first_powered = stages.index("source")
    assert not {"source", "power"} & set(stages[:first_powered])
    assert set(stages[first_powered:]) == {"source", "power"}
    for test in meter.tests:
        assert test.low < (test.high or math.inf)
        assert test.look
    assert (meter.coverage.opens, meter.coverage.opens_told) == (wires, wires)
    assert verify(harbour_plan).holds


def test_limits_with_cells_hold_what_the_supply_gives(harbour_plan: Plan) -> None:
    """Four AA: 6.0 V by their labels, at most 6.72 V fresh (1.68 V a cell); 5 V behind the regulator."""
    tests = {test.number: test for test in harbour_plan.meter.tests}
    source = next(test for test in tests.values() if test.stage == "source")
    assert (source.low, source.high) == (6.0, pytest.approx(6.72))
    fives = [
        t
        for t in tests.values()
        if t.stage == "power" and t.quantity == "V" and t.pairs[0][0].owner != "lift"
    ]
    assert {probe.owner for t in fives for probe in t.pairs[0]} >= {
        "brain",
        "front eyes",
        "tail eyes",
        "J1",
        "J2",
    }
    for test in fives:
        assert test.low < 5.0 < (test.high or 0.0)
    drawn = [test for test in tests.values() if test.quantity == "mA"]
    assert [test.high for test in drawn] == sorted(test.high or 0.0 for test in drawn)
    assert len(drawn) == 3  # the wagon with the cells, then the loco, then the van


def test_nothing_is_switched_on_while_a_stop_stands(planned: Planned) -> None:
    """The crane wagon has parts without a place: its readings end before the cells go in."""
    meter = planned("narrow-crane-wagon").meter
    assert meter.held
    assert not any(test.stage in ("source", "power") for test in meter.tests)


def test_verify_notices_a_sequence_that_does_not_hold(harbour_plan: Plan) -> None:
    """A reading dropped, one of places that are not joined, cells in too early."""
    meter = harbour_plan.meter
    tests = meter.tests
    less = replace(meter, tests=tuple(replace(t, number=n) for n, t in enumerate(tests[1:], 1)))
    pair = (tests[0].pairs[0][0], tests[5].pairs[0][0])
    crossed = replace(meter, tests=(replace(tests[0], pairs=(pair,)), *tests[1:]))
    early = replace(meter, tests=(replace(tests[-1], number=1), *tests[1:]))
    for wrong in (less, crossed, early):
        report = verify(replace(harbour_plan, meter=wrong))
        assert "meter" in {problem.subject for problem in report.problems}
    without = verify(replace(harbour_plan, meter=NO_METER))
    assert {problem.subject for problem in without.problems} == {"work"}


def _filled(plan: Plan, readings: dict[int, str]) -> bytes:
    sheet = meter_list(plan)
    place = sheet.columns.index("reading")
    rows = tuple((*row[:place], readings.get(int(row[0]), ""), *row[place + 1 :]) for row in sheet.rows)
    return csv_bytes(replace(sheet, rows=rows))


def test_a_filled_in_list_is_judged_and_points_at_the_wire(
    planned: Planned, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One wire open on the bench: its readings stand in the file as OL, and the command names that wire."""
    plan = planned("market-tram")
    bench = Bench(plan.built, 7)
    lead = next(one for one in bench.leads if one.number == 3)
    lead.whole = False
    without = [test for test in plan.meter.tests if test.stage not in ("source", "power")]
    shown = {test.number: bench.read(test) for test in without}
    texts = {number: "OL" if math.isinf(ohm) else f"{ohm / 1000:.5f}k" for number, ohm in shown.items()}
    (tmp_path / "plan.json").write_bytes(plan_to_json(plan))
    (tmp_path / "meter.csv").write_bytes(_filled(plan, texts))
    units: dict[int, Quantity] = {test.number: test.quantity for test in plan.meter.tests}
    judged = judge(plan.meter, read_readings(tmp_path / "meter.csv", units))
    assert judged.suspects == (3,)
    assert {test.number for test in judged.missing} == set(units) - set(shown)
    monkeypatch.setattr("sys.argv", ["fitplan", "test", str(tmp_path / "meter.csv"), str(tmp_path)])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 1
    assert "Wire 3: in every reading that is too high" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("no.,reading\n1,lots\n", "2:1: found 'lots'; expected in Ω a number such as 0.4"),
        ("no.,reading\n1,5 V\n", "found '5 V'; expected in Ω"),
        ("no.,reading\n9,1\n", "found '9'; expected the number of a test of this plan, 1 to 2"),
        ("no.,reading\n1,1\n1,2\n", "3:1: found test 1 a second time"),
        ("number,reading\n1,1\n", "found no column 'no.'"),
        ("no.,reading\n2,OL\n", "in V a number"),
        ("", "found no column"),
    ],
)
def test_a_wrong_file_gets_one_clear_error(tmp_path: Path, text: str, says: str) -> None:
    """File, line, what was found, what was expected."""
    path = tmp_path / "meter.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as raised:
        read_readings(path, {1: "Ω", 2: "V"})
    assert says in str(raised.value)
    assert len(raised.value.mistakes) == 1


def test_readings_are_read_as_people_write_them(tmp_path: Path) -> None:
    """Points and commas, prefixes, units, spreadsheets that part columns by semicolons."""
    path = tmp_path / "meter.csv"
    rows = ["1;0,4", "2;1.2k", "3;OL", "4;-4.9 V", "5;38", "6;0.2 A", "7;900 m", "8;"]
    path.write_text("﻿no.;reading\n" + "\n".join(rows) + "\n", encoding="utf-8")
    units: dict[int, Quantity] = {1: "Ω", 2: "Ω", 3: "Ω", 4: "V", 5: "mA", 6: "mA", 7: "V", 8: "V"}
    found = read_readings(path, units)
    expected = {1: 0.4, 2: 1200.0, 3: math.inf, 4: -4.9, 5: 38.0, 6: 200.0, 7: 0.9}
    assert found == pytest.approx(expected)
