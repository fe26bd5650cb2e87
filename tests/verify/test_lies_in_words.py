"""What a plan says of itself, one lie at a time, each check alone: just true, and just no longer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.electrical import CellPack, Conductor, Controller, Load, SeriesResistor
from fitplan.model.found import Finding as Said
from fitplan.model.found import Outcome
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import Part, Pin
from fitplan.model.pins_used import Resistor
from fitplan.model.placed import Rebuild
from fitplan.model.plan import Plan
from fitplan.model.proposed import Option
from fitplan.model.solids import Box
from fitplan.model.train import SourceFile
from fitplan.model.wired import Unreached, Wire
from fitplan.model.wiring_facts import LegBends
from fitplan.verify.bends import check_bends
from fitplan.verify.bundles import check_bundles
from fitplan.verify.choice import check_choice
from fitplan.verify.conductors import check_conductors
from fitplan.verify.findings import SUBJECTS, check_findings
from fitplan.verify.origin import check_origin
from fitplan.verify.resistors import check_resistors, series

from .lies import (
    built_with,
    harness_with,
    needs_with,
    notes,
    only,
    placed_with,
    problems,
    train_with,
    wire_with,
)
from .two_vehicles import BOARD, CELL, LAMP, LIVE_CELL, plan

# Along the axes: board to lamp 102 + 9 + 2; ground from the board to the cell 4 + 18 + 4, on to the lamp 91.
WIRE = 113.0 + 26.0 + 91.0
# 5 g each: 9 mm right, 9 and 9 left of the loco's middle, 1 right and 0 in the wagon; rails 38 mm apart.
BALANCE = (45.0 + 5.0) / 19.0
PARTS = tuple((entry.need, entry.part.id, entry.vehicle) for entry in plan().built.placements)
SCORE = 2 * 1000.0 + 2 * 50.0 + 5 * WIRE / 1000 + 0.1 * BALANCE
CHOSEN = Option(PARTS, 2, 0, 2, 0.0, WIRE, BALANCE, SCORE, chosen=True)
ELSEWHERE = (*PARTS[:3], ("lamp", "lamp", "loco"), PARTS[4])
OTHER = replace(
    CHOSEN, parts=ELSEWHERE, conductors_across=0, wire_mm=400.0, score=SCORE - 100 + 0.85, chosen=False
)


def with_options(*options: Option) -> Plan:
    return replace(plan(), options=options)


def test_a_choice_that_is_true_is_let_stand() -> None:
    """The figures are reckoned by hand above."""
    worse = replace(OTHER, bricks_removed=30.0, score=OTHER.score + 600.0)
    assert problems(check_choice, with_options(CHOSEN, worse)) == ()
    assert notes(check_choice, with_options(CHOSEN, worse)) == ()
    for change in (
        {"wire_mm": WIRE + 59.0},
        {"wire_mm": WIRE - 59.0},
        {"mass_off_balance_g": BALANCE + 0.99},
    ):
        near = replace(CHOSEN, **change)  # type: ignore[arg-type]
        near = replace(near, score=2100 + 5 * near.wire_mm / 1000 + 0.1 * near.mass_off_balance_g)
        assert notes(check_choice, with_options(near)) == ()
        assert problems(check_choice, with_options(near)) == ()


@pytest.mark.parametrize(
    ("change", "words", "figure"),
    [
        ({"wire_mm": WIRE + 61.0}, "now straight lines between its pins make 230", 61.0),
        ({"mass_off_balance_g": BALANCE + 1.01}, "where its parts lie now it is 2.63 g", 1.01),
    ],
)
def test_estimates_that_are_far_off_are_noted(change: dict[str, float], words: str, figure: float) -> None:
    """Wire by 60 mm or 15 %, grams by one or a fifth."""
    said = replace(CHOSEN, **change)  # type: ignore[arg-type]
    (note,) = notes(check_choice, with_options(said))
    assert words in note.message
    assert note.figure == pytest.approx(figure, abs=1e-3)


@pytest.mark.parametrize(
    ("options", "words", "figure"),
    [
        ((replace(CHOSEN, chosen=False),), "0 options are chosen", 0),
        ((CHOSEN, replace(OTHER, score=OTHER.score + 600, bricks_removed=30.0, chosen=True)), "2 options", 0),
        ((replace(CHOSEN, score=SCORE + 0.2),), f"its figures make {SCORE:g}", 0.2),
        ((replace(CHOSEN, score=SCORE - 0.2),), "says it scores", 0.2),
        ((CHOSEN, OTHER), "less than the chosen one", 99.15),
        ((replace(CHOSEN, vehicles_opened=3, score=SCORE + 1000),), "its parts lie in 2", 1),
        ((replace(CHOSEN, conductors_across=3, score=SCORE + 50),), "its places ask for 2", 1),
        ((replace(CHOSEN, unfused_across=1, score=SCORE + 25),), "ahead of a fuse; 0 do", 1),
        ((replace(CHOSEN, unfused_across=1),), "says it scores", 25),
        ((replace(CHOSEN, later_in_list=1, score=SCORE + 1),), "1 places down their lists; they stand 0", 1),
        ((replace(CHOSEN, later_in_list=1),), "says it scores", 1),
        ((replace(CHOSEN, wagons_added=1, score=SCORE + 500),), "1 wagons are added; 0 are", 0),
        ((replace(CHOSEN, bricks_removed=2.0, score=SCORE + 40),), "the plan takes out 0", 2),
        ((replace(CHOSEN, parts=ELSEWHERE),), "is not what is placed", 0),
        ((replace(CHOSEN, parts=PARTS[:4], score=SCORE + 1e6),), "is not what is placed", 0),
        ((replace(CHOSEN, shut_in=1),), "says it scores", 1e4),
    ],
)
def test_options_and_their_figures(options: tuple[Option, ...], words: str, figure: float) -> None:
    """Each figure of an option against the places, its score against its own figures."""
    found = [p for p in problems(check_choice, with_options(*options)) if words in p.message]
    assert found, problems(check_choice, with_options(*options))
    assert found[0].figure == pytest.approx(figure, abs=1e-2)


def test_a_score_may_count_parts_that_do_not_work_together_or_are_shut_in() -> None:
    """A hundred thousand for parts that do not work together; ten thousand for each that is shut in."""
    assert problems(check_choice, with_options(replace(CHOSEN, score=SCORE + 1e5))) == ()
    assert problems(check_choice, with_options(replace(CHOSEN, score=SCORE + 1e4, shut_in=1))) == ()


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (("horn", "lamp", "loco"), "names horn, which is no need"),
        (("lamp", "horn", "loco"), "takes horn for lamp, which does not ask for it"),
        (("lamp", "lamp", "tender"), "puts lamp into tender, which is no vehicle"),
        (("board", "board", "wagon"), "puts board into wagon, where it may not go"),
        (("board", "board", "loco"), "names a need twice"),
    ],
)
def test_options_name_what_there_is(row: tuple[str, str, str], words: str) -> None:
    """Needs, parts and vehicles; an added wagon may be named."""
    rest = tuple(entry for entry in PARTS if entry[0] != row[0] or words.endswith("twice"))
    told = problems(check_choice, with_options(replace(CHOSEN, parts=(*rest, row))))
    assert any(words in problem.message for problem in told), told
    added = (*PARTS[:3], ("lamp", "lamp", "added wagon"), PARTS[4])
    told = problems(check_choice, with_options(replace(CHOSEN, parts=added, chosen=False)))
    assert not any("no vehicle" in problem.message for problem in told)


def test_no_option_is_beaten_or_told_twice() -> None:
    """Of the options that were not chosen none is worse than another in every figure."""
    one = replace(OTHER, score=SCORE + 600 - 99.15, bricks_removed=30.0)
    shifted = (*PARTS[:3], ("lamp", "lamp", "wagon"), ("eye", "eye", "loco"))
    worse = replace(one, parts=shifted, wire_mm=401.0, score=one.score + 0.005)
    only(check_choice, with_options(CHOSEN, one, worse), words="is beaten by another in every figure")
    assert (
        problems(
            check_choice,
            with_options(
                CHOSEN, one, replace(worse, mass_off_balance_g=0.0, score=worse.score - 0.1 * BALANCE)
            ),
        )
        == ()
    )
    assert (
        problems(check_choice, with_options(CHOSEN, replace(one, shut_in=1, score=one.score + 1e4), worse))
        == ()
    )
    twice = problems(check_choice, with_options(CHOSEN, one, one))
    assert [p.message for p in twice] == ["two options are one and the same"]
    checked = replace(plan(), outcomes=(Outcome("pins", ()),))
    assert any("table of options is empty" in p.message for p in problems(check_choice, checked))


REBUILD = Rebuild("loco", ("shelf brick",), (), 2.0, 2.0, "carried")


@pytest.mark.parametrize(
    ("rebuilds", "words", "figure"),
    [
        ((REBUILD, REBUILD), "is rebuilt twice", 0),
        ((replace(REBUILD, cost=2.5),), "its bricks cost 2", 0.5),
        ((replace(REBUILD, least=2.5),), "nothing below 2.5 does", 0.5),
        ((replace(REBUILD, least=-1.0),), "nothing below -1 does", -3),
        ((replace(REBUILD, remove=("shelf brick", "shelf brick"), cost=4.0),), "takes a brick out twice", 0),
    ],
)
def test_rebuilds(rebuilds: tuple[Rebuild, ...], words: str, figure: float) -> None:
    """Costs add up, and a bound is no more than what it bounds."""
    old = replace(built_with(plan(), rebuilds=rebuilds), verdict="fits after a rebuild")
    found = [p for p in problems(check_choice, old) if words in p.message]
    assert found
    assert found[0].figure == pytest.approx(figure)


@pytest.mark.parametrize(
    ("verdict", "unplaced", "rebuilt", "holds"),
    [
        ("fits", False, False, True),
        ("fits", True, False, False),
        ("cannot fit", True, False, True),
        ("not decided", True, True, True),
        ("fits after a rebuild", False, True, True),
        ("fits after a rebuild", False, False, False),
        ("fits", False, True, False),
        ("cannot fit", False, False, False),
    ],
)
def test_verdicts(verdict: str, unplaced: bool, rebuilt: bool, holds: bool) -> None:
    """What a plan holds decides what its verdict may be."""
    old = built_with(plan(), rebuilds=(REBUILD,) if rebuilt else ())
    old = replace(old, verdict=verdict, unplaced=(("lamp", "too high"),) if unplaced else ())  # type: ignore[arg-type]
    told = [p for p in problems(check_choice, old) if p.subject == "verdict"]
    assert (told == []) is holds


@pytest.mark.parametrize(
    ("unplaced", "words"), [(("horn", "no"), "no need of the train"), (("lamp", " "), "no reason")]
)
def test_what_is_left_out(unplaced: tuple[str, str], words: str) -> None:
    """A need of the train, with a reason."""
    told = problems(check_choice, replace(plan(), unplaced=(unplaced,), verdict="cannot fit"))
    assert any(words in problem.message for problem in told), told


def test_a_pin_that_is_not_reached_is_told_once() -> None:
    """The same net and pin twice."""
    lost = Unreached("light", "lamp", "IN", "no way")
    told = problems(check_choice, harness_with(plan(), unreached=(lost, lost)))
    assert any(problem.message.startswith("is told twice") for problem in told), told


# -- findings and files ------------------------------------------------------------------------------------

SOUND = Said("wire", "note", "loco", "thin", 1.0, 2.0, "mA", "nothing", "a table")


def outcomes(*wire: Said) -> tuple[Outcome, ...]:
    return tuple(Outcome(subject, wire if subject == "wire" else ()) for subject in SUBJECTS)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (outcomes()[1:], "has 0 outcomes"),
        ((*outcomes(), outcomes()[0]), "has 2 outcomes"),
        (outcomes(replace(SOUND, unit=" ")), "lacks a place, message, unit"),
        (outcomes(replace(SOUND, source="")), "lacks a place, message, unit"),
        (outcomes(replace(SOUND, subject="horn")), "of a subject that has no outcome"),
        (outcomes(replace(SOUND, limit=float("nan"))), "a figure that is no number"),
    ],
)
def test_findings_are_whole(said: tuple[Outcome, ...], words: str) -> None:
    """Every subject once, every finding with all its texts and figures."""
    told = problems(check_findings, replace(plan(), outcomes=said), None)
    assert any(words in problem.message for problem in told), told
    assert problems(check_findings, replace(plan(), outcomes=outcomes(SOUND)), None) == ()


@pytest.mark.parametrize(
    ("said", "fresh", "words"),
    [
        ((), (SOUND,), "lacks the note on loco: thin"),
        ((SOUND,), (), "holds the note on loco, which is not found"),
        ((replace(SOUND, severity="stop"),), (SOUND,), "is not as found"),
        ((replace(SOUND, figure=1.01),), (SOUND,), "is not as found"),
        ((SOUND, SOUND), (SOUND,), "holds the note"),
    ],
)
def test_findings_are_those_of_a_second_run(
    said: tuple[Said, ...], fresh: tuple[Said, ...], words: str
) -> None:
    """Numbers count as equal to a millionth."""
    made = replace(plan(), outcomes=outcomes(*said))
    only(check_findings, made, lambda: outcomes(*fresh), words=words)
    near = replace(plan(), outcomes=outcomes(replace(SOUND, figure=1.0 + 1e-7), replace(SOUND, limit=0.0)))
    again = outcomes(SOUND, replace(SOUND, limit=1e-7))
    assert problems(check_findings, near, lambda: again) == ()
    assert problems(check_findings, near, lambda: (*again, Outcome("horn", ())))[0].where == "horn"


def test_pins_that_no_wire_reaches_are_stops() -> None:
    """By the pin's name or the net's."""
    old = harness_with(plan(), unreached=(Unreached("light", "lamp", "IN", "no way"),))
    untold = replace(old, outcomes=outcomes(SOUND))
    only(check_findings, untold, None, words="reached by no wire of light")
    for where, message in (("lamp.IN", "not reached"), ("wagon", "light is cut off"), ("wagon", "lamp.IN")):
        stop = replace(SOUND, severity="stop", where=where, message=message)
        assert problems(check_findings, replace(old, outcomes=outcomes(stop)), None) == ()
        caution = replace(stop, severity="caution")
        assert len(problems(check_findings, replace(old, outcomes=outcomes(caution)), None)) == 1


def test_the_train_is_what_its_files_say() -> None:
    """With files unchanged every field and part is compared; with one changed none, which is told."""
    file = SourceFile("train.yaml", "abc")
    mine = replace(plan().built.train, files=(file,), catalogue={"lamp": LAMP})
    assert problems(check_origin, mine, mine) == ()
    only(check_origin, replace(mine, name="other"), mine, words="is not what the unchanged files say")
    needs = (replace(mine.needs[0], duty=0.5), *mine.needs[1:])
    assert only(check_origin, replace(mine, needs=needs), mine, words="unchanged").where == "needs, board"
    other = replace(mine, catalogue={"lamp": replace(LAMP, mass_g=6.0)})
    assert only(check_origin, other, mine, words="is not the part").where == "lamp"
    now = replace(mine, name="other", files=(replace(file, digest="abd"),))
    assert problems(check_origin, mine, now) == ()
    assert "has changed" in notes(check_origin, mine, now)[0].message
    assert "no longer read" in notes(check_origin, mine, replace(mine, files=()))[0].message
    more = replace(mine, name="other", files=(file, SourceFile("loco.yaml", "1")))
    assert problems(check_origin, mine, more) == ()


# -- resistors ---------------------------------------------------------------------------------------------

BRAIN = replace(BOARD, electrical=(Controller(5.0, 20.0, 40.0, 2.7, 20.0, 500.0),))
DIODE = replace(LAMP, electrical=(SeriesResistor(2.0, 25.0, 10.0, "lead"),))
# 3 V over at most 10 mA: 300 Ω in all, 25 of them its own; the next value of the series above 275 is 300.
FLOWS = 3.0 / 325.0
RIGHT = Resistor("lamp", "IN", "light", 300.0, 1000 * FLOWS, FLOWS**2 * 300, 0.125, "lead")


def lit(*resistors: Resistor, lamp: Part = DIODE, brain: Part = BRAIN) -> Plan:
    old = placed_with(placed_with(plan(), "board", part=brain), "lamp", part=lamp)
    return built_with(old, resistors=resistors)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"ohm": 299.0}, "no value of series E24"),
        ({"ohm": 270.0, "current_ma": 3000 / 295, "power_w": (3 / 295) ** 2 * 270}, "10 mA are the most"),
        ({"ohm": 330.0, "current_ma": 3000 / 355, "power_w": (3 / 355) ** 2 * 330}, "300 Ω would do as well"),
        ({"power_w": RIGHT.power_w * 1.002}, "is said to turn"),
        ({"current_ma": RIGHT.current_ma * 0.998}, "is said to turn"),
        ({"rated_w": 1.99 * RIGHT.power_w}, "is rated for"),
        ({"place": "board"}, "it is in its lead"),
        ({"owner": "board"}, "that nothing asks for"),
    ],
)
def test_resistors_in_series(change: dict[str, object], words: str) -> None:
    """Ohm's law, the series, twice the heat."""
    assert problems(check_resistors, lit(RIGHT).built) == ()
    assert problems(check_resistors, lit(replace(RIGHT, rated_w=2.01 * RIGHT.power_w)).built) == ()
    told = problems(check_resistors, lit(replace(RIGHT, **change)).built)  # type: ignore[arg-type]
    assert any(words in problem.message for problem in told), told


