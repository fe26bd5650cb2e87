"""Rows of the fit table beside what must sit in a vehicle: what a plan leaves out keeps nothing else out."""

from __future__ import annotations

from fitplan.budget import Budget
from fitplan.model.needed import Need
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
