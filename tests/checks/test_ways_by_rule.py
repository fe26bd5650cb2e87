"""Usual ways to feed a board, rule by rule: which parts may be joined, which is advised, what is shown."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fitplan.checks.board_loads import NOTHING_AHEAD, Ahead, board_loads, loads_ahead
from fitplan.checks.supply_ways import (
    BLOCK,
    LIGHT,
    PLUGGED,
    RAW,
    SupplyWay,
    _Comparing,
    advised,
    fit_text,
    label_wh,
    shown,
    usual_ways,
    ways_table,
)
from fitplan.circuit.discharge import discharge
from fitplan.circuit.supply_tree import Link, Rail, RailLoad, SupplyTree
from fitplan.model.electrical import Bank, CellPack, Controller, Regulator
from fitplan.model.part import Part
from fitplan.model.proposed import FitRow
from fitplan.model.solids import Box
from tests.circuit.sample_parts import bank, board, cells, step_up, switch

AA = CellPack("alkaline", "LR6", 4, 2000.0, 0.15, 2000.0)  # 6 V on the label, 6.72 V fresh
LIFT = Regulator("step-up", 5.0, 1.0, 5.0, 600.0, efficiency=0.85)
DOWN = Regulator("step-down", 5.0, 5.5, 12.0, 600.0, dropout_v=0.5, efficiency=0.9)
BOTH = Regulator("step-up-down", 5.0, 2.7, 12.0, 600.0, efficiency=0.85)
LINEAR = Regulator("linear", 5.0, 5.5, 12.0, 600.0, dropout_v=0.5)
BOARD = RailLoad("brain", 20.0, 40.0, 4.3, 5.5)


def figures(brain: Part) -> Controller:
    found = brain.figure(Controller)
    assert found is not None
    return found


def comparing(*loads: RailLoad, brain: Part | None = None, ahead: Ahead = NOTHING_AHEAD) -> _Comparing:
    brain = brain or board()
    return _Comparing(brain, figures(brain), (BOARD, *loads), ahead)


def serves(regulator: Regulator, pack: CellPack, *loads: RailLoad, brain: Part | None = None) -> bool:
    return comparing(*loads, brain=brain)._serves(regulator, pack)


def pack(count: int) -> CellPack:
    return replace(AA, cells=count)


@pytest.mark.parametrize(
    ("regulator", "count", "does"),
    [
        (LIFT, 2, True),
        (LIFT, 3, False),  # fresh 5.04 V, above the 5 V that it takes
        (replace(LIFT, in_max_v=5.5), 3, True),  # 4.5 V on the label, 5.04 V fresh
        (replace(LIFT, in_max_v=9.0), 4, False),  # 6 V are more than it gives
        (replace(LIFT, in_min_v=3.0), 2, False),  # 3 V are not above the least
        (replace(LIFT, in_min_v=2.99), 2, True),
        (replace(LIFT, in_max_v=3.36), 2, True),  # just the volts of two fresh cells
        (replace(LIFT, in_max_v=3.35), 2, False),
        (BOTH, 4, True),
        (BOTH, 2, True),
        (BOTH, 1, False),
        (BOTH, 8, False),  # fresh 13.44 V
        (DOWN, 4, True),
        (replace(DOWN, dropout_v=1.0), 4, True),  # 6 V are just 5 + 1
        (replace(DOWN, dropout_v=1.01), 4, False),
        (LINEAR, 4, True),
        (replace(LINEAR, dropout_v=1.01), 4, False),
        (LINEAR, 3, False),
    ],
)
def test_cells_that_a_regulator_takes(regulator: Regulator, count: int, does: bool) -> None:
    """More than its least on the label, no more than its most when fresh, and the way it turns volts."""
    assert serves(regulator, pack(count)) is does


def test_a_step_up_stands_three_tenths_more_than_it_gives() -> None:
    """A lithium cell of 4.2 V before 4 V: 0.2 V too much pass through, before 3.8 V 0.4 V too much."""
    cell = CellPack("li-ion", "18650", 1, 2600.0, 0.05, 2000.0)
    free = RailLoad("brain", 20.0, 40.0)
    brain = board(logic=3.3, regulator=replace(LINEAR, in_min_v=3.5))
    for out, does in ((4.0, True), (3.9, True), (3.8, False)):
        lift = replace(LIFT, out_v=out)
        asked = _Comparing(brain, figures(brain), (free,))
        assert asked._serves(lift, cell) is does


@pytest.mark.parametrize(
    ("out", "least", "most", "does"),
    [
        (5.0, 5.0, 5.0, True),
        (5.0, 5.01, 5.5, False),
        (5.0, 4.5, 4.99, False),
        (5.0, 4.5, 0.0, True),  # what states no most stands any
        (4.9, 4.5, 5.5, False),  # below the board's own 5 V
    ],
)
def test_what_comes_out_is_what_loads_want(out: float, least: float, most: float, does: bool) -> None:
    """No less than the least of any and the board's level, no more than the most of any."""
    assert serves(replace(BOTH, out_v=out), AA, RailLoad("eye", 5.0, 5.0, least, most)) is does