def test_resistors_are_asked_of_what_hangs_on_a_controller_only() -> None:
    """None where nothing needs one; one is missed; two are one too many."""
    only(check_resistors, lit().built, words="the plan has none")
    assert any("two resistors" in p.message for p in problems(check_resistors, lit(RIGHT, RIGHT).built))
    assert problems(check_resistors, lit(lamp=LAMP).built) == ()
    assert problems(check_resistors, lit(brain=BOARD).built) == ()
    supplied = lit()
    nets = tuple(replace(net, role="supply") for net in supplied.built.train.nets)
    assert problems(check_resistors, train_with(supplied, nets=nets).built) == ()


def test_the_series_is_that_of_the_standard() -> None:
    """E24 of IEC 60063, written out (from memory); eight decades from one ohm."""
    tens = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
    assert [round(value * 10) for value in series()[:24]] == list(tens)
    assert len(series()) == 24 * 8
    assert series()[24 * 3] == pytest.approx(1000.0)


# -- conductors, bends, bundles ------------------------------------------------------------------------------


def conductor(name: str, awg: int, outer: float) -> Part:
    return Part(
        name,
        name,
        "wire",
        (Box((0, 0, 0), (1, 1, 1)),),
        1.0,
        "invented",
        electrical=(Conductor(awg, 1, outer, 7),),
    )


