"""Which parts, as few as can be, have no room together in a vehicle, and how much is missing for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitplan.budget import QUESTION, SHARES, Budget
from fitplan.lattice.cover import TENTHS
from fitplan.model.solids import AXES, EDGE_WORDS
from fitplan.packing.engine.free_offsets import free_pieces
from fitplan.packing.engine.infeasible_subset import InfeasibleSubset, infeasible_subset, most_cut, shortened
from fitplan.packing.engine.problem import Answer, Item, PackingProblem
from fitplan.packing.engine.solve import solve
from fitplan.packing.vehicle.seats import Wanted

LESS_WORDS = ("shorter", "narrower", "lower")
"""What less along x, y and z of a vehicle is called."""


@dataclass(frozen=True)
class PackingFailure:
    """Why parts have no room together.

    Attributes
    ----------
    text
        A sentence without its full stop.
    missing_mm, axis
        How much is missing for them, and of what; 0 and empty when it was not found.
    """

    text: str
    missing_mm: float = 0.0
    axis: str = ""


def packing_failure(
    problem: PackingProblem,
    answer: Answer,
    vehicle: str,
    bricks: bool,
    budget: Budget = QUESTION,
    *,
    seed: int = 0,
) -> PackingFailure:
    """Explain an answer that is proved impossible: the smallest set of parts, and what is short.

    Parameters
    ----------
    vehicle
        Its name in the sentence.
    bricks
        Whether there are removable bricks, all of them out in this problem.
    budget
        Half of it at the most is for the smallest set, the rest for what is short.
    """
    found = infeasible_subset(problem, answer, budget.part(0.5), seed=seed)
    if not found.items:
        return PackingFailure(found.text.rstrip("."))
    where = f"in {vehicle}{', even with every removable brick out' if bricks else ''}"
    if len(found.items) == 1:
        return _alone(found, where)
    names = " + ".join(found.items)
    # Fewer than these go in together: any two of three, each of two.
    rest = {2: "each of them alone does", 3: "any two of them do"}.get(
        len(found.items), "without any one of them the others do"
    )
    text = f"{names} do not go in together {where}" + (f"; {rest}" if found.smallest else "")
    short = _least_cut(problem, found.items, budget.less(found.work), seed)
    if short is None:
        return PackingFailure(text)
    missing, axis, name = short
    what = f"{missing / TENTHS:.1f} mm of {EDGE_WORDS[axis]} are missing"
    return PackingFailure(
        f"{text}; {what}: with {name} so much {LESS_WORDS[axis]} they would",
        missing / TENTHS,
        EDGE_WORDS[axis],
    )


def pinned_shortage(problem: PackingProblem, vehicle: str, entry: Wanted) -> tuple[float, str, str, str]:
    """Say where the nearest free place is of a part whose place the user has fixed.

    Parameters
    ----------
    problem
        Of that part alone, free to go anywhere.

    Returns
    -------
    tuple
        Millimetres to go along the axis with the longest way, that axis (``length``, ``width``, ``height``),
        the pose, and a sentence; all empty when it is free where it is fixed, or bound to another vehicle.
    """
    assert entry.need.pinned is not None
    fixed = entry.need.pinned
    if fixed.vehicle != vehicle or fixed.pose is None or fixed.offset is None:
        return (0.0, "", "", "")
    pose = fixed.pose
    at = np.array([round(value * TENTHS) for value in fixed.offset])
    pieces = [
        free_pieces(variant, problem)
        for item in problem.items
        for variant in item.variants
        if variant.key == pose
    ]
    rows = np.concatenate(pieces) if pieces else np.zeros((0, 6), dtype=np.int32)
    if not len(rows):
        return (0.0, "", pose, f"{entry.need.name} has no free place at all in {vehicle} in the pose {pose}")
    nearest = np.clip(at, rows[:, :3], rows[:, 3:])
    away = nearest - at
    best = int(np.lexsort((nearest[:, 2], nearest[:, 1], nearest[:, 0], np.abs(away).sum(axis=1)))[0])
    longest = int(np.abs(away[best]).argmax())
    missing = float(abs(away[best][longest])) / TENTHS
    if not missing:
        return (0.0, "", "", "")
    place = ", ".join(f"{value / TENTHS:g}" for value in nearest[best].tolist())
    sentence = (
        f"where {entry.need.name} is fixed it runs into the body or out of the hull of {vehicle}; the nearest"
        f" free place in the same pose is offset [{place}]"
    )
    return (missing, EDGE_WORDS[longest], pose, sentence)


def _alone(found: InfeasibleSubset, where: str) -> PackingFailure:
    (name,) = found.items
    if not found.misses:
        return PackingFailure(f"{name} has no place {where}: it is short of room in more than one dimension")
    least = found.misses[0]
    axis = EDGE_WORDS[AXES.index(least.axis)]
    missing = least.missing / TENTHS
    text = f"{missing:.1f} mm of {axis} are missing for {name} {where}, its room for leads and plugs counted"
    return PackingFailure(text, missing, axis)


def _least_cut(
    problem: PackingProblem, names: Sequence[str], budget: Budget, seed: int
) -> tuple[int, int, str] | None:
    """Return the least length to take off one item so that all go in: tenths, axis, whose; or None."""
    items = [item for item in problem.items if item.name in names]
    asking = _Shortening(problem, items, budget, seed)
    best: tuple[int, int, str] | None = None
    for item in items:
        for axis in range(3):
            most = max(most_cut(variant.shape, axis, False) for variant in item.variants)
            low, high = 0, min(most, best[0]) if best else most
            if high < 1 or not asking.fits(item, axis, high):
                continue
            while high - low > 1:
                middle = (low + high) // 2
                if asking.fits(item, axis, middle):
                    high = middle
                else:
                    low = middle
            if best is None or high < best[0]:
                best = (high, axis, item.name)
    return best


class _Shortening:
    """Asks whether items go in with one of them shortened, as long as the budget lasts."""

    def __init__(self, problem: PackingProblem, items: Sequence[Item], budget: Budget, seed: int) -> None:
        self._problem, self._items, self._budget, self._seed = problem, items, budget, seed
        self._work = 0

    def fits(self, item: Item, axis: int, length: int) -> bool:
        """Return whether all are placed with one of them shortened; False when the budget is used up."""
        variants = tuple(
            shortened(variant, self._problem.spaces[variant.space], axis, False, length)
            for variant in item.variants
            if most_cut(variant.shape, axis, False) >= length
        )
        if not variants or self._budget.used_up(self._work):
            return False
        cut = [replace(item, variants=variants) if one is item else one for one in self._items]
        asked = PackingProblem(self._problem.spaces, tuple(cut))
        one = self._budget.part(SHARES["cut"] / SHARES["reason"])
        answer = solve(asked, one, seed=self._seed, proofs=False)
        self._work += answer.work
        return answer.status == "fits"
