"""Supplies at their limits, rule by rule: hours, what is left, headroom, start, other parts."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fitplan.checks.better_parts import BetterParts, _enters, _words, chemistry_of
from fitplan.checks.running_time import _rail_for, _with_lower_cells, in_hours, running_time
from fitplan.checks.supply import (
    _emptied_by,
    _feeds_a_board,
    _nowhere,
    _past_its_regulator,
    _row,
    _until_empty,
    _wasted,
)
from fitplan.checks.supply_limits import (
    DEFAULTS,
    _headroom,
    _start,
    driver_limits,
    links_of,
    regulator_limits,
    source_limits,
)
from fitplan.circuit.chain import Undersupplied
from fitplan.circuit.discharge import Discharge, discharge
from fitplan.circuit.supply_tree import Link, Rail, RailLoad, SupplyTree
from fitplan.model.electrical import (
    Bank,
    CellPack,
    Charger,
    MotorDriver,
    Regulator,
    Switch,
)
from fitplan.model.found import Finding
from fitplan.model.part import Part
from fitplan.model.proposed import FitRow
from tests.circuit.sample_parts import (
    LINEAR_5V,
    bank,
    board,
    cells,
    driver,
    part,
    pin,
    step_up,
    switch,
)

AA = CellPack("alkaline", "LR6", 4, 2200.0, 0.15, 1000.0)
LIFT = Regulator("step-up", 5.0, 1.0, 5.0, 600.0, efficiency=0.8)
LOADS = Rail("five", (RailLoad("eye", 30.0, 90.0, 4.5, 5.5),))


def tree(
    root: Rail = LOADS, source: CellPack | Bank = AA, held: Part | None = None, **more: object
) -> SupplyTree:
    return SupplyTree("cells", held or replace(cells(4), electrical=(source,)), source, root, **more)  # type: ignore[arg-type]


def behind(
    regulator: Regulator, below: Rail = LOADS, kind: str = "regulator", held: Part | None = None
) -> Rail:
    return Rail("raw", (), (Link(kind, "lift", held or step_up(), below, regulator),))  # type: ignore[arg-type]


def run(
    hours: float = 4.0, left: float = 0.0, at_start: bool = False, why: Undersupplied | None = None
) -> Discharge:
    plain = discharge(tree(), course=False)
    return replace(plain, hours=hours, left=left, at_start=at_start, failed=why, charge_mah=30.0 * hours)


SAGS = Undersupplied("eye", "gets too few volts", 4.456, 4.5, "V")
OVER = Undersupplied("lift", "is asked for too much current", 650.4, 600.0, "mA")


# -- hours -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hours", "wanted", "severity"), [(2.0, 2.0, "note"), (1.99, 2.0, "stop"), (math.inf, 2.0, "note")]
)
def test_hours_that_are_asked(hours: float, wanted: float, severity: str) -> None:
    """As long as asked is long enough; the capacity that would do is in proportion."""
    one = running_time(tree(), wanted, {}, run(hours) if hours < math.inf else replace(run(), hours=hours))
    assert (one.severity, one.limit, one.unit) == (severity, wanted, "h")
    assert one.figure == (hours if hours < math.inf else 9999.0)
    if severity == "stop":
        assert f"at least {2200 * 2.0 / 1.99:.0f} mAh" in one.remedy
        assert "change cells every 2.0 h" in one.remedy
        assert "lasts 2 h" in one.remedy
        assert running_time(tree(), wanted, {}, run(hours), "use more").remedy == "use more"
    else:
        assert one.remedy.startswith("nothing to do")
    assert "at least 0 mAh" in running_time(tree(), wanted, {}, run(0.0)).remedy


def test_what_ends_a_run_is_told_with_its_figure() -> None:
    """Volts to two digits, currents to none; whole at the end when it is empty."""
    assert (
        "then eye gets too few volts (4.46 V); 30 mAh" in running_time(tree(), 2.0, {}, run(why=SAGS)).message
    )
    assert "too much current (650 mA)" in running_time(tree(), 2.0, {}, run(why=OVER)).message
    assert "runs for 4.0 h, then it is empty; 30 mAh" in running_time(tree(), 2.0, {}, run()).message
    assert in_hours(math.inf) == "as long as the cells keep"
    one = running_time(tree(), 2.0, {}, run(0.0, 1.0, at_start=True, why=SAGS))
    assert (one.severity, one.figure, one.limit, one.unit) == ("stop", 4.456, 4.5, "V")
    assert one.message == "with fresh cells eye already gets too few volts at peak current"


def test_a_rail_of_too_few_volts_is_the_cause_where_there_is_one() -> None:
    """A load of 4.5 V behind 3.3 V; behind 4.5 V, or for want of current, it is not."""
    for out, told in ((3.3, True), (4.5, False), (5.0, False)):
        one = tree(behind(replace(LIFT, out_v=out)))
        words = _rail_for(one, SAGS)
        assert words == ("feed eye from a rail of 4.5 V or more: here it gets 3.3 V" if told else "")
    low = tree(behind(replace(LIFT, out_v=3.3)))
    assert _rail_for(low, replace(SAGS, unit="mA")) == ""
    assert _rail_for(low, replace(SAGS, owner="other")) == ""
    assert _rail_for(tree(Rail("raw", (), (Link("through", "s", switch(), LOADS),))), SAGS) == ""


@pytest.mark.parametrize(
    ("left", "why", "at_start", "told"),
    [
        (0.5, SAGS, False, None),
        (0.501, SAGS, False, 50.1),
        (0.9, SAGS, True, None),
        (0.9, None, False, None),
    ],
)
def test_more_than_half_that_is_left_is_wasted(
    left: float, why: Undersupplied | None, at_start: bool, told: float | None
) -> None:
    found = list(_wasted(tree(), run(left=left, why=why, at_start=at_start), ""))
    assert [(one.figure, one.limit) for one in found] == ([(told, 50.0)] if told else [])
    for one in found:
        assert one.message.startswith("50 % of its charge is left when eye gives up")
        assert one.remedy.startswith("use a regulator")
        assert next(iter(_wasted(tree(), run(left=left, why=why), "better"))).remedy == "better"


def test_what_empties_cells() -> None:
    """Behind a step-up they are emptied already: peaks are too high for them."""
    for kind, words in (("step-up", "let"), ("step-up-down", "let"), ("linear", "use"), ("step-down", "use")):
        assert _emptied_by(tree(behind(replace(LIFT, kind=kind)))).startswith(words)  # type: ignore[arg-type]
    assert _emptied_by(tree()).startswith("use")


@pytest.mark.parametrize(
    ("hours", "left", "expected"),
    [(4.0, 0.5, 8.0), (0.5, 0.5, 1.0), (4.0, 0.0, 4.0), (4.0, 1.0, 2200 / 30), (0.0, 0.5, 2200 / 30)],
)
def test_hours_until_all_is_drawn(hours: float, left: float, expected: float) -> None:
    """At the rate of the time before; of what fails at once by the label."""
    assert _until_empty(tree(), run(hours, left)) == pytest.approx(expected)
    assert _until_empty(tree(Rail("raw")), run(0.0, 0.5)) == math.inf


def test_lower_cells_are_reckoned_where_the_first_fifth_decides() -> None:
    one = tree(Rail("raw", (RailLoad("eye", 30.0, 90.0, 5.5),)))
    whole = discharge(one, course=False)
    for left, told in ((0.8, True), (0.79, False), (0.9, True)):
        assert bool(_with_lower_cells(one, replace(whole, left=left), {})) is told
        told_of = running_time(one, 2.0, {}, replace(whole, left=left)).message
        assert ("with cells that give 0.05 V less each" in told_of) is told
    assert _with_lower_cells(one, replace(whole, left=0.9, failed=None), {}) == ""
    assert _with_lower_cells(one, replace(whole, left=0.9, at_start=True), {}) == ""
    assert (
        _with_lower_cells(
            tree(source=Bank(5.0, 5000.0, 3.7, 0.85, 2000.0, 60.0)), replace(whole, left=0.9), {}
        )
        == ""
    )


def test_a_row_of_a_supply() -> None:
    """Hours, what ends it, charge an hour, peak, what is left, money."""
    held = replace(cells(4), electrical=(AA,), price=6.0)
    row = _row(tree(held=held), run(4.0, 0.25, why=SAGS))
    assert row == ("cells", "4 aa alkaline", 4.0, "eye: gets too few volts", 30.0, 90.0, "25 %", 1.5)
    assert _row(tree(), run())[3:] == ("runs until empty", 30.0, 90.0, "0 %", 0.75)
    assert _row(tree(held=replace(held, price=0.0)), run())[7] == "no price"
    assert _row(tree(held=held), replace(run(), hours=math.inf))[2] == "no load"
    assert _row(tree(held=held), replace(run(), hours=math.inf))[7] == "no price"
    assert _row(tree(source=replace(AA, chemistry="nimh"), held=held), run())[7] == "rechargeable"


def test_which_source_the_usual_ways_stand_for() -> None:
    """That of the first controller; a part of which one vehicle is not known to be shut is somewhere."""
    one = tree(Rail("raw", (RailLoad("brain", 1.0, 1.0),)))
    assert _feeds_a_board(one, {"eye": step_up(), "brain": board(), "second": board()})
    assert not _feeds_a_board(one, {"second": board(), "brain": board()})
    rows = [
        FitRow("n", name, "v", verdict, "", "")  # type: ignore[arg-type]
        for name, verdict in (("a", "cannot fit"), ("a", "fits"), ("b", "cannot fit"), ("c", "not decided"))
    ]
    assert _nowhere(tuple(rows)) == {"b"}


@pytest.mark.parametrize(
    ("out", "dropout", "socket", "words"),
    [
        (5.0, 1.0, "", "join it to lift.5V instead, which takes 5 V"),
        (4.0, 1.0, "", ""),
        (4.0, 1.01, "", "join it to lift.5V instead, which takes 5 V"),
        (5.0, 0.1, "micro-B", "join it to lift.USB instead, which takes 5 V"),
    ],
)
def test_a_bank_goes_past_a_boards_regulator(out: float, dropout: float, socket: str, words: str) -> None:
    """At the rail of its volts, by the socket where there is one; cells do not."""
    source = Bank(5.0, 5000.0, 3.7, 0.85, 2000.0, 60.0)
    brain = board()
    if socket:
        brain = replace(brain, pins=(*brain.pins, replace(pin("USB", "5v"), socket=socket)))  # type: ignore[arg-type]
    root = behind(replace(LINEAR_5V, out_v=out, dropout_v=dropout), kind="controller", held=brain)
    assert _past_its_regulator(tree(root, source)) == words
    assert _past_its_regulator(tree(root)) == ""
    assert (
        _past_its_regulator(tree(replace(root, links=(replace(root.links[0], kind="regulator"),)), source))
        == ""
    )
    bare = replace(brain, pins=brain.pins[:1])
    root = behind(replace(LINEAR_5V, out_v=9.0), kind="controller", held=bare)
    assert _past_its_regulator(tree(root, source)) == ""


# -- limits ------------------------------------------------------------------------------------------------


def limits(one: SupplyTree) -> list[tuple[str, str, float, float]]:
    return [
        (found.severity, found.where, found.figure, found.limit) for found in source_limits(one, DEFAULTS)
    ]


def test_what_a_source_may_give_at_peak() -> None:
    assert limits(tree(source=replace(AA, max_ma=90.0))) == []
    assert limits(tree(source=replace(AA, max_ma=89.0))) == [("stop", "cells", 90.0, 89.0)]
    for count, told in ((5, 0), (6, 1)):
        block = replace(AA, cells=1, cells_per_unit=count, capacity_mah=500.0, resistance_ohm=2.0)
        found = list(source_limits(tree(source=block), DEFAULTS))
        assert len(found) == told
        for one in found:
            assert (one.severity, one.figure, one.limit) == ("caution", 4.5, 13.2)
            assert "holds 4.5 Wh and has 2.0 Ω inside" in one.message
            odd = replace(block, capacity_mah=512.3)
            assert next(iter(source_limits(tree(source=odd), DEFAULTS))).figure == 4.61


@pytest.mark.parametrize(
    ("steady", "at_times", "least", "severity", "words"),
    [
        (60.0, 0.0, 60.0, "note", "60 mA flow at the least"),
        (59.0, 0.0, 59.0, "caution", "the train draws 59 mA on average"),
        (50.0, 10.0, 50.0, "caution", "50 mA flow when all is off that draws at times only"),
        (50.0, 9.0, 50.0, "caution", "the train draws 59 mA on average"),
    ],
)
def test_what_keeps_a_bank_awake(
    steady: float, at_times: float, least: float, severity: str, words: str
) -> None:
    """60 mA of what is always on."""
    loads = (RailLoad("a", steady, steady), RailLoad("b", at_times, at_times, at_times=True))
    (one,) = source_limits(tree(Rail("r", loads), Bank(5.0, 5000.0, 3.7, 0.85, 2000.0, 60.0)), DEFAULTS)
    assert (one.severity, one.figure, one.limit) == (severity, least, 60.0)
    assert words in one.message
    assert bool(one.add) is (severity == "caution")
    if one.add:
        assert one.add[0].name == f"steady load of {60 - least:.0f} mA, such as a lamp"


def judged(root: Rail, source: CellPack | Bank = AA, at: float = 6.0) -> list[tuple[str, str, str]]:
    one = tree(root, source)
    return [
        (found.severity, found.where, found.message)
        for link, volts in links_of(root, at)
        for found in regulator_limits(one, link, volts, {}, DEFAULTS)
    ]


def test_what_a_regulator_is_called_and_asked_for() -> None:
    """By its owner; a board's own, its low rail, its output pin; peaks just at the limit pass."""
    loads = Rail("five", (RailLoad("a", 10.0, 600.0),))
    plain = replace(LIFT, kind="step-up-down", in_max_v=9.0)
    assert judged(behind(plain, loads)) == []
    more = Rail("five", (RailLoad("a", 10.0, 601.0),))
    ((severity, where, words),) = judged(behind(plain, more))
    assert (severity, where) == ("stop", "lift")
    assert words == "is asked for 601 mA at peak and gives 600 mA"
    ((_, where, _),) = judged(behind(plain, more, "controller", board()))
    assert where == "regulator of lift"
    ((_, where, _),) = judged(behind(replace(plain, out_v=3.3), more, "regulator", board()))
    assert where == "the 3.3 V pin of lift"
    for others, told in ((500.0, 0), (501.0, 1)):
        fed = Rail("", (RailLoad("lift", 10.0, 50.0), RailLoad("b", 10.0, others)))
        found = judged(behind(replace(plain, max_ma=900.0), fed, "controller", board()))
        assert len(found) == told
        for severity, where, words in found:
            assert (severity, where) == ("stop", "regulator of lift")
            assert words == "its output pin is asked for 501 mA at peak and gives 500 mA"
        assert judged(behind(replace(plain, max_ma=900.0), fed, "controller", step_up())) == []


