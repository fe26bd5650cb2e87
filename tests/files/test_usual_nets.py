"""The usual wiring against what somebody wrote by hand: the same pins joined, in examples and starter."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from fitplan.circuit.faults import net_faults
from fitplan.circuit.nodes import read_circuit
from fitplan.circuit.protection import protection_of
from fitplan.circuit.supply import build_supply
from fitplan.cli import app
from fitplan.errors import InputError
from fitplan.files.catalogue import examples_folder, read_catalogue
from fitplan.files.find import find_train
from fitplan.files.read import read_train
from fitplan.files.starter import write_starter
from fitplan.files.usual_nets import usual_nets
from fitplan.files.usual_owners import NotUsualError
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack, MotorDriver, Regulator
from fitplan.model.nets import Net, PinRef
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from fitplan.verify.switched_on import check_switched_on
from tests.files.usual_trains import wired_as_usual
from tests.files.written_nets import WRITTEN
from tests.verify.lies import problems


def without_nets(text: str, instead: str = "usual nets: yes") -> str:
    """A train file's text with what it says of its nets replaced."""
    bare = re.sub(r"(?m)^nets:.*\n(?:[ #-].*\n|\n(?=  ))*", "", text)
    return re.sub(r"(?m)^usual nets: yes.*\n", lambda _: instead + "\n", bare)


def groups(train: Train) -> set[frozenset[tuple[str, str]]]:
    """Which pins are joined, names of nets aside; a pin by its name, or by its role where it was said so."""
    needs = {need.name: need for need in train.needs}

    def pin(ref: PinRef) -> tuple[str, str]:
        part = needs[ref.owner].candidates[0] if ref.owner in needs else None
        named = next((one for one in part.pins if ref.pin in (one.name, one.role)), None) if part else None
        return ref.owner, ref.pin if named is None or named.role == "signal" else named.role + named.name

    return {frozenset(pin(ref) for ref in net.joins) for net in train.nets}


def copied(name: str, folder: Path) -> Path:
    target = folder / name
    if name == "starter":
        write_starter(target)
    else:
        shutil.copytree(examples_folder() / name, target)
    return target / "train.yaml"


@pytest.mark.parametrize("name", ["harbour-line", "boiler-loco", "narrow-crane-wagon", "starter"])
def test_usual_nets_are_those_that_were_written(name: str, tmp_path: Path) -> None:
    """``usual nets: yes`` joins the pins that were joined by hand."""
    path = copied(name, tmp_path)
    short = path.read_text(encoding="utf-8")
    derived = read_train(path)
    path.write_text(without_nets(short, WRITTEN[name]), encoding="utf-8")
    written = read_train(path)
    assert "usual nets: yes" in short
    assert "usual nets" not in path.read_text(encoding="utf-8")
    assert groups(derived) == groups(written)


def test_what_is_written_comes_first(tmp_path: Path) -> None:
    """A lamp that is wired to the raw supply by hand gets no signal of its own; the rest is as usual."""
    path = copied("clay-run", tmp_path)
    own = "usual nets: yes\nnets: [{name: light, role: signal, joins: [brain.D9, front eyes.TRIG]}]"
    path.write_text(without_nets(path.read_text(encoding="utf-8"), own), encoding="utf-8")
    nets = {net.name: {f"{ref.owner}.{ref.pin}" for ref in net.joins} for net in read_train(path).nets}
    assert nets["light"] == {"brain.D9", "front eyes.TRIG"}
    assert not any("front eyes.TRIG" in joins for name, joins in nets.items() if name != "light")
    assert nets["front eyes echo"] == {"brain.*", "front eyes.ECHO"}


def test_two_supplies_are_not_usual(tmp_path: Path) -> None:
    """Which of two supplies feeds what is for the user to say: one mistake, at the key's line."""
    path = copied("clay-run", tmp_path)
    text = without_nets(path.read_text(encoding="utf-8"))
    text = text.replace("needs:\n", "needs:\n  - {name: spare, part: bank-stick, in: [wagon]}\n")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_train(path)
    (mistake,) = caught.value.mistakes
    assert "2 parts that are a supply (spare, bank)" in mistake.found
    assert text.splitlines()[mistake.line - 1].startswith("usual nets")


