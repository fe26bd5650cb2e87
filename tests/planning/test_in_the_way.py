"""Why a wire reaches nothing: one thing is planted in its way, and must be the one that is named."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Clearance, Part
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid, BuiltIn
from fitplan.planning.run import plan_train
from fitplan.surface import read_train
from fitplan.verify import verify
from tests.packing.small_trains import block, hollow, train_of

FLOOR = 19.2
ACROSS = Box((48.0, 8.0, FLOOR), (60.0, 40.0, FLOOR + 25.6))
"""From wall to wall and from floor to roof of the wagon: nothing gets past."""


def _train(*inside: BuiltIn, walls: tuple[BodySolid, ...] = (), bar: Part | None = None) -> Train:
    """Return two parts at the two ends of one wagon, wired to one another, and a bar between them."""
    wagon = hollow("wagon", 16, 6, 8, built_in=inside)
    wagon = replace(wagon, body=(*wagon.body, *walls))
    one, two = block("one", (16.0, 16.0, 12.0)), block("two", (16.0, 16.0, 12.0))
    needs = [
        Need("one", (one,), pinned=FixedPlace("wagon", "+x+y+z", (12.0, 12.0, FLOOR))),
        Need("two", (two,), pinned=FixedPlace("wagon", "+x+y+z", (96.0, 12.0, FLOOR))),
    ]
    if bar is not None:
        needs.append(Need("bar", (bar,), pinned=FixedPlace("wagon", "+x+y+z", (48.0, 8.0, FLOOR))))
    train = train_of((wagon,), tuple(needs), (("w", ("one.p0", "two.p0")),))
    wires = {name: part for name, part in read_train("harbour-line").catalogue.items() if "wire-" in name}
    parts = {part.id: part for need in needs for part in need.candidates}
    return replace(train, catalogue={**wires, **parts})


def _why(train: Train) -> tuple[Plan, str]:
    plan = plan_train(train)
    assert not verify(plan).problems
    (lost,) = plan.unreached
    return plan, lost.reason


def test_a_part_in_the_way_is_named() -> None:
    plan, why = _why(_train(bar=block("bar", (12.0, 32.0, 25.6))))
    assert why.endswith(": bar is in the way")
    assert any(why in found.message for found in plan.findings if found.severity == "stop")


def test_room_that_a_part_keeps_is_told_from_the_part() -> None:
    """Its plug takes the rest of the way up to the roof."""
    bar = block("bar", (12.0, 32.0, 12.0))
    plug = Clearance("its plug", "plug", Box((0.0, 0.0, 12.0), (12.0, 32.0, 25.6)), "access")
    _, why = _why(_train(bar=replace(bar, clearances=(plug,))))
    assert why.endswith(": the room that bar keeps for its plug or bar is in the way")


def test_what_is_built_in_is_named() -> None:
    _, why = _why(_train(BuiltIn("motor", "motor", (ACROSS,), mass_g=40.0)))
    assert why.endswith(": motor is in the way")


def test_two_in_a_row_are_no_single_thing() -> None:
    """Taking out either helps nothing: that is said of what is built in as a whole."""
    beyond = Box((64.0, 8.0, FLOOR), (76.0, 40.0, FLOOR + 25.6))
    motors = (BuiltIn(f"motor {n}", "motor", (box,), mass_g=40.0) for n, box in enumerate((ACROSS, beyond)))
    _, why = _why(_train(*motors))
    assert why.endswith(": all that is built in is in the way")


@pytest.mark.parametrize("barred", [False, True])
def test_a_wall_is_told_as_one(barred: bool) -> None:
    """Whether or not a part stands before it."""
    wall = BodySolid(Box((72.0, 8.0, FLOOR), (80.0, 40.0, FLOOR + 25.6)), "fixed")
    _, why = _why(_train(walls=(wall,), bar=block("bar", (12.0, 32.0, 25.6)) if barred else None))
    assert why.endswith(": no way past the walls is known, even without any part")