def test_what_comes_out_goes_on_the_rail_or_into_the_boards_own_regulator() -> None:
    """A rail stands a tenth more than its level, or what it states; the raw pin takes 6.5 to 12 V."""
    free = RailLoad("brain", 20.0, 40.0)
    plain = board(regulator=None)
    told = replace(plain, electrical=(replace(figures(plain), rail_max_v=5.2),))
    raw = board(regulator=replace(LINEAR, in_min_v=6.5, in_max_v=9.0))
    for out, on_plain, on_told, on_raw in (
        (5.0, True, True, True),
        (5.2, True, True, True),
        (5.5, True, False, True),
        (5.6, False, False, False),
        (6.5, False, False, True),
        (9.0, False, False, True),
        (9.1, False, False, False),
    ):
        found = [
            _Comparing(brain, figures(brain), (free,))._serves(replace(BOTH, out_v=out), AA)
            for brain in (plain, told, raw)
        ]
        assert found == [on_plain, on_told, on_raw], out


@pytest.mark.parametrize(
    ("count", "in_max", "does"),
    [
        (4, 12.0, True),
        (4, 6.72, True),
        (4, 6.71, False),
        (3, 12.0, False),
        (8, 13.44, True),
        (8, 13.4, False),
    ],
)
def test_cells_at_the_raw_pin(count: int, in_max: float, does: bool) -> None:
    """More than the regulator gives on the label, no more than it takes when fresh; none without one."""
    brain = board(regulator=replace(LINEAR, in_max_v=in_max))
    assert bool(list(comparing(brain=brain).at_raw(RAW, cells(count), pack(count)))) is does
    bare = board(regulator=None)
    assert list(comparing(brain=bare).at_raw(RAW, cells(4), AA)) == []
    # At just the volts that come out nothing is left to regulate.
    even = board(regulator=replace(LINEAR, out_v=6.0))
    assert list(comparing(brain=even).at_raw(RAW, cells(4), AA)) == []


@pytest.mark.parametrize(
    ("max_ma", "peak", "chemistry", "sound"),
    [
        (100.0, 100.0, "alkaline", True),
        (100.0, 101.0, "alkaline", False),  # more than its regulator gives
        (900.0, 890.0, "alkaline", False),  # more than the cells may give
        (100.0, 100.0, "li-ion", False),  # without protection
    ],
)
def test_a_way_is_sound_where_all_its_parts_pass(
    max_ma: float, peak: float, chemistry: str, sound: bool
) -> None:
    pack_ = CellPack(chemistry, "x", 2 if chemistry == "li-ion" else 5, 2000.0, 0.01, 500.0)  # type: ignore[arg-type]
    brain = board(regulator=replace(LINEAR, max_ma=max_ma))
    asked = _Comparing(brain, figures(brain), (RailLoad("x", 20.0, peak, 4.0, 5.5),))
    (way_,) = asked.at_raw(RAW, cells(4), pack_)
    assert way_.sound is sound
    protected = replace(pack_, protected=True)
    assert next(iter(asked.at_raw(RAW, cells(4), protected))).sound is (sound or chemistry == "li-ion")