def test_parts_of_a_bus_share_two_pins() -> None:
    """Every ranger of the catalogue that speaks on a bus: two of them join the same data and clock nets."""
    catalogue = read_catalogue()
    bus = [part for part in catalogue.values() if any("data" in pin.wants for pin in part.pins)]
    assert bus
    for part in bus:
        parts = {
            "brain": [catalogue["controller-compact-5v"]],
            "cells": [catalogue["cells-aa-4"]],
            "one": [part],
            "two": [part],
        }
        nets = {net.name: net.joins for net in usual_nets(parts)}
        for word in ("data", "clock"):
            owners = [join.split(".")[0] for join in nets[f"bus {word}"]]
            assert owners == ["brain", "one", "two"]


def test_a_bank_feeds_the_board_by_its_lead(tmp_path: Path) -> None:
    """Without its one written net, the clay run has the same nets, the lead among them."""
    path = copied("clay-run", tmp_path)
    text = path.read_text(encoding="utf-8")
    bare = re.sub(r"(?m)^nets:\n(  - .*\n)+", "", text)
    assert bare != text
    wanted = {(net.name, net.lead, frozenset(net.joins)) for net in read_train(path).nets}
    path.write_text(bare, encoding="utf-8")
    assert {(net.name, net.lead, frozenset(net.joins)) for net in read_train(path).nets} == wanted
    assert CliRunner().invoke(app, ["write-out", str(path)]).exit_code == 0
    assert {(net.name, net.lead, frozenset(net.joins)) for net in read_train(path).nets} == wanted


@pytest.mark.parametrize(
    ("board", "rail"), [("controller-compact-5v", "5V"), ("controller-two-core-3v3", "3V3")]
)
def test_of_several_regulators_the_boards_volts_are_usual(board: str, rail: str) -> None:
    """Any regulator of the catalogue may serve, whichever stands first: it feeds the board's own rail."""
    catalogue = read_catalogue()
    regulators = [part for part in catalogue.values() if part.family == "regulator"]
    assert {one.figure(Regulator).out_v for one in regulators} >= {3.3, 5.0}  # type: ignore[union-attr]
    for turn in range(0, len(regulators), 3):
        parts = {
            "brain": [catalogue[board]],
            "cells": [catalogue["cells-aa-4"]],
            "lift": [*regulators[turn:], *regulators[:turn]],
        }
        fed = next(net.joins for net in usual_nets(parts) if "lift.plus" in net.joins)
        assert f"brain.{rail}" in fed


def _joined(parts: dict[str, list[str]]) -> list[set[str]]:
    catalogue = read_catalogue()
    nets = usual_nets({name: [catalogue[one] for one in some] for name, some in parts.items()})
    return [set(net.joins) for net in nets]


@pytest.mark.parametrize("turned", [False, True])
def test_of_boards_the_one_that_bears_what_is_sent_speaks(turned: bool) -> None:
    """A ranger of 4.5 V and more sends its level to the board: one of 5 V logic bears it, one of 3.3 V not.

    Whichever stands first, the nets are those of the 5 V board; without such a ranger the first one speaks.
    """
    boards = ["controller-compact-5v", "controller-wireless-small"]
    parts = {"brain": boards[:: -1 if turned else 1], "bank": ["bank-stick"]}
    assert {"bank.plus", "brain.5v", "eyes.VCC"} in _joined({**parts, "eyes": ["ranger-two-eyed"]})
    fed = next(joins for joins in _joined(parts | {"lights": ["lamp-strip"]}) if "bank.plus" in joins)
    assert fed == {"bank.plus", "brain.raw" if turned else "brain.5v", "lights.VCC"}
    # An emitter of 20 mA hangs on a pin: the one board's give 12 mA, the other's 20 and more.
    assert {"bank.plus", "brain.5v"} in _joined(parts | {"emitter": ["emitter-5mm"]})


@pytest.mark.parametrize("lift", ["regulator-step-up-down-5v", "regulator-step-up-down-3v3"])
def test_what_no_rail_suits_is_fed_ahead_of_the_board(lift: str) -> None:
    """A strip of lamps for 5 V beside a board that gives 3.3 V hangs at the regulator of 5 V; at 3.3 V never.

    Nor does it hang at cells, whose volts fall.
    """
    parts = {"brain": ["controller-wireless-small"], "cells": ["cells-aa-4"], "lights": ["lamp-strip"]}
    joins = _joined(parts | {"lift": [lift]})
    assert any({"lift.out", "lights.VCC"} <= some for some in joins) == (lift == "regulator-step-up-down-5v")
    assert not any("lights.VCC" in some for some in _joined(parts))


