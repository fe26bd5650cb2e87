"""The fewest bricks round a window that must go, so that a part which is too large for it looks out of it.

Asked of a body that layer drawings tell, on its grid of studs and plates. Which cells a place of the part
asks for, `window_places` says, those that ask for the least first. The packer then says of the body without
these cells whether the part really goes in, and beside what else: the first set that it says *fits* of is
proposed. It is the least when no set before it was refuted or left open; a set that was refuted
may yet lie in a larger one that no place here asks for, so it counts as one stud and plate more.

Over the gap lies a plate that reaches a stud farther on both sides, where there is a brick to rest on. A lid
that lifts off in one piece needs none: it lies on all that stays.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from fitplan.model.solids import Box, axis_of
from fitplan.model.vehicle import Vehicle, Window
from fitplan.model.wider_window import WiderWindow
from fitplan.packing.vehicle.body_support import left_hanging
from fitplan.packing.vehicle.hidden_beam import hidden_share
from fitplan.packing.vehicle.middles import held_in_the_middle
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.stud_cells import (
    BRICK,
    HARD,
    REMOVABLE,
    Cell,
    StudCells,
    drawn_in,
    without_bricks,
)
from fitplan.packing.vehicle.window_places import MOST_ASKED, WindowCut, WindowPlaces

_SHUT = 1e-3


def wider_window(
    packer: Packer, name: str, wanted: Wanted, beside: Sequence[Wanted] = ()
) -> WiderWindow | None:
    """Return the least widening of the window that a part wants to look out of; None where none is found.

    Parameters
    ----------
    packer
        Of the train as it is drawn.
    beside
        What else is to lie in the vehicle.
    """
    vehicle = packer.vehicle(name)
    window = next((one for one in vehicle.windows if (name, one.name) == wanted.need.looks), None)
    cells = StudCells.of(vehicle)
    if window is None or cells is None or axis_of(window.out) == 2:
        return None
    found: set[WindowCut] = set()
    for pose in wanted.part.mount.allowed_poses():
        if pose.turn_direction(wanted.part.mount.looks or "+x") == window.out:
            found.update(WindowPlaces(vehicle, cells, window, wanted, pose).cuts())
    least: int | None = None
    for cut in sorted(found)[:MOST_ASKED]:
        changed, removed = _changed(vehicle, cells, window, cut)
        if _stays_shut(vehicle, _outline(cells, window, cut)):
            least = cut.bricks if least is None else min(least, cut.bricks)
            continue
        alone = Packer({name: changed}).pack_as_it_is(name, (wanted,), removed)
        if alone.verdict == "fits":
            least = cut.bricks if least is None else min(least, cut.bricks)
            return _proposal(vehicle, cells, window, wanted, cut, changed, removed, alone, beside, least)
        sure = cut.bricks + int(alone.verdict == "cannot fit")
        least = sure if least is None else min(least, sure)
    return None


def _proposal(
    vehicle: Vehicle,
    cells: StudCells,
    window: Window,
    wanted: Wanted,
    cut: WindowCut,
    changed: Vehicle,
    removed: frozenset[str],
    alone: Packing,
    beside: Sequence[Wanted],
    least: int,
) -> WiderWindow:
    name = alone.vehicle
    together = Packer({name: changed}).pack_as_it_is(name, (wanted, *beside), removed) if beside else alone
    packing = together if together.verdict == "fits" else alone
    packing = _in_the_middle(changed, wanted, beside if packing is together else (), removed, packing)
    place = next(one.place for one in packing.placements if one.need == wanted.need.name)
    gone = frozenset(cell for cell in cut.cells if cells.kinds[cell] == BRICK)
    plates, one_sided = _plates(vehicle, cells, frozenset(cut.cells))
    return WiderWindow(
        need=wanted.need.name,
        part_id=wanted.part.id,
        vehicle=name,
        window=window.name,
        outline=_outline(cells, window, cut),
        out=cells.boxes(gone),
        remove=tuple(sorted(removed)),
        size=cut.bricks,
        least=least,
        plates=plates,
        rests_on_one_side=one_sided,
        carried=left_hanging(vehicle, changed, removed).text,
        place=place,
        alone=bool(beside) and together.verdict != "fits",
        hidden_before=round(hidden_share(vehicle, frozenset(), wanted, window, place), 4),
        hidden_after=round(hidden_share(changed, removed, wanted, window, place), 4),
    )


def _in_the_middle(
    changed: Vehicle,
    wanted: Wanted,
    beside: Sequence[Wanted],
    removed: frozenset[str],
    packing: Packing,
) -> Packing:
    """Return the parts packed with the ranger in the middle of the widened window, where that goes."""
    place = next(one for one in packing.placements if one.need == wanted.need.name)
    held = held_in_the_middle(wanted, changed, place, 0.0)
    if held is None:
        return packing
    name = packing.vehicle
    found = Packer({name: changed}).pack_as_it_is(name, (held, *beside), removed, proofs=False)
    return found if found.verdict == "fits" else packing


def _changed(
    vehicle: Vehicle, cells: StudCells, window: Window, cut: WindowCut
) -> tuple[Vehicle, frozenset[str]]:
    """Return the vehicle without the cells, its window as wide as that makes it, and what is taken out."""
    gone = frozenset(cell for cell in cut.cells if cells.kinds[cell] == BRICK)
    removed = frozenset(str(cells.names[cell]) for cell in cut.cells if cells.kinds[cell] == REMOVABLE)
    wide = replace(window, box=_outline(cells, window, cut))
    windows = tuple(wide if one is window else one for one in vehicle.windows)
    return replace(without_bricks(vehicle, cells.boxes(gone)), windows=windows), removed


def _outline(cells: StudCells, window: Window, cut: WindowCut) -> Box:
    """Return the widened window: as wide as its cells, as thick as it was."""
    box = cells.box(*cut.outline)
    low, high = list(box.low), list(box.high)
    along = axis_of(window.out)
    low[along], high[along] = window.box.low[along], window.box.high[along]
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _stays_shut(vehicle: Vehicle, outline: Box) -> bool:
    """Return whether a pane or something built in stands in a window, which no brick of the layers is."""
    stuck = [entry.solid for entry in drawn_in(vehicle) if entry.state == "fixed"]
    stuck += [solid for built in vehicle.built_in for solid in built.solids]
    return any(
        all(box.low[i] < outline.high[i] - _SHUT and box.high[i] > outline.low[i] + _SHUT for i in range(3))
        for box in (solid.bounds for solid in stuck)
    )


def _plates(vehicle: Vehicle, cells: StudCells, gone: frozenset[Cell]) -> tuple[tuple[Box, ...], bool]:
    """Return the plates over a gap, and whether one of them, or what lies there, rests on one side only."""
    long, wide, high = cells.kinds.shape
    lids = [opening.box for opening in vehicle.openings if opening.out == "+z"]

    def bears(i: int, j: int, k: int) -> bool:
        inside = 0 <= i < long and 0 <= j < wide and 0 <= k < high
        return inside and (i, j, k) not in gone and cells.kinds[i, j, k] in (BRICK, REMOVABLE, HARD)

    plates: list[Box] = []
    one_sided = False

    def left_bare(i: int, j: int, k: int) -> bool:
        """Return whether a brick that is no lid's lies over a cell that nothing fills."""
        if bears(i, j, k) or not bears(i, j, k + 1):
            return False
        above = cells.box((i, j, k + 1), (i + 1, j + 1, k + 2))
        return not any(_within(above, lid) for lid in lids)

    for i, k in sorted({(i, k) for i, j, k in gone if left_bare(i, j, k)}):
        # The whole gap in this row, with what was open before; what goes is somewhere in it.
        row = [j for j in range(wide) if left_bare(i, j, k)]
        for first, last in _runs(row):
            if not any((i, j, k) in gone for j in range(first, last + 1)):
                continue
            left, right = bears(i, first - 1, k), bears(i, last + 1, k)
            one_sided |= not (left and right)
            if left or right:
                low, high_ = first - int(left), last + 1 + int(right)
                plates.append(cells.box((i, low, k + 1), (i + 1, high_, k + 2)))
    return tuple(plates), one_sided


def _within(box: Box, room: Box) -> bool:
    return all(
        box.low[axis] >= room.low[axis] - _SHUT and box.high[axis] <= room.high[axis] + _SHUT
        for axis in range(3)
    )


def _runs(numbers: list[int]) -> Iterator[tuple[int, int]]:
    """Yield first and last of each unbroken run of ascending numbers."""
    start = 0
    for end in range(1, len(numbers) + 1):
        if end == len(numbers) or numbers[end] != numbers[end - 1] + 1:
            yield numbers[start], numbers[end - 1]
            start = end