def stocked(old: Plan, *stock: Part, signal: str = "") -> Plan:
    wiring = replace(old.built.train.wiring, signal_wire=signal, power_wire=signal)
    return train_with(old, catalogue={part.id: part for part in stock}, wiring=wiring)


def test_gauges_come_from_the_catalogue_and_are_no_thinner_than_asked() -> None:
    """The wires are AWG 28 and 1 mm thick."""
    thin, thick = conductor("thin", 28, 1.0), conductor("thick", 26, 1.3)
    assert problems(check_conductors, stocked(plan(), thin, thick, signal="thin").built, ()) == ()
    told = problems(check_conductors, stocked(plan(), thin, thick, signal="thick").built, ())
    assert {p.message for p in told} == {
        f"AWG 28 is thinner than AWG 26, which is asked for {role}" for role in ("signal", "ground")
    }
    for role, asked in (("signal", {"signal_wire": "thick"}), ("ground", {"power_wire": "thick"})):
        made = stocked(plan(), thin, thick, signal="thin")
        made = train_with(made, wiring=replace(made.built.train.wiring, **asked))
        (message,) = {p.message for p in problems(check_conductors, made.built, ())}
        assert message.endswith(f"asked for {role}")
    told = problems(check_conductors, stocked(plan(), thick).built, ())
    assert len(told) == 4
    assert all("is no wire of the plan's catalogue" in p.message for p in told)
    assert len(problems(check_conductors, stocked(plan(), conductor("fat", 28, 1.1)).built, ())) == 4