def test_what_cells_cannot_give_is_not_told_of_the_regulator_behind_them() -> None:
    """One cell of 1 Ω gives at most 1.5² / 4 = 0.56 W, and 130 mA at 5 V take 0.65 W, losses aside."""
    lift = replace(LIFT, in_max_ma=900.0)
    loads = Rail("five", (RailLoad("a", 10.0, 130.0),))
    for ohm in (0.15, 1.0):
        assert judged(behind(lift, loads), replace(AA, cells=1, resistance_ohm=ohm), 1.5) == []
    more = Rail("five", (RailLoad("a", 10.0, 300.0),))
    ((_, _, words),) = judged(behind(lift, more), replace(AA, cells=1, resistance_ohm=0.01), 1.5)
    assert words.startswith("is asked for 300 mA at peak and gives")


def test_more_current_for_motors_goes_past_the_regulator() -> None:
    motor = Rail("five", (RailLoad("motor", 10.0, 900.0, back="driver"), RailLoad("x", 1.0, 1.0)))
    one = tree(behind(replace(LIFT, kind="step-up-down", in_max_v=9.0), motor))
    (found,) = regulator_limits(one, one.root.links[0], 6.0, {}, DEFAULTS)
    assert found.remedy == "feed motor through the driver from the cells, not from lift"


