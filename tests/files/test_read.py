"""What the readers make of good files."""

from __future__ import annotations

import dataclasses
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fitplan.files import catalogue as places
from fitplan.files.find import find_train
from fitplan.files.read import read_catalogue, read_train, read_vehicle
from fitplan.model.electrical import CellPack, Emitter, Load, Regulator
from fitplan.model.needed import Choice, Exchange
from fitplan.model.nets import PinRef
from fitplan.model.solids import Box, Cylinder
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid, Coupling, Face, Removable, Wheels
from fitplan.model.wiring import Allowances, Slack
from tests.files.lines import DATA, catalogue, changed, line


def test_vehicle_is_what_its_file_says() -> None:
    """Each section of the vehicle file arrives in the vehicle."""
    loco = read_vehicle(DATA / "line" / "loco.yaml")
    assert (loco.name, loco.kind, loco.studs_long, loco.studs_wide) == ("Test loco", "loco", 12, 4)
    assert loco.floor_finish == "studded"
    assert (loco.base, loco.top) == (16.0, 57.6)
    assert [(layer.name, layer.base, layer.plates) for layer in loco.layers] == [
        ("floor", 16.0, 1),
        ("walls", 19.2, 9),
    ]
    assert loco.body[-1] == BodySolid(Cylinder("z", (16.0, 16.0, 48.0), 9.6, 4.0), "fixed")
    assert BodySolid(Box((88.0, 8.0, 19.2), (96.0, 24.0, 48.0)), "removable", "grille") in loco.body
    assert loco.removables == (Removable("grille", 2.0),)
    assert (loco.openings[0].out, loco.openings[0].often) == ("+z", True)
    assert loco.windows[0].box == Box((88.0, 8.0, 19.2), (96.0, 24.0, 38.4))
    assert loco.ports[0].out == "-x"
    assert loco.couplings == (Coupling("rear", 8.0, 10.0, 4.0),)
    assert loco.wheels == Wheels("axles", (24.0, 72.0), (True, False), 8.5)
    motor, receiver = loco.built_in
    assert (motor.kind, motor.current_ma, motor.stall_ma) == ("motor", 200.0, 900.0)
    assert [pin.name for pin in motor.pins] == ["plus", "minus"]
    assert receiver.faces == (Face("eye", Box((52.0, 12.0, 25.6), (60.0, 20.0, 25.6)), "+z"),)
    assert loco.mass_center == loco.hull.center
    assert dict(loco.characters)["g"] == "removable grille"


def test_train_is_what_its_file_says() -> None:
    """Needs, candidates, nets and the defaults arrive in the train."""
    train = line()
    assert [(entry.name, entry.turned) for entry in train.vehicles] == [("loco", False), ("van", True)]
    brain, sight, beam, power = train.needs
    assert [part.id for part in brain.candidates] == ["board-small", "board-large"]
    assert brain.choice == Choice("controller")
    assert brain.vehicles == ("loco", "van")
    assert sight.looks == ("loco", "gap")
    assert beam.sits == ("loco", "receiver", "eye")
    assert power.choice == Choice("cells", out_v=6.0, min_hours=2.0)
    assert train.nets[0].joins[-1] == PinRef("loco/motor", "minus")
    assert (train.track.radius, train.track.gauge, train.running.deceleration) == (320.0, 38.0, 600.0)
    assert (train.wiring.signal_wire, train.wiring.style, train.nets[0].style) == (
        "wire-awg28",
        "tree",
        "tree",
    )
    assert train.source == "train.yaml"
    assert set(train.catalogue) == {*catalogue(), "own-beam"}


def test_allowances_arrive_with_their_defaults(tmp_path: Path) -> None:
    """What the wiring block sets arrives in the train; what it leaves out keeps its default."""
    wiring = (
        "wiring: {drop limit: 0.3 V, "
        "allowances: {strip: 5, slack share: 0.1, bend from: 45, rounding: 1 cm}, "
        "coupling slack: {least: 12}}"
    )
    path = changed(tmp_path / "line", "train.yaml", "running:", f"{wiring}\nrunning:")
    found = read_train(path, catalogue()).wiring
    assert found.drop_limit_v == 0.3
    assert found.allowances == Allowances(strip=5.0, slack_share=0.1, bend_from_deg=45.0, rounding=10.0)
    assert found.coupling_slack == Slack(least=12.0)
    assert (line().wiring.allowances, line().wiring.coupling_slack) == (Allowances(), Slack())


def test_figures_arrive_in_their_units() -> None:
    """Figures with a unit behind them are turned into the model's unit."""
    train = line()
    cells = train.need("power").candidates[0].figure(CellPack)
    assert cells is not None
    assert (cells.capacity_mah, cells.resistance_ohm, cells.max_ma) == (1100.0, 0.25, 500.0)
    beam = train.need("beam").candidates[0]
    assert beam.figure(Emitter) == Emitter(940.0, 15.0, 1000.0)
    assert beam.figure(Load) == Load(3.0, 5.5, 5.0, 20.0)


