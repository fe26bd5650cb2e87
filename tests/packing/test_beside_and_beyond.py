"""What lies beside a tile or beyond an opening, what is let down, what a wider window takes at the least."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.packing.access.slide import FAR, beyond_opening
from fitplan.packing.vehicle import laid_places, side_studs, wider_window
from fitplan.packing.vehicle.side_studs import LAYER, LEAST_HELD, SEAT, _sides


@pytest.mark.parametrize("out", ["+x", "-x", "+y", "-y", "+z", "-z"])
def test_beyond_an_opening_a_part_keeps_its_middle_before_it(out: Any) -> None:
    """Offset by offset: once its front is past the outer plane, its middle may not be beside the outline."""
    axis, forwards = "xyz".index(out[1]), out[0] == "+"
    opening: Any = (10, 12, 14, 40, 35, 31)
    mover = np.array([(0, 0, 0, 7, 6, 9), (2, 1, 3, 12, 5, 4)])
    low, high = (0, 0, 0), (12, 6, 9)
    rows = beyond_opening(mover, opening, out)
    assert len(rows) == 4
    assert np.abs(rows).max() <= FAR
    for offset in itertools.product(range(-4, 44, 3), repeat=3):
        past = (
            offset[axis] + high[axis] > opening[axis + 3]
            if forwards
            else offset[axis] + low[axis] < opening[axis]
        )
        aside = any(
            2 * offset[k] + low[k] + high[k] - (low[k] + high[k]) % 2 < 2 * opening[k]
            or 2 * offset[k] + low[k] + high[k] + (low[k] + high[k]) % 2 > 2 * opening[k + 3]
            for k in range(3)
            if k != axis
        )
        shut = bool(((rows[:, :3] < offset) & (rows[:, 3:] > offset)).all(axis=1).any())
        assert shut == (past and aside), offset


@pytest.mark.parametrize("gap", [-1, 0, 1, LAYER - 1, LAYER])
def test_a_part_lies_against_a_tile_on_each_side_of_a_column(gap: int) -> None:
    """Flush with it or less than a plate off, with a pad between; over enough of its face."""
    cell = (5, 7, 6, 8)
    z0 = 320 + SEAT
    for axis, forwards in itertools.product((0, 1), (True, False)):
        low, high = [400, 560, z0], [480, 640, z0 + 80]
        face = high[axis] + LAYER if forwards else low[axis] - LAYER
        box_low, box_high = list(low), list(high)
        if forwards:
            box_low[axis], box_high[axis] = face + gap, face + gap + 200
        else:
            box_low[axis], box_high[axis] = face - gap - 200, face - gap
        part: Any = SimpleNamespace(boxes=[(*box_low, *box_high)], flat=())
        found = list(_sides(part, cell, 96, 320))
        held = 0 <= gap < LAYER
        assert len(found) == held
        if not held:
            continue
        (one,) = found
        assert one.kind == "clip"
        tile = next(box for name, box in one.pieces if name == "tile 1 × 1")
        assert tile[axis : axis + 4 : 3] == ((high[axis], face) if forwards else (face, low[axis]))
        pads = [box for _, box in one.over]
        assert len(pads) == (gap > 0)
        for pad in pads:
            assert pad[axis : axis + 4 : 3] == ((face, face + gap) if forwards else (face - gap, face))
        # A sliver of the face holds nothing.
        across = 1 - axis
        box_high[across] = box_low[across] + (LEAST_HELD - 1) // 80
        part.boxes = [(*box_low, *box_high)]
        assert list(_sides(part, cell, 96, 320)) == []
    assert side_studs.CELL == 80


def test_what_a_mount_holds_is_not_let_down(monkeypatch: pytest.MonkeyPatch) -> None:
    """All else is; where it comes to lie is its offset less what it fell, and what carries it is told."""
    asked: list[Any] = []

    def lower(parts: Any, obstacles: Any, held: Any, **more: Any) -> Any:
        asked.append((parts, obstacles, held, more))
        return [
            SimpleNamespace(drop=drop, by=by, steady=True) for drop, by in ((0, "a mount"), (12, "the floor"))
        ]

    monkeypatch.setattr(laid_places, "lower_parts", lower)
    monkeypatch.setattr(laid_places, "standing_part", lambda entry, variant, lies: entry.need.name)
    monkeypatch.setattr(laid_places, "with_shelves", lambda vehicle, removed, found, carried, kept: found)
    wanted: Any = [
        SimpleNamespace(
            need=SimpleNamespace(name=name, is_held=name == "eye", pinned=None), part=f"part {name}"
        )
        for name in ("eye", "board")
    ]
    items = [
        SimpleNamespace(name=name, variants=[SimpleNamespace(key="+x+y+z")]) for name in ("eye", "board")
    ]
    space = SimpleNamespace(obstacles="obstacles", off_limits="walls")
    problem: Any = SimpleNamespace(items=items, spaces=[space])
    placed: Any = {
        "eye": SimpleNamespace(variant=0, offset=(10, 20, 300)),
        "board": SimpleNamespace(variant=0, offset=(15, 25, 350)),
    }
    cavity: Any = SimpleNamespace(name="v", vehicle=None, removed=frozenset(), bricks="bricks")
    found = laid_places.laid_places(cavity, wanted, problem, placed)
    assert asked == [
        (["eye", "board"], "obstacles", frozenset({"eye"}), {"walls": "walls", "bricks": "bricks"})
    ]
    assert [(one.need, one.vehicle, one.place.offset, one.carried_by) for one in found] == [
        ("eye", "v", (1.0, 2.0, 30.0), "a mount"), ("board", "v", (1.5, 2.5, 33.8), "the floor"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("cuts", "least"),
    [
        ([(3, "fits")], 3),
        # What surely does not go in with three bricks out takes four at the least; undecided, three.
        ([(3, "cannot fit"), (5, "fits")], 4),
        ([(3, "not decided"), (5, "fits")], 3),
        ([(3, "cannot fit"), (4, "not decided"), (5, "fits")], 4),
        ([(3, "shut"), (5, "fits")], 3),
        ([(2, "cannot fit"), (5, "shut"), (6, "fits")], 3),
        ([(3, "cannot fit")], None),
    ],
)
def test_how_many_bricks_a_wider_window_takes_at_the_least(
    monkeypatch: pytest.MonkeyPatch, cuts: list[tuple[int, str]], least: int | None
) -> None:
    sets = [
        SimpleNamespace(bricks=bricks, verdict=verdict, number=k) for k, (bricks, verdict) in enumerate(cuts)
    ]
    monkeypatch.setattr(wider_window, "sorted", lambda some: sets, raising=False)
    monkeypatch.setattr(wider_window, "set", list, raising=False)
    monkeypatch.setattr(wider_window, "StudCells", SimpleNamespace(of=lambda vehicle: "cells"))
    monkeypatch.setattr(wider_window, "_changed", lambda vehicle, cells, window, cut: (cut, frozenset()))
    monkeypatch.setattr(wider_window, "_outline", lambda cells, window, cut: cut)
    monkeypatch.setattr(wider_window, "_stays_shut", lambda vehicle, cut: cut.verdict == "shut")
    monkeypatch.setattr(
        wider_window, "Packer", lambda bodies: SimpleNamespace(pack_as_it_is=lambda *given: bodies["v"])
    )
    monkeypatch.setattr(wider_window, "_proposal", lambda *given: given)
    window = SimpleNamespace(name="w", out="+x")
    packer: Any = SimpleNamespace(vehicle=lambda name: SimpleNamespace(windows=[window]))
    mount = SimpleNamespace(allowed_poses=list, looks="")
    wanted: Any = SimpleNamespace(need=SimpleNamespace(looks=("v", "w")), part=SimpleNamespace(mount=mount))
    found: Any = wider_window.wider_window(packer, "v", wanted)
    if least is None:
        assert found is None
    else:
        assert (found[-1], found[4]) == (least, sets[-1])