@pytest.mark.parametrize(
    ("dropout", "out", "severity", "state"),
    [(0.4, 4.5, "note", "half empty"), (1.2, 5.0, "caution", "half empty"), (2.0, 5.0, "stop", "fresh"),
     (0.0, 5.0, "caution", "half empty"), (0.0, 5.5, "stop", "fresh")],
)  # fmt: skip
def test_headroom_with_fresh_cells_and_half_empty(
    dropout: float, out: float, severity: str, state: str
) -> None:
    """Four cells of 1.58 V fresh and 1.265 V at half, less 0.6 Ω, 1.75 times that at half; 1 V if unsaid."""
    one = tree(behind(Regulator("linear", out, 1.0, 12.0, 500.0, dropout_v=dropout, quiescent_ma=0.0)))
    found = _headroom(one, one.root.links[0], "lift", {}, DEFAULTS, "better")
    fresh, half = 4 * 1.58 - 0.6 * 0.09, 4 * 1.265 - 0.6 * 1.75 * 0.09
    figure = (fresh if severity == "stop" else half) - out
    assert (found.severity, found.limit) == (severity, dropout or 1.0)
    assert found.figure == pytest.approx(figure, abs=6e-4)
    side = "above" if figure >= 0 else "below"
    assert f"with {state} cells its input lies {abs(figure):.2f} V {side} its output" in found.message
    assert found.remedy == ("nothing to do" if severity == "note" else "better")
    assert ("common practice" in found.source) is (dropout == 0.0)


