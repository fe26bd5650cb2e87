"""Trains that are wired wrongly, each with one stop of its own, and rightly wired ones without any."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from fitplan.checks import run_unplaced_checks
from fitplan.checks.nets import WORDS, check_nets
from fitplan.circuit.fault_kinds import Fault, FaultKind
from fitplan.circuit.faults import net_faults
from fitplan.cli import app
from fitplan.files.catalogue import read_catalogue
from fitplan.files.starter import write_starter
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.nets import Net
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import need, net, train

CATALOGUE = read_catalogue()


def part(name: str, id: str) -> Need:
    return need(name, CATALOGUE[id])


GOOD_NEEDS = (
    part("cells", "cells-aa-4"),
    part("switch", "switch-slide-small"),
    part("lift", "regulator-step-up-down-5v"),
    part("brain", "controller-compact-5v"),
    part("eyes", "ranger-two-eyed"),
    part("tail eyes", "ranger-two-eyed"),
    part("lamp", "lamp-3mm"),
)
GOOD_NETS = (
    net("ground", "ground", "cells.minus", "lift.GND", "brain.GND", "eyes.GND", "tail eyes.GND", "lamp.GND"),
    net("raw", "supply", "cells.plus", "switch.a"),
    net("on", "supply", "switch.b", "lift.in"),
    net("five", "supply", "lift.out", "brain.5v", "eyes.VCC", "tail eyes.VCC"),
    net("trigger", "signal", "brain.*", "eyes.TRIG", "tail eyes.TRIG"),
    net("echo", "signal", "brain.*", "eyes.ECHO"),
    net("tail echo", "signal", "brain.*", "tail eyes.ECHO"),
    net("light", "signal", "brain.*", "lamp.IN"),
)


def changed(
    *nets: Net, without: Iterable[str] = (), needs: Iterable[Need] = (), drop: Iterable[str] = ()
) -> Train:
    """The good train with some nets replaced or added, and some left out; parts likewise."""
    new = {one.name: one for one in nets}
    kept = [new.pop(one.name, one) for one in GOOD_NETS if one.name not in set(without)]
    extra = {one.name: one for one in needs}
    parts = [extra.pop(one.name, one) for one in GOOD_NEEDS if one.name not in set(drop)]
    return train([*parts, *extra.values()], [*kept, *new.values()], catalogue=CATALOGUE)


def lacking(name: str, *labels: str) -> Net:
    """A good net without some of its pins."""
    old = next(one for one in GOOD_NETS if one.name == name)
    return replace(old, joins=tuple(r for r in old.joins if f"{r.owner}.{r.pin}" not in labels))


def adding(name: str, *labels: str) -> Net:
    old = next(one for one in GOOD_NETS if one.name == name)
    return replace(old, joins=(*old.joins, *net("x", "signal", *labels).joins))


def kinds(made: Train) -> set[FaultKind]:
    return {fault.kind for fault in net_faults(made, {})}


def findings(made: Train, severity: str = "stop") -> list[Finding]:
    outcome = check_nets(BuiltTrain(made, (), Harness(), ()))
    return [one for one in outcome.findings if one.severity == severity]


def test_the_good_train_has_no_fault() -> None:
    """Four AA, a switch, a regulator, a board, two rangers and a lamp: nothing to say."""
    assert net_faults(changed(), {}) == ()


WRONG: dict[str, tuple[FaultKind, Callable[[], Train]]] = {
    "no ground at all": ("no ground", lambda: changed(without=["ground"])),
    "a part without ground": ("part without ground", lambda: changed(lacking("ground", "eyes.GND"))),
    "a part without supply": ("part without supply", lambda: changed(lacking("five", "eyes.VCC"))),
    "a board at a rail that it only gives": (
        "regulator feeds nobody",
        lambda: changed(
            lacking("five", "brain.5v"),
            net("three", "supply", "low.plus", "brain.3v3"),
            adding("on", "low.in"),
            adding("ground", "low.ground"),
            needs=[part("low", "regulator-linear-3v3")],
        ),
    ),
    "two grounds that never meet": (
        "grounds apart",
        lambda: changed(
            lacking("ground", "eyes.GND", "lamp.GND"), net("other ground", "ground", "eyes.GND", "lamp.GND")
        ),
    ),
    "two different voltages in one net": (
        "different volts",
        lambda: changed(
            adding("five", "block.plus"),
            adding("ground", "block.minus"),
            needs=[part("block", "cells-9v-block")],
        ),
    ),
    "an output and a supply in one net": (
        "output on supply",
        lambda: changed(adding("five", "eyes.ECHO"), without=["echo"]),
    ),
    "a regulator's output on its input": (
        "different volts",
        lambda: changed(adding("on", "lift.out"), lacking("five", "lift.out")),
    ),
    "a driver whose logic is not fed": (
        "supply pin open",
        lambda: changed(
            adding("on", "drive.VM"),
            adding("ground", "drive.GND"),
            needs=[part("drive", "driver-dual-small")],
        ),
    ),
    "a regulator turned round": (
        "fed at its output",
        lambda: changed(
            net("on", "supply", "switch.b", "lift.out"),
            net("five", "supply", "lift.in", "brain.5v", "eyes.VCC", "tail eyes.VCC"),
        ),
    ),
    "a regulator beside the one that feeds its net": (
        "fed at its output",
        lambda: changed(
            adding("five", "more.out"),
            adding("ground", "more.GND"),
            needs=[part("more", "regulator-step-up-down-5v")],
        ),
    ),
    "both ends of the switch in one net": (
        "switch bypassed",
        lambda: changed(
            net("raw", "supply", "cells.plus", "switch.a", "switch.b", "lift.in"), without=["on"]
        ),
    ),
    "a wire round the switch": ("switch bypassed", lambda: changed(adding("raw", "lift.in"))),
    "a switch joined at one end": (
        "switch open",
        lambda: changed(net("raw", "supply", "cells.plus", "switch.a", "lift.in"), without=["on"]),
    ),
    "a switch left out": (
        "part without wire",
        lambda: changed(net("raw", "supply", "cells.plus", "lift.in"), without=["on"]),
    ),
    "cells the wrong way round": (
        "polarity reversed",
        lambda: changed(
            net("raw", "supply", "cells.minus", "switch.a"),
            replace(
                lacking("ground", "cells.minus"),
                joins=(*net("x", "ground", "cells.plus").joins, *lacking("ground", "cells.minus").joins),
            ),
        ),
    ),
    "a ranger the wrong way round": (
        "polarity reversed",
        lambda: changed(
            net("five", "supply", "lift.out", "brain.5v", "eyes.GND", "tail eyes.VCC"),
            net(
                "ground",
                "ground",
                "cells.minus",
                "lift.GND",
                "brain.GND",
                "eyes.VCC",
                "tail eyes.GND",
                "lamp.GND",
            ),
        ),
    ),
    "plus on minus": ("source shorted", lambda: changed(adding("ground", "cells.plus"), without=["raw"])),
    "plus on minus through the switch": (
        "source shorted",
        lambda: changed(adding("ground", "switch.b"), without=["on"]),
    ),
    "outputs shorted": (
        "outputs shorted",
        lambda: changed(
            net("echo", "signal", "brain.*", "eyes.ECHO", "tail eyes.ECHO"), without=["tail echo"]
        ),
    ),
    "two pins of the board in one net": (
        "outputs shorted",
        lambda: changed(net("light", "signal", "brain.D3", "brain.D5", "lamp.IN")),
    ),
    "trigger on echo": (
        "trigger on echo",
        lambda: changed(
            net("trigger", "signal", "brain.*", "eyes.TRIG", "eyes.ECHO", "tail eyes.TRIG"), without=["echo"]
        ),
    ),
    "a signal on ground": (
        "signal on ground",
        lambda: changed(adding("ground", "lamp.IN"), without=["light"]),
    ),
    "a ground in a signal": (
        "ground pin on signal",
        lambda: changed(adding("light", "lamp.GND"), lacking("ground", "lamp.GND")),
    ),
    "a part with no wire at all": (
        "part without wire",
        lambda: changed(needs=[part("horn", "sounder-12mm")]),
    ),
    "a net joined to nothing": (
        "net joins nothing",
        lambda: changed(net("loose", "signal", "lamp.IN"), without=["light"]),
    ),
    "a net that nothing feeds": (
        "net without source",
        lambda: changed(
            net("spare", "supply", "rail.P1", "strip.P1"),
            needs=[part("rail", "junction-one-rail"), part("strip", "junction-one-rail")],
        ),
    ),
    "a signal that nobody sends": (
        "signal without sender",
        lambda: changed(net("trigger", "signal", "eyes.TRIG", "tail eyes.TRIG")),
    ),
    "a supply that feeds nobody": (
        "supply feeds nobody",
        lambda: changed(
            net("spare", "supply", "block.plus", "rail.P1"),
            adding("ground", "block.minus"),
            needs=[part("block", "cells-9v-block"), part("rail", "junction-one-rail")],
        ),
    ),
    "two packs side by side": (
        "sources in parallel",
        lambda: changed(
            adding("raw", "more.plus"), adding("ground", "more.minus"), needs=[part("more", "cells-aa-4")]
        ),
    ),
    "unlike cells in series": (
        "series of unlike cells",
        lambda: changed(
            net("middle", "supply", "cells.minus", "more.plus"),
            replace(
                lacking("ground", "cells.minus"),
                joins=(*net("x", "ground", "more.minus").joins, *lacking("ground", "cells.minus").joins),
            ),
            needs=[part("cells", "cells-aa-2"), part("more", "cells-aaa-2")],
        ),
    ),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_train_is_stopped(case: str) -> None:
    """Each is a stop of its kind with one sentence and one remedy, and the command ends with 1 for it."""
    kind, make = WRONG[case]
    made = make()
    assert kind in kinds(made)
    stops = findings(made)
    assert len({one.message for one in stops}) == len(stops)
    for one in stops:
        assert one.message.strip()
        assert one.remedy.strip()
        assert one.figure != one.limit
    outcomes = run_unplaced_checks(made)
    assert any(one.severity == "stop" for outcome in outcomes for one in outcome.findings)


def test_a_regulator_without_an_input_is_not_to_be_turned_round() -> None:
    """Where its input is in no net there is nothing to exchange."""
    beside, turned = (
        [one.remedy for one in findings(WRONG[case][1]()) if "fed at its output" in one.message]
        for case in ("a regulator beside the one that feeds its net", "a regulator turned round")
    )
    assert beside == ["join more.in to what is to feed it, or leave more out: the net five is fed already"]
    assert turned == ["exchange the nets at input and output of lift"]


def test_every_kind_of_fault_has_words() -> None:
    """No kind of fault is without a sentence, and each sentence names its owner or its net."""
    for kind, words in WORDS.items():
        fault = Fault(kind, ("one", "other"), ("net a", "net b"), ("one.x", "other.y"), 2.0, 1.0)
        said = words.says(fault)
        assert "one" in said or "net a" in said, kind
        assert words.remedy(fault), kind


# What is fed too high: (cells, pin) and the volts that are told, by arithmetic from 1.68 V and 4.2 V a cell.
TOO_HIGH = [
    ("cells-9v-block", "controller-wireless-small", "3v3", 6 * 1.68),
    ("cells-9v-block", "controller-compact-5v", "5v", 6 * 1.68),
    ("cells-18650-2", "controller-compact-5v", "5v", 2 * 4.2),
    ("cells-aa-4", "controller-compact-5v", "5v", 4 * 1.68),
    ("pouch-503035", "controller-two-core-3v3", "3v3", 4.2),
    ("cells-9v-block", "controller-two-core-3v3", "D4", 6 * 1.68),
    ("cells-aa-4", "controller-wireless-thumb", "raw", 4 * 1.68),
]


@pytest.mark.parametrize(("supply", "board", "pin", "volts"), TOO_HIGH)
def test_too_many_volts_are_a_stop(supply: str, board: str, pin: str, volts: float) -> None:
    """Fresh cells above a pin's absolute maximum are a stop that tells both figures."""
    made = train(
        [part("cells", supply), part("brain", board)],
        [
            net("ground", "ground", "cells.minus", "brain.GND"),
            net("supply", "supply", "cells.plus", f"brain.{pin}"),
        ],
    )
    (fault,) = [one for one in net_faults(made, {}) if one.kind == "too many volts"]
    assert fault.figure == pytest.approx(volts, abs=0.005)
    assert fault.figure > fault.limit
    assert "too many volts" in kinds(made)
    assert any("destroyed" in one.message for one in findings(made))


