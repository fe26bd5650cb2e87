"""Rows of the fit table beside what must sit in a vehicle: what a plan leaves out keeps nothing else out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.budget import Budget
from fitplan.model.needed import Need
from fitplan.model.solids import Box
from fitplan.packing.vehicle.pack import Packer
from fitplan.planning.fit_table import fit_row, fit_rows
from tests.packing.small_trains import block, hollow, train_of


def test_what_is_left_out_is_no_company() -> None:
    """Two that must sit in one wagon have no room there together, each has: the plan leaves one of them out.

    A third that goes in beside either is not told to be impossible then, as it lies there.
    """
    wagon = hollow("v", 12, 6, 8)
    large, small = block("large", (60.0, 20.0, 20.0)), block("small", (10.0, 10.0, 5.0))
    needs = (
        Need("one", (large,), vehicles=("v",)),
        Need("two", (large,), vehicles=("v",)),
        Need("third", (small, block("other", (12.0, 10.0, 5.0)))),
    )
    train = train_of((wagon,), needs)
    packer, budget = Packer({"v": wagon}), Budget.usual()
    told = fit_row(train, packer, needs[2], small, "v", budget)
    assert told.verdict == "cannot fit"
    assert "one + two" in told.reason
    beside = fit_row(train, packer, needs[2], small, "v", budget, left_out=frozenset({"two"}))
    assert beside.verdict == "fits"
    assert {place.need for place in beside.places} == {"one", "third"}
    rows = fit_rows(train, packer, budget, every=True, also=frozenset({"two"}))
    assert {(row.need, row.part_id): row.verdict for row in rows} == {
        ("one", "large"): "fits",
        ("two", "large"): "cannot fit",
        ("third", "small"): "fits",
        ("third", "other"): "fits",
    }


@pytest.mark.parametrize(
    ("rounded", "begins"),
    [(0.0, "between real bricks"), (0.8, "walls drawn from a mesh may stand up to 0.8 mm")],
)
def test_what_may_go_in_as_it_is_built_is_told_so(rounded: float, begins: str) -> None:
    """Inside are 64 × 32 mm as drawn: of two crossed plates the box round them says nothing."""
    cross = replace(
        block("cross", (64.0, 32.1, 16.0)),
        envelope=(Box((0.0, 12.0, 0.0), (64.1, 20.0, 8.0)), Box((12.0, 0.0, 0.0), (20.0, 32.1, 8.0))),
    )
    need = Need("cross", (cross,))
    vehicle = replace(hollow("v", 10, 6, 6), rounded=rounded)
    packer = Packer({"v": vehicle})
    row = fit_row(train_of((vehicle,), (need,)), packer, need, cross, "v", Budget.usual())
    assert (row.verdict, row.missing_mm, row.axis, row.pose) == ("not decided", 0.0, "", "")
    assert "as drawn; " + begins in row.reason
    assert "so it may go in: measure the gap and try; 64.1 × 32.1 × 8.0 mm" in row.reason