MOTOR = RailLoad("motor", 200.0, 400.0, at_times=True)


def test_what_lies_ahead_of_the_board_goes_with_every_way() -> None:
    """A load for 5 to 6.5 V ahead of the regulator bears neither four cells (fresh 6.72 V) nor two."""
    ahead = Ahead(Rail("raw", (RailLoad("servo", 10.0, 50.0, 4.8, 6.5),)), 6.0)
    asked = comparing(ahead=ahead)
    assert list(asked.at_raw(RAW, cells(4), AA)) == []
    assert list(asked.regulated(cells(2), pack(2), [(step_up(), LIFT)])) == []
    more = Ahead(Rail("raw", (RailLoad("servo", 10.0, 50.0, 3.0, 6.72),)), 6.0)
    asked = comparing(ahead=more)
    (way,) = asked.at_raw(RAW, cells(4), AA)
    (alone,) = comparing().at_raw(RAW, cells(4), AA)
    assert way.hours < alone.hours
    (plugged,) = asked.plugged(bank(), figures_of(bank()))
    assert plugged.result.charge_mah / plugged.hours == pytest.approx(20.0 + 10.0)


def figures_of(one: Part) -> Bank:
    found = one.figure(Bank)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("max_ma", "off_below", "name"),
    [
        (440.0, 50.0, PLUGGED),  # 40 + 400 mA at peak; 20 + 30 mA all the time
        (440.0, 51.0, LIGHT),
        (439.0, 50.0, None),
    ],
)
def test_a_bank_by_its_current_and_its_least_load(max_ma: float, off_below: float, name: str | None) -> None:
    """What draws at times keeps no bank awake; all peaks together are no more than it gives."""
    steady = RailLoad("light", 30.0, 0.0)
    asked = comparing(MOTOR, steady)
    source = replace(figures_of(bank()), max_ma=max_ma, off_below_ma=off_below)
    assert [way.name for way in asked.plugged(bank(), source)] == ([name] if name else [])
    # What lies ahead of the board counts as well.
    ahead = Ahead(Rail("raw", (replace(MOTOR, min_v=4.0, max_v=6.0), steady)), 5.0)
    asked = comparing(ahead=ahead)
    assert [way.name for way in asked.plugged(bank(), source)] == ([name] if name else [])


def test_one_regulator_of_each_kind_the_first_that_serves() -> None:
    """Of two step-ups the first; linear ones beside them; what does not serve stands in nobody's way."""
    low, first, second = (replace(step_up(), id=name) for name in ("low", "first", "second"))
    makers = [
        (low, replace(LIFT, in_max_v=2.0)),
        (first, LIFT),
        (second, replace(LIFT, efficiency=0.9)),
        (second, BOTH),
    ]
    found = comparing().regulated(cells(2), pack(2), makers)
    assert [(way.name, way.parts[1].id) for way in found] == [
        ("fewer cells with a step-up", "first"),
        ("cells with a step-up/down", "second"),
    ]


def test_the_ways_that_a_catalogue_has() -> None:
    """A block goes to the raw pin alone; a board without loads, or what is no board, has no ways."""
    nine = CellPack("alkaline", "6LR61", 1, 500.0, 1.7, 500.0, cells_per_unit=6)
    block = replace(cells(1), id="block", electrical=(nine,))
    catalogue = {one.id: one for one in (cells(4), block, bank(), step_up(BOTH))}
    ways = usual_ways(catalogue, board(), (BOARD,))
    assert [(way.name, way.parts[0].id) for way in ways] == [
        (RAW, "4-aa-alkaline"),
        ("cells with a step-up/down", "4-aa-alkaline"),
        (LIGHT, "bank"),
        (BLOCK, "block"),
    ]
    assert usual_ways(catalogue, board(), ()) == ()
    assert usual_ways(catalogue, step_up(), (BOARD,)) == ()


# -- which is advised --------------------------------------------------------------------------------------