def test_nets_choose_among_candidates(tmp_path: Path) -> None:
    """A board that lacks a pin that a net names, or pins for all nets, is no candidate."""
    train = changed(
        tmp_path / "a", "train.yaml", "joins: [brain.*, sight.ECHO]", "joins: [brain.D4, sight.ECHO]"
    )
    assert [part.id for part in read_train(train, catalogue()).need("brain").candidates] == ["board-large"]
    train = changed(
        tmp_path / "b", "train.yaml", "{family: controller}", "{family: controller, pins: {output: 1}}"
    )
    assert [part.id for part in read_train(train, catalogue()).need("brain").candidates] == ["board-large"]


def test_own_part_takes_the_place_of_a_bundled_one(tmp_path: Path) -> None:
    """A part beside the train replaces the part of the same id."""
    train = changed(tmp_path / "line", "parts/own.yaml", "id: own-beam", "id: eye")
    changed(tmp_path / "line", "train.yaml", "part: own-beam", "part: eye")
    changed(
        tmp_path / "line",
        "train.yaml",
        "{name: sight, part: eye, looks: {vehicle: loco, window: gap}}",
        "{name: x, part: pack-4}",
    )
    text = train.read_text(encoding="utf-8")
    nets = [row for row in text.split("\n") if "sight" in row and "ground" not in row]
    text = "\n".join(row for row in text.split("\n") if row not in nets).replace(" sight.GND,", "")
    train.write_text(text, encoding="utf-8")
    assert read_train(train, catalogue()).need("beam").candidates[0].family == "emitter"


def test_same_part_twice_in_a_folder_is_a_mistake(tmp_path: Path) -> None:
    """Two files of one folder must not describe the same part."""
    for name in ("a.yaml", "b.yaml"):
        shutil.copy(DATA / "catalogue" / "rangers.yaml", tmp_path / name)
    with pytest.raises(
        Exception, match=r"b.yaml:3:9: found the part 'eye' again; expected each id once; a.yaml has it"
    ):
        read_catalogue([tmp_path])


def test_missing_wire_is_told_where_it_is_needed(tmp_path: Path) -> None:
    """A catalogue without the usual wires is a mistake that is told, not a failure later on."""
    without = {name: part for name, part in catalogue().items() if name != "wire-awg24"}
    with pytest.raises(Exception, match="found the unknown part 'wire-awg24'"):
        read_train(DATA / "line" / "train.yaml", without)


def _values(value: Any) -> Iterator[Any]:
    yield value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            yield from _values(getattr(value, field.name))
    elif isinstance(value, tuple | frozenset):
        for item in value:
            yield from _values(item)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _values(key)
            yield from _values(item)


def test_values_are_plain() -> None:
    """What leaves the readers holds Python's own texts and numbers, without the lines of the files."""
    train: Train = line()
    allowed = (str, int, float, bool, type(None), tuple, frozenset, dict)
    for value in _values(train):
        assert type(value) in allowed or type(value).__module__.startswith("fitplan.model")


def test_bundled_catalogue_is_sound_and_large() -> None:
    """The catalogue in the package or checkout has no mistake, and at least 40 parts."""
    parts = read_catalogue()
    assert len(parts) >= 40
    assert list(parts) == sorted(parts)
    assert all(part.source for part in parts.values())
    regulator = next(part.figure(Regulator) for part in parts.values() if part.family == "regulator")
    assert regulator is not None


def test_bundled_folders_are_found_in_either_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The catalogue is looked for inside the package first, then at the root of a checkout."""
    package = tmp_path / "fitplan"
    (tmp_path / "catalog").mkdir(parents=True)
    package.mkdir()
    monkeypatch.setattr(places, "_PACKAGE", package)
    assert places.catalogue_folder() == tmp_path / "catalog"
    (package / "catalog").mkdir()
    assert places.catalogue_folder() == package / "catalog"


@pytest.mark.parametrize(
    "path", sorted(places.examples_folder().glob("*/train.yaml")), ids=lambda path: path.parent.name
)
def test_examples_hold_no_mistake(path: Path) -> None:
    """Every bundled example can be read."""
    assert read_train(path).needs


def test_what_may_come_out_is_read() -> None:
    """The demo names the lids that may be opened for its cells; its switch says nothing."""
    train = read_train(find_train("harbour-line"))
    assert train.need("cells").exchange == Exchange(("wagon roof", "hood roof"), 0, 0, wanted=True)
    assert train.need("switch").exchange == Exchange()