@pytest.mark.parametrize("cells", ["cells-aa-4", "cells-aa-2"])
@pytest.mark.parametrize("motors", [1, 2])
def test_drivers_are_fed_and_drive_the_motors(cells: str, motors: int) -> None:
    """A driver has its supply from cells that it bears, its logic from the rail, outputs in pairs."""
    catalogue = read_catalogue()
    tram = read_train(find_train("market-tram")).vehicle("tram").vehicle
    motor = next(built for built in tram.built_in if built.kind == "motor")
    carried = {f"tram/motor {order}": replace(motor, name=f"motor {order}") for order in range(motors)}
    drivers = [part for part in catalogue.values() if part.figure(MotorDriver) is not None]
    assert len(drivers) >= 3
    for driver in drivers:
        figures = driver.figure(MotorDriver)
        assert figures is not None
        parts = {
            "brain": [catalogue["controller-compact-5v"]],
            "cells": [catalogue[cells]],
            "lift": [catalogue["regulator-step-up-down-5v"]],
            "driver": [driver],
        }
        nets = {net.name: set(net.joins) for net in usual_nets(parts, motors=carried)}
        volts = 1.5 * int(cells[-1])
        supply = "cells plus" if figures.min_v <= volts else "five volts"
        assert "driver.VM" in nets[supply]
        driven = min(motors, figures.channels)
        for order, letter in zip(range(driven), "AB", strict=False):
            for end, pin in zip(("1", "2"), motor.pins, strict=True):
                assert nets[f"motor {order} {pin.name}"] == {
                    f"driver.{letter}{end}",
                    f"tram/motor {order}.{pin.name}",
                }
        assert f"motor {driven} {motor.pins[0].name}" not in nets
        joined = set().union(*nets.values())
        signals = {pin.name for pin in driver.pins if pin.role == "signal"}
        wanted = {name for name in signals if driven == 2 or "B" not in name.replace("STBY", "")}
        assert {name for name in signals if f"driver.{name}" in joined} == wanted
        logic = [pin.name for pin in driver.pins if pin.name == "VCC"]
        assert all(f"driver.{name}" in nets["five volts"] for name in logic)


def test_a_choice_of_drivers_is_wired_by_the_names_that_they_share() -> None:
    """Two drivers with the same pins: each input and output has its net; one with other pins is refused."""
    catalogue = read_catalogue()
    tram = read_train(find_train("market-tram")).vehicle("tram").vehicle
    motor = next(built for built in tram.built_in if built.kind == "motor")
    parts = {
        "brain": [catalogue["controller-compact-5v"]],
        "cells": [catalogue["cells-aa-4"]],
        "driver": [catalogue["driver-single"], catalogue["driver-dual-tiny"]],
        "switch": [catalogue["switch-slide"]],
    }
    nets = usual_nets(parts, motors={"tram/motor": motor})
    joins = [ref for net in nets for ref in net.joins if not ref.endswith(".*")]
    assert len(joins) == len(set(joins))
    assert {"driver.AIN1", "driver.AIN2", "driver.A1", "driver.A2", "driver.supply"} <= set(joins)
    parts["driver"].append(catalogue["driver-dual-small"])
    usual_nets(parts, motors={"tram/motor": motor})  # it has these pins as well
    parts["driver"].reverse()
    with pytest.raises(NotUsualError, match=r"driver-dual-small has a pin .* and driver-.* has none") as told:
        usual_nets(parts, motors={"tram/motor": motor})
    assert told.value.expected == "parts whose pins have the same names"


def test_without_a_controller_nothing_is_usual() -> None:
    catalogue = read_catalogue()
    with pytest.raises(NotUsualError, match="0 parts that are a controller"):
        usual_nets({"cells": [catalogue["cells-aa-4"]]})


@pytest.mark.parametrize(
    "own", ["", "nets:\n  - {name: light, role: signal, joins: [brain.D9, front eyes.TRIG]}\n"]
)
def test_written_out_the_nets_are_the_same(own: str, tmp_path: Path) -> None:
    """The command puts them into the file, keeps all else, and the train is the same as before."""
    path = copied("clay-run", tmp_path)
    path.write_text(without_nets(path.read_text(encoding="utf-8"), f"{own}usual nets: yes"), encoding="utf-8")
    before, text = read_train(path), path.read_text(encoding="utf-8")
    assert CliRunner().invoke(app, ["write-out", str(path)]).exit_code == 0
    after = path.read_text(encoding="utf-8")
    assert read_train(path).nets == before.nets
    kept = [line for line in text.splitlines() if not line.startswith("usual nets")]
    assert [line for line in after.splitlines() if line in kept] == kept
    assert CliRunner().invoke(app, ["write-out", str(path)]).exit_code != 0