def way(
    name: str, hours: float, wh: float = 10.0, size: float = 10.0, sound: bool = True, left: float = 0.0,
    chemistry: str = "nimh", unit: int = 1, price: float = 0.0,
) -> SupplyWay:  # fmt: skip
    """A way whose cells carry so many Wh on their label."""
    volts = {"nimh": 1.2, "alkaline": 1.5, "li-ion": 3.7}[chemistry]
    source = CellPack(chemistry, "x", 1, 1000 * wh / volts / unit, 0.1, 1000.0, cells_per_unit=unit)  # type: ignore[arg-type]
    held = replace(cells(1), id=name, electrical=(source,), price=price)
    box = Box((0.0, 0.0, 0.0), (size, 10.0, 10.0))
    plain = discharge(SupplyTree("c", held, source, Rail("r", (RailLoad("x", 10.0, 10.0),))), course=False)
    result = replace(plain, hours=hours, left=left)
    return SupplyWay(name, (replace(held, envelope=(box,)),), source, result, sound)


def test_a_way_in_figures() -> None:
    """Hours for each Wh of the label, share used, room, price of a set over its hours."""
    one = way("a", 4.0, wh=2.0, size=12.0, left=0.25, chemistry="alkaline", price=6.0)
    assert label_wh(one.source) == pytest.approx(2.0)
    assert (one.hours, one.used, one.volume, one.primary) == (4.0, 0.75, 1200.0, True)
    assert one.hours_per_wh == pytest.approx(2.0)
    assert way("a", 4.0, wh=0.5).hours_per_wh == pytest.approx(8.0)
    assert one.cost_per_hour == pytest.approx(1.5)
    assert way("a", 4.0, price=6.0).cost_per_hour == 0.0
    assert not way("a", 4.0).primary
    endless = way("a", math.inf, chemistry="alkaline", price=6.0)
    assert (endless.hours_per_wh, endless.cost_per_hour) == (0.0, 0.0)
    assert way("a", 0.0, chemistry="alkaline", price=6.0).cost_per_hour == 0.0
    assert label_wh(Bank(5.0, 10000.0, 3.7, 0.85, 2000.0, 60.0)) == pytest.approx(37.0)
    for left, unit, uses in ((0.5, 1, True), (0.51, 1, False), (0.0, 6, False), (0.0, 5, True)):
        assert way("a", 1.0, left=left, unit=unit).uses_its_charge is uses


@pytest.mark.parametrize(
    ("ways", "primary", "nowhere", "found"),
    [
        ((way("a", 2.0), way("b", 4.0)), False, (), "b"),
        ((way("a", 3.21, size=9.0), way("b", 4.0)), False, (), "a"),  # 0.8 of the best, and smaller
        ((way("a", 3.19, size=9.0), way("b", 4.0)), False, (), "b"),
        ((way("a", 3.21, size=11.0), way("b", 4.0)), False, (), "b"),
        ((way("b", 4.0), way("a", 4.0)), False, (), "a"),  # of equals by the id
        ((way("a", 2.0), way("b", 4.0)), False, ("b",), "a"),
        ((way("a", 2.0), way("b", 4.0, sound=False)), False, (), "a"),
        ((way("a", 2.0), way("b", 4.0, left=0.6)), False, (), "a"),
        ((way("a", 1.9), way("b", 1.99)), False, (), None),
        ((way("a", 2.0), way("b", 4.0, chemistry="alkaline")), False, (), "a"),
        ((way("a", 2.0), way("b", 4.0, chemistry="alkaline")), True, (), "b"),
        ((way("a", 2.0, chemistry="alkaline"), way("b", 4.0)), True, (), "a"),
        ((way("b", 4.0),), True, (), "b"),  # none is primary: another does
        ((), False, (), None),
    ],
)
def test_the_way_that_is_advised(
    ways: tuple[SupplyWay, ...], primary: bool, nowhere: tuple[str, ...], found: str | None
) -> None:
    """Of those that last two hours, pass and go in: most hours for a Wh, of alike ones the smallest."""
    best = advised(ways, 2.0, primary, frozenset(nowhere))
    assert (best.parts[0].id if best else None) == found