def test_a_linear_regulator_behind_another_is_told_of_only_where_it_fails() -> None:
    """Behind 5 V it has the same volts all the time."""
    low = Regulator("linear", 3.3, 3.4, 9.0, 500.0, dropout_v=0.3)
    inner = Rail("five", (), (Link("regulator", "low", step_up(), LOADS, low),))
    root = behind(replace(LIFT, kind="step-up-down", in_max_v=9.0), inner)
    assert judged(root) == []
    tight = Rail("five", (), (Link("regulator", "low", step_up(), LOADS, replace(low, dropout_v=1.8)),))
    ((severity, where, _),) = judged(behind(replace(LIFT, kind="step-up-down", in_max_v=9.0), tight))
    assert (severity, where) == ("stop", "low")
    ((severity, _, _),) = judged(behind(low))
    assert severity == "note"


@pytest.mark.parametrize(("start_v", "severity"), [(6.2, None), (4.4, None), (4.7, "caution"), (6.3, "stop")])
def test_a_regulator_starts_on_fresh_and_on_nearly_empty_cells(start_v: float, severity: str | None) -> None:
    """Under 100 mA fresh cells give 6.32 − 0.06 V, at a fifth 4.62 − 0.6·2.2·0.1 V."""
    lift = replace(LIFT, start_v=start_v, start_ma=100.4, in_max_v=9.0)
    one = tree(behind(lift))
    found = list(_start(one, one.root.links[0], "lift", None))
    fresh, low = 6.32 - 0.6 * 0.1004, 4 * 1.155 - 0.6 * 2.2 * 0.1004
    expected = "stop" if start_v > fresh else "caution" if start_v > low else None
    assert [f.severity for f in found] == ([expected] if expected else [])
    if severity in ("stop", "caution"):
        assert expected == severity
    for f in found:
        assert f.figure == round(fresh if expected == "stop" else low, 3)
        assert f.limit == start_v
    # Behind another regulator, or without a figure, its start is not asked for.
    assert judged(behind(replace(lift, start_v=0.0))) == []
    inner = Rail("x", (), (Link("regulator", "low", step_up(), LOADS, replace(lift, start_v=9.0)),))
    assert judged(behind(replace(LIFT, out_v=4.0, in_max_v=9.0), inner)) == []