_BESIDE = {"brain": "controller-small-5v", "eye": "sensor-time-of-flight", "driver": "driver-dual-tiny"} | {
    "cells": "cells-aaa-4",
    "lift": "regulator-step-up-down-5v",
    "switch": "switch-push",
}


def _beside(*written: str, role: str = "supply", **more: str) -> dict[str, set[str]]:
    """All nets of a small train in which some are written, as ``name: pin pin …``."""
    catalogue = read_catalogue()
    own = {}
    for text in written:
        name, _, pins = text.partition(": ")
        refs = tuple(PinRef(*pin.split(".")) for pin in pins.split())
        own[name] = Net(name, "ground" if name.startswith("ground") else role, refs)  # type: ignore[arg-type]
    parts = {name: [catalogue[part]] for name, part in (_BESIDE | more).items()}
    nets = {name: {f"{ref.owner}.{ref.pin}" for ref in net.joins} for name, net in own.items()}
    for net in usual_nets(parts, list(own.values())):
        assert net.written == (net.name in own)
        assert not nets.get(net.name, set()) & set(net.joins)
        nets[net.name] = nets.get(net.name, set()) | set(net.joins)
    assert sum(map(len, nets.values())) == len(set().union(*nets.values())) + sum(
        sum(pin == "brain.*" for pin in joins) - 1 for joins in [[p for n in nets.values() for p in n]]
    )
    return nets


def test_what_is_usual_joins_the_net_that_is_written() -> None:
    """A rail written for the motors feeds the sensor as well; before, its supply pin was in no net."""
    nets = _beside("five: lift.out brain.5V driver.VM")
    assert nets["five"] == {"lift.out", "brain.5V", "driver.VM", "eye.VCC"}
    assert "five volts" not in nets
    # Two sensors made a net of their own that nothing fed.
    nets = _beside("five: lift.out brain.5V driver.VM", tail="sensor-time-of-flight")
    assert {"eye.VCC", "tail.VCC"} <= nets["five"]
    # By one end of what is usual it is known again: the board and what it feeds join the regulator's net.
    assert _beside("five: lift.out driver.VM")["five"] == {"lift.out", "driver.VM", "brain.5V", "eye.VCC"}
    # A lamp at the board's rail brings the regulator there.
    nets = _beside("lit: brain.5V light.VCC", light="lamp-strip")
    assert nets["lit"] == {"brain.5V", "light.VCC", "lift.out", "eye.VCC"}


def test_a_board_fed_at_its_raw_pin_keeps_its_rail_apart() -> None:
    """What is written into the raw pin is not joined to the rail that the board's own regulator gives."""
    nets = _beside("raw: lift.out brain.VIN driver.VM")
    assert nets["raw"] == {"lift.out", "brain.VIN", "driver.VM"}
    assert {"brain.5V", "eye.VCC"} <= nets["five volts"]


def test_links_are_followed_as_they_are_written() -> None:
    """A fuse behind the switch, a switch turned round, one of another use: the motors hang behind both."""
    fused = {"fuse": "junction-resettable-fuse", "cells": "cells-aa-4"}
    nets = _beside("in: cells.plus switch.b", "mid: switch.a fuse.a", "out: fuse.b lift.in", **fused)
    assert nets["in"] == {"cells.plus", "switch.b"}
    assert nets["mid"] == {"switch.a", "fuse.a"}
    assert {"lift.in", "driver.VM"} <= nets["out"]
    nets = _beside("in: switch.a lift.in", cells="cells-aa-4")
    assert nets["in"] == {"switch.a", "lift.in", "driver.VM"}
    assert nets["cells plus"] == {"cells.plus", "switch.b"}
    # The cells, left to what is usual, come to the switch and not past it, whichever way it is turned.
    for near, far in ("ab", "ba"):
        nets = _beside(f"in: switch.{near} light.VCC", f"out: switch.{far} lift.in", light="lamp-strip")
        assert nets["in"] == {f"switch.{near}", "light.VCC", "cells.plus"}
        assert nets["out"] >= {f"switch.{far}", "lift.in"}
    # A switch that is written for a lamp alone is none of the cells'.
    nets = _beside("lit: brain.5V switch.a", "lamp: switch.b light.VCC", light="lamp-strip")
    assert nets["lit"] == {"brain.5V", "switch.a", "lift.out", "eye.VCC"}
    assert nets["lamp"] == {"switch.b", "light.VCC"}
    assert {"cells.plus", "lift.in"} <= nets["cells plus"]