def named(one: SupplyWay, name: str) -> SupplyWay:
    return replace(one, name=name)


def test_of_each_way_three_are_shown() -> None:
    """The smallest that lasts, the longest, the thriftiest, in this order and each once; ways in theirs."""
    small, long, thrifty, idle = (
        named(way("small", 3.0, wh=10.0, size=5.0), RAW),
        named(way("long", 9.0, wh=40.0, size=20.0), RAW),
        named(way("thrifty", 5.0, wh=10.0, size=10.0), RAW),
        named(way("idle", 1.0, wh=1.0, size=1.0), RAW),
    )
    other = named(way("other", 3.0), PLUGGED)
    found = shown((other, idle, thrifty, long, small), 2.0)
    assert [one.parts[0].id for one in found] == ["small", "long", "thrifty", "other"]
    assert [one.parts[0].id for one in shown((idle, small), 2.0)] == ["small"]
    # Where none lasts the longest alone is shown; of equally long ones the smaller.
    assert [one.parts[0].id for one in shown((idle, small), 5.0)] == ["small"]
    twin = named(way("twin", 3.0, wh=10.0, size=4.0), RAW)
    assert [one.parts[0].id for one in shown((small, twin), 5.0)] == ["twin"]
    assert list(shown((), 2.0)) == []


def row(part: str, verdict: str, vehicle: str = "loco") -> FitRow:
    return FitRow("cells", part, vehicle, verdict, "", "")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        ((), "not asked"),
        ((row("b", "fits"),), "not asked + loco"),
        ((row("a", "fits"), row("b", "fits")), "loco"),
        ((row("a", "fits"), row("a", "fits after a rebuild", "van"), row("b", "fits")), "loco, van + loco"),
        ((row("a", "cannot fit"), row("b", "cannot fit")), "nowhere"),
        ((row("a", "cannot fit"), row("a", "not decided", "van"), row("b", "fits")), "not decided + loco"),
        ((row("a", "cannot fit"), row("a", "fits", "van"), row("b", "fits", "van")), "van"),
    ],
)
def test_where_the_parts_of_a_way_go(rows: tuple[FitRow, ...], text: str) -> None:
    """Part by part, once where all say the same."""
    parts = [replace(cells(1), id="a"), replace(cells(1), id="b")]
    assert fit_text(parts, rows) == text
    assert fit_text([], rows) == "not asked"


def test_the_rows_of_the_table() -> None:
    """Hours, whether they do, share, hours per Wh and money as a way's own figures say."""
    ways = (
        named(way("a", 4.04, wh=2.0, left=0.25, chemistry="alkaline", price=6.0, size=12.0), RAW),
        named(way("b", 1.9, wh=2.0, chemistry="alkaline"), BLOCK),
        named(way("c", math.inf), PLUGGED),
    )
    table = ways_table(ways, 2.0, (), 5.0)
    by_way = {line[0]: line for line in table.rows}
    assert list(by_way) == [RAW, PLUGGED, BLOCK]
    assert by_way[RAW][2:6] == (4.0, "yes", "75 %", 2.02)
    assert by_way[RAW][7] == round(ways[0].result.charge_mah / 4.04, 1)
    assert by_way[RAW][8:12] == (1.485, 24.0, 1.2, "not asked")
    assert by_way[BLOCK][2:4] == (1.9, "no")
    assert by_way[BLOCK][8] == "no price"
    assert by_way[PLUGGED][2:4] == ("no load", "yes")
    assert by_way[PLUGGED][8] == "rechargeable"
    assert "lasts 2 h" in table.columns