def motors(*channels: tuple[float, float], count: int = 2) -> list[Finding]:
    """A driver with so many channels; loads of each channel by their average and peak."""
    figures = MotorDriver(2.7, 10.0, 1000.0, 2000.0, 0.5, count)
    held = replace(driver(), electrical=(figures,))
    below = Rail("")
    for number, (average, peak) in enumerate(channels):
        half = RailLoad(f"m{number}", average / 2, peak / 2)
        link = Link("through", "driver", held, below)
        below = Rail(f"out {number}", (half, half), (link,) if number else ())
    return list(driver_limits(tree(Rail("raw", (), (Link("through", "driver", held, below),)))))


@pytest.mark.parametrize(
    ("channels", "told"),
    [
        (((1000.0, 2000.0),), []),
        (((1001.0, 2000.0),), [(1001.0, 1000.0)]),
        (((1000.0, 2001.0),), [(2001.0, 2000.0)]),
        (((900.0, 1500.0), (900.0, 1500.0)), []),
        (((900.0, 1500.0), (1200.0, 2500.0)), [(1200.0, 1000.0), (2500.0, 2000.0)]),
        ((), []),
    ],
)
def test_each_channel_bears_its_own_motors(
    channels: tuple[tuple[float, float], ...], told: list[tuple[float, float]]
) -> None:
    """Loads on one channel add up; of several channels the busiest counts; a driver is judged once."""
    found = motors(*channels)
    assert [(one.figure, one.limit) for one in found] == told
    for one in found:
        assert one.message.startswith("a channel of driver carries")
        assert " a channel" in one.remedy
    for one in motors(*channels, count=1):
        assert one.message.startswith("driver carries")
        assert " a channel" not in one.remedy