def test_what_gives_volts_joins_no_net_that_has_them() -> None:
    """A rail that another regulator is written to feed does not get the usual one as well."""
    nets = _beside("five: other.out brain.5V", "more: other.in cells.plus", other="regulator-step-up-5v-tiny")
    assert "lift.out" not in nets["five"]
    assert nets["five"] >= {"other.out", "brain.5V", "eye.VCC"}


def test_a_regulator_of_another_use_is_not_in_the_way_to_the_board() -> None:
    """One of 3.3 V that is written to feed a lamp: the board hangs at that of 5 V, and both at the switch."""
    more = {"low": "regulator-step-up-down-3v3", "light": "lamp-strip"}
    nets = _beside("lamp: low.out light.VCC", **more)
    assert nets["lamp"] == {"low.out", "light.VCC"}
    assert {"switch.b", "low.in", "lift.in"} <= nets["switched"]
    assert {"lift.out", "brain.5V"} <= next(joins for joins in nets.values() if "brain.5V" in joins)


def test_grounds_and_buses_join_those_that_are_written() -> None:
    """One ground, though some of it is written; at a switch in it the board's; one bus for two sensors."""
    nets = _beside("ground of mine: cells.minus lift.GND")
    assert {"cells.minus", "lift.GND", "eye.GND", "driver.GND"} <= nets["ground of mine"]
    assert "ground" not in nets
    nets = _beside("ground in: cells.minus switch.a", "ground out: switch.b brain.GND2")
    assert nets["ground in"] == {"cells.minus", "switch.a"}
    assert {"brain.GND2", "eye.GND", "lift.GND"} <= nets["ground out"]
    assert nets["cells plus"] >= {"cells.plus", "lift.in"}
    nets = _beside("data: eye.SDA brain.A4", role="signal", tail="sensor-time-of-flight")
    assert nets["data"] == {"eye.SDA", "brain.A4", "tail.SDA"}
    nets = _beside("data: eye.SDA other.SDA", role="signal", other="sensor-time-of-flight")
    assert nets["data"] == {"eye.SDA", "other.SDA", "brain.*"}


def test_a_name_that_is_written_for_something_else_is_not_taken_twice() -> None:
    nets = _beside("bus data: driver.AIN1 brain.D5", role="signal")
    assert nets["bus data"] == {"driver.AIN1", "brain.D5"}
    assert nets["bus data 2"] == {"brain.*", "eye.SDA"}


def test_a_driver_fed_as_written_still_drives_the_motors() -> None:
    """Only channels whose outputs are written are taken, and their inputs are wanted."""
    catalogue = read_catalogue()
    tram = read_train(find_train("market-tram")).vehicle("tram").vehicle
    motor = next(built for built in tram.built_in if built.kind == "motor")
    parts = {name: [catalogue[part]] for name, part in _BESIDE.items()}
    fed = Net("five", "supply", (PinRef("lift", "out"), PinRef("brain", "5V"), PinRef("driver", "VM")))
    nets = usual_nets(parts, [fed], motors={"tram/motor": motor})
    assert {"driver.A1", "driver.A2", "driver.AIN1"} <= {pin for net in nets for pin in net.joins}
    ends = [
        Net(f"m{i}", "supply", (PinRef("driver", f"B{i}"), PinRef("tram/motor", f"m{i}"))) for i in (1, 2)
    ]
    joined = {
        pin for net in usual_nets(parts, [fed, *ends], motors={"tram/motor": motor}) for pin in net.joins
    }
    assert "driver.BIN1" in joined
    assert not {"driver.A1", "driver.B1"} & joined