def alone(number: int, **changes: object) -> Plan:
    """A plan that has one wire only."""
    wire = next(w for w in plan().built.harness.wires if w.number == number)
    return harness_with(
        plan(), wires=(replace(wire, **changes),), stretches=(), crossings=plan().built.harness.crossings
    )  # type: ignore[arg-type]


# AWG 28: 0.127 · 92^(8/39) = 0.3211 mm = 12.64 mils, 159.8 circular mils: 224.8 mA at 711 an ampere.
@pytest.mark.parametrize(("current", "holds"), [(224.0, True), (226.0, True), (229.0, False)])
def test_currents_against_circular_mils(current: float, holds: bool) -> None:
    """A hundredth over is let pass; more must be told by a finding about wires."""
    wire = plan().built.harness.wires[3]
    drop = wire.drop_v * current / wire.current_ma
    old = alone(4, current_ma=current, drop_v=drop)
    told = [p for p in problems(check_conductors, old.built, ()) if "bears" in p.message]
    assert (told == []) is holds
    caution = replace(SOUND, severity="caution")
    assert not [p for p in problems(check_conductors, old.built, (caution,)) if "bears" in p.message]
    other = replace(caution, subject="pins")
    told = [p for p in problems(check_conductors, old.built, (SOUND, other)) if "bears" in p.message]
    assert (told == []) is holds


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"drop_v": 1.05 * plan().built.harness.wires[3].drop_v + 3e-5}, "are lost at 10 mA; copper says"),
        ({"drop_v": 0.95 * plan().built.harness.wires[3].drop_v - 3e-5}, "are lost at 10 mA; copper says"),
        ({"awg": 61}, "is no gauge"),
        ({"colour": "XX"}, "no colour code"),
        ({"role": "signal"}, "its net is ground"),
        ({"cut_mm": plan().built.harness.wires[3].cut_mm + 5}, "is cut"),
        ({"cut_mm": plan().built.harness.wires[3].cut_mm - 5}, "is cut"),
        ({"cut_mm": plan().built.harness.wires[3].cut_mm + 1}, "rounded up to 5 mm"),
    ],
)
def test_what_is_said_of_one_wire(change: dict[str, object], words: str) -> None:
    """Each figure of a wire that ends at a pin and a splice."""
    assert problems(check_conductors, alone(4).built, ()) == ()
    told = problems(check_conductors, alone(4, **change).built, ())
    assert any(words in problem.message for problem in told), told


