"""What studs under an addition bear, beside moments about every edge as vectors, and beside the checks' own.

A rigid body turns over an edge once the moment of what pushes it about that edge exceeds that of what holds
it: here each stud of a foot holds 1 N downwards, in the middle of that foot (statics of rigid bodies).
"""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from fitplan.checks.on_additions import borne_sideways_n
from fitplan.model.placed import Piece, Placement, Shelf, ShelfKind
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.units import PLATE, STUD
from fitplan.verify.levers import borne_sideways, check_levers
from fitplan.verify.result import Problem
from fitplan.verify.scene import sites_of, standing

from .lies import problems
from .two_vehicles import FLOOR, LAMP, plan

KINDS: tuple[ShelfKind, ...] = ("plates", "bracket", "clip", "bridge", "hanger")
Foot = tuple[Box, int]


def stack(low: Vec, studs: tuple[int, int], count: int, way: int = 1) -> list[Piece]:
    """Plates on each other, from a level upwards or (way −1) downwards."""
    x, y, z = low
    found = []
    for n in range(count):
        bottom = z + way * n * PLATE - (PLATE if way < 0 else 0)
        box = Box((x, y, bottom), (x + STUD * studs[0], y + STUD * studs[1], bottom + PLATE))
        found.append(Piece("plate", box))
    return found


def drawn(seed: int, kind: ShelfKind) -> tuple[Shelf, list[Foot]]:
    """An addition drawn up by chance, and its feet with their studs as they were put."""
    dice = random.Random(seed)
    x, y = STUD * dice.randint(1, 3), STUD * dice.randint(1, 3)
    wide, deep, count = dice.randint(1, 2), dice.randint(1, 3), dice.randint(1, 4)
    if kind == "bridge":
        long, axis = dice.randint(4, 6), dice.randrange(2)
        far = (x + STUD * (long - 1) * (axis == 0), y + STUD * (long - 1) * (axis == 1), FLOOR)
        ends = [stack((x, y, FLOOR), (1, 1), count), stack(far, (1, 1), count)]
        top = FLOOR + PLATE * count
        size = (long, 1) if axis == 0 else (1, long)
        over = stack((x, y, top), size, 1)
        feet = [(Box(one[0].box.low, (*one[0].box.high[:2], top + PLATE)), 1) for one in ends]
        pieces = (*ends[0], *ends[1], *over)
        return Shelf(kind, (*pieces, Piece("pad", over[0].box)), 2), feet
    way = -1 if kind == "hanger" else 1
    start = (x, y, 60.0 if kind == "hanger" else FLOOR)
    own = stack(start, (wide, deep), count, way)
    foot = own[0].box
    if kind in ("bracket", "hanger"):
        last = own[-1].box
        reach = stack(
            (last.low[0], last.low[1], last.low[2] if way < 0 else last.high[2]), (wide + 2, deep), 1, way
        )
        own += reach
    ordered = own if way > 0 else own[::-1]
    more = (Piece("studs", replace(ordered[-1].box, low=(x, y, -50.0))),)
    return Shelf(kind, (*ordered, *more), wide * deep), [(foot, wide * deep)]


def on(shelf: Shelf, at: Vec, mass: float = 5.0) -> Placement:
    part = replace(LAMP, mass_g=mass)
    return Placement("lamp", part, "wagon", Place(pose_named("+x+y+z"), at), "", shelf)


def least_push(feet: list[Foot], middle: Vec, hangs: bool) -> float:
    """The least push at the middle that shears all studs, or turns their feet over one of four edges."""
    level = max(box.high[2] for box, _ in feet) if hangs else min(box.low[2] for box, _ in feet)
    least = float(sum(count for _, count in feet))
    for axis in (0, 1):
        for side in (0, 1):
            edges = [(box.low, box.high)[side][axis] for box, _ in feet]
            on_edge = np.zeros(3)
            on_edge[axis], on_edge[2] = (max if side else min)(edges), level
            along = np.eye(3)[1 - axis]
            push = np.eye(3)[axis] * (1 if side else -1)
            turns = abs(np.dot(np.cross(np.array(middle) - on_edge, push), along))
            holds = 0.0
            for box, count in feet:
                at = np.array([box.center[0], box.center[1], level])
                holds += abs(np.dot(np.cross(at - on_edge, np.array([0.0, 0.0, -float(count)])), along))
            least = min(least, holds / max(turns, 0.01))
    return least


