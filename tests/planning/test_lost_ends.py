"""Which ends count as lost when a built train is planned again: not those of nets that were in pieces."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.as_built import NOTHING_BUILT, AsBuilt
from fitplan.model.wired import Unreached
from fitplan.planning.lost_ends import lost_ends
from fitplan.workbench.as_built import as_built_of
from tests.verify.lies import harness_with, train_with
from tests.verify.two_vehicles import plan

LOST = (
    Unreached("ground", "loco", "wagon", "closed"),
    Unreached("ground", "lamp", "GND", "closed"),
    Unreached("light", "lamp", "IN", "closed"),
)


def _lost(before: AsBuilt) -> list[tuple[str, str]]:
    made = train_with(harness_with(plan(), unreached=LOST), as_built=before)
    return [(one.net, one.owner) for one in lost_ends(made)]


@pytest.mark.parametrize(
    ("left_out", "lost"),
    [
        ((), [("ground", "loco"), ("ground", "lamp"), ("light", "lamp")]),
        ((3,), [("light", "lamp")]),
        ((1,), [("ground", "loco"), ("ground", "lamp")]),
        ((1, 3), []),
    ],
)
def test_nets_that_were_in_pieces_do_not_count(
    left_out: tuple[int, ...], lost: list[tuple[str, str]]
) -> None:
    """Wire 3 leads ground over the coupling and wire 1 the lamp's signal; the splice joins three wires."""
    whole = as_built_of(plan())
    wires = tuple(wire for wire in whole.wires if wire.number not in left_out)
    assert _lost(replace(whole, wires=wires)) == lost


def test_what_is_new_counts_always() -> None:
    """A lamp that is not built yet is to be reached, whatever its nets were; and all is where nothing is."""
    whole = as_built_of(plan())
    parts = tuple(part for part in whole.parts if part.need != "lamp")
    wires = tuple(wire for wire in whole.wires if wire.number == 4)
    assert _lost(replace(whole, parts=parts, wires=wires)) == [("ground", "lamp"), ("light", "lamp")]
    assert len(_lost(NOTHING_BUILT)) == len(LOST)
    assert not lost_ends(plan())