@pytest.mark.parametrize(
    "what", ["not taut", "stripping", "splice overlap", "bends", "lead-out", "service loop"]
)
@pytest.mark.parametrize("by", [-0.3, 0.3])
def test_each_allowance_is_worked_out_again(what: str, by: float) -> None:
    """0.3 mm more or less of each; a service loop may be longer, and no allowance is negative."""
    old = alone(4)
    (wire,) = old.built.harness.wires
    said = dict(wire.allowances)
    said[what] = said.get(what, 0.0) + by
    told = problems(check_conductors, wire_with(old, 4, allowances=tuple(said.items())).built, ())
    if what == "service loop" and by > 0:
        assert told == ()
    else:
        assert any(what in p.message for p in told), told
    if said[what] < 0:
        assert any("an allowance below nothing" in p.message for p in told)


def test_ends_are_stripped_as_the_train_asks() -> None:
    """4 mm at a pin, 8 mm at a splice."""
    (wire,) = alone(4).built.harness.wires
    told = problems(check_conductors, alone(4, start=replace(wire.start, strip_mm=5.0)).built, ())
    assert [(p.message, p.figure) for p in told] == [("is stripped 5 mm at cell minus; 4 mm are asked", 1.0)]
    told = problems(check_conductors, alone(4, end=replace(wire.end, strip_mm=6.0)).built, ())
    assert [p.figure for p in told] == [2.0]


