"""What a place behind a window asks for, cell by cell and at every tenth of a millimetre."""

from __future__ import annotations

import random
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.counting import sums_below
from fitplan.model.needed import Need
from fitplan.model.part import Clearance, Mount
from fitplan.model.solids import Box, Direction, axis_of, is_forward, pose_named
from fitplan.model.vehicle import BodySolid, BuiltIn, Window
from fitplan.packing.vehicle.seats import PLAY_TENTHS, Wanted
from fitplan.packing.vehicle.stud_cells import BRICK, CELL, CLEAR, LEVEL, REMOVABLE
from fitplan.packing.vehicle.window_places import WindowPlaces, _AskedCells, _count, _of_rows, _shrunk
from fitplan.units import STUD_HEIGHT

from .small_trains import block, hollow

Row = tuple[int, ...]
SHAPE = (6, 5, 9)
BASE = 160


def places(along: Direction = "+x", **more: Any) -> Any:
    """A body of 6 × 5 studs and 9 plates from 16 mm up, and a part of one box, its lens in front."""
    made: Any = WindowPlaces.__new__(WindowPlaces)
    made._cells = SimpleNamespace(base=BASE, kinds=np.full(SHAPE, BRICK, dtype=np.uint8))
    made._along = axis_of(along)
    low, high = [160, 120, 224], [320, 280, 352]
    wide = (SHAPE[made._along] * CELL) if made._along < 2 else 0
    low[made._along], high[made._along] = (wide - CELL, wide) if is_forward(along) else (0, CELL)
    box = Box((low[0] / 10, low[1] / 10, low[2] / 10), (high[0] / 10, high[1] / 10, high[2] / 10))
    made._window = Window("pane", box, along)
    made._hull = (0, 0, BASE, SHAPE[0] * CELL, SHAPE[1] * CELL, BASE + SHAPE[2] * LEVEL)
    made._body = (0, 0, 0, 95, 103, 61)
    made._lens = (40, 30, 20, 95, 70, 50) if along == "+x" else (30, 30, 20, 70, 70, 50)
    made._solids, made._kept, made._stuck, made._studs = [_shrunk(made._body)], [], [], (0,)
    for name, value in more.items():
        setattr(made, name, value)
    return made


def span_of(axis: int, low: int, high: int) -> list[int]:
    """The cells along an axis that share room with what lies between two planes."""
    step, start = (LEVEL, BASE) if axis == 2 else (CELL, 0)
    return [n for n in range(SHAPE[axis]) if n * step + start < high and (n + 1) * step + start > low]


@pytest.mark.parametrize("axis", range(3))
def test_which_cells_a_box_overlaps_along_an_axis(axis: int) -> None:
    box = (-13, -13, -13, 51, 51, 51)
    made = places()
    line = np.arange(-120, 700)
    first, last = made._span(axis, line, box)
    for at, a, b in zip(line.tolist(), first.tolist(), last.tolist(), strict=True):
        assert list(range(a, b)) == span_of(axis, at - 13, at + 51), at
        assert 0 <= a <= SHAPE[axis]
        assert 0 <= b <= SHAPE[axis]
    made._offsets = [line[:5], line[200:203], line[300:304]]
    spans = made._spans(box)
    assert [len(ends[0]) for ends in spans] == [5, 3, 4]
    assert all((np.array(made._span(n, made._offsets[n], box)) == np.array(spans[n])).all() for n in range(3))


@pytest.mark.parametrize("along", ["+x", "-x", "+y", "-y"])
def test_what_lies_ahead_of_a_lens_reaches_from_the_wall_s_inside_right_through_it(along: Direction) -> None:
    """Also where the lens begins far behind the wall, or within it."""
    made = places(along)
    axis = axis_of(along)
    far = SHAPE[axis] * CELL
    made._offsets = [np.arange(100, 260, 30), np.arange(100, 260, 30), np.arange(200, 300, 25)]
    made._offsets[axis] = np.arange(-20, far, 25)
    seen, found = made._seen(), made._view()
    for n in range(3):
        for at, a, b in zip(made._offsets[n].tolist(), *(ends.tolist() for ends in found[n]), strict=True):
            if n != axis:
                assert list(range(a, b)) == span_of(n, at + seen[n], at + seen[n + 3])
            elif is_forward(along):
                behind = [SHAPE[axis] - 1, *span_of(n, at + seen[n], at + seen[n + 3])]
                if at + seen[n] < far:
                    assert (a, b) == (min(behind), SHAPE[axis])
            else:
                behind = [0, *span_of(n, at + seen[n], at + seen[n + 3])]
                if at + seen[n + 3] > 0 and at + seen[n] < far:
                    assert (a, b) == (0, max(behind) + 1)


