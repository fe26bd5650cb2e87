"""Boards with their pin rows soldered in, made from the bare ones: the same boards, wired from below."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.files.catalogue import read_catalogue
from fitplan.files.pinned_form import pinned_form
from fitplan.model.needed import Need
from fitplan.model.solids import Box
from fitplan.planning.fit_table import other_forms
from tests.packing.small_trains import hollow, train_of

BARE = sorted(
    name for name in read_catalogue() if name.startswith("controller-") and f"{name}-pins" in read_catalogue()
)


@pytest.mark.parametrize("name", BARE)
def test_a_pinned_board_is_the_bare_one_with_rows_below(name: str) -> None:
    """Every pin is where it was from above, at the tip of a row; sockets and figures are untouched."""
    bare, pinned = read_catalogue()[name], read_catalogue()[f"{name}-pins"]
    assert pinned.electrical == bare.electrical
    assert pinned.access == bare.access
    assert pinned.mass_g > bare.mass_g
    rows = pinned.envelope[len(bare.envelope) :]
    room = [one.solid.bounds for one in pinned.clearances if one.name.startswith("housings")]
    assert len(rows) == len(room) >= 2
    for was, is_ in zip(bare.pins, pinned.pins, strict=True):
        assert (was.name, was.role, was.at[:2]) == (is_.name, is_.role, is_.at[:2])
        if was.exit != "+z":
            assert was == is_
            continue
        assert (is_.exit, is_.joint, is_.wires, is_.at[2]) == ("-z", "header", 1, -8.6)
        # A contact of 0.1 inch stands in exactly one row, and a housing is pushed on from below.
        assert sum(_over(row.bounds, is_.at) for row in rows) == 1
        assert any(box.high[2] == -8.6 and _over(box, is_.at) for box in room)


def test_the_compact_board_is_as_it_is_sold() -> None:
    """Two rows of fifteen pins on 2.54 mm, 15.24 mm apart, weigh 2 g: from memory, not confirmed."""
    pinned = read_catalogue()["controller-compact-5v-pins"]
    low, high = (row.bounds for row in pinned.envelope[-2:])
    assert (low.size[0], high.size[0]) == (pytest.approx(15 * 2.54, abs=0.2),) * 2
    assert high.center[1] - low.center[1] == pytest.approx(15.24, abs=0.1)
    assert pinned.mass_g == pytest.approx(read_catalogue()["controller-compact-5v"].mass_g + 2, abs=0.1)


def test_a_board_without_holes_has_no_pinned_form() -> None:
    """A board that comes with sockets, or a part without pins."""
    for name in ("controller-large-54", "cells-aa-2"):
        with pytest.raises(ValueError, match="no pin is soldered from above"):
            pinned_form(read_catalogue()[name])


def test_the_fit_table_asks_of_other_forms_too() -> None:
    """Forms of what is asked for, each once, without what the need names itself."""
    catalogue = read_catalogue()
    need = Need("board", (catalogue["controller-compact-5v"],))
    train = replace(train_of((hollow("loco", 10, 6, 9, kind="loco"),), (need,)), catalogue=catalogue)
    assert [part.id for part in other_forms(need, train)] == ["controller-compact-5v-pins"]
    both = replace(need, candidates=(*need.candidates, catalogue["controller-compact-5v-pins"]))
    assert other_forms(both, train) == ()
    eyes = replace(need, candidates=(catalogue["ranger-two-eyed-pins"],))
    assert [part.id for part in other_forms(eyes, train)] == ["ranger-two-eyed", "ranger-two-eyed-bare"]


def _over(box: Box, at: tuple[float, float, float]) -> bool:
    return all(box.low[axis] < at[axis] < box.high[axis] for axis in (0, 1))
