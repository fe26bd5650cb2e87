"""Thirty and more changes that take one line each: the train that is read differs in what was wished for."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from fitplan.files.one_line import ONE_LINE_CHANGES, OneLineChange, changed
from fitplan.files.read import read_train
from fitplan.files.starter import STARTER_FILES, write_starter
from fitplan.model.needed import Need, Preference
from fitplan.model.train import Train
from fitplan.model.vehicle import Vehicle, Zone
from fitplan.model.wiring import Spool

Told = Callable[[Train, Train], bool]


def need(train: Train, name: str) -> Need:
    return next(one for one in train.needs if one.name == name)


def ids(train: Train, name: str) -> list[str]:
    return [part.id for part in need(train, name).candidates]


def body(train: Train) -> Vehicle:
    return train.vehicles[0].vehicle


def zone(train: Train) -> Zone:
    (only,) = body(train).zones
    return only


def liked(of: str, kind: str, other: str = "") -> Told:
    return lambda _, now: now.preferences == (Preference(of, kind, other),)  # type: ignore[arg-type]


def joins(train: Train, name: str) -> set[str]:
    net = next(net for net in train.nets if net.name == name)
    return {f"{ref.owner}.{ref.pin}" for ref in net.joins}


TOLD: dict[str, Told] = {
    "another board": lambda _, now: ids(now, "brain") == ["controller-compact-5v"],
    "any board, the smallest first": lambda _, now: (
        [part.bounds.volume for part in need(now, "brain").candidates]
        == sorted(part.bounds.volume for part in need(now, "brain").candidates)
        and len(ids(now, "brain")) > 2
    ),
    "cells for four hours": lambda _, now: need(now, "supply").choice.min_hours == 4,  # type: ignore[union-attr]
    "these cells and no others": lambda _, now: ids(now, "supply") == ["cells-aa-2"],
    "the board nine studs from the rear": lambda _, now: (
        need(now, "brain").pinned.planes == (("-x", 72.0),)  # type: ignore[union-attr]
    ),
    "its plug towards the rear": lambda _, now: (
        need(now, "brain").pinned.towards == (("plug", "-x"),)  # type: ignore[union-attr]
    ),
    "the cells at the right side": lambda _, now: (
        need(now, "supply").pinned.planes == (("-y", 8.0),)  # type: ignore[union-attr]
    ),
    "the regulator lies on its back": lambda _, now: (
        need(now, "lift").pinned.towards == (("+z", "-z"),)  # type: ignore[union-attr]
    ),
    "one part may come out to change the cells": lambda _, now: need(now, "supply").exchange.parts_out == 1,
    "the emitter sends a tenth of the time": lambda _, now: need(now, "emitter").duty == 0.1,
    "another ranger": lambda _, now: {"eye.SDA", "brain.*"} <= joins(now, "bus data"),
    "a fuse behind the cells": lambda _, now: "fuse.a" in joins(now, "supply plus"),
    "no parts in the driver's view": lambda _, now: zone(now).shuts_out("brain") and zone(now).wires,
    "no wires near the gears": lambda _, now: not zone(now).wires and not zone(now).shuts_out("brain"),
    "only the cells in the rear": lambda _, now: (
        zone(now).shuts_out("brain") and not zone(now).shuts_out("supply")
    ),
    "the board near the ranger": liked("brain", "near", "eye"),
    "the board far from the motor": liked("brain", "far from", "railcar/motor"),
    "the switch on the board's side": liked("switch", "same side as", "brain"),
    "the switch under the roof's opening": liked("switch", "reachable from", "roof"),
    "the cells not to be seen from outside": liked("supply", "hidden"),
    "two switches lie in the drawer": lambda _, now: now.owned.count("switch-slide") == 2,
    "there is no crimping tool": lambda _, now: "crimping tool" not in now.owned.tools and now.wiring.solder,
    "nothing is soldered": lambda _, now: not now.wiring.solder,
    "red and black wire only, 5 m of each": lambda _, now: (
        now.wiring.spools == (Spool("RD", 5), Spool("BK", 5))
    ),
    "thicker wire for power": lambda _, now: now.wiring.power_wire == "wire-awg22",
    "a wire each from the supply": lambda _, now: {net.style for net in now.nets} == {"home-run"},
    "a pin of my own choice for the ranger": lambda _, now: (
        joins(now, "echo") == {"brain.D3", "eye.ECHO"} and len(now.nets) == 8
    ),
    "a hill": lambda _, now: now.track.gradient_percent == 3,
    "faster": lambda _, now: now.running.speed == 400,
    "both ways": lambda before, now: now.running.push_pull and not before.running.push_pull,
    "more room before an obstacle": lambda _, now: now.running.margin == 40,
    "a tiled floor": lambda _, now: body(now).floor_finish == "smooth",
    "a roof of two plates": lambda before, now: round(body(now).top - body(before).top, 6) == 3.2,
    "a hole for wires at the rear": lambda _, now: [port.out for port in body(now).ports] == ["-x"],
    "bars before the tail lamp, half of it open": lambda _, now: body(now).windows[1].open_share == 0.5,
}


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Train:
    return read_train(write_starter(tmp_path_factory.mktemp("starter") / "mine"))


@pytest.mark.parametrize("change", ONE_LINE_CHANGES, ids=lambda change: change.wish)
def test_one_line_says_it(change: OneLineChange, before: Train, tmp_path: Path) -> None:
    """One line more, or one other; what was wished for holds of the train, and did not before."""
    path = write_starter(tmp_path / "mine")
    file = path.parent / change.file
    text = file.read_text("utf-8")
    new = changed(text, change)
    assert len(set(new.splitlines()) - set(text.splitlines())) == 1
    file.write_text(new, "utf-8")
    now = read_train(path)
    assert TOLD[change.wish](before, now)
    try:
        held = TOLD[change.wish](before, before)
    except (AttributeError, StopIteration, ValueError, IndexError):
        held = False
    assert not held


def test_there_are_thirty_of_them() -> None:
    """Each once, and each of a file of the starter."""
    assert len({one.wish for one in ONE_LINE_CHANGES}) == len(ONE_LINE_CHANGES) >= 30
    assert {one.file for one in ONE_LINE_CHANGES} <= set(STARTER_FILES)
