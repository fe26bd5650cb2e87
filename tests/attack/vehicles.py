"""An attack on what is claimed of single vehicles: packing, rebuild, ways in.

Small vehicles and parts are drawn at random on a grid of 4 × 4 × 3.2 mm. On such a grid boxes can always be
pushed onto grid points, so a plain enumeration of grid places is exact; it knows nothing of the program but
the drawing. Against it are held:

* *fits*, with its least cost: the places themselves, cell by cell, and the cheapest set of bricks over all
  sets, with nothing left hanging (a flood from the underside);
* *cannot fit*: no set of bricks leaves any places, for the parts as drawn, or smaller by a little, or, alone
  between bricks, wider by no more than their play;
* ways in: every step of the assembly in steps of one cell; "no way in by straight moves" by a flood.

Run with ``python -m tests.attack.vehicles [COUNT]``.
"""

from __future__ import annotations

import itertools
import random
import re
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitplan.model.needed import Need
from fitplan.model.part import Clearance, Mount, Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Opening, Removable, Vehicle
from fitplan.packing.access.way_in import assembly_order
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.rebuild import pack_with_rebuild
from fitplan.packing.vehicle.seats import Wanted
from tests.packing.small_trains import block, hollow

CELL = (4.0, 4.0, 3.2)
BASE = 16.0
PLAY = 0.2
"""By how much bricks may stand apart more than drawn, in mm (common practice, no source)."""
Grid = NDArray[np.bool_]
Cells = tuple[int, int, int, int, int, int]
FREE, OUTSIDE, KEEP, SOLID = range(4)
CODES = {"free": FREE, "outside": OUTSIDE, "keep-clear": KEEP, "fixed": SOLID, "removable": SOLID}
MARGIN = 14
"""Cells of open air round the hull."""


@dataclass(frozen=True)
class Case:
    """A vehicle, the parts that it is to hold, and by how much (mm) they were made larger than the grid."""

    vehicle: Vehicle
    shape: tuple[int, int, int]
    parts: tuple[Part, ...]
    sizes: tuple[tuple[Cells, ...], ...]
    rooms: tuple[Cells | None, ...]
    grown: float

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """The parts as they are asked for."""
        return tuple(Wanted(Need(f"n{i}", (part,)), part) for i, part in enumerate(self.parts))