def test_of_a_box_the_play_of_bricks_is_taken_off_sideways_but_never_all_of_it() -> None:
    give = 2 * PLAY_TENTHS
    assert _shrunk((0, 10, 20, 100, 200, 21)) == (give, 10 + give, 20, 100 - give, 200 - give, 21)
    for width in range(1, 4 * give):
        x0, y0, _, x1, y1, _ = _shrunk((0, 0, 0, width, 100, 1))
        assert x1 - x0 == max(width - 2 * give, 2 - width % 2)
        assert x0 == width - x1
        assert (y0, y1) == (give, 100 - give)
        assert _shrunk((0, 0, 0, 100, width, 1))[1::3] == (x0, x1)


def test_a_lens_is_seen_through_less_than_it_is_high_and_wide() -> None:
    made = places(_lens=(0, 10, 20, 100, 60, 90))
    give = PLAY_TENTHS
    assert made._seen() == (2 * give, 10 + 2 * give, 20 + give, 100 - 2 * give, 60 - 2 * give, 90 - give)
    for height in range(1, 4 * give + 4):
        made._lens = (0, 10, 20, 100, 60, 20 + height)
        _, _, z0, _, _, z1 = made._seen()
        assert z1 - z0 == max(height - 2 * give, 2 - height % 2)
        assert z0 - 20 == 20 + height - z1


def asked(made: Any, axis: int, at: int) -> list[frozenset[int]]:
    """What an offset along an axis asks for: cells of each box, and which solids that stay it would hit."""
    boxes = (*made._solids, *made._kept, made._seen())
    found = [frozenset(span_of(axis, at + box[axis], at + box[axis + 3])) for box in boxes]
    for box in made._solids:
        for other in made._stuck:
            hit = at + box[axis] < other[axis + 3] and at + box[axis + 3] > other[axis]
            found.append(frozenset({1} if hit else ()))
    return found


def no_more(one: list[frozenset[int]], other: list[frozenset[int]]) -> bool:
    return all(a <= b for a, b in zip(one, other, strict=True))


STUCK = [(200, 150, 250, 233, 171, 297), (301, 222, 333, 340, 250, 340)]


@pytest.mark.parametrize("stuck", [[], STUCK])
@pytest.mark.parametrize("axis", range(3))
def test_of_offsets_that_ask_for_all_that_another_asks_for_none_is_kept(axis: int, stuck: list[Row]) -> None:
    made = places(_stuck=stuck, _kept=[(-20, 30, 10, 0, 60, 90)])
    line = np.arange(150, 260, 3)
    kept = line[made._asks_least(axis, line)].tolist()
    told = {at: asked(made, axis, at) for at in line.tolist()}
    least = [
        at
        for at in told
        if not any(
            no_more(told[other], told[at]) and (told[other] != told[at] or other < at)
            for other in told
            if other != at
        )
    ]
    assert kept == least


