"""Two controllers under `usual nets`: each part goes to the one in its vehicle, or that a net names."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.circuit.faults import net_faults
from fitplan.files.catalogue import read_catalogue
from fitplan.files.find import find_train
from fitplan.files.read import read_train
from fitplan.files.usual_nets import usual_nets
from fitplan.files.usual_owners import NotUsualError
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from tests.packing.small_trains import hollow, train_of

FIRST = {"brain": "controller-small-5v", "eye": "ranger-one-eyed", "cells": "cells-aa-4-stack"} | {
    "lift": "regulator-step-up-down-5v",
    "switch": "switch-slide",
}
SECOND = {"mind": "controller-stamp-5v", "lamp": "lamp-5mm", "strip": "lamp-strip"}
OWN = {"bank": "cells-aaa-4", "rise": "regulator-step-up-down-5v", "key": "switch-rocker"}
LOCO, COACH = frozenset({"loco"}), frozenset({"coach"})
TALK = Net("talk", "signal", (PinRef("brain", "D1"), PinRef("mind", "*")))


def homes(first: dict[str, str], second: dict[str, str]) -> dict[str, frozenset[str]]:
    return {**dict.fromkeys(first, LOCO), **dict.fromkeys(second, COACH)}


def wired(
    parts: dict[str, str], where: dict[str, frozenset[str]], *written: Net
) -> dict[str, frozenset[str]]:
    """All nets by name, each of its own pins, and nothing in them that the circuit finds wrong."""
    catalogue = read_catalogue()
    found = usual_nets({name: [catalogue[part]] for name, part in parts.items()}, written, homes=where)
    nets = {net.name: {f"{ref.owner}.{ref.pin}" for ref in net.joins} for net in written}
    roles = {net.name: net.role for net in (*written, *found)}
    for net in found:
        assert net.written or net.name not in nets
        nets.setdefault(net.name, set()).update(net.joins)
    own = [
        Net(name, roles[name], tuple(PinRef(*ref.rsplit(".", 1)) for ref in sorted(joins)))  # type: ignore[arg-type]
        for name, joins in nets.items()
    ]
    needs = tuple(Need(name, (catalogue[part],)) for name, part in parts.items())
    train = replace(train_of((hollow("loco", 20, 6, 12),), needs), nets=tuple(own))
    chosen = {name: catalogue[part] for name, part in parts.items()}
    assert [fault.kind for fault in net_faults(train, chosen)] == []
    return {name: frozenset(joins) for name, joins in nets.items()}


def test_two_controllers_share_a_supply() -> None:
    """One ground, one rail at both boards; each signal at the board in its vehicle."""
    nets = wired(FIRST | SECOND, homes(FIRST, SECOND))
    assert {"brain.GND2", "mind.GND", "eye.GND", "lamp.GND", "strip.GND", "cells.minus"} <= nets["ground"]
    assert nets["five volts"] == {"lift.out", "brain.5V", "mind.5V", "eye.VCC", "strip.VCC"}
    assert nets["eye echo"] == {"brain.*", "eye.ECHO"}
    assert nets["lamp"] == {"mind.*", "lamp.IN"}


def test_a_written_net_tells_whose_a_part_is() -> None:
    """In one vehicle, and though another vehicle would tell otherwise."""
    other = Net("echo", "signal", (PinRef("mind", "*"), PinRef("eye", "ECHO")))
    nets = wired(FIRST | SECOND, homes(FIRST, SECOND), other, TALK)
    assert nets["eye trig"] == {"mind.*", "eye.TRIG"}
    here = dict.fromkeys(FIRST | SECOND, LOCO)
    lamp = Net("light", "signal", (PinRef("mind", "*"), PinRef("lamp", "IN")))
    assert wired(FIRST | SECOND, here, other, lamp)["eye trig"] == {"mind.*", "eye.TRIG"}


def test_what_no_one_tells_is_named() -> None:
    """The parts in question, and what to write: where each board has a vehicle of its own, its name."""
    catalogue = read_catalogue()
    parts = {name: [catalogue[part]] for name, part in (FIRST | SECOND).items()}
    where = homes(FIRST, SECOND) | {"lamp": LOCO | COACH, "switch": LOCO | COACH}
    with pytest.raises(NotUsualError, match=r"2 controllers \(brain, mind\).* which of them lamp is") as told:
        usual_nets(parts, homes=where)
    assert told.value.expected.startswith("`in: [...]` with the vehicle of one of them at each")
    with pytest.raises(NotUsualError, match="which of them eye and lamp are") as told:
        usual_nets(parts)
    assert told.value.expected.startswith("each controller in a vehicle of its own")


@pytest.mark.parametrize("talk", [False, True])
def test_each_with_a_supply_of_its_own(talk: bool) -> None:
    """Two trains in one, ground apart; a net from one to the other makes it one ground."""
    nets = wired(FIRST | SECOND | OWN, homes(FIRST, SECOND | OWN), *([TALK] if talk else []))
    first = {"brain.GND2", "eye.GND", "cells.minus", "lift.GND"}
    second = {"mind.GND", "lamp.GND", "strip.GND", "bank.minus", "rise.GND"}
    assert nets["ground"] == (first | second if talk else first)
    assert talk or nets["ground of mind"] == second
    assert nets["five volts"] == {"lift.out", "brain.5V", "eye.VCC"}
    assert nets["five volts of mind"] == {"rise.out", "mind.5V", "strip.VCC"}
    assert nets["switched of mind"] == {"key.b", "rise.in"} or nets["switched of mind"] == {
        "key.a",
        "rise.in",
    }


def test_two_supplies_for_one_of_two_are_not_usual() -> None:
    catalogue = read_catalogue()
    parts = {name: [catalogue[part]] for name, part in (FIRST | SECOND | OWN).items()}
    with pytest.raises(NotUsualError, match=r"2 supplies \(cells, bank\), not one for brain"):
        usual_nets(parts, homes=homes(FIRST | OWN, SECOND))


def test_boards_that_are_fed_at_their_raw_pins() -> None:
    """Of cells without a regulator each board makes its own rail; what hangs on it stays there."""
    bare = {name: part for name, part in FIRST.items() if name != "lift"}
    nets = wired(
        bare | {"mind": "controller-compact-5v", "strip": "lamp-strip"},
        homes(bare, {"mind": "", "strip": ""}),
    )
    assert {"brain.VIN", "mind.VIN"} < nets["switched"]
    assert nets["five volts"] == {"brain.5V", "eye.VCC"}
    assert nets["five volts of mind"] == {"mind.5V", "strip.VCC"}


def test_a_driver_drives_the_motor_in_its_vehicle() -> None:
    """Whatever the order of the train; without a vehicle told, in that order."""
    catalogue = read_catalogue()
    tram = read_train(find_train("market-tram")).vehicle("tram").vehicle
    motor = next(built for built in tram.built_in if built.kind == "motor")
    parts = {name: [catalogue[part]] for name, part in FIRST.items()}
    parts |= {name: [catalogue["driver-single"]] for name in ("pull", "push")}
    motors = {"loco/motor": motor, "coach/motor": motor}

    def driven(where: dict[str, frozenset[str]]) -> set[str]:
        nets = usual_nets(parts, motors=motors, homes=where)
        return {ref.split(".")[0] for net in nets if "pull.A1" in net.joins for ref in net.joins}

    assert driven({"pull": COACH, "push": LOCO}) == {"pull", "coach/motor"}
    assert driven({"pull": LOCO, "push": COACH}) == driven({}) == {"pull", "loco/motor"}


def test_any_pin_that_is_written_once_is_any_pin_still() -> None:
    """A net that is written with `brain.*` leaves the usual signals as they are; before, they were lost."""
    catalogue = read_catalogue()
    own = Net("echo", "signal", (PinRef("brain", "*"), PinRef("eye", "ECHO")))
    nets = usual_nets({name: [catalogue[part]] for name, part in FIRST.items()}, [own])
    assert ("brain.*", "eye.TRIG") in [net.joins for net in nets]
