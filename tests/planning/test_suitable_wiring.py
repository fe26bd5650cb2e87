"""Parts to choose from that are wired otherwise than others of their list: those are taken that work."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

import fitplan
from fitplan.cli import app
from fitplan.errors import InputError
from fitplan.files.catalogue import read_catalogue
from fitplan.files.read import read_other_wirings, read_train
from fitplan.model.train import LeftAside
from fitplan.planning.suitability import Suitability
from fitplan.planning.suitable_wiring import suitably_wired
from fitplan.verify import verify
from tests.files.usual_choices import drawn_lists, working_alone, works, written_train

CHARGED = {
    "brain": ["controller-small-5v"],
    "cell": ["cells-18650-1-protected"],
    "charger": ["charger-plain", "charger-protected", "charger-step-up-5v"],
    "switch": ["switch-slide"],
}
"""One cell and no regulator: of these charging boards one makes 5 V, and lies between cell and train."""


def _parts(train: fitplan.Train, need: str) -> list[str]:
    return [part.id for part in train.need(need).candidates]


def _joined(train: fitplan.Train) -> set[frozenset[str]]:
    return {frozenset(f"{end.owner}.{end.pin}" for end in net.joins) for net in train.nets}


@pytest.mark.parametrize("turned", [False, True], ids=["last", "first"])
def test_the_charging_board_that_feeds_the_train_is_taken(tmp_path: Path, turned: bool) -> None:
    """Wherever it stands in its list; the train is wired past it."""
    chargers = CHARGED["charger"][:: -1 if turned else 1]
    path = written_train(tmp_path, {**CHARGED, "charger": chargers})
    train = fitplan.read_train(path)
    assert _parts(train, "charger") == ["charger-step-up-5v"]
    assert {"cell.plus", "charger.cell"} in _joined(train)
    assert {"charger.out", "switch.a"} in _joined(train)
    assert works(train)


def test_what_is_left_aside_is_told_with_the_reason(tmp_path: Path) -> None:
    """Of the charging boards two leave the train at the bare cell; a note names them, and what stood."""
    path = written_train(tmp_path, CHARGED)
    train = fitplan.read_train(path)
    (aside,) = train.left_aside
    assert (aside.need, aside.parts) == ("charger", ("charger-plain", "charger-protected"))
    assert aside.why
    plan = fitplan.plan_train(train)
    (note,) = [one for one in plan.findings if "left aside" in one.message]
    assert (note.where, note.severity, note.figure) == ("charger", "note", 2.0)
    assert note.message.endswith(f"wired as is usual for them, {aside.why}")
    assert fitplan.verify_plan(plan).holds
    for lie in (LeftAside("charger", ("charger-step-up-5v",)), LeftAside("horn", ("charger-plain",))):
        told = replace(plan, built=replace(plan.built, train=replace(train, left_aside=(lie,))))
        assert any(one.subject == "left aside" for one in verify(told).problems)
    alone = fitplan.read_train(written_train(tmp_path, {**CHARGED, "charger": ["charger-step-up-5v"]}))
    assert alone.left_aside == ()


def test_its_nets_written_out_are_the_same(tmp_path: Path) -> None:
    """What of the list has these pins stays to choose from, and what works is chosen."""
    path = written_train(tmp_path, CHARGED)
    usual = fitplan.read_train(path)
    assert CliRunner().invoke(app, ["write-out", str(path)]).exit_code == 0
    assert "usual nets" not in path.read_text("utf-8")
    written = fitplan.read_train(path)
    assert written.nets == usual.nets
    assert works(written)
    assert _parts(written, "charger") == ["charger-protected", "charger-step-up-5v"]


def test_what_works_as_it_is_wired_stays_whole(tmp_path: Path) -> None:
    """With a regulator all charging boards do, and none is taken from the list."""
    path = written_train(
        tmp_path,
        {**CHARGED, "lift": ["regulator-step-up-5v"], "charger": ["charger-plain", "charger-protected"]},
    )
    assert _parts(fitplan.read_train(path), "charger") == ["charger-plain", "charger-protected"]


def test_parts_whose_pins_have_other_names_are_no_mistake(tmp_path: Path) -> None:
    """A sounder with a supply pin or one without: the first that works, with the nets that are its own."""
    lists = {"brain": ["controller-compact-5v"], "supply": ["cells-aa-6-stack"]}
    for ids, pins in (
        (["sounder-board", "sounder-12mm"], {"VCC"}),
        (["sounder-12mm", "sounder-board"], set()),
    ):
        train = fitplan.read_train(written_train(tmp_path, {**lists, "horn": ids}))
        assert _parts(train, "horn")[0] == ids[0]
        supplied = {
            end.pin for net in train.nets if net.role == "supply" for end in net.joins if end.owner == "horn"
        }
        assert supplied == pins


def test_a_bank_feeds_a_board_of_lower_volts_by_its_lead_alone(tmp_path: Path) -> None:
    """A 3.3 V board with a socket: no wire goes to its raw pin beside the lead."""
    lists = {"brain": ["controller-wireless-small"], "supply": ["bank-stick"], "lamp": ["lamp-5mm"]}
    train = fitplan.read_train(written_train(tmp_path, lists))
    fed = [net for net in train.nets if net.role == "supply"]
    assert [net.lead for net in fed] == ["lead-usb-a-micro-b"]


def test_what_is_built_stays_to_choose_from(tmp_path: Path) -> None:
    """Of parts that are wired otherwise the group with the one that is built in comes first."""
    lists = {
        "brain": ["controller-compact-5v"],
        "supply": ["cells-aa-6-stack"],
        "horn": ["sounder-board", "sounder-12mm"],
    }
    path = written_train(tmp_path, lists)
    there = "{need: horn, part: sounder-12mm, vehicle: van, pose: +x+y+z, offset: [0, 0, 0]}"
    built = f"as built:\n  parts:\n    - {there}\n"
    path.write_text(path.read_text("utf-8") + built, encoding="utf-8")
    assert _parts(fitplan.read_train(path), "horn") == ["sounder-12mm"]


def test_a_choice_that_works_alone_is_among_those_that_are_left(tmp_path: Path) -> None:
    """Of lists drawn from the catalogue: where one part for each need works, some choice is left that does.

    The oracle wires each choice by itself. Of 1,800 drawn lists it held for all but three.
    """
    catalogue = read_catalogue()
    asked = narrowed = 0
    for seed in range(40):
        lists = drawn_lists(seed, catalogue)
        if next(working_alone(lists, catalogue), None) is None:
            continue
        path = written_train(tmp_path, lists)
        first = read_train(path)
        train = suitably_wired(first, lambda path=path: read_other_wirings(path))
        asked += 1
        narrowed += train is not first or any(
            len(_parts(first, name)) < len(ids) for name, ids in lists.items()
        )
        assert works(train), (seed, lists)
    assert asked > 20
    assert narrowed > 2


def test_where_nothing_works_the_train_stays_as_it_is(tmp_path: Path) -> None:
    """Two AA and no regulator feed no 5 V board, whatever charging board there is: told, not hidden."""
    lists = {**CHARGED, "cell": ["cells-aa-2"], "charger": ["charger-plain", "charger-protected"]}
    path = written_train(tmp_path, lists)
    train = fitplan.read_train(path)
    assert not works(train)
    assert _parts(train, "charger") == ["charger-plain", "charger-protected"]


@pytest.mark.parametrize("turned", [False, True], ids=["as it stands", "turned"])
def test_a_board_that_works_without_a_stop_is_wired_in_its_own_way(tmp_path: Path, turned: bool) -> None:
    """Of a board of 3.3 V and one of 5 V the cells bear the second alone, at its 5 V pin."""
    boards = ["controller-wireless-thumb", "controller-compact-5v"]
    lists = {
        "brain": boards[:: -1 if turned else 1],
        "supply": ["cells-aaa-2"],
        "lift": ["regulator-step-up-5v-tiny"],
    }
    train = fitplan.read_train(written_train(tmp_path, lists))
    assert _parts(train, "brain") == ["controller-compact-5v"]
    assert {"lift.out", "brain.5v"} in {frozenset(map(str.lower, net)) for net in _joined(train)}
    first = {need.name: need.candidates[0] for need in train.needs}
    assert Suitability(train).stops(first) == 0


def test_other_mistakes_are_told_as_before(tmp_path: Path) -> None:
    """A train without a supply has no usual nets, however its lists are parted."""
    lists = {"brain": ["controller-compact-5v"], "horn": ["sounder-board", "sounder-12mm"]}
    with pytest.raises(InputError, match="0 parts that are a supply"):
        fitplan.read_train(written_train(tmp_path, lists))