@pytest.mark.parametrize("kind", KINDS)
def test_a_push_is_borne_up_to_the_moment_of_the_studs(kind: ShelfKind) -> None:
    """Both ways of reckoning agree with moments about every edge; the push comes above, at, or below."""
    for seed in range(40):
        shelf, feet = drawn(seed, kind)
        dice = random.Random(1000 + seed)
        placement = on(shelf, (dice.uniform(8, 40), dice.uniform(8, 40), FLOOR + dice.uniform(0, 40)))
        part = standing(placement)
        expected = least_push(feet, part.center, kind == "hanger")
        assert borne_sideways(part) == pytest.approx(expected), seed
        assert borne_sideways_n(placement) == pytest.approx(expected), seed


def test_what_stands_on_no_stud_bears_nothing_that_is_known() -> None:
    pad = Shelf("pad", (Piece("pad", Box((0, 0, FLOOR), (6, 6, FLOOR + 1))),), 0)
    block = Shelf("block", (Piece("block", Box((0, 0, FLOOR), (6, 6, FLOOR + 1))),), 0)
    for shelf in (None, pad, block):
        placement = replace(on(pad, (8, 8, FLOOR)), shelf=shelf)
        assert borne_sideways(standing(placement)) is None
        assert borne_sideways_n(placement) is None


def levered(kind: ShelfKind, aside: Vec, newton: float, *, studs: int = 2) -> tuple[Problem, ...]:
    """A lamp of so much weight with its middle so far beside the middle of a foot of 16 × 8 mm."""
    foot = stack((16.0, 16.0, FLOOR if kind != "hanger" else 60.0), (2, 1), 2, -1 if kind == "hanger" else 1)
    if kind == "hanger":
        foot = foot[::-1]
    shelf = Shelf(kind, tuple(foot), studs)
    at = (24.0 - 3 + aside[0], 20.0 - 3 + aside[1], aside[2])
    part = standing(on(shelf, at, newton / 9.81 * 1000))
    return problems(check_levers, sites_of(plan().built)["wagon"], part, shelf, studs)


@pytest.mark.parametrize("kind", ["bracket", "clip", "hanger"])
@pytest.mark.parametrize(("axis", "half"), [(0, 8.0), (1, 4.0)])
@pytest.mark.parametrize("side", [-1, 1])
def test_a_weight_beside_the_foot_lifts_it(kind: ShelfKind, axis: int, half: float, side: int) -> None:
    """Turned over the near edge from below, over the far one from a roof; a tenth more is let pass."""
    for beside in (half + 1.0, 20.0):
        aside = [0.0, 0.0, 30.0]
        aside[axis] = side * beside
        arm = beside + half if kind == "hanger" else beside - half
        most = 1.1 * 2 * half / arm
        assert levered(kind, (aside[0], aside[1], aside[2]), most * 0.999) == ()
        (one,) = levered(kind, (aside[0], aside[1], aside[2]), most * 1.001)
        assert one.figure == pytest.approx(most * 1.001 * arm, rel=1e-4)
        assert (one.subject, one.where, one.unit) == ("shelf", "wagon", "N mm")
        assert one.message == (
            "2 studs of what carries it, at 1 N each, do not hold "
            f"the {most * 1.001:.2f} N of lamp, {beside:.0f} mm beside them"
        )


def test_stacks_right_under_a_part_and_what_has_no_stud_are_not_asked() -> None:
    assert levered("plates", (20.0, 0.0, 30.0), 50.0) == ()
    assert levered("bridge", (20.0, 0.0, 30.0), 50.0) == ()
    assert levered("bracket", (20.0, 0.0, 30.0), 50.0, studs=0) == ()
    assert len(levered("bracket", (20.0, 0.0, 30.0), 50.0)) == 1
    assert levered("bracket", (8.0, 4.0, 30.0), 1000.0) == ()