@pytest.mark.parametrize("stuck", [[], STUCK])
@pytest.mark.parametrize("along", ["+x", "-x", "+y", "-y"])
def test_every_offset_asks_for_all_that_one_asks_for_that_is_looked_at(
    along: Direction, stuck: list[Row]
) -> None:
    """All tenths at which a lens looks through some of its window, its front within the wall, in the hull."""
    made = places(along, _stuck=stuck, _kept=[(-20, 30, 10, 0, 60, 90)], _studs=(0, 16))
    frame = [round(v * 10) for v in (*made._window.box.low, *made._window.box.high)]
    for axis in range(3):
        low = made._hull[axis] - made._body[axis] - PLAY_TENTHS
        high = made._hull[axis + 3] - made._body[axis + 3] + PLAY_TENTHS
        line = list(range(low, high + 1))
        if axis == axis_of(along):
            front = made._lens[axis + 3] if is_forward(along) else made._lens[axis]
            line = [at for at in line if frame[axis] <= at + front <= frame[axis + 3]]
        else:
            line = [at for at in line if at + made._lens[axis + 3] > frame[axis]]
            line = [at for at in line if at + made._lens[axis] < frame[axis + 3]]
        kept = made._critical(axis).tolist()
        assert kept == sorted(set(kept))
        assert set(kept) <= set(line)
        told = {at: asked(made, axis, at) for at in line}
        for at in line:
            assert any(no_more(told[other], told[at]) for other in kept), (axis, at)
        middle = (frame[1] + frame[4] - made._lens[1] - made._lens[4]) // 2
        if axis == 1 and middle in line:
            assert middle in kept
        # What is looked at beside that is a stud higher, or in the middle.
        plain = [at for at in kept if axis != 2 and (axis != 1 or at != middle)]
        for at in plain:
            assert not any(
                no_more(told[other], told[at]) and told[other] != told[at] for other in kept if other != at
            ), (axis, at)


def test_over_studs_a_part_may_lie_as_high_as_a_stud_and_on_smooth_floors_it_does_not() -> None:
    """Its underside, or that of its lens, on a plate or 1.7 mm above one, or its top against one."""
    lens = (40, 30, 15, 95, 70, 52)
    made, plain = places(_studs=(0, 17), _lens=lens), places(_lens=lens)
    smooth, studded = plain._critical(2).tolist(), made._critical(2).tolist()
    edges = [made._body[2], made._body[5], made._seen()[2], made._seen()[5]]
    low, high = smooth[0], smooth[-1]
    for told, tops in ((smooth, (0,)), (studded, (0, 17))):
        for at in told:
            if at not in (low, high):
                assert any((at + edge - BASE - top) % LEVEL == 0 for edge in edges for top in tops)
    assert set(smooth) < set(studded)
    # Sideways a stud is nothing.
    for axis in (0, 1):
        assert made._critical(axis).tolist() == plain._critical(axis).tolist()


@pytest.mark.parametrize("axis", range(3))
def test_a_part_that_is_longer_than_the_hull_and_play_has_no_offset(axis: int) -> None:
    body = [0, 0, 0, 95, 103, 61]
    made = places()
    length = made._hull[axis + 3] - made._hull[axis] + 2 * PLAY_TENTHS
    frame = [round(v * 10) for v in (*made._window.box.low, *made._window.box.high)]
    for longer in (0, 1):
        body[axis + 3] = length + longer
        lens = list(made._lens)
        if axis == 0:
            lens[0], lens[3] = body[3] - PLAY_TENTHS - 10, body[3] - PLAY_TENTHS
        else:
            # Somewhere in the window when the part begins at the lower end.
            middle = (frame[axis] + frame[axis + 3]) // 2 - made._hull[axis]
            lens[axis], lens[axis + 3] = middle - 5, middle + 5
        told = places(_body=tuple(body), _lens=tuple(lens), _solids=[tuple(body)])
        assert bool(len(told._critical(axis))) == (longer == 0)


def test_cells_in_boxes_are_counted() -> None:
    chance = np.random.default_rng(5)
    kinds = chance.random((5, 4, 6)) < 0.4
    sums = sums_below(kinds)
    spans = []
    for count in (5, 4, 6):
        first = chance.integers(0, count, 7)
        spans.append((first, np.minimum(first + chance.integers(0, 4, 7), count)))
    found = _count(sums, spans)
    for x, y, z in np.ndindex(7, 7, 7):
        a, b, c = ((ends[0][n], ends[1][n]) for ends, n in zip(spans, (x, y, z), strict=True))
        assert found[x, y, z] == kinds[a[0] : a[1], b[0] : b[1], c[0] : c[1]].sum()
    rows = np.stack([end for ends in spans for end in ends], axis=1)
    assert _of_rows(sums, rows).tolist() == [int(found[n, n, n]) for n in range(7)]


