"""Cells that are charged where they are need not be got at daily, nor a charging board that a coil feeds."""

from __future__ import annotations

from pathlib import Path

import pytest

import fitplan
from tests.files.usual_choices import written_train

POUCH = {"brain": ["controller-compact-5v"], "cell": ["pouch-103450"], "switch": ["switch-slide"]}
BOARD = {"charger": ["charger-step-up-5v"]}
COIL = {"coil": ["coil-receiver-small"]}


def _often(train: fitplan.Train, need: str) -> set[bool]:
    return {access.often for part in train.need(need).candidates for access in part.access}


@pytest.mark.parametrize(
    ("more", "cell", "charger"),
    [
        ({"lift": ["regulator-step-up-5v"]}, {True}, None),
        (BOARD, {False}, {True}),
        (
            {"charger": ["charger-plain", "charger-protected"], "lift": ["regulator-step-up-5v"]},
            {False},
            {True},
        ),
        ({**BOARD, "fuse": ["junction-resettable-fuse-large"]}, {False}, {True}),
        ({**BOARD, **COIL}, {False}, {False}),
    ],
    ids=["no charger", "a charger", "one of two", "past a fuse", "a coil"],
)
def test_what_is_charged_in_the_train_is_not_reached_daily(
    tmp_path: Path, more: dict[str, list[str]], cell: set[bool], charger: set[bool] | None
) -> None:
    """A pouch is unplugged to be charged, unless a board charges it; that is, unless a coil feeds it."""
    train = fitplan.read_train(written_train(tmp_path, {**POUCH, **more}))
    assert _often(train, "cell") == cell
    if charger is not None:
        assert _often(train, "charger") == charger
    assert _often(train, "switch") == {True}


def test_cells_of_a_choice_all_count(tmp_path: Path) -> None:
    """A pouch or a cell in a holder: whichever is taken stays in."""
    lists = {**POUCH, **BOARD, "cell": ["pouch-103450", "cells-18650-1-protected"]}
    train = fitplan.read_train(written_train(tmp_path, lists))
    assert len(train.need("cell").candidates) == 2
    assert _often(train, "cell") == {False}


def test_what_the_user_takes_out_is_taken_out(tmp_path: Path) -> None:
    """`exchange` at the need asks for its way out, charged in place or not."""
    path = written_train(tmp_path, {**POUCH, **BOARD})
    text = path.read_text("utf-8").replace(
        "choose: [pouch-103450]", "part: pouch-103450, exchange: {parts out: 1}"
    )
    path.write_text(text, encoding="utf-8")
    plan = fitplan.plan_train(fitplan.read_train(path))
    assert [
        one.often for one in plan.built.exchanged if one.need == "cell" and one.access == "the part itself"
    ] == [True]
    assert fitplan.verify_plan(plan).holds


def test_a_plan_holds_and_asks_for_no_daily_way_to_the_cell(tmp_path: Path) -> None:
    """The same train with and without a charging board: how the pouch's lead is come by is told for both."""
    for more, often in (({"lift": ["regulator-step-up-5v"]}, True), (BOARD, False)):
        plan = fitplan.plan_train(fitplan.read_train(written_train(tmp_path, {**POUCH, **more})))
        assert [one.often for one in plan.built.exchanged if one.need == "cell"] == [often]
        assert fitplan.verify_plan(plan).holds