def test_a_step_up_lets_high_volts_through() -> None:
    """Four AA at a step-up's input reach the 5 V rail behind it; two do not."""
    lift = part("lift", "regulator-step-up-5v")
    four = changed(needs=[lift])
    fed = {fault.pins for fault in net_faults(four, {}) if fault.kind == "too many volts"}
    assert {("lift.in",), ("brain.5V",), ("eyes.VCC",)} <= fed
    assert "too many volts" not in kinds(changed(needs=[lift, part("cells", "cells-aa-2")]))


def test_nimh_at_the_five_volt_pin_is_a_caution() -> None:
    """Four full NiMH cells give 5.8 V: above the range of a 5 V rail, below its absolute maximum of 6 V."""
    made = train(
        [part("cells", "cells-aa-4-stack-nimh"), part("brain", "controller-compact-5v")],
        [
            net("ground", "ground", "cells.minus", "brain.GND"),
            net("supply", "supply", "cells.plus", "brain.5v"),
        ],
    )
    assert findings(made) == []
    (caution,) = findings(made, "caution")
    assert (caution.figure, caution.limit) == (5.8, 5.5)


def test_like_cells_in_series_are_understood() -> None:
    """Two holders of two AA in series feed the train as four AA do."""
    series = changed(
        net("middle", "supply", "cells.minus", "more.plus"),
        replace(
            lacking("ground", "cells.minus"),
            joins=(*net("x", "ground", "more.minus").joins, *lacking("ground", "cells.minus").joins),
        ),
        needs=[part("cells", "cells-aa-2"), part("more", "cells-aa-2")],
    )
    assert net_faults(series, {}) == ()

    def hours(made: Train) -> float:
        outcome = next(one for one in run_unplaced_checks(made) if one.subject == "supply")
        return next(one.figure for one in outcome.findings if "runs for" in one.message)

    assert hours(series) == pytest.approx(hours(changed()))


WIRED_BACKWARDS = """\
train: Backwards
vehicles: [{name: railcar, file: railcar.yaml}]
needs:
  - {name: brain, part: controller-stamp-5v}
  - {name: cells, part: cells-aa-2}
nets:
  - {name: ground, role: ground, joins: [cells.plus, brain.GND]}
  - {name: plus, role: supply, joins: [cells.minus, brain.VIN]}
track: {radius: 40 studs}
running: {speed: 300, push pull: no}
"""


@pytest.mark.parametrize("command", ["check", "plan"])
def test_the_commands_end_with_1(command: str, tmp_path: Path) -> None:
    """Cells the wrong way round: both commands say so and end with 1."""
    write_starter(tmp_path / "train")
    file = tmp_path / "train" / "train.yaml"
    file.write_text(WIRED_BACKWARDS, encoding="utf-8")
    result = CliRunner().invoke(app, [command, str(file), "--json"])
    assert result.exit_code == 1
    assert "plus and minus exchanged" in result.stdout