@pytest.mark.parametrize(
    "own",
    [
        "nets:\n  - {name: five, role: supply, joins: [bank.plus, brain.5V]}  # mine\n",
        "nets:\n  - {name: five, role: supply, joins: ['bank.plus', \"brain.5V\"]}\n",
        "nets:\n  - name: five\n    role: supply\n    joins:\n      - bank.plus\n      - brain.5V  # mine\n",
        "nets:\n  - name: five\n    role: supply\n    joins: [bank.plus,\n      brain.5V]\n",
    ],
)
def test_written_out_a_written_net_gets_its_further_pins(own: str, tmp_path: Path) -> None:
    """However its list is written, it goes on as it stands, and the train is the same."""
    path = copied("clay-run", tmp_path)
    path.write_text(without_nets(path.read_text(encoding="utf-8"), f"{own}usual nets: yes"), encoding="utf-8")
    before = read_train(path)
    (five,) = (net for net in before.nets if net.name == "five")
    assert len(five.joins) > 2
    assert CliRunner().invoke(app, ["write-out", str(path)]).exit_code == 0
    assert read_train(path).nets == before.nets
    assert ("# mine" in own) == ("# mine" in path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("fuse", [False, True])
@pytest.mark.parametrize("board", ["controller-compact-5v", "controller-wireless-thumb"])
@pytest.mark.parametrize(
    "charger", ["charger-protected", "charger-protected-gentle", "charger-step-up-5v", "charger-plain"]
)
def test_a_charging_board_lies_between_bare_cells_and_train(charger: str, board: str, *, fuse: bool) -> None:
    """What the train draws passes its protection, at plus and at minus, as the check of safety asks.

    Before, ground joined the cells' minus past it, and a board without a step-up was in no supply net.
    """
    catalogue = read_catalogue()
    named = {"brain": board, "cell": "cells-18650-1", "charger": charger, "switch": "switch-slide"}
    named |= {"fuse": "junction-resettable-fuse"} if fuse else {}
    named |= {} if charger == "charger-step-up-5v" else {"lift": "regulator-step-up-5v-tiny"}
    parts = {name: catalogue[part] for name, part in named.items()}
    made = wired_as_usual(parts)
    circuit, supply = read_circuit(made, parts), build_supply(made, parts)
    (tree,) = supply.trees
    pack = parts["cell"].figure(CellPack)
    assert pack is not None
    lacks = "without protection" if charger == "charger-plain" else ""
    assert protection_of(circuit, parts, tree, pack).lack == lacks
    assert [fault.kind for fault in net_faults(made, parts) if fault.kind != "part without ground"] == []
    assert "brain" in {load.owner for load in tree.root.everything()}


@pytest.mark.parametrize("charger", ["charger-protected-gentlest", "charger-step-up-5v", "charger-plain"])
def test_a_receiver_coil_is_joined_to_the_charging_board(charger: str) -> None:
    """To the pin beside its socket; nothing of it reaches what feeds the train, and nothing is wrong."""
    catalogue = read_catalogue()
    named = {"brain": "controller-small-5v", "cell": "cells-18650-1", "charger": charger}
    named |= {"lift": "regulator-step-up-5v-tiny"} if charger != "charger-step-up-5v" else {}
    parts = {name: catalogue[part] for name, part in named.items()}
    bare, made = wired_as_usual(parts), wired_as_usual({**parts, "coil": catalogue["coil-receiver-small"]})
    (more,) = [net for net in made.nets if net.name not in {one.name for one in bare.nets}]
    assert {f"{ref.owner}.{ref.pin}" for ref in more.joins} == {"coil.plus", "charger.in"}
    (ground,) = [net for net in made.nets if PinRef("coil", "minus") in net.joins]
    assert PinRef("charger", "GND") in ground.joins
    assert net_faults(made, {}) == ()
    (tree,) = build_supply(made, {}).trees
    assert tree == build_supply(bare, {}).trees[0]
    built = BuiltTrain(made, (), Harness(), ())
    assert problems(check_switched_on, built, ()) == ()


@pytest.mark.parametrize("onto", ["cell", "out"])
def test_a_coil_at_the_cells_themselves_is_told(onto: str) -> None:
    """5 V straight onto a li-ion cell burn it: the charging board belongs between them."""
    catalogue = read_catalogue()
    named = {"brain": "controller-small-5v", "cell": "cells-18650-1", "charger": "charger-protected"}
    named |= {"lift": "regulator-step-up-5v-tiny"}
    parts = {name: catalogue[part] for name, part in named.items()}
    made = wired_as_usual({**parts, "coil": catalogue["coil-receiver-small"]})
    nets = tuple(
        replace(net, joins=(*net.joins, PinRef("coil", "plus")))
        if PinRef("charger", onto) in net.joins
        else replace(net, joins=tuple(ref for ref in net.joins if ref.pin != "in" and ref.owner != "coil"))
        if PinRef("charger", "in") in net.joins
        else net
        for net in made.nets
    )
    made = replace(made, nets=tuple(net for net in nets if net.joins))
    faults = [fault for fault in net_faults(made, {}) if "coil" in fault.owners]
    assert "different volts" in {fault.kind for fault in faults}
    told = problems(check_switched_on, BuiltTrain(made, (), Harness(), ()), ())
    assert any("give volts to one conductor" in one.message for one in told)