# -- other parts -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("regulator", "first", "enters"),
    [
        (replace(LIFT, in_max_v=6.72), True, False),  # 6 V are more than it gives
        (replace(LIFT, out_v=9.0, in_max_v=6.72), True, True),
        (replace(LIFT, out_v=9.0, in_max_v=6.71), True, False),
        (replace(LIFT, out_v=6.5, in_max_v=9.0), True, True),  # fresh 6.72 V: 0.22 V above
        (replace(LIFT, out_v=6.4, in_max_v=9.0), True, False),
        (replace(LIFT, out_v=9.0, in_min_v=6.0, in_max_v=9.0), True, False),
        (replace(LIFT, kind="step-up-down", in_max_v=9.0), True, True),
        (replace(LIFT, kind="step-up-down", in_max_v=6.5), True, False),
        (replace(LIFT, kind="linear", dropout_v=1.0, in_max_v=9.0), True, True),
        (replace(LIFT, kind="linear", dropout_v=1.1, in_max_v=9.0), True, False),
        (replace(LIFT, kind="linear", out_v=3.3, dropout_v=1.0, in_max_v=5.0), False, True),
        (replace(LIFT, kind="linear", out_v=3.3, dropout_v=1.0, in_max_v=4.9), False, False),
    ],
)
def test_where_another_regulator_may_stand(regulator: Regulator, first: bool, enters: bool) -> None:
    """By 6 V on the label and 6.72 V fresh of four cells; behind 5 V by these alone."""
    if first:
        one = tree(behind(LIFT))
        link = one.root.links[0]
    else:
        inner = Rail("five", (), (Link("regulator", "low", step_up(), LOADS, replace(LIFT, out_v=3.3)),))
        one = tree(behind(replace(LIFT, in_max_v=9.0), inner))
        link = inner.links[0]
    assert _enters(regulator, one, link) is enters


def test_cells_in_the_place_of_others() -> None:
    """Of the same chemistry first, then small; no bare lithium, nothing in series or behind a charger."""
    small, large = (
        replace(cells(4, size=size), id=size, electrical=(replace(AA, capacity_mah=mah, cell_size=size),))
        for size, mah in (("AAA", 1000.0), ("C", 6000.0))
    )
    small = replace(small, envelope=cells(2).envelope)
    other = replace(small, id="nimh", electrical=(replace(AA, chemistry="nimh", capacity_mah=9000.0),))
    bare = replace(small, id="bare", electrical=(CellPack("li-ion", "18650", 1, 9000.0, 0.1, 2000.0),))
    root = Rail("raw", (RailLoad("eye", 30.0, 90.0, 3.0),))

    def named(hours: float, *parts: Part, one: SupplyTree | None = None) -> str:
        own = one or tree(root)
        return BetterParts(own, {p.id: p for p in (bare, *parts)}, hours, DEFAULTS).cells()

    assert named(2.0, other, large, small).startswith("4 aaa alkaline (AAA), ")
    assert named(100.0, other, large, small).startswith("4 c alkaline (C), ")
    assert named(2.0, other).startswith("4 aaa alkaline (nimh), ")
    assert named(2000.0, other, large, small) == ""
    assert named(2.0, replace(cells(4), electrical=(AA,))) == ""  # the very same
    assert named(2.0, bank(off_below=0.0)) == ""  # no bank for cells
    series = tree(root, below=("more",), between=("x",))
    assert named(2.0, large, one=series) == ""
    guard = part("guard", Charger(5.0, 500.0, True))
    charged = tree(Rail("c", (), (Link("through", "guard", guard, root),)))
    assert named(2.0, large, one=charged) == ""
    idle = Rail("raw", (RailLoad("eye", 0.0, 0.0),))
    assert named(2.0, large, one=tree(idle)) == "4 c alkaline (C), as long as they keep"
    assert _words(2.345) == "2.3 h"
    assert (chemistry_of(bare), chemistry_of(step_up())) == ("li-ion", "")


