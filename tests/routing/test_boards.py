"""A distribution board from the catalogue, from the train file to the plan that is checked again."""

from __future__ import annotations

import shutil
from dataclasses import replace

import pytest

from fitplan.files.read import read_catalogue, read_train
from fitplan.files.starter import STARTER_FOLDER
from fitplan.model.nets import PinRef
from fitplan.model.plan import Plan
from fitplan.planning.run import plan_train
from fitplan.verify import verify

NEED = "  - {name: tail lamp,"
BOARD = "  - {name: board, part: junction-two-rails}\n"
RAILS = {"ground": "board.ground", "five volts": "board.P1"}
"""Nets that go as home runs to a board, and which of its pins they have first."""


@pytest.fixture(scope="module")
def boarded(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Return the plan of the starter's railcar with its ground as home runs to a board."""
    folder = tmp_path_factory.mktemp("board") / "railcar"
    shutil.copytree(STARTER_FOLDER, folder)
    train = folder / "train.yaml"
    text = train.read_text(encoding="utf-8").replace(NEED, BOARD + NEED)
    train.write_text(text, encoding="utf-8")
    read = read_train(train, read_catalogue())
    joins = {name: PinRef(*pin.split(".")) for name, pin in RAILS.items()}
    # The board serves both nets and no other.
    nets = tuple(
        replace(
            net,
            joins=(*(ref for ref in net.joins if ref.owner != "board"), joins[net.name]),
            style="home-run",
        )
        if net.name in joins
        else net
        for net in read.nets
    )
    assert set(joins) <= {net.name for net in nets}
    return plan_train(replace(read, nets=nets))


def pins_at(plan: Plan, net: str) -> list[str]:
    """Return the pins of the board that wires of a net end at, one for each wire."""
    ends = [end for wire in plan.built.harness.wires if wire.net == net for end in (wire.start, wire.end)]
    return sorted(end.pin for end in ends if end.owner == "board")


def test_every_wire_of_the_net_has_a_pin_of_the_board(boarded: Plan) -> None:
    """Six home runs of ground end at the six pins of the ground rail, and no splice is soldered."""
    assert boarded.complete
    assert pins_at(boarded, "ground") == ["G1", "G2", "G3", "G4", "G5", "G6"]
    assert [wire.net for wire in boarded.built.harness.wires].count("ground") == 6
    assert boarded.built.harness.splices == ()


def test_the_board_serves_a_second_net_by_its_other_rail(boarded: Plan) -> None:
    """Home runs lead to the board wherever the net names it, also where another pin would take both wires."""
    wires = [wire for wire in boarded.built.harness.wires if wire.net == "five volts"]
    assert len(wires) == 3
    assert pins_at(boarded, "five volts") == ["P1", "P2", "P3"]


def test_the_plan_with_a_board_holds_when_checked_again(boarded: Plan) -> None:
    """The independent checker knows what is joined inside and finds no pin with more wires than it takes."""
    report = verify(boarded)
    assert report.problems == ()
    counts = {entry.what: entry.count for entry in report.checked}
    assert counts["pins with wires"] > 10
