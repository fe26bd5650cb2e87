"""Ends by which no wire goes out: what is told to be drawn lets wires out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from fitplan.checks.closed_ends import drawn_open
from fitplan.model.built import BuiltTrain
from fitplan.model.wired import Harness, Unreached
from tests.verify.test_open_ends import OPEN, train_in


@pytest.mark.parametrize("closed", ["first", "second"])
@pytest.mark.parametrize(
    ("rows", "is_deck"), [("---.........", True), ("------------", True), ("####........", False)]
)
def test_what_is_told_to_be_drawn_lets_wires_out(
    rows: str, is_deck: bool, closed: str, tmp_path: Path
) -> None:
    """Room over a deck that is drawn outside: drawn free from there up it is an open end, without a port."""
    first, second = (rows, OPEN) if closed == "first" else (OPEN, rows)
    train = train_in(tmp_path, first, second)
    vehicle = train.vehicle(closed).vehicle
    assert vehicle.ports == ()
    built = BuiltTrain(train, (), Harness(), ())
    told = drawn_open(built, Unreached("lamp", "first", "second", f"{closed} has no wire port at that end"))
    assert told.endswith("draw a port in its rear wall")
    assert ("from 22.4 mm up" in told) == is_deck
    drawn = train_in(tmp_path, first.replace("-", "."), second.replace("-", ".")).vehicle(closed).vehicle
    assert [port.box.low[2] for port in drawn.ports] == ([22.4] if is_deck else [])


def test_where_a_port_is_nothing_is_told(tmp_path: Path) -> None:
    built = BuiltTrain(train_in(tmp_path), (), Harness(), ())
    assert drawn_open(built, Unreached("lamp", "brain", "D5", "port a of first carries 2 of 1 mm")) == ""


@pytest.mark.parametrize("told", [True, False])
def test_a_pin_beyond_is_helped_by_what_helps_the_coupling(told: bool, tmp_path: Path) -> None:
    """Which end of a vehicle shuts it off, only the coupling tells; without that nothing is said of ends."""
    reason = "first has no wire port at that end"
    coupling, pin = Unreached("lamp", "first", "second", reason), Unreached("lamp", "bulb", "IN", reason)
    others = (
        replace(coupling, net="ground"),
        replace(coupling, reason="second has no wire port at that end"),
    )
    lost = (pin, *others, coupling) if told else (pin, *others)
    built = BuiltTrain(train_in(tmp_path), (), Harness(unreached=lost), ())
    assert drawn_open(built, pin) == ("what helps lamp at first.second helps it too" if told else "")
    assert "helps it too" not in drawn_open(built, coupling)