@pytest.mark.parametrize("seed", range(3))
def test_bricks_in_any_of_several_boxes(seed: int) -> None:
    """Each once, bricks and removable ones, of two boxes that may overlap."""
    chance = random.Random(seed)
    kinds = np.array([chance.choice((CLEAR, BRICK, REMOVABLE)) for _ in range(5 * 4 * 6)], dtype=np.uint8)
    cells: Any = SimpleNamespace(kinds=kinds.reshape(5, 4, 6))
    rows = []
    for _ in range(9):
        row: list[int] = []
        for count in (5, 4, 6) * 2:
            low = chance.randrange(count)
            row += [low, chance.randint(low, count)]
        rows.append(row)
    every = np.array(rows)
    told = _AskedCells(cells, every)
    masks = told.of(every)
    for row, mask in zip(rows, masks, strict=True):
        expected = [
            (i, j, k)
            for i, j, k in np.ndindex(5, 4, 6)
            if cells.kinds[i, j, k] != CLEAR
            and any(
                row[n] <= i < row[n + 1] and row[n + 2] <= j < row[n + 3] and row[n + 4] <= k < row[n + 5]
                for n in (0, 6)
            )
        ]
        assert list(told.cells(mask)) == expected
        made = places(_cells=cells)
        cut = made._cut(told.cells(mask), np.array(row), 7)
        bricks = sum(int(cells.kinds[cell] == BRICK) for cell in expected)
        assert (cut.bricks, cut.removables, cut.off_middle) == (bricks, len(expected) - bricks, 7)
        assert cut.outline == ((row[6], row[8], row[10]), (row[7], row[9], row[11]))


@pytest.mark.parametrize("finish", ["smooth", "studded"])
def test_what_a_part_may_not_run_into_is_told_in_tenths(finish: Any) -> None:
    """Room kept clear always, but the lens's own; what is drawn as a solid and stays; what is built in."""
    rooms = tuple(
        Clearance(name, kind, Box((12, at, 0), (20, at + 6, 6)), needed)
        for name, kind, at, needed in (
            ("a", "plug", 0.0, "always"), ("b", "plug", 10.0, "access"), ("c", "lens", 20.0, "always"),
        )
    )  # fmt: skip
    made = replace(block("eye", (12.0, 9.0, 6.0), mount=Mount(looks="+x")), clearances=rooms)  # type: ignore[arg-type]
    bare = hollow("v", 6, 5, 7)
    # What ends between two tenths takes neither of them for sure.
    stays, goes = Box((8.46, 8.5, 19.2), (12.54, 10.5, 30.2)), Box((14.5, 8.5, 19.2), (16.5, 10.5, 30.2))
    motor = Box((30.0, 16.0, 19.2), (38.0, 24.0, 29.2))
    vehicle = replace(
        bare,
        floor_finish=finish,
        body=(BodySolid(stays, "fixed"), BodySolid(goes, "removable", "brick")),
        built_in=(BuiltIn("motor", "motor", (motor,)),),
    )
    cells: Any = SimpleNamespace(base=BASE, kinds=np.full(SHAPE, BRICK, dtype=np.uint8))
    window = Window("pane", Box((40, 12, 22.4), (48, 28, 32)), "+x")
    found: Any = WindowPlaces(
        vehicle, cells, window, Wanted(Need("eye", (made,)), made), pose_named("+x+y+z")
    )
    assert found._studs == ((0, round(10 * STUD_HEIGHT)) if finish == "studded" else (0,))
    assert sorted(found._stuck) == [(85, 85, 192, 125, 105, 302), (300, 160, 192, 380, 240, 292)]
    assert (found._body, found._lens) == ((0, 0, 0, 120, 90, 60), (120, 0, 0, 120, 90, 60))
    assert found._along == 0
    assert found._solids == [_shrunk((0, 0, 0, 120, 90, 60))]
    assert found._kept == [_shrunk((120, 0, 0, 200, 60, 60))]
    assert found._hull == (0, 0, 160, 480, 400, 160 + 9 * 32)