def test_cells_beside_a_board_without_a_regulator_keep_its_volts() -> None:
    """No fewer on the label, no more when fresh: of 4.5 V neither 3 nor 6 V do, other 4.5 V do."""
    root = Rail("raw", (), (Link("through", "s", switch(), Rail("on", (), (
        Link("controller", "brain", board(), Rail("", (RailLoad("brain", 10.0, 10.0),))),
    ))),))  # fmt: skip
    own = tree(root, replace(AA, cells=3))

    def named(count: int, max_ma: float = 300.0) -> bool:
        other = replace(cells(count), id="x", electrical=(replace(AA, cells=count, capacity_mah=6000.0),))
        figures = replace(own, root=replace(root, links=(replace(root.links[0], part=limited(max_ma)),)))
        return bool(BetterParts(figures, {"x": other}, 2.0, DEFAULTS).cells())

    assert [named(count) for count in (2, 3, 4)] == [False, True, False]
    # A switch that bears 10 mA at peak, or less with these cells as with those: it is told by itself.
    assert [named(3, ma) for ma in (9.0, 10.0)] == [True, True]


def limited(max_ma: float) -> Part:
    return replace(switch(), electrical=(Switch(max_ma, 12.0),))


def test_a_driver_in_the_place_of_another() -> None:
    """As many channels, the volts on the label and fresh, and all currents; not itself."""

    def of(name: str, **figures: object) -> Part:
        plain = MotorDriver(2.7, 10.0, 3000.0, 3000.0, 0.5, 1)
        return replace(driver(), id=name, electrical=(replace(plain, **figures),))  # type: ignore[arg-type]

    link = Link("through", "driver", of("old"), Rail("m", (RailLoad("motor", 500.0, 2500.0),)))
    one = tree(Rail("raw", (), (link,)))
    for figures, does in (
        ({}, True),
        ({"channels": 2}, True),
        ({"channels": 0}, False),
        ({"min_v": 6.0}, True),
        ({"min_v": 6.1}, False),
        ({"max_v": 6.72}, True),
        ({"max_v": 6.7}, False),
        ({"peak_ma": 2499.0}, False),
        ({"continuous_ma": 499.0}, False),
    ):
        named = BetterParts(one, {"x": of("x", **figures), "old": of("old")}, 2.0, DEFAULTS).driver(link)
        assert bool(named) is does, figures


def test_a_regulator_in_the_place_of_another() -> None:
    """Of as many volts, not itself, and such that the whole tree lasts."""
    one = tree(behind(replace(LIFT, kind="step-up-down", in_max_v=9.0, max_ma=50.0)))
    link = one.root.links[0]

    def named(hours: float = 2.0, own: Link = link, name: str = "x", **figures: object) -> str:
        plain = replace(LIFT, kind="step-up-down", in_max_v=9.0)
        other = replace(step_up(replace(plain, **figures)), id=name)  # type: ignore[arg-type]
        return BetterParts(one, {name: other}, hours, DEFAULTS).regulator(own)

    assert named() == "step up (x)"
    assert named(name="step-up") == ""
    assert named(out_v=5.1) == ""
    assert named(max_ma=89.0) == ""
    assert named(hours=1000.0) == ""
    assert named(in_max_v=6.0) == ""
    assert named(own=replace(link, kind="controller")) == ""
    assert named(own=replace(link, regulator=None)) == ""