def in_mm(cells: Cells, base: float = 0.0) -> Box:
    """Return a box of cells in millimetres."""
    low = [round(cells[i] * CELL[i] + (base if i == 2 else 0.0), 6) for i in range(3)]
    high = [round(cells[i + 3] * CELL[i] + (base if i == 2 else 0.0), 6) for i in range(3)]
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def make_case(seed: int) -> Case:
    """Draw a case."""
    dice = random.Random(seed)
    shape = (2 * dice.randint(4, 7), 2 * dice.randint(3, 5), dice.randint(4, 8))
    nx, ny, nz = shape
    body = [BodySolid(in_mm((0, 0, 0, nx, ny, nz), BASE), "fixed")]
    body.append(BodySolid(in_mm((2, 2, 1, nx - 2, ny - 2, nz - 1), BASE), "free"))
    grown = dice.choice((0.0, 0.0, 0.0, -0.05, 0.05, 0.1, 0.2, 0.3))
    # Only bricks have play: what is wider than the grid is drawn between bricks alone.
    drawn = ("fixed", "free") if grown > 0 else ("fixed", "fixed", "free", "free", "keep-clear", "outside")
    for _ in range(dice.randint(0, 4)):
        state = dice.choice(drawn)
        body.append(BodySolid(in_mm(_some_box(dice, shape, 6), BASE), state))  # type: ignore[arg-type]
    removables = []
    for number in range(dice.choice((0, 0, 1, 2, 3))):
        x, y = 2 * dice.randrange(1, nx // 2 - 1), 2 * dice.randrange(1, ny // 2 - 1)
        low = dice.randint(1, max(nz - 3, 1))
        box = (x, y, low, x + 2 * dice.randint(1, 2), y + 2, min(low + dice.randint(1, 3), nz))
        body.append(BodySolid(in_mm(box, BASE), "removable", f"brick {number}"))
        removables.append(Removable(f"brick {number}", float(dice.randint(1, 4))))
        if box[5] < nz - 1 and dice.random() < 0.5:
            # What stands on it hangs once it is out.
            on_top = (box[0], box[1], box[5], box[3], box[4], box[5] + 1)
            top = f"top {number}" if dice.random() < 0.6 else ""
            body.append(BodySolid(in_mm(on_top, BASE), "removable" if top else "fixed", top))
            removables += [Removable(top, float(dice.randint(1, 4)))] if top else []
    lids = (Opening("lid", in_mm((2, 2, nz - 1, nx - 2, ny - 2, nz), BASE), "+z"),)
    vehicle = replace(
        hollow("v", nx // 2, ny // 2, 4), base=BASE, top=round(BASE + nz * CELL[2], 6), body=tuple(body),
        removables=tuple(removables), openings=lids if dice.random() < 0.7 else (), ports=(), windows=(),
    )  # fmt: skip
    parts, sizes, rooms = [], [], []
    for number in range(1 if grown > 0 else dice.randint(1, 3)):
        size = [dice.randint(1, 6), dice.randint(1, 4), dice.randint(1, 4)]
        cells: list[Cells] = [(0, 0, 0, size[0], size[1], size[2])]
        if dice.random() < 0.4 and grown == 0.0:
            step = dice.randint(1, size[0])
            cells.append((0, 0, size[2], step, size[1], size[2] + dice.randint(1, 2)))
        room: Cells | None = None
        if dice.random() < 0.3 and grown == 0.0:
            room = (size[0], 0, 0, size[0] + dice.randint(1, 4), size[1], 1)
        parts.append(_part(f"p{number}", cells, room, grown))
        sizes.append(tuple(cells))
        rooms.append(room)
    return Case(vehicle, shape, tuple(parts), tuple(sizes), tuple(rooms), grown)


def _some_box(dice: random.Random, shape: tuple[int, int, int], longest: int) -> Cells:
    low, high = [], []
    for axis, count in enumerate(shape):
        step = 2 if axis < 2 else 1
        first = step * dice.randrange(0, count // step)
        low.append(first)
        high.append(min(first + step * dice.randint(1, max(longest // step, 1)), count))
    return (low[0], low[1], low[2], high[0], high[1], high[2])


def _part(name: str, cells: list[Cells], room: Cells | None, grown: float) -> Part:
    envelope = []
    for box in cells:
        solid = in_mm(box)
        high = (round(solid.high[0] + grown, 6), round(solid.high[1] + grown, 6), solid.high[2])
        envelope.append(Box(solid.low, high))
    clearances = () if room is None else (Clearance("plug", "plug", in_mm(room)),)
    bare = block(name, (1.0, 1.0, 1.0), mount=Mount(upright=True))
    return replace(bare, envelope=tuple(envelope), clearances=clearances)


# --- the model of its own ------------------------------------------------------------------------


def states(case: Case, removed: frozenset[str]) -> NDArray[np.int8]:
    """Return the state of every cell of the hull, straight from the drawing order."""
    found = np.full(case.shape, OUTSIDE, dtype=np.int8)
    for entry in case.vehicle.body:
        low, high = entry.solid.bounds.low, entry.solid.bounds.high
        span = tuple(
            slice(
                round((low[i] - (BASE if i == 2 else 0)) / CELL[i]),
                round((high[i] - (BASE if i == 2 else 0)) / CELL[i]),
            )
            for i in range(3)
        )
        found[span] = FREE if entry.removable and entry.removable in removed else CODES[entry.state]
    return found


def turned(box: Cells, quarter: int) -> Cells:
    """Return a box of cells after quarter turns about the upright axis."""
    x0, y0, z0, x1, y1, z1 = box
    for _ in range(quarter):
        x0, y0, x1, y1 = -y1, x0, -y0, x1
    return (x0, y0, z0, x1, y1, z1)


def places(case: Case, number: int, removed: frozenset[str]) -> Iterator[tuple[int, int]]:
    """Yield all grid places of a part with nothing else there: bits of its cells and of the room it keeps."""
    state = states(case, removed)
    nx, ny, nz = case.shape
    far = (nx + 2 * MARGIN, ny + 2 * MARGIN, nz + 2 * MARGIN)
    for quarter in range(4):
        boxes = [turned(box, quarter) for box in case.sizes[number]]
        room = case.rooms[number]
        kept = turned(room, quarter) if room is not None else None
        spans = [
            range(-min(b[i] for b in boxes), case.shape[i] - max(b[i + 3] for b in boxes) + 1)
            for i in range(3)
        ]
        for at in itertools.product(*spans):
            moved = [_shift(box, at) for box in boxes]
            if any((state[_slices(box)] != FREE).any() for box in moved):
                continue
            own = _bits(moved, far)
            if kept is None:
                yield own, 0
                continue
            clear = _shift(kept, at)
            inside = tuple(
                slice(max(clear[i], 0), max(min(clear[i + 3], case.shape[i]), 0)) for i in range(3)
            )
            if (state[inside] >= KEEP).any():
                continue
            yield own, _bits([clear], far)


def _shift(box: Cells, at: tuple[int, ...]) -> Cells:
    return (box[0] + at[0], box[1] + at[1], box[2] + at[2], box[3] + at[0], box[4] + at[1], box[5] + at[2])


def _slices(box: Cells) -> tuple[slice, slice, slice]:
    return (slice(box[0], box[3]), slice(box[1], box[4]), slice(box[2], box[5]))


def _bits(boxes: list[Cells], far: tuple[int, int, int]) -> int:
    mask = np.zeros(far, dtype=bool)
    for box in boxes:
        mask[_slices(_shift(box, (MARGIN, MARGIN, MARGIN)))] = True
    return int.from_bytes(np.packbits(mask).tobytes(), "big")


def goes_in(case: Case, removed: frozenset[str]) -> bool:
    """Return whether all parts have grid places together: every choice is looked at."""
    every = [list(dict.fromkeys(places(case, number, removed))) for number in range(len(case.parts))]
    every.sort(key=len)

    def rest(number: int, taken: int, kept: int) -> bool:
        if number == len(every):
            return True
        return any(
            rest(number + 1, taken | own, kept | room)
            for own, room in every[number]
            if not own & (taken | kept) and not room & taken
        )

    return rest(0, 0, 0)


def hangs(case: Case, removed: frozenset[str]) -> set[tuple[int, int, int]]:
    """Return the solid cells that are not joined to the underside."""
    solid = states(case, removed) == SOLID
    reached = np.zeros_like(solid)
    reached[:, :, 0] = solid[:, :, 0]
    while True:
        wider = reached.copy()
        for axis in range(3):
            ahead, behind = [slice(None)] * 3, [slice(None)] * 3
            ahead[axis], behind[axis] = slice(1, None), slice(None, -1)
            wider[tuple(ahead)] |= reached[tuple(behind)]
            wider[tuple(behind)] |= reached[tuple(ahead)]
        wider &= solid
        if (wider == reached).all():
            return {(int(x), int(y), int(z)) for x, y, z in np.argwhere(solid & ~reached)}
        reached = wider


def cheapest(case: Case) -> tuple[float | None, bool]:
    """Return the least cost of bricks that make room and leave nothing hanging, and whether any make room."""
    costs = {entry.name: entry.cost for entry in case.vehicle.removables}
    before = hangs(case, frozenset())
    best: float | None = None
    any_room = False
    for count in range(len(costs) + 1):
        for names in map(frozenset, itertools.combinations(costs, count)):
            if not goes_in(case, names):
                continue
            any_room = True
            cost = sum(costs[name] for name in names)
            fresh = hangs(case, names) - before
            if not (fresh and names) and (best is None or cost < best):
                best = cost
    return best, any_room


def only_play_lets_in(case: Case) -> bool:
    """Return whether a part is wider than the room drawn for it by no more than bricks play.

    Both *fits* and *cannot fit* would then be wrong on some bricks. In whole cells the part as large as the
    grid goes in, and the next cell larger does not.
    """
    if not 0 < case.grown <= PLAY or not cheapest(case)[1]:
        return False
    bricks = frozenset(entry.name for entry in case.vehicle.removables)
    ((cells,),) = case.sizes
    x, y, z = cells[3:]
    # Walls stand on the grid: what is a little wider along both level axes takes a cell more along both.
    return not goes_in(replace(case, sizes=(((0, 0, 0, x + 1, y + 1, z),),)), bricks)


def alone_gets_out(case: Case, placement: Placement, removed: frozenset[str]) -> bool:
    """Return whether a part slides out cell by cell with the lids off and nothing else in."""
    state = np.full(tuple(n + 2 * MARGIN for n in case.shape), OUTSIDE, dtype=np.int8)
    inner = tuple(slice(MARGIN, MARGIN + n) for n in case.shape)
    state[inner] = states(case, removed)
    blocked = state >= KEEP
    for lid in case.vehicle.openings:
        cells = _cells_of(lid.box)
        blocked[_slices(_shift(cells, (MARGIN,) * 3))] = False
    boxes = [_shift(box, (MARGIN,) * 3) for box in _cells_at(placement)]
    hull = (MARGIN, MARGIN, MARGIN, *(MARGIN + n for n in case.shape))
    seen, waiting = {(0, 0, 0)}, [(0, 0, 0)]
    while waiting:
        at = waiting.pop()
        moved = [_shift(box, at) for box in boxes]
        if all(any(box[i] >= hull[i + 3] or box[i + 3] <= hull[i] for i in range(3)) for box in moved):
            return True
        for step in ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)):
            further = (at[0] + step[0], at[1] + step[1], at[2] + step[2])
            if further in seen:
                continue
            there = [_shift(box, further) for box in boxes]
            inside = all(
                min(box[:3]) >= 0 and all(box[i + 3] <= state.shape[i] for i in range(3)) for box in there
            )
            if inside and not any(blocked[_slices(box)].any() for box in there):
                seen.add(further)
                waiting.append(further)
    return False


def _cells_of(box: Box) -> Cells:
    low = [round((box.low[i] - (BASE if i == 2 else 0)) / CELL[i]) for i in range(3)]
    high = [round((box.high[i] - (BASE if i == 2 else 0)) / CELL[i]) for i in range(3)]
    return (low[0], low[1], low[2], high[0], high[1], high[2])


def _cells_at(placement: Placement) -> list[Cells]:
    return [_cells_of(placement.place.move_solid(solid).bounds) for solid in placement.part.envelope]


# --- claims against the model --------------------------------------------------------------------


def boxes_of(placement: Placement) -> list[Box]:
    """Return a placed part's boxes in millimetres."""
    return [placement.place.move_solid(solid).bounds for solid in placement.part.envelope]


def cells_in_mm(cells: Grid) -> list[Box]:
    """Return set cells as boxes in millimetres."""
    return [in_mm((x, y, z, x + 1, y + 1, z + 1), BASE) for x, y, z in np.argwhere(cells).tolist()]


def overlap(one: Box, other: Box) -> bool:
    """Return whether two boxes share more than a millionth of a millimetre along each axis."""
    return all(min(one.high[i], other.high[i]) - max(one.low[i], other.low[i]) > 1e-6 for i in range(3))


def wrong_places(case: Case, packing: Packing) -> list[str]:
    """Return what is wrong with the places of a packing, in millimetres against every cell."""
    removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
    state = states(case, removed)
    wrong = []
    shut, walls = cells_in_mm(state != FREE), cells_in_mm(state >= KEEP)
    for place in packing.placements:
        wrong += [
            f"{place.need} in the body" for box in boxes_of(place) if any(overlap(box, s) for s in shut)
        ]
        for clearance in place.part.clearances:
            room = place.place.move_solid(clearance.solid).bounds
            wrong += [f"room of {place.need} in the body" for wall in walls if overlap(room, wall)]
            wrong += [
                f"{other.need} in the room of {place.need}"
                for other in packing.placements
                if other is not place and any(overlap(room, box) for box in boxes_of(other))
            ]
    for one, other in itertools.combinations(packing.placements, 2):
        if any(overlap(a, b) for a in boxes_of(one) for b in boxes_of(other)):
            wrong.append(f"{one.need} in {other.need}")
    return wrong


def attack(seed: int) -> tuple[str, list[str]]:
    """Return a verdict with what became of it, and every contradiction that was found."""
    case = make_case(seed)
    packing = pack_with_rebuild(Packer({"v": case.vehicle}), "v", case.wanted)
    bad: list[str] = []
    if packing.holds:
        bad += wrong_places(case, packing)
        removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
        if hangs(case, removed) - hangs(case, frozenset()):
            bad.append("bricks are left hanging")
        bad += _ways(case, packing, removed)
    told = re.match(r"([\d.]+) mm of", packing.reason) if packing.verdict == "not decided" else None
    if told is not None and case.grown <= PLAY and float(told[1]) > case.grown + 0.1:
        bad.append(f"{told[1]} mm are said to be missing, and {case.grown} are")
    if case.grown <= 0:
        best, any_room = cheapest(case)
        if case.grown == 0 and packing.holds and (best is None or packing.cost > best + 1e-9):
            bad.append(f"costs {packing.cost}, and {best} would do")
        if packing.verdict == "cannot fit" and any_room:
            bad.append("cannot fit is said of parts that do")
        if case.grown == 0 and packing.holds and best is not None and packing.cost < best - 1e-9:
            bad.append(f"costs {packing.cost}, less than the least {best}")
    elif packing.verdict == "cannot fit" and case.grown <= 0.2 + 1e-9 and cheapest(case)[1]:
        bad.append("cannot fit is said of a part that the play of bricks lets in")
    return packing.verdict, bad


def _ways(case: Case, packing: Packing, removed: frozenset[str]) -> list[str]:
    plan = assembly_order(case.vehicle, packing.placements, removed=removed)
    bad: list[str] = []
    if case.grown == 0:
        on_grid = all(
            abs(value / CELL[i] - round(value / CELL[i])) < 1e-6
            for place in packing.placements
            for box in boxes_of(place)
            for i, value in enumerate((box.low[0], box.low[1], box.low[2] - BASE))
        )
        for place in packing.placements:
            denied = any(
                text.startswith(f"{place.need} has no way in by straight moves") for text in plan.blocked
            )
            if denied and on_grid and alone_gets_out(case, place, removed):
                bad.append(f"{place.need} is said to have no way in, and has one")
    inside = {place.need: place for place in packing.placements}
    state = states(case, removed)
    for step in reversed(plan.steps):
        lids = [lid for lid in case.vehicle.openings if lid.name == step.opening]
        open_cells = state.copy()
        for lid in lids:
            open_cells[_slices(_cells_of(lid.box))] = FREE
        walls = [
            in_mm((*map(int, c), *(int(v) + 1 for v in c)), BASE) for c in np.argwhere(open_cells >= KEEP)
        ]
        movers = [box for need in step.needs for box in boxes_of(inside[need])]
        for need in step.needs:
            del inside[need]
        standing = [box for place in inside.values() for box in boxes_of(place)] + walls
        for way, distance in reversed(step.moves):
            axis, sign = "xyz".index(way[1]), -1.0 if way[0] == "+" else 1.0
            swept = []
            for box in movers:
                low, high = list(box.low), list(box.high)
                if sign > 0:
                    high[axis] += distance
                else:
                    low[axis] -= distance
                swept.append(Box((low[0], low[1], low[2]), (high[0], high[1], high[2])))
            if any(overlap(one, other) for one in swept for other in standing):
                bad.append(f"{step.need} runs into something on its way {way}")
            movers = [_moved(box, axis, sign * distance) for box in movers]
        if any(overlap(box, case.vehicle.hull) for box in movers):
            bad.append(f"{step.need} is not out at the end of its way")
    return bad


def _moved(box: Box, axis: int, by: float) -> Box:
    low, high = list(box.low), list(box.high)
    low[axis] += by
    high[axis] += by
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def main(count: int) -> int:
    """Attack with so many cases and print the table; return the number of contradictions."""
    verdicts: Counter[str] = Counter()
    contradictions = within_play = 0
    for seed in range(count):
        verdict, bad = attack(seed)
        verdicts[verdict] += 1
        contradictions += len(bad)
        within_play += verdict == "not decided" and only_play_lets_in(make_case(seed))
        for text in bad:
            print(f"seed {seed}: {verdict}: {text}")
    print(f"{count} cases: " + ", ".join(f"{verdicts[name]} {name}" for name in sorted(verdicts)))
    undecided = verdicts["not decided"]
    print(
        f"contradictions {contradictions}; undecided {undecided / count:.1%}, of which the play of bricks"
        f" leaves no other answer in {within_play}; else undecided {(undecided - within_play) / count:.1%}"
    )
    return contradictions


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 300) > 0)