def with_currents(current: float, given: float = 0.0, role: str = "supply", live: bool = True) -> Plan:
    """A supply net from the cell to the lamp, which draws 30 mA on average and 40 at most, at half duty."""
    pin = Pin("V", "supply", (6, 4, 3), "+x")
    lamp = replace(LAMP, pins=(pin, LAMP.pins[1]), electrical=(Load(3.0, 12.0, 30.0, 40.0),))
    old = needs_with(placed_with(plan(), "lamp", part=lamp), "lamp", duty=0.5)
    old = placed_with(old, "cell", part=LIVE_CELL if live else CELL)
    wire = replace(old.built.harness.wires[0], net="feed", role=role, current_ma=current, colour="RD")
    net = Net("feed", "supply", (PinRef("cell", "plus"), PinRef("lamp", "V")), current_ma=given)
    ground = Net("ground", "ground", (PinRef("cell", "minus"), PinRef("lamp", "GND")))
    drop = wire.drop_v * current / 10.0
    old = harness_with(
        old, wires=(replace(wire, drop_v=drop),), stretches=(), crossings=old.built.harness.crossings
    )
    return train_with(old, nets=(net, ground))


@pytest.mark.parametrize(
    ("current", "given", "words"),
    [
        (15.0, 0.0, ""),
        (14.7, 0.0, "the loads on it draw 15 mA"),
        (40.0, 40.2, ""),
        (40.0, 41.0, "the train file says 41 mA"),
        # Four times the 70 mA of the lamp and 10 mA of everything else.
        (319.0, 0.0, ""),
        (321.0, 0.0, "everything together cannot draw more than 320 mA"),
    ],
)
def test_currents_of_supply_nets(current: float, given: float, words: str) -> None:
    """No less than the loads draw, no more than all could, and what the user gave."""
    caution = replace(SOUND, severity="caution")
    told = [
        p.message
        for p in problems(check_conductors, with_currents(current, given).built, (caution,))
        if p.subject == "net"
    ]
    assert [words in text for text in told] == ([True] if words else [])