# -- what lies ahead ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("load", "label", "full", "stands"),
    [
        (RailLoad("x", 10.0, 10.0, 5.0, 6.5), 5.0, 6.5, True),
        (RailLoad("x", 10.0, 10.0, 5.0, 6.5), 4.99, 6.0, False),
        (RailLoad("x", 10.0, 10.0, 5.0, 6.5), 6.0, 6.51, False),
        (RailLoad("x", 10.0, 10.0, 5.0, 0.0), 6.0, 99.0, True),
        (RailLoad("x", 10.0, 10.0, 0.0, 6.5), 0.5, 6.5, True),
        # Of a motor nothing is known: it runs as it did from 0.75 to 1.34 times the 8 V that it has.
        (RailLoad("x", 10.0, 10.0), 6.0, 7.0, True),
        (RailLoad("x", 10.0, 10.0), 5.99, 7.0, False),
        (RailLoad("x", 10.0, 10.0), 10.72, 12.0, True),
        (RailLoad("x", 10.0, 10.0), 10.73, 12.0, False),
        (RailLoad("x", 0.0, 0.0), 1.0, 2.0, True),
    ],
)
def test_what_stands_other_volts(load: RailLoad, label: float, full: float, stands: bool) -> None:
    """Beside the board, behind a switch as well; what lies behind a regulator has its own volts."""
    plain = Rail("raw", (load,))
    assert Ahead(plain, 8.0).stands(label, full) is stands
    switched = Rail("raw", (), (Link("through", "s", switch(), plain),))
    assert Ahead(switched, 8.0).stands(label, full) is stands
    wide = replace(BOTH, in_min_v=0.1, in_max_v=100.0)
    assert Ahead(Rail("raw", (), (Link("regulator", "r", step_up(), plain, wide),)), 8.0).stands(label, full)
    assert NOTHING_AHEAD.stands(label, full)


@pytest.mark.parametrize(
    ("label", "full", "stands"),
    [(5.0, 8.0, True), (4.5, 8.0, False), (4.51, 8.0, True), (5.0, 9.0, True), (5.0, 9.01, False)],
)
def test_a_regulator_ahead_takes_its_own_range(label: float, full: float, stands: bool) -> None:
    """More than 4.5 V on the label, 9 V at most when fresh."""
    ranged = replace(LINEAR, in_min_v=4.5, in_max_v=9.0)
    link = Link("regulator", "r", step_up(), Rail("out", (BOARD,)), ranged)
    assert Ahead(Rail("raw", (), (link,)), 6.0).stands(label, full) is stands


def test_what_hangs_on_the_boards_rail_and_what_ahead_of_it() -> None:
    """Cells feed a motor, and by a regulator a board with an eye beside it and a lamp behind a switch."""
    lamp = Rail("lit", (RailLoad("lamp", 8.0, 8.0),))
    five = Rail("five", (RailLoad("eye", 15.0, 15.0), BOARD), (Link("through", "s", switch(), lamp),))
    low = Link("regulator", "lift", step_up(), five, LIFT)
    aside = Link("through", "t", switch(), Rail("aside", (RailLoad("horn", 5.0, 5.0),)))
    dead = Link("through", "u", switch(), Rail("dead"))
    tree = SupplyTree("cells", cells(2), pack(2), Rail("raw", (MOTOR,), (aside, low, dead)))
    other = SupplyTree("more", cells(2), pack(2), Rail("x", (RailLoad("other", 1.0, 1.0),)))
    assert [fed.owner for fed in board_loads((other, tree), "brain")] == ["eye", "brain", "lamp"]
    assert board_loads((other, tree), "nobody") == ()
    ahead = loads_ahead((other, tree), "brain")
    assert ahead.volts == pytest.approx(3.0)
    assert [fed.owner for fed in ahead.rail.everything()] == ["motor", "horn"]
    assert [link.owner for link in ahead.rail.links] == ["t"]
    assert loads_ahead((other,), "brain") is NOTHING_AHEAD
    # Without a regulator above it all of the source hangs beside the board.
    switched = Rail("raw", (MOTOR,), (Link("through", "s", switch(), five),))
    plain = SupplyTree("cells", cells(2), pack(2), switched)
    assert {fed.owner for fed in board_loads((plain,), "brain")} == {"motor", "eye", "brain", "lamp"}
    assert loads_ahead((plain,), "brain").rail.everything() == ()