def test_what_nothing_feeds_draws_nothing() -> None:
    """A cell without volts drives no current, though the lamp's label names one."""
    for live, told in ((True, 1), (False, 0)):
        found = problems(check_conductors, with_currents(0.0, live=live).built, ())
        assert len([one for one in found if "the loads on it draw" in one.message]) == told


def test_wires_of_a_net_are_alike_and_ground_looks_like_nothing_else() -> None:
    """Colours, gauges and currents of one net; two nets side by side."""
    for change, words in (
        ({"colour": "BN"}, "several colours"),
        ({"awg": 26}, "several gauges"),
        ({"current_ma": 11.0}, "several currents"),
    ):
        told = problems(check_conductors, wire_with(plan(), 2, **change).built, ())
        assert any(words in p.message for p in told)
    told = problems(check_conductors, wire_with(plan(), 1, colour="BK").built, ())
    assert any("which is ground" in p.message for p in told)
    assert [p.where for p in told if "run side by side" in p.message] == ["B1"]
    both = wire_with(wire_with(plan(), 1, colour="BK", sleeved=True), 3, sleeved=True)
    assert any("which is ground" in p.message for p in problems(check_conductors, both.built, ()))


def bent(*rows: LegBends, **wires: object) -> Plan:
    old = plan()
    return harness_with(old, facts=replace(old.built.harness.facts, bends=rows))


CORNER = LegBends(4, "loco", 1.0, 1, 2.0, (13.0, 33.0, 23.0), 2.0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outer_mm": 1.1}, "is told to be 1.1 mm thick, and is 1"),
        ({"corners": 2}, "turns at 2 corners; its way has 1"),
        ({"corners": -1}, "turns at -1 corners"),
        ({"at": (12.9, 33.0, 23.0)}, "told 0.1 mm beside its way"),
        ({"tightest_mm": -1.0}, "room for less than nothing"),
        ({"at_end_mm": -1.0}, "room for less than nothing"),
    ],
)
def test_rows_of_bends(change: dict[str, object], words: str) -> None:
    """One wire of one corner, told truly, and each figure of it wrong."""
    old = alone(4)
    facts = replace(old.built.harness.facts, bends=(CORNER,))
    assert problems(check_bends, harness_with(old, facts=facts).built) == ()
    near = replace(CORNER, at=(12.995, 33.0, 23.0), corners=0)
    assert problems(check_bends, harness_with(old, facts=replace(facts, bends=(near,))).built) == ()
    facts = replace(facts, bends=(replace(CORNER, **change),))  # type: ignore[arg-type]
    only(check_bends, harness_with(old, facts=facts).built, words=words)
    twice = replace(facts, bends=(CORNER, CORNER))
    only(check_bends, harness_with(old, facts=twice).built, words="are told twice")
    elsewhere = replace(facts, bends=(replace(CORNER, vehicle="wagon"),))
    assert len(problems(check_bends, harness_with(old, facts=elsewhere).built)) == 2


def test_sleeves_are_borne_by_nets_that_are_told_to_be_alike() -> None:
    """A net told alike in a colour bears sleeves and has that colour."""
    old = plan()
    facts = replace(old.built.harness.facts, alike=(("ground", "light", "BK"),))
    told = problems(check_bends, harness_with(old, facts=facts).built)
    assert sum("bears no sleeves" in p.message for p in told) == 4
    assert sum("is told to be BK as light is, and is not" in p.message for p in told) == 1
    only(check_bends, wire_with(old, 1, sleeved=True).built, words="bears sleeves, and its colour says")
    same = harness_with(old, facts=facts)
    for number in range(1, 5):
        same = wire_with(same, number, sleeved=True, colour="BK")
    assert problems(check_bends, same.built) == ()


def with_stretch(**changes: object) -> Plan:
    one, two = plan().built.harness.stretches
    return harness_with(plan(), stretches=(replace(one, **changes), two))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"name": "B2"}, "two stretches have this name"),
        ({"name": " "}, "has no name"),
        ({"wires": (1, 1, 3)}, "names a wire twice"),
        ({"wires": (1, 3), "points": ()}, "has no wires or no way"),
        ({"wires": (9,)}, "has no wires or no way"),
        ({"diameter_mm": 2.11}, "2.00 mm hold its wires"),
        ({"port": "side door"}, "which is no port there"),
        ({"port": "front hole"}, "does not go through front hole"),
        ({"points": ((12.0, 24.0, 52.2), (0.4, 24.0, 22.0))}, "mm beside wire"),
    ],
)
def test_stretches(change: dict[str, object], words: str) -> None:
    """Names, wires, thickness, port and way."""
    assert problems(check_bundles, with_stretch(diameter_mm=2.09).built) == ()
    told = problems(check_bundles, with_stretch(**change).built)
    assert any(words in problem.message for problem in told), told


def test_long_legs_are_counted_in_stretches() -> None:
    """A wire of more than 60 mm in a vehicle is in a stretch there, if there are any."""
    one, two = plan().built.harness.stretches
    told = problems(
        check_bundles, harness_with(plan(), stretches=(one, replace(two, wires=(1,), diameter_mm=1.4))).built
    )
    assert told == ()  # 49.7 mm in the wagon
    wire: Wire = next(w for w in plan().built.harness.wires if w.number == 3)
    way = ((79.6, 24.0, 22.0), (19.0, 24.0, 22.0))
    legs = (wire.legs[0], replace(wire.legs[1], points=way))
    far = wire_with(
        harness_with(plan(), stretches=(one, replace(two, wires=(1,), diameter_mm=1.4))), 3, legs=legs
    )
    only(check_bundles, far.built, words="is in no stretch of wagon")
    assert problems(check_bundles, harness_with(far, stretches=()).built) == ()


def test_cells_count_in_the_balance() -> None:
    """Two cells of 11.5 g in the holder, 9 mm left of the middle: 207 g·mm more."""
    pack = CellPack("alkaline", "LR6", 2, 2200.0, 0.15, 1000.0, cell_mass_g=11.5)
    part = replace(plan().built.placements[1].part, electrical=(pack,))
    heavy = (252.0 + 5.0) / 19.0
    said = replace(CHOSEN, mass_off_balance_g=heavy, score=SCORE + 0.1 * (heavy - BALANCE))
    old = replace(placed_with(plan(), "cell", part=part), options=(said,))
    assert notes(check_choice, old) == ()
    assert (
        len(notes(check_choice, replace(old, options=(replace(said, mass_off_balance_g=heavy * 1.21),)))) == 1
    )
